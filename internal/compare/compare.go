// Package compare runs stock and every retrofit of a device under the same conditions and puts them side by side: minutes to
// the end with low, middle and high, the chance of lasting and the air up to which it is good, what makes up the doubt, margin,
// nearest limit, the hottest place a hand can reach, mass added, and what a watt less would do.
//
// Start reading at Compare.
package compare

import (
	"context"
	"errors"
	"math"
	"sort"
	"strings"
	"sync"

	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/standin"
	"finwright/internal/work"
)

// Options steer a comparison. The zero value is good.
type Options struct {
	Fine, Coarse model.Fineness // cells of the answer shown, and of the 3-D runs that train the stand-ins; zero takes model.Fine and standin's own
	Workers      int            // designs run at the same time; zero takes two
	Draws        int            // draws of the doubt for each design; zero takes 200
	UntilS       float64        // time asked for; 0: until the battery is empty
	Only         []string       // retrofits to run; empty: all
	Seed         uint64
	Progress     func(done, expected int, what string)
}

// wattLess is how much less the main source makes in the "what would a watt less do" run.
const wattLessW = 1.0

const (
	fineWeight = 12 // a fine run takes about as long as so many that train
	chunk      = 10 // draws that are one job, and take about as long as one run that trains
)

// design is what is known of one design on the way.
type design struct {
	file     *device.File
	fine     *session.Result
	model    *model.Model // of the fine run
	err      error
	standin  *standin.Design
	outcomes []*standin.Outcome // draws; [0] at the best values
	airK     []float64          // per draw, the warmest air in which it lasts; NaN: not known
	less     *standin.Outcome   // with lessW less in the main source
	lessW    float64
	confirm  []*standin.Outcome // in 3-D, at the draws of confirmed
}

