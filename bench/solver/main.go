// Command solver measures one implicit step to 1e-8: finwright's solver and its peers in turn, on the same files.
//
//	solver generate -case layers-64 FILE          write one step
//	solver ours -workers 2 -runs 3 FILE SOLUTION  solve it with ours, print one row
//	solver sweep -sizes 32,64 -peers DIR          all of it: every solver in a process of its own, rows on standard output
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"strings"

	"finwright/bench/exchange"
	"finwright/bench/layered"
)

const (
	tolerance = 1e-8 // of the residual's norm over the right-hand side's
	stepS     = 10.  // time step of the layers and of the device
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "solver:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("say generate, ours or sweep")
	}
	fs := flag.NewFlagSet(args[0], flag.ExitOnError)
	switch args[0] {
	case "generate":
		name := fs.String("case", "layers-64", "layers-N, cubes-N or device-NXxNYxNZ")
		if err := parse(fs, args[1:], 1); err != nil {
			return err
		}
		return generate(*name, fs.Arg(0))
	case "ours":
		workers := fs.Int("workers", 2, "goroutines")
		runs := fs.Int("runs", 3, "the best of so many counts")
		if err := parse(fs, args[1:], 2); err != nil {
			return err
		}
		row, err := ours(fs.Arg(0), fs.Arg(1), *workers, *runs)
		if err != nil {
			return err
		}
		return row.Write(os.Stdout)
	case "sweep":
		s := sweep{out: os.Stdout}
		sizes := fs.String("sizes", "32,64,128,256", "edges of the layered cubes, in cells")
		cubes := fs.String("cubes", "128", "edges of the cubes whose cells are cubic too; empty leaves them out")
		device := fs.String("device", "400x200x25", "cells of the thin device; empty leaves it out")
		peers := fs.String("peers", "", "folder of the peers' programs; empty leaves them out")
		mpirun := fs.String("mpirun", "mpirun -n 2", "how to start a peer")
		fs.IntVar(&s.runs, "runs", 3, "the best of so many counts")
		fs.StringVar(&s.dir, "dir", os.TempDir(), "folder for the cell files")
		if err := parse(fs, args[1:], 0); err != nil {
			return err
		}
		for _, family := range [][2]string{{"layers-", *sizes}, {"cubes-", *cubes}} {
			for n := range strings.SplitSeq(family[1], ",") {
				if n = strings.TrimSpace(n); n != "" {
					s.cases = append(s.cases, family[0]+n)
				}
			}
		}
		if *device != "" {
			s.cases = append(s.cases, "device-"+*device)
		}
		if *peers != "" {
			s.peers = families(*peers, strings.Fields(*mpirun))
		}
		return s.run(ctx)
	}
	return fmt.Errorf("%q: say generate, ours or sweep", args[0])
}

func parse(fs *flag.FlagSet, args []string, files int) error {
	if err := fs.Parse(args); err != nil {
		return err
	}
	if fs.NArg() != files {
		return fmt.Errorf("%s needs %d file names, not %d", fs.Name(), files, fs.NArg())
	}
	return nil
}

// problem makes the body of a case.
func problem(name string) (*layered.Problem, error) {
	var nx, ny, nz int
	if n, _ := fmt.Sscanf(name, "layers-%d", &nx); n == 1 && nx >= 32 {
		return layered.Layers(nx, nx, 1e-3, 5e-5), nil // cells of 1:20
	}
	if n, _ := fmt.Sscanf(name, "cubes-%d", &nx); n == 1 && nx >= 32 {
		return layered.Layers(nx, nx, 1e-3, 1e-3), nil // the same layers in cubic cells, kinder to a structured solver
	}
	if n, _ := fmt.Sscanf(name, "device-%dx%dx%d", &nx, &ny, &nz); n == 3 && nx >= 50 && ny >= 50 && nz >= 16 {
		return layered.Device(nx, ny, nz), nil
	}
	return nil, fmt.Errorf("%q is no case: layers-N or cubes-N with N of 32 or more, or device-NXxNYxNZ of 50x50x16 or more", name)
}

func generate(name, path string) error {
	p, err := problem(name)
	if err != nil {
		return err
	}
	op, rhs := p.Step(stepS)
	return exchange.WriteCells(path, p.Grid, op.GX, op.GY, op.GZ, op.Diag, rhs)
}
