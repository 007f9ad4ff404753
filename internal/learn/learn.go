// Package learn narrows what cannot be measured (powers, joints, trip points) from how the device behaved, as it was or with a
// retrofit on. Each run becomes residuals between what was seen and what the model gives; package infer finds the most likely values under
// the priors, and their covariance. This package also says in words what the runs cannot tell apart, and when they speak
// against heat being the cause at all.
//
// Start reading at Learn.
package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/unit"
	"finwright/internal/work"
)

// Options steer learning. The zero value is good.
type Options struct {
	Fineness model.Fineness // cells; zero takes about 12 000
	Anchor   model.Fineness // cells of the 3-D runs at the values found, which the answer rests on; zero takes model.Fine
	Workers  int            // concurrent simulations; zero takes two
	Seed     uint64
	Draws    int                      // posterior draws to return beside the most likely values; zero takes 200
	Calls    int                      // calls of the reduced models that sampling the posterior may take; zero takes 5000
	ESS      int                      // independent draws that the sample must be worth for every unknown; zero takes 200
	Progress func(done, expected int) // simulations made and expected
	// ReadLog reads one logger's file beside the device file.
	ReadLog LogReader
}

// ErrNothing is returned when the file has no runs to learn from.
var ErrNothing = errors.New("the file has no stock runs: nothing to learn from")

// study is the learning problem: unknowns, observations and the devices they are simulated on.
type study struct {
	opt      Options
	devices  map[string]*device.File // by the retrofit that is on
	reshape  bool                    // sizes are in doubt: cut anew for each draw, without reduced models
	unknowns []model.Unknown
	runs     []observed
	size     int          // residuals of all runs together
	oneSided []int        // those of statements that something had not happened yet
	offset   []float64    // what 3-D says beyond the reduced models, per residual
	silent   int          // unknowns dropped because the runs say nothing about them
	evidence *Cause       // for and against heat; nil: none
	widen    []float64    // factors on the residuals, at most 1: what the reduced models were found to be off by is a further error
	sims     atomic.Int64 // progress, in reduced runs
	runsMade atomic.Int64 // simulations of any kind
	expected atomic.Int64
}

// trainingDraws is how many pairs of draws from the prior the reduced models are made from, besides the prior's middle.
const trainingDraws = 8

// instances is how many draws over all unknowns tell a reduced model how numbers depend on them.
const instances = 12

// starts is from how many places the last search begins, the end of the one before and draws of the prior: separate answers are
// found so.
const starts = 4

// rounds is how often the reduced models are checked against 3-D at the values found, extended by what was seen there, and
// the search taken up again.
const rounds = 2

