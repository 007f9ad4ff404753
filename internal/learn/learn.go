// Package learn narrows what cannot be measured (powers, joints, trip points) from how the stock device behaved. Each stock
// run becomes residuals between what was seen and what the 3-D model gives; package infer finds the most likely values under
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
	"sync/atomic"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/model"
	"finwright/internal/unit"
)

// Options steer learning. The zero value is good.
type Options struct {
	Fineness model.Fineness // cells; zero takes model.Coarse
	Workers  int            // concurrent simulations; zero takes two
	Seed     uint64
	Draws    int                      // posterior draws to return; zero takes 12
	Progress func(done, expected int) // simulations made and expected
	// ReadLog reads one logger's file beside the device file.
	ReadLog LogReader
}

// ErrNothing is returned when the file has no stock runs to learn from.
var ErrNothing = errors.New("the file has no stock runs: nothing to learn from")

// study is the learning problem: unknowns, observations and the shape they are simulated on.
type study struct {
	f        *device.File
	opt      Options
	shape    *model.Shape
	reshape  bool // sizes are in doubt: cut anew for each draw
	unknowns []model.Unknown
	runs     []observed
	sims     atomic.Int64
}

// Learn finds the unknowns of the file from its stock runs. After Ctrl-C it returns what it has, with the context's error.
func Learn(ctx context.Context, f *device.File, opt Options) (*Result, error) {
	if len(f.StockRuns) == 0 {
		return nil, ErrNothing
	}
	if opt.Fineness == (model.Fineness{}) {
		opt.Fineness = model.Coarse
	}
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if opt.Draws <= 0 {
		opt.Draws = 12
	}
	s := &study{f: f, opt: opt}
	var err error
	if s.shape, err = model.NewShape(f, nil, opt.Fineness); err != nil {
		return nil, err
	}
	if s.runs, err = observations(f, opt.ReadLog); err != nil {
		return nil, err
	}
	if err := s.gather(); err != nil {
		return nil, err
	}

	n := len(s.unknowns)
	// evaluations: one full set of differences, a few steps, one more set at the end
	expected := len(s.runs) * (2*n + 12)
	tell := func() {
		if opt.Progress != nil {
			opt.Progress(int(s.sims.Load()), max(expected, int(s.sims.Load())))
		}
	}
	size := 0
	var oneSided []int
	for i := range s.runs {
		for k, one := range s.runs[i].oneSided() {
			if one {
				oneSided = append(oneSided, size+k)
			}
		}
		size += s.runs[i].residuals()
	}
	problem := infer.Problem{
		N: n, M: size, OneSided: oneSided,
		Residuals: func(ctx context.Context, z, dst []float64) error {
			defer tell()
			return s.residuals(ctx, s.values(z), dst)
		},
	}
	fit, err := infer.MAP(ctx, problem, infer.Options{Workers: opt.Workers, Seed: opt.Seed})
	if err != nil && ctx.Err() == nil {
		return nil, err
	}
	return s.result(ctx, fit)
}

