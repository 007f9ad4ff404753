package compare

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// conditionsInWords says where the comparison takes place.
func conditionsInWords(m *model.Model) string {
	u := &m.Under
	s := fmt.Sprintf("%s, ", unit.Format(u.AirK, unit.Temperature))
	if u.WindMS > 0 {
		s += fmt.Sprintf("air moving at %s", unit.Format(u.WindMS, unit.Velocity))
	} else {
		s += "still air"
	}
	if u.SunWm2 > 0 {
		s += fmt.Sprintf(", sun %s", unit.Format(u.SunWm2, unit.HeatFlux))
	} else {
		s += ", no sun"
	}
	if u.AltitudeM > 0 {
		s += fmt.Sprintf(", %.0f m above the sea", u.AltitudeM)
	}
	for _, rest := range u.Rests {
		if rest.What == "hand" {
			s += fmt.Sprintf(", %s in the hand", rest.Face)
		} else {
			s += fmt.Sprintf(", %s on %s", rest.Face, rest.What)
		}
	}
	return s
}

// Assumptions lists everything decided on the user's behalf for a model of file f, each once.
func Assumptions(f *device.File, m *model.Model) []Assumption {
	var out []Assumption
	add := func(about, value, source string) {
		for _, a := range out {
			if a.About == about {
				return
			}
		}
		out = append(out, Assumption{about, value, source})
	}
	placeless := f.Battery != nil && f.Battery.Part == "" // a cell that is no part has no temperature and warms nothing
	for _, a := range f.Assumptions() {
		if a.Path == "battery.limit" && placeless {
			continue
		}
		add(a.About, a.Value, a.Source)
	}
	for _, x := range m.Fixed {
		add(x.About, x.Value, x.Source)
	}
	for _, u := range m.Unknowns {
		if !u.Stated && !(u.Path == "battery.own heat" && placeless) {
			add(u.About, unit.FormatInterval(u.Prior.Lo, u.Prior.Mid, u.Prior.Hi, u.Dim), u.Source)
		}
	}
	return out
}

// lasts says whether a design gets to the battery's end, or to the time asked for, at full power and without passing a limit.
func lasts(r *session.Result) bool {
	return r.End.Kind == session.BatteryEmpty || r.End.Kind == session.TimeOver
}

// verdict says the study in words, the most important first.
func verdict(st *Study) []string {
	var out []string
	stock := &st.Rows[0]
	if stock.Result == nil {
		return []string{"The stock device could not be run: " + stock.Failed}
	}
	r := stock.Result
	first := fmt.Sprintf("As it is, the device %s after %s", endInWords(r.End), minutesInWords(stock.Minutes))
	if r.End.Kind != r.Own.Kind {
		first += fmt.Sprintf("; left alone it %s after %s", endInWords(r.Own), unit.Format(r.Own.AtS, unit.Time))
	}
	out = append(out, first+".")

	var good, bad []*Row
	for i := 1; i < len(st.Rows); i++ {
		row := &st.Rows[i]
		if row.Result == nil {
			continue
		}
		if lasts(row.Result) {
			good = append(good, row)
		} else {
			bad = append(bad, row)
		}
	}
	switch {
	case lasts(r):
		out = append(out, "It lasts as it is under these conditions: a retrofit buys margin, not minutes.")
	case len(good) == 0 && len(st.Rows) > 1:
		out = append(out, "None of the retrofits lasts until "+goal(st)+" under these conditions.")
	}
	sort.SliceStable(good, func(a, b int) bool {
		x, y := good[a], good[b]
		if x.Chance != y.Chance {
			return x.Chance > y.Chance
		}
		return nearest(x.Result) > nearest(y.Result)
	})
	for i, row := range good {
		s := fmt.Sprintf("“%s” %s until %s (%s)", row.Name, lasting(row.Chance), goal(st), chanceInWords(row))
		if n := row.Result.Nearest; n >= 0 {
			l := row.Result.Limits[n]
			s += fmt.Sprintf(", with %s left to the nearest limit, %s", unit.Format(l.MarginK, unit.TemperatureDiff), l.Name)
		}
		s += fmt.Sprintf("; the hottest place a hand can reach is at %s", unit.Format(row.Result.Hottest.HighestK, unit.Temperature))
		if !math.IsNaN(row.MassAddedKg) && math.Abs(row.MassAddedKg) >= 0.0005 {
			s += fmt.Sprintf("; it %s %s", map[bool]string{true: "adds", false: "saves"}[row.MassAddedKg > 0], unit.Format(math.Abs(row.MassAddedKg), unit.Mass))
		}
		if t := sureInWords(row); t != "" {
			s += "; " + t
		}
		out = append(out, s+".")
		if i == 0 && row.Chance >= 0.5 && why(stock, row) != "" {
			out = append(out, why(stock, row))
		}
		if i == 0 {
			out = appendSaid(out, causesInWords(row))
		}
		out = appendSaid(out, offInWords(row))
	}
	sort.SliceStable(bad, func(a, b int) bool { return bad[a].Result.End.AtS > bad[b].Result.End.AtS })
	for _, row := range bad {
		gain := (row.Result.End.AtS - r.End.AtS) / 60
		atS := math.Min(r.End.AtS, row.Result.End.AtS)
		gainK := mainSensor(r, atS) - mainSensor(row.Result, atS)
		switch {
		case math.Abs(gain) < 0.1*r.End.AtS/60 && row.Result.End.Kind != r.End.Kind:
			out = append(out, fmt.Sprintf("“%s” %s after %s, although its sensor is then %s.", row.Name, endInWords(row.Result.End), minutesInWords(row.Minutes), cooler(gainK)))
		case math.Abs(gain) < 0.1*r.End.AtS/60:
			out = append(out, fmt.Sprintf("“%s” hardly matters: it %s after %s, with the sensor %s.", row.Name, endInWords(row.Result.End), minutesInWords(row.Minutes), cooler(gainK)))
		default:
			out = append(out, fmt.Sprintf("“%s” %s after %s: %s, the sensor %s when the first of the two ends, but not enough.",
				row.Name, endInWords(row.Result.End), minutesInWords(row.Minutes), gainInWords(gain), cooler(gainK)))
		}
	}
	for i := 1; i < len(st.Rows); i++ {
		if st.Rows[i].Failed != "" {
			out = append(out, fmt.Sprintf("“%s” could not be run: %s.", st.Rows[i].Name, st.Rows[i].Failed))
		}
	}
	if !math.IsNaN(stock.WattLessMin) && !lasts(r) && stock.WattLessW > 0 {
		out = append(out, fmt.Sprintf("A saved watt beside metal: %s less in the main source gives the stock device %s.", unit.Format(stock.WattLessW, unit.Power), gainInWords(stock.WattLessMin)))
	}
	return out
}

