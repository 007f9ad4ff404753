package infer

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Narrowing is what an observation not yet made is expected to do to the doubt in an answer.
type Narrowing struct {
	BeforeSD float64 // of the answer now
	AfterSD  float64 // expected after the observation: square root of the mean variance
	// Part is the part of the answer's variance the observation takes away, 0 to 1, and its standard error from the number of draws.
	Part, PartSE float64
}

// ExpectedNarrowing is that of one more observation, or several made together: answer[d] is the answer at draw d, readings[k][d] what
// instrument k would then read without its own error, errorSD[k] that error, independent between readings. The draws are those of the
// unknowns as they are known now, independent. With c the covariance of answer and readings, S that of the readings,
//
//	variance taken away = cᵀ (S + diag errorSD²)⁻¹ c ,
//
// for one reading c²/(S + errorSD²). It is the preposterior variance of a linear Gaussian model (Raiffa & Schlaifer, Applied Statistical
// Decision Theory, 1961, part 3; Goldstein & Wooff, Bayes Linear Statistics, 2007, §3.1), and for any other what a decision
// linear in the readings gains: the expected posterior variance is never above AfterSD². The part is corrected for what as many
// readings of mere noise would seem to take away in so many draws.
//
// PartSE is by leaving out one tenth of the draws at a time (the grouped jackknife; Efron & Tibshirani, An Introduction to the Bootstrap,
// 1993, ch. 11).
func ExpectedNarrowing(answer []float64, readings [][]float64, errorSD []float64) (Narrowing, error) {
	if len(readings) == 0 || len(readings) != len(errorSD) {
		return Narrowing{}, fmt.Errorf("infer: %d readings with %d errors: there must be at least one, and one error for each", len(readings), len(errorSD))
	}
	if err := checkAnswer(answer, len(answer)); err != nil {
		return Narrowing{}, err
	}
	for k, r := range readings {
		if err := checkAnswer(r, len(answer)); err != nil {
			return Narrowing{}, fmt.Errorf("reading %d: %w", k+1, err)
		}
		if !(errorSD[k] > 0) || errorSD[k] > largest {
			return Narrowing{}, fmt.Errorf("infer: reading %d has an error of %g: it must be positive", k+1, errorSD[k])
		}
	}
	if n := len(answer); n < 10*len(readings) {
		return Narrowing{}, fmt.Errorf("infer: %d draws for %d readings: take ten for each at least", n, len(readings))
	}
	all := func(int) bool { return true }
	part, sd, err := partTaken(answer, readings, errorSD, all)
	if err != nil {
		return Narrowing{}, err
	}
	const parts = 10
	var left []float64
	for g := range parts {
		p, _, err := partTaken(answer, readings, errorSD, func(d int) bool { return d%parts != g })
		if err != nil {
			return Narrowing{}, err
		}
		left = append(left, p)
	}
	_, scatter := stat.MeanVariance(left, nil)
	return Narrowing{
		BeforeSD: sd, AfterSD: sd * math.Sqrt(1-part),
		Part: part, PartSE: math.Sqrt(scatter * (parts - 1) * (parts - 1) / parts),
	}, nil
}

// partTaken is cᵀ(S + E)⁻¹c / Var(answer), corrected, from the draws that use allows.
func partTaken(answer []float64, readings [][]float64, errorSD []float64, use func(d int) bool) (part, sd float64, err error) {
	m := len(readings)
	var points [][]float64
	for d, v := range answer {
		if use(d) {
			p := []float64{v}
			for k := range readings {
				p = append(p, readings[k][d]/errorSD[k]) // in units of its error: E = I
			}
			points = append(points, p)
		}
	}
	_, cov := meanCov(points)
	variance := cov.At(0, 0)
	if variance == 0 {
		return 0, 0, nil
	}
	s, c := mat.NewSymDense(m, nil), mat.NewVecDense(m, nil)
	for i := range m {
		c.SetVec(i, cov.At(0, i+1))
		for k := i; k < m; k++ {
			s.SetSym(i, k, cov.At(i+1, k+1))
		}
	}
	with := mat.NewSymDense(m, nil)
	with.CopySym(s)
	for i := range m {
		with.SetSym(i, i, s.At(i, i)+1)
	}
	var chol mat.Cholesky
	var x mat.VecDense
	var inverse mat.SymDense
	if !chol.Factorize(with) || poorOnly(chol.SolveVecTo(&x, c)) != nil || poorOnly(chol.InverseTo(&inverse)) != nil {
		return 0, 0, errors.New("infer: the readings differ too much in size to be weighed together: check their errors")
	}
	raw := mat.Dot(c, &x) / variance
	// An answer that has nothing to do with the readings has chance covariances c with mean of ccᵀ = Var(answer)·S/(n-1): of the variance
	// they seem to take trace((S+I)⁻¹S)/(n-1); of one tied to them, so much of what is left.
	noise := 0.0
	for i := range m {
		for k := range m {
			noise += inverse.At(i, k) * s.At(k, i)
		}
	}
	noise /= float64(len(points) - 1)
	return min(1, max(0, (raw-noise)/(1-noise))), math.Sqrt(variance), nil
}
