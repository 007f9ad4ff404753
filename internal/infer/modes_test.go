package infer

import (
	"context"
	"math"
	"strings"
	"testing"
)

// twoPlaces sees the square of the first unknown and, weakly, its sign: modes near ±b. The other unknown is not seen.
func twoPlaces(b, squareSD, sign, signSD float64) Problem {
	return Problem{N: 2, M: 2, Residuals: func(_ context.Context, z, dst []float64) error {
		dst[0] = (z[0]*z[0] - b*b) / squareSD
		dst[1] = (z[0] - sign) / signSD
		return nil
	}}
}

func TestSeveralModesAreKept(t *testing.T) {
	p := twoPlaces(1.5, 0.5, 0.3, 4)
	res := solve(t, p, Options{Starts: 9, Seed: 4, Step: 1e-3, Central: true})
	if len(res.Others) != 1 || res.Z[0] < 1 || res.Others[0].Z[0] > -1 || res.Others[0].Cost < res.Cost {
		t.Fatalf("mode %v of cost %g, others %d", res.Z, res.Cost, len(res.Others))
	}
	if got := res.Ended + res.Others[0].Ended + res.Unfinished; got != 9 {
		t.Errorf("%d starts accounted for", got)
	}
	// The share by quadrature of the posterior of z₀.
	var plus, minus float64
	for i := -60000; i <= 60000; i++ {
		z := float64(i) * 1e-4
		r0, r1 := (z*z-2.25)/0.5, (z-0.3)/4
		d := math.Exp(-(z*z + r0*r0 + r1*r1) / 2)
		if z > 0 {
			plus += d
		} else {
			minus += d
		}
	}
	want := plus / (plus + minus)
	if got := res.ModeShares()[0]; math.Abs(got-want) > 0.02 { // Laplace's approximation is that of a parabola
		t.Errorf("share %.3f, quadrature %.3f", got, want)
	}
	s := res.ModesSentence([]string{"gap", "power"})
	for _, part := range []string{"9 starts", "2 different explanations", "gap", "lower"} {
		if !strings.Contains(s, part) {
			t.Errorf("%q lacks %q", s, part)
		}
	}
}

// Ends of one mode are one: of a well-behaved problem, and of a curved valley whose ends may lie apart.
func TestOneModeStaysOne(t *testing.T) {
	net, _ := networkProblem(0.01)
	for name, p := range map[string]Problem{"network": net, "valley": valley(5)} {
		res := solve(t, p, Options{Starts: 7, Seed: 2})
		if len(res.Others) != 0 || res.Ended+res.Unfinished != 7 {
			t.Errorf("%s: %d others, %d ended there, %d unfinished", name, len(res.Others), res.Ended, res.Unfinished)
		}
		if s := res.ModesSentence(nil); !strings.Contains(s, "same place") {
			t.Errorf("%s: %q", name, s)
		}
	}
	if s := solve(t, net, Options{}).ModesSentence(nil); s != "" {
		t.Errorf("one start: %q", s)
	}
}

// A search cancelled anywhere in its starts keeps what earlier starts found.
func TestCancelledBetweenStarts(t *testing.T) {
	p := twoPlaces(1.5, 0.5, 0.3, 4)
	whole := solve(t, p, Options{Starts: 4, Seed: 4})
	first := solve(t, p, Options{Seed: 4})
	for after := 1; after < whole.Calls; after++ {
		ctx, cancel := context.WithCancel(context.Background())
		res, err := MAP(ctx, p, Options{Starts: 4, Seed: 4, Progress: func(n, _ int) {
			if n == after {
				cancel()
			}
		}})
		cancel()
		if err != nil {
			t.Fatal(err)
		}
		if after > first.Calls && (res.Cov == nil || res.Cost > first.Cost) {
			t.Errorf("after %d calls: cost %g, the first start had %g", after, res.Cost, first.Cost)
		}
		_, _ = res.ModeShares(), res.ModesSentence(nil) // no panic
	}
}
