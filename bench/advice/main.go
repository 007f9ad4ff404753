// Command advice tries the advice on what to measure next: synthetic devices of the demos' kinds, whose every figure in doubt is drawn from
// its prior, are observed once, learned, asked what to measure next, and then measured in every way on the list. It counts how often
// the first advice shrinks the interval of the decision more than the median alternative.
package main

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/signal"
	"path/filepath"
	"sort"

	"finwright/internal/advise"
	"finwright/internal/compare"
	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// decisions are the kinds of devices, and what is to be decided about them.
var decisions = []struct{ file, design string }{
	{"direction-finder/direction-finder.yaml", "screen off"},
	{"cave-lamp/cave-lamp.yaml", "flat copper back"},
	{"road-weather/road-weather.yaml", "white paint"},
	{"direction-finder/direction-finder.yaml", "finned copper back with keel"},
	{"cave-lamp/cave-lamp.yaml", "boot off"},
	{"road-weather/road-weather.yaml", "sun shade"},
}

func main() {
	demos := flag.String("demos", "demo", "folder of the demos")
	devices := flag.Int("devices", 10, "synthetic devices")
	cells := flag.Int("cells", 4000, "cells of all runs")
	draws := flag.Int("draws", 1000, "draws of what is in doubt")
	seed := flag.Uint64("seed", 20_261, "seed of the devices")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	better, made := 0, 0
	fmt.Println("device  decision                                   before    after the first advice   median alternative   best   rank")
	for i := range *devices {
		of := decisions[i%len(decisions)]
		t, err := try(ctx, filepath.Join(*demos, of.file), of.design, model.Fineness{TargetCells: *cells, Across: 1}, *draws, *seed+uint64(i))
		if err != nil {
			fmt.Fprintf(os.Stderr, "device %d, %s: %v\n", i+1, of.design, err)
			if ctx.Err() != nil {
				break
			}
			continue
		}
		made++
		if t.first < t.median {
			better++
		}
		fmt.Printf("%6d  %-40s  ±%5.2f K  ±%5.2f K (foreseen ±%5.2f)  ±%5.2f K            ±%5.2f  %d of %d  %s\n", i+1, of.design, t.before, t.first, t.foreseen, t.median, t.best, t.rank, t.of, t.what)
	}
	fmt.Printf("The first advice shrank the interval more than the median alternative in %d of %d devices.\n", better, made)
	if made < *devices || better*10 < made*8 {
		os.Exit(1)
	}
}

// tried is what measuring did to the half width of the 90 % interval of the headroom, K.
type tried struct {
	before, first, foreseen, median, best float64
	rank, of                              int
	what                                  string
}

func try(ctx context.Context, path, design string, cells model.Fineness, draws int, seed uint64) (*tried, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	v, _, err := f.Variant(design)
	if err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(seed, 0xad71ce))
	truth, err := aDevice(f, v, rng)
	if err != nil {
		return nil, err
	}
	if err := observe(ctx, f, truth, cells, rng); err != nil {
		return nil, err
	}
	l, err := learn.Learn(ctx, f, learn.Options{Fineness: cells, Anchor: cells, Seed: seed, Draws: draws})
	if err != nil {
		return nil, err
	}
	st, err := compare.Compare(ctx, f, l, compare.Options{Fine: cells, Coarse: cells, Draws: draws, Only: []string{design}, Seed: seed})
	if err != nil {
		return nil, err
	}
	row := &st.Rows[len(st.Rows)-1]
	a, err := advise.Advise(ctx, f, advise.Decision{Design: design, HeadroomK: row.Headrooms, Unknowns: row.Unknowns, Mode: v.Mode},
		advise.Options{Best: l.Best, Learned: l.Draws, Fineness: cells, Seed: seed})
	if err != nil {
		return nil, err
	}
	reads, err := a.ReadsAt(ctx, truth)
	if err != nil {
		return nil, err
	}
	out := &tried{before: a.HalfWidthK, foreseen: a.Ranked[0].AfterK, what: a.Ranked[0].What, of: len(a.Ranked), rank: 1}
	var others []float64
	for i := range a.Ranked {
		lo, hi, _ := a.Given(i, reads[i]+a.ErrorSD(i)*rng.NormFloat64())
		if half := (hi - lo) / 2; i == 0 {
			out.first, out.best = half, half
		} else {
			others = append(others, half)
			out.best = math.Min(out.best, half)
			if half < out.first {
				out.rank++
			}
		}
	}
	sort.Float64s(others)
	out.median = infer.Quantile(others, 0.5)
	return out, nil
}

// aDevice draws every figure in doubt, of the device as it is and of the design, within 90 % intervals' width and a half.
func aDevice(f, design *device.File, rng *rand.Rand) (device.Values, error) {
	truth := device.Values{}
	for _, x := range []*device.File{f, design} {
		shape, err := model.NewShape(x, nil, model.Coarse)
		if err != nil {
			return nil, err
		}
		for _, mode := range []string{f.Mode, design.Mode} {
			m, err := shape.At(nil, nil, mode)
			if err != nil {
				return nil, err
			}
			for _, u := range m.Unknowns {
				if _, ok := truth[u.Path]; !ok {
					truth[u.Path] = u.Prior.At(math.Max(-2.5, math.Min(2.5, rng.NormFloat64())))
				}
			}
		}
	}
	return truth, nil
}

// observe replaces the file's stock runs by one that its owner could have seen with a clock: how long it ran under the file's conditions.
func observe(ctx context.Context, f *device.File, truth device.Values, cells model.Fineness, rng *rand.Rand) error {
	shape, err := model.NewShape(f, truth, cells)
	if err != nil {
		return err
	}
	m, err := shape.At(truth, nil, "")
	if err != nil {
		return err
	}
	res, err := session.Run(ctx, m, session.Spec{Values: truth, Brief: true})
	if err != nil {
		return err
	}
	range90 := func(s float64) device.Q { // read to ± 8 %
		const half = 0.08
		s *= 1 + half/1.645*rng.NormFloat64()
		return device.Q{Quantity: unit.RangeSI(s*(1-half), s*(1+half), unit.Time), Path: "stock runs.0.seen"}
	}
	run := device.Run{Name: "seen once", Conditions: f.Conditions, Mode: f.Mode}
	switch {
	case res.Own.Kind == session.Stopped:
		run.StopsAfter = range90(res.Own.AtS)
	case res.End.Kind == session.Dimmed:
		run.DimsAfter = range90(res.End.AtS)
	case res.Own.Kind == session.BatteryEmpty:
		run.EmptyAfter = range90(res.Own.AtS)
	default:
		run.RunningAfter = device.Q{Quantity: unit.ExactSI(res.Own.AtS, unit.Time), Path: "stock runs.0.seen"}
	}
	f.Runs = []device.Run{run}
	return nil
}
