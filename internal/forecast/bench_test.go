package forecast

import (
	"context"
	"math"
	"os"
	"testing"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

func finder(t *testing.T, design string) *device.File {
	t.Helper()
	const path = "../../demo/direction-finder/direction-finder.yaml"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := device.Parse(path, data)
	if err != nil {
		t.Fatal(err)
	}
	v, _, err := f.Variant(design)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func room(t *testing.T, text string) *device.Conditions {
	t.Helper()
	q, err := unit.Parse(text, unit.Temperature)
	if err != nil {
		t.Fatal(err)
	}
	return &device.Conditions{Ambient: device.Q{Quantity: q, Path: "bench.ambient"}}
}

var coarse = model.Fineness{TargetCells: 2_000, Across: 1}

// The runs of a Bench against 3-D sessions on the same cells: what probes see, when and how it ends.
func TestBenchRunsAre3DRuns(t *testing.T) {
	ctx := context.Background()
	f, c := finder(t, ""), room(t, "23 °C ± 0.5 K")
	places := []string{"skin.back centre", "window.front centre"}
	b, err := NewBench(ctx, f, BenchOptions{Conditions: c, Places: places, Fineness: coarse, Seed: 3, Pairs: 8})
	if err != nil {
		t.Fatal(err)
	}
	shape, err := model.NewShape(f, nil, coarse)
	if err != nil {
		t.Fatal(err)
	}
	for k, at := range []float64{0, 0.8, -0.8} {
		z := make([]float64, b.Unknowns())
		for i := range z {
			z[i] = at * math.Cos(float64(3*i+1)) // some up, some down
		}
		got, err := b.Run(ctx, z)
		if err != nil {
			t.Fatal(err)
		}
		v := b.Values(z)
		m, err := shape.At(v, c, "")
		if err != nil {
			t.Fatal(err)
		}
		want, err := session.Run(ctx, m, session.Spec{Values: v, Bare: true, Watch: places})
		if err != nil {
			t.Fatal(err)
		}
		if got.Own.Kind != want.Own.Kind || math.Abs(got.Own.AtS/want.Own.AtS-1) > 0.04 {
			t.Errorf("run %d: %+v, in 3-D %+v", k, got.Own, want.Own)
		}
		if last := got.TimeS[len(got.TimeS)-1]; last > got.Own.AtS || last < 0.9*got.Own.AtS {
			t.Errorf("run %d: looked until %g s of %g s", k, last, got.Own.AtS)
		}
		for p, place := range places {
			series := -1
			for i := range want.Series {
				if want.Series[i].Name == place {
					series = i
				}
			}
			if series < 0 {
				t.Fatalf("no series %q", place)
			}
			at := 0
			for i, s := range want.TimeS {
				if s <= math.Min(got.Own.AtS, want.Own.AtS) {
					if d := got.read(p, s, &at) - want.Series[series].ValueK[i]; math.Abs(d) > 0.5 { // the reduced model's own error, and straight lines between samples
						t.Errorf("run %d, %s at %g s: %.2f K off", k, place, s, d)
					}
				}
			}
		}
	}
}

// What was learned together stays together: the prior made of draws has their means and covariance.
func TestPriorOfLearnedDraws(t *testing.T) {
	b := &Bench{}
	for _, name := range []string{"a", "b", "new"} {
		b.unknowns = append(b.unknowns, model.Unknown{Path: name, Prior: unit.Prior{Mid: 10, Lo: 10 - z90, Hi: 10 + z90}})
	}
	learned := []device.Values{{"a": 10, "b": 10}}
	for k := range 200 {
		x := math.Sin(float64(k)) * math.Sqrt2 // variance 1
		learned = append(learned, device.Values{"a": 11 + 0.3*x, "b": 9 - 0.3*x})
	}
	b.prior(learned)
	var z [3][]float64
	for i := range z {
		z[i] = make([]float64, 3)
		z[i][i] = 1
	}
	at := b.Values(make([]float64, 3))
	cov := func(p, q string) float64 { // Σ of the columns of L
		sum := 0.0
		for i := range z {
			v := b.Values(z[i])
			sum += (v[p] - at[p]) * (v[q] - at[q])
		}
		return sum
	}
	for _, tc := range []struct {
		name      string
		got, want float64
	}{
		{"mean of a", at["a"], 11}, {"mean of b", at["b"], 9}, {"mean of what was not learned", at["new"], 10},
		{"variance", cov("a", "a"), 0.09}, {"covariance", cov("a", "b"), -0.09}, {"variance of what was not learned", cov("new", "new"), 1}, {"none", cov("a", "new"), 0},
	} {
		if math.Abs(tc.got-tc.want) > 0.01 {
			t.Errorf("%s: %g, want %g", tc.name, tc.got, tc.want)
		}
	}
}

func TestPlaceThatIsNotThere(t *testing.T) {
	if _, err := NewBench(context.Background(), finder(t, ""), BenchOptions{Places: []string{"lid.front centre"}, Fineness: coarse}); err == nil {
		t.Error("a place on a part that is not there was taken")
	}
}
