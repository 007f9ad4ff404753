package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/forecast"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// WatchFigures is what is known of a running test at one time.
type WatchFigures struct {
	File     string
	Device   string // empty without a device file
	Design   string
	Invented bool
	NowS     float64 // time of the last row
	Rows     int
	State    *forecast.State       `json:",omitempty"` // with a device file
	Alone    []forecast.CurveState `json:",omitempty"` // without one, per column
	LimitK   float64               // without one, the temperature that must not be reached; 0: none
	Read     []WatchedColumn       `json:"-"` // the readings themselves, thinned, for drawing
	Ended    bool
	EndedS   float64           // when the device ended, as the readings show it
	EndedAs  []forecast.Chance `json:",omitempty"` // how, by what was known before
	Final    bool              // nothing more will follow
	Taken    []string          // what the forecast takes for given
	Assumed  []string          // what was assumed, that and in reading the log
	Notes    []string
	Reading  string // the settings that read the log the same way again
}

// WatchedColumn are readings of one column: times in s, temperatures in K.
type WatchedColumn struct {
	Name      string
	TimeS, TK []float64
}

// WatchCautions are those of a test at the bench.
func WatchCautions() []string {
	return []string{
		"Stay within reach while it runs, with a way to cut the power, on a surface that does not burn; a forecast does not watch over the device.",
		"A cell that swells, smells, hisses or passes its maker's limit ends the test at once: power off, outdoors, away from anything that burns.",
	}
}

// WatchLine says the state in one line.
func WatchLine(w *WatchFigures) string {
	at := AtMinute(w.NowS)
	switch {
	case w.Ended && w.Device != "":
		return fmt.Sprintf("%s: the device has ended, at %s%s", at, AtMinute(w.EndedS), endedAs(w))
	case w.Ended:
		return fmt.Sprintf("%s: it cools since %s", at, AtMinute(w.EndedS))
	case w.State != nil:
		s := w.State
		line := fmt.Sprintf("%s: end at %s", at, minuteInterval(s.EndS))
		if len(s.Ways) > 0 {
			line += fmt.Sprintf(", %s (%s)", s.Ways[0].Kind, chanceWords(s.Ways[0].Share))
		}
		if s.Decided {
			line += "; decided: " + s.Why
		}
		return line
	case len(w.Alone) > 0:
		var parts []string
		for i := range w.Alone {
			parts = append(parts, aloneWords(&w.Alone[i], w.LimitK))
		}
		return at + ": " + strings.Join(parts, "; ")
	}
	return at + ": no forecast yet"
}

func endedAs(w *WatchFigures) string {
	if len(w.EndedAs) == 0 {
		return ""
	}
	return fmt.Sprintf(": %s (%s)", w.EndedAs[0].Kind, chanceWords(w.EndedAs[0].Share))
}

// minuteInterval prints seconds as "80 min (74 to 88)".
func minuteInterval(i forecast.Interval) string {
	if !finite(i.Mid) {
		return dash
	}
	fine := 1.0
	if i.Mid < 600 {
		fine = 0.1
	}
	return fmt.Sprintf("%s min (%s to %s)", figure(i.Mid/60, fine), figure(i.Lo/60, fine), figure(i.Hi/60, fine))
}

// degInterval prints temperatures as "42 °C (40 to 45)".
func degInterval(i forecast.Interval) string {
	if !finite(i.Mid) {
		return dash
	}
	fine := 1.0
	if i.Hi-i.Lo < 4 {
		fine = 0.1
	}
	return fmt.Sprintf("%s °C (%s to %s)", figure(i.Mid-zeroC, fine), figure(i.Lo-zeroC, fine), figure(i.Hi-zeroC, fine))
}

// chanceWords never says more than the draws can tell.
func chanceWords(x float64) string {
	switch {
	case x > 0.99:
		return "over 99 %"
	case x < 0.01:
		return "under 1 %"
	}
	return figure(100*x, 1) + " %"
}

// aloneWords says what one curve says by itself.
func aloneWords(s *forecast.CurveState, limitK float64) string {
	now := s.Probe
	if finite(s.NowK) {
		now += " " + unit.Format(math.Round(10*s.NowK)/10, unit.Temperature)
	}
	if s.Refused != "" {
		return now + ", too early to say where it goes"
	}
	out := fmt.Sprintf("%s, goes to %s, settled at %s", now, degInterval(s.SteadyK), minuteInterval(s.SettlesS))
	if limitK > 0 {
		out += fmt.Sprintf(", reaches %s: %s", DegC(limitK), chanceWords(s.Reaches))
		if s.Reaches > 0.05 && finite(s.LimitS.Mid) {
			out += ", at " + minuteInterval(s.LimitS)
		}
	}
	if s.Decided {
		out += "; decided: " + s.Why
	}
	return out
}

