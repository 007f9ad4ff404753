package session

import (
	"fmt"
	"math"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/unit"
)

// gate is one temperature at which the device acts: it stops, or takes or leaves a power step.
type gate struct {
	sensor int // index into control.probes
	limitK float64
	rising bool
	step   int // 0: stop; otherwise the step taken (rising) or left (falling), counted from 1
}

// control is the device's own reaction to heat: sensors, steps, stop, battery.
type control struct {
	m       *model.Model
	names   []string
	probes  []*model.Probe
	stopK   []float64 // +Inf when the sensor stops nothing
	againK  []float64 // restart temperature; NaN when none is stated
	steps   [][]step
	acts    [][]bool // per sensor, per source: does a step cut it?
	level   []int    // steps now taken, per sensor
	known   [][]Gate // per sensor, what it would do, obeyed or not
	running bool
	empty   bool // the battery is: nothing makes heat any more

	powerW []float64 // per source, as now set
	drawW  float64   // drawn from the battery now
}

type step struct{ aboveK, belowK, share float64 }

// newControl reads the file's sensors under the model's values.
func newControl(m *model.Model, v device.Values, noStop, noDim bool) (*control, error) {
	c := &control{m: m, running: true, powerW: make([]float64, len(m.Sources))}
	f := m.Shape.File
	for i := range f.Sensors {
		s := &f.Sensors[i]
		p, err := m.Probe(s.At)
		if err != nil {
			return nil, device.Problems{f.Problem(s.Pos, fmt.Sprintf("sensor %q: %v", s.Name, err), "", "")}
		}
		stopK, again := math.Inf(1), math.NaN()
		if s.StopsAt.Given() {
			stopK = s.StopsAt.At(v)
		}
		if s.Restarts.Given() {
			again = s.Restarts.At(v)
		}
		var steps []step
		for k := range s.Steps {
			st := &s.Steps[k]
			above := st.Above.At(v)
			below := above - device.DefaultStepBackByK
			if st.BackBelow.Given() {
				below = st.BackBelow.At(v)
			}
			steps = append(steps, step{above, below, st.Power.At(v)})
		}
		var known []Gate
		if !math.IsInf(stopK, 1) {
			known = append(known, Gate{Kind: "trip", LimitK: stopK})
		}
		if len(steps) > 0 {
			known = append(known, Gate{Kind: "step", LimitK: steps[0].aboveK})
		}
		c.known = append(c.known, known)
		if noStop {
			stopK = math.Inf(1)
		}
		if noDim {
			steps = nil
		}
		acts := make([]bool, len(m.Sources))
		for si := range m.Sources {
			acts[si] = len(s.Acts) == 0
			for _, a := range s.Acts {
				acts[si] = acts[si] || a == m.Parts[m.Sources[si].Part].Name
			}
		}
		c.names = append(c.names, s.Name)
		c.probes = append(c.probes, p)
		c.stopK = append(c.stopK, stopK)
		c.againK = append(c.againK, again)
		c.steps = append(c.steps, steps)
		c.acts = append(c.acts, acts)
		c.level = append(c.level, 0)
	}
	c.setPower()
	return c, nil
}

// setPower works out every source's power and what the battery gives, from the steps now taken.
func (c *control) setPower() {
	heatW, otherShare := 0.0, 1.0
	for i := range c.m.Sources {
		s := &c.m.Sources[i]
		if s.Cell {
			continue
		}
		share := 1.0
		for k := range c.level {
			if n := c.level[k]; n > 0 && c.acts[k][i] {
				share = math.Min(share, c.steps[k][n-1].share)
			}
		}
		if c.running {
			c.powerW[i] = s.FullW * share
		} else {
			c.powerW[i] = s.AfterW
			if c.empty {
				c.powerW[i] = 0
			}
		}
		heatW += c.powerW[i]
		otherShare = math.Min(otherShare, share)
	}
	c.drawW = 0
	if b := c.m.Battery; b != nil {
		other := b.OtherW * otherShare
		if !c.running {
			other = 0
		}
		if b.Discharges {
			c.drawW = heatW + other
		}
		for i := range c.m.Sources {
			if c.m.Sources[i].Cell {
				c.powerW[i] = b.OwnHeat * c.drawW
			}
		}
	}
}

// leastShare is the smallest share of full power, above zero, that the steps can leave: the longest a battery can be made to
// last goes with it.
func (c *control) leastShare() float64 {
	least := 1.0
	for _, steps := range c.steps {
		for _, s := range steps {
			if s.share > 0 {
				least = math.Min(least, s.share)
			}
		}
	}
	return least
}

// fullDrawW is what the battery gives while no step is taken, W.
func (c *control) fullDrawW() float64 {
	b := c.m.Battery
	if b == nil || !b.Discharges {
		return 0
	}
	sum := b.OtherW
	for i := range c.m.Sources {
		if !c.m.Sources[i].Cell {
			sum += c.m.Sources[i].FullW
		}
	}
	return sum
}

// gates lists what could happen next.
func (c *control) gates(dst []gate) []gate {
	dst = dst[:0]
	if !c.running {
		return dst
	}
	for k := range c.probes {
		if !math.IsInf(c.stopK[k], 1) {
			dst = append(dst, gate{k, c.stopK[k], true, 0})
		}
		n := c.level[k]
		if n < len(c.steps[k]) {
			dst = append(dst, gate{k, c.steps[k][n].aboveK, true, n + 1})
		}
		if n > 0 {
			dst = append(dst, gate{k, c.steps[k][n-1].belowK, false, n})
		}
	}
	return dst
}

// passed says whether temperature t lies beyond the gate.
func (g *gate) passed(t float64) bool {
	if g.rising {
		return t >= g.limitK
	}
	return t <= g.limitK
}

// act carries a gate out and says so in words.
func (c *control) act(g gate) (what string) {
	limit := unit.Format(g.limitK, unit.Temperature)
	switch {
	case g.step == 0:
		c.running = false
		what = fmt.Sprintf("%s reached %s: the device stops itself", c.names[g.sensor], limit)
	case g.rising:
		c.level[g.sensor] = g.step
		what = fmt.Sprintf("%s rose to %s: down to %.0f %% power", c.names[g.sensor], limit, 100*c.steps[g.sensor][g.step-1].share)
	default:
		c.level[g.sensor] = g.step - 1
		what = fmt.Sprintf("%s fell to %s: back up one step", c.names[g.sensor], limit)
	}
	c.setPower()
	return what
}
