package curve

import (
	"fmt"
	"math"
	"slices"
)

// Reason is why a reading was dropped.
type Reason uint8

// The reasons.
const (
	Dead     Reason = iota // no number, or none a probe can have
	Repeated               // the same time as the reading before
	Spike                  // away and back within two readings
	Flat                   // stuck at one value while the temperature must have moved
	CameOff                // the probe fell off: a step towards the room, and then the room
)

func (r Reason) String() string {
	return [...]string{"dead probe", "repeated time", "spike", "flat line", "probe came off"}[r]
}

// Dropped is one reading that was left out.
type Dropped struct {
	Index  int // in the series given
	TimeS  float64
	TK     float64 // NaN or whatever the logger wrote
	Reason Reason
	Why    string
}

// Note is something about the clock that cost no reading: a gap, or a clock that was set and has been set back.
type Note struct {
	TimeS  float64 // of the reading before, in the cleaned clock
	Gap    bool    // else the clock jumped
	ByS    float64 // length of the gap, or what was taken off the later times
	Remark string
}

// Cleaned is a series without the readings that are not temperatures of the thing, with times that increase.
type Cleaned struct {
	Samples
	Index   []int // of each reading in the series given
	Dropped []Dropped
	Notes   []Note
}

// CleanOptions are what a reading may be. Zeros take -73 to 527 °C, where no hand-sized device goes.
type CleanOptions struct{ LoK, HiK float64 }

const (
	spikeSD    = 8.0 // a spike is this many robust standard deviations from its neighbours' median
	spikeK     = 0.5 // and at least this
	flatRun    = 8   // readings that a flat line has at least
	gapSteps   = 3.5 // usual steps that make a gap
	offShare   = 0.4 // share of the rise over the room that a falling probe loses at once
	offSteps   = 3   // within this many readings
	offQuicker = 8.0 // this many times as quick as the thing ever warmed before
	roomShare  = 0.3 // and afterwards has at most this share of the rise left
)

// Clean drops what the logger or the probe spoilt, each reading with its reason, and sets back a clock that was set during the run.
// It interpolates nothing. room may be empty; it then takes the first sound reading for the room when it judges whether a probe came off.
//
// In this order: dead readings; clock; spikes; probe that came off; flat lines. What cannot be told apart from the thing's own behaviour
// stays: a slow logger's single reading may be a real peak, and a gap while nothing moved may be a clock that was set.
func Clean(s Samples, room Samples, opt CleanOptions) (Cleaned, error) {
	if len(s.TimeS) != len(s.TK) {
		return Cleaned{}, fmt.Errorf("%d times but %d temperatures", len(s.TimeS), len(s.TK))
	}
	if err := room.check("room"); err != nil {
		return Cleaned{}, err
	}
	if opt == (CleanOptions{}) {
		opt = CleanOptions{LoK: 200, HiK: 800}
	}
	if !(opt.LoK >= 0 && opt.HiK > opt.LoK) {
		return Cleaned{}, fmt.Errorf("readings cannot be limited to %g to %g K", opt.LoK, opt.HiK)
	}
	c := cleaner{given: s}
	for i, v := range s.TK {
		t := s.TimeS[i]
		switch {
		case math.IsNaN(t) || math.IsInf(t, 0):
			c.drop(i, Dead, "it has no time")
		case math.IsNaN(v):
			c.drop(i, Dead, "the logger wrote no number")
		case math.IsInf(v, 0) || v < opt.LoK || v > opt.HiK:
			c.drop(i, Dead, "%.4g °C is outside %.0f to %.0f °C: an open or wrongly wired probe reads like this", v-273.15, opt.LoK-273.15, opt.HiK-273.15)
		default:
			c.t, c.v, c.index = append(c.t, t), append(c.v, v), append(c.index, i)
		}
	}
	c.clock()
	c.spikes()
	c.cameOff(room)
	c.flat()
	slices.SortFunc(c.dropped, func(a, b Dropped) int { return a.Index - b.Index })
	return Cleaned{Samples{c.t, c.v}, c.index, c.dropped, c.notes}, nil
}