// Compare runs the study. learned may be nil. After Ctrl-C it returns the rows it has, without a verdict, with the context's
// error.
//
// The answers shown come from a 3-D run on fine cells at the most likely values. How sure they are comes from a stand-in for each
// design, anchored to that run, at hundreds of draws of what is in doubt; at two of them, towards either end, 3-D runs on fine
// cells say how far the stand-in is off.
func Compare(ctx context.Context, f *device.File, learned *learn.Result, opt Options) (*Study, error) {
	if opt.Fine == (model.Fineness{}) {
		opt.Fine = model.Fine
	}
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if opt.Draws <= 0 {
		opt.Draws = 200
	}
	names := []string{""}
	for i := range f.Retrofits {
		if wanted(f.Retrofits[i].Name, opt.Only) {
			names = append(names, f.Retrofits[i].Name)
		}
	}
	best := device.Values{}
	var draws []device.Values
	if learned != nil {
		best, draws = learned.Best, learned.Draws
	}
	st := &Study{Device: f.Device, About: f.About, Invented: f.Invented, Mode: f.Mode, Learned: learned, Draws: opt.Draws, Rows: make([]Row, len(names))}

	training := standin.Options{Best: best, Learned: draws, Draws: opt.Draws, Ambient: true, UntilS: opt.UntilS, Fineness: opt.Coarse, Seed: opt.Seed}
	expected := len(names) * (fineWeight*(1+confirmed) + training.Runs() + 2*(opt.Draws/chunk+1))
	done := 0
	var mu sync.Mutex
	tell := func(what string, weight int) {
		mu.Lock()
		defer mu.Unlock()
		done = min(done+weight, expected)
		if opt.Progress != nil {
			opt.Progress(done, expected, what)
		}
	}

	// Every single run is a job of its own, so that both cores stay busy to the end. Results go to fixed places: the order of
	// finishing does not matter.
	states := make([]design, len(names))
	var cancelled error
	inParallel := func(jobs []func()) {
		if cancelled == nil {
			cancelled = work.InParallel(ctx, opt.Workers, jobs)
		}
	}
	var jobs []func()
	for i := range names {
		d, row := &states[i], &st.Rows[i]
		row.empty(names[i])
		if names[i] != "" {
			row.About = f.Retrofits[indexOf(f, names[i])].About
		}
		d.file, row.Notes, d.err = f.Variant(names[i])
		if d.err != nil {
			continue
		}
		jobs = append(jobs, func() {
			// the answer shown, in 3-D at the best values
			d.fine, d.model, d.err = runOnce(ctx, d.file, best, opt.Fine, session.Spec{Design: row.Name, UntilS: opt.UntilS, CoolS: 6 * 60, TolK: 0.04})
			tell(row.Name, fineWeight)
		})
	}
	inParallel(jobs)

	jobs = nil
	failed := make([]error, len(names)) // of the stand-ins: the answer shown stays
	for i := range names {
		d, row := &states[i], &st.Rows[i]
		if d.err != nil || d.model == nil {
			continue
		}
		jobs = append(jobs, func() {
			own := training
			own.Progress = func() { tell(row.Name, 1) }
			if d.standin, failed[i] = standin.Build(ctx, d.file, own); failed[i] == nil {
				failed[i] = d.standin.Anchor(ctx, d.fine)
			}
			if failed[i] != nil {
				d.standin = nil
			}
		})
	}
	inParallel(jobs)

	jobs = nil
	for i := range names {
		d, row := &states[i], &st.Rows[i]
		if d.standin == nil {
			continue
		}
		d.outcomes, d.airK = make([]*standin.Outcome, len(d.standin.Draws)), make([]float64, len(d.standin.Draws))
		for from := 0; from < len(d.outcomes); from += chunk {
			jobs = append(jobs, func() {
				d.ask(ctx, from, min(from+chunk, len(d.outcomes)))
				tell(row.Name, 2)
			})
		}
		jobs = append(jobs, func() {
			if v, w := oneWattLess(d.model, d.file, best); v != nil {
				if o, err := d.standin.Ask(ctx, v); err == nil {
					d.less, d.lessW = o, w
				}
			}
		})
	}
	inParallel(jobs)

	jobs = nil
	for i := range names {
		d, row := &states[i], &st.Rows[i]
		for _, k := range d.toConfirm() {
			jobs = append(jobs, func() {
				if o, err := d.standin.Ask3D(ctx, d.standin.Draws[k], opt.Fine); err == nil {
					mu.Lock()
					d.confirm[k] = o
					mu.Unlock()
				}
				tell(row.Name, fineWeight)
			})
		}
	}
	inParallel(jobs)

	var rows []Row
	for i := range names {
		d, row := &states[i], &st.Rows[i]
		if d.fine == nil && (d.err == nil || cancelled != nil && errors.Is(d.err, cancelled)) {
			continue // Ctrl-C came first
		}
		if d.err != nil {
			row.Failed = inWords(d.err)
			rows = append(rows, *row)
			continue
		}
		row.Result = d.fine
		if states[0].model != nil {
			row.MassAddedKg = massKg(d.model) - massKg(states[0].model)
		}
		if failed[i] != nil && cancelled == nil {
			row.Notes = append(row.Notes, "how sure this is could not be worked out: "+inWords(failed[i]))
		}
		d.fill(row, opt.Seed)
		rows = append(rows, *row)
	}
	st.Rows = rows
	st.BatteryMin, st.AskedMin = states[0].batterySpread(), opt.UntilS/60
	if cancelled != nil {
		return st, cancelled
	}
	if states[0].err != nil {
		return st, states[0].err // without the stock device there is nothing to compare with
	}
	st.Conditions = conditionsInWords(states[0].model)
	st.Assumptions = Assumptions(f, states[0].model)
	st.Verdict = verdict(st)
	return st, nil
}

func massKg(m *model.Model) (kg float64) {
	for i := range m.Parts {
		kg += m.Parts[i].MassKg
	}
	return kg
}

