package learn

import (
	"context"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"finwright/internal/model"
)

// A probe's offset and loss as explicit unknowns with normal priors, solved by least squares (the joint normal equations), must give what the
// closed form gives; and the whitened differences' squares must be the generalised least-squares form dᵀ C⁻¹ d (Aitken 1935; Rasmussen &
// Williams 2006, eq. 2.43).
func TestProbeErrorsAreThoseOfExplicitUnknowns(t *testing.T) {
	spots := []spot{
		{place: "a", atS: 60, noiseK: 0.3, probe: "T1", offsetK: 1.2, lossShare: 0.03, riseK: 3},
		{place: "a", atS: 240, noiseK: 0.3, probe: "T1", offsetK: 1.2, lossShare: 0.03, riseK: 9},
		{place: "b", atS: 240, noiseK: 0.3, probe: "T2", offsetK: 0.8, lossShare: 0.03, riseK: 14},
		{place: "a", atS: 900, noiseK: 0.3, probe: "T1", offsetK: 1.2, lossShare: 0.03, riseK: 17},
		{place: "c", atS: 900, noiseK: 2},
	}
	d := []float64{1.6, 1.9, -0.4, 2.2, 3}
	e := newErrorModel(spots)

	// unknowns: offset and loss of T1, of T2, in standard deviations; the rest is the covariance without them
	n := len(spots)
	rest := mat.NewSymDense(n, nil)
	a := mat.NewDense(n, 4, nil) // reading = truth + offset - loss·rise, so model less reading = -offset + loss·rise
	for i := range spots {
		for k := i; k < n; k++ {
			x, y := spots[i], spots[k]
			x.probe, y.probe = "", ""
			rest.SetSym(i, k, covariance(&x, &y, i == k))
		}
		if p := map[string]int{"T1": 0, "T2": 2}; spots[i].probe != "" {
			a.Set(i, p[spots[i].probe], -spots[i].offsetK)
			a.Set(i, p[spots[i].probe]+1, spots[i].lossShare*spots[i].riseK)
		}
	}
	var inv mat.Dense
	if err := inv.Inverse(rest); err != nil {
		t.Fatal(err)
	}
	var ata, m mat.Dense
	m.Mul(a.T(), &inv)
	ata.Mul(&m, a)
	for i := range 4 {
		ata.Set(i, i, ata.At(i, i)+1)
	}
	var rhs, x mat.VecDense
	rhs.MulVec(&m, mat.NewVecDense(n, d))
	if err := x.SolveVec(&ata, &rhs); err != nil {
		t.Fatal(err)
	}
	got := e.probeErrors(spots, d)
	if len(got) != 2 || got[0].probe != "T1" || got[1].probe != "T2" {
		t.Fatalf("%+v", got)
	}
	within(t, "offset of T1", got[0].offsetK, 1.2*x.AtVec(0), 1e-9)
	within(t, "loss of T1", got[0].loss, 0.03*x.AtVec(1), 1e-9)
	within(t, "offset of T2", got[1].offsetK, 0.8*x.AtVec(2), 1e-9)
	within(t, "loss of T2", got[1].loss, 0.03*x.AtVec(3), 1e-9)

	var full mat.Dense
	if err := full.Inverse(e.cov); err != nil {
		t.Fatal(err)
	}
	want := mat.Inner(mat.NewVecDense(n, d), &full, mat.NewVecDense(n, d))
	w := append([]float64(nil), d...)
	e.whiten(w)
	sum := 0.0
	for _, v := range w {
		sum += v * v
	}
	within(t, "squares", sum, want, 1e-9*want)
	back := make([]float64, n)
	e.colour(back, w)
	for i := range d {
		within(t, "back in kelvin", back[i], d[i], 1e-9)
	}
}

// A log counts as what it is: with an offset of 1.2 K throughout, no number of its readings tells the level better than that.
func TestLogIsNotThousandsOfReadings(t *testing.T) {
	var spots []spot
	for i := range 40 {
		spots = append(spots, spot{place: "a", atS: 30 * float64(i+1), noiseK: logNoiseK, probe: "T1", offsetK: 1.2})
	}
	e := newErrorModel(spots)
	ones := make([]float64, len(spots))
	for i := range ones {
		ones[i] = 1
	}
	e.whiten(ones)
	info := 0.0 // 1ᵀ C⁻¹ 1
	for _, v := range ones {
		info += v * v
	}
	if sd := 1 / math.Sqrt(info); sd < 1.2 || sd > math.Hypot(1.2, modelSigmaK) {
		t.Errorf("the level is known to %.2f K", sd)
	}
}