// watchWords says a forecast by a device file in sentences.
func watchWords(w *WatchFigures) []string {
	s := w.State
	var out []string
	if w.Device == "" {
		return out
	}
	if w.Ended {
		out = append(out, fmt.Sprintf("The device has ended, at %s%s.", AtMinute(w.EndedS), endedAs(w)))
		if s != nil {
			out = append(out, fmt.Sprintf("The forecast before that was %s.", minuteInterval(s.EndS)))
		}
		return out
	}
	if s == nil {
		return out
	}
	for i, c := range s.Ways {
		switch {
		case i == 0 && c.Share > 0.95:
			out = append(out, fmt.Sprintf("It will end with: %s (%s), at %s.", c.Kind, chanceWords(c.Share), minuteInterval(c.AtS)))
		case i == 0:
			out = append(out, fmt.Sprintf("How it will end is open; the end comes at %s.", minuteInterval(s.EndS)))
			fallthrough
		case c.Share >= 0.01:
			out = append(out, fmt.Sprintf("%s: %s, then at %s.", sentenceStart(string(c.Kind)), chanceWords(c.Share), minuteInterval(c.AtS)))
		}
	}
	if s.FullS.Mid < 0.99*s.EndS.Mid {
		out = append(out, fmt.Sprintf("It keeps its full power for %s.", minuteInterval(s.FullS)))
	}
	out = append(out, fmt.Sprintf("It lasts at full power to the end: %s.", chanceWords(s.Lasts)))
	switch {
	case s.MisfitScore > 3:
		out = append(out, fmt.Sprintf("The readings do not fit the description: the best draw is %.1f standard deviations off all over. Is this the design on the bench, are the probes where they are said to be, is the room as warm as said? The forecast is worth little.", s.MisfitScore))
	case s.Decided && s.Why == "it lasts":
		out = append(out, "Decided: it lasts. The test may stop here.")
	case s.Decided && s.Why == "it does not last":
		out = append(out, "Decided: it does not last. The test may stop here.")
	case s.Decided:
		out = append(out, "Decided: "+s.Why+". The test may stop here.")
	default:
		out = append(out, "Not decided yet: let it run.")
	}
	return out
}

func sentenceStart(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Watch prints the whole state, with the curves.
func (p *Printer) Watch(w *WatchFigures) error {
	title := w.File
	if w.Device != "" {
		title = w.Device + ": " + w.Design
	}
	if w.Invented {
		title += "  (invented data)"
	}
	p.line(p.paint(p.say(title), strong))
	p.paragraph("", faint, fmt.Sprintf("%d rows, the last at %s.", w.Rows, AtMinute(w.NowS)))
	words := watchWords(w)
	if w.Device == "" {
		if w.Ended {
			words = append(words, fmt.Sprintf("It cools since %s.", AtMinute(w.EndedS)))
		}
		for i := range w.Alone {
			a := &w.Alone[i]
			words = append(words, sentenceEnd(aloneWords(a, w.LimitK)))
			if a.Trend != "" {
				words = append(words, a.Trend)
			}
			if a.Refused != "" {
				words = append(words, sentenceEnd(a.Probe+": "+a.Refused))
			}
		}
	}
	look := good
	if w.State != nil && w.State.Lasts < 0.5 {
		look = bad
	}
	if w.Device == "" {
		look = plain
	}
	for _, s := range words {
		p.paragraph("▸ ", look, s)
		look = plain
	}
	p.watchCurves(w)
	if w.Final {
		notes := slices.Concat(w.Assumed, w.Notes)
		if len(notes) > 0 {
			p.heading("Taken for given, and noted")
			for _, n := range notes {
				p.paragraph("  · ", faint, n)
			}
		}
		p.heading("Cautions")
		for _, c := range WatchCautions() {
			p.paragraph("  ! ", plain, c)
		}
	}
	return p.err
}

func sentenceEnd(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// watchCurves draws what was read up to now, and dotted what faultless probes would read from now on.
func (p *Printer) watchCurves(w *WatchFigures) {
	var curves []forecast.Curve
	if w.State != nil {
		curves = w.State.Curves
	}
	for i := range w.Alone {
		if w.Alone[i].Refused == "" {
			curves = append(curves, w.Alone[i].Curve)
		}
	}
	if len(curves) > 4 {
		curves = curves[:4]
	}
	endS := 0.0
	for _, c := range curves {
		if n := len(c.TimeS); n > 1 {
			endS = math.Max(endS, c.TimeS[n-1])
		}
	}
	if endS <= 0 || w.NowS <= 0 {
		return
	}
	r := &session.Result{AmbientK: math.NaN(), Nearest: -1}
	const points = 160
	for k := 0; k <= points; k++ {
		r.TimeS = append(r.TimeS, endS*float64(k)/points)
	}
	ended := math.Min(w.NowS, endS)
	if w.Ended {
		ended = math.Min(w.EndedS, endS)
	}
	var ends []string
	for _, c := range curves {
		if len(c.TimeS) < 2 {
			continue
		}
		s := session.Series{Name: c.Probe, Kind: "place", LimitK: w.LimitK}
		k := slices.IndexFunc(w.Read, func(x WatchedColumn) bool { return x.Name == c.Probe })
		for _, t := range r.TimeS {
			v := math.NaN()
			if t <= ended && k >= 0 {
				v = between(w.Read[k].TimeS, w.Read[k].TK, t)
			} else if t > ended {
				v = between(c.TimeS, c.MidK, t)
			}
			s.ValueK = append(s.ValueK, v)
		}
		r.Series = append(r.Series, s)
		n := len(c.TimeS) - 1
		ends = append(ends, fmt.Sprintf("%s %s", c.Probe, degInterval(forecast.Interval{Lo: c.LoK[n], Mid: c.MidK[n], Hi: c.HiK[n]})))
	}
	if len(r.Series) == 0 {
		return
	}
	r.Own = session.End{Kind: session.TimeOver, AtS: ended}
	p.heading("Temperatures until now, " + AtMinute(ended) + ", and from now on (dotted)")
	p.drawCurves(r, r.Series, ended, 10)
	p.paragraph("  ", faint, fmt.Sprintf("At %s: %s.", AtMinute(endS), strings.Join(ends, ", ")))
}

// between is straight between points; NaN outside.
func between(timeS, value []float64, tS float64) float64 {
	k, _ := slices.BinarySearch(timeS, tS)
	switch {
	case len(timeS) == 0 || k == len(timeS):
		return math.NaN()
	case k == 0 && tS < timeS[0]:
		return math.NaN()
	case k == 0:
		return value[0]
	}
	w := (tS - timeS[k-1]) / (timeS[k] - timeS[k-1])
	return value[k-1] + w*(value[k]-value[k-1])
}
