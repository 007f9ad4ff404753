package app

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/unit"
)

// Film coefficients that no hand-sized device in air leaves, W/(m2 K), convection and radiation together. In still air a bare
// metal skin keeps some 4, a dull one 8 to 14 (small-body natural convection, Lee, Yovanovich & Jafarpur 1991, and
// linearised radiation); 3 and 25 are outside all of that. In moving air 100 is beyond a gale on a small body.
const (
	leastFilmWm2K     = 3
	mostFilmStillWm2K = 25
	mostFilmWindWm2K  = 100
)

// riseAgainstPower holds temperatures read on the outside against the watts stated: P = h A rise in the end. Readings on outer
// faces only; a reading higher than the heat could ever make it, or one after an hour that is lower than any film allows, does
// not fit.
func riseAgainstPower(f *device.File, m *model.Model) []string {
	area := 0.0
	for i := range m.Surfaces {
		area += m.Surfaces[i].AreaM2
	}
	if area == 0 {
		return nil
	}
	var out []string
	for i := range f.Runs {
		r := &f.Runs[i]
		if r.Retrofit != "" {
			continue // of another outside
		}
		lo, hi := powerRange(f, r.Mode)
		ambient := r.Ambient
		if !ambient.Given() {
			ambient = f.Conditions.Ambient
		}
		if hi <= 0 || !ambient.Given() || r.Sun.Given() || f.Conditions.Sun.Given() {
			continue
		}
		most := float64(mostFilmStillWm2K)
		if r.Air.Given && !r.Air.Still || !r.Air.Given && f.Conditions.Air.Given && !f.Conditions.Air.Still {
			most = mostFilmWindWm2K
		}
		for k := range r.Spots {
			s := &r.Spots[k]
			_, face, ok := strings.Cut(s.At, ".")
			if !ok || strings.HasPrefix(face, "inside") {
				continue
			}
			rise := s.Reads.Lo - ambient.Hi
			// a spot may be several times as warm as the mean of the whole skin, hardly ten times
			if ceiling := 10 * hi / (leastFilmWm2K * area); rise > ceiling {
				out = append(out, fmt.Sprintf("line %d: %s reads %s, %s above the ambient, but %s over %s of outside cannot lift even a hot spot by more than about %s: check the watts, the sizes or the reading.",
					s.Pos.Line, s.At, unit.Format(s.Reads.Mid, unit.Temperature), unit.Format(rise, unit.TemperatureDiff), unit.Format(hi, unit.Power), unit.Format(area, unit.Area), unit.Format(ceiling, unit.TemperatureDiff)))
			}
			rise = s.Reads.Hi - ambient.Lo
			if floor := 0.25 * lo / (most * area); s.After.Lo >= 3600 && rise < floor {
				out = append(out, fmt.Sprintf("line %d: %s reads only %s above the ambient after %s, but %s over %s of outside should warm it by %s at least: check the watts, or whether it was running.",
					s.Pos.Line, s.At, unit.Format(math.Max(0, rise), unit.TemperatureDiff), s.After.Text, unit.Format(lo, unit.Power), unit.Format(area, unit.Area), unit.Format(floor, unit.TemperatureDiff)))
			}
		}
	}
	return out
}

// powerRange adds up the heats stated for a mode, W.
func powerRange(f *device.File, mode string) (lo, hi float64) {
	if mode == "" {
		mode = f.Mode
	}
	for i := range f.Parts {
		if q := f.Parts[i].Heat.In(mode); q.Given() {
			lo, hi = lo+q.Lo, hi+q.Hi
		}
	}
	return lo, hi
}
