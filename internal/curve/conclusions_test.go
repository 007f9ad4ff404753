package curve

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"finwright/internal/unit"
)

// A bare pocket camera at 1.9 W over 8 h, a public log: rises over the room at 1, 2, 5, 6 and 7 h while the room fell from 26.2 to
// 23.7 °C (the readings between are not published; straight between them is ours). The temperature falls, the rise stands.
func TestPublicLogIsSteady(t *testing.T) {
	var s Series
	s.Room = Samples{[]float64{3600, 7 * 3600}, []float64{26.2 + 273.15, 23.7 + 273.15}}
	rises := []float64{14.8, 13.7, 15.4, 15.6, 14.5}
	for i, h := range []float64{1, 2, 5, 6, 7} {
		s.TimeS = append(s.TimeS, h*3600)
		s.TK = append(s.TK, s.Room.at(h*3600)+rises[i])
	}
	tr, err := SteadyRise(s, 0, math.Inf(1), 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(tr.Sentence())
	if tr.Verdict != Steady || !strings.HasPrefix(tr.Sentence(), "Steady: 14.8 K") {
		t.Errorf("%s: %+v", tr.Verdict, tr)
	}
	if tr.TemperatureK > -1 || math.Abs(tr.RoomK+2.5) > 1e-9 {
		t.Errorf("the reading moved by %+.2f K, the room by %+.2f K", tr.TemperatureK, tr.RoomK)
	}
	// The line by hand: slope 3.50/26.8 = 0.1306 K/h, residual s 0.783 K, Student's t(3; 95 %) = 2.353 (any table), so ± 0.356 K/h;
	// mean 14.8 ± 2.353·0.783/√5 at the mean time, 4.2 h. 4000 draws give the ends to about 0.02.
	if e := tr.RiseKPerH; math.Abs(e.Mid-0.1306) > 0.01 || math.Abs(e.Hi-e.Lo-2*0.356) > 0.04 {
		t.Errorf("slope %+v", e)
	}
	// The same readings without a falling room would be a falling temperature.
	s.Room = Samples{[]float64{0}, []float64{298}}
	if tr, err = SteadyRise(s, 0, math.Inf(1), 0); err != nil || tr.RiseKPerH.Mid > -0.2 {
		t.Errorf("the drift was not in the readings: %+v, %v", tr, err)
	}
}

func TestTrendVerdicts(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for name, tc := range map[string]struct {
		c    truth
		want Verdict
	}{
		"still warming":    {truth{tauS: 3600, riseK: 30, startK: 296}, StillRising},
		"cooling":          {truth{tauS: 3600, riseK: -30, startK: 326}, StillFalling},
		"long since there": {truth{tauS: 3600, riseK: 0, startK: 316}, Steady},
	} {
		s := Series{Samples: logger{everyS: 20, sdK: 0.1, rho: 0.7}.read(tc.c, 5400, rng), Room: Samples{[]float64{0, 5400}, []float64{297, 295}}}
		if name == "long since there" { // the readings follow the room
			for i := range s.TK {
				s.TK[i] += s.Room.at(s.TimeS[i]) - 297
			}
		}
		tr, err := SteadyRise(s, 0, math.Inf(1), 0)
		if err != nil || tr.Verdict != tc.want || tr.Sentence() == "" {
			t.Errorf("%s: %s, %+v, %v", name, tr.Verdict, tr.RiseKPerH, err)
		}
	}
	// Four readings scattered by kelvins say nothing.
	s := Series{Samples: Samples{[]float64{0, 600, 1200, 1800}, []float64{310, 316, 307, 313}}, Room: Samples{[]float64{0}, []float64{296}}}
	if tr, err := SteadyRise(s, 0, 1800, 0); err != nil || tr.Verdict != Undecided || !strings.Contains(tr.Sentence(), "cannot be said") {
		t.Errorf("scatter: %+v, %v", tr, err)
	}
	s.Room = Samples{}
	if _, err := SteadyRise(s, 0, 1800, 0); err == nil {
		t.Error("a rise without a room")
	}
}

// twoNodes steps a chip of capacity c1 inside a case of c2, J/K, by small steps: power into the chip, g12 between, g2 to the room, W/K.
func twoNodes(c1, c2, g12, g2, powerW, roomK, endS float64, rng *rand.Rand) (chip, skin Series) {
	t1, t2 := roomK, roomK
	const dt = 0.05
	for k := 0; float64(k)*dt <= endS; k++ {
		if k%100 == 0 {
			for i, s := range []*Series{&chip, &skin} {
				s.TimeS = append(s.TimeS, float64(k)*dt)
				s.TK = append(s.TK, []float64{t1, t2}[i]+0.05*rng.NormFloat64())
			}
		}
		q, loss := g12*(t1-t2), g2*(t2-roomK)
		t1, t2 = t1+dt*(powerW-q)/c1, t2+dt*(q-loss)/c2
	}
	chip.Room = Samples{[]float64{0}, []float64{roomK}}
	skin.Room = chip.Room
	return chip, skin
}

func TestPower(t *testing.T) {
	const powerW = 2.4
	chip, skin := twoNodes(6, 90, 0.25, 0.09, powerW, 296, 3000, rand.New(rand.NewPCG(2, 8)))
	fit := func(s Series) *Fit {
		f, err := Warming(s, WarmingOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	fChip, fSkin := fit(chip), fit(skin)
	part := unit.Quantity{Dim: unit.HeatCapacity, Kind: unit.Spread, Mid: 6, Lo: 5.7, Hi: 6.3}
	// One sample every 5 s and 24 s for the chip alone: its slope is known to some 10 %.
	if e := PowerFromWarming(fChip, part, HeatedPart); !holds(e, powerW, 0.4) {
		t.Errorf("from the heated part: %+v", e)
	}
	// The whole warms alike but for the chip's lead: the skin's own slope carries C₂/(C₁+C₂) of the story, within 5 %.
	whole := unit.ExactSI(96, unit.HeatCapacity)
	if e := PowerFromWarming(fSkin, whole, WholeDevice); !e.Given() || math.Abs(e.Mid/powerW-1) > 0.05 || e.Hi-e.Lo > 0.3 {
		t.Errorf("from the whole: %+v", e)
	}
	if e := PowerFromWarming(fSkin, part, HeatedPart); e.Given() || !strings.Contains(e.Refused, "late") {
		t.Errorf("a probe that lags gave %+v", e)
	}
	for _, bad := range []unit.Quantity{{}, unit.ExactSI(0, unit.HeatCapacity), unit.ExactSI(6, unit.Power)} {
		if e := PowerFromWarming(fChip, bad, WholeDevice); e.Given() {
			t.Errorf("capacity %+v gave %+v", bad, e)
		}
	}
}

// The same device before and after a fin was put on: other room, other power, known truth at equal ones.
func TestCompare(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 3))
	run := func(c, g, powerW, roomK float64) Run { // one body
		tr := truth{tauS: c / g, riseK: powerW / g, startK: roomK, biasK: 0.8}
		s := Series{Samples: logger{everyS: 10, sdK: 0.08, rho: 0.5, stepK: 0.1}.read(tr, 5400, rng), Room: Samples{[]float64{0}, []float64{roomK}}}
		f, err := Warming(s, WarmingOptions{ProbeErrorK: 1})
		if err != nil {
			t.Fatal(err)
		}
		return Run{f, unit.Quantity{Dim: unit.Power, Kind: unit.Spread, Mid: powerW, Lo: 0.98 * powerW, Hi: 1.02 * powerW}}
	}
	before, after := run(90, 0.07, 2.5, 299), run(130, 0.11, 2.3, 294)
	at := Same{RoomK: 298.15, PowerW: 2.5, LimitK: 298.15 + 20, SameProbe: true}
	p, err := Compare(before, after, at)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: rises 2.5/0.07 = 35.71 and 2.5/0.11 = 22.73 K; times to 20 K: -τ ln(1 - 20/rise) = 1055.6 and 2506.9 s.
	tBefore, tAfter := -90/0.07*math.Log(1-20*0.07/2.5), -130/0.11*math.Log(1-20*0.11/2.5)
	if math.Abs(tBefore-1055.5) > 0.2 || math.Abs(tAfter-2505.8) > 0.2 {
		t.Fatalf("hand figures %.1f and %.1f s", tBefore, tAfter)
	}
	for name, tc := range map[string]struct {
		e           Estimate
		truth, half float64
	}{
		"rise before": {p.BeforeRiseK, 2.5 / 0.07, 1.8}, "rise after": {p.AfterRiseK, 2.5 / 0.11, 1.6}, "less": {p.LessK, 2.5/0.07 - 2.5/0.11, 1.2},
		"time before": {p.BeforeS, tBefore, 120},
	} {
		if !holds(tc.e, tc.truth, tc.half) {
			t.Errorf("%s: %+v, is %.2f", name, tc.e, tc.truth)
		}
	}
	if p.AfterS.Lo > tAfter || p.AfterS.Hi < tAfter || p.MoreS.Lo > tAfter-tBefore || p.MoreS.Hi < tAfter-tBefore || p.BeforeReaches < 0.999 || p.AfterReaches < 0.9 {
		t.Errorf("after %+v, more %+v, reaches %.3f and %.3f", p.AfterS, p.MoreS, p.BeforeReaches, p.AfterReaches)
	}
	// A limit far above both: nobody stops.
	at.LimitK = 298.15 + 60
	if p, err = Compare(before, after, at); err != nil || p.BeforeReaches != 0 || !math.IsInf(p.BeforeS.Mid, 1) || p.MoreS.Given() {
		t.Errorf("a limit out of reach: %+v, %v", p, err)
	}
	// With probes of their own the constant errors do not cancel.
	at.SameProbe = false
	q, err := Compare(before, after, at)
	if err != nil || q.LessK.Hi-q.LessK.Lo < 1.1*(p.LessK.Hi-p.LessK.Lo) {
		t.Errorf("own probes: %+v, same probe %+v, %v", q.LessK, p.LessK, err)
	}
	for name, bad := range map[string]Same{
		"room": {}, "limit": {RoomK: 298, LimitK: 297}, "power": {RoomK: 298, PowerW: math.NaN()},
	} {
		if _, err := Compare(before, after, bad); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := Compare(before, Run{Fit: after.Fit}, Same{RoomK: 298, PowerW: 2}); err == nil || !strings.Contains(err.Error(), "after") {
		t.Errorf("a run of unknown power: %v", err)
	}
}
