package report

import (
	"math"

	"finwright/internal/compare"
	"finwright/internal/session"
)

// Study prints the comparison: the verdict, how long each design lasts, and what it costs.
func (p *Printer) Study(s *compare.Study) error {
	title := s.Device
	if s.Invented {
		title += "  (invented data)"
	}
	p.line(p.paint(p.say(title), strong))
	if s.About != "" {
		p.paragraph("", faint, s.About)
	}
	p.paragraph("", plain, studySetting(s))
	p.line()
	p.list("▸ ", strong, s.Verdict, "No verdict.")
	p.howLong(s)
	p.sideBySide(s)
	p.doubts(s)
	return p.err
}

// doubts tells, per design, what its doubt comes from.
func (p *Printer) doubts(s *compare.Study) {
	var rows [][]cell
	for _, r := range s.Rows {
		if words := causeWords(r); words != "" {
			rows = append(rows, []cell{c(r.Name), c(Margin(r.HeadroomK)), c(words)})
		}
	}
	if len(rows) == 0 {
		return
	}
	p.heading("What keeps it in doubt")
	p.table([]column{{head: "design", least: 9}, {head: "left at the goal", least: 9}, {head: "share of the doubt", least: 20}}, rows)
	p.paragraph("  ", faint, "Left at the goal: of the nearest limit, at full power to the end, also where the device would have stopped itself long before; negative is what is missing. "+causesNote)
}

// studySetting says under what the designs are compared.
func studySetting(s *compare.Study) string {
	text := s.Conditions
	if s.Mode != "" {
		text += "; mode " + s.Mode
	}
	if b := Minutes(s.BatteryMin); b != dash {
		text += "; the battery is empty after " + b
	} else if finite(s.AskedMin) && s.AskedMin > 0 {
		text += "; asked for " + figure(s.AskedMin, 1) + " min"
	}
	return upperFirst(text) + "."
}

// goalMin is what a design should reach: the battery's end, or the time asked for; NaN when there is neither.
func goalMin(s *compare.Study) float64 {
	if finite(s.BatteryMin.Mid) {
		return s.BatteryMin.Mid
	}
	if finite(s.AskedMin) && s.AskedMin > 0 {
		return s.AskedMin
	}
	return math.NaN()
}

func goalName(s *compare.Study) string {
	if finite(s.BatteryMin.Mid) {
		return "battery empty"
	}
	return "time asked for"
}

// longestMin is the right edge of a scale of minutes that shows every design's middle and the goal. Doubt that reaches
// further runs off the edge and gets an arrow there: it must not squeeze the rest.
func longestMin(s *compare.Study) float64 {
	all := emptySpan()
	all.show(0, 1, goalMin(s), s.BatteryMin.Hi)
	for _, r := range s.Rows {
		all.show(r.Minutes.Mid)
	}
	return all.hi * 1.04
}

// longerNote explains designs that end later than the stock battery; empty when there is none.
func longerNote(s *compare.Study) string {
	for _, r := range s.Rows {
		if at, ok := ownBatteryMin(r.Result); ok && at > s.BatteryMin.Hi {
			return "A design that draws less power empties the battery later."
		}
	}
	return ""
}

// ownBatteryMin is when a design's own battery is empty, min; false when the run does not get so far.
func ownBatteryMin(r *session.Result) (float64, bool) {
	if r == nil {
		return 0, false
	}
	for _, e := range []session.End{r.End, r.Own} {
		if e.Kind == session.BatteryEmpty && finite(e.AtS) {
			return e.AtS / 60, true
		}
	}
	return 0, false
}

