package forecast

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"finwright/internal/session"
)

// line is a device whose readings and end are linear in the scores: the posterior is closed.
type line struct {
	slope []float64 // K per s and score
	end   []float64 // s per score
}

const (
	lineStartK, lineKS, lineEndS = 293.15, 0.01, 4800.0
)

func (l *line) Unknowns() int { return len(l.slope) }

func (l *line) Run(_ context.Context, z []float64) (*Run, error) {
	ks, end := lineKS, lineEndS
	for i := range z {
		ks += l.slope[i] * z[i]
		end += l.end[i] * z[i]
	}
	r := &Run{Own: session.End{Kind: session.BatteryEmpty, AtS: end}, FullS: end, ReadK: make([][]float64, 1)}
	for _, t := range []float64{0, 10_000} {
		r.TimeS, r.ReadK[0] = append(r.TimeS, t), append(r.ReadK[0], lineStartK+ks*t)
	}
	return r, nil
}

// straight are noiseless readings of a line of slope ks with offset.
func straight(ks, offsetK, toS float64) Readings {
	var r Readings
	for t := 0.0; t <= toS; t += 10 {
		r.TimeS, r.TK = append(r.TimeS, t), append(r.TK, lineStartK+ks*t+offsetK)
	}
	return r
}

// Bayesian linear regression in closed form (Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, eq. 14.21 with a prior, written as
// generalised least squares): with readings y = H z + e, e ~ N(0, C), z ~ N(0, I), the end c'z has mean c'(H'C⁻¹H + I)⁻¹H'C⁻¹y and
// variance c'(H'C⁻¹H + I)⁻¹c. The covariance C is written down here a second time.
func TestLinearCaseIsExact(t *testing.T) {
	for _, tc := range []struct {
		name       string
		dev        *line
		ks, offset float64
		nowS       float64
	}{
		{"nothing read", &line{[]float64{1e-3, 5e-4}, []float64{300, -200}}, lineKS, 0, 0},
		{"weak reading", &line{[]float64{1e-3, 5e-4}, []float64{300, -200}}, lineKS + 1e-3, 0.5, 300},
		{"strong reading, few draws agree", &line{[]float64{3e-3, 1e-3, 2e-3, -1e-3}, []float64{500, 100, -200, 50}}, lineKS + 8e-3, -1, 1500},
	} {
		p := Probe{Name: "T1"}.withDefaults()
		f, err := New(context.Background(), tc.dev, []Probe{p}, Options{Draws: 3000, Seed: 11})
		if err != nil {
			t.Fatal(err)
		}
		var r Readings
		if tc.nowS > 0 {
			r = straight(tc.ks, tc.offset, tc.nowS)
		}
		s, err := f.Update(context.Background(), []Readings{r}, tc.nowS)
		if err != nil {
			t.Fatalf("%s: %v", tc.name, err)
		}
		mean, sd := closed(t, tc.dev, p, r, tc.nowS)
		// Monte Carlo error of 3000 draws worth at least a quarter: sd/√750 = 0.037 sd for the middle, twice that for the 5 % points
		// (Cox & Hinkley, Theoretical Statistics, 1974, appendix 2: √(q(1-q))/φ); three of these
		for q, got := range map[float64]float64{0.05: s.EndS.Lo, 0.5: s.EndS.Mid, 0.95: s.EndS.Hi} {
			z := distuv.UnitNormal.Quantile(q)
			se := sd * math.Sqrt(q*(1-q)) / distuv.UnitNormal.Prob(z) / math.Sqrt(s.Effective)
			if want := mean + z*sd; math.Abs(got-want) > 3.5*se {
				t.Errorf("%s: %g point %.1f s, closed form %.1f ± %.1f (effective %.0f)", tc.name, q, got, want, se, s.Effective)
			}
		}
		if s.Effective < fewest*3000 {
			t.Errorf("%s: draws worth %.0f only", tc.name, s.Effective)
		}
	}
}

