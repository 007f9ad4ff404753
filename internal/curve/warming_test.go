package curve

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// truth is a synthetic curve with known answers.
type truth struct {
	tauS, fastS, share, riseK, startK float64
	biasK                             float64
}

func (c truth) at(tS float64) float64 {
	left := (1 - c.share) * math.Exp(-tS/c.tauS)
	if c.share != 0 {
		left += c.share * math.Exp(-tS/c.fastS)
	}
	return c.startK + c.riseK*(1-left)
}

// logger is the way it is read: AR(1) errors of standard deviation sdK and likeness rho of neighbours, rounded to stepK.
type logger struct {
	everyS, sdK, rho, stepK float64
}

func (l logger) read(c truth, seenS float64, rng *rand.Rand) Samples {
	var s Samples
	e := l.sdK * rng.NormFloat64()
	for t := 0.0; t <= seenS; t += l.everyS {
		v := c.at(t) + e + c.biasK
		if l.stepK > 0 {
			v = math.Round(v/l.stepK) * l.stepK
		}
		s.TimeS, s.TK = append(s.TimeS, t), append(s.TK, v)
		e = l.rho*e + math.Sqrt(1-l.rho*l.rho)*l.sdK*rng.NormFloat64()
	}
	return s
}

func logBetween(rng *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(rng.Float64()*math.Log(hi/lo))
}

// bench makes one bench test: half of them with two exponentials, time constants over the whole range of
// hand-sized things (4 to 100 min), a cheap logger, the curve cut
// after seen time constants.
func bench(rng *rand.Rand, seen float64) (truth, logger, Series) {
	c := truth{tauS: logBetween(rng, 240, 6000), riseK: logBetween(rng, 10, 45), startK: 293 + 8*rng.Float64(), biasK: probeK / z90 * rng.NormFloat64()}
	if rng.IntN(2) == 0 {
		c.fastS = c.tauS * logBetween(rng, 0.02, 0.4)
		c.share = 0.05 + 0.6*rng.Float64()
	}
	l := logger{everyS: []float64{1, 2, 5, 10, 30}[rng.IntN(5)], sdK: logBetween(rng, 0.05, 0.3), rho: 0.95 * rng.Float64(), stepK: []float64{0, 0.0625, 0.1, 0.25}[rng.IntN(4)]}
	return c, l, Series{Samples: l.read(c, seen*c.tauS, rng)}
}

// probeK is the half width (90 %) of the probe's constant error, known from its class.
const probeK = 1.0

type tally struct{ in, refused, below, above int }

func (t *tally) add(e Estimate, truth float64) {
	switch {
	case !e.Given():
		t.refused++
	case truth < e.Lo:
		t.below++
	case truth > e.Hi:
		t.above++
	default:
		t.in++
	}
}

func (t tally) given() int { return t.in + t.below + t.above }

// share is the coverage among what was given.
func (t tally) share() float64 { return float64(t.in) / float64(t.given()) }

// check says whether the coverage is 86 to 94 %, give or take what chance does to so few (2.6 standard deviations of a binomial share
// of 90 %; nothing for 400 and more, where the band itself is 3 of them).
func (t tally) check(tt *testing.T, name string) {
	tt.Helper()
	slack := 0.0
	if t.given() < 400 {
		slack = 2.6 * math.Sqrt(0.9*0.1/float64(t.given()))
	}
	tt.Logf("%-28s in %3d of %3d given = %.1f %%, truth below %d, above %d; refused %d", name, t.in, t.given(), 100*t.share(), t.below, t.above, t.refused)
	if t.share() < 0.86-slack || t.share() > 0.94+slack {
		tt.Errorf("%s: the 90 %% interval holds the truth in %.1f %% of %d", name, 100*t.share(), t.given())
	}
}

var (
	benches = flag.Int("benches", 120, "number of synthetic bench tests in TestCoverage; 500 for the full measure")
	seed    = flag.Uint64("seed", 3, "of TestCoverage")
)

