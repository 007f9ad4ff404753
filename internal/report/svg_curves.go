package report

import (
	"html/template"
	"math"
	"sort"
	"strings"

	"finwright/internal/compare"
	"finwright/internal/session"
)

// frame is a chart's plot area and its two scales.
type frame struct {
	d                        *drawing
	left, top, right, bottom float64
	min, deg                 span // minutes along, °C up
}

func (f *frame) x(min float64) float64 { return f.left + f.min.share(min)*(f.right-f.left) }
func (f *frame) y(degC float64) float64 {
	return f.bottom - f.deg.share(degC)*(f.bottom-f.top)
}

// axes draws rules, figures and units.
func (f *frame) axes() {
	for _, v := range ticks(f.deg.lo, f.deg.hi, 6, tens) {
		f.d.line(f.left, f.y(v), f.right, f.y(v), "rule")
		f.d.text(f.left-6, f.y(v)+4, "end", "fig", figure(v, 1))
	}
	f.d.text(f.left-6, f.top-8, "end", "fig", "°C")
	n := int((f.right - f.left) / 48)
	for _, v := range ticks(0, f.min.hi, max(n, 2), minutes) {
		f.d.line(f.x(v), f.bottom, f.x(v), f.bottom+4, "axis")
		f.d.text(f.x(v), f.bottom+17, "middle", "fig", figure(v, minuteStep(f.min.hi)))
	}
	f.d.text(f.right, f.bottom+31, "end", "fig", "minutes")
	f.d.line(f.left, f.bottom, f.right, f.bottom, "axis")
}

// goal draws the battery's end (or the time asked for) with its doubt. A design that empties its battery at another time
// gets a line of its own there, without the doubt, which belongs to the stock device.
func (f *frame) goal(s *compare.Study, own *session.Result) {
	g := goalMin(s)
	if !finite(g) {
		return
	}
	at, elsewhere := ownBatteryMin(own)
	elsewhere = elsewhere && math.Abs(at-g) >= 1
	if elsewhere {
		g = at
	}
	if b := s.BatteryMin; !elsewhere && finite(b.Lo) && finite(b.Hi) && b.Hi > b.Lo {
		f.d.rect(f.x(b.Lo), f.top, f.x(b.Hi)-f.x(b.Lo), f.bottom-f.top, "goalband")
	}
	f.d.line(f.x(g), f.top-4, f.x(g), f.bottom, "goal")
	anchor, dx := "end", 3.0
	if f.x(g) < (f.left+f.right)/2 {
		anchor, dx = "start", -3
	}
	f.d.text(f.x(g)+dx, f.top-8, anchor, "remark", goalName(s)+" "+figure(g, 1)+" min")
}

// curve draws one temperature; gaps stay gaps. Points nearer than a third of a unit to the line are left out. What comes
// after the session's end is a thin dotted line of its own.
func (f *frame) curve(r *session.Result, s session.Series, class, stroke, dash, title string) {
	ended := endedS(r)
	f.stretch(r, s, math.Inf(-1), ended, class, stroke, dash, title)
	if ended < r.TimeS[len(r.TimeS)-1] {
		f.stretch(r, s, ended, math.Inf(1), "curve cool", stroke, "", title+", cooling down")
	}
}

// stretch draws a temperature from one moment to another, s.
func (f *frame) stretch(r *session.Result, s session.Series, fromS, toS float64, class, stroke, dash, title string) {
	var b strings.Builder
	type pt struct{ x, y float64 }
	var run []pt
	flush := func() {
		// Thin the run: keep a point when the straight line from the last kept one to the next misses it.
		kept := 0
		for i, p := range run {
			if i > 0 && i < len(run)-1 {
				a, c := run[kept], run[i+1]
				if c.x > a.x && math.Abs(a.y+(c.y-a.y)*(p.x-a.x)/(c.x-a.x)-p.y) < 0.15 && c.x-a.x < 12 {
					continue
				}
			}
			op := "L"
			if i == 0 {
				op = "M"
			}
			b.WriteString(op + num(p.x) + " " + num(p.y))
			kept = i
		}
		run = run[:0]
	}
	for i, t := range r.TimeS {
		if t < fromS || t > toS {
			continue
		}
		if v := s.ValueK[i]; finite(v) && finite(t) {
			run = append(run, pt{f.x(t / 60), f.y(v - zeroC)})
		} else {
			flush()
		}
	}
	flush()
	f.d.b.WriteString("<g><title>" + esc(title) + "</title>")
	f.d.path(b.String(), class, "stroke", stroke, "stroke-dasharray", dash)
	f.d.b.WriteString("</g>")
}

