package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"finwright/internal/session"
	"finwright/internal/unit"
)

// Run prints one session: how it ended, the curves, the limits, and where the degrees and the watts went.
func (p *Printer) Run(r *session.Result) error {
	title := r.Device
	if r.Design != "" {
		title += ": " + r.Design
	}
	p.line(p.paint(p.say(title), strong))
	setting := "Ambient " + DegC(r.AmbientK)
	if r.Mode != "" {
		setting += ", mode " + r.Mode
	}
	p.paragraph("", plain, setting+".")
	p.line()
	look := endLook(r.End.Kind)
	for _, words := range runWords(r) {
		p.paragraph("▸ ", look, words)
		look = plain // only the first tells how it ended
	}
	p.curves(r)
	if len(r.Events) > 0 {
		p.heading("What happened")
		var rows [][]cell
		for _, e := range r.Events {
			rows = append(rows, []cell{{AtMinute(e.AtS), faint}, c(e.What)})
		}
		p.table([]column{{right: true}, {least: 20}}, rows)
	}
	p.limits(r)
	p.stair(&r.Ledger)
	p.outflows(&r.Ledger)
	p.crossings(&r.Ledger)
	p.partStates(r.Parts)
	p.line()
	p.paragraph("", faint, balanceWords(r))
	return p.err
}

// runWords says how a run ended, in sentences.
func runWords(r *session.Result) []string {
	out := []string{"How it ended is not known."}
	if r.End.Kind != "" {
		out[0] = upperFirst(endWords(r.End)) + "."
	}
	if r.Own.Kind != "" && r.Own != r.End {
		out = append(out, "The device itself goes on: "+endWords(r.Own)+".")
	}
	if m := r.MarginMin; finite(m) {
		switch {
		case m <= -0.5 && r.End.Kind != "":
			out[0] += " That is " + AtMinute(-m*60) + " before the battery would be empty."
		case m >= 0.5:
			out = append(out, AtMinute(m*60)+" more than the battery holds.")
		}
	}
	if l, ok := nearest(r); ok {
		out = append(out, "Nearest limit: "+l.Name+", "+Kelvins(l.MarginK)+" at "+AtMinute(l.AtS)+".")
	}
	if r.Hottest.Name != "" {
		out = append(out, "Hottest to touch: "+r.Hottest.Name+", "+DegC(r.Hottest.HighestK)+".")
	}
	return out
}

// balanceWords is the energy account in a sentence.
func balanceWords(r *session.Result) string {
	b := r.Balance
	kJ := func(j float64) string {
		if math.Abs(j) < 9950 {
			return unitAfter(figure(j/1000, 0.01), "kJ")
		}
		return unitAfter(figure(j/1000, 0.1), "kJ")
	}
	text := "Energy account: " + kJ(b.InJ) + " made"
	if finite(b.SunJ) && b.SunJ != 0 {
		text += ", " + kJ(b.SunJ) + " from the sun"
	}
	text += ", " + kJ(b.OutJ) + " given off, " + kJ(b.StoredJ) + " stored; closes to " + closure(b.ClosureRel) + "."
	return text + " " + upperFirst(plural(r.Cells, "cell", "cells")) + ", " + plural(r.Steps, "time step", "time steps") + "."
}

// closure prints a relative error: "0.02 %", or "better than 0.001 %".
func closure(rel float64) string {
	rel = math.Abs(rel)
	switch {
	case !finite(rel):
		return dash
	case rel < 1e-5:
		return "better than 0.001 %"
	}
	return figure(rel*100, math.Pow(10, math.Floor(math.Log10(rel*100)))) + " %"
}

// glueFarK is the margin from which a glue line is no longer told by itself.
const glueFarK = 20

