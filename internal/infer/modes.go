package infer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// modes sorts out where the starts ended: the best end, with the other modes beside it. Two ends are one mode when they are within one
// posterior standard deviation, or when the cost half way between them is no higher than at the worse of them. An end at the
// iteration limit is no mode, unless it is the best there is.
func (e *evaluator) modes(ctx context.Context, ends []*Result) (*Result, error) {
	slices.SortStableFunc(ends, func(a, b *Result) int {
		if (a.Cov == nil) != (b.Cov == nil) { // cancelled too early to know more than a place
			return map[bool]int{true: 1, false: -1}[a.Cov == nil]
		}
		return cmp.Compare(a.Cost, b.Cost)
	})
	found := ends[:1:1]
	found[0].Ended = 1
next:
	for _, r := range ends[1:] {
		if r.Status != Converged && r.Status != Stalled {
			found[0].Unfinished++
			continue
		}
		for _, m := range found {
			same, err := e.sameMode(ctx, m, r)
			if err != nil && !cancelled(ctx, err) {
				return nil, err
			}
			if same {
				m.Ended++
				continue next
			}
		}
		r.Ended = 1
		found = append(found, r)
	}
	found[0].Others = found[1:]
	return found[0], nil
}

func (e *evaluator) sameMode(ctx context.Context, a, b *Result) (bool, error) {
	middle := slices.Clone(a.Z)
	move := make([]float64, len(a.Z))
	for i := range middle {
		move[i] = b.Z[i] - a.Z[i]
		middle[i] += move[i] / 2
	}
	if min(a.distance2(move), b.distance2(move)) <= 1 {
		return true, nil
	}
	r, err := e.at(ctx, middle)
	if err != nil {
		return false, err
	}
	return e.cost(middle, r) <= max(a.Cost, b.Cost), nil
}

// distance2 is the squared length of a move in posterior standard deviations, dᵀ(JᵀJ + I)d.
func (r *Result) distance2(d []float64) float64 {
	sum := 0.0
	for _, v := range d {
		sum += v * v
	}
	if r.J != nil {
		var along mat.VecDense
		along.MulVec(r.J, mat.NewVecDense(len(d), d))
		sum += mat.Dot(&along, &along)
	}
	return sum
}

// ModeShares is about how probable each mode is, the result's own first and then its Others, together 1: Laplace's approximation
// exp(-cost) √det Cov of the probability around each. Where one-sided residuals or bounds cut a mode it is no more than a hint.
// Without a covariance it is 1 for the only mode.
func (r *Result) ModeShares() []float64 {
	out := []float64{1}
	if r.Cov == nil {
		return out
	}
	own, _ := mat.LogDet(r.Cov)
	sum := 1.0
	for _, o := range r.Others {
		ld, _ := mat.LogDet(o.Cov)
		w := math.Exp(r.Cost - o.Cost + (ld-own)/2)
		out = append(out, w)
		sum += w
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// ModesSentence tells where the starts ended, and which unknowns differ most between the modes: the names are the unknowns'. It is
// empty when there was one start.
func (r *Result) ModesSentence(names []string) string {
	ended := r.Ended
	for _, o := range r.Others {
		ended += o.Ended
	}
	if ended+r.Unfinished < 2 {
		return ""
	}
	unfinished := ""
	if r.Unfinished > 0 {
		unfinished = fmt.Sprintf("; %d more did not arrive anywhere", r.Unfinished)
	}
	if len(r.Others) == 0 {
		return fmt.Sprintf("all %d starts ended in the same place%s", ended, unfinished)
	}
	s := fmt.Sprintf("%d starts found %d different explanations", ended, len(r.Others)+1)
	shares := r.ModeShares()
	for k, o := range r.Others {
		far, at := 0.0, 0
		for i := range r.Z {
			if d := math.Abs(o.Z[i]-r.Z[i]) / math.Sqrt((r.Cov.At(i, i)+o.Cov.At(i, i))/2); d > far {
				far, at = d, i
			}
		}
		than := "lower"
		if o.Z[at] > r.Z[at] {
			than = "higher"
		}
		s += fmt.Sprintf("; number %d (about %s of the probability) differs most in %s, %s by %.1f of its standard deviations",
			k+2, percent(shares[k+1]), nameOf(names, at), than, far)
	}
	return s + unfinished
}

// percent writes a share for a sentence.
func percent(share float64) string {
	switch {
	case share < 0.001:
		return "less than 0.1 %"
	case share < 0.1:
		return fmt.Sprintf("%.1f %%", 100*share)
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

func nameOf(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return fmt.Sprintf("unknown %d", i+1)
}