// endMark draws how a session ends: a cross stops, a dot is an empty battery, a triangle a passed limit or a step down, a ring still runs.
func (f *frame) endMark(x, y float64, k session.EndKind, stroke string) {
	switch k {
	case session.Stopped:
		f.d.path("M"+num(x-4)+" "+num(y-4)+"l8 8m0 -8l-8 8", "mark", "stroke", stroke)
	case session.BatteryEmpty:
		f.d.add("circle", "cx", num(x), "cy", num(y), "r", "4.2", "fill", stroke)
	case session.LimitPassed, session.Dimmed:
		f.d.path("M"+num(x)+" "+num(y-5.5)+"l5 9h-10z", "fillmark", "fill", stroke)
	case session.TimeOver:
		f.d.add("circle", "class", "mark", "cx", num(x), "cy", num(y), "r", "4", "stroke", stroke)
	}
}

// endMarks marks on a curve how the session ends, and how the device itself ends where that comes later.
func (f *frame) endMarks(r *session.Result, s session.Series, stroke string) {
	ends := []session.End{r.End}
	if r.Own.Kind != "" && r.Own != r.End {
		ends = append(ends, r.Own)
	}
	for _, e := range ends {
		if v := valueAt(r, s, e.AtS); finite(v) {
			f.endMark(f.x(e.AtS/60), f.y(v-zeroC), e.Kind, stroke)
		}
	}
}

// labelled is a curve's end and what is written beside it.
type labelled struct {
	x, y   float64
	words  string
	below  string // a second line; empty when there is none
	stroke string
}

// labels writes the names at the right edge, moved apart, each joined to its curve's end by a thin line.
func (f *frame) labels(ends []labelled, runesWide int) {
	sort.SliceStable(ends, func(i, j int) bool { return ends[i].y < ends[j].y })
	want := make([]float64, len(ends))
	for i, e := range ends {
		want[i] = e.y
	}
	high := 14.0
	for _, e := range ends {
		if e.below != "" {
			high = math.Min(28, (f.bottom-f.top)/float64(len(ends)))
		}
	}
	places := apart(want, high, f.top, f.bottom-(high-14))
	uncross(len(places), func(i, k int) float64 { return math.Hypot(f.right-ends[i].x, places[k]-ends[i].y) },
		func(i int) { ends[i], ends[i+1] = ends[i+1], ends[i] })
	for i, y := range places {
		e := ends[i]
		f.d.path("M"+num(e.x+6)+" "+num(e.y)+"L"+num(math.Max(f.right+2, e.x+6))+" "+num(y)+"h4", "lead", "stroke", e.stroke)
		f.d.text(f.right+9, y+4, "start", "label", cut(e.words, runesWide), "fill", e.stroke)
		if high >= 24 {
			f.d.text(f.right+9, y+17, "start", "label below", cut(e.below, runesWide+2), "fill", e.stroke)
		}
	}
}

// mainSeries is the curve a design is compared by: the first sensor that can stop it, else the first with a limit, else
// the first there is.
func mainSeries(r *session.Result) (session.Series, bool) {
	if r == nil {
		return session.Series{}, false
	}
	all := shownSeries(r, len(r.Series))
	for _, s := range all {
		if s.Kind == "sensor" && s.LimitK > 0 {
			return s, true
		}
	}
	if len(all) > 0 {
		return all[0], true
	}
	return session.Series{}, false
}

// scales finds the ranges all charts of a study share.
func scales(s *compare.Study) (min, deg span, ok bool) {
	min, deg = span{0, longestMin(s)}, emptySpan()
	for _, row := range s.Rows {
		if row.Result == nil {
			continue
		}
		shown := shownSeries(row.Result, 4)
		if len(shown) == 0 {
			continue
		}
		ok = true
		min.show(row.Result.TimeS[len(row.Result.TimeS)-1] / 60)
		c := curveSpan(row.Result, shown)
		deg.show(c.lo, c.hi)
	}
	if !ok {
		return min, deg, false
	}
	deg.show(deg.lo+1, deg.hi+0.05*(deg.hi-deg.lo)) // room for the name of the topmost limit
	return min, deg.rounded(math.Max(5, tickStep(deg.hi-deg.lo, 12, tens))), true
}

