package infer

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Share is one unknown's part in the variance of an answer.
type Share struct {
	Unknown int
	// First is Var(E[answer | unknown]) / Var(answer), the first-order Sobol index: the part of the variance that would go, on average, if
	// this unknown alone became known, with all that it then says about unknowns it is tied to.
	First, FirstSE float64
	// Total is E[Var(answer | all others)] / Var(answer), the total Sobol index: the part that would stay if all the others became
	// known. It is above First where the unknown acts together with others, below it where others say the same.
	Total, TotalSE float64
}

// Shares is the variance of an answer split among the unknowns, the largest First first.
type Shares struct {
	Mean, SD float64 // of the answer
	Of       []Share
	// Unexplained is the part of the variance that no smooth function of the unknowns, alone and in pairs, was found to explain. The
	// totals leave it out: they may be too low by so much.
	Unexplained float64
	// Overlap tells that the first-order shares do not simply add up to what is explained: unknowns are tied to each other or act together.
	// The totals then matter too.
	Overlap bool
}

const (
	resamples   = 60  // of the bootstrap: its standard errors are known to about 9 %
	leastDraws  = 30  // for any shares
	leastPer    = 5   // draws for each term of the joint fit
	mostTerms   = 100 // of the joint fit
	bendTerms   = 9   // of one unknown
	pairTerms   = 3   // of each of two unknowns that are multiplied
	pairByLuck  = 0.01
	overlapPart = 0.1 // of the variance
)

// VarianceShares splits the variance of an answer, given its value at each draw of the unknowns, from those values alone. draws[d] are the
// scores of draw d; the draws are independent and from any distribution. Standard errors are by bootstrap (Efron, Annals of
// Statistics 7 (1979)), the same for a seed.
//
// First-order indices are the variance of a regression of the answer on functions of one unknown: its powers to the third, then
// cosines of its rank (Plischke, Environmental Modelling & Software 35 (2012)), as many terms as the corrected Akaike criterion wants,
// corrected for what as many terms fit of mere noise. Totals are what is lost when an unknown's terms and its products with others
// leave a joint regression. Both hold for answers that bend smoothly; see Unexplained.
//
// The indices: Sobol', Math. Comput. Simul. 55 (2001); Homma & Saltelli, Reliab. Eng. Syst. Saf. 52 (1996).
func VarianceShares(draws [][]float64, answer []float64, seed uint64) (*Shares, error) {
	if err := checkDraws(draws); err != nil {
		return nil, err
	}
	if err := checkAnswer(answer, len(draws)); err != nil {
		return nil, err
	}
	mean, variance := stat.MeanVariance(answer, nil)
	s := &Shares{Mean: mean, SD: math.Sqrt(variance)}
	n := len(draws[0])
	for i := range n {
		s.Of = append(s.Of, Share{Unknown: i})
	}
	if s.SD <= 1e-12*math.Abs(mean) {
		s.SD = 0 // nothing to split
		return s, nil
	}
	y := make([]float64, len(answer))
	for d, v := range answer {
		y[d] = (v - mean) / s.SD
	}
	bends := make([][][]float64, n)
	alone := make([]regression, n)
	for i := range n {
		bends[i] = bend(draws, i)
		alone[i] = regression{y: y, x: bends[i][:wanted(bends[i], y)]}
	}
	joint, members := fitJoint(bends, alone, y)
	indices := func(times []float64) (first, total []float64, rest float64) {
		for i := range alone {
			left, _ := alone[i].unexplained(times, nil)
			first = append(first, 1-left)
		}
		rest, without := joint.unexplained(times, members)
		for _, left := range without {
			total = append(total, max(0, left-rest))
		}
		return first, total, rest
	}
	once := make([]float64, len(y))
	for d := range once {
		once[d] = 1
	}
	first, total, rest := indices(once)
	s.Unexplained = rest
	sum := 0.0
	for i := range n {
		s.Of[i].First, s.Of[i].Total = first[i], total[i]
		sum += first[i]
	}
	s.Overlap = math.Abs(sum-(1-rest)) > overlapPart

	rng := newRand(seed)
	firsts, totals := make([][]float64, n), make([][]float64, n)
	for range resamples {
		f, t, _ := indices(resample(rng, len(y)))
		for i := range n {
			firsts[i], totals[i] = append(firsts[i], f[i]), append(totals[i], t[i])
		}
	}
	for i := range n {
		_, vf := stat.MeanVariance(firsts[i], nil)
		_, vt := stat.MeanVariance(totals[i], nil)
		s.Of[i].FirstSE, s.Of[i].TotalSE = math.Sqrt(vf), math.Sqrt(vt)
	}
	slices.SortStableFunc(s.Of, func(a, b Share) int {
		return cmp.Or(cmp.Compare(b.First, a.First), cmp.Compare(b.Total, a.Total))
	})
	return s, nil
}

