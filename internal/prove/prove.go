// Package prove runs published cases, written as ordinary device files with an `expect:` block, and puts ours beside theirs.
// Cells are halved until the answer stops moving.
//
// Start reading at Run.
package prove

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/model"
	"finwright/internal/unit"
)

// Case is one published figure and ours.
type Case struct {
	ID        string
	File      string
	What      string // "temperature at 80 5 5 mm after 32 s"
	Source    string
	Value     float64 // in Unit
	Target    float64
	Tolerance float64
	Unit      string
	Pass      bool
	Moved     float64 // how far the last halving of the cells moved the answer, in Unit; NaN when they were not halved
	Cells     int     // cells of the finest grid
	Halvings  int
	Balance   float64 // energy balance: what is missing, as a share of the heat put through
}

// Options steer a proof. The zero value is good.
type Options struct {
	MaxCells int // no grid larger than this; zero takes 400 000
	Progress func(file string)
}

// settled is how much of the tolerance a last halving may move the answer.
const settled = 0.1

// maxHalvings bounds the refinement.
const maxHalvings = 6

// question is one line of an expect block, made ready.
type question struct {
	e      *device.Expect
	dim    unit.Dim
	target float64 // SI
	within float64 // SI
	value  float64 // SI, of the finest grid so far
	before float64
}

// Run evaluates all expectations of one file. The error is about the file; a case that misses its target is not an error.
func Run(ctx context.Context, f *device.File, opt Options) ([]Case, error) {
	if opt.MaxCells == 0 {
		opt.MaxCells = 400_000
	}
	if len(f.Expect) == 0 {
		return nil, nil
	}
	qs := make([]question, len(f.Expect))
	for i := range f.Expect {
		e := &f.Expect[i]
		q := question{e: e, value: math.NaN(), before: math.NaN()}
		var err error
		if q.target, q.within, q.dim, err = e.TargetSI(); err != nil {
			return nil, device.Problems{f.Problem(e.Pos, fmt.Sprintf("expect %q: %v", e.ID, err), "", "")}
		}
		qs[i] = q
	}
	cells, halvings, balance := 0, 0, 0.0
	for refine := 0; refine <= maxHalvings; refine++ {
		if opt.Progress != nil {
			opt.Progress(fmt.Sprintf("%s, cells halved %d×", f.Device, refine))
		}
		n, closure, err := answer(ctx, f, refine, qs)
		if err != nil {
			return nil, err
		}
		cells, halvings, balance = n, refine, math.Max(balance, closure)
		if refine > 0 && allSettled(qs) {
			break
		}
		if n*growth > opt.MaxCells {
			break
		}
	}
	out := make([]Case, len(qs))
	for i := range qs {
		q := &qs[i]
		u, offset := show(q.e.Target, q.dim)
		out[i] = Case{ID: q.e.ID, File: f.Path, What: whatOf(q.e), Source: q.e.Source, Value: q.value - offset, Target: q.target - offset,
			Tolerance: q.within, Unit: u, Pass: math.Abs(q.value-q.target) <= q.within, Moved: math.Abs(q.value - q.before),
			Cells: cells, Halvings: halvings, Balance: balance}
	}
	return out, nil
}

// growth is by how much one more halving multiplies the cells: every direction is halved, also one in which nothing varies.
const growth = 8

func allSettled(qs []question) bool {
	for i := range qs {
		if !(math.Abs(qs[i].value-qs[i].before) <= settled*qs[i].within) {
			return false
		}
	}
	return true
}

// show is the unit a figure is shown in, and what is taken off its SI value for that. A temperature stays on its author's scale.
func show(target string, dim unit.Dim) (name string, offset float64) {
	switch dim {
	case unit.Temperature:
		if strings.HasSuffix(strings.TrimSpace(target), "K") {
			return "K", 0
		}
		return "°C", 273.15
	case unit.TemperatureDiff:
		return "K", 0
	case unit.Power:
		return "W", 0
	}
	return "s", 0
}