// Learn finds the unknowns of the file from its runs: 3-D runs at the prior's middle and at a few draws of it train a
// reduced model for each run, the search uses those, and where it ends 3-D runs say how far the reduced ones are off; the
// difference is taken off and the search goes on from there, from several starts. An ensemble of walkers then samples the posterior
// about what was found, and 3-D runs of some draws of it say whether the reduced models held there. After Ctrl-C it returns what it has with the context's error: nothing
// (nil) while the reduced models are still being trained.
func Learn(ctx context.Context, f *device.File, opt Options) (*Result, error) {
	if len(f.Runs) == 0 {
		return nil, ErrNothing
	}
	if opt.Fineness == (model.Fineness{}) {
		opt.Fineness = fineness
	}
	if opt.Anchor == (model.Fineness{}) {
		opt.Anchor = model.Fine
	}
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if opt.Draws <= 0 {
		opt.Draws = 200
	}
	if opt.Calls <= 0 {
		opt.Calls = sampleCalls
	}
	if opt.ESS <= 0 {
		opt.ESS = sampleESS
	}
	s, err := newStudy(f, opt)
	if err != nil {
		return nil, err
	}
	n := len(s.unknowns)
	s.expected.Store(int64(len(s.runs)) * (weight3D*(1+2*trainingDraws+rounds+confirmed) + int64(6*n+60+min(opt.Calls, usualCalls*opt.ESS))))
	if n == 0 { // every figure of the file is certain: only the fits are left to tell
		return s.result(ctx, &infer.Result{Status: infer.Converged}, nil)
	}
	if !s.reshape {
		if err := s.train(ctx); err != nil {
			return nil, err
		}
		if s.evidence, err = s.cause(ctx); err != nil {
			return nil, err
		}
	}
	var fit *infer.Result
	var from []float64
	for round := 0; round < rounds; round++ {
		// the first search only has to come near: its end is where the reduced models are anchored
		search := infer.Options{Workers: opt.Workers, Seed: opt.Seed, From: from, MaxIter: 12}
		if round < rounds-1 && !s.reshape {
			search.MaxIter = 3
		} else if !s.reshape {
			search.MaxIter, search.Starts = 40, starts
		}
		if fit, err = infer.MAP(ctx, s.problem(), search); err != nil {
			return nil, err
		}
		if ctx.Err() != nil || s.reshape || round == rounds-1 {
			break
		}
		if err := s.anchor(ctx, fit.Z); err != nil {
			if ctx.Err() != nil {
				break
			}
			return nil, err
		}
		from = s.keepWhatMatters(fit)
	}
	if s.reshape || fit.Cov == nil {
		return s.result(ctx, fit, nil)
	}
	post, err := s.sample(ctx, fit)
	if err != nil {
		return nil, err
	}
	return s.result(ctx, fit, post)
}

// problem is the search for the unknowns as they stand.
func (s *study) problem() infer.Problem {
	return infer.Problem{
		N: len(s.unknowns), M: s.size, OneSided: s.oneSided,
		Residuals: func(ctx context.Context, z, dst []float64) error { return s.residuals(ctx, s.values(z), dst) },
	}
}

// newStudy reads the observations and lists the unknowns.
func newStudy(f *device.File, opt Options) (*study, error) {
	s := &study{opt: opt, devices: map[string]*device.File{}}
	var err error
	for i := range f.Runs {
		name := f.Runs[i].Retrofit
		if s.devices[name] == nil {
			if s.devices[name], _, err = f.Variant(name); err != nil {
				return nil, err
			}
		}
	}
	if s.runs, err = observations(f, s.devices, opt.ReadLog); err != nil {
		return nil, err
	}
	shapes, err := s.shapes(nil, opt.Fineness)
	if err != nil {
		return nil, err
	}
	for i := range s.runs {
		s.runs[i].shape = shapes[s.runs[i].spec.Retrofit]
	}
	if err := s.gather(); err != nil {
		return nil, err
	}
	for i := range s.runs {
		for k, one := range s.runs[i].oneSided() {
			if one {
				s.oneSided = append(s.oneSided, s.size+k)
			}
		}
		s.size += s.runs[i].residuals()
	}
	s.offset = make([]float64, s.size)
	return s, nil
}