func (p *Printer) howLong(s *compare.Study) {
	p.heading("How long it lasts")
	nameW, textW := 6, 5
	for _, r := range s.Rows {
		nameW = min(max(nameW, runes(p.say(r.Name))), p.style.Width/4)
		textW = max(textW, runes(Minutes(r.Minutes)))
	}
	most := longestMin(s)
	wide := p.style.Width - nameW - textW - 7
	axis := newTrack(wide, most)
	for _, x := range ticks(0, most, wide/9, minutes) {
		axis.label(x, figure(x, minuteStep(most)))
	}
	p.line("  ", pad("", nameW+textW+4, false), p.paint(axis.String(), faint))
	goal := goalMin(s)
	for _, r := range s.Rows {
		lines := wrap(p.say(r.Name), nameW)
		t := newTrack(wide, most)
		t.mark(goal, '┆')
		look := endLook(rowEnd(r))
		text := Minutes(r.Minutes)
		if r.Failed == "" && finite(r.Minutes.Mid) {
			t.stretch(0, r.Minutes.Mid, '━')
			t.stretch(r.Minutes.Lo, r.Minutes.Hi, '─')
			t.mark(goal, '┆')
			t.mark(r.Minutes.Mid, '●')
			if r.Minutes.Hi > most {
				t.mark(most, '→')
			}
		} else if r.Failed != "" {
			text, look = "failed", faint
		}
		p.line("  ", pad(lines[0], nameW, false), "  ", pad(p.say(text), textW, false), "  ", p.paint(p.say(t.String()), look))
		for _, l := range lines[1:] {
			p.line("  ", l)
		}
	}
	if finite(goal) {
		t := newTrack(wide, most)
		t.label(goal, goalName(s))
		p.line("  ", pad("", nameW+textW+4, false), p.paint(t.String(), faint))
	}
	if note := longerNote(s); note != "" {
		p.paragraph("  ", faint, note)
	}
}

func endLook(k session.EndKind) tint {
	switch {
	case lasts(k):
		return good
	case k == session.LimitPassed, k == session.Dimmed:
		return uneasy
	case k == session.Stopped:
		return bad
	}
	return plain
}

func (p *Printer) sideBySide(s *compare.Study) {
	p.heading("Side by side")
	cols := []column{{head: "design", least: 9}, {head: "ends", least: 10},
		{head: "nearest limit", least: 12}, {head: "hottest to touch", least: 11}, {head: "mass added", right: true, least: 6},
		{head: wattLessHead(s.Rows), least: 7}}
	var rows [][]cell
	for _, r := range s.Rows {
		if r.Failed != "" {
			rows = append(rows, []cell{c(r.Name), {"could not be run: " + r.Failed, uneasy}})
			continue
		}
		end := rowEnd(r)
		lasting := endWord(end)
		if own := ownWords(r); own != "" {
			lasting += "\n" + own
		}
		if ch := chanceOf(r, s.Draws); ch != dash {
			lasting += "\nlasts: " + ch
		}
		if air := sureAir(r); air != "" {
			lasting += "\n" + air
		}
		rows = append(rows, []cell{c(r.Name), {lasting, endLook(end)},
			c(marginWords(r)), c(touchWords(r)), c(massWords(r.MassAddedKg)), c(wattLessGain(r))})
	}
	p.table(cols, rows)
	if s.Draws > 1 {
		p.paragraph("  ", faint, "Lasts: the share of "+plural(s.Draws, "draw", "draws")+" from what is not known exactly that reach the goal. In brackets: 90 % of them. 9 in 10 up to: the air above which fewer than that would.")
		if words := confirmedWords(s.Rows); words != "" {
			p.paragraph("  ", faint, words)
		}
	}
	for _, r := range s.Rows {
		for _, n := range r.Notes {
			p.paragraph("  · ", faint, r.Name+": "+n)
		}
	}
}

// marginWords is the margin to the nearest limit and its name.
func marginWords(r compare.Row) string {
	text := Margin(r.MarginK)
	if l, ok := nearest(r.Result); ok {
		if text == dash {
			text = Kelvins(l.MarginK)
		}
		text += "\n" + l.Name
	}
	return text
}

func touchWords(r compare.Row) string {
	text := Celsius(r.SkinC)
	if place := touchPlace(r); place != "" && text != dash {
		text += "\n" + place
	}
	return text
}

// massWords is a mass added or taken off.
func massWords(kg float64) string {
	if finite(kg) && math.Abs(kg) < 5e-5 {
		return "0 g"
	}
	return signed(Grams(kg))
}