// checkDraws reports draws that cannot be used.
func checkDraws(draws [][]float64) error {
	if len(draws) < leastDraws {
		return fmt.Errorf("infer: %d draws are too few to split a variance: take at least %d", len(draws), leastDraws)
	}
	for d, z := range draws {
		if len(z) == 0 || len(z) != len(draws[0]) {
			return fmt.Errorf("infer: draw %d has %d unknowns, draw 1 has %d", d+1, len(z), len(draws[0]))
		}
		for i, v := range z {
			if !(math.Abs(v) <= largest) {
				return fmt.Errorf("infer: unknown %d is %g in draw %d: leave that draw out", i+1, v, d+1)
			}
		}
	}
	return nil
}

// checkAnswer reports answers that cannot be used with so many draws.
func checkAnswer(answer []float64, draws int) error {
	if draws < leastDraws {
		return fmt.Errorf("infer: %d draws are too few to split a variance: take at least %d", draws, leastDraws)
	}
	if len(answer) != draws {
		return fmt.Errorf("infer: %d values for %d draws: there must be one for each", len(answer), draws)
	}
	for d, v := range answer {
		if !(math.Abs(v) <= largest) {
			return fmt.Errorf("infer: the value at draw %d is %g: leave that draw out", d+1, v)
		}
	}
	return nil
}

// resample is how often each of n draws comes in n picks of them.
func resample(rng *rand.Rand, n int) []float64 {
	times := make([]float64, n)
	for range n {
		times[rng.IntN(n)]++
	}
	return times
}

// bend is the functions of unknown i at the draws that an answer may follow, orthonormal and without mean: made of its powers to the
// third, then of cos(kπu), u its rank over 0 to 1. An unknown that does not vary has none.
func bend(draws [][]float64, i int) [][]float64 {
	z := make([]float64, len(draws))
	for d := range draws {
		z[d] = draws[d][i]
	}
	mean, variance := stat.MeanVariance(z, nil)
	if math.Sqrt(variance) <= 1e-12*math.Abs(mean) {
		return nil
	}
	order := make([]int, len(z))
	for d := range order {
		order[d] = d
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(z[a], z[b]) })
	u := make([]float64, len(z))
	for place, d := range order {
		u[d] = (float64(place) + 0.5) / float64(len(z))
	}
	var out [][]float64
	for k := range bendTerms {
		c := make([]float64, len(z))
		for d := range z {
			if k < 3 {
				c[d] = math.Pow((z[d]-mean)/math.Sqrt(variance), float64(k+1))
			} else {
				c[d] = math.Cos(float64(k-2) * math.Pi * u[d])
			}
		}
		if c = aside(c, out); c != nil {
			out = append(out, c)
		}
	}
	return out
}

