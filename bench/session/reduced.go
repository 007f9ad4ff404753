package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"finwright/bench/exchange"
	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/reduce"
	"finwright/internal/session"
	"finwright/internal/unit"
	"finwright/internal/work"
)

const (
	// trainingPairs of draws, beside the middle, whose 3-D runs the modes are made from; as in package learn
	trainingPairs = 2
	// trainedTo and drawnTo are the ranges, in standard scores, of training and of the draws; 1.645 is the ends of the file's own
	// 90 % intervals
	trainedTo, drawnTo = 1.5, 1.645
	// stepK is the error per step of 3-D and reduced runs alike
	stepK = 0.02
	seed  = 20_231
)

// learning is the fineness that reduced models are made at.
var learning = model.Fineness{TargetCells: 12_000, Across: 1}

// study is the reduced model of one device with what is needed to try it.
type study struct {
	shape    *model.Shape
	unknowns []model.Unknown
	watch    []string
	basis    *reduce.Basis
	cells    int
}

// reduced builds the device's reduced model (set-up: the 3-D runs and the modes), times sessions through it at the draws, one at
// a time, and finds its worst error: over all draws, sensors and parts' mean and highest temperatures, and all samples in time.
// A session's time is from new values to the curves: assembling and projecting the model count as well.
func reduced(ctx context.Context, f *device.File, draws int) (exchange.Row, error) {
	row := exchange.Row{Part: "reduced", Solver: "finwright reduced", Draws: draws}
	from := time.Now()
	s, err := build(ctx, f)
	if err != nil {
		return row, err
	}
	row.SetupS = time.Since(from).Seconds()
	row.Case = fmt.Sprintf("90 min, %d modes", s.basis.R)
	row.Cells = s.cells

	rng := rand.New(rand.NewPCG(seed, 2))
	values := make([]device.Values, draws)
	curves := make([][]session.Series, draws)
	var stepping, all time.Duration
	for i := range values {
		values[i] = s.values(func() float64 { return max(-drawnTo, min(drawnTo, rng.NormFloat64())) })
		from := time.Now()
		res, took, err := s.run(ctx, values[i], true, nil)
		if err != nil {
			return row, err
		}
		all += time.Since(from)
		stepping += took
		curves[i] = res.Series
		row.Steps = res.Steps
	}
	row.SolveS = all.Seconds() / float64(draws)
	row.Setting = fmt.Sprintf("of it in the session itself %.4f s", stepping.Seconds()/float64(draws))

	worst := make([]float64, draws)
	err = s.inParallel(ctx, draws, func(i int) error {
		res, _, err := s.run(ctx, values[i], false, nil)
		if err != nil {
			return err
		}
		worst[i], err = apart(curves[i], res.Series)
		return err
	})
	if err != nil {
		return row, err
	}
	off := 0.0
	for _, w := range worst {
		off = math.Max(off, w)
	}
	row.OffK = &off
	return row, nil
}

// build makes the modes from 3-D runs at the middle of the unknowns and at pairs of opposite draws.
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
	for _, u := range m.Unknowns {
		if u.Dim != unit.Length || !strings.HasPrefix(u.Path, "parts.") { // another size is another shape
			s.unknowns = append(s.unknowns, u)
		}
	}
	for i := range m.Parts {
		s.watch = append(s.watch, m.Parts[i].Name, m.Parts[i].Name+" highest")
	}
	points := []device.Values{nil}
	rng := rand.New(rand.NewPCG(seed, 1))
	for range trainingPairs {
		scores := make([]float64, len(s.unknowns))
		for i := range scores {
			scores[i] = trainedTo * (2*rng.Float64() - 1)
		}
		for _, sign := range []float64{1, -1} {
			next := -1
			points = append(points, s.values(func() float64 { next++; return sign * scores[next] }))
		}
	}
	seen := make([][][]float64, len(points))
	err = s.inParallel(ctx, len(points), func(i int) error {
		nextS := 2.0
		_, _, err := s.run(ctx, points[i], false, func(tS float64, tK []float64) {
			if tS >= nextS { // evenly over the logarithm of time
				seen[i] = append(seen[i], append([]float64(nil), tK...))
				nextS = 1.35 * tS
			}
		})
		return err
	})
	if err != nil {
		return nil, err
	}
	var snapshots [][]float64
	for _, run := range seen {
		snapshots = append(snapshots, run...)
	}
	s.basis, err = reduce.NewBasis(snapshots, m.Heat.CapJK, m.StartK)
	return s, err
}

// values draws every unknown by its standard score.
func (s *study) values(score func() float64) device.Values {
	v := make(device.Values, len(s.unknowns))
	for _, u := range s.unknowns {
		v[u.Path] = u.Prior.At(score())
	}
	return v
}

// run makes one session under values v, through the reduced model or in 3-D, and tells how long the session itself took.
func (s *study) run(ctx context.Context, v device.Values, reduced bool, onStep func(float64, []float64)) (*session.Result, time.Duration, error) {
	m, err := s.shape.At(v, nil, "")
	if err != nil {
		return nil, 0, err
	}
	spec := fullPower()
	spec.Values, spec.Bare, spec.Watch, spec.TolK, spec.Workers, spec.OnStep = v, true, s.watch, stepK, 1, onStep
	if reduced {
		if spec.Thermal, err = s.basis.Stepper(m.Heat, m.Gas(), stepK); err != nil {
			return nil, 0, err
		}
	}
	from := time.Now()
	res, err := session.Run(ctx, m, spec)
	return res, time.Since(from), err
}

// inParallel does n jobs, two at a time, and returns the first error in their order.
func (s *study) inParallel(ctx context.Context, n int, job func(i int) error) error {
	errs := make([]error, n)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	jobs := make([]func(), n)
	for i := range jobs {
		jobs[i] = func() {
			if errs[i] = job(i); errs[i] != nil {
				stop() // the others are of no use then
			}
		}
	}
	end := work.InParallel(ctx, 2, jobs)
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return end
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
