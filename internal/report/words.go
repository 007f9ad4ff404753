package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"finwright/internal/compare"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// dash stands for a figure that does not exist.
const dash = "–"

// zeroC is 0 °C in kelvin, by definition of the Celsius temperature (BIPM, SI Brochure, 9th ed., 2019).
const zeroC = 273.15

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// step gives the rounding step a figure deserves: the largest power of ten that still leaves two steps in half its
// interval, not finer than fine and not coarser than coarse. Without an interval it is fine.
func step(lo, hi, fine, coarse float64) float64 {
	half := (hi - lo) / 2
	if !finite(half) || half <= 0 {
		return fine
	}
	s := math.Pow(10, math.Floor(math.Log10(half/2)))
	return math.Min(math.Max(s, fine), coarse)
}

// figure prints x rounded to a step that is a power of ten. Minus zero is zero; a figure that does not exist is a dash.
func figure(x, step float64) string {
	if !finite(x) {
		return dash
	}
	digits := 0
	if step < 1 {
		digits = int(math.Round(-math.Log10(step)))
	} else {
		x = math.Round(x/step) * step
	}
	s := strconv.FormatFloat(x, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// spread prints "26 min (23 to 31)"; the bracket is left out when both ends round to the middle.
func spread(s compare.Spread, unit string, fine, coarse float64) string {
	if !finite(s.Mid) {
		return dash
	}
	st := step(s.Lo, s.Hi, fine, coarse)
	mid, lo, hi := figure(s.Mid, st), figure(s.Lo, st), figure(s.Hi, st)
	if lo == dash || hi == dash || lo == mid && hi == mid {
		return mid + " " + unit
	}
	return fmt.Sprintf("%s %s (%s to %s)", mid, unit, lo, hi)
}

// Minutes prints a spread of minutes: "26 min (23 to 31)". Below ten minutes a tenth is shown when the doubt allows.
func Minutes(s compare.Spread) string {
	fine := 1.0
	if math.Abs(s.Mid) < 10 {
		fine = 0.1
	}
	return spread(s, "min", fine, 10)
}

// Celsius prints a spread of temperatures in °C: "47 °C (45 to 50)", never finer than a degree.
func Celsius(s compare.Spread) string { return spread(s, "°C", 1, 1) }

// Margin prints a spread of kelvins short of a limit: "-3 K (-6 to 1)"; a tenth is shown when the middle is below 1 K.
func Margin(s compare.Spread) string { return spread(s, "K", kelvinStep(s.Mid), 1) }

// AtMinute prints a moment of a run given in seconds: "26 min", "4.5 min".
func AtMinute(s float64) string {
	min := s / 60
	if !finite(min) {
		return dash
	}
	if math.Abs(min) < 10 {
		return figure(min, 0.1) + " min"
	}
	return figure(min, 1) + " min"
}

// DegC prints an absolute temperature given in kelvin: "41 °C".
func DegC(tK float64) string {
	if !finite(tK) {
		return dash
	}
	return figure(tK-zeroC, 1) + " °C"
}

// Kelvins prints a difference: "12 K", "-3 K", "0.4 K".
func Kelvins(k float64) string {
	if !finite(k) {
		return dash
	}
	return figure(k, kelvinStep(k)) + " K"
}

func kelvinStep(k float64) float64 {
	if math.Abs(k) < 0.95 {
		return 0.1
	}
	return 1
}

// drop prints degrees lost along the way of the heat, to a tenth below 10 K: a joint of 0.4 K and one of 1.2 K differ.
func drop(k float64) string {
	if math.Abs(k) < 9.95 {
		return unitAfter(figure(k, 0.1), "K")
	}
	return unitAfter(figure(k, 1), "K")
}

// Watts prints a power: "3.4 W", "0.25 W", "12 W".
func Watts(w float64) string {
	st := 0.1
	switch a := math.Abs(w); {
	case a >= 9.95:
		st = 1
	case a < 0.995:
		st = 0.01
	}
	return unitAfter(figure(w, st), "W")
}

// Grams prints a mass given in kilograms: "38 g", "4.2 g".
func Grams(kg float64) string {
	st := 1.0
	if math.Abs(kg) < 9.95e-3 {
		st = 0.1
	}
	return unitAfter(figure(kg*1000, st), "g")
}

// unitAfter keeps a dash from getting a unit.
func unitAfter(figure, unit string) string {
	if figure == dash {
		return dash
	}
	return figure + " " + unit
}

// signed puts a plus before a gain.
func signed(s string) string {
	if s == dash || strings.HasPrefix(s, "-") || strings.HasPrefix(s, "0 ") {
		return s
	}
	return "+" + s
}

// Chance prints a share of draws in steps of 5 %: "70 %", "under 5 %". Fewer than two draws give no chance.
func Chance(share float64, draws int) string {
	switch {
	case !finite(share) || draws < 2:
		return dash
	case share < 0.05:
		return "under 5 %"
	case share > 0.95:
		return "over 95 %"
	}
	return figure(math.Round(share*20)*5, 1) + " %"
}

// chanceOf is a design's chance with its 90 % interval where that is wide: "70 % (58 to 81)".
func chanceOf(r compare.Row, draws int) string {
	text := Chance(r.Chance, draws)
	if text != dash && r.Chance >= 0.05 && r.Chance <= 0.95 && r.ChanceHi-r.ChanceLo > 0.1 {
		text += fmt.Sprintf(" (%.0f to %.0f)", 100*r.ChanceLo, 100*r.ChanceHi)
	}
	return text
}

// sureAir is the air up to which a chance of nine in ten holds: "9 in 10 up to 31 °C"; empty when not known.
func sureAir(r compare.Row) string {
	switch t := r.SureUpToC; {
	case math.IsNaN(t) || !(r.AirToC > r.AirFromC):
		return ""
	case math.IsInf(t, 1):
		return "9 in 10 beyond " + figure(r.AirToC, 1) + " °C"
	case math.IsInf(t, -1):
		return "9 in 10 not even at " + figure(r.AirFromC, 1) + " °C"
	default:
		return "9 in 10 up to " + figure(math.Floor(t), 1) + " °C"
	}
}

// causeWords ranks what keeps a design in doubt: "45 % heat of chip, 32 % natural convection in channels"; empty when nothing stands out.
func causeWords(r compare.Row) string {
	var out []string
	for _, c := range r.Causes {
		if len(out) == mostCauses {
			break
		}
		out = append(out, percent(c.Share)+" "+c.About)
	}
	return strings.Join(out, ", ")
}

const mostCauses = 5

// causesNote explains shares of doubt.
const causesNote = "Shares of the variance of what is left to the nearest limit that would go, on average, if that figure alone became known. Good to about 5 %; they need not add up to 100 %."

// confirmedWords tells how the draws were checked; empty when they were not.
func confirmedWords(rows []compare.Row) string {
	n, off, name := 0, 0.0, ""
	for _, r := range rows {
		n += r.Confirmed
		if r.Confirmed > 0 && (name == "" || math.Abs(r.OffK) > math.Abs(off)) {
			off, name = r.OffK, r.Name
		}
	}
	if n == 0 {
		return ""
	}
	return plural(n, "draw was", "draws were") + " made in 3-D on fine cells as well: the margins differ by " + Kelvins(math.Abs(off)) + " at most (" + name + ")."
}

// endKinds is the fixed order in which kinds of endings are told.
var endKinds = []session.EndKind{session.Stopped, session.Dimmed, session.LimitPassed, session.BatteryEmpty, session.TimeOver}

// endWord is a kind of ending in two words.
func endWord(k session.EndKind) string {
	switch k {
	case session.Stopped:
		return "stops itself"
	case session.BatteryEmpty:
		return "battery empty"
	case session.LimitPassed:
		return "passes a limit"
	case session.TimeOver:
		return "still running"
	}
	if k == "" {
		return dash
	}
	return string(k)
}

// lasts says whether an ending is a good one.
func lasts(k session.EndKind) bool { return k == session.BatteryEmpty || k == session.TimeOver }

// endWords tells one ending in full: "stops itself at 26 min (soc)".
func endWords(e session.End) string {
	s := endWord(e.Kind)
	if at := AtMinute(e.AtS); at != dash && s != dash {
		s += " at " + at
	}
	if e.By != "" {
		s += " (" + e.By + ")"
	}
	return s
}

// drawsWords tells how the draws ended, in a fixed order: "18 stop themselves, 2 battery empty".
func drawsWords(kinds map[session.EndKind]int) string {
	var out []string
	total := 0
	for _, k := range endKinds {
		total += kinds[k]
	}
	for _, k := range endKinds {
		if n := kinds[k]; n > 0 {
			out = append(out, fmt.Sprintf("%s in %d of %d", endWord(k), n, total))
		}
	}
	return strings.Join(out, ", ")
}

// rowEnd is how a design's session ends: the run at the most likely values decides, else the commonest draw.
func rowEnd(r compare.Row) session.EndKind {
	if r.Result != nil {
		return r.Result.End.Kind
	}
	var best session.EndKind
	for _, k := range endKinds {
		if r.EndKinds[k] > r.EndKinds[best] {
			best = k
		}
	}
	return best
}

// ownWords tells what the device itself does where a limit or a power step came first: "device: battery empty at 122 min";
// empty when there is no difference.
func ownWords(r compare.Row) string {
	if r.Result == nil || r.Result.Own.Kind == "" || r.Result.Own == r.Result.End {
		return ""
	}
	own := r.Result.Own
	own.By = ""
	return "device: " + endWords(own)
}

// nearest is the limit with the smallest margin.
func nearest(r *session.Result) (session.Limit, bool) {
	if r == nil || r.Nearest < 0 || r.Nearest >= len(r.Limits) {
		return session.Limit{}, false
	}
	return r.Limits[r.Nearest], true
}

// wattLessCooler tells how much cooler less heat at the main source would make the main sensor: "8 K cooler"; empty when
// not known.
func wattLessCooler(r compare.Row) string {
	switch k := r.WattLessK; {
	case !finite(k) || math.Abs(k) < 0.05:
		return ""
	case k < 0:
		return Kelvins(-k) + " hotter"
	default:
		return Kelvins(k) + " cooler"
	}
}

// wattLessGain tells how many minutes less heat at the main source would bring: "+9.2 min", "lasts anyway".
func wattLessGain(r compare.Row) string {
	switch {
	case finite(r.WattLessMin):
		return signed(AtMinute(r.WattLessMin * 60))
	case lasts(rowEnd(r)):
		return "lasts anyway"
	}
	return dash
}

// wattLessHead names the column of what less heat would bring: "1 W less" when every design was asked with the same share, otherwise in general.
func wattLessHead(rows []compare.Row) string {
	w := math.NaN()
	for _, r := range rows {
		switch {
		case r.Failed != "" || !finite(r.WattLessW) || r.WattLessW <= 0:
		case !finite(w):
			w = r.WattLessW
		case math.Abs(r.WattLessW-w) > 1e-9:
			return "a little less heat"
		}
	}
	if !finite(w) {
		return "less heat"
	}
	return strings.TrimSuffix(figure(w, 0.1), ".0") + " W less"
}

// touchPlace names the hottest place a hand can reach and its temperature.
func touchPlace(r compare.Row) string {
	if r.Result == nil || r.Result.Hottest.Name == "" {
		return ""
	}
	return r.Result.Hottest.Name
}

// learnedWords prints a 90 % interval (SI) of a quantity whose dimension is told by name: "3.9 W (3.5 to 4.3)". The figures
// of a dimension that package unit does not know stand alone.
func learnedWords(dim string, lo, mid, hi float64) string {
	for d := unit.Length; d <= unit.Force; d++ {
		if d.Name() == dim {
			return unit.FormatInterval(lo, mid, hi, d)
		}
	}
	return unit.FormatInterval(lo, mid, hi, unit.Ratio)
}

// percent prints a share as a whole percentage.
func percent(share float64) string { return unitAfter(figure(share*100, 1), "%") }

// plural chooses the form of a counted noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// lowerFirst puts a heading's words into a sentence.
func lowerFirst(s string) string {
	for i, r := range s {
		return strings.ToLower(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// upperFirst begins a sentence.
func upperFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}