// appendSaid leaves out what is not said.
func appendSaid(out []string, s string) []string {
	if s == "" {
		return out
	}
	return append(out, s)
}

// lasting puts a chance into a verb: most likely values alone do not make a design last.
func lasting(chance float64) string {
	switch {
	case chance > 0.85:
		return "lasts"
	case chance >= 0.5:
		return "probably lasts"
	}
	return "would last at the most likely values only"
}

// chanceInWords says how many of the draws lasted.
func chanceInWords(row *Row) string {
	n, k := 0, 0
	for kind, c := range row.EndKinds {
		n += c
		if kind == session.BatteryEmpty || kind == session.TimeOver {
			k += c
		}
	}
	if n == 0 {
		return "one run, no draws of what is in doubt"
	}
	return fmt.Sprintf("%d of %d draws of what is in doubt do", k, n)
}

// why compares where the degrees are lost in the stock device and in the best design.
func why(stock, best *Row) string {
	worst := worstLeg(stock.Result.Ledger.Path)
	if worst == nil {
		return ""
	}
	s := fmt.Sprintf("Why: in the stock device %s of the %s between source and air are lost in %s",
		unit.Format(worst.DropK, unit.TemperatureDiff), unit.Format(stock.Result.Ledger.SourceK-stock.Result.Ledger.AmbientK, unit.TemperatureDiff), worst.Name)
	if w := worstLeg(best.Result.Ledger.Path); w != nil {
		s += fmt.Sprintf("; with “%s” the largest loss is %s in %s", best.Name, unit.Format(w.DropK, unit.TemperatureDiff), w.Name)
	}
	return s + "."
}

func worstLeg(path []session.Leg) *session.Leg {
	var w *session.Leg
	for i := range path {
		if w == nil || path[i].DropK > w.DropK {
			w = &path[i]
		}
	}
	return w
}

func nearest(r *session.Result) float64 {
	if r.Nearest < 0 {
		return math.Inf(1)
	}
	return r.Limits[r.Nearest].MarginK
}

func goal(st *Study) string {
	if !math.IsNaN(st.BatteryMin.Mid) && st.AskedMin == 0 {
		return "the battery is empty"
	}
	return "the time asked for is over"
}

func endInWords(e session.End) string {
	switch e.Kind {
	case session.Stopped:
		return "stops itself (" + e.By + ")"
	case session.Dimmed:
		return "dims itself (" + e.By + ")"
	case session.LimitPassed:
		return "passes a limit (" + e.By + ")"
	case session.BatteryEmpty:
		return "runs until the battery is empty"
	}
	return "is still running"
}

func minutesInWords(s Spread) string {
	return unit.FormatInterval(s.Lo*60, s.Mid*60, s.Hi*60, unit.Time)
}

func gainInWords(min float64) string {
	if min >= 0 {
		return fmt.Sprintf("%.0f min longer", min)
	}
	return fmt.Sprintf("%.0f min less", -min)
}

func cooler(k float64) string {
	if math.Abs(k) < 0.05 {
		return "as warm as in the stock device"
	}
	if k >= 0 {
		return fmt.Sprintf("%.1f K cooler than in the stock device", k)
	}
	return fmt.Sprintf("%.1f K warmer than in the stock device", -k)
}