// cleaner holds the readings still in.
type cleaner struct {
	given   Samples
	t, v    []float64
	index   []int
	dropped []Dropped
	notes   []Note
}

func (c *cleaner) drop(index int, r Reason, format string, args ...any) {
	c.dropped = append(c.dropped, Dropped{index, c.given.TimeS[index], c.given.TK[index], r, fmt.Sprintf(format, args...)})
}

// keep leaves only the readings for which out is false. Those have been dropped with words already.
func (c *cleaner) keep(out []bool) {
	n := 0
	for i := range c.t {
		if !out[i] {
			c.t[n], c.v[n], c.index[n] = c.t[i], c.v[i], c.index[i]
			n++
		}
	}
	c.t, c.v, c.index = c.t[:n], c.v[:n], c.index[:n]
}

// unrestK is the robust standard deviation of the readings about the median of seven.
func (c *cleaner) unrestK() float64 {
	var r []float64
	for i := 3; i+3 < len(c.v); i++ {
		r = append(r, math.Abs(c.v[i]-median(c.v[i-3:i+4])))
	}
	if len(r) == 0 {
		return 0
	}
	return 1.4826 * median(r) // normal: median of |x| is 0.6745 σ
}

// clock drops repeated times, names gaps, and sets back jumps.
func (c *cleaner) clock() {
	if len(c.t) < 2 {
		return
	}
	var steps []float64
	for i := 1; i < len(c.t); i++ {
		if d := c.t[i] - c.t[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	usual := median(steps)
	if math.IsNaN(usual) {
		usual = 1 // every time the same: all but the first go
	}
	unrest := math.Max(c.unrestK(), resolutionK(c.v))
	out := make([]bool, len(c.t))
	offS, last := 0.0, 0
	raw := slices.Clone(c.t)
	for i := 1; i < len(c.t); i++ {
		c.t[i] = raw[i] - offS
		d := c.t[i] - c.t[last]
		switch {
		case raw[i] == raw[last]:
			c.drop(c.index[i], Repeated, "two readings at %.1f s", c.given.TimeS[c.index[i]])
			out[i] = true
			continue
		case d <= 0:
			c.jump(i, last, d-usual, usual, &offS, "the clock goes back")
		case d > gapSteps*usual:
			// Across a gap the temperature goes on as before and after; across a clock that was set it stands as between two readings.
			before, okB := c.slopeKS(last, usual)
			after, okA := c.slopeAhead(raw, i, usual)
			moved, due := c.v[i]-c.v[last], 0.0
			if okB && okA {
				due = (before + after) / 2 * d
			}
			alike := okB && okA && before*after > 0 && math.Abs(before-after) < 0.3*math.Abs(before+after)
			if alike && math.Abs(due) > 10*unrest+0.2 && math.Abs(moved) < 0.2*math.Abs(due) {
				c.jump(i, last, d-usual, usual, &offS, "the clock was set: the temperature did not move as it must have in that time")
				break
			}
			c.notes = append(c.notes, Note{TimeS: c.t[last], Gap: true, ByS: d,
				Remark: fmt.Sprintf("no readings for %.0f s from %.0f s on", d, c.t[last])})
		}
		last = i
	}
	c.keep(out)
}

func (c *cleaner) jump(i, last int, byS, usual float64, offS *float64, why string) {
	*offS += byS
	c.t[i] -= byS
	c.notes = append(c.notes, Note{TimeS: c.t[last], ByS: byS,
		Remark: fmt.Sprintf("%s: %.0f s are taken off all later times, so that the step there is the usual %.1f s", why, byS, usual)})
}

// slopeReadings is how many readings make a slope beside a gap.
const slopeReadings = 10

// slopeKS is the slope of the readings up to i, all of them at usual steps.
func (c *cleaner) slopeKS(i int, usual float64) (float64, bool) {
	j := i - slopeReadings + 1
	if j < 0 || c.t[i]-c.t[j] > gapSteps*usual*slopeReadings || c.t[i] <= c.t[j] {
		return 0, false
	}
	return slope(c.t[j:i+1], c.v[j:i+1]), true
}

// slopeAhead is the slope of the readings from i on, by the clock as it was written.
func (c *cleaner) slopeAhead(raw []float64, i int, usual float64) (float64, bool) {
	j := i + slopeReadings
	if j > len(raw) || raw[j-1]-raw[i] > gapSteps*usual*slopeReadings || raw[j-1] <= raw[i] {
		return 0, false
	}
	return slope(raw[i:j], c.v[i:j]), true
}

// spikes drops one or two readings that leave the median of their seven neighbours and come back.
func (c *cleaner) spikes() {
	n := len(c.v)
	if n < 7 {
		return
	}
	limit := math.Max(math.Max(spikeSD*c.unrestK(), spikeK), 3*resolutionK(c.v))
	out := make([]bool, n)
	for i := range n {
		lo := min(max(i-3, 0), n-7)
		// The line through the neighbours' medians: a steep stretch is no spike, at the ends neither.
		var left, right, tl, tr []float64
		for j := lo; j < lo+7; j++ {
			switch {
			case j == i:
			case j < lo+3 || j == lo+3 && i < lo+3:
				left, tl = append(left, c.v[j]), append(tl, c.t[j])
			default:
				right, tr = append(right, c.v[j]), append(tr, c.t[j])
			}
		}
		l, r, a, b := median(left), median(right), median(tl), median(tr)
		line := l + (r-l)*(c.t[i]-a)/(b-a)
		// It must be off both sides, or a step (switch-on, a falling probe) would lose its corner.
		off := math.Abs(c.v[i] - line)
		if off > limit && off > 2*math.Abs(r-l) {
			c.drop(c.index[i], Spike, "%.1f K away from the readings around it and back", c.v[i]-line)
			out[i] = true
		}
	}
	c.keep(out)
}

// cameOff drops the readings from a step towards the room until a step back, or to the end.
func (c *cleaner) cameOff(room Samples) {
	n := len(c.v)
	if n < 2*flatRun {
		return
	}
	unrest := math.Max(c.unrestK(), resolutionK(c.v))
	roomAt := func(i int) float64 {
		if room.Len() > 0 {
			return room.at(c.t[i])
		}
		return c.v[0]
	}
	// Rates over offSteps readings.
	rate := make([]float64, n)
	for i := offSteps; i < n; i++ {
		rate[i] = math.Abs(c.v[i]-c.v[i-offSteps]) / (c.t[i] - c.t[i-offSteps])
	}
	out := make([]bool, n)
	for i := offSteps; i+flatRun <= n; i++ {
		from := i - offSteps
		rise := c.v[from] - roomAt(from)
		lost := c.v[from] - c.v[i]
		if lost < offShare*rise || lost < 10*unrest+1 || rise < 0 {
			continue
		}
		// A stop cools as quickly as the start warmed, the quick part of it too; a falling probe is quicker than either.
		usual := 3 * unrest / (c.t[i] - c.t[from])
		for j := offSteps; j < from; j++ {
			usual = math.Max(usual, rate[j])
		}
		if rate[i] < offQuicker*usual {
			continue
		}
		end := i
		for end < n && c.v[end] < c.v[from]-offShare*rise {
			end++
		}
		if end-i < flatRun && end < n {
			continue
		}
		// And it then follows the room, while a device that stopped is still warm inside.
		over, settled := 0.0, min(i+offSteps, end-1)
		for j := settled; j < end; j++ {
			over += (c.v[j] - roomAt(j)) / float64(end-settled)
		}
		if over > roomShare*rise {
			continue
		}
		first := from + 1
		for first < i && math.Abs(c.v[first]-c.v[from]) < math.Max(5*unrest, 0.1*lost) {
			first++
		}
		for j := first; j < end; j++ {
			c.drop(c.index[j], CameOff, "from %.0f s on the probe fell by %.1f K within %.0f s and then followed the room: it came off", c.t[first], lost, c.t[i]-c.t[from])
			out[j] = true
		}
		i = end + offSteps
	}
	c.keep(out)
}

// jumps is by how much the reading after the flat line i..j jumps, K, beyond what a switch explains: a device that is switched on or
// stops moves on as it began, while a probe that was stuck catches up with all the steps it missed at once.
func (c *cleaner) jumps(i, j int) float64 {
	if j+2 >= len(c.v) {
		return 0 // what follows is not seen
	}
	next := math.Abs(c.v[j+2]-c.v[j+1]) / (c.t[j+2] - c.t[j+1]) * (c.t[j+1] - c.t[j])
	return math.Abs(c.v[j+1]-c.v[j]) - math.Max(3, float64(j-i+1)/2)*next
}

// due is by how much the temperature still had to move in the time of the flat line i..j, K, judged by how it slowed down before: of
// two stretches of equal length, with changes d₁ and then d₂, the next would change by d₂·r, r = d₂/d₁, and all that follow by
// d₂·(r + r² + …). The least of several lengths counts, so that a curve that comes to rest is not taken for a stuck probe. seen
// tells whether any stretch moves enough to judge.
func (c *cleaner) due(i, j int, unrest float64) (dueK float64, seen bool) {
	for m := 4; m <= 64 && 2*m <= i; m *= 2 {
		spanS := c.t[i] - c.t[i-m]
		if c.t[i]-c.t[i-2*m] > gapSteps*spanS || spanS <= 0 {
			continue // a gap
		}
		d1, d2 := c.v[i-m]-c.v[i-2*m], c.v[i]-c.v[i-m]
		if math.Abs(d1) < 10*unrest {
			continue
		}
		// What comes to rest moves less and less; where it moved more in the second half of the first stretch, it was switched within it.
		if late := (c.v[i-m] - c.v[i-m-m/2]) / d1; late > 0.5+unrest/math.Abs(d1) {
			continue
		}
		// Rounding may have added to what it moved last, and taken from what it moved before.
		d2 = math.Copysign(math.Max(0, math.Abs(d2)-unrest), d2)
		r := d2 / (d1 + math.Copysign(unrest, d1))
		due := 0.0
		switch stretches := (c.t[j] - c.t[i]) / spanS; {
		case r <= 0: // it had turned, or stood already
		case r > 0.98:
			due = d2 * stretches
		default:
			due = d2 * r * (1 - math.Pow(r, stretches)) / (1 - r)
		}
		if !seen || math.Abs(due) < math.Abs(dueK) {
			dueK, seen = due, true
		}
	}
	return dueK, seen
}

// flat drops the repeats of a value that stands while the temperature must have moved: it comes back with a jump, or the readings
// before it were on the way to somewhere else.
func (c *cleaner) flat() {
	n := len(c.v)
	unrest := math.Max(c.unrestK(), resolutionK(c.v))
	out := make([]bool, n)
	for i := 0; i < n; {
		j := i
		for j+1 < n && c.v[j+1] == c.v[i] {
			j++
		}
		if j-i+1 >= flatRun {
			why := ""
			if j+1 < n && c.jumps(i, j) > math.Max(6*unrest, 0.5) {
				why = fmt.Sprintf("it stood at %.2f °C for %.0f s and then jumped by %.1f K", c.v[i]-273.15, c.t[j]-c.t[i], c.v[j+1]-c.v[j])
			} else if due, seen := c.due(i, j, unrest); seen {
				if math.Abs(due) > math.Max(6*unrest, 0.5) {
					why = fmt.Sprintf("it stood at %.2f °C for %.0f s although it was on the way to move by %.1f K", c.v[i]-273.15, c.t[j]-c.t[i], due)
				}
			}
			if why == "" && i == 0 && j == n-1 {
				why = "every reading is the same: the probe is not read"
			}
			for k := i + 1; k <= j && why != ""; k++ {
				c.drop(c.index[k], Flat, "%s", why)
				out[k] = true
			}
		}
		i = j + 1
	}
	c.keep(out)
}
