package benchtest

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/heat"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/skin"
)

// Place is where a probe may go.
type Place struct {
	At     string // as a device file says it: "spreader.back centre", or a point
	Words  string // for the person with the tape
	Body   string
	Metal  bool
	Inside bool // only before the case is closed

	surface int
}

// candidates are the places looked at: of every face a hand can reach its middle, its hottest element and four between middle and
// corners; and the middles of the parts on both sides of the bonds. The field is that of the model at the end of a run.
func (r *rig) candidates(fieldK []float64) (list []Place, hottest int) {
	m, g := r.mid, r.shape.Grid
	hottest, topK := -1, math.Inf(-1)
	add := func(p Place) int {
		for i := range list {
			if list[i].At == p.At {
				return i
			}
		}
		list = append(list, p)
		return len(list) - 1
	}
	for si := range m.Surfaces {
		s := &m.Surfaces[si]
		if !s.Reach || s.AreaM2 < leastFaceM2 {
			continue
		}
		lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
		warm := -1
		for _, ei := range s.Elements {
			e := &g.Exposed[ei]
			b := g.Box(int(e.Cell))
			for a := range lo {
				lo[a], hi[a] = math.Min(lo[a], b.Min[a]), math.Max(hi[a], b.Max[a])
			}
			if warm < 0 || fieldK[e.Cell] > fieldK[g.Exposed[warm].Cell] {
				warm = ei
			}
		}
		var wanted [][3]float64
		for _, u := range []float64{0.5, 0.25, 0.75} {
			for _, v := range []float64{0.5, 0.25, 0.75} {
				if (u == 0.5) == (v == 0.5) {
					wanted = append(wanted, [3]float64{lo[0] + u*(hi[0]-lo[0]), lo[1] + v*(hi[1]-lo[1]), lo[2] + v*(hi[2]-lo[2])})
				}
			}
		}
		at := func(ei int) Place { return r.facePlace(s, si, g.Exposed[ei].Centre, lo, hi) }
		for _, w := range wanted {
			near, best := -1, math.Inf(1)
			for _, ei := range s.Elements {
				c := g.Exposed[ei].Centre
				if d := math.Hypot(math.Hypot(c[0]-w[0], c[1]-w[1]), c[2]-w[2]); d < best {
					near, best = ei, d
				}
			}
			add(at(near))
		}
		k := add(at(warm))
		if t := fieldK[g.Exposed[warm].Cell]; t > topK {
			topK, hottest = t, k
		}
	}
	for i := range r.bonds {
		for _, body := range []string{r.bonds[i].A, r.bonds[i].B} {
			k := slices.IndexFunc(m.Parts, func(p model.Part) bool { return p.Name == body })
			if k >= 0 && !slices.ContainsFunc(m.Surfaces, func(s model.Surface) bool { return s.Body == k && s.Reach }) {
				add(Place{At: body, Words: "on " + body + ", before the case is closed, the wire led out by the seam", Body: body, Metal: m.Parts[k].Metal, Inside: true, surface: -1})
			}
		}
	}
	return list, hottest
}

// leastFaceM2 is the smallest face that a probe and 5 mm of its wire have room on.
const leastFaceM2 = 4e-5

// facePlace says a point of a face in words: from its edges, unless it is the middle.
func (r *rig) facePlace(s *model.Surface, si int, c, lo, hi [3]float64) Place {
	m := r.mid
	p := Place{Body: m.BodyName(s.Body), Metal: m.Parts[s.Body].Metal, surface: si}
	side := skin.Sides[s.Side]
	face := p.Body + "." + side
	var from []string
	centre := true
	for a := range c {
		if a == s.Side/2 {
			continue
		}
		size := hi[a] - lo[a]
		centre = centre && math.Abs(c[a]-(lo[a]+hi[a])/2) < 1e-3+0.02*size
		toLo, edge := c[a]-lo[a], skin.Sides[2*a]
		if toLo > size/2 {
			toLo, edge = hi[a]-c[a], skin.Sides[2*a+1]
		}
		from = append(from, fmt.Sprintf("%.0f mm from its %s edge", toLo*1e3, edge))
	}
	p.At = fmt.Sprintf("%.2f %.2f %.2f mm", c[0]*1e3, c[1]*1e3, c[2]*1e3)
	p.Words = face + ", " + strings.Join(from, ", ")
	if probe, err := m.Probe(face + " centre"); centre && err == nil && probe != nil {
		if probe2, err := m.Probe(p.At); err == nil && slices.Equal(probe.Places, probe2.Places) {
			p.At, p.Words = face+" centre", "middle of "+face
		}
	}
	return p
}