// inWords says what is wrong without the lines of the file: the text stands in a sentence.
func inWords(err error) string {
	var ps device.Problems
	if !errors.As(err, &ps) || len(ps) == 0 {
		return err.Error()
	}
	what := make([]string, len(ps))
	for i := range ps {
		what[i] = ps[i].What
	}
	return strings.Join(what, "; ")
}

// runOnce builds a design under values and runs one session.
func runOnce(ctx context.Context, f *device.File, v device.Values, fine model.Fineness, spec session.Spec) (*session.Result, *model.Model, error) {
	shape, err := model.NewShape(f, v, fine)
	if err != nil {
		return nil, nil, err
	}
	m, err := shape.At(v, nil, "")
	if err != nil {
		return nil, nil, err
	}
	spec.Values, spec.Workers = v, 1
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return nil, nil, err
	}
	return res, m, nil
}

// oneWattLess takes a watt off the part that makes most heat, or half of it when it makes less than two. nil when nothing
// makes heat.
func oneWattLess(m *model.Model, f *device.File, best device.Values) (device.Values, float64) {
	main := -1
	for i := range m.Sources {
		if !m.Sources[i].Cell && (main < 0 || m.Sources[i].FullW > m.Sources[main].FullW) {
			main = i
		}
	}
	if main < 0 || m.Sources[main].FullW <= 0 {
		return nil, 0
	}
	less := math.Min(wattLessW, m.Sources[main].FullW/2)
	name := m.Parts[m.Sources[main].Part].Name
	path := ""
	for i := range f.Parts {
		if f.Parts[i].Name != name {
			continue
		}
		h := &f.Parts[i].Heat
		path = h.All.Path
		for k := range h.Modes {
			if h.Modes[k].Name == m.Under.Mode {
				path = h.Modes[k].Q.Path
			}
		}
	}
	v := device.Values{}
	for p, x := range best {
		v[p] = x
	}
	v[path] = m.Sources[main].FullW - less
	return v, less
}

const zeroC = 273.15

// spreadOf is the 5 % and 95 % point of the draws around the middle that is shown.
func spreadOf(draws []float64, mid float64) Spread {
	s := Spread{mid, mid, mid}
	if len(draws) < 2 {
		return s
	}
	d := append([]float64(nil), draws...)
	sort.Float64s(d)
	s.Lo = math.Min(mid, quantile(d, 0.05))
	s.Hi = math.Max(mid, quantile(d, 0.95))
	return s
}

// quantile of sorted values, by straight lines between the order statistics (i − ½)/n.
func quantile(sorted []float64, q float64) float64 {
	x := q*float64(len(sorted)) - 0.5
	i := int(math.Floor(x))
	if i < 0 {
		return sorted[0]
	}
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// mainSensor is the first sensor's temperature at a time, or at the run's own end when that came before, K.
func mainSensor(r *session.Result, atS float64) float64 {
	atS = math.Min(atS, r.Own.AtS)
	for i := range r.Series {
		s := &r.Series[i]
		if s.Kind != "sensor" || len(s.ValueK) == 0 {
			continue
		}
		n := len(s.ValueK)
		k := sort.SearchFloat64s(r.TimeS[:n], atS)
		switch {
		case k == 0:
			return s.ValueK[0]
		case k == n:
			return s.ValueK[n-1]
		}
		w := (atS - r.TimeS[k-1]) / (r.TimeS[k] - r.TimeS[k-1])
		return s.ValueK[k-1] + w*(s.ValueK[k]-s.ValueK[k-1])
	}
	return math.NaN()
}

func wanted(name string, only []string) bool {
	if len(only) == 0 {
		return true
	}
	for _, o := range only {
		if o == name {
			return true
		}
	}
	return false
}

func indexOf(f *device.File, name string) int {
	for i := range f.Retrofits {
		if f.Retrofits[i].Name == name {
			return i
		}
	}
	return -1
}
