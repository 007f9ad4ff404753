package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/benchtest"
	"finwright/internal/curve"
	"finwright/internal/unit"
)

// JudgedTest is a verdict with what the use case adds to it.
type JudgedTest struct {
	*benchtest.Verdict
	Log      string
	Assumed  []string
	Cautions []string
	// Paste is what may go into the device file, so that the next answer knows of this test; PasteWhere says where.
	Paste      []string
	PasteWhere string
}

// Judged prints what a test's log says.
func (p *Printer) Judged(t *JudgedTest) error {
	v := t.Verdict
	p.paragraph("", strong, fmt.Sprintf("VERDICT  %s: %s, by %s", v.Device, v.Design, t.Log))
	for _, l := range headlines(v) {
		p.paragraph("  ", plain, l)
	}
	p.heading("How it ended")
	p.paragraph("  ", plain, endedWords(v))
	if v.Margin.Given() {
		p.paragraph("  ", plain, fmt.Sprintf("Margin of %s then: %s K by the readings.", v.Sensor, about(v.Margin.Lo, v.Margin.Mid, v.Margin.Hi, kelvinStep(v.Margin.Mid))))
	}
	room := fmt.Sprintf("Room %s (%s)", DegC(v.RoomK), v.RoomFrom)
	if math.Abs(v.RoomDriftK) >= 0.2 {
		room += fmt.Sprintf("; it moved by %s, which is taken off as far as the device feels it", signed(drop(v.RoomDriftK)))
	}
	if math.Abs(v.StartK-v.RoomK) > 0.1 {
		room += fmt.Sprintf("; the device started at %s", DegC(v.StartK))
	}
	p.paragraph("  ", plain, room+".")

	p.heading("What the curves say on their own")
	for _, c0 := range v.Curves {
		p.paragraph("  · ", plain, curveWords(c0, v.Ended == benchtest.EndRunning))
	}
	if v.Power.Given() {
		p.paragraph("  · ", plain, fmt.Sprintf("Power by the slope at switch-on and the parts' heat capacity: %s W; the file's middle is %s.", about(v.Power.Lo, v.Power.Mid, v.Power.Hi, 0.1), Watts(v.PowerW)))
	}
	if v.Power.Refused != "" {
		p.paragraph("  · ", plain, "Power from the slope at switch-on cannot be said: "+v.Power.Refused+".")
	}
	for _, b := range v.Pairs {
		p.paragraph("  · ", plain, beforeWords(b))
	}

	p.heading("The model beside the log")
	var rows [][]cell
	k := 0
	for i, x := range v.Points {
		name := x.Probe
		if i > 0 && v.Points[i-1].Probe == x.Probe {
			name = ""
			if k++; k%2 == 1 && !(i+1 == len(v.Points) || v.Points[i+1].Probe != x.Probe) {
				continue // every other one is enough to see it by
			}
		} else {
			k = 0
		}
		off := (x.ReadK - x.PlannedK) / x.SdK
		look := plain
		if math.Abs(off) > 1.645 {
			look = uneasy
		}
		rows = append(rows, []cell{c(name), c(unit.Format(math.Round(x.AtS), unit.Time)), c(tenth(x.ReadK)), c(fmt.Sprintf("%s ± %.1f", tenth(x.PlannedK), 1.645*x.SdK)), {signed(drop(x.ReadK - x.PlannedK)), look}, c(tenth(x.FoundK))})
	}
	p.table([]column{{head: "probe", least: 8}, {head: "after", right: true}, {head: "read, °C", right: true}, {head: "as planned", right: true}, {head: "off", right: true}, {head: "with what was found", right: true}}, rows)
	if v.Fits {
		p.paragraph("  ", faint, "The last column meets the readings within their errors.")
	} else {
		p.paragraph("  ", bad, fmt.Sprintf("Even the last column does not meet the readings: %.1f standard deviations, root mean square. Something is not in the model.", v.Off))
	}

	if len(v.Bonds) > 0 {
		p.heading("The bonds")
		rows = rows[:0]
		for i := range v.Bonds {
			b := &v.Bonds[i]
			look := plain
			if slices.Contains(v.Blamed, i) {
				look = bad
			}
			rows = append(rows, []cell{{b.Name, look}, c(b.A + " | " + b.B), {bondVerdict(v, b, slices.Contains(v.Blamed, i)), look}})
		}
		p.table([]column{{head: "bond", least: 10}, {head: "between", least: 12}, {head: "what this test says of it", least: 30}}, rows)
	}

	p.heading("Elsewhere, by what the test left in doubt")
	rows = rows[:0]
	for i := range v.Forward {
		f := &v.Forward[i]
		margin := dash
		if finite(f.MarginK) {
			margin = fmt.Sprintf("%s K (at worst %s)", figure(f.MarginK, 1), figure(f.MarginLoK, 1))
		}
		hand := "no"
		if f.HandTooHot > 0 {
			hand = fmt.Sprintf("%s of draws", percent(f.HandTooHot))
		}
		rows = append(rows, []cell{c(f.Words), c(Chance(f.Lasts, f.Draws)), c(fmt.Sprintf("%s (%s to %s) min", figure(f.S/60, 1), figure(f.LoS/60, 1), figure(f.HiS/60, 1))), c(margin), c(DegC(f.HottestK)), c(hand)})
	}
	p.table([]column{{head: "where", least: 14}, {head: "chance to last", least: 8, right: true}, {head: "runs for", least: 12, right: true}, {head: "margin", least: 10, right: true}, {head: "hottest outside", least: 8, right: true}, {head: "too hot to hold", least: 8, right: true}}, rows)

	if len(v.Taught) > 0 {
		p.heading("What the test taught")
		for i, x := range v.Taught {
			if i == mostTaught {
				break
			}
			p.paragraph("  · ", plain, fmt.Sprintf("%s: %s, was %s", x.About, unit.FormatInterval(x.Lo, x.Mid, x.Hi, x.Dim), unit.FormatInterval(x.WasLo, x.Was, x.WasHi, x.Dim)))
		}
	}
	p.heading("What to do next")
	for i, n := range v.Next {
		p.paragraph(fmt.Sprintf("  %d ", i+1), plain, n)
	}
	if len(t.Paste) > 0 {
		p.paragraph("  ", plain, t.PasteWhere)
		for _, l := range t.Paste {
			p.line("    " + p.say(l)) // whole: it is pasted
		}
	}
	if len(t.Assumed) > 0 {
		p.paragraph("  ", uneasy, "Assumed:")
		p.list("  ? ", uneasy, t.Assumed, "")
	}
	for _, x := range t.Cautions {
		p.paragraph("  ! ", faint, x)
	}
	return p.err
}

