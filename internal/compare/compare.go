// Package compare runs stock and every retrofit of a device under the same conditions and puts them side by side: minutes to
// the end with low, middle and high, how it ends, margin, nearest limit, the hottest place a hand can reach, mass added, and
// what a watt less would do.
//
// Start reading at Compare.
package compare

import (
	"context"
	"errors"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"sync"

	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/work"
)

// Options steer a comparison. The zero value is good.
type Options struct {
	Fine, Coarse model.Fineness // cells of the answer shown and of the draws; zero takes model.Fine and model.Coarse
	Workers      int            // designs run at the same time; zero takes two
	Draws        int            // draws of the doubt for each design; zero takes 8
	UntilS       float64        // time asked for; 0: until the battery is empty
	Only         []string       // retrofits to run; empty: all
	Progress     func(done, expected int, what string)
}

// wattLess is how much less the main source makes in the "what would a watt less do" run.
const wattLessW = 1.0

// fineWeight is about how many coarse runs a fine one takes as long as.
const fineWeight = 12

// Compare runs the study. learned may be nil. After Ctrl-C it returns the rows it has, without a verdict, with the context's
// error.
func Compare(ctx context.Context, f *device.File, learned *learn.Result, opt Options) (*Study, error) {
	if opt.Fine == (model.Fineness{}) {
		opt.Fine = model.Fine
	}
	if opt.Coarse == (model.Fineness{}) {
		opt.Coarse = model.Coarse
	}
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if opt.Draws <= 0 {
		opt.Draws = 8
	}
	names := []string{""}
	for i := range f.Retrofits {
		if wanted(f.Retrofits[i].Name, opt.Only) {
			names = append(names, f.Retrofits[i].Name)
		}
	}
	best := device.Values{}
	if learned != nil {
		best = learned.Best
	}
	st := &Study{Device: f.Device, About: f.About, Invented: f.Invented, Mode: f.Mode, Learned: learned, Draws: opt.Draws, Rows: make([]Row, len(names))}

	expected := len(names) * (fineWeight + opt.Draws + 2)
	done := 0
	var mu sync.Mutex
	tell := func(what string, weight int) {
		mu.Lock()
		defer mu.Unlock()
		done += weight
		if opt.Progress != nil {
			opt.Progress(done, expected, what)
		}
	}

	// Every single run is a job of its own, so that both cores stay busy to the end. Results go to fixed places: the order of
	// finishing does not matter.
	type designState struct {
		file    *device.File
		model   *model.Model
		coarse  []*session.Result // draws; [0] at the best values
		less    *session.Result
		lessW   float64
		fine    *session.Result
		err     error
		massKg  float64
		unknown []model.Unknown
	}
	states := make([]designState, len(names))
	var jobs []func()
	for i := range names {
		d := &states[i]
		row := &st.Rows[i]
		row.Name, row.MassAddedKg, row.WattLessMin, row.WattLessK = names[i], math.NaN(), math.NaN(), math.NaN()
		if names[i] == "" {
			row.Name = "stock"
		} else {
			row.About = f.Retrofits[indexOf(f, names[i])].About
		}
		var notes []string
		d.file, notes, d.err = f.Variant(names[i])
		row.Notes = notes
		if d.err != nil {
			continue
		}
		d.coarse = make([]*session.Result, opt.Draws+1)
		jobs = append(jobs, func() {
			// the answer shown, in 3-D at the best values
			d.fine, d.model, d.err = runOnce(ctx, d.file, best, opt.Fine, session.Spec{Design: row.Name, UntilS: opt.UntilS, CoolS: 6 * 60, TolK: 0.04})
			tell(row.Name, fineWeight)
		})
	}
	cancelled := work.InParallel(ctx, opt.Workers, jobs)

	jobs = jobs[:0]
	for i := range names {
		d := &states[i]
		if d.err != nil || d.model == nil {
			continue
		}
		d.unknown = d.model.Unknowns
		for _, p := range d.model.Parts {
			d.massKg += p.MassKg
		}
		row := &st.Rows[i]
		for k := 0; k <= opt.Draws; k++ {
			jobs = append(jobs, func() {
				v := drawOf(d.unknown, learned, best, k)
				d.coarse[k], _, _ = runOnce(ctx, d.file, v, opt.Coarse, session.Spec{Values: v, UntilS: opt.UntilS, Brief: true, TolK: 0.05})
				tell(row.Name, 1)
			})
		}
		jobs = append(jobs, func() {
			v, w := oneWattLess(d.model, d.file, best)
			if v != nil {
				d.less, _, _ = runOnce(ctx, d.file, v, opt.Coarse, session.Spec{UntilS: opt.UntilS, Brief: true, TolK: 0.05})
				d.lessW = w
			}
			tell(row.Name, 1)
		})
	}
	if cancelled == nil {
		cancelled = work.InParallel(ctx, opt.Workers, jobs)
	}

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
			row.MassAddedKg = d.massKg - states[0].massKg
		}
		fill(row, d.fine, d.coarse)
		if d.less != nil && d.coarse[0] != nil {
			row.WattLessW = d.lessW
			if !lasts(d.coarse[0]) {
				row.WattLessMin = (d.less.End.AtS - d.coarse[0].End.AtS) / 60
			}
			row.WattLessK = mainSensor(d.coarse[0], d.coarse[0].End.AtS) - mainSensor(d.less, d.coarse[0].End.AtS)
		}
		rows = append(rows, *row)
	}
	st.Rows = rows
	st.BatteryMin, st.AskedMin = batterySpread(states[0].model, states[0].coarse), opt.UntilS/60
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

