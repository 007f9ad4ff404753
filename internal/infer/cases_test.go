package infer

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// affine returns residuals A·z - b.
func affine(a *mat.Dense, b []float64) Problem {
	m, n := a.Dims()
	return Problem{N: n, M: m, Residuals: func(_ context.Context, z, dst []float64) error {
		y := mat.NewVecDense(m, dst)
		y.MulVec(a, mat.NewVecDense(n, append([]float64(nil), z...)))
		for i := range b {
			dst[i] -= b[i]
		}
		return nil
	}}
}

// network is two heat capacities in a row against the ambient, C1 - R12 - C2 - R2a, powerW into the first. It returns the two
// temperature rises at tS by the matrix exponential, T = T∞ - e^{At} T∞.
type network struct{ c1JK, c2JK, r12KW, r2aKW float64 }

func (w network) riseK(powerW, tS float64) [2]float64 {
	g12, g2a := 1/w.r12KW, 1/w.r2aKW
	at := mat.NewDense(2, 2, []float64{-g12 / w.c1JK * tS, g12 / w.c1JK * tS, g12 / w.c2JK * tS, -(g12 + g2a) / w.c2JK * tS})
	var e mat.Dense
	e.Exp(at)
	end := [2]float64{powerW * (w.r12KW + w.r2aKW), powerW * w.r2aKW}
	return [2]float64{end[0] - e.At(0, 0)*end[0] - e.At(0, 1)*end[1], end[1] - e.At(1, 0)*end[0] - e.At(1, 1)*end[1]}
}

// Rises of both nodes at 3 W with C1 50, C2 150 J/K, R12 2, R2a 5 K/W: computed by matrix exponential with a general-purpose
// numerical library outside this program, to the five digits given.
var (
	networkTrue = network{50, 150, 2, 5}
	networkS    = []float64{60, 300, 900, 1800, 3600}
	networkK    = [][2]float64{{2.75747, 0.27305}, {7.59050, 2.96127}, {13.55233, 8.27755}, {17.89959, 12.20149}, {20.46270, 14.51502}}
)

func TestNetworkIsThePublishedOne(t *testing.T) {
	for i, tS := range networkS {
		got := networkTrue.riseK(3, tS)
		for k := range got {
			if math.Abs(got[k]-networkK[i][k]) > 6e-6 { // half the last digit, and a little for its own rounding
				t.Errorf("%g s, node %d: %.6f K, reference %.5f K", tS, k+1, got[k], networkK[i][k])
			}
		}
	}
}

// networkProblem learns the four constants from the curve, each seen with sigmaK. Prior: log-normal, a factor 1.5 at one sd, its middle
// 20 to 40 % off.
func networkProblem(sigmaK float64) (p Problem, at func(z []float64) network) {
	at = func(z []float64) network {
		f := func(mid, z float64) float64 { return mid * math.Pow(1.5, z) }
		return network{f(70, z[0]), f(120, z[1]), f(1.5, z[2]), f(6.5, z[3])}
	}
	p = Problem{N: 4, M: 2 * len(networkS), Residuals: func(_ context.Context, z, dst []float64) error {
		w := at(z)
		for i, tS := range networkS {
			for k, k2 := range w.riseK(3, tS) {
				dst[2*i+k] = (k2 - networkK[i][k]) / sigmaK
			}
		}
		return nil
	}}
	return p, at
}