const mostTaught = 4

// headlines are the verdict in at most three sentences.
func headlines(v *benchtest.Verdict) []string {
	var out []string
	if len(v.Forward) > 0 {
		f := &v.Forward[0]
		if v.Ended == benchtest.EndByHeat && f.Lasts >= 0.5 {
			out = append(out, fmt.Sprintf("In this test, in its own air and sun, it stopped itself after %s.", unit.Format(math.Round(v.EndS), unit.Time)))
		}
		switch {
		case f.Lasts >= 0.9:
			out = append(out, fmt.Sprintf("It lasts in a room of %s (chance %s).", DegC(f.RoomK), Chance(f.Lasts, f.Draws)))
		case f.Lasts <= 0.1:
			out = append(out, fmt.Sprintf("It does not last in a room of %s: it runs for %s min.", DegC(f.RoomK), about(f.LoS/60, f.S/60, f.HiS/60, 1)))
		default:
			out = append(out, fmt.Sprintf("Whether it lasts in a room of %s is not decided (chance %s).", DegC(f.RoomK), Chance(f.Lasts, f.Draws)))
		}
	}
	switch {
	case !v.Fits:
		out = append(out, "The model does not meet this log: take what follows as a question, not an answer.")
	case len(v.Blamed) == 1:
		b := &v.Bonds[v.Blamed[0]]
		out = append(out, fmt.Sprintf("The bond %s is worse than planned: its resistance is about %s times the planned one.", b.Name, about(b.Factor[0], b.Factor[1], b.Factor[2], 1)))
	case len(v.Blamed) > 1:
		out = append(out, fmt.Sprintf("A bond is worse than planned: %s; these probes cannot tell which.", blamedNames(v)))
	case len(v.Bonds) > 0:
		out = append(out, fmt.Sprintf("No bond is seen to be worse than planned (chance that one is: %s).", Chance(1-v.AsPlanned, 99)))
	}
	return out
}

