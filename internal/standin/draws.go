package standin

import (
	"hash/fnv"
	"math"
	"math/rand/v2"

	"finwright/internal/device"
	"finwright/internal/model"
)

// farthest is the standard score at which draws from priors are cut off.
const farthest = 3.0

// Draw gives draw k of some unknowns: what was learned together comes from one of the learned draws, so that designs stay
// comparable; what the stock runs never saw (a new bond line) comes from its prior, with a seed made of its path, so that it is
// the same in every design that has it. Draw 0 is the best value of everything. The first of the learned draws are the best
// values.
func Draw(unknowns []model.Unknown, learned []device.Values, best device.Values, k int) device.Values {
	v := make(device.Values, len(best)+len(unknowns))
	for p, x := range best {
		v[p] = x
	}
	if k == 0 {
		return v
	}
	var from device.Values
	if len(learned) > 0 {
		from = learned[0]
		if n := len(learned) - 1; n > 0 {
			from = learned[1+(k-1)%n]
		}
	}
	for _, u := range unknowns {
		if x, ok := from[u.Path]; ok {
			v[u.Path] = x
			continue
		}
		h := fnv.New64a()
		h.Write([]byte(u.Path))
		z := rand.New(rand.NewPCG(h.Sum64(), uint64(k))).NormFloat64()
		v[u.Path] = u.Prior.At(math.Max(-farthest, math.Min(farthest, z)))
	}
	return v
}

// Draws are draws 0 to n.
func Draws(unknowns []model.Unknown, learned []device.Values, best device.Values, n int) []device.Values {
	out := make([]device.Values, n+1)
	for k := range out {
		out[k] = Draw(unknowns, learned, best, k)
	}
	return out
}

// Scores are the draws in standard scores of the unknowns' priors, and which unknowns these are: those that vary over the draws.
func Scores(unknowns []model.Unknown, draws []device.Values) (scores [][]float64, of []model.Unknown) {
	scores = make([][]float64, len(draws))
	for _, u := range unknowns {
		lo, hi := math.Inf(1), math.Inf(-1)
		z := make([]float64, len(draws))
		for k, v := range draws {
			z[k] = math.Max(-2*farthest, math.Min(2*farthest, u.Prior.Score(v[u.Path])))
			lo, hi = math.Min(lo, z[k]), math.Max(hi, z[k])
		}
		if !(hi-lo > 1e-9) {
			continue
		}
		of = append(of, u)
		for k := range z {
			scores[k] = append(scores[k], z[k])
		}
	}
	return scores, of
}