// aside is what a column has to itself beside the constant and orthonormal columns, of unit length; nil if nothing. Gram-Schmidt, done
// twice. It overwrites c.
func aside(c []float64, from [][]float64) []float64 {
	before := floats.Dot(c, c)
	for range 2 {
		mean := 0.0
		for _, v := range c {
			mean += v / float64(len(c))
		}
		for d := range c {
			c[d] -= mean
		}
		for _, q := range from {
			takeOut(c, q)
		}
	}
	size := math.Sqrt(floats.Dot(c, c))
	if size <= 1e-6*math.Sqrt(before) {
		return nil
	}
	for d := range c {
		c[d] /= size
	}
	return c
}

// takeOut takes the part of c along the unit column q out of it.
func takeOut(c, q []float64) {
	along := floats.Dot(c, q)
	for d := range c {
		c[d] -= along * q[d]
	}
}

// wanted is how many of an unknown's terms the corrected Akaike criterion n ln(RSS) + 2p + 2p(p+1)/(n-p-1) wants (Hurvich & Tsai,
// Biometrika 76 (1989)): none, 1, 2, 3 or all.
func wanted(terms [][]float64, y []float64) int {
	n := float64(len(y))
	best, least := 0, math.Inf(1)
	rest := floats.Dot(y, y)
	for count := range len(terms) + 1 {
		if count > 0 {
			along := floats.Dot(y, terms[count-1])
			rest -= along * along
		}
		if count > 3 && count < len(terms) {
			continue
		}
		p := float64(count + 2) // with the mean and the scatter
		if aic := n*math.Log(max(rest, 1e-12*n)) + 2*p + 2*p*(p+1)/(n-p-1); aic < least {
			best, least = count, aic
		}
	}
	return best
}

// regression is a least-squares fit of y by a constant and columns x, one value each per draw.
type regression struct {
	x [][]float64
	y []float64
}

// unexplained is the share of the variance of y the fit leaves, corrected for its terms, RSS/TSS · (n-1)/(n-1-p), with draw d counted
// times[d]; and the same without each set of columns. Leaving out the columns S of a fit with normal matrix A and coefficients b adds
// b_Sᵀ((A⁻¹)_SS)⁻¹b_S to RSS.
func (r *regression) unexplained(times []float64, sets [][]int) (rest float64, without []float64) {
	n, p := float64(len(times)), len(r.x)
	without = make([]float64, len(sets))
	weigh := func(x []float64) []float64 { // and centre
		mean := floats.Dot(times, x) / n
		out := make([]float64, len(x))
		for d, v := range x {
			out[d] = math.Sqrt(times[d]) * (v - mean)
		}
		return out
	}
	y := weigh(r.y)
	total := floats.Dot(y, y)
	share := func(rss float64, p int) float64 {
		return min(1, max(0, rss/total*(n-1)/(n-1-float64(p))))
	}
	nothing := func() (float64, []float64) {
		for i := range without {
			without[i] = 1
		}
		return 1, without
	}
	if p == 0 || total == 0 {
		return nothing()
	}
	x := make([][]float64, p)
	for i, c := range r.x {
		x[i] = weigh(c)
	}
	a, b := mat.NewSymDense(p, nil), mat.NewVecDense(p, nil)
	for i := range p {
		for k := i; k < p; k++ {
			a.SetSym(i, k, floats.Dot(x[i], x[k]))
		}
		a.SetSym(i, i, a.At(i, i)*(1+1e-9)+1e-12) // tied unknowns can have the same column
		b.SetVec(i, floats.Dot(x[i], y))
	}
	var chol mat.Cholesky
	var coef mat.VecDense
	var inverse mat.SymDense
	if !chol.Factorize(a) || poorOnly(chol.SolveVecTo(&coef, b)) != nil || poorOnly(chol.InverseTo(&inverse)) != nil {
		return nothing()
	}
	rss := total - mat.Dot(&coef, b)
	for at, set := range sets {
		more := 0.0
		if len(set) > 0 {
			sub, own := mat.NewSymDense(len(set), nil), mat.NewVecDense(len(set), nil)
			for i, s := range set {
				own.SetVec(i, coef.AtVec(s))
				for k := i; k < len(set); k++ {
					sub.SetSym(i, k, inverse.At(s, set[k]))
				}
			}
			var c mat.Cholesky
			var v mat.VecDense
			if c.Factorize(sub) && poorOnly(c.SolveVecTo(&v, own)) == nil {
				more = mat.Dot(own, &v)
			}
		}
		without[at] = share(rss+more, p-len(set))
	}
	return share(rss, p), without
}