// tellingLimits are the limits worth a line; glue lines that stay far below theirs are counted in a sentence.
func tellingLimits(r *session.Result) (told []session.Limit, rest string) {
	n, least := 0, math.Inf(1)
	for i, l := range r.Limits {
		if l.Kind == "glue" && l.MarginK >= glueFarK && i != r.Nearest && !(l.SettleK > l.LimitK-glueFarK) {
			n, least = n+1, math.Min(least, l.MarginK)
		} else {
			told = append(told, l)
		}
	}
	if n > 0 {
		rest = plural(n, "glue line keeps", "glue lines keep") + " " + Kelvins(least) + " or more to the limit."
		if n == 1 {
			rest = "1 glue line keeps " + Kelvins(least) + " to its limit."
		}
	}
	return told, rest
}

// used says whether nothing of a limit's margin is left, as far as it is printed.
func used(l session.Limit) bool { return l.MarginK < 0.05 }

func (p *Printer) limits(r *session.Result) {
	p.heading("Limits")
	if len(r.Limits) == 0 {
		p.paragraph("  ", faint, "None stated.")
		return
	}
	limits, rest := tellingLimits(r)
	rows := make([][]cell, 0, len(limits))
	for _, l := range limits {
		look := plain
		if used(l) {
			look = bad
		}
		rows = append(rows, []cell{c(l.Name), c(DegC(l.LimitK)), c(DegC(l.HighestK)), {Kelvins(l.MarginK), look},
			c(AtMinute(l.ReachedS)), c(DegC(l.SettleK)), {l.Source, faint}})
	}
	p.table([]column{{head: "limit", least: 12}, {head: "at", right: true}, {head: "highest", right: true}, {head: "margin", right: true},
		{head: "reached", right: true}, {head: "settles", right: true}, {head: "source", least: 12}}, rows)
	if rest != "" {
		p.paragraph("  ", faint, rest)
	}
}

// stair prints the degrees along the way of the heat, each leg where the one before it left off.
func (p *Printer) stair(l *session.Ledger) {
	if len(l.Path) == 0 {
		return
	}
	p.heading("Where the degrees go, from the source to the air (at " + AtMinute(l.AtS) + ")")
	legs := stairLegs(l)
	nameW := 18
	for _, g := range legs {
		nameW = max(nameW, runes(p.say(g.Name)))
	}
	nameW = min(nameW, p.style.Width*2/5)
	wide := p.style.Width - nameW - 20
	p.line("  ", pad(p.say("source"), nameW, false), pad(p.say(DegC(l.SourceK)), 8, true))
	for _, g := range legs {
		lines := wrap(p.say(g.Name), nameW)
		p.line("  ", pad(lines[0], nameW, false), pad(p.say(drop(g.DropK)), 8, true), pad(p.say(Watts(g.FlowW)), 8, true), "  ",
			p.paint(p.say(block(g.to, g.from, wide)), legLook(g.Kind)))
		for _, more := range lines[1:] {
			p.line("  ", more)
		}
	}
	p.line("  ", pad(p.say("ambient"), nameW, false), pad(p.say(DegC(l.AmbientK)), 8, true))
}

// stairLeg is a leg with its place on the scale from the ambient (0) to the source (1).
type stairLeg struct {
	session.Leg
	from, to float64 // from >= to for a leg that loses degrees
	fromK    float64 // temperature where the leg begins
}

// pathDropK is the sum of the degrees lost along the way of the heat.
func pathDropK(l *session.Ledger) float64 {
	total := 0.0
	for _, g := range l.Path {
		if finite(g.DropK) {
			total += g.DropK
		}
	}
	return total
}

// stairLegs places the legs one after the other. Legs without a figure keep their name and have no extent.
func stairLegs(l *session.Ledger) []stairLeg {
	total := pathDropK(l)
	scale := span{0, math.Max(total, 1e-9)}
	left := total
	out := make([]stairLeg, 0, len(l.Path))
	for _, g := range l.Path {
		s := stairLeg{Leg: g, from: scale.share(left), fromK: l.AmbientK + left}
		if finite(g.DropK) {
			left -= g.DropK
		}
		s.to = scale.share(left)
		if s.to > s.from {
			s.from, s.to = s.to, s.from
		}
		out = append(out, s)
	}
	return out
}

func legLook(kind string) tint {
	switch kind {
	case "joint", "air gap":
		return uneasy
	case "film":
		return firstLine
	}
	return plain
}

