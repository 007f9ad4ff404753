package infer

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

var letters = []string{"A", "B", "C", "D", "E", "F"}

// What each set of observations leaves open is plain from its rows: a row [k k 0 ...] sees only the sum.
func TestConfounded(t *testing.T) {
	for _, tc := range []struct {
		name string
		n    int
		rows [][]float64
		want []string
	}{
		{"sum of a pair", 3, [][]float64{{10, 10, 0}, {0, 0, 5}}, []string{"only the sum of A and B is known"}},
		{"balance of a pair", 3, [][]float64{{0, 10, -10}}, []string{"only the balance of B against C is known"}},
		{"two pairs, equally well", 4, [][]float64{{10, 0, 10, 0}, {0, 10, 0, -10}},
			[]string{"only the sum of A and C is known", "only the balance of B against D is known"}},
		{"three together", 4, [][]float64{{9, 9, 0, 9}}, []string{"only the sum of A, B and D is known"}},
		{"two against one, another sees little", 4, [][]float64{{20, -20, 6, 20}}, []string{"only the balance of A and D against B is known"}},
		{"six together", 6, [][]float64{{9, 9, 9, 9, 9, 9}}, []string{"only the sum of A, B, C, D, E and F is known"}},
		{"one free course left of three", 3, [][]float64{{20, -20, 0}, {0, 20, -20}},
			[]string{"only the balance of A against B is known", "only the balance of B against C is known"}},
		{"both seen", 2, [][]float64{{10, 10}, {10, -10}}, nil},
		{"one seen also by itself", 2, [][]float64{{10, 10}, {10, 0}}, nil},
		{"nothing seen", 3, [][]float64{{0, 0, 0}}, nil},
		{"the sum seen poorly", 2, [][]float64{{0.5, 0.5}}, nil},
	} {
		a := mat.NewDense(len(tc.rows), tc.n, slices.Concat(tc.rows...))
		res := solve(t, affine(a, make([]float64, len(tc.rows))), Options{})
		var got []string
		for _, g := range Confounded(res, 0.9) {
			got = append(got, g.Sentence(letters))
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q, want %q\n%.3f", tc.name, got, tc.want, mat.Formatted(res.Cov))
		}
	}
}

// [k k]: the direction (1,1)/√2 has information 2k², so its sd is 1/√(1+2k²); each member keeps var (1+1/(1+2k²))/2 and their
// correlation is -(1 - 1/(1+2k²))/(1 + 1/(1+2k²)). By hand.
func TestGroupFigures(t *testing.T) {
	const k = 7.0
	v := 1 / (1 + 2*k*k)
	res := solve(t, affine(mat.NewDense(1, 2, []float64{k, k}), []float64{1}), Options{})
	groups := Confounded(res, 0.9)
	if len(groups) != 1 {
		t.Fatalf("%d groups", len(groups))
	}
	g := groups[0]
	if math.Abs(g.SD-math.Sqrt(v)) > 1e-9 || math.Abs(g.Correlation-(1-v)/(1+v)) > 1e-9 ||
		math.Abs(g.Weights[0]-1/math.Sqrt2) > 1e-9 || math.Abs(g.Weights[1]-1/math.Sqrt2) > 1e-9 {
		t.Errorf("%+v, want sd %g correlation %g", g, math.Sqrt(v), (1-v)/(1+v))
	}
	if got := g.Sentence(nil); got != "only the sum of unknown 1 and unknown 2 is known" {
		t.Errorf("without names: %q", got)
	}
}