// fitJoint is the regression on the terms of all unknowns together, and on those products of two unknowns' terms that what the
// others leave of y follows more closely than the best of so many would by luck. members are each unknown's columns. Where there are too
// few draws for all, the higher terms stay out.
func fitJoint(bends [][][]float64, alone []regression, y []float64) (r regression, members [][]int) {
	r.y = y
	members = make([][]int, len(bends))
	room := min(mostTerms, len(y)/leastPer)
	add := func(c []float64, of ...int) {
		if len(r.x) == room {
			return
		}
		for _, i := range of {
			members[i] = append(members[i], len(r.x))
		}
		r.x = append(r.x, c)
	}
	for k := range bendTerms {
		for i, b := range bends {
			if k < len(alone[i].x) || k == 0 && len(b) > 0 { // the first even where it shows nothing by itself: another may hide it
				add(b[k], i)
			}
		}
	}
	left := slices.Clone(y)
	var basis [][]float64
	for _, c := range r.x {
		if c = aside(slices.Clone(c), basis); c != nil {
			basis = append(basis, c)
			takeOut(left, c)
		}
	}
	size := math.Sqrt(floats.Dot(left, left))
	if size <= 1e-6*math.Sqrt(float64(len(y))) {
		return r, members // nothing is left for products
	}
	type product struct {
		i, a, k, b int
		follows    float64 // correlation with what is left, in size
	}
	column := func(p product) []float64 {
		c := make([]float64, len(y))
		for d := range c {
			c[d] = bends[p.i][p.a][d] * bends[p.k][p.b][d]
		}
		return aside(c, nil)
	}
	var products []product
	for i := range bends {
		for k := range i {
			for a := range min(pairTerms, len(bends[i])) {
				for b := range min(pairTerms, len(bends[k])) {
					p := product{i: i, a: a, k: k, b: b}
					if c := column(p); c != nil {
						p.follows = math.Abs(floats.Dot(c, left)) / size
						products = append(products, p)
					}
				}
			}
		}
	}
	slices.SortStableFunc(products, func(a, b product) int { return cmp.Compare(b.follows, a.follows) })
	for _, p := range products {
		// follows·√n is about a standard normal, in size, for a product that says nothing.
		if p.follows*math.Sqrt(float64(len(y))) > distuv.UnitNormal.Quantile(1-pairByLuck/2/float64(len(products))) {
			add(column(p), p.i, p.k)
		}
	}
	return r, members
}

// Sentence names the unknowns that make up most of the doubt in an answer: "of the variance of the minutes, 62 % (± 3) comes from the
// power".
func (s *Shares) Sentence(answer string, names []string) string {
	if s.SD == 0 {
		return "these unknowns leave no doubt in " + answer
	}
	var parts []string
	for _, of := range s.Of {
		if of.First < 2*of.FirstSE || of.First < 0.02 || len(parts) == 4 {
			break
		}
		parts = append(parts, fmt.Sprintf("%.0f %% (± %.0f) from %s", 100*of.First, 100*of.FirstSE, nameOf(names, of.Unknown)))
	}
	if len(parts) == 0 {
		return "no single unknown stands out in the variance of " + answer
	}
	out := "of the variance of " + answer + " comes " + list(parts)
	if s.Overlap {
		out += "; these parts do not simply add up, as some unknowns are tied together or act together"
	}
	return out
}