// tellingOutflows puts the surface that gives off most first; equal ones keep their order. Two or more surfaces that give
// off less than a hundredth of the heat each become one line at the end.
func tellingOutflows(l *session.Ledger) []session.Outflow {
	total := 0.0
	for _, o := range l.Outflows {
		if finite(o.HeatW) {
			total += math.Abs(o.HeatW)
		}
	}
	var out, small []session.Outflow
	for _, o := range l.Outflows {
		if math.Abs(o.HeatW) < 0.01*total && math.Abs(o.SunW) < 0.01*total {
			small = append(small, o)
		} else {
			out = append(out, o)
		}
	}
	if len(small) < 2 {
		out, small = append([]session.Outflow(nil), l.Outflows...), nil
	}
	size := func(o session.Outflow) float64 {
		if !finite(o.HeatW) {
			return math.Inf(-1)
		}
		return o.HeatW
	}
	sort.SliceStable(out, func(i, j int) bool { return size(out[i]) > size(out[j]) })
	if len(small) == 0 {
		return out
	}
	rest := session.Outflow{Name: plural(len(small), "other surface", "other surfaces"), HighestK: math.Inf(-1)}
	for _, o := range small {
		rest.AreaM2, rest.MeanK, rest.HighestK = rest.AreaM2+o.AreaM2, rest.MeanK+o.AreaM2*o.MeanK, math.Max(rest.HighestK, o.HighestK)
		rest.HeatW, rest.ConvW, rest.RadW, rest.SunW = rest.HeatW+o.HeatW, rest.ConvW+o.ConvW, rest.RadW+o.RadW, rest.SunW+o.SunW
	}
	rest.MeanK /= rest.AreaM2
	return append(out, rest)
}

// mostCrossings is how many contacts are told.
const mostCrossings = 8

// tellingCrossings is the contacts that carry most heat, largest first, each turned so that the heat goes from A to B, and
// how many carry less.
func tellingCrossings(l *session.Ledger) (out []session.Crossing, rest int) {
	for _, x := range l.Crossings {
		if !finite(x.FlowW) {
			continue
		}
		if x.FlowW < 0 {
			x.A, x.B, x.FlowW, x.DropK = x.B, x.A, -x.FlowW, -x.DropK
		}
		out = append(out, x)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].FlowW > out[j].FlowW })
	n := min(len(out), mostCrossings)
	return out[:n], len(out) - n
}

// crossingDrop is the step of temperature at a contact. A part and the sealed air beside it have none: the air's own
// degrees are lost within it.
func crossingDrop(x session.Crossing) string {
	if x.DropK == 0 && (air(x.A) || air(x.B)) {
		return "in the air"
	}
	return drop(x.DropK)
}

func (p *Printer) crossings(l *session.Ledger) {
	told, rest := tellingCrossings(l)
	if len(told) == 0 {
		return
	}
	p.heading("Heat between parts")
	var rows [][]cell
	for _, x := range told {
		rows = append(rows, []cell{c(x.A), c(p.say("→ ") + x.B), {x.Joint, faint}, c(Watts(x.FlowW)), c(crossingDrop(x))})
	}
	p.table([]column{{head: "from", least: 10}, {head: "to", least: 10}, {head: "by way of", least: 12}, {head: "heat", right: true}, {head: "lost there", right: true}}, rows)
	if rest > 0 {
		p.paragraph("  ", faint, plural(rest, "further contact carries", "further contacts carry")+" less.")
	}
}

