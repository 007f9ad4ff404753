// Command session measures whole sessions: the first invented device of the demo for 90 min in 3-D at a given number of cells,
// and through its reduced model, whose worst error over draws of the unknowns it finds by 3-D runs of the same draws.
//
//	session -cells 200000,1000000 -draws 200
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"time"

	"finwright/bench/exchange"
	"finwright/internal/app"
	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
)

// untilS is the session's length.
const untilS = 90 * 60

func main() {
	cells := flag.String("cells", "200000,1000000", "sizes of the 3-D sessions, in cells; empty leaves them out")
	draws := flag.Int("draws", 200, "random draws that the reduced model is checked at; 0 leaves it out")
	runs := flag.Int("runs", 3, "the best of so many counts, for sessions of up to 300 000 cells")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *cells, *draws, *runs); err != nil {
		fmt.Fprintln(os.Stderr, "session:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, cells string, draws, runs int) error {
	if flag.NArg() != 0 || draws < 0 || runs < 1 {
		return errors.New("draws must not be negative, there must be a run, and nothing else is asked for")
	}
	dir, err := os.MkdirTemp("", "session")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	unpacked, err := app.UnpackDemo(app.DemoOptions{Folder: dir, Which: 1})
	if err != nil {
		return err
	}
	f, err := device.Load(unpacked.File)
	if err != nil {
		return err
	}
	if draws > 0 {
		row, err := reduced(ctx, f, draws)
		if err != nil {
			return err
		}
		if err := row.Write(os.Stdout); err != nil {
			return err
		}
	}
	for n := range strings.SplitSeq(cells, ",") {
		if n = strings.TrimSpace(n); n == "" {
			continue
		}
		target, err := strconv.Atoi(n)
		if err != nil || target < 1000 {
			return fmt.Errorf("%q is no number of cells from 1000", n)
		}
		row, err := whole(ctx, f, target, runs)
		if err != nil {
			return err
		}
		if err := row.Write(os.Stdout); err != nil {
			return err
		}
	}
	return nil
}

// fullPower runs the session to its end whatever the sensors and the battery say, so that each size does the same work.
func fullPower() session.Spec {
	return session.Spec{Design: "stock", UntilS: untilS, NoStop: true, NoDim: true, NoEmpty: true}
}

// whole makes the 3-D session that `run` makes, with its ledger and limits. Set-up is cutting the device into cells and
// assembling the model.
func whole(ctx context.Context, f *device.File, target, runs int) (exchange.Row, error) {
	row := exchange.Row{Part: "session", Case: fmt.Sprintf("90 min, %d cells", target), Solver: "finwright 3-D", SolveS: math.Inf(1)}
	var m *model.Model
	// the session is to have at least so many cells: the bound from above alone does not bring them, cells across do
	for across := model.Fine.Across; m == nil || m.ActiveCells() < target; across++ {
		from := time.Now()
		shape, err := model.NewShape(f, nil, model.Fineness{TargetCells: 2 * target, Across: across})
		if err != nil {
			return row, err
		}
		if m, err = shape.At(nil, nil, ""); err != nil {
			return row, err
		}
		row.SetupS, row.Cells = time.Since(from).Seconds(), m.ActiveCells()
	}
	if target > 300_000 {
		runs = 1
	}
	for range runs {
		from := time.Now()
		res, err := session.Run(ctx, m, fullPower())
		if err != nil {
			return row, err
		}
		if res.Own.Kind != session.TimeOver {
			return row, fmt.Errorf("the session ended after %.0f s: %s", res.Own.AtS, res.Own.Kind)
		}
		row.SolveS = min(row.SolveS, time.Since(from).Seconds())
		row.Steps = res.Steps
	}
	return row, nil
}
