package curve

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// bare is a clean warm-up, its room at its start temperature.
func bare(seed uint64) (Samples, Samples) {
	c := truth{tauS: 1200, riseK: 25, startK: 295}
	s := logger{everyS: 10, sdK: 0.08, rho: 0.3, stepK: 0.1}.read(c, 3600, rand.New(rand.NewPCG(seed, 7)))
	return s, Samples{[]float64{0}, []float64{295}}
}

func drops(c Cleaned, r Reason) (index []int) {
	for _, d := range c.Dropped {
		if d.Reason == r {
			index = append(index, d.Index)
		}
	}
	return index
}

func span(from, to int) (index []int) {
	for i := from; i <= to; i++ {
		index = append(index, i)
	}
	return index
}

// What is spoilt is known, because it was spoilt here: exactly that must go, for the reason it was.
func TestCleanFindsWhatWasSpoilt(t *testing.T) {
	for name, tc := range map[string]struct {
		spoil  func(s *Samples)
		reason Reason
		want   []int
		words  string
	}{
		"nothing":                {func(*Samples) {}, Spike, nil, ""},
		"no number and overload": {func(s *Samples) { s.TK[50], s.TK[51], s.TK[52] = math.NaN(), math.Inf(1), 9.99999999e37 }, Dead, span(50, 52), ""},
		"type K's top":           {func(s *Samples) { s.TK[100] = 1372 + 273.15 }, Dead, []int{100}, "open"},
		"no time":                {func(s *Samples) { s.TimeS[9] = math.NaN() }, Dead, []int{9}, "no time"},
		"one spike":              {func(s *Samples) { s.TK[80] += 6 }, Spike, []int{80}, "back"},
		"two spikes down":        {func(s *Samples) { s.TK[30] -= 4; s.TK[200] -= 9 }, Spike, []int{30, 200}, "back"},
		"spike of two":           {func(s *Samples) { s.TK[150] += 5; s.TK[151] += 5.5 }, Spike, []int{150, 151}, "back"},
		"zero as dead sign":      {func(s *Samples) { s.TK[120] = 273.15 }, Spike, []int{120}, "back"},
		"same time twice":        {func(s *Samples) { s.TimeS[60] = s.TimeS[59] }, Repeated, []int{60}, "two readings"},
		"stuck, then a jump": {func(s *Samples) {
			for i := 41; i < 90; i++ {
				s.TK[i] = s.TK[40]
			}
		}, Flat, span(41, 89), "jumped"},
		"came off": {func(s *Samples) {
			for i := 250; i < len(s.TK); i++ {
				s.TK[i] = 295 + (s.TK[i]-295)*0.03 + 20*math.Exp(-float64(i-250+1)/0.7)
			}
		}, CameOff, span(250, 360), "came off"},
		"off and on again": {func(s *Samples) {
			for i := 200; i < 260; i++ {
				s.TK[i] = 295.2 + 0.1*float64(i%2)
			}
		}, CameOff, span(200, 259), "came off"},
	} {
		s, room := bare(3)
		tc.spoil(&s)
		keep := slices.Clone(s.TK)
		c, err := Clean(s, room, CleanOptions{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := drops(c, tc.reason); !slices.Equal(got, tc.want) || len(c.Dropped) != len(tc.want) {
			t.Errorf("%s: dropped %v as %s (of %d), want %v", name, got, tc.reason, len(c.Dropped), tc.want)
		}
		for _, d := range c.Dropped {
			if !strings.Contains(d.Why, tc.words) || d.Why == "" {
				t.Errorf("%s: the reason reads %q", name, d.Why)
			}
		}
		if !slices.EqualFunc(s.TK, keep, func(a, b float64) bool { return a == b || a != a && b != b }) {
			t.Errorf("%s: the readings given were changed", name)
		}
	}
}

// What the thing does itself must stay: a quick start, a stop that cools, a long steady end read in tenths, a switch-on after waiting.
func TestCleanLeavesTheThingAlone(t *testing.T) {
	at := func(everyS, endS float64, f func(tS float64) float64) (s Samples) {
		rng := rand.New(rand.NewPCG(5, 5))
		for tS := 0.0; tS <= endS; tS += everyS {
			s.TimeS, s.TK = append(s.TimeS, tS), append(s.TK, math.Round(10*(f(tS)+0.03*rng.NormFloat64()))/10)
		}
		return s
	}
	for name, s := range map[string]Samples{
		"quick start":    at(10, 3000, func(t float64) float64 { return 295 + 12*(1-math.Exp(-t/40)) + 15*(1-math.Exp(-t/900)) }),
		"steady for 5 h": at(10, 18000, func(t float64) float64 { return 295 + 25*(1-math.Exp(-t/900)) }),
		"waits, runs, stops": at(5, 4800, func(t float64) float64 {
			top := 295 + 30*(1-math.Exp(-1800.0/1000))
			switch {
			case t < 600:
				return 295
			case t < 2400:
				return 295 + 30*(1-math.Exp(-(t-600)/1000))
			}
			return 295 + (top-295)*(0.3*math.Exp(-(t-2400)/60)+0.7*math.Exp(-(t-2400)/1000))
		}),
	} {
		c, err := Clean(s, Samples{}, CleanOptions{})
		if err != nil || len(c.Dropped) > 0 || len(c.Notes) > 0 {
			n := min(3, len(c.Dropped))
			t.Errorf("%s: %v, %d dropped such as %+v, notes %+v", name, err, len(c.Dropped), c.Dropped[:n], c.Notes)
		}
	}
}

func TestClock(t *testing.T) {
	whole, room := bare(4)
	// A gap: 40 readings were never written.
	gap := Samples{append(slices.Clone(whole.TimeS[:100]), whole.TimeS[140:]...), append(slices.Clone(whole.TK[:100]), whole.TK[140:]...)}
	c, err := Clean(gap, room, CleanOptions{})
	if err != nil || len(c.Notes) != 1 || !c.Notes[0].Gap || c.Notes[0].ByS != 410 || len(c.Dropped) != 0 || !slices.Equal(c.TimeS, gap.TimeS) {
		t.Errorf("gap: %+v, %d dropped, %v", c.Notes, len(c.Dropped), err)
	}
	// The clock was set during the run, on by 874 s and in another run back by an hour: the curve goes on as if nothing had been.
	for _, byS := range []float64{874, -3600} {
		set := Samples{slices.Clone(whole.TimeS), whole.TK}
		for i := 60; i < len(set.TimeS); i++ {
			set.TimeS[i] += byS
		}
		c, err := Clean(set, room, CleanOptions{})
		if err != nil || len(c.Notes) != 1 || c.Notes[0].Gap || c.Notes[0].ByS != byS || len(c.Dropped) != 0 || !slices.Equal(c.TimeS, whole.TimeS) {
			t.Errorf("set by %.0f s: %+v, %d dropped, %v", byS, c.Notes, len(c.Dropped), err)
		}
	}
}

// Whatever comes in, every reading is either kept, in order and unchanged, or dropped once with a reason; times kept increase.
func TestCleanAccountsForEveryReading(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 120).Draw(rt, "n")
		seed := rapid.Uint64().Draw(rt, "seed")
		rng := rand.New(rand.NewPCG(seed, 1))
		s := Samples{make([]float64, n), make([]float64, n)}
		for i := range n {
			s.TimeS[i] = float64(i) * 10
			s.TK[i] = 295 + 20*(1-math.Exp(-float64(i)/40))
			switch rng.IntN(12) {
			case 0:
				s.TK[i] = []float64{math.NaN(), math.Inf(-1), 273.15, 1e38, 0, 400}[rng.IntN(6)]
			case 1:
				s.TimeS[i] = []float64{math.NaN(), 0, -1e6, 1e9, s.TimeS[max(0, i-1)]}[rng.IntN(5)]
			case 2:
				s.TK[i] = s.TK[max(0, i-1)]
			}
		}
		c, err := Clean(s, Samples{}, CleanOptions{})
		if err != nil {
			rt.Fatal(err)
		}
		seen := make([]int, n)
		for k, i := range c.Index {
			seen[i]++
			if c.TK[k] != s.TK[i] {
				rt.Fatalf("reading %d was changed", i)
			}
		}
		for _, d := range c.Dropped {
			seen[d.Index]++
			if d.Why == "" {
				rt.Fatalf("reading %d has no reason", d.Index)
			}
		}
		for i, k := range seen {
			if k != 1 {
				rt.Fatalf("reading %d is accounted for %d times", i, k)
			}
		}
		if err := c.check("probe"); err != nil {
			rt.Fatal(err)
		}
	})
}