func (p *Printer) outflows(l *session.Ledger) {
	if len(l.Outflows) == 0 {
		return
	}
	p.heading("Where the watts leave")
	most := emptySpan()
	most.show(0, l.StoredW)
	nameW := 22
	for _, o := range tellingOutflows(l) {
		most.show(o.HeatW)
		nameW = max(nameW, runes(p.say(o.Name)))
	}
	nameW = min(nameW, p.style.Width*2/5)
	wide := p.style.Width - nameW - 38
	row := func(name, watts, tK, split string, w float64) {
		lines := wrap(p.say(name), nameW)
		share := 0.0
		if most.hi > 0 && finite(w) {
			share = math.Max(0, w/most.hi)
		}
		p.line("  ", pad(lines[0], nameW, false), pad(p.say(watts), 8, true), pad(p.say(tK), 8, true), "  ",
			p.paint(p.say(block(0, share, wide)), firstLine), "  ", p.paint(p.say(split), faint))
		for _, more := range lines[1:] {
			p.line("  ", more)
		}
	}
	for _, o := range tellingOutflows(l) {
		row(o.Name, Watts(o.HeatW), DegC(o.MeanK), radiatedWords(o), o.HeatW)
		if words := filmWords(o); words != "" {
			p.paragraph("      ", faint, words)
		}
	}
	if finite(l.StoredW) && math.Abs(l.StoredW) >= 0.005 {
		row("still warming the device", Watts(l.StoredW), "", "", l.StoredW)
	}
	p.line("  ", pad(p.say("made"), nameW, false), pad(p.say(Watts(l.PowerW)), 8, true))
}

// filmWords tells how a surface lies, what its film coefficient is and where it comes from: the relation, its length, where it
// stands within the range it was published for, its scatter; then what is odd about that, and the light it takes in.
func filmWords(o session.Outflow) string {
	var words []string
	if o.Lies != "" {
		words = append(words, o.Lies)
	}
	if finite(o.HWm2K) && o.HWm2K > 0 {
		film := figure(o.HWm2K, 0.1) + " W/(m² K)"
		if finite(o.Scatter) && o.Scatter > 0 {
			film += " ± " + percent(o.Scatter)
		}
		if o.Formula != "" {
			film += " by " + o.Formula
		}
		if finite(o.LengthM) && o.LengthM > 0 {
			film += " over " + unit.Format(o.LengthM, unit.Length)
		}
		if o.NumberName != "" && finite(o.Number) {
			film += fmt.Sprintf(" (%s %s, published for %s to %s)", o.NumberName, power(o.Number), power(o.From), power(o.To))
		}
		words = append(words, film)
	}
	if o.Note != "" {
		words = append(words, o.Note)
	}
	if finite(o.SunW) && o.SunW > 0 {
		words = append(words, "takes in "+Watts(o.SunW)+" of light")
	}
	return strings.Join(words, "; ")
}

// power writes a dimensionless number with two digits: 25, 1.2e6.
func power(x float64) string {
	switch {
	case math.IsInf(x, 1):
		return "any"
	case x != 0 && (math.Abs(x) >= 1e4 || math.Abs(x) < 1e-2):
		return strings.NewReplacer("e+0", "e", "e+", "e", "e-0", "e-").Replace(fmt.Sprintf("%.2g", x))
	}
	return fmt.Sprintf("%.3g", x)
}

// radiatedWords tells how much of an outflow is radiation.
func radiatedWords(o session.Outflow) string {
	gross := o.ConvW + o.RadW
	if !finite(gross) || gross <= 0 || o.RadW < 0 {
		return ""
	}
	return "radiated " + percent(o.RadW/gross)
}

func (p *Printer) partStates(parts []session.PartState) {
	if len(parts) == 0 {
		return
	}
	p.heading("Parts at the end")
	var rows [][]cell
	for _, s := range parts {
		rows = append(rows, []cell{c(s.Name), c(DegC(s.MeanK)), c(DegC(s.HighestK)), c(heatWords(s.HeatW)), c(Grams(s.MassKg)), c(capacityWords(s.CapacityJK))})
	}
	p.table([]column{{head: "part", least: 12}, {head: "mean", right: true}, {head: "highest", right: true}, {head: "heat made", right: true},
		{head: "mass", right: true}, {head: "heat capacity", right: true}}, rows)
}

func heatWords(w float64) string {
	if w == 0 {
		return ""
	}
	return Watts(w)
}

func capacityWords(jK float64) string {
	if math.Abs(jK) < 9.95 {
		return unitAfter(figure(jK, 0.1), "J/K")
	}
	return unitAfter(figure(jK, 1), "J/K")
}