func whatOf(e *device.Expect) string {
	when := "in steady state"
	if e.After.Given() {
		when = "after " + e.After.Text
	}
	switch {
	case e.Temperature != "":
		return "temperature at " + e.Temperature + " " + when
	case e.Mean != "":
		return "mean of " + e.Mean + " " + when
	case e.Highest != "":
		return "highest of " + e.Highest + " " + when
	case e.Rise != "":
		return "rise at " + e.Rise + " " + when
	case e.MeanRise != "":
		return "mean rise of " + e.MeanRise + " " + when
	case e.Heat != "":
		return "heat through " + e.Heat + " " + when
	}
	return fmt.Sprintf("time until %s reaches %s", e.TimeUntil.At, e.TimeUntil.Reaches.Text)
}

// answer fills every question's value on cells halved refine times, and moves the last one to before.
func answer(ctx context.Context, f *device.File, refine int, qs []question) (cells int, closure float64, err error) {
	shape, err := model.NewShape(f, nil, model.Fineness{Across: 1, Refine: refine})
	if err != nil {
		return 0, 0, err
	}
	m, err := shape.At(nil, nil, "")
	if err != nil {
		return 0, 0, err
	}
	r := &reader{m: m, f: f, probes: map[string]*model.Probe{}, ambientK: ambient(f)}
	for i := range qs {
		qs[i].before, qs[i].value = qs[i].value, math.NaN()
		if err := r.probe(&qs[i]); err != nil {
			return 0, 0, device.Problems{f.Problem(qs[i].e.Pos, fmt.Sprintf("expect %q: %v", qs[i].e.ID, err), "", "")}
		}
	}
	if err := r.steady(ctx, qs); err != nil {
		return 0, 0, err
	}
	if closure, err = r.transient(ctx, qs); err != nil {
		return 0, 0, err
	}
	for i := range qs {
		if q := &qs[i]; math.IsNaN(q.value) || math.IsInf(q.value, 0) {
			return 0, 0, device.Problems{f.Problem(q.e.Pos, fmt.Sprintf("expect %q: the calculation gives no figure for the %s", q.e.ID, whatOf(q.e)), "", "")}
		}
	}
	return m.ActiveCells(), closure, nil
}

// reader answers questions of one model.
type reader struct {
	m        *model.Model
	f        *device.File
	probes   map[string]*model.Probe
	ambientK float64 // what rises count from; NaN when no boundary states one
}

// ambient is that of the first boundary that states one, K; NaN without.
func ambient(f *device.File) float64 {
	for i := range f.Boundaries {
		if b := &f.Boundaries[i]; b.Ambient.Given() {
			return b.Ambient.Mid
		}
	}
	return math.NaN()
}

// probe makes the probe a question needs.
func (r *reader) probe(q *question) error {
	if q.dim == unit.TemperatureDiff && math.IsNaN(r.ambientK) {
		return errors.New("it asks for a rise, but no boundary says from which ambient it counts; add ambient to one")
	}
	if q.e.Heat != "" {
		for i := range r.m.Surfaces {
			if r.m.Surfaces[i].Boundary == q.e.Heat {
				return nil
			}
		}
		return fmt.Errorf("there is no boundary %q", q.e.Heat)
	}
	place := placeOf(q.e)
	p, err := r.m.Probe(place)
	if err != nil {
		return err
	}
	r.probes[place] = p
	return nil
}

func placeOf(e *device.Expect) string {
	switch {
	case e.Temperature != "":
		return e.Temperature
	case e.Mean != "":
		return e.Mean
	case e.Highest != "":
		if strings.HasSuffix(e.Highest, " highest") {
			return e.Highest
		}
		return e.Highest + " highest"
	case e.Rise != "":
		return e.Rise
	case e.MeanRise != "":
		return e.MeanRise
	case e.TimeUntil != nil:
		return e.TimeUntil.At
	}
	return ""
}

// read gives a question's value in a field of temperatures.
func (r *reader) read(q *question, tK []float64, films model.Films) float64 {
	if q.e.Heat != "" {
		sum := 0.0
		for i := range r.m.Surfaces {
			if r.m.Surfaces[i].Boundary == q.e.Heat {
				sum += r.m.SurfaceHeatW(i, tK, films(i))
			}
		}
		return sum
	}
	v := r.probes[placeOf(q.e)].Read(tK, films)
	if q.dim == unit.TemperatureDiff {
		v -= r.ambientK
	}
	return v
}