// A room that reads the same for minutes before the switch-on, and a plateau that reads the same before the stop, are no stuck probe,
// also where a rounding logger sees the first step larger than its unrest: the readings go on as they began.
func TestFlatBeforeASwitchStays(t *testing.T) {
	var s Samples
	for i := range 220 {
		at := float64(i) * 10
		on := func(from float64) float64 { return 1 - math.Exp(-math.Max(0, at-from)/100) }
		s.TimeS = append(s.TimeS, at)
		s.TK = append(s.TK, 273.15+math.Round(10*(22+40*(on(300)-on(1500))))/10)
	}
	c, err := Clean(s, Samples{}, CleanOptions{})
	if err != nil || len(c.Dropped) > 0 {
		t.Errorf("%v, dropped %v", err, c.Dropped)
	}
	// The same curve stuck for 200 s in its rise catches up at once, and that is dropped.
	for i := 36; i < 56; i++ {
		s.TK[i] = s.TK[36]
	}
	if c, err = Clean(s, Samples{}, CleanOptions{}); err != nil || len(c.Dropped) != 19 || c.Dropped[0].Reason != Flat || c.Dropped[0].Index != 37 {
		t.Errorf("%v, dropped %v", err, c.Dropped)
	}
}

// Where only a stretch with the switch-on in it moves enough to judge by, it says nothing of how the curve comes to rest: a quick rise on a
// logger that shows whole kelvins.
func TestSwitchOnIsNoSlowingDown(t *testing.T) {
	var s Samples
	for i := range 105 {
		on := math.Max(0, float64(i)-30)
		s.TimeS = append(s.TimeS, float64(i))
		s.TK = append(s.TK, 273.15+math.Round(22+20.3125*(1-0.7*math.Exp(-on/12.5)-0.3*math.Exp(-on/1.25))))
	}
	if c, err := Clean(s, Samples{}, CleanOptions{}); err != nil || len(c.Dropped) > 0 {
		t.Errorf("%v, dropped %v", err, c.Dropped)
	}
}

