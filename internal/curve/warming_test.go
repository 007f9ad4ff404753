package curve

import (
	"math"
	"math/rand/v2"
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

// logger is the way it is read: AR(1) errors of standard deviation sdK and correlation time likeS, rounded to stepK.
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

// bench makes one bench test: half of them with two exponentials, a hand-sized device's time constants, a cheap logger, the curve cut
// after seen time constants.
func bench(rng *rand.Rand, seen float64) (truth, logger, Series) {
	c := truth{tauS: logBetween(rng, 400, 3600), riseK: logBetween(rng, 10, 45), startK: 293 + 8*rng.Float64(), biasK: probeK / z90 * rng.NormFloat64()}
	if rng.IntN(2) == 0 {
		c.fastS = c.tauS * logBetween(rng, 0.03, 0.3)
		c.share = 0.1 + 0.5*rng.Float64()
	}
	l := logger{everyS: []float64{1, 2, 5, 10, 30}[rng.IntN(5)], sdK: logBetween(rng, 0.05, 0.3), rho: 0.85 * rng.Float64(), stepK: []float64{0, 0.0625, 0.1, 0.25}[rng.IntN(4)]}
	return c, l, Series{Samples: l.read(c, seen*c.tauS, rng)}
}

const probeK = 1.0

type tally struct{ given, in, refused, below, above int }

func (t *tally) add(e Estimate, truth float64) {
	switch {
	case !e.Given():
		t.refused++
		return
	case truth < e.Lo:
		t.below++
	case truth > e.Hi:
		t.above++
	default:
		t.in++
	}
	t.given++
}

func coverage(t *testing.T, draws int, seed uint64) (tau, steady map[float64]*tally, allTau, allSteady tally, right int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 5))
	cuts := []float64{0.5, 1, 2, 4}
	tau, steady = map[float64]*tally{}, map[float64]*tally{}
	for _, c := range cuts {
		tau[c], steady[c] = &tally{}, &tally{}
	}
	for i := range draws {
		cut := cuts[i%len(cuts)]
		c, l, s := bench(rng, cut)
		f, err := Warming(s, WarmingOptions{ProbeErrorK: probeK, Seed: uint64(i)})
		if err != nil {
			t.Fatalf("draw %d %+v %+v: %v", i, c, l, err)
		}
		if (f.Exponentials == 2) == (c.share != 0) {
			right++
		}
		end := c.startK + c.riseK
		tau[cut].add(f.TauS, c.tauS)
		steady[cut].add(f.SteadyK, end)
		allTau.add(f.TauS, c.tauS)
		allSteady.add(f.SteadyK, end)
	}
	return
}

func TestCoverageExplore(t *testing.T) {
	n := 80
	tau, steady, at, as, right := coverage(t, n, 1)
	for _, c := range []float64{0.5, 1, 2, 4} {
		t.Logf("cut %.1f: tau %+v steady %+v", c, *tau[c], *steady[c])
	}
	t.Logf("tau %+v %.3f steady %+v %.3f; number right %d of %d", at, float64(at.in)/float64(at.given), as, float64(as.in)/float64(as.given), right, n)
}
