package unit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestPriorNormal checks the normal prior against tabled percentiles of the standard normal.
// Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), Tables 26.1 and 26.5.
func TestPriorNormal(t *testing.T) {
	q, err := Parse("93 °C ± 3 K", Temperature)
	if err != nil {
		t.Fatal(err)
	}
	p := q.Prior()
	if p.Log {
		t.Error("an absolute temperature is never log-normal")
	}
	// 90 % within ±3 K is a standard deviation of 3/1.64485 K.
	if got, want := p.Sigma(), 3/1.64485; math.Abs(got-want) > 1e-5 {
		t.Errorf("sigma = %v, want %v", got, want)
	}
	// The 97.5 % point is 1.95996 standard deviations up.
	if got, want := p.At(1.95996)-366.15, 1.95996*3/1.64485; math.Abs(got-want) > 1e-4 {
		t.Errorf("97.5 %% point = %v K above the middle, want %v", got, want)
	}
	// Probability within the interval, from the error function: P(|Z| < z) = erf(z/√2).
	if got := math.Erf(p.Score(q.Hi) / math.Sqrt2); math.Abs(got-0.90) > 1e-9 {
		t.Errorf("the interval holds %v of the probability, want 0.90", got)
	}
}

// TestPriorLog: of a log-normal the median is the geometric mean of symmetric percentiles, and 95 % lies below the upper end.
// Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1, 2nd ed. (1994), ch. 14.
func TestPriorLog(t *testing.T) {
	q, _ := Parse("1 to 100 W", Power)
	p := q.Prior()
	if !p.Log || math.Abs(p.At(0)-10) > 1e-12 || math.Abs(p.At(1.6448536269514722)-100) > 1e-9 {
		t.Errorf("prior of 1 to 100 W: %+v, median %v", p, p.At(0))
	}
	if want := math.Log(10) / 1.64485; math.Abs(p.Sigma()-want) > 1e-5 {
		t.Errorf("sigma of the logarithm = %v, want %v", p.Sigma(), want)
	}
	for _, c := range []struct {
		lo, hi float64
		log    bool
	}{{2, 3, false}, {2, 3.01, true}, {0, 3, false}, {-1, 3, false}} {
		if got := RangeSI(c.lo, c.hi, Power).Prior().Log; got != c.log {
			t.Errorf("%v to %v W: Log = %v", c.lo, c.hi, got)
		}
	}
}

// TestPriorRoundTrip: Score undoes At, At rises, and no positive quantity becomes negative.
func TestPriorRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-5, 50).Draw(t, "lo")
		mid := lo + rapid.Float64Range(0.01, 50).Draw(t, "below")
		hi := mid + rapid.Float64Range(0.01, 50).Draw(t, "above")
		p := Quantity{Dim: Power, Kind: Range, Lo: lo, Mid: mid, Hi: hi}.Prior()
		z := rapid.Float64Range(-4, 4).Draw(t, "z")
		v := p.At(z)
		if lo >= 0 && v < 0 {
			t.Fatalf("%+v gives %v at %v", p, v, z)
		}
		if up := p.At(z + 0.1); up < v {
			t.Fatalf("%+v falls from %v to %v at %v", p, v, up, z)
		}
		if v > 0 || lo < 0 {
			if back := p.Score(v); math.Abs(back-z) > 1e-6 {
				t.Fatalf("%+v: score %v came back as %v", p, z, back)
			}
		}
	})
}

func TestPriorWithoutWidth(t *testing.T) {
	p := ExactSI(3, Power).Prior()
	if p.At(2) != 3 || p.Score(7) != 0 || p.Sigma() != 0 {
		t.Errorf("exact: %v %v %v", p.At(2), p.Score(7), p.Sigma())
	}
	if z := (Prior{Mid: 10, Lo: 1, Hi: 100, Log: true}).Score(-1); z != -zMax {
		t.Errorf("score of an impossible value = %v", z)
	}
	if z := (Prior{Mid: 1, Lo: 1, Hi: 2}).Score(0.5); z != -zMax {
		t.Errorf("score on the side without width = %v", z)
	}
}

func TestDimNamed(t *testing.T) {
	for _, key := range []string{"length", "FilmCoefficient", "temperaturediff", "arearesistance"} {
		if d, ok := DimNamed(key); !ok || d.Name() == "" {
			t.Errorf("%s is not a dimension", key)
		}
	}
	if _, ok := DimNamed("lenght"); ok {
		t.Error("lenght is a dimension")
	}
}