// The answers are known because the curves are made here: half with one and half with two exponentials, AR(1) errors, rounding, a
// probe with a constant error, cut at half to four time constants. Refusals are counted apart: they must not hide the hard cases.
//
//	go test ./internal/curve -run TestCoverage -v -benches 500
func TestCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(*seed, 5))
	cuts := []float64{0.5, 1, 2, 4}
	tau, steady := make([]tally, len(cuts)), make([]tally, len(cuts))
	var allTau, allSteady tally
	right := 0
	for i := range *benches {
		cut := i % len(cuts)
		c, l, s := bench(rng, cuts[cut])
		f, err := Warming(s, WarmingOptions{ProbeErrorK: probeK, Seed: uint64(i)})
		if err != nil { // a slow logger and a short run: too few readings, or nothing seen in them
			t.Logf("bench %d, %d readings every %g s with %.2f K: %v", i, s.Len(), l.everyS, l.sdK, err)
			f = &Fit{TauS: refused("%v", err), SteadyK: refused("%v", err)}
		}
		if (f.Exponentials == 2) == (c.share != 0) {
			right++
		}
		for _, ta := range []*tally{&tau[cut], &allTau} {
			ta.add(f.TauS, c.tauS)
		}
		for _, ta := range []*tally{&steady[cut], &allSteady} {
			ta.add(f.SteadyK, c.startK+c.riseK)
		}
	}
	for i, c := range cuts {
		t.Logf("cut at %.1f time constants:", c)
		tau[i].check(t, "  time constant")
		steady[i].check(t, "  steady temperature")
	}
	allTau.check(t, "time constant")
	allSteady.check(t, "steady temperature")
	t.Logf("number of exponentials as made in %d of %d", right, *benches)
	if right*100 < 80**benches {
		t.Errorf("one or two exponentials: right in %d of %d only", right, *benches)
	}
	if r := tau[0].refused; r*2 > *benches/len(cuts) {
		t.Errorf("refused %d of %d curves cut at half a time constant", r, *benches/len(cuts))
	}
	if r := tau[2].refused + tau[3].refused; r*10 > *benches/2 {
		t.Errorf("refused %d of the curves cut at two and four time constants", r)
	}
}