func (r *reader) powers() []float64 {
	w := make([]float64, len(r.m.Sources))
	for i := range w {
		w[i] = r.m.Sources[i].FullW
	}
	return w
}

// steady answers the questions without a time.
func (r *reader) steady(ctx context.Context, qs []question) error {
	any := false
	for i := range qs {
		any = any || !qs[i].e.After.Given() && qs[i].e.TimeUntil == nil
	}
	if !any {
		return nil
	}
	guess := make([]float64, len(r.m.Heat.CapJK))
	for i := range guess {
		guess[i] = r.m.StartK
	}
	tK, _, err := heat.Steady(ctx, r.m.Heat, r.powers(), heat.Options{}, guess)
	if err != nil {
		return err
	}
	films := r.m.Films(tK, 0)
	for i := range qs {
		if q := &qs[i]; !q.e.After.Given() && q.e.TimeUntil == nil {
			q.value = r.read(q, tK, films)
		}
	}
	return nil
}

// startedK is how near to what it is to reach a place counts as having started there: above rounding, below any tolerance.
const startedK = 1e-9

// transient answers the questions with a time, in one run.
func (r *reader) transient(ctx context.Context, qs []question) (closure float64, err error) {
	var open []*question
	tolK := math.Inf(1)
	for i := range qs {
		if q := &qs[i]; q.e.After.Given() || q.e.TimeUntil != nil {
			open = append(open, q)
			if q.dim != unit.Power && q.dim != unit.Time {
				tolK = math.Min(tolK, q.within)
			}
		}
	}
	if len(open) == 0 {
		return 0, nil
	}
	if math.IsInf(tolK, 1) {
		tolK = 0.05
	}
	st, err := heat.NewStepper(r.m.Heat, heat.Options{TolK: 0.02 * tolK})
	if err != nil {
		return 0, err
	}
	field := make([]float64, len(r.m.Heat.CapJK))
	for i := range field {
		field[i] = r.m.StartK
	}
	if err := st.Init(field, 0); err != nil {
		return 0, err
	}
	if err := st.SetPower(r.powers()); err != nil {
		return 0, err
	}
	films := func(si int) heat.Film { return st.SurfaceState(si).Film }
	left := len(open)
	started := make([]float64, len(open))
	for i, q := range open {
		if q.e.TimeUntil != nil {
			started[i] = r.read(q, st.TK(), films) - q.e.TimeUntil.Reaches.Mid
			if math.Abs(started[i]) < startedK {
				q.value = 0
				left--
			}
		}
	}
	const forever = 1e9
	for left > 0 {
		until := forever
		for _, q := range open {
			if math.IsNaN(q.value) && q.e.After.Given() {
				until = math.Min(until, q.e.After.Mid)
			}
		}
		s, err := st.Advance(ctx, until)
		if err != nil {
			return 0, err
		}
		for i, q := range open {
			if !math.IsNaN(q.value) {
				continue
			}
			if q.e.After.Given() {
				if s.ToS >= q.e.After.Mid-1e-9 {
					q.value = r.read(q, st.TK(), films)
					left--
				}
				continue
			}
			beyond := func(x float64) bool { return (x-q.e.TimeUntil.Reaches.Mid)*started[i] <= 0 }
			if beyond(r.read(q, st.TK(), films)) {
				lo, hi := s.FromS, s.ToS
				for hi-lo > 1e-4*math.Max(1, q.within) {
					mid := (lo + hi) / 2
					st.At(field, mid, nil)
					if beyond(r.read(q, field, films)) {
						hi = mid
					} else {
						lo = mid
					}
				}
				q.value = hi
				left--
			} else if s.ToS >= forever {
				return 0, device.Problems{r.f.Problem(q.e.Pos, fmt.Sprintf("expect %q: %s is never reached", q.e.ID, q.e.TimeUntil.Reaches.Text), "", "")}
			}
		}
	}
	return st.Balance().ClosureRel, nil
}