// gather lists the unknowns of all runs, in the order they are met.
func (s *study) gather() error {
	seen := map[string]bool{}
	for i := range s.runs {
		m, err := s.shape.At(nil, &s.runs[i].spec.Conditions, s.runs[i].spec.Mode)
		if err != nil {
			return err
		}
		for _, u := range m.Unknowns {
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

// residuals simulates every stock run under values v.
func (s *study) residuals(ctx context.Context, v device.Values, dst []float64) error {
	shape := s.shape
	if s.reshape {
		var err error
		if shape, err = model.NewShape(s.f, v, s.opt.Fineness); err != nil {
			return err
		}
	}
	at := 0
	for i := range s.runs {
		o := &s.runs[i]
		n := o.residuals()
		if err := o.compare(ctx, shape, v, dst[at:at+n], nil); err != nil {
			return err
		}
		s.sims.Add(1)
		at += n
	}
	return nil
}

// result puts the fit into words and numbers.
func (s *study) result(ctx context.Context, fit *infer.Result) (*Result, error) {
	out := &Result{Status: fit.Status.String(), Iterations: fit.Iterations, Condition: fit.Condition, Cells: s.opt.Fineness.TargetCells}
	out.Best = s.values(fit.Z)
	names := make([]string, len(s.unknowns))
	for i, u := range s.unknowns {
		names[i] = u.About
		sd := 1.0
		if fit.Cov != nil {
			sd = math.Sqrt(fit.Cov.At(i, i))
		}
		out.Unknowns = append(out.Unknowns, Learned{
			Path: u.Path, About: u.About, Dim: u.Dim.Name(), Source: u.Source,
			PriorLo: u.Prior.At(-z90), PriorMid: u.Prior.At(0), PriorHi: u.Prior.At(z90),
			Lo: u.Prior.At(fit.Z[i] - z90*sd), Mid: u.Prior.At(fit.Z[i]), Hi: u.Prior.At(fit.Z[i] + z90*sd),
			Narrowed: math.Max(0, 1-sd),
		})
	}
	if fit.Cov != nil {
		n := len(s.unknowns)
		out.Covariance = make([][]float64, n)
		for i := range out.Covariance {
			out.Covariance[i] = make([]float64, n)
			for k := range out.Covariance[i] {
				out.Covariance[i][k] = fit.Cov.At(i, k)
			}
		}
		for _, g := range infer.Confounded(fit, 0.9) {
			out.Warnings = append(out.Warnings, "The runs cannot tell these apart: "+g.Sentence(names)+".")
		}
		draws, err := infer.Draws(fit, s.opt.Draws, s.opt.Seed)
		if err != nil {
			return nil, err
		}
		for _, z := range draws {
			out.Draws = append(out.Draws, s.values(z))
		}
	} else {
		out.Draws = []device.Values{out.Best}
	}
	if err := ctx.Err(); err != nil {
		out.Warnings = append(out.Warnings, "Stopped early: the figures are those of the last step.")
		return out, err
	}

	// once more at the best values, for the table of fits
	shape := s.shape
	if s.reshape {
		var err error
		if shape, err = model.NewShape(s.f, out.Best, s.opt.Fineness); err != nil {
			return nil, err
		}
	}
	for i := range s.runs {
		o := &s.runs[i]
		dst := make([]float64, o.residuals())
		var fits []Fit
		if err := o.compare(ctx, shape, out.Best, dst, &fits); err != nil {
			return out, err
		}
		out.Fits = append(out.Fits, fits...)
	}
	out.Runs = int(s.sims.Load())
	for _, f := range out.Fits {
		if math.Abs(f.Score) > 2.5 {
			out.Warnings = append(out.Warnings, fmt.Sprintf("Surprise: in %s, %s was seen but the model gives %s (%.1f standard deviations off). Check that figure, or what is missing in the description.", f.Run, f.Observed, f.Modelled, math.Abs(f.Score)))
		}
	}
	out.Warnings = append(out.Warnings, notHeat(s.f)...)
	return out, nil
}

// z90 is the standard score of a 90 % interval's end.
const z90 = 1.6448536269514722

// notHeat looks for a pair of runs that differ in air speed only and stop after the same time: then heat is hardly what stops
// the device, because moving air multiplies the film coefficient several times.
func notHeat(f *device.File) []string {
	var out []string
	for i := range f.StockRuns {
		a := &f.StockRuns[i]
		if !a.StopsAfter.Given() || speed(f, a) > 0.3 {
			continue
		}
		for k := range f.StockRuns {
			b := &f.StockRuns[k]
			if !b.StopsAfter.Given() || speed(f, b) < 1.5 || a.Mode != b.Mode {
				continue
			}
			if b.StopsAfter.Lo <= a.StopsAfter.Hi && b.StopsAfter.Hi >= a.StopsAfter.Lo && math.Abs(ambient(f, a)-ambient(f, b)) < 4 {
				out = append(out, fmt.Sprintf("Heat may not be what stops it: it stops after %s in still air and after %s in moving air. Moving air takes heat away several times faster, so a stop by temperature would come much later. Look for a time limit, low voltage or a cracked joint before cutting metal.",
					a.StopsAfter.Text, b.StopsAfter.Text))
			}
		}
	}
	return out
}

func speed(f *device.File, r *device.StockRun) float64 {
	air := r.Air
	if !air.Given {
		air = f.Conditions.Air
	}
	if !air.Given || air.Still {
		return 0
	}
	return air.Speed.Mid
}

func ambient(f *device.File, r *device.StockRun) float64 {
	if r.Ambient.Given() {
		return r.Ambient.Mid
	}
	return f.Conditions.Ambient.Mid
}