// valueAt is the temperature of a series at a time, K; NaN outside.
func valueAt(r *session.Result, s session.Series, atS float64) float64 {
	for i := 0; i+1 < len(r.TimeS); i++ {
		if t0, t1 := r.TimeS[i], r.TimeS[i+1]; t0 <= atS && atS <= t1 {
			if t1 == t0 {
				return s.ValueK[i+1]
			}
			return s.ValueK[i] + (s.ValueK[i+1]-s.ValueK[i])*(atS-t0)/(t1-t0)
		}
	}
	return math.NaN()
}

// allCurves draws the main sensor of every design in one chart, w × h units, labels so many runes of runeW units wide.
func allCurves(ps *pictures, s *compare.Study, class string, w, h, runeW float64, labelRunes int) template.HTML {
	min, deg, ok := scales(s)
	if !ok {
		return ""
	}
	d := ps.start("chart "+class, w, h, "Temperature over time, all designs", "One curve per design for the sensor that can stop it; its limit is dashed, and the battery's end is an upright line.")
	f := &frame{d: d, left: 34, top: 26, right: w - 14 - runeW*float64(labelRunes), bottom: h - 38, min: min, deg: deg}
	f.axes()
	f.goal(s, nil)
	limits := map[string]bool{}
	var ends []labelled
	for i, row := range s.Rows {
		m, ok := mainSeries(row.Result)
		if !ok {
			continue
		}
		if words := m.Name + " limit " + DegC(m.LimitK); m.LimitK > 0 && !limits[words] {
			limits[words] = true
			y := f.y(m.LimitK - zeroC)
			d.line(f.left, y, f.right, y, "limit", "stroke", "#59626c")
			d.text(f.left+6, y-5, "start", "remark", words)
		}
		stroke := lineColour(i)
		f.curve(row.Result, m, "curve", stroke, lineDash(i), row.Name+": "+m.Name)
		f.endMarks(row.Result, m, stroke)
		x, y := f.x(endedS(row.Result)/60), f.y(endK(row.Result, m)-zeroC)
		below := endWord(row.Result.End.Kind) + ", " + AtMinute(row.Result.End.AtS)
		if runes(below) > labelRunes {
			below = AtMinute(row.Result.End.AtS)
		}
		ends = append(ends, labelled{x, y, row.Name, below, stroke})
	}
	f.labels(ends, labelRunes)
	return d.end()
}

// ownCurves draws the watched temperatures of one design with their limits, on the scales all designs share.
func ownCurves(ps *pictures, s *compare.Study, row compare.Row) template.HTML {
	min, deg, ok := scales(s)
	if row.Result == nil || !ok {
		return ""
	}
	shown := shownSeries(row.Result, 4)
	if len(shown) == 0 {
		return ""
	}
	const w, h, labelRunes = 340, 236, 17
	d := ps.start("chart", w, h, "Temperatures of "+row.Name, "Watched temperatures over time; a dashed line of the same colour is the limit of that curve.")
	f := &frame{d: d, left: 30, top: 24, right: w - 10 - 6.1*labelRunes, bottom: h - 36, min: min, deg: deg}
	f.axes()
	f.goal(s, row.Result)
	var ends, limits []labelled
	for i, c := range shown {
		stroke := lineColour(i)
		if c.LimitK > 0 {
			y := f.y(c.LimitK - zeroC)
			d.line(f.left, y, f.right, y, "limit", "stroke", stroke)
			limits = append(limits, labelled{y: y, words: "limit " + DegC(c.LimitK), stroke: stroke})
		}
		f.curve(row.Result, c, "curve", stroke, "", c.Name)
		v := endK(row.Result, c)
		ends = append(ends, labelled{f.x(endedS(row.Result) / 60), f.y(v - zeroC), DegC(v), c.Name, stroke})
	}
	f.endMarks(row.Result, shown[0], lineColour(0))
	// The limits' names: over the curves, on white, each above its own line as far as there is room.
	sort.SliceStable(limits, func(i, j int) bool { return limits[i].y < limits[j].y })
	want := make([]float64, len(limits))
	for i, l := range limits {
		want[i] = l.y - 3
	}
	for i, y := range apart(want, 11, f.top-2, f.bottom) {
		d.text(f.right-3, y, "end", "onpaper", limits[i].words, "fill", limits[i].stroke)
	}
	f.labels(ends, labelRunes)
	return d.end()
}
