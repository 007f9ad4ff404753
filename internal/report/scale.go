package report

import "math"

var (
	tens    = []float64{1, 2, 5}                 // steps of figures that count in tens
	minutes = []float64{1, 2, 5, 10, 15, 30, 60} // steps of minutes; beyond, hours in tens
)

// tickStep gives the smallest round step with which span needs at most n intervals; 0 when there is no span.
// Steps are the given ones, then (or, for minutes, below one and beyond an hour) decades of 1, 2, 5.
func tickStep(span float64, n int, steps []float64) float64 {
	if !finite(span) || span <= 0 {
		return 0
	}
	need := span / float64(n)
	if len(steps) > len(tens) {
		for _, s := range steps {
			if need > 0.5 && s >= need {
				return s
			}
		}
		if need > 60 {
			return 60 * tickStep(span/60, n, tens)
		}
	}
	for e := math.Floor(math.Log10(need)); ; e++ {
		for _, s := range tens {
			if st := s * math.Pow(10, e); st >= need*(1-1e-12) {
				return st
			}
		}
	}
}

// ceilTo gives the smallest whole number of steps not below x.
func ceilTo(x, step float64) float64 { return math.Ceil(x/step - 1e-9) }

// span is a range of values that grows as values are shown to it.
type span struct{ lo, hi float64 }

func emptySpan() span { return span{math.Inf(1), math.Inf(-1)} }

func (s *span) show(xs ...float64) {
	for _, x := range xs {
		if finite(x) {
			s.lo, s.hi = math.Min(s.lo, x), math.Max(s.hi, x)
		}
	}
}

func (s span) empty() bool { return !(s.lo <= s.hi) }

// rounded widens the span to whole steps, and to one step at the least.
func (s span) rounded(step float64) span {
	lo, hi := math.Floor(s.lo/step+1e-9)*step, math.Ceil(s.hi/step-1e-9)*step
	if hi <= lo {
		hi = lo + step
	}
	return span{lo, hi}
}

// share is where x lies in the span, 0 at lo and 1 at hi, kept inside.
func (s span) share(x float64) float64 {
	return math.Min(1, math.Max(0, (x-s.lo)/(s.hi-s.lo)))
}

// spread moves labels apart: given wanted positions in rising order it returns positions at least gap apart, inside
// lo..hi as far as they fit, each group of crowded labels centred on where it wants to be.
func apart(want []float64, gap, lo, hi float64) []float64 {
	type group struct {
		sum, pos float64 // sum of wanted starts, start of the first
		n        int
	}
	var gs []group
	place := func(g *group) {
		g.pos = g.sum/float64(g.n) - gap*float64(g.n-1)/2
		g.pos = math.Max(lo, math.Min(g.pos, hi-gap*float64(g.n-1)))
	}
	for _, w := range want {
		g := group{w, 0, 1}
		place(&g)
		for len(gs) > 0 && gs[len(gs)-1].pos+gap*float64(gs[len(gs)-1].n) > g.pos {
			last := gs[len(gs)-1]
			g.sum, g.n = g.sum+last.sum, g.n+last.n
			gs = gs[:len(gs)-1]
			place(&g)
		}
		gs = append(gs, g)
	}
	out := make([]float64, 0, len(want))
	for _, g := range gs {
		for i := 0; i < g.n; i++ {
			out = append(out, g.pos+gap*float64(i))
		}
	}
	return out
}

// uncross lets labels whose leaders cross change places. length tells how long the leader of label i would be to place k;
// swap exchanges labels i and i+1. Each exchange makes the leaders shorter, so this ends.
func uncross(n int, length func(i, k int) float64, swap func(i int)) {
	for again := true; again; {
		again = false
		for i := 0; i+1 < n; i++ {
			if length(i, i+1)+length(i+1, i) < length(i, i)+length(i+1, i+1)-1e-6 {
				swap(i)
				again = true
			}
		}
	}
}
