package curve

import (
	"fmt"
	"math"
	"slices"

	"finwright/internal/infer"
)

// Samples are temperatures TK, K, at times TimeS, s, of the same length.
type Samples struct {
	TimeS, TK []float64
}

// Series is one probe's readings, and those of the room when there are any. The room has times of its own; it is taken as straight
// between its readings and as standing still outside them. One reading is a constant room.
type Series struct {
	Samples
	Room Samples
}

// Len is the number of readings.
func (s Samples) Len() int { return len(s.TimeS) }

// check says what keeps the samples from being used: lengths that differ, values that are not finite, times that do not increase.
func (s Samples) check(what string) error {
	if len(s.TimeS) != len(s.TK) {
		return fmt.Errorf("%s: %d times but %d temperatures", what, len(s.TimeS), len(s.TK))
	}
	for i, t := range s.TimeS {
		if math.IsNaN(t) || math.IsInf(t, 0) || math.IsNaN(s.TK[i]) || math.IsInf(s.TK[i], 0) {
			return fmt.Errorf("%s: reading %d is missing (time %g s, %g K): clean the readings first", what, i+1, t, s.TK[i])
		}
		if i > 0 && t <= s.TimeS[i-1] {
			return fmt.Errorf("%s: the time of reading %d, %.3f s, is not after the one before it, %.3f s: clean the readings first", what, i+1, t, s.TimeS[i-1])
		}
	}
	return nil
}

func (s Series) check() error {
	if err := s.Samples.check("probe"); err != nil {
		return err
	}
	return s.Room.check("room")
}

// at is the value at tS, straight between readings, the end values outside. s must not be empty.
func (s Samples) at(tS float64) float64 {
	i, _ := slices.BinarySearch(s.TimeS, tS) // first reading at or after tS
	switch {
	case i == 0:
		return s.TK[0]
	case i == len(s.TimeS):
		return s.TK[i-1]
	}
	f := (tS - s.TimeS[i-1]) / (s.TimeS[i] - s.TimeS[i-1])
	return s.TK[i-1] + f*(s.TK[i]-s.TK[i-1])
}

// between cuts out the readings with fromS <= t <= toS.
func (s Samples) between(fromS, toS float64) Samples {
	i, _ := slices.BinarySearch(s.TimeS, fromS)
	j := i
	for j < len(s.TimeS) && s.TimeS[j] <= toS {
		j++
	}
	return Samples{s.TimeS[i:j], s.TK[i:j]}
}

// lagged is the room as a body of time constant tauS feels it at the times of at, less refK, written to dst:
//
//	z' = (u - z)/τ, z(t₀) = u(t₀)
//
// exact for u straight between the points used (the room's own and those of at). What the room did before t₀ dies out as exp(-t/τ) and
// is taken up by the fit's own term.
func (s Samples) lagged(at []float64, tauS, refK float64, dst []float64) {
	if s.Len() == 0 {
		clear(dst)
		return
	}
	t, u := at[0], s.at(at[0])
	z := u
	next, _ := slices.BinarySearch(s.TimeS, math.Nextafter(t, math.Inf(1)))
	dst[0] = z - refK
	for i := 1; i < len(at); i++ {
		for t < at[i] {
			t1 := at[i]
			if next < len(s.TimeS) && s.TimeS[next] <= t1 {
				t1 = s.TimeS[next]
				next++
			}
			if t1 <= t {
				continue
			}
			u1 := s.at(t1)
			slope := (u1 - u) / (t1 - t)
			z = u1 - tauS*slope + (z-u+tauS*slope)*math.Exp(-(t1-t)/tauS)
			t, u = t1, u1
		}
		dst[i] = z - refK
	}
}

// Estimate is a value with its 90 % interval, or the reason why there is none.
type Estimate struct {
	Lo, Mid, Hi float64
	Refused     string // in words; empty when the value is given
}

// Given says whether there is a value.
func (e Estimate) Given() bool { return e.Refused == "" }

func refused(format string, args ...any) Estimate {
	return Estimate{math.NaN(), math.NaN(), math.NaN(), fmt.Sprintf(format, args...)}
}

// quantiles is the 5, 50 and 95 % point of the values, which it sorts.
func quantiles(values []float64) Estimate {
	slices.Sort(values)
	return Estimate{Lo: infer.Quantile(values, 0.05), Mid: infer.Quantile(values, 0.5), Hi: infer.Quantile(values, 0.95)}
}

// median of the values; it sorts a copy. NaN without values.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	c := slices.Clone(values)
	slices.Sort(c)
	return infer.Quantile(c, 0.5)
}

// resolutionK is the step the readings are rounded to: the smallest difference between neighbours that is not rounding of the
// numbers themselves, if most differences are multiples of it; else zero.
func resolutionK(tK []float64) float64 {
	step := math.Inf(1)
	for i := 1; i < len(tK); i++ {
		if d := math.Abs(tK[i] - tK[i-1]); d > 1e-6 && d < step {
			step = d
		}
	}
	if math.IsInf(step, 1) || step < 1e-3 {
		return 0
	}
	n, whole := 0, 0
	for i := 1; i < len(tK); i++ {
		if d := math.Abs(tK[i]-tK[i-1]) / step; d > 1e-6/step {
			n++
			if math.Abs(d-math.Round(d)) < 0.05 {
				whole++
			}
		}
	}
	if whole*20 < n*19 {
		return 0
	}
	return step
}
