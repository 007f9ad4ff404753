package learn

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"finwright/internal/infer"
	"finwright/internal/unit"
)

// surprising is how far off, in standard deviations, an observation is told of.
const surprising = 2.5

// contradicting is the probability below which all observations together are told to be further off than their errors allow.
const contradicting = 0.01

// surprises say which observations do not fit, by how much, and what could explain it.
func (s *study) surprises(fit *infer.Result, fits []Fit) []string {
	var out []string
	at := 0
	cost := 2 * fit.Cost
	for i := range s.runs {
		o := &s.runs[i]
		n := o.residuals()
		for k, one := range o.oneSided() {
			if one { // satisfied, it costs something, too
				cost += fits[k].Score*fits[k].Score - fit.R[at+k]*fit.R[at+k]
			}
		}
		told := o.told()
		spots := fits[:told]
		spots = spots[told-len(o.spots):]
		worst := map[string]int{} // of a log's channel, one reading is told of
		for k := range spots {
			if p := o.spots[k].probe; p != "" {
				if w, ok := worst[p]; !ok || math.Abs(spots[k].Score) > math.Abs(spots[w].Score) {
					worst[p] = k
				}
			}
		}
		for k, f := range fits[:told] {
			if !(math.Abs(f.Score) > surprising) {
				continue
			}
			spot := k - (told - len(o.spots))
			if spot >= 0 && o.spots[spot].probe != "" && worst[o.spots[spot].probe] != spot {
				continue
			}
			by := fmt.Sprintf("%.1f standard deviations", math.Abs(f.Score))
			if spot >= 0 {
				by = fmt.Sprintf("%s, %s", unit.Format(math.Abs(f.ApartK), unit.TemperatureDiff), by)
			}
			out = append(out, fmt.Sprintf("Surprise: in %s, %s was seen for %q but the model gives %s (%s off). %s", f.Run, f.Observed, f.What, f.Modelled, by, s.explain(fit, o, at, k, f.ApartK)))
		}
		if o.errors != nil {
			d := make([]float64, len(spots))
			for k := range spots {
				d[k] = spots[k].ApartK
			}
			for _, p := range o.errors.probeErrors(o.spots, d) {
				if math.Abs(p.offsetK) > 1.5*p.offsetSD || math.Abs(p.loss) > 2*p.sd {
					out = append(out, fmt.Sprintf("In %s, the probe %s seems to read %s throughout and to miss %.0f %% of the rise (expected: within ± %s and ± %.0f %%): check how it is fixed, and what it reads in still air before switching on.",
						o.name, p.probe, signedK(p.offsetK), 100*p.loss, unit.Format(2*p.offsetSD, unit.TemperatureDiff), 200*p.sd))
				}
			}
		}
		fits = fits[told:]
		at += n
	}
	// at the mode of a linear model twice the cost follows χ² with as many degrees of freedom as observations
	m := 0
	flat := s.flats()
	one := map[int]bool{}
	for _, i := range s.oneSided {
		one[i] = true
	}
	for i, r := range fit.R {
		switch {
		case flat[i]:
			cost -= r * r
		case !one[i]:
			m++
		}
	}
	if m > 0 && (distuv.ChiSquared{K: float64(m)}).Survival(cost) < contradicting {
		out = append(out, fmt.Sprintf("Taken together, the %d figures seen are further off than their stated errors allow (χ² %.0f): one of them, or the description, is not what it seems, and the intervals are narrower than they should be. Leave one run out at a time to see which.", m, cost))
	}
	return out
}

func signedK(k float64) string {
	if k < 0 {
		return unit.Format(-k, unit.TemperatureDiff) + " low"
	}
	return unit.Format(k, unit.TemperatureDiff) + " high"
}

// explain names what would have to be different for observation k of a run, whose residuals begin at row at, to fit by itself: the unknown
// that had to move least, in its own spread. apartK is what a temperature is off by.
func (s *study) explain(fit *infer.Result, o *observed, at, k int, apartK float64) string {
	check := "Check that figure, or what is missing in the description."
	if fit.J == nil {
		return check
	}
	off, effect := fit.R[at+k], func(unknown int) float64 { return fit.J.At(at+k, unknown) }
	if first := o.told() - len(o.spots); k >= first {
		// back from independent combinations of readings to this one: L J
		off, effect = apartK, func(unknown int) float64 {
			sum := 0.0
			for i := first; i <= k; i++ {
				sum += o.errors.l.At(k-first, i-first) * fit.J.At(at+i, unknown)
			}
			return sum
		}
	}
	best, bestZ := -1, math.Inf(1)
	for u := range s.unknowns {
		j := effect(u)
		if math.Abs(j) < 1e-3 {
			continue
		}
		if z := fit.Z[u] - off/j; math.Abs(z) < math.Abs(bestZ) {
			best, bestZ = u, z
		}
	}
	if best < 0 || math.Abs(bestZ) > 6 {
		return check + " No figure in doubt could explain it within reason."
	}
	u := s.unknowns[best]
	where := "within what the file allows, but what else was seen speaks against it"
	if math.Abs(bestZ) > z90 {
		where = fmt.Sprintf("beyond the %s to %s of the file", unit.Format(u.Prior.At(-z90), u.Dim), unit.Format(u.Prior.At(z90), u.Dim))
	}
	return fmt.Sprintf("It would fit with %s near %s: %s. %s", u.About, unit.Format(u.Prior.At(bestZ), u.Dim), where, check)
}

// told is how many of a run's residuals are told as fits: all but those of flat curves.
func (o *observed) told() int { return o.residuals() - o.flat() }

// flat is how many residuals at the end of a run's tell how flat the curve is at a stop or step.
func (o *observed) flat() int {
	n := 0
	if o.spec.DimsAfter.Given() {
		n++
	}
	if o.spec.StopsAfter.Given() {
		n++
	}
	return n
}

// flats are the residuals that tell how flat a curve is.
func (s *study) flats() []bool {
	out := make([]bool, s.size)
	at := 0
	for i := range s.runs {
		at += s.runs[i].residuals()
		for k := 1; k <= s.runs[i].flat(); k++ {
			out[at-k] = true
		}
	}
	return out
}
