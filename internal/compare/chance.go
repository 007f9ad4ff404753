package compare

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"finwright/internal/infer"
	"finwright/internal/session"
	"finwright/internal/standin"
)

const (
	// confirmed is how many draws are made in 3-D as well: those at a tenth and at nine tenths of the headroom, where a chance
	// of nine in ten is decided.
	confirmed = 2
	// sure is the chance that counts as enough.
	sure = 0.9
	// leastDraws is from how many draws on shares and the warmest air are told.
	leastDraws = 30
)

// ask makes draws from to to.
func (d *design) ask(ctx context.Context, from, to int) {
	for k := from; k < to; k++ {
		d.airK[k] = math.NaN()
		o, err := d.standin.Ask(ctx, d.standin.Draws[k])
		if err != nil {
			continue // counted by how many are there
		}
		d.outcomes[k] = o
		if d.standin.HasAir() {
			if t, err := d.standin.WarmestAir(ctx, d.standin.Draws[k], o); err == nil {
				d.airK[k] = t
			}
		}
	}
}

// byHeadroom are the draws that were made, the least headroom first.
func (d *design) byHeadroom() []int {
	var out []int
	for k := 1; k < len(d.outcomes); k++ {
		if d.outcomes[k] != nil {
			out = append(out, k)
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return d.outcomes[out[a]].HeadroomK < d.outcomes[out[b]].HeadroomK })
	return out
}

// toConfirm are the draws to make in 3-D.
func (d *design) toConfirm() []int {
	d.confirm = make([]*standin.Outcome, len(d.outcomes))
	order := d.byHeadroom()
	if len(order) < leastDraws || math.IsInf(d.outcomes[order[0]].HeadroomK, 0) {
		return nil
	}
	return []int{order[len(order)/10], order[len(order)*9/10]}
}

// empty is a row of which nothing is known yet.
func (row *Row) empty(name string) {
	nan := math.NaN()
	none := Spread{nan, nan, nan}
	*row = Row{Name: name, Minutes: none, SkinC: none, MarginK: none, HeadroomK: none, Chance: nan, ChanceLo: nan, ChanceHi: nan,
		SureUpToC: nan, MassAddedKg: nan, WattLessMin: nan, WattLessK: nan, OffK: nan}
	if name == "" {
		row.Name = "stock"
	}
}

// fill takes the row from the fine run and the draws.
func (d *design) fill(row *Row, seed uint64) {
	row.EndKinds = map[session.EndKind]int{}
	var minutes, skin, margin, headroom []float64
	lasted := 0
	order := d.byHeadroom()
	for k := 1; k < len(d.outcomes); k++ {
		o := d.outcomes[k]
		if o == nil {
			continue
		}
		row.EndKinds[o.Kind]++
		if o.Lasts() {
			lasted++
		}
		minutes = append(minutes, o.EndS/60)
		skin = append(skin, o.SkinK-zeroC)
		margin = append(margin, o.MarginK)
		headroom = append(headroom, o.HeadroomK)
	}
	row.Minutes = spreadOf(minutes, d.fine.End.AtS/60)
	row.SkinC = spreadOf(skin, d.fine.Hottest.HighestK-zeroC)
	mid := math.NaN()
	if d.fine.Nearest >= 0 {
		mid = d.fine.Limits[d.fine.Nearest].MarginK
	}
	row.MarginK = spreadOf(margin, mid)
	if len(order) == 0 {
		return
	}
	if base := d.outcomes[0]; base != nil {
		row.HeadroomK = spreadOf(headroom, base.HeadroomK)
		if d.less != nil {
			row.WattLessW = d.lessW
			if !base.Lasts() {
				row.WattLessMin = (d.less.EndS - base.EndS) / 60
			}
			atS := math.Min(base.EndS, d.less.GoalS)
			row.WattLessK = base.At(base.SensorK, atS) - d.less.At(d.less.SensorK, atS)
		}
	}
	n := len(order)
	row.Chance = float64(lasted) / float64(n)
	for k, o := range d.confirm {
		if o == nil {
			continue
		}
		off := o.HeadroomK - d.outcomes[k].HeadroomK
		if row.Confirmed == 0 || math.Abs(off) > math.Abs(row.OffK) {
			row.OffK = off
		}
		row.Confirmed++
	}
	row.ChanceLo, row.ChanceHi = chanceBetween(headroom, row.OffK)
	row.Unknowns = d.standin.Unknowns
	row.Headrooms = make([]float64, len(d.outcomes))
	for k, o := range d.outcomes {
		if row.Headrooms[k] = math.NaN(); o != nil {
			row.Headrooms[k] = o.HeadroomK
		}
	}
	if n < leastDraws {
		return
	}
	row.Limits = limitsMet(d.outcomes)
	row.SureUpToC = sureUpToC(d.airK)
	if d.standin.HasAir() {
		row.AirFromC, row.AirToC = d.standin.AirK-standin.AmbientSpanK-zeroC, d.standin.AirK+standin.AmbientSpanK-zeroC
	}
	row.Causes = d.causes(seed)
}

// chanceBetween is the 90 % interval of the chance that headroom is above zero: of the count by Wilson's score interval (Wilson,
// Journal of the American Statistical Association 22, 1927), widened by what the answers themselves were found to be off by.
func chanceBetween(headroom []float64, offK float64) (lo, hi float64) {
	if math.IsNaN(offK) {
		offK = 0
	}
	offK = math.Abs(offK)
	share := func(aboveK float64) float64 {
		k := 0
		for _, h := range headroom {
			if h > aboveK {
				k++
			}
		}
		return float64(k) / float64(len(headroom))
	}
	lo, _ = wilson(share(offK), len(headroom), z90)
	_, hi = wilson(share(-offK), len(headroom), z90)
	return lo, hi
}

