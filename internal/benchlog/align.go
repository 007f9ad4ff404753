package benchlog

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/unit"
)

// Alignment puts the clock of one log on that of another: time there = OffsetS + Rate · time here.
type Alignment struct {
	OffsetS     float64
	Rate        float64 // 1.01: the other's clock gains 1 %
	Explained   float64 // share of the variance of one curve that the other explains, over what they have in common
	RateTellsBy float64 // half width of the rates that explain nearly as much: the misfit is at most twice the least
}

func (a Alignment) String() string {
	s := fmt.Sprintf("the second log is moved by %s", unit.Format(a.OffsetS, unit.Time))
	if math.Abs(a.Rate-1) > a.RateTellsBy {
		s += fmt.Sprintf(" and its clock stretched by %+.2f %%", (a.Rate-1)*100)
	}
	return s + fmt.Sprintf("; the curves then share %.1f %% of their variance", a.Explained*100)
}

// Apply puts a trace of the second log on the clock of the first.
func (a Alignment) Apply(tr Trace) Trace {
	out := Trace{TimeS: make([]float64, len(tr.TimeS)), ValueK: append([]float64(nil), tr.ValueK...)}
	for i, t := range tr.TimeS {
		out.TimeS[i] = a.OffsetS + a.Rate*t
	}
	return out
}

// The bounds of Align. Drifts of 1 % were seen in cheap loggers and 16 % with a weak cell; 5 % is looked for.
const (
	alignPoints  = 400
	alignRate    = 0.05
	alignOverlap = 0.4 // of the shorter log
	alignLeast   = 0.9 // share of variance below which the curves have nothing in common
)

// Align finds how the clock of b must be moved and stretched so that b's curve, up to a factor and a constant of its own, is
// that of a: least squares over offset and rate, the factor and the constant eliminated. The two must have seen the same
// events (a switch-on, a stop); a curve without a bend says nothing about the rate, which RateTellsBy tells.
func Align(a, b Trace) (Alignment, error) {
	if len(a.TimeS) < 5 || len(b.TimeS) < 5 {
		return Alignment{}, fmt.Errorf("two logs can be aligned if each has at least 5 readings; they have %d and %d", len(a.TimeS), len(b.TimeS))
	}
	spanA, spanB := a.TimeS[len(a.TimeS)-1]-a.TimeS[0], b.TimeS[len(b.TimeS)-1]-b.TimeS[0]
	if !(spanA > 0) || !(spanB > 0) {
		return Alignment{}, fmt.Errorf("two logs can be aligned if both have some length")
	}
	common := math.Min(spanA, spanB)
	// The middle of b is where offset and rate disturb each other least.
	midB := (b.TimeS[0] + b.TimeS[len(b.TimeS)-1]) / 2
	misfit := func(midA, rate float64) float64 {
		lo := math.Max(a.TimeS[0], midA+rate*(b.TimeS[0]-midB))
		hi := math.Min(a.TimeS[len(a.TimeS)-1], midA+rate*(b.TimeS[len(b.TimeS)-1]-midB))
		if hi-lo < alignOverlap*common {
			return math.Inf(1)
		}
		var n, sx, sy, sxx, sxy, syy float64
		for k := 0; k <= alignPoints; k++ {
			t := lo + (hi-lo)*float64(k)/alignPoints
			x, y := b.at(midB+(t-midA)/rate), a.at(t)
			n++
			dx, dy := x-sx, y-sy // running means in sx, sy (Welford)
			sx += dx / n
			sy += dy / n
			sxx += dx * (x - sx)
			sxy += dx * (y - sy)
			syy += dy * (y - sy)
		}
		if sxx <= 0 || syy <= 1e-4*n || sxy <= 0 {
			return 1
		}
		return math.Max(0, 1-sxy*sxy/(sxx*syy))
	}
	best, bestMid, bestRate := math.Inf(1), 0.0, 1.0
	try := func(mid, rate float64) {
		if m := misfit(mid, rate); m < best {
			best, bestMid, bestRate = m, mid, rate
		}
	}
	const steps = 240
	for i := 0; i <= steps; i++ {
		mid := a.TimeS[0] - spanB/2 + (spanA+spanB)*float64(i)/steps
		for k := -2; k <= 2; k++ {
			try(mid, 1+alignRate*float64(k)/2)
		}
	}
	dMid, dRate := 2*(spanA+spanB)/steps, alignRate/2
	for round := 0; round < 80 && dMid > 1e-3 && !math.IsInf(best, 1); round++ {
		mid0, rate0 := bestMid, bestRate
		for i := -3; i <= 3; i++ {
			for k := -3; k <= 3; k++ {
				try(mid0+dMid*float64(i)/3, math.Min(math.Max(rate0+dRate*float64(k)/3, 1-alignRate), 1+alignRate))
			}
		}
		// Offset and rate make up for each other along a narrow valley: as long as the best lies at the edge, the search moves on.
		if math.Abs(bestMid-mid0) < 0.9*dMid && math.Abs(bestRate-rate0) < 0.9*dRate {
			dMid, dRate = dMid*0.6, dRate*0.6
		}
	}
	if 1-best < alignLeast {
		return Alignment{}, fmt.Errorf("the two logs have no curve in common: at best %.0f %% of the variance of one is explained by the other; name the columns that saw the same switch-on", math.Max(0, 1-best)*100)
	}
	al := Alignment{OffsetS: bestMid - bestRate*midB, Rate: bestRate, Explained: 1 - best}
	for _, sign := range []float64{-1, 1} {
		d := 1e-4
		for ; d < alignRate; d *= 1.3 {
			least := math.Inf(1)
			for k := -40; k <= 40; k++ {
				least = math.Min(least, misfit(bestMid+common*0.1*float64(k)/40, bestRate+sign*d))
			}
			if least > 2*best+1e-6 {
				break
			}
		}
		al.RateTellsBy = math.Max(al.RateTellsBy, d)
	}
	return al, nil
}

// at interpolates a trace; outside it, its ends.
func (tr Trace) at(tS float64) float64 {
	i := sort.SearchFloat64s(tr.TimeS, tS)
	switch {
	case i == 0:
		return tr.ValueK[0]
	case i == len(tr.TimeS):
		return tr.ValueK[i-1]
	}
	t0, t1 := tr.TimeS[i-1], tr.TimeS[i]
	if t1 == t0 {
		return tr.ValueK[i]
	}
	return tr.ValueK[i-1] + (tr.ValueK[i]-tr.ValueK[i-1])*(tS-t0)/(t1-t0)
}
