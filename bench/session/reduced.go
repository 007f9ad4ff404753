package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"finwright/bench/exchange"
	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/session"
	"finwright/internal/work"
)

const (
	// drawnTo is the range of the draws in standard scores: the ends of the file's own 90 % intervals, for which the reduced model is
	// made
	drawnTo = 1.645
	// stepK is the error per step of the 3-D runs, which stand for the truth
	stepK = 0.01
	seed  = 20_231
)

// learning is the fineness that reduced models are made at.
var learning = model.Fineness{TargetCells: 12_000, Across: 1}

// study is the reduced model of one device with what is needed to try it.
type study struct {
	shape   *model.Shape
	draws   *model.Draws
	watch   []string
	model   *reduce.Model
	partial *model.Partial
	stepper *reduce.Stepper // of reduced sessions, one after the other
	cells   int
}

// reduced builds the device's reduced model (set-up: the 3-D runs, the modes and the checks), times sessions through it at the draws,
// one at a time, and finds its worst error: over all draws, sensors and parts' mean and highest temperatures, and all samples in
// time. A session's time is from new values to the curves: what depends on the values is worked out anew each time.
func reduced(ctx context.Context, f *device.File, draws int) (exchange.Row, error) {
	row := exchange.Row{Part: "reduced", Solver: "finwright reduced", Draws: draws}
	from := time.Now()
	s, err := build(ctx, f)
	if err != nil {
		return row, err
	}
	row.SetupS = time.Since(from).Seconds()
	row.Case = fmt.Sprintf("90 min, %d modes", s.model.R)
	row.Cells = s.cells

	rng := rand.New(rand.NewPCG(seed, 2))
	values := make([]device.Values, draws)
	curves := make([][]session.Series, draws)
	var stepping, all time.Duration
	for i := range values {
		scores := make([]float64, len(s.draws.Unknowns()))
		for k := range scores {
			scores[k] = max(-drawnTo, min(drawnTo, rng.NormFloat64()))
		}
		values[i] = s.draws.Values(scores)
		from := time.Now()
		res, took, err := s.reduced(ctx, values[i])
		if err != nil {
			return row, err
		}
		all += time.Since(from)
		stepping += took
		curves[i] = res.Series
		row.Steps = res.Steps
	}
	row.SolveS = all.Seconds() / float64(draws)
	row.Setting = fmt.Sprintf("of it in the session itself %.5f s", stepping.Seconds()/float64(draws))

	worst := make([]float64, draws)
	errs := make([]error, draws)
	jobs := make([]func(), draws)
	for i := range jobs {
		jobs[i] = func() {
			var res *session.Result
			if res, errs[i] = s.in3D(ctx, values[i]); errs[i] == nil {
				worst[i], errs[i] = apart(curves[i], res.Series)
			}
		}
	}
	if err := work.InParallel(ctx, 2, jobs); err != nil {
		return row, err
	}
	off := 0.0
	for i, w := range worst {
		if errs[i] != nil {
			return row, errs[i]
		}
		off = math.Max(off, w)
	}
	row.OffK = &off
	return row, nil
}

// build makes the reduced model over all that the file does not know.
func build(ctx context.Context, f *device.File) (*study, error) {
	shape, err := model.NewShape(f, nil, learning)
	if err != nil {
		return nil, err
	}
	m, err := shape.At(nil, nil, "")
	if err != nil {
		return nil, err
	}
	s := &study{shape: shape, cells: m.ActiveCells()}
	for i := range m.Parts {
		s.watch = append(s.watch, m.Parts[i].Name, m.Parts[i].Name+" highest")
	}
	if s.draws, err = shape.Draws(nil, ""); err != nil {
		return nil, err
	}
	if s.model, err = reduce.Train(ctx, s.draws, reduce.Options{UntilS: untilS, Seed: seed}); err != nil {
		return nil, err
	}
	s.partial, err = shape.Partial(s.model, nil, "", s.watch)
	return s, err
}

// spec is one session under values v.
func (s *study) spec(v device.Values, tolK float64) session.Spec {
	spec := fullPower()
	spec.Values, spec.Bare, spec.Watch, spec.TolK, spec.Workers = v, true, s.watch, tolK, 1
	return spec
}

// reduced makes one session through the reduced model, and tells how long the session itself took.
func (s *study) reduced(ctx context.Context, v device.Values) (*session.Result, time.Duration, error) {
	m, err := s.partial.At(v)
	if err != nil {
		return nil, 0, err
	}
	in := reduce.Instance{Heat: m.Heat, Air: m.Air()}
	if s.stepper == nil {
		s.stepper, err = s.model.Stepper(in, reduce.StepK)
	} else {
		err = s.stepper.Take(in)
	}
	if err != nil {
		return nil, 0, err
	}
	spec := s.spec(v, reduce.StepK)
	spec.Thermal = s.stepper
	from := time.Now()
	res, err := session.Run(ctx, m, spec)
	return res, time.Since(from), err
}

// in3D makes the same session in 3-D.
func (s *study) in3D(ctx context.Context, v device.Values) (*session.Result, error) {
	m, err := s.shape.At(v, nil, "")
	if err != nil {
		return nil, err
	}
	return session.Run(ctx, m, s.spec(v, stepK))
}

// apart is the largest difference between two runs' curves, K.
func apart(a, b []session.Series) (float64, error) {
	if len(a) != len(b) || len(a) == 0 {
		return 0, fmt.Errorf("%d curves against %d", len(a), len(b))
	}
	worst := 0.0
	for i := range a {
		if len(a[i].ValueK) != len(b[i].ValueK) || len(a[i].ValueK) < 2 {
			return 0, fmt.Errorf("%s: %d samples against %d", a[i].Name, len(a[i].ValueK), len(b[i].ValueK))
		}
		for k, v := range a[i].ValueK {
			d := math.Abs(v - b[i].ValueK[k])
			if math.IsNaN(d) {
				return 0, fmt.Errorf("%s: a temperature is no number", a[i].Name)
			}
			worst = math.Max(worst, d)
		}
	}
	return worst, nil
}