// Newton cooling T = 20 + 40 exp(-t/600), °C; the log fit of its table returns τ = 600 s and T0 = 60 °C.
func TestNewtonCooling(t *testing.T) {
	printed := Samples{[]float64{0, 300, 600, 900, 1200, 1500, 1800}, []float64{60, 44.2612, 34.7152, 28.9252, 25.4134, 23.2834, 21.9915}}
	c := truth{tauS: 600, riseK: -40, startK: 60}
	for i, tS := range printed.TimeS {
		if math.Abs(c.at(tS)-printed.TK[i]) > 5e-5 {
			t.Fatalf("the synthetic curve is %.5f at %g s, printed %.4f", c.at(tS), tS, printed.TK[i])
		}
	}
	c.startK += 273.15
	s := Series{Samples: logger{everyS: 10, sdK: 0.02}.read(c, 1800, rand.New(rand.NewPCG(2, 2)))}
	f, err := Warming(s, WarmingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	start := f.At(0)
	if f.Exponentials != 1 || !holds(f.TauS, 600, 3) || !holds(f.SteadyK, 293.15, 0.1) || !holds(start, 333.15, 0.1) {
		t.Errorf("%d exponentials, τ %+v, steady %+v, start %+v", f.Exponentials, f.TauS, f.SteadyK, start)
	}
}

// holds says whether the interval contains the truth (widened by half, this is one draw) and is no wider than ± halfWidth.
func holds(e Estimate, truth, halfWidth float64) bool {
	w := (e.Hi - e.Lo) / 4
	return e.Given() && truth >= e.Lo-w && truth <= e.Hi+w && e.Hi-e.Lo <= 2*halfWidth
}

func TestTwoExponentialsAreSeen(t *testing.T) {
	c := truth{tauS: 1500, fastS: 120, share: 0.35, riseK: 30, startK: 295}
	s := Series{Samples: logger{everyS: 5, sdK: 0.1, rho: 0.6, stepK: 0.1}.read(c, 3600, rand.New(rand.NewPCG(4, 4)))}
	f, err := Warming(s, WarmingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if f.Exponentials != 2 || f.Probability < 0.99 || !holds(f.TauS, 1500, 150) || !holds(f.FastTauS, 120, 30) || !holds(f.SteadyK, 325, 1) {
		t.Errorf("%d exponentials (%.3f), τ %+v and %+v, steady %+v", f.Exponentials, f.Probability, f.TauS, f.FastTauS, f.SteadyK)
	}
	// Readings' own spread: 0.1 K wandering and 0.1 K/√12 of rounding, averaged over BlockReadings of them.
	if f.NoiseK < 0.03 || f.NoiseK > 0.15 || math.Abs(f.StepK-0.1) > 1e-9 {
		t.Errorf("spread %.3f K, step %.3f K", f.NoiseK, f.StepK)
	}
	want := 1 - 0.65*math.Exp(-3600.0/1500)
	if !holds(f.SeenShare, want, 0.03) {
		t.Errorf("share seen %+v, is %.3f", f.SeenShare, want)
	}
}

// The same device in a room that falls by 2.5 K: with the room's own readings the rise is right, and the room is felt with the device's lag.
func TestRoomDrift(t *testing.T) {
	const tauS, riseK = 1800.0, 20.0
	rng := rand.New(rand.NewPCG(8, 1))
	var s Series
	z := 299.0 // the room as the device feels it, by small steps: independent of the closed form under test
	room := func(tS float64) float64 { return 299 - 2.5*math.Min(1, tS/5400) }
	for tS := 0.0; tS <= 7200; tS++ {
		if int(tS)%20 == 0 {
			s.TimeS = append(s.TimeS, tS)
			s.TK = append(s.TK, z+riseK*(1-math.Exp(-tS/tauS))+0.05*rng.NormFloat64())
		}
		if int(tS)%600 == 0 {
			s.Room.TimeS, s.Room.TK = append(s.Room.TimeS, tS), append(s.Room.TK, room(tS))
		}
		z += (room(tS+0.5) - z) / tauS
	}
	f, err := Warming(s, WarmingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if !holds(f.RiseK, riseK, 0.5) || !holds(f.TauS, tauS, 100) || f.RoomK != 296.5 {
		t.Errorf("rise %+v, τ %+v, room %.2f", f.RiseK, f.TauS, f.RoomK)
	}
	blind, err := Warming(Series{Samples: s.Samples}, WarmingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if blind.RiseK.Given() {
		t.Errorf("a rise without a room: %+v", blind.RiseK)
	}
	if holds(blind.TauS, tauS, 100) {
		t.Errorf("the drift makes no difference to τ: %+v; the test shows nothing", blind.TauS)
	}
}

// A tenth of a time constant is a straight line to this logger: no steady temperature, and said so.
func TestStraightLineIsRefused(t *testing.T) {
	c := truth{tauS: 3000, riseK: 20, startK: 295}
	s := Series{Samples: logger{everyS: 5, sdK: 0.15, rho: 0.5, stepK: 0.1}.read(c, 300, rand.New(rand.NewPCG(1, 9)))}
	f, err := Warming(s, WarmingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if f.TauS.Given() || f.SteadyK.Given() || !strings.Contains(f.SteadyK.Refused, "Run it longer") {
		t.Errorf("τ %+v, steady %+v", f.TauS, f.SteadyK)
	}
	if e := f.At(150); !holds(e, c.at(150), 0.5) {
		t.Errorf("inside what was seen: %+v, is %.2f", e, c.at(150))
	}
	if e := f.At(3000); e.Given() {
		t.Errorf("a forecast all the same: %+v", e)
	}
}

func TestBadSeriesIsSaid(t *testing.T) {
	good := logger{everyS: 10, sdK: 0.1}.read(truth{tauS: 600, riseK: 20, startK: 295}, 1200, rand.New(rand.NewPCG(1, 1)))
	still := logger{everyS: 10, sdK: 0.1}.read(truth{tauS: 600, riseK: 0, startK: 295}, 1200, rand.New(rand.NewPCG(1, 1)))
	for name, tc := range map[string]struct {
		s    Series
		opt  WarmingOptions
		want string
	}{
		"empty":           {Series{}, WarmingOptions{}, "only 0 readings"},
		"too few":         {Series{Samples: good}, WarmingOptions{FromS: 1150}, "at least 8"},
		"lengths":         {Series{Samples: Samples{good.TimeS, good.TK[1:]}}, WarmingOptions{}, "temperatures"},
		"not a number":    {Series{Samples: Samples{[]float64{0, 1}, []float64{1, math.NaN()}}}, WarmingOptions{}, "clean"},
		"time stands":     {Series{Samples: Samples{[]float64{0, 0}, []float64{1, 1}}}, WarmingOptions{}, "not after"},
		"room":            {Series{Samples: good, Room: Samples{[]float64{math.Inf(1)}, []float64{1}}}, WarmingOptions{}, "room"},
		"error":           {Series{Samples: good}, WarmingOptions{ProbeErrorK: math.NaN()}, "probe error"},
		"nothing happens": {Series{Samples: still}, WarmingOptions{}, "no warming"},
		"every one alike": {Series{Samples: Samples{good.TimeS, slices.Repeat([]float64{300}, good.Len())}}, WarmingOptions{}, "no warming"},
	} {
		if f, err := Warming(tc.s, tc.opt); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, %v", name, f, err)
		}
	}
}

// The filter's innovations are independent: whitened AR(1) plus white errors, made the slow way, have unit variance and no likeness.
func TestWhitener(t *testing.T) {
	k := noise{0.8, 0.3}
	const n = 20000
	rng := rand.New(rand.NewPCG(6, 6))
	times, e := make([]float64, n), make([]float64, n)
	x := rng.NormFloat64()
	for i := range e {
		times[i] = float64(i) * 7
		e[i] = math.Sqrt(0.7)*x + math.Sqrt(0.3)*rng.NormFloat64()
		x = 0.8*x + 0.6*rng.NormFloat64()
	}
	w := newWhitener(times, 7, k)
	w.apply(e, e)
	var xx, x1, x2 float64
	for i := range e {
		xx += e[i] * e[i] / n
		if i > 1 {
			x1 += e[i] * e[i-1] / n
			x2 += e[i] * e[i-2] / n
		}
	}
	if math.Abs(xx-1) > 0.03 || math.Abs(x1) > 0.02 || math.Abs(x2) > 0.02 { // 3 σ: √(2/n)·3 and 3/√n
		t.Errorf("variance %.3f, likeness %.3f and %.3f", xx, x1, x2)
	}
	// The determinant, against the dense matrix of three unevenly spaced readings.
	at := []float64{0, 7, 21}
	v := func(i, j int) float64 {
		if i == j {
			return 1
		}
		return 0.7 * math.Pow(0.8, math.Abs(at[i]-at[j])/7)
	}
	a, b, c := v(0, 1), v(0, 2), v(1, 2)
	want := 1 + 2*a*b*c - a*a - b*b - c*c
	if got := math.Exp(2 * newWhitener(at, 7, k).halfLogDet); math.Abs(got-want) > 1e-12 {
		t.Errorf("determinant %.15f, want %.15f", got, want)
	}
}

func TestBlocksKeepTheDecay(t *testing.T) {
	var s Samples
	for i := range 2000 {
		s.TimeS, s.TK = append(s.TimeS, float64(i)), append(s.TK, 300+20*math.Exp(-float64(i)/30))
	}
	b := newBlocks(s)
	if len(b.t) > maxBlocks || b.per < 2 {
		t.Fatalf("%d blocks of %d", len(b.t), b.per)
	}
	got := make([]float64, len(b.t))
	b.decay(0, 30, got)
	for i := range got {
		if math.Abs(300+20*got[i]-b.y[i]) > 1e-9 {
			t.Fatalf("block %d: mean %.9f, by the formula %.9f", i, b.y[i], 300+20*got[i])
		}
	}
}

func BenchmarkWarming(b *testing.B) {
	_, _, s := bench(rand.New(rand.NewPCG(1, 1)), 1)
	for b.Loop() {
		if _, err := Warming(s, WarmingOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
