package infer

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// Group is a set of unknowns the data cannot tell apart: each stays doubtful, one combination of them is known.
type Group struct {
	Members []int     // indices of the unknowns, ascending
	Weights []float64 // the known combination Σ Weights[k]·z[Members[k]], unit length, the first positive
	SD      float64   // posterior sd of that combination; before the data it was 1
	// Correlation is 1 - SD² / Σ Weights²·var: how much smaller the combination's variance is than it would be if the members'
	// doubts were independent. For two equally doubtful members it is the size of their posterior correlation.
	Correlation float64
}

const (
	doubtful   = 0.4  // posterior sd, in prior sd, above which an unknown counts as not learned
	comparable = 0.35 // share of the largest weight that makes a member
	related    = 0.1  // posterior correlation that can be part of a larger group: 1/(m-1) for a known sum of m unknowns
)

// Confounded finds the groups whose known combination has a Correlation above threshold (0.9 is usual) while every member keeps
// more than 0.4 of its prior standard deviation. Pairs come first, strongest first, then larger groups of the unknowns left over, found
// as the best-known directions (the eigenvectors of the data's information JᵀJ, which are those of Cov) of each related set.
// Without a covariance there are none.
func Confounded(res *Result, threshold float64) []Group {
	if res == nil || res.Cov == nil {
		return nil
	}
	return confounded(res.Cov, threshold, related)
}

// Confounded is the same from the covariance of the sampled posterior. There correlations carry Monte Carlo noise of about 1/√ESS, and
// three times that is needed for two unknowns to be thought related. Without a sample there are none.
func (p *Posterior) Confounded(threshold float64) []Group {
	if p.Cov == nil {
		return nil
	}
	return confounded(p.Cov, threshold, max(related, 3/math.Sqrt(slices.Min(p.ESS))))
}

func confounded(cov *mat.SymDense, threshold, related float64) []Group {
	n := cov.SymmetricDim()
	corr := func(i, k int) float64 {
		return cov.At(i, k) / math.Sqrt(cov.At(i, i)*cov.At(k, k))
	}
	var loose []int
	for i := range n {
		if math.Sqrt(cov.At(i, i)) > doubtful {
			loose = append(loose, i)
		}
	}

	var pairs []Group
	for a, i := range loose {
		for _, k := range loose[a+1:] {
			if math.Abs(corr(i, k)) > threshold {
				if g, ok := known(cov, []int{i, k}); ok {
					g.Correlation = math.Abs(corr(i, k))
					pairs = append(pairs, g)
				}
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b Group) int { return cmp.Compare(b.Correlation, a.Correlation) })
	// A with B and B with C already say A with C.
	var groups []Group
	sets := newSets(n)
	paired := make([]bool, n)
	for _, g := range pairs {
		i, k := g.Members[0], g.Members[1]
		if sets.join(i, k) {
			groups = append(groups, g)
		}
		paired[i], paired[k] = true, true
	}

	loose = slices.DeleteFunc(loose, func(i int) bool { return paired[i] })
	sets = newSets(n)
	for a, i := range loose {
		for _, k := range loose[a+1:] {
			if math.Abs(corr(i, k)) > related {
				sets.join(i, k)
			}
		}
	}
	for _, i := range loose {
		if sets.find(i) != i {
			continue
		}
		var set []int
		for _, k := range loose {
			if sets.find(k) == i {
				set = append(set, k)
			}
		}
		for rest := set; len(set) > 2; {
			g, ok := known(cov, set)
			if !ok {
				break
			}
			largest := 0.0
			for _, w := range g.Weights {
				largest = max(largest, math.Abs(w))
			}
			var main []int
			for m, w := range g.Weights {
				if math.Abs(w) >= comparable*largest {
					main = append(main, g.Members[m])
				}
			}
			if len(main) < len(set) {
				set = main // those beside the direction go; look again at the rest
				continue
			}
			if g.Correlation <= threshold {
				break
			}
			groups = append(groups, g)
			// Chance correlations can have tied two groups together: the others are looked at again without this one.
			rest = slices.DeleteFunc(rest, func(k int) bool { return slices.Contains(g.Members, k) })
			set = rest
		}
	}
	return groups
}

// known is the best-known combination of a set: the eigenvector of its covariance with the least eigenvalue.
func known(cov *mat.SymDense, set []int) (Group, bool) {
	sub := mat.NewSymDense(len(set), nil)
	for a, i := range set {
		for b := a; b < len(set); b++ {
			sub.SetSym(a, b, cov.At(i, set[b]))
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sub, true) {
		return Group{}, false
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	least := max(0, eig.Values(nil)[0])
	g := Group{Members: slices.Clone(set), SD: math.Sqrt(least)}
	sign := 1.0
	if v.At(0, 0) < 0 {
		sign = -1
	}
	apart := 0.0
	for a := range set {
		w := sign * v.At(a, 0)
		g.Weights = append(g.Weights, w)
		apart += w * w * sub.At(a, a)
	}
	g.Correlation = 1 - least/apart
	return g, true
}

// Sentence puts the group into words with the unknowns' names, for the middle of a sentence: "only the sum of A and B is known". Sum
// and balance are those of the scores: for positive quantities with a log-normal prior, of their logarithms.
func (g Group) Sentence(names []string) string {
	var plus, minus []string
	for k, i := range g.Members {
		name := nameOf(names, i)
		if g.Weights[k] >= 0 {
			plus = append(plus, name)
		} else {
			minus = append(minus, name)
		}
	}
	if len(minus) == 0 {
		return "only the sum of " + list(plus) + " is known"
	}
	return "only the balance of " + list(plus) + " against " + list(minus) + " is known"
}

func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// sets joins indices into disjoint sets, each named by its least member.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) find(i int) int {
	for s[i] != i {
		i = s[i]
	}
	return i
}

// join puts a and b into one set and tells whether they were apart.
func (s sets) join(a, b int) bool {
	a, b = s.find(a), s.find(b)
	s[max(a, b)] = min(a, b)
	return a != b
}