const z90 = 1.6448536269514722

func wilson(p float64, n int, z float64) (lo, hi float64) {
	m := float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return math.Max(0, mid-half), math.Min(1, mid+half)
}

// sureUpToC is the air temperature up to which nine in ten draws last, °C: the tenth part of the draws' own warmest air. ±Inf
// beyond the span that was looked at; NaN when the draws do not tell.
func sureUpToC(airK []float64) float64 {
	var t []float64
	for _, x := range airK[1:] {
		if !math.IsNaN(x) {
			t = append(t, x-zeroC)
		}
	}
	if len(t) < leastDraws {
		return math.NaN()
	}
	sort.Float64s(t)
	x := (1 - sure) * float64(len(t))
	i := int(math.Max(0, math.Ceil(x-0.5)-1))
	if j := min(i+1, len(t)-1); math.IsInf(t[i], 0) || math.IsInf(t[j], 0) {
		return t[i] // no straight line to infinity
	}
	return quantile(t, 1-sure)
}

// limitsMet counts which limit comes nearest, over the draws, the commonest first.
func limitsMet(outcomes []*standin.Outcome) (out []LimitMet) {
	n := 0
	for _, o := range outcomes[1:] {
		if o == nil || o.Nearest == "" {
			continue
		}
		n++
		i := slices.IndexFunc(out, func(l LimitMet) bool { return l.Name == o.Nearest })
		if i < 0 {
			i = len(out)
			out = append(out, LimitMet{Name: o.Nearest})
		}
		out[i].Share++
	}
	for i := range out {
		out[i].Share /= float64(n)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Share > out[b].Share })
	return out
}

// causes splits the doubt in the headroom among the unknowns; nil where it cannot be.
func (d *design) causes(seed uint64) []Cause {
	scores, of := standin.Scores(d.standin.Unknowns, d.standin.Draws)
	var z [][]float64
	var answer []float64
	for k := 1; k < len(d.outcomes); k++ {
		if o := d.outcomes[k]; o != nil && !math.IsInf(o.HeadroomK, 0) {
			z, answer = append(z, scores[k]), append(answer, o.HeadroomK)
		}
	}
	if len(of) == 0 || len(answer) < leastDraws {
		return nil
	}
	s, err := infer.VarianceShares(z, answer, seed)
	if err != nil || s.SD == 0 {
		return nil
	}
	var out []Cause
	for _, sh := range s.Of {
		if sh.First < 2*sh.FirstSE || sh.First < 0.02 {
			continue
		}
		u := of[sh.Unknown]
		out = append(out, Cause{About: u.About, Path: u.Path, Share: sh.First, ShareSE: sh.FirstSE})
	}
	return out
}

// batterySpread is when the battery would be empty at full power, min; NaN when fed from outside.
func (d *design) batterySpread() Spread {
	nan := Spread{math.NaN(), math.NaN(), math.NaN()}
	if d.model == nil || d.model.Battery == nil || !d.model.Battery.Discharges {
		return nan
	}
	drawW := d.model.Battery.OtherW
	for _, s := range d.model.Sources {
		if !s.Cell {
			drawW += s.FullW
		}
	}
	if drawW <= 0 {
		return nan
	}
	var all []float64
	for _, o := range d.outcomes[min(1, len(d.outcomes)):] {
		if o != nil {
			all = append(all, o.BatteryS/60)
		}
	}
	return spreadOf(all, d.model.Battery.EnergyJ/drawW/60)
}

// sureInWords says up to which air a design is good for nine in ten; empty when it is not known.
func sureInWords(row *Row) string {
	t := row.SureUpToC
	switch {
	case math.IsNaN(t):
		return ""
	case math.IsInf(t, 1):
		return fmt.Sprintf("its chance stays above nine in ten in all the air that was looked at, up to %.0f °C", row.AirToC)
	case math.IsInf(t, -1):
		return fmt.Sprintf("its chance is below nine in ten in all the air that was looked at, down to %.0f °C", row.AirFromC)
	}
	return fmt.Sprintf("its chance falls below nine in ten when the air is above %.0f °C", math.Floor(t))
}

// causesInWords says what most of the doubt in a design's headroom comes from; empty when nothing stands out.
func causesInWords(row *Row) string {
	var parts []string
	for i, c := range row.Causes {
		if i == mostCauses || c.Share < 0.05 {
			break
		}
		parts = append(parts, fmt.Sprintf("%.0f %% from %s", 100*c.Share, c.About))
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("What keeps “%s” in doubt: of the variance of what is left to its nearest limit, %s.", row.Name, strings.Join(parts, ", "))
}

// mostCauses are told in a sentence.
const mostCauses = 3

// offInWords warns of an answer whose stand-in is off by so much that it could change the chance.
func offInWords(row *Row) string {
	if math.IsNaN(row.OffK) || row.ChanceHi-row.ChanceLo < unsureBy || math.Abs(row.OffK) < offMatters {
		return ""
	}
	return fmt.Sprintf("“%s”: two draws made in 3-D differ by up to %.1f K from the model that stands in for it, so its chance is only known to lie between %.0f and %.0f %%.",
		row.Name, math.Abs(row.OffK), 100*row.ChanceLo, 100*row.ChanceHi)
}

const unsureBy, offMatters = 0.25, 0.5