func endedWords(v *benchtest.Verdict) string {
	at := unit.Format(math.Round(v.EndS), unit.Time)
	planned := fmt.Sprintf(" As planned, %s.", endingWords(v.Planned, finite(v.Planned.EmptyS)))
	switch {
	case v.Ended == benchtest.EndRunning:
		return fmt.Sprintf("Still running when the log ends, after %s.%s", at, planned)
	case v.Said:
		return fmt.Sprintf("%s after %s, as you say.%s", upperFirst(string(v.Ended)), at, planned)
	}
	var odds []string
	for _, k := range []benchtest.EndedBy{benchtest.EndByHeat, benchtest.EndEmpty, benchtest.EndByHand} {
		if x, ok := v.Chance[k]; ok {
			odds = append(odds, fmt.Sprintf("%s %s", k, Chance(x, 99)))
		}
	}
	return fmt.Sprintf("It begins to cool after %s: most likely %s (%s). If you know, say so with --ended.%s", at, v.Ended, strings.Join(odds, ", "), planned)
}

func curveWords(c0 benchtest.Curve, running bool) string {
	out := fmt.Sprintf("%s at %s: ", c0.Name, c0.At)
	switch {
	case c0.Refused != "":
		out += "no time constant (" + c0.Refused + ")"
	case c0.Steady.Given():
		out += fmt.Sprintf("comes to %s K over the room", about(c0.Steady.Lo, c0.Steady.Mid, c0.Steady.Hi, step(c0.Steady.Lo, c0.Steady.Hi, 0.1, 1)))
	default:
		out += "where it would come to cannot be said: " + c0.Steady.Refused
	}
	if c0.Refused == "" {
		if c0.Tau.Given() {
			out += fmt.Sprintf("; time constant %s min", about(c0.Tau.Lo/60, c0.Tau.Mid/60, c0.Tau.Hi/60, step(c0.Tau.Lo/60, c0.Tau.Hi/60, 0.1, 1)))
			if c0.Two {
				out += ", with a quicker one before it"
			}
		}
		if c0.Seen.Given() {
			out += fmt.Sprintf("; %s of the rise was seen", percent(c0.Seen.Mid))
		}
	}
	if c0.Trend != "" && (c0.Verdict == curve.Steady || running && !(c0.Seen.Given() && c0.Seen.Lo > 0.95)) {
		out += ". " + c0.Trend
	}
	return strings.TrimSuffix(out, ".") + "."
}

func beforeWords(b benchtest.Before) string {
	if b.Failed != "" {
		return fmt.Sprintf("Before and after at %s cannot be compared: %s.", b.At, b.Failed)
	}
	one := func(e interface{ Given() bool }, lo, mid, hi float64, refused string) string {
		if !e.Given() {
			return "not known (" + refused + ")"
		}
		return about(lo, mid, hi, step(lo, hi, 0.1, 1)) + " K"
	}
	return fmt.Sprintf("At %s, steady rise over the room before %s, after %s; less by %s, room and power being equal.", b.At,
		one(b.BeforeRiseK, b.BeforeRiseK.Lo, b.BeforeRiseK.Mid, b.BeforeRiseK.Hi, b.BeforeRiseK.Refused),
		one(b.AfterRiseK, b.AfterRiseK.Lo, b.AfterRiseK.Mid, b.AfterRiseK.Hi, b.AfterRiseK.Refused),
		one(b.LessK, b.LessK.Lo, b.LessK.Mid, b.LessK.Hi, b.LessK.Refused))
}

// bondVerdict says what the test says of a bond.
func bondVerdict(v *benchtest.Verdict, b *benchtest.Suspicion, blamed bool) string {
	switch {
	case blamed:
		return fmt.Sprintf("worse than planned (chance %s): resistance about %s times the planned", Chance(b.Chance, 99), about(b.Factor[0], b.Factor[1], b.Factor[2], 1))
	case !finite(b.LeastFactor):
		return "nothing: no fault of it would show in these readings"
	case b.Chance > 0.05:
		return fmt.Sprintf("not cleared (chance that it is worse: %s); a fault shows from %.0f times on", Chance(b.Chance, 99), b.LeastFactor)
	}
	return fmt.Sprintf("as planned, as far as it shows: from %.0f times worse on it would be seen", b.LeastFactor)
}

// blamedNames are the bonds that carry the blame.
func blamedNames(v *benchtest.Verdict) string {
	var names []string
	for _, b := range v.Blamed {
		names = append(names, v.Bonds[b].Name)
	}
	return strings.Join(names, " or ")
}

// about is a figure with its interval: "12 (9 to 15)".
func about(lo, mid, hi, step float64) string {
	if math.IsNaN(mid) {
		return dash
	}
	return fmt.Sprintf("%s (%s to %s)", figure(mid, step), figure(lo, step), figure(hi, step))
}