// A grey spot's radiosity, by hand: at 60 °C, emissivity 0.1, surroundings of 20 °C, a thermometer receives 0.1·333.15⁴ + 0.9·293.15⁴ and set
// to 0.95 shows the fourth root of (that - 0.05·293.15⁴)/0.95. Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, §12.8.
func TestInfraredOnBareMetal(t *testing.T) {
	received := 0.1*math.Pow(333.15, 4) + 0.9*math.Pow(293.15, 4)
	read := math.Pow((received-0.05*math.Pow(293.15, 4))/0.95, 0.25)
	if read > 299 { // it shows some 25 °C where there are 60
		t.Errorf("it would show %g", read)
	}
	got, perEps, perAround := infraredK(read, 293.15, 0.1, 0.95)
	within(t, "corrected", got, 333.15, 1e-6)
	const h = 1e-5
	up, _, _ := infraredK(read, 293.15, 0.1+h, 0.95)
	down, _, _ := infraredK(read, 293.15, 0.1-h, 0.95)
	within(t, "by emissivity", perEps, (up-down)/(2*h), 1e-3*math.Abs(perEps))
	up, _, _ = infraredK(read, 293.15+h, 0.1, 0.95)
	down, _, _ = infraredK(read, 293.15-h, 0.1, 0.95)
	within(t, "by surroundings", perAround, (up-down)/(2*h), 1e-3*math.Abs(perAround))

	f := parse(t, block("1.8 to 2.2 W", "stock runs:\n  - {spots: [{at: block, after: 90 min, reads: 25 °C, by: infrared, emissivity: 0.08 to 0.12}, {at: block, after: 80 min, reads: 60 °C, by: touch}]}\n"))
	s := handSpot(f, &f.Runs[0], &f.Runs[0].Spots[0])
	if s.readK < 320 || s.noiseK < 5 {
		t.Errorf("on bare metal %.1f K ± %.1f", s.readK, s.noiseK)
	}
	st, err := newStudy(f, Options{Fineness: coarse})
	if err != nil {
		t.Fatal(err)
	}
	if w := st.doubtedReadings(); len(w) != 1 || !strings.Contains(w[0], "tape") {
		t.Errorf("%q", w)
	}
	if touch := handSpot(f, &f.Runs[0], &f.Runs[0].Spots[1]); touch.noiseK < 3 || touch.readK != 333.15 {
		t.Errorf("%+v", touch)
	}
}

// An infrared reading with a retrofit on is of the retrofit's finish: dulled to 0.3 the block is warmer than it reads, by infraredK.
func TestInfraredOnARetrofit(t *testing.T) {
	const spot = "{spots: [{at: block, after: 90 min, reads: 40 °C, by: infrared}]}"
	f := parse(t, strings.Replace(block("2 W", "stock runs:\n  - "+spot+"\nretrofit runs:\n  - {retrofit: dulled, "+spot[1:]+"\nretrofits:\n  dulled: {changes: [{refinish: {part: block, finish: dull}}]}\n"),
		"finishes:\n", "finishes:\n  dull: {emissivity: 0.3}\n", 1))
	s, err := newStudy(f, Options{Fineness: coarse})
	if err != nil {
		t.Fatal(err)
	}
	for i, eps := range []float64{0.9, 0.3} {
		want, _, _ := infraredK(313.15, 293.15, eps, 0.95)
		within(t, s.runs[i].name, s.runs[i].spots[0].readK, want, 1e-9)
	}
}

// A meter in the supply reads the sum of the powers: with a normal prior of 2 ± 0.2 W and a reading of 2.1 W ± 1 % the posterior is the weighted mean
// (Gelman et al., Bayesian Data Analysis, 3rd ed., §2.5).
func TestPowerRead(t *testing.T) {
	res := learn(t, block("1.8 to 2.2 W", "stock runs:\n  - {power read: 2.1 W ± 1 %}\n"))
	s0, s1 := 0.2/z90, math.Hypot(0.021/z90, powerFloor*2.1)
	want := (2/(s0*s0) + 2.1/(s1*s1)) / (1/(s0*s0) + 1/(s1*s1))
	within(t, "power", unknown(t, res, "parts.block.heat").Mid, want, 0.002)
	// 0.42 A at 5 V are 2.1 W; independent shares add up as squares, 0.6 and 0.8 to 1 %
	res = learn(t, block("1.8 to 2.2 W", "stock runs:\n  - {current read: 420 mA ± 0.6 %, voltage read: 5 V ± 0.8 %}\n"))
	within(t, "power of a current and a voltage", unknown(t, res, "parts.block.heat").Mid, want, 0.002)
}

var tiny = model.Fineness{TargetCells: 200, Across: 1}

const fan = `device: plate
materials:
  metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 900 J/kgK}
parts:
  plate: {material: metal, box: 40 x 40 x 8 mm, heat: 1 to 6 W}
sensors: {s: {at: plate, stops at: 50 to 80 °C}}
conditions: {ambient: 22 °C, air: still}
stock runs:
`

// A stop by temperature is shorter from a warm start and later in moving air; a time limit does not care.
func TestCause(t *testing.T) {
	for name, c := range map[string]struct {
		runs string
		heat int // sign of the evidence
	}{
		"moving air, later":       {"  - {stops after: 10 min ± 5 %}\n  - {air: 4 m/s, still running after: 60 min}\n", 1},
		"moving air, the same":    {"  - {stops after: 10 min ± 5 %}\n  - {air: 4 m/s, stops after: 10 min ± 5 %}\n", -1},
		"warm start, the same":    {"  - {stops after: 10 min ± 5 %}\n  - {start: 45 °C, stops after: 10 min ± 5 %}\n", -1},
		"warm start, shorter":     {"  - {stops after: 10 min ± 5 %}\n  - {start: 40 °C, stops after: 5.5 min ± 5 %}\n", 1},
		"the same thing twice":    {"  - {stops after: 10 min ± 5 %}\n  - {stops after: 10 min ± 5 %}\n", 0},
		"only one run with a end": {"  - {stops after: 10 min ± 5 %}\n", 0},
	} {
		s, err := newStudy(parse(t, fan+c.runs), Options{Fineness: tiny, Anchor: tiny, Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.train(context.Background()); err != nil {
			t.Fatal(err)
		}
		got, err := s.cause(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		warned := len(s.causeWarnings(got, nil)) > 0
		switch {
		case c.heat == 0 && got != nil && math.Abs(got.Log10Odds) > 0.5,
			c.heat > 0 && (got == nil || got.Log10Odds < 0.5 || len(got.Runs) != 1 || !strings.HasSuffix(got.Odds, " for heat") || warned),
			c.heat < 0 && (got == nil || got.Log10Odds > -0.5 || len(got.Runs) != 1 || !strings.HasSuffix(got.Odds, " against heat") || !warned):
			t.Errorf("%s: %+v", name, got)
		}
	}
}
