// Command calibrate tells whether what learning says it does not know is right: simulation-based calibration (Talts, Betancourt, Simpson,
// Vehtari & Gelman, arXiv:1804.06788, 2018) on invented devices of the demo's kinds. Each device's unknowns are drawn from the file's own
// priors; 3-D runs of it with drawn errors make the observations; learning starts from the file alone. The rank of the device's own
// minutes to its first stop or step among those of posterior draws is even over all devices if the intervals are right.
//
//	calibrate -devices 200
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/signal"
	"sync"
	"time"

	"finwright/internal/app"
	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/work"
)

// draws of each posterior that are run in 3-D: 90 % and 50 % intervals end exactly at draws.
const draws = 39

// worth is how many independent draws learning's sample is asked to be worth: half of what it takes by itself, which 39 draws do not need.
const worth = 100

// inside is the probability of the bands that shares and counts are held against.
const inside = 0.95

func main() {
	var o options
	flag.IntVar(&o.devices, "devices", 200, "invented devices")
	flag.IntVar(&o.cells, "cells", 1500, "cells, the same for what is observed and for learning")
	flag.Uint64Var(&o.seed, "seed", 5, "seed of devices, errors and learning")
	flag.IntVar(&o.at, "at-a-time", 2, "devices at a time, each on one processor; what comes out does not depend on it")
	flag.BoolVar(&o.json, "json", false, "print JSON")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	ok, err := run(ctx, o)
	if err != nil {
		fmt.Fprintln(os.Stderr, "calibrate:", err)
	}
	if err != nil || !ok {
		os.Exit(1)
	}
}

type options struct {
	devices, cells, at int
	seed               uint64
	json               bool
}

// run makes the devices one after the other and judges what there is at the end, or at Ctrl-C.
func run(ctx context.Context, o options) (ok bool, err error) {
	if flag.NArg() != 0 || o.devices < 1 || o.cells < 300 {
		return false, errors.New("there must be a device and 300 cells, and nothing else is asked for")
	}
	dir, err := os.MkdirTemp("", "calibrate")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(dir)
	var kinds []*device.File
	for which := 1; which <= 3; which++ {
		unpacked, err := app.UnpackDemo(app.DemoOptions{Folder: dir, Which: which})
		if err != nil {
			return false, err
		}
		f, err := device.Load(unpacked.File)
		if err != nil {
			return false, err
		}
		kinds = append(kinds, f)
	}
	from := time.Now()
	results, errs := make([]*tried, o.devices), make([]error, o.devices)
	var mu sync.Mutex
	done := 0
	var jobs []func()
	for i := range o.devices {
		jobs = append(jobs, func() {
			f := kinds[i%len(kinds)]
			r, err := try(ctx, f, o, rand.New(rand.NewPCG(o.seed, uint64(i))))
			mu.Lock()
			defer mu.Unlock()
			if ctx.Err() != nil {
				return
			}
			results[i], errs[i] = r, err
			done++
			left := time.Duration(float64(time.Since(from)) / float64(done) * float64(o.devices-done)).Round(time.Second)
			if err != nil {
				fmt.Fprintf(os.Stderr, "device %d, %s: %v\n", i+1, f.Device, err)
				return
			}
			fmt.Fprintf(os.Stderr, "device %d, %s; %d of %d, %v left\n", i+1, r, done, o.devices, left)
		})
	}
	work.InParallel(ctx, o.at, jobs) // what ended before Ctrl-C is judged
	var out outcome
	for i, r := range results {
		switch f := kinds[i%len(kinds)]; {
		case errs[i] != nil:
			out.Failed = append(out.Failed, fmt.Sprintf("device %d (%s): %v", i+1, f.Device, errs[i]))
		case r != nil:
			out.add(f.Device, r)
		}
	}
	if len(out.Ranks[0]) == 0 {
		return false, errors.New("no device came to an end")
	}
	if err := out.judge(); err != nil {
		return false, err
	}
	if o.json {
		enc := json.NewEncoder(os.Stdout)
		enc.SetIndent("", "  ")
		return out.Good, enc.Encode(out)
	}
	out.print(os.Stdout)
	return out.Good, nil
}