// drawOf gives draw k of a design's unknowns: what was learned together comes from one posterior draw, so that designs stay
// comparable; what the stock runs never saw (a new bond line) comes from its prior, with a seed made of its path. Draw 0 is
// the best value of everything.
func drawOf(unknowns []model.Unknown, learned *learn.Result, best device.Values, k int) device.Values {
	v := device.Values{}
	for p, x := range best {
		v[p] = x
	}
	if k == 0 {
		return v
	}
	var from device.Values
	if learned != nil && len(learned.Draws) > 0 {
		from = learned.Draws[0]
		if n := len(learned.Draws) - 1; n > 0 { // the first are the best values
			from = learned.Draws[1+(k-1)%n]
		}
	}
	for _, u := range unknowns {
		if x, ok := from[u.Path]; ok {
			v[u.Path] = x
			continue
		}
		h := fnv.New64a()
		h.Write([]byte(u.Path))
		z := rand.New(rand.NewPCG(h.Sum64(), uint64((k+1)/2))).NormFloat64()
		if k%2 == 0 {
			z = -z // antithetic pairs keep the middle in the middle
		}
		v[u.Path] = u.Prior.At(math.Max(-2.5, math.Min(2.5, z)))
	}
	return v
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

// fill takes the spreads from the draws. The coarse cells' own error is taken off: draws are shifted by what fine and coarse
// cells differ by at the best values.
func fill(row *Row, fine *session.Result, coarse []*session.Result) {
	row.EndKinds = map[session.EndKind]int{}
	base := coarse[0]
	var minutes, skin, margin []float64
	lasted := 0
	for _, r := range coarse[1:] {
		if r == nil || base == nil {
			continue
		}
		row.EndKinds[r.End.Kind]++
		shift := 1.0
		if base.End.AtS > 0 {
			shift = fine.End.AtS / base.End.AtS
		}
		if r.End.Kind == session.BatteryEmpty || r.End.Kind == session.TimeOver {
			lasted++
			shift = 1 // the battery's time does not depend on cells
		}
		minutes = append(minutes, r.End.AtS*shift/60)
		skin = append(skin, r.Hottest.HighestK-zeroC+fine.Hottest.HighestK-base.Hottest.HighestK)
		if r.Nearest >= 0 && base.Nearest >= 0 && fine.Nearest >= 0 {
			margin = append(margin, r.Limits[r.Nearest].MarginK+fine.Limits[fine.Nearest].MarginK-base.Limits[base.Nearest].MarginK)
		}
	}
	row.Minutes = spreadOf(minutes, fine.End.AtS/60)
	row.SkinC = spreadOf(skin, fine.Hottest.HighestK-zeroC)
	mid := math.NaN()
	if fine.Nearest >= 0 {
		mid = fine.Limits[fine.Nearest].MarginK
	}
	row.MarginK = spreadOf(margin, mid)
	if n := len(minutes); n > 0 {
		row.Chance = float64(lasted) / float64(n)
	}
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

// batterySpread is when the battery would be empty at full power, min; NaN when fed from outside.
func batterySpread(m *model.Model, draws []*session.Result) Spread {
	nan := Spread{math.NaN(), math.NaN(), math.NaN()}
	if m == nil || m.Battery == nil || !m.Battery.Discharges {
		return nan
	}
	draw := m.Battery.OtherW
	for _, s := range m.Sources {
		if !s.Cell {
			draw += s.FullW
		}
	}
	if draw <= 0 {
		return nan
	}
	mid := m.Battery.EnergyJ / draw / 60
	var all []float64
	for _, r := range draws {
		if r != nil && r.MeanDrawW > 0 && len(r.BatteryJ) > 0 {
			all = append(all, r.BatteryJ[0]/r.MeanDrawW/60)
		}
	}
	return spreadOf(all, mid)
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