// shapes cuts every device into cells.
func (s *study) shapes(v device.Values, fine model.Fineness) (map[string]*model.Shape, error) {
	out := map[string]*model.Shape{}
	for name, f := range s.devices {
		var err error
		if out[name], err = model.NewShape(f, v, fine); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// silent is the effect of a whole prior standard deviation on all residuals together, in their standard deviations, below
// which the runs say nothing about an unknown.
const silent = 0.1

// quiet is what all unknowns that are dropped may do together to any one residual: the root of the sum of their squared effects, in its
// standard deviations. It would widen the residual's error by half its square, 2 %.
const quiet = 0.2

// keepWhatMatters drops the unknowns about which the stock runs say nothing, the quietest first; they stay at the middle of their priors, and
// their doubt comes back where a retrofit is judged. It returns the scores of those that stay.
func (s *study) keepWhatMatters(fit *infer.Result) (z []float64) {
	if fit.J == nil {
		return fit.Z
	}
	rows, n := fit.J.Dims()
	effect := make([]float64, n) // squared
	order := make([]int, n)
	for i := range order {
		order[i] = i
		for k := 0; k < rows; k++ {
			effect[i] += fit.J.At(k, i) * fit.J.At(k, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return effect[order[a]] < effect[order[b]] })
	dropped := make([]bool, n)
	together := make([]float64, rows)
	for _, i := range order {
		if math.Sqrt(effect[i]) >= silent || math.Abs(fit.Z[i]) > 0.1 {
			continue
		}
		loud := false
		for k := range together {
			loud = loud || together[k]+fit.J.At(k, i)*fit.J.At(k, i) > quiet*quiet
		}
		if loud {
			continue
		}
		dropped[i] = true
		for k := range together {
			together[k] += fit.J.At(k, i) * fit.J.At(k, i)
		}
	}
	var kept []model.Unknown
	for i, u := range s.unknowns {
		if !dropped[i] {
			kept = append(kept, u)
			z = append(z, fit.Z[i])
		}
	}
	if len(kept) == 0 {
		return fit.Z
	}
	s.silent = len(s.unknowns) - len(kept)
	s.unknowns = kept
	return z
}

// fineness of the cells that learning runs on.
var fineness = model.Fineness{TargetCells: 12_000, Across: 1}

// weight3D is about how many reduced runs a 3-D one takes as long as.
const weight3D = 60

// usualCalls is about how many calls a sample takes for each independent draw asked for.
const usualCalls = 4

// tell reports progress, in reduced runs.
func (s *study) tell(weight int64) {
	s.runsMade.Add(1)
	done := int(s.sims.Add(weight))
	if s.opt.Progress != nil {
		s.opt.Progress(done, max(int(s.expected.Load()), done))
	}
}

// train makes every run's reduced model from 3-D runs at the middle and at draws of the prior.
func (s *study) train(ctx context.Context) error {
	n := len(s.unknowns)
	points := [][]float64{make([]float64, n)}
	rng := rand.New(rand.NewPCG(s.opt.Seed, 0x7a11))
	for k := 0; k < trainingDraws; k++ {
		z := make([]float64, n)
		back := make([]float64, n)
		for i := range z {
			// wide of the prior's middle half, so that the modes span what the search may visit
			z[i] = 1.5 * (2*rng.Float64() - 1)
			back[i] = -z[i]
		}
		points = append(points, z, back)
	}
	var mu sync.Mutex
	var firstErr error
	var jobs []func()
	for i := range s.runs {
		o := &s.runs[i]
		o.seen = make([][]snapshot, len(points))
		for k, z := range points {
			jobs = append(jobs, func() {
				err := o.watch(ctx, s.values(z), &o.seen[k])
				s.tell(weight3D)
				mu.Lock()
				if err != nil && firstErr == nil {
					firstErr = err
				}
				mu.Unlock()
			})
		}
	}
	work.InParallel(ctx, s.opt.Workers, jobs)
	if firstErr != nil {
		return firstErr
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	for i := range s.runs {
		if err := s.runs[i].reduce(s.draws(), s.ranges()); err != nil {
			return err
		}
	}
	return nil
}

// anchor runs every stock run in 3-D at the scores found: what the temperatures did there joins the reduced models, and what
// those still miss becomes an offset to the residuals. The 3-D run is on fine cells, so that the cells' own error goes too.
func (s *study) anchor(ctx context.Context, z []float64) error {
	v := s.values(z)
	fine, err := s.shapes(v, s.opt.Anchor)
	if err != nil {
		return err
	}
	exact := make([]float64, s.size)
	errs := make([]error, len(s.runs))
	var jobs []func()
	at := 0
	for i := range s.runs {
		o, dst := &s.runs[i], exact[at:at+s.runs[i].residuals()]
		at += len(dst)
		jobs = append(jobs, func() {
			var seen []snapshot
			if errs[i] = o.watch(ctx, v, &seen); errs[i] != nil {
				return
			}
			o.seen = append(o.seen, seen)
			errs[i] = o.in3D(fine[o.spec.Retrofit]).compare(ctx, v, dst, nil, nil)
			s.tell(weight3D)
		})
	}
	work.InParallel(ctx, s.opt.Workers, jobs)
	for i := range s.runs {
		if errs[i] != nil {
			return errs[i]
		}
		if err := s.runs[i].reduce(s.draws(), s.ranges()); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	clear(s.offset)
	near := make([]float64, s.size)
	if err := s.residuals(ctx, v, near); err != nil {
		return err
	}
	for i := range s.offset {
		s.offset[i] = exact[i] - near[i]
	}
	return nil
}

// reach is how far from the middle, in standard scores, the reduced models are made for.
const reach = 2.0

// ranges are the values that the reduced models are made for.
func (s *study) ranges() []reduce.Range {
	out := make([]reduce.Range, len(s.unknowns))
	for i, u := range s.unknowns {
		out[i] = reduce.Range{Name: u.Path, Lo: u.Prior.At(-reach), Hi: u.Prior.At(reach)}
	}
	return out
}

// outside says which of the values found lie where no reduced model was made for.
func (s *study) outside(best device.Values) []string {
	beyond := map[string]bool{}
	for i := range s.runs {
		if r := s.runs[i].reduced; r != nil {
			for _, name := range r.model.Outside(best) {
				beyond[name] = true
			}
		}
	}
	var out []string
	for _, u := range s.unknowns {
		if beyond[u.Path] {
			out = append(out, fmt.Sprintf("Far out: %s is at %s, beyond what the fast model was made for (%s to %s). Check the figure in the file; widen its range if it may be so.",
				u.About, unit.Format(best[u.Path], u.Dim), unit.Format(u.Prior.At(-reach), u.Dim), unit.Format(u.Prior.At(reach), u.Dim)))
		}
	}
	return out
}

// draws are values over the whole of what the search may visit, the middle first.
func (s *study) draws() []device.Values {
	out := []device.Values{nil}
	rng := rand.New(rand.NewPCG(s.opt.Seed, 0xd3a5))
	for len(out) < instances {
		z := make([]float64, len(s.unknowns))
		for i := range z {
			z[i] = reach * (2*rng.Float64() - 1)
		}
		out = append(out, s.values(z))
	}
	return out
}

// gather lists the unknowns of all runs, in the order they are met.
func (s *study) gather() error {
	seen := map[string]bool{}
	for i := range s.runs {
		m, err := s.runs[i].shape.At(nil, &s.runs[i].spec.Conditions, s.runs[i].spec.Mode)
		if err != nil {
			return err
		}
		unknowns := m.Unknowns
		for k := range unknowns {
			if u := &unknowns[k]; strings.HasPrefix(u.Path, s.runs[i].spec.Path+".") {
				u.About += ", " + s.runs[i].name
			}
		}
		if q := s.runs[i].spec.Start; q.Doubtful() {
			unknowns = append(unknowns, model.Unknown{Path: q.Path, About: "start temperature, " + s.runs[i].name, Dim: q.Dim, Prior: q.Prior(), Source: "the file", Stated: true})
		}
		for _, u := range unknowns {
			if u.Dim == unit.Length {
				s.reshape = s.reshape || isSize(u.Path)
			}
			if !seen[u.Path] {
				seen[u.Path] = true
				s.unknowns = append(s.unknowns, u)
			}
		}
	}
	return nil
}

// isSize says whether a path names a part's size, which needs new cells.
func isSize(path string) bool { return len(path) > 6 && path[:6] == "parts." }

// values turns scores into numbers.
func (s *study) values(z []float64) device.Values {
	v := make(device.Values, len(z))
	for i, u := range s.unknowns {
		v[u.Path] = u.Prior.At(z[i])
	}
	return v
}

// cutAt are the runs on cells for the sizes in v: those that there are, unless sizes are in doubt.
func (s *study) cutAt(v device.Values) ([]observed, error) {
	if !s.reshape {
		return s.runs, nil
	}
	shapes, err := s.shapes(v, s.opt.Fineness)
	if err != nil {
		return nil, err
	}
	out := make([]observed, len(s.runs))
	for i := range s.runs {
		out[i] = *s.runs[i].in3D(shapes[s.runs[i].spec.Retrofit])
	}
	return out, nil
}

// residuals simulates every stock run under values v; what 3-D says beyond the reduced models is added.
func (s *study) residuals(ctx context.Context, v device.Values, dst []float64) error {
	runs, err := s.cutAt(v)
	if err != nil {
		return err
	}
	at := 0
	for i := range runs {
		n := runs[i].residuals()
		if err := runs[i].compare(ctx, v, dst[at:at+n], s.offset[at:at+n], nil); err != nil {
			return err
		}
		s.tell(1)
		at += n
	}
	for i, w := range s.widen {
		dst[i] *= w
	}
	return nil
}

// result puts the fit and the sample about it (nil: none) into words and numbers.
func (s *study) result(ctx context.Context, fit *infer.Result, post *sampled) (*Result, error) {
	out := &Result{Status: fit.Status.String(), Iterations: fit.Iterations, Condition: fit.Condition, Cells: s.opt.Fineness.TargetCells, Silent: s.silent}
	out.Best = s.values(fit.Z)
	out.Draws = []device.Values{out.Best}
	names, narrowed := s.names(), fit.Narrowed()
	cov := fit.Cov
	if post != nil {
		narrowed, cov = post.Narrowed(), post.Cov
	}
	for i, u := range s.unknowns {
		sd := 1.0
		if cov != nil {
			sd = math.Sqrt(cov.At(i, i))
		}
		lo, hi := fit.Z[i]-z90*sd, fit.Z[i]+z90*sd
		if post != nil {
			// the most likely values of all together need not lie in the middle of each one's interval
			lo, hi = math.Min(fit.Z[i], post.Quantile(i, 0.05)), math.Max(fit.Z[i], post.Quantile(i, 0.95))
		}
		out.Unknowns = append(out.Unknowns, Learned{
			Path: u.Path, About: u.About, Dim: u.Dim.Name(), Source: u.Source,
			PriorLo: u.Prior.At(-z90), PriorMid: u.Prior.At(0), PriorHi: u.Prior.At(z90),
			Lo: u.Prior.At(lo), Mid: u.Prior.At(fit.Z[i]), Hi: u.Prior.At(hi),
			Narrowed: narrowed[i],
		})
	}
	if cov != nil {
		n := len(s.unknowns)
		out.Covariance = make([][]float64, n)
		for i := range out.Covariance {
			out.Covariance[i] = make([]float64, n)
			for k := range out.Covariance[i] {
				out.Covariance[i][k] = cov.At(i, k)
			}
		}
	}
	if words := fit.ModesSentence(names); len(fit.Others) > 0 {
		out.Warnings = append(out.Warnings, "More than one answer fits: "+words+".")
	}
	switch {
	case post != nil:
		out.Sample = post.told
		for _, z := range post.Draws {
			out.Draws = append(out.Draws, s.values(z))
		}
		for _, g := range post.Confounded(confoundedFrom) {
			out.Warnings = append(out.Warnings, "The runs cannot tell these apart: "+g.Sentence(names)+".")
		}
		out.Warnings = append(out.Warnings, post.warnings()...)
	case cov != nil:
		for _, g := range infer.Confounded(fit, confoundedFrom) {
			out.Warnings = append(out.Warnings, "The runs cannot tell these apart: "+g.Sentence(names)+".")
		}
		draws, err := infer.Draws(fit, s.opt.Draws+1, s.opt.Seed)
		if err != nil {
			return nil, err
		}
		for _, z := range draws[1:] {
			out.Draws = append(out.Draws, s.values(z))
		}
	}
	if err := ctx.Err(); err != nil {
		out.Warnings = append(out.Warnings, "Stopped early: the figures are those of the last step.")
		return out, err
	}

	// once more at the best values, for the table of fits
	runs, err := s.cutAt(out.Best)
	if err != nil {
		return nil, err
	}
	for i, at := 0, 0; i < len(runs); i++ {
		o := &runs[i]
		n := o.residuals()
		if err := o.compare(ctx, out.Best, make([]float64, n), s.offset[at:at+n], &out.Fits); err != nil {
			return out, err
		}
		at += n
	}
	out.Runs = int(s.runsMade.Load())
	out.Warnings = append(out.Warnings, s.surprises(fit, out.Fits)...)
	out.Warnings = append(out.Warnings, s.doubtedReadings()...)
	out.Warnings = append(out.Warnings, s.outside(out.Best)...)
	said := s.notHeat()
	if len(said) == 0 {
		said = s.causeWarnings(s.evidence, out.Best)
	}
	out.Warnings, out.Cause = append(said, out.Warnings...), s.evidence // before all else: no metal helps against a time limit
	return out, nil
}

// confoundedFrom is how much of a known combination's variance its members' own doubts must explain away before it is told of.
const confoundedFrom = 0.9

func (s *study) names() []string {
	names := make([]string, len(s.unknowns))
	for i, u := range s.unknowns {
		names[i] = u.About
	}
	return names
}

// z90 is the standard score of a 90 % interval's end.
const z90 = 1.6448536269514722

// notHeat looks for a pair of runs that differ in air speed only and stop after the same time: then heat is hardly what stops
// the device, because moving air multiplies the film coefficient several times.
func (s *study) notHeat() []string {
	var out []string
	for i := range s.runs {
		a, f := s.runs[i].spec, s.runs[i].file
		if !a.StopsAfter.Given() || speed(f, a) > 0.3 {
			continue
		}
		for k := range s.runs {
			b := s.runs[k].spec
			if a.Retrofit != b.Retrofit || !b.StopsAfter.Given() || speed(f, b) < 1.5 || mode(f, a) != mode(f, b) || !sameTime(a.StopsAfter, b.StopsAfter) {
				continue
			}
			if math.Abs(ambient(f, a)-ambient(f, b)) < 4 && math.Abs(sun(f, a)-sun(f, b)) < 100 {
				out = append(out, fmt.Sprintf("Heat may not be what stops it: it stops after %s in still air and after %s in moving air. Moving air takes heat away several times faster, so a stop by temperature would come much later. Look for a time limit, low voltage or a cracked joint before cutting metal.",
					a.StopsAfter.Text, b.StopsAfter.Text))
			}
		}
	}
	return out
}

// sameTime says whether the middle of one time lies in the interval of the other, each at least a tenth wide to both sides.
func sameTime(a, b device.Q) bool {
	in := func(x, q device.Q) bool {
		return x.Mid >= math.Min(q.Lo, 0.9*q.Mid) && x.Mid <= math.Max(q.Hi, 1.1*q.Mid)
	}
	return in(a, b) || in(b, a)
}

func mode(f *device.File, r *device.Run) string {
	if r.Mode == "" {
		return f.Mode
	}
	return r.Mode
}

func sun(f *device.File, r *device.Run) float64 {
	if r.Sun.Given() {
		return r.Sun.Mid
	}
	return f.Conditions.Sun.Mid
}

func speed(f *device.File, r *device.Run) float64 {
	air := r.Air
	if !air.Given {
		air = f.Conditions.Air
	}
	if !air.Given || air.Still {
		return 0
	}
	return air.Speed.Mid
}

func ambient(f *device.File, r *device.Run) float64 {
	if r.Ambient.Given() {
		return r.Ambient.Mid
	}
	if f.Conditions.Ambient.Given() {
		return f.Conditions.Ambient.Mid
	}
	return device.DefaultAmbientK
}