// asked are the quantities whose ranks are counted: what the work is for, and two that never tie.
var asked = [...]string{"minutes to its first act", "sensor after 15 min", "first unknown that matters"}

// outcome is what all devices together tell.
type outcome struct {
	Kinds     map[string]int
	Ranks     [len(asked)][]int
	Judged    []judged
	Unsettled int // devices whose sample had not settled
	Failed    []string
	Good      bool
}

// judged is one quantity's calibration.
type judged struct {
	Quantity     string
	In90, In50   infer.Coverage
	Ratio, P     float64 // spread of the ranks (Cook, Gelman & Rubin 2006) and its probability
	EvenP        float64 // chi-square of the ranks in bins
	Counts       []int   // ranks in bins
	LeftInBands  bool    // no bin outside its band
	Even, Spread bool
}

func (out *outcome) add(kind string, r *tried) {
	if out.Kinds == nil {
		out.Kinds = map[string]int{}
	}
	out.Kinds[kind]++
	for k := range asked {
		out.Ranks[k] = append(out.Ranks[k], r.ranks[k])
	}
	if !r.settled {
		out.Unsettled++
	}
}

// judge holds the ranks against what right intervals give: shares within 86 to 94 and 44 to 56 % or their binomial band, whichever is
// wider, ranks even, their spread that of a standard normal.
func (out *outcome) judge() error {
	out.Good = len(out.Failed) == 0
	for k, name := range asked {
		ranks := out.Ranks[k]
		j := judged{Quantity: name, Even: true, LeftInBands: true, EvenP: 1}
		var err error
		if j.In90, err = infer.CentralCoverage(ranks, draws, 0.9, inside); err != nil {
			return err
		}
		if j.In50, err = infer.CentralCoverage(ranks, draws, 0.5, inside); err != nil {
			return err
		}
		if bins := min(10, len(ranks)/5); bins >= 2 {
			u, err := infer.RanksEven(ranks, draws, bins, 0.99)
			if err != nil {
				return err
			}
			j.Counts, j.EvenP, j.LeftInBands, j.Even = u.Counts, u.P, u.Outside == 0, u.Even(0.99)
		}
		if j.Ratio, j.P, err = infer.RanksSpread(ranks, draws); err != nil {
			return err
		}
		j.Spread = j.P >= 0.01
		out.Judged = append(out.Judged, j)
		covered := j.In90.Right() || j.In90.Share >= 0.86 && j.In90.Share <= 0.94
		covered = covered && (j.In50.Right() || j.In50.Share >= 0.44 && j.In50.Share <= 0.56)
		out.Good = out.Good && covered && j.Even && j.Spread
	}
	return nil
}

func (out *outcome) print(w *os.File) {
	fmt.Fprintf(w, "%d invented devices %v; %d samples not settled, %d failed\n", len(out.Ranks[0]), out.Kinds, out.Unsettled, len(out.Failed))
	for _, j := range out.Judged {
		fmt.Fprintf(w, "%-28s 90 %% intervals hold it in %.0f %% (right ones: %.0f to %.0f), 50 %% in %.0f %% (%.0f to %.0f); spread %.2f of what it should be (p %.3f); ranks %v (p %.3f)\n",
			j.Quantity, 100*j.In90.Share, 100*j.In90.Low, 100*j.In90.High, 100*j.In50.Share, 100*j.In50.Low, 100*j.In50.High, j.Ratio, j.P, j.Counts, j.EvenP)
	}
	for _, f := range out.Failed {
		fmt.Fprintln(w, "failed:", f)
	}
	if out.Good {
		fmt.Fprintln(w, "in agreement with right intervals")
	} else {
		fmt.Fprintln(w, "not in agreement with right intervals")
	}
}