// PartFigures is one part as the file and the grid have it, before any run.
type PartFigures struct {
	Name, Material string
	VolumeM3       float64
	MassKg         float64
	CapacityJK     float64
	HeatW          float64
	Note           string // such as "weighed 38 g, computed 41 g"
}

// Parts prints what the device is made of, with the sums.
func (p *Printer) Parts(parts []PartFigures) error {
	p.heading("Parts")
	var rows [][]cell
	var sum PartFigures
	notes := false
	for _, f := range parts {
		rows = append(rows, []cell{c(f.Name), c(f.Material), c(cm3(f.VolumeM3)), c(Grams(f.MassKg)), c(capacityWords(f.CapacityJK)), c(heatWords(f.HeatW)), {f.Note, faint}})
		sum.VolumeM3, sum.MassKg, sum.CapacityJK, sum.HeatW = sum.VolumeM3+f.VolumeM3, sum.MassKg+f.MassKg, sum.CapacityJK+f.CapacityJK, sum.HeatW+f.HeatW
		notes = notes || f.Note != ""
	}
	rows = append(rows, []cell{{"all together", strong}, c(""), c(cm3(sum.VolumeM3)), c(Grams(sum.MassKg)), c(capacityWords(sum.CapacityJK)), c(heatWords(sum.HeatW)), c("")})
	cols := []column{{head: "part", least: 12}, {head: "material", least: 10}, {head: "volume", right: true}, {head: "mass", right: true},
		{head: "heat capacity", right: true, least: 8}, {head: "heat", right: true}, {head: "note", least: 10}}
	if !notes {
		cols = cols[:len(cols)-1]
		for i := range rows {
			rows[i] = rows[i][:len(cols)]
		}
	}
	p.table(cols, rows)
	return p.err
}

func cm3(m3 float64) string {
	cm := m3 * 1e6
	switch a := math.Abs(cm); {
	case a < 0.995:
		return unitAfter(figure(cm, 0.01), "cm³")
	case a < 9.95:
		return unitAfter(figure(cm, 0.1), "cm³")
	}
	return unitAfter(figure(cm, 1), "cm³")
}

// curves draws the watched temperatures over the session.
func (p *Printer) curves(r *session.Result) {
	shown := shownSeries(r, 4)
	if len(shown) == 0 {
		return
	}
	ended := endedS(r)
	p.heading("Temperatures until it ends, at " + AtMinute(ended) + coolWords(r))
	p.drawCurves(r, shown, ended, 12)
}

// drawCurves draws series over the session's time, dotted after it has ended.
func (p *Printer) drawCurves(r *session.Result, shown []session.Series, ended float64, rows int) {
	all := curveSpan(r, shown)
	st := tickStep(all.hi-all.lo, 5, tens)
	if st == 0 {
		st = 10
	}
	all = all.rounded(st)
	labelW := 0
	for _, s := range shown {
		labelW = max(labelW, runes(p.say(curveLabel(r, s))))
	}
	labelW = min(labelW, p.style.Width/3)
	wide := p.style.Width - 8 - labelW - 2
	endS := r.TimeS[len(r.TimeS)-1]
	cv := newCanvas(wide, rows, p.style.ASCII)
	rowOf := func(v float64) int { return min(max(int((1-all.share(v))*float64(rows)), 0), rows-1) }
	for _, s := range shown {
		if s.LimitK > 0 {
			cv.level(rowOf(s.LimitK-zeroC), p.say("limit of "+s.Name+" "+DegC(s.LimitK)))
		}
	}
	for i := len(shown) - 1; i >= 0; i-- {
		cv.curve(r.TimeS, shown[i].ValueK, endS, ended, func(k float64) float64 { return all.share(k - zeroC) }, i)
	}
	want := make([]float64, len(shown))
	order := make([]int, len(shown))
	for i, s := range shown {
		want[i], order[i] = float64(rowOf(lastFinite(s.ValueK)-zeroC)), i
	}
	sort.SliceStable(order, func(a, b int) bool {
		return lastFinite(shown[order[a]].ValueK) > lastFinite(shown[order[b]].ValueK)
	})
	sorted := make([]float64, len(order))
	for i, k := range order {
		sorted[i] = want[k]
	}
	labelAt := map[int]int{}
	for i, pos := range apart(sorted, 1, 0, float64(rows-1)) {
		labelAt[int(pos+0.5)] = order[i]
	}
	// A scale figure stands in the row that its own dots fall in.
	left := map[int]string{}
	for _, v := range ticks(all.lo, all.hi, 5, tens) {
		left[rowOf(v)] = figure(v, 1)
	}
	for i := 0; i < rows; i++ {
		unit := "  "
		if i == 0 {
			unit = p.say("°C")
		}
		label := ""
		if k, ok := labelAt[i]; ok {
			label = p.paint(p.say(cut(curveLabel(r, shown[k]), labelW)), firstLine+tint(k))
		}
		p.line(p.paint(pad(left[i], 4, true)+" "+pad(unit, 2, false)+p.say("│"), faint), p.paintCanvas(cv, i), " ", label)
	}
	axis := newTrack(wide, math.Max(endS/60, 1e-9))
	for _, x := range ticks(0, endS/60, wide/10, minutes) {
		axis.label(x, figure(x, minuteStep(endS/60)))
	}
	p.line("       ", p.paint(p.say("└"+strings.Repeat("─", wide)), faint))
	p.line("        ", p.paint(axis.String()+" min", faint))
}