// warmed makes the run expected until the device would act, at most until untilS, and gives the field at that time.
func (r *rig) warmed(ctx context.Context) (fieldK []float64, err error) {
	t, err := r.run(ctx, r.base, nil)
	if err != nil {
		return nil, err
	}
	endS := r.untilS
	for _, g := range t.gates {
		for i, m := range g.marginK {
			if m <= 0 {
				endS = math.Min(endS, math.Max(60, t.timeS[i]))
				break
			}
		}
	}
	spec := session.Spec{Values: r.base, StartK: r.at.StartK, UntilS: endS, NoStop: true, NoDim: true, NoEmpty: true, Bare: true, TolK: tolK, Workers: 1,
		OnStep: func(_ float64, tK []float64) { fieldK = append(fieldK[:0], tK...) }}
	_, err = session.Run(ctx, r.mid, spec)
	return fieldK, err
}

// cooling is how long after switching off in this field all of the device is within a kelvin of the room, s; +Inf: longer than followed.
func (r *rig) cooling(ctx context.Context, fieldK []float64) (float64, error) {
	st, err := heat.NewStepper(r.mid.Heat, heat.Options{TolK: 0.1, Workers: 1})
	if err != nil {
		return 0, err
	}
	if err := st.Init(fieldK, 0); err != nil {
		return 0, err
	}
	if err := st.SetPower(make([]float64, len(r.mid.Sources))); err != nil {
		return 0, err
	}
	for st.Time() < longestCoolS {
		if _, err := st.Advance(ctx, math.Min(longestCoolS, st.Time()+120)); err != nil {
			return 0, err
		}
		warmest := math.Inf(-1)
		for i := range r.mid.Parts {
			for _, c := range r.mid.Parts[i].Cells {
				warmest = math.Max(warmest, st.TK()[c])
			}
		}
		if warmest < r.at.RoomK+1 {
			return st.Time(), nil
		}
	}
	return math.Inf(1), nil
}

// longestCoolS is how long a cool-down is followed, s.
const longestCoolS = 6 * 3600.0

// skinOf is the area of the outside and its mean temperature.
func (r *rig) skinOf(fieldK []float64) (areaM2, meanK float64) {
	for si := range r.mid.Surfaces {
		for _, ei := range r.mid.Surfaces[si].Elements {
			e := &r.shape.Grid.Exposed[ei]
			areaM2 += e.AreaM2
			meanK += e.AreaM2 * fieldK[e.Cell]
		}
	}
	return areaM2, meanK / areaM2
}

// Chosen is a probe of the plan.
type Chosen struct {
	Place
	Why string
	// FaultK is what a bond worse by ProbeFactor does here at the end of the test, K; AtSd how far all probes up to this one are then off,
	// in standard deviations of all doubt; AloneSd this one alone.
	FaultK, AtSd, AloneSd float64
}

// plannedErrorSd is the standard deviation of the constant error of a planned probe: class 2 wire and a cheap instrument, ± 1.5 K
// at 90 %. Common practice, no source.
const plannedErrorSd = 1.5 / z90