// A device that warms, is dimmed, stops or runs a fan now and then, by one or two exponentials of which the quick one is no quicker
// than the logger, is never taken for a stuck probe, however coarsely it is rounded.
func TestNoFlatLineInADevicesCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stepS := rapid.SampledFrom([]float64{1, 5, 10, 30, 60}).Draw(t, "step")
		roundK := rapid.SampledFrom([]float64{0.01, 0.1, 0.25, 0.5, 1}).Draw(t, "rounded to")
		tauS := stepS * rapid.Float64Range(10, 100).Draw(t, "time constant in steps")
		riseK := rapid.Float64Range(5, 60).Draw(t, "rise")
		noiseK := rapid.SampledFrom([]float64{0, 0.05, 0.2}).Draw(t, "noise")
		onS := rapid.SampledFrom([]float64{0, 30 * stepS, 100 * stepS}).Draw(t, "on at")
		power := rapid.SampledFrom([]func(s float64) float64{
			func(float64) float64 { return 1 },
			func(s float64) float64 { return map[bool]float64{true: 1}[s < 3*tauS] },
			func(s float64) float64 { return map[bool]float64{true: 1, false: 0.4}[math.Mod(s, 2*tauS) < 1.5*tauS] },
			func(s float64) float64 { return 1 - 0.3*math.Min(2, math.Floor(s/(2*tauS))) },
		}).Draw(t, "power")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
		var s Samples
		slow, quick := 0.0, 0.0
		for i := range int(onS/stepS + 6*tauS/stepS) {
			at := float64(i) * stepS
			s.TimeS = append(s.TimeS, at)
			s.TK = append(s.TK, 273.15+math.Round((22+slow+quick+noiseK*rng.NormFloat64())/roundK)*roundK)
			p := 0.0
			if at >= onS {
				p = power(at - onS)
			}
			slow += (0.7*riseK*p - slow) * (1 - math.Exp(-stepS/tauS))
			quick += (0.3*riseK*p - quick) * (1 - math.Exp(-stepS/(tauS/10)))
		}
		c, err := Clean(s, Samples{}, CleanOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range c.Dropped {
			if d.Reason == Flat {
				t.Fatalf("%d readings, the first at %g s: %s", len(c.Dropped), d.TimeS, d.Why)
			}
		}
	})
}