// minuteStep is the digit a minute axis needs.
func minuteStep(endMin float64) float64 {
	if endMin < 3 {
		return 0.1
	}
	return 1
}

// curveLabel names a curve and its temperature at the end of the session.
func curveLabel(r *session.Result, s session.Series) string {
	return DegC(endK(r, s)) + " " + s.Name
}

// endedS is when a session is over, s: the device's own end, after which it only cools down; the last sample when that is
// not known.
func endedS(r *session.Result) float64 {
	last := r.TimeS[len(r.TimeS)-1]
	if t := r.Own.AtS; r.Own.Kind != "" && finite(t) && t > 0 && t < last {
		return t
	}
	return last
}

// endK is the temperature of a series when the session is over, K.
func endK(r *session.Result, s session.Series) float64 {
	if v := valueAt(r, s, endedS(r)); finite(v) {
		return v
	}
	return lastFinite(s.ValueK)
}

// coolWords says that what follows the end is drawn as well.
func coolWords(r *session.Result) string {
	if endedS(r) < r.TimeS[len(r.TimeS)-1] {
		return ", then cooling down (dotted)"
	}
	return ""
}

func lastFinite(v []float64) float64 {
	for i := len(v) - 1; i >= 0; i-- {
		if finite(v[i]) {
			return v[i]
		}
	}
	return math.NaN()
}

// shownSeries chooses at most n curves: those with a limit first, each kept in the result's order. Series without
// samples are left out, and so are glue lines that stay far below their limit.
func shownSeries(r *session.Result, n int) []session.Series {
	if len(r.TimeS) < 2 || !finite(r.TimeS[len(r.TimeS)-1]) || r.TimeS[len(r.TimeS)-1] <= 0 {
		return nil
	}
	var out []session.Series
	for _, limited := range []bool{true, false} {
		for _, s := range r.Series {
			if (s.LimitK > 0) == limited && len(s.ValueK) == len(r.TimeS) && finite(lastFinite(s.ValueK)) && len(out) < n && !farGlue(s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// farGlue says whether a series is a glue line that never comes near its limit.
func farGlue(s session.Series) bool {
	all := emptySpan()
	all.show(s.ValueK...)
	return s.Kind == "glue" && s.LimitK-all.hi >= glueFarK
}

// curveSpan is the range of temperature the curves and their limits need, °C.
func curveSpan(r *session.Result, shown []session.Series) span {
	all := emptySpan()
	all.show(r.AmbientK - zeroC)
	for _, s := range shown {
		if s.LimitK > 0 {
			all.show(s.LimitK - zeroC)
		}
		for _, k := range s.ValueK {
			all.show(k - zeroC)
		}
	}
	return all
}