// readingsOf are what probes at some places would read at some times.
func (e *effects) readingsOf(places []int, timesS []float64) ([]reading, []channel) {
	var rs []reading
	var chs []channel
	timesS = append([]float64{0}, timesS...) // before switch-on all probes read the room: that takes their constant errors off
	for c, k := range places {
		chs = append(chs, channel{k, plannedErrorSd})
		for _, s := range timesS {
			rs = append(rs, e.reading(c, s, e.row(func(t *trace) float64 { return at(t.timeS, t.placeK[k], s) })))
		}
	}
	return rs, chs
}

// choose picks the probes: the hottest place a hand can reach; the one that shows a fault of the main bond most, given the first; and a third that
// tells most of the bonds and of how near the stop is.
func (r *rig) choose(e *effects, list []Place, hottest, main int, timesS []float64, goal row) ([]Chosen, *Chosen, error) {
	var taken []int
	value := func(places []int) (sd float64, left float64, err error) {
		rs, chs := e.readingsOf(places, timesS)
		w, err := r.network(rs, chs)
		if err != nil {
			return 0, 0, err
		}
		if main >= 0 {
			sd = w.seen(main, ProbeFactor)
		}
		_, left = w.given(w.misfit(basesOf(rs), -1, 1)).of(goal, -1, 1)
		return sd, left, nil
	}
	endS := timesS[len(timesS)-1]
	chosen := func(k int, why string) (Chosen, error) {
		c := Chosen{Place: list[k], Why: why}
		var err error
		if c.AtSd, _, err = value(append(slices.Clone(taken), k)); err != nil {
			return c, err
		}
		if c.AloneSd, _, err = value([]int{k}); err != nil {
			return c, err
		}
		if main >= 0 {
			x := e.row(func(t *trace) float64 { return at(t.timeS, t.placeK[k], endS) })
			c.FaultK = x.shift(main, ProbeFactor)
		}
		return c, nil
	}
	var out []Chosen
	add := func(k int, why string) error {
		c, err := chosen(k, why)
		if err != nil {
			return err
		}
		taken = append(taken, k)
		out = append(out, c)
		return nil
	}
	if hottest >= 0 {
		if err := add(hottest, "the hottest place a hand can reach"); err != nil {
			return nil, nil, err
		}
	}
	elsewhere := true // the third on a part that has none yet
	for len(out) < 3 {
		best, bestSd, bestLeft := -1, 0.0, math.Inf(1)
		for k := range list {
			near := func(o int) bool {
				return list[o].surface == list[k].surface || elsewhere && len(taken) == 2 && list[o].Body == list[k].Body
			}
			if list[k].Inside || slices.ContainsFunc(taken, near) {
				continue // probes side by side, or a third on a part that has one, tell the same twice
			}
			sd, left, err := value(append(slices.Clone(taken), k))
			if err != nil {
				return nil, nil, err
			}
			better := sd > bestSd*1.001
			if len(out) == 2 || main < 0 { // the third tells of the stop
				better = left < bestLeft*0.999
			}
			if best < 0 || better {
				best, bestSd, bestLeft = k, sd, left
			}
		}
		if best < 0 && elsewhere && len(taken) == 2 {
			elsewhere = false
			continue
		}
		if best < 0 {
			break
		}
		why := "tells most of how near the stop is"
		if len(out) < 2 && main >= 0 {
			why = "with the first, tells most of the bond " + r.bonds[main].Name
		}
		if err := add(best, why); err != nil {
			return nil, nil, err
		}
	}
	var inside *Chosen
	for k := range list {
		if !list[k].Inside || main < 0 {
			continue
		}
		taken = taken[:min(len(taken), 1)]
		c, err := chosen(k, "inside; with the first")
		if err != nil {
			return nil, nil, err
		}
		if inside == nil || c.AtSd > inside.AtSd {
			inside = &c
		}
	}
	return out, inside, nil
}

// reading makes a temperature read at a time; its rise counts from the start of the run.
func (e *effects) reading(channel int, s float64, x row) reading {
	return reading{channel: channel, tS: s, riseK: x.base - e.startK, row: x}
}

func basesOf(rs []reading) []float64 {
	out := make([]float64, len(rs))
	for i := range rs {
		out[i] = rs[i].base
	}
	return out
}
