package curve

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A device that waits, runs and stops, with moments between two readings; several loggers.
func TestSwitches(t *testing.T) {
	inside, all := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 2))
		onS, offS := 300+300*rng.Float64(), 2000+600*rng.Float64()
		tau, fast, share, rise := logBetween(rng, 600, 2400), logBetween(rng, 40, 200), 0.5*rng.Float64(), logBetween(rng, 15, 40)
		l := logger{everyS: []float64{2, 5, 10}[rng.IntN(3)], sdK: logBetween(rng, 0.03, 0.12), rho: 0.6 * rng.Float64(), stepK: []float64{0, 0.1}[rng.IntN(2)]}
		up := truth{tauS: tau, fastS: fast, share: share, riseK: rise}
		shape := func(tS float64) float64 { // linear: a stop is a second, negative power
			v := 0.0
			if tS > onS {
				v += up.at(tS - onS)
			}
			if tS > offS {
				v -= up.at(tS - offS)
			}
			return v
		}
		var s Samples
		e := 0.0
		for tS := 0.0; tS < offS+1200; tS += l.everyS {
			e = l.rho*e + math.Sqrt(1-l.rho*l.rho)*l.sdK*rng.NormFloat64()
			v := 295 + shape(tS) + e
			if l.stepK > 0 {
				v = math.Round(v/l.stepK) * l.stepK
			}
			s.TimeS, s.TK = append(s.TimeS, tS), append(s.TK, v)
		}
		sw, err := Switches(s)
		if err != nil {
			t.Fatal(err)
		}
		if len(sw) != 2 || !sw[0].On || sw[1].On {
			t.Errorf("seed %d: switched on at %.0f and off at %.0f s, found %+v", seed, onS, offS, sw)
			continue
		}
		for i, want := range []float64{onS, offS} {
			all++
			if sw[i].AtS.Lo <= want && want <= sw[i].AtS.Hi {
				inside++
			}
			if math.Abs(sw[i].AtS.Mid-want) > 60 {
				t.Errorf("seed %d: switch %d at %.1f s, found %+v (every %.0f s, %.2f K)", seed, i, want, sw[i].AtS, l.everyS, l.sdK)
			}
		}
	}
	t.Logf("inside the interval: %d of %d", inside, all)
	if inside < all*7/10 {
		t.Errorf("the interval of the moment holds it in %d of %d", inside, all)
	}
}

// Neither a curve that already warms at its first reading nor a still one nor a drifting room has a switch in it.
func TestNoSwitch(t *testing.T) {
	for name, c := range map[string]truth{
		"already warming":  {tauS: 900, riseK: 25, startK: 300},
		"two exponentials": {tauS: 1500, fastS: 100, share: 0.4, riseK: 25, startK: 300},
		"still":            {tauS: 900, startK: 300},
		"drift":            {tauS: 1e5, riseK: -50, startK: 300},
	} {
		s := logger{everyS: 5, sdK: 0.08, rho: 0.5, stepK: 0.1}.read(c, 3600, rand.New(rand.NewPCG(3, 3)))
		if sw, err := Switches(s); err != nil || len(sw) != 0 {
			t.Errorf("%s: %+v, %v", name, sw, err)
		}
	}
	if _, err := Switches(Samples{[]float64{1, 2}, []float64{1, 2}}); err == nil {
		t.Error("two readings have no switch, and that must be said")
	}
}
