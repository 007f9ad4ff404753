package compare

import (
	"context"
	"math"
	"strings"
	"testing"

	"finwright/internal/standin"
)

// A lump's rise at the battery's end, E/P, is PR (1 - exp(-E/(P RC))) (Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq.
// 5.25): it lasts up to the power at which that is 46 K, and the chance is the normal probability of less.
func TestChanceOfALump(t *testing.T) {
	yaml := strings.NewReplacer("2.4 to 2.6 W", "2.2 to 2.8 W", "stops at: 45 °C", "stops at: 66 °C").Replace(block)
	opt := few
	opt.Draws = 400
	st, err := Compare(context.Background(), parse(t, yaml), nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	lo, hi := 2.0, 3.0
	for hi-lo > 1e-9 {
		p := (lo + hi) / 2
		if p*resKW*(1-math.Exp(-0.5*3600/p/tauS)) < 46 {
			lo = p
		} else {
			hi = p
		}
	}
	want := 0.5 * (1 + math.Erf((lo-2.5)/(0.3/1.6449)/math.Sqrt2))
	row := &st.Rows[0]
	within(t, "chance", row.Chance, want, 3*math.Sqrt(want*(1-want)/400)) // three standard errors of the count
	if !(row.ChanceLo < want && want < row.ChanceHi) || row.ChanceHi-row.ChanceLo > 0.12 {
		t.Errorf("chance %g (%g to %g), want %g", row.Chance, row.ChanceLo, row.ChanceHi, want)
	}
	if len(row.Causes) != 1 || row.Causes[0].Path != "parts.block.heat" || row.Causes[0].Share < 0.95 {
		t.Errorf("causes %+v", row.Causes)
	}
	if !math.IsNaN(row.SureUpToC) {
		t.Errorf("its boundaries are stated, yet the air matters: %g °C", row.SureUpToC)
	}
}

// Newcombe, Statistics in Medicine 17 (1998), table I, method 3 (from memory): 95 % intervals of 81/263, 15/148, 0/20, 1/29.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		lo, hi := wilson(float64(c.k)/float64(c.n), c.n, 1.959964)
		within(t, "low", lo, c.lo, 6e-5)
		within(t, "high", hi, c.hi, 6e-5)
	}
}

func TestSureUpTo(t *testing.T) {
	var airK []float64
	for i := range 101 {
		airK = append(airK, zeroC+float64(i)) // draw 0 does not count
	}
	within(t, "a tenth from below", sureUpToC(airK), 10.5, 1e-9) // Hazen's plotting position: between the 10th and the 11th
	for i := 1; i <= 30; i++ {
		airK[i] = math.Inf(-1)
	}
	if x := sureUpToC(airK); !math.IsInf(x, -1) {
		t.Errorf("three in ten last nowhere: %g", x)
	}
	for i := 1; i <= 100; i++ {
		airK[i] = math.Inf(1)
	}
	if x := sureUpToC(airK); !math.IsInf(x, 1) {
		t.Errorf("all last everywhere: %g", x)
	}
	if x := sureUpToC(airK[:20]); !math.IsNaN(x) {
		t.Errorf("20 draws tell %g", x)
	}
	for what, row := range map[string]Row{"falls below nine in ten when the air is above 31 °C": {SureUpToC: 31.9}, "stays above nine in ten in all the air that was looked at, up to 49 °C": {SureUpToC: math.Inf(1), AirToC: 49},
		"below nine in ten in all the air that was looked at, down to -1 °C": {SureUpToC: math.Inf(-1), AirFromC: -1}} {
		if s := sureInWords(&row); !strings.Contains(s, what) {
			t.Errorf("%q lacks %q", s, what)
		}
	}
}

// What the answers are off by widens the chance's interval.
func TestChanceBetween(t *testing.T) {
	var h []float64
	for i := range 100 {
		h = append(h, float64(i)-49.5)
	}
	lo0, hi0 := chanceBetween(h, math.NaN())
	lo, hi := chanceBetween(h, -10)
	if w, _ := wilson(0.4, 100, z90); math.Abs(lo-w) > 1e-12 || !(lo < lo0 && hi > hi0) {
		t.Errorf("%g to %g, without error %g to %g", lo, hi, lo0, hi0)
	}
}

func TestLimitsMet(t *testing.T) {
	o := func(name string) *standin.Outcome { return &standin.Outcome{Nearest: name} }
	got := limitsMet([]*standin.Outcome{o("best"), o("cell"), nil, o("s"), o("s"), o("s")})
	if len(got) != 2 || got[0] != (LimitMet{"s", 0.75}) || got[1] != (LimitMet{"cell", 0.25}) {
		t.Errorf("%+v", got)
	}
}