// closed is the closed form of the end's mean and standard deviation.
func closed(t *testing.T, dev *line, p Probe, r Readings, nowS float64) (mean, sd float64) {
	t.Helper()
	n := len(dev.slope)
	precision := mat.NewSymDense(n, nil)
	for i := 0; i < n; i++ {
		precision.SetSym(i, i, 1)
	}
	right := mat.NewVecDense(n, nil)
	if nowS > 0 {
		// the means of equal spans of noiseless straight readings lie on the line, at the means of their times
		var at, count []float64
		last := -1
		for _, s := range r.TimeS {
			b := min(int(s/nowS*bins), bins-1)
			if b != last {
				at, count, last = append(at, 0), append(count, 0), b
			}
			k := len(at) - 1
			at[k] += s
			count[k]++
		}
		m := len(at)
		for k := range at {
			at[k] /= count[k]
		}
		// late by a half-normal lag: its mean shifts what the model would read, its variance is (1 - 2/π) of its mean square
		late := math.Sqrt(2/math.Pi) * p.LagS
		ks := (r.TK[1] - r.TK[0]) / 10
		c := mat.NewSymDense(m, nil)
		for i := range at {
			for k := i; k < m; k++ {
				rise := ks * ks * (at[i] - at[0]) * (at[k] - at[0])
				d := math.Sqrt(3) * (at[k] - at[i]) / 900
				v := p.OffsetK*p.OffsetK + p.GainFrac*p.GainFrac*rise + (1-2/math.Pi)*p.LagS*p.LagS*ks*ks + (0.02*0.02*rise+0.09)*(1+d)*math.Exp(-d)
				if i == k {
					noise := math.Max(p.NoiseK, (r.TK[1]-r.TK[0])/math.Sqrt(12)) // a straight line looks like the rounding of a coarse logger
					v += noise * noise / math.Max(1, count[i]/4)
				}
				c.SetSym(i, k, v)
			}
		}
		h := mat.NewDense(m, n, nil)
		y := mat.NewVecDense(m, nil)
		for i := range at {
			y.SetVec(i, r.TK[0]+ks*at[i]-(lineStartK+lineKS*(at[i]-late)))
			for k := range dev.slope {
				h.Set(i, k, dev.slope[k]*(at[i]-late))
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(c) {
			t.Fatal("covariance")
		}
		var ch, hch mat.Dense
		var cy mat.VecDense
		if err := firstError(chol.SolveTo(&ch, h), chol.SolveVecTo(&cy, y)); err != nil {
			t.Fatal(err)
		}
		hch.Mul(h.T(), &ch)
		for i := 0; i < n; i++ {
			for k := i; k < n; k++ {
				precision.SetSym(i, k, precision.At(i, k)+hch.At(i, k))
			}
		}
		right.MulVec(h.T(), &cy)
	}
	var chol mat.Cholesky
	if !chol.Factorize(precision) {
		t.Fatal("precision")
	}
	c := mat.NewVecDense(n, dev.end)
	var z, cc mat.VecDense
	if err := firstError(chol.SolveVecTo(&z, right), chol.SolveVecTo(&cc, c)); err != nil {
		t.Fatal(err)
	}
	return lineEndS + mat.Dot(c, &z), math.Sqrt(mat.Dot(c, &cc))
}

func firstError(errs ...error) error { return errors.Join(errs...) }

// lump is one body on a film: T = T0 + P R (1 - exp(-t/RC)) (a textbook first-order system), stopped by heat or an empty battery.
type lump struct{}

func (lump) Unknowns() int { return 4 }

func (l lump) values(z []float64) (powerW, resKW, tauS, tripK, energyJ float64) {
	return 4 * math.Exp(0.2*z[0]), 12, 1500 * math.Exp(0.15*z[1]), 40 + 2*z[2], 4 * 5000 * math.Exp(0.04*z[3])
}

func (l lump) Run(_ context.Context, z []float64) (*Run, error) {
	p, r, tau, trip, energy := l.values(z)
	end := session.End{Kind: session.BatteryEmpty, AtS: energy / p}
	if p*r > trip {
		if at := -tau * math.Log(1-trip/(p*r)); at < end.AtS {
			end = session.End{Kind: session.Stopped, AtS: at}
		}
	}
	run := &Run{Own: end, FullS: end.AtS, ReadK: make([][]float64, 1)}
	for t := 0.0; ; t = math.Min(t+20, end.AtS) {
		run.TimeS, run.ReadK[0] = append(run.TimeS, t), append(run.ReadK[0], 293.15+p*r*(1-math.Exp(-t/tau)))
		if t >= end.AtS {
			return run, nil
		}
	}
}

// tested is one invented test of a lump: its end and its readings with errors drawn here.
func tested(rng *rand.Rand, untilS float64) (end session.End, r Readings) {
	for {
		z := []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		run, _ := lump{}.Run(context.Background(), z)
		if run.Own.AtS < untilS {
			continue
		}
		offset, gain, wave := defaultOffsetK*rng.NormFloat64(), 1+defaultGainFrac*rng.NormFloat64()+misfitFrac*rng.NormFloat64(), misfitK*rng.NormFloat64()
		k := 0
		for t := 0.0; t <= untilS; t += 10 {
			at := run.read(0, t, &k)
			r.TimeS = append(r.TimeS, t)
			r.TK = append(r.TK, 293.15+offset+gain*(at-293.15)+wave*math.Sin(t/600)+defaultNoiseK*rng.NormFloat64())
		}
		return run.Own, r
	}
}

// Over invented tests the 90 % interval holds about 90 % of the real ends, and narrows as readings come in. 60 tests: the binomial
// distribution has 99.8 % of its weight between 46 and 60 (scipy-free: from its own sums, below).
func TestCoverage(t *testing.T) {
	const tests = 60
	lo, hi := binomialBand(tests, 0.9, 0.001)
	covered := 0
	var early, late float64
	for k := range tests {
		rng := rand.New(rand.NewPCG(918, uint64(k)))
		end, r := tested(rng, 900)
		f, err := New(context.Background(), lump{}, []Probe{{Name: "T1"}}, Options{Seed: uint64(k) + 3})
		if err != nil {
			t.Fatal(err)
		}
		if s, err := f.Update(context.Background(), []Readings{{}}, 0); err != nil {
			t.Fatal(err)
		} else {
			early += s.EndS.HalfWidth() / tests
		}
		s, err := f.Update(context.Background(), []Readings{r}, 900)
		if err != nil {
			t.Fatal(err)
		}
		late += s.EndS.HalfWidth() / tests
		if s.EndS.Lo <= end.AtS && end.AtS <= s.EndS.Hi {
			covered++
		}
	}
	if covered < lo || covered > hi {
		t.Errorf("%d of %d covered, want %d to %d", covered, tests, lo, hi)
	}
	if late > 0.7*early {
		t.Errorf("half-width %.3f before the test, %.3f after 15 min", early, late)
	}
	t.Logf("covered %d of %d, half-width %.3f before, %.3f after", covered, tests, early, late)
}

// binomialBand has all but a tail on each side.
func binomialBand(n int, p, tail float64) (lo, hi int) {
	b := distuv.Binomial{N: float64(n), P: p}
	for b.CDF(float64(lo)) < tail {
		lo++
	}
	for hi = n; b.CDF(float64(hi-1)) > 1-tail; hi-- {
	}
	return lo, hi
}

// Strong readings of a curved problem, where few draws of the prior agree: against quadrature over the unknowns.
func TestCurvedCaseAgainstQuadrature(t *testing.T) {
	ctx := context.Background()
	z0 := []float64{0.8, -1.1, 0.3, 0.2}
	run, _ := lump{}.Run(ctx, z0)
	var r Readings
	k := 0
	for s := 0.0; s <= 1500; s += 30 {
		r.TimeS, r.TK = append(r.TimeS, s), append(r.TK, run.read(0, s, &k)+0.2)
	}
	probe := Probe{Name: "T1", OffsetK: 0.4, GainFrac: 0.005}
	f, err := New(ctx, lump{}, []Probe{probe}, Options{Draws: 2000, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	nowS := math.Min(1500, run.Own.AtS-60)
	s, err := f.Update(ctx, []Readings{r}, nowS)
	if err != nil {
		t.Fatal(err)
	}
	// the last two unknowns are not in the readings: draw them, and go through the first two on a grid
	var all []weighted
	rng := rand.New(rand.NewPCG(5, 6))
	const step = 0.05
	for a := -4.0; a <= 4; a += step {
		for b := -4.0; b <= 4; b += step {
			z := []float64{a, b, rng.NormFloat64(), rng.NormFloat64()}
			run, _ := lump{}.Run(ctx, z)
			if run.Own.AtS < nowS {
				continue
			}
			sum := -(a*a + b*b) / 2
			for _, th := range f.seen {
				var x [bins]float64
				th.whiten(x[:len(th.timeS)], run)
				for _, v := range x {
					sum -= v * v / 2
				}
			}
			all = append(all, weighted{run.Own.AtS, math.Exp(sum)})
		}
	}
	want := interval(all)
	for i, pair := range [][2]float64{{s.EndS.Lo, want.Lo}, {s.EndS.Mid, want.Mid}, {s.EndS.Hi, want.Hi}} {
		if math.Abs(pair[0]-pair[1]) > 0.06*(want.Hi-want.Lo) { // Monte Carlo error of both
			t.Errorf("point %d: %.1f s, quadrature %.1f s", i, pair[0], pair[1])
		}
	}
	if f.rounds == 0 {
		t.Error("no draws were made anew: the case is too easy")
	}
}

func TestDecided(t *testing.T) {
	ctx := context.Background()
	for _, tc := range []struct {
		name    string
		power   float64 // score
		untilS  float64
		decided bool
		lasts   bool
	}{{"far too hot", 2.2, 600, true, false}, {"cool", -2.5, 1800, true, true}, {"cool, at first", -2.5, 60, false, true}} {
		run, _ := lump{}.Run(ctx, []float64{tc.power, 0, 0, 0})
		var r Readings
		k := 0
		for s := 0.0; s <= tc.untilS; s += 10 {
			r.TimeS, r.TK = append(r.TimeS, s), append(r.TK, run.read(0, s, &k))
		}
		f, err := New(ctx, lump{}, []Probe{{}}, Options{Seed: 4})
		if err != nil {
			t.Fatal(err)
		}
		s, err := f.Update(ctx, []Readings{r}, tc.untilS)
		if err != nil {
			t.Fatal(err)
		}
		if s.Decided != tc.decided || s.Lasts > 0.5 != tc.lasts {
			t.Errorf("%s: decided %v, lasts %.2f", tc.name, s.Decided, s.Lasts)
		}
	}
}

// Readings that no device of the description makes decide nothing; one that outlives every draw is told of.
func TestNotThisDevice(t *testing.T) {
	ctx := context.Background()
	f, err := New(ctx, lump{}, []Probe{{}}, Options{Seed: 4})
	if err != nil {
		t.Fatal(err)
	}
	var cooling Readings
	for s := 0.0; s <= 600; s += 10 {
		cooling.TimeS, cooling.TK = append(cooling.TimeS, s), append(cooling.TK, 330-0.05*s)
	}
	s, err := f.Update(ctx, []Readings{cooling}, 600)
	if err != nil {
		t.Fatal(err)
	}
	if s.Decided || s.MisfitScore < misfits {
		t.Errorf("a cooling device: decided %v, misfit %.1f", s.Decided, s.MisfitScore)
	}
	if _, err := f.Update(ctx, []Readings{{}}, 1e6); !errors.Is(err, ErrImpossible) {
		t.Errorf("a device that runs for eleven days: %v", err)
	}
	for _, bad := range []Readings{{TimeS: []float64{1}, TK: nil}, {TimeS: []float64{1, 1}, TK: []float64{300, 300}}, {TimeS: []float64{1}, TK: []float64{math.NaN()}}} {
		if _, err := f.Update(ctx, []Readings{bad}, 600); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	gone, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := New(gone, lump{}, []Probe{{}}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("after Ctrl-C: %v", err)
	}
}

// The same seed gives the same forecast, however many workers there are.
func TestDeterministic(t *testing.T) {
	var before *State
	for _, workers := range []int{1, 3} {
		_, r := tested(rand.New(rand.NewPCG(31, 5)), 900)
		f, err := New(context.Background(), lump{}, []Probe{{}}, Options{Seed: 9, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		s, err := f.Update(context.Background(), []Readings{r}, 900)
		if err != nil {
			t.Fatal(err)
		}
		if before != nil && (s.EndS != before.EndS || s.Effective != before.Effective) {
			t.Errorf("%+v and %+v", s.EndS, before.EndS)
		}
		before = s
	}
}
