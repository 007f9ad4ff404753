package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"finwright/bench/exchange"
	"finwright/internal/linsolve"
)

// family is one peer with the settings worth trying.
type family struct {
	name     string
	command  []string
	settings []setting
	best     map[string]setting // by kind of case: "layers", "device"
	peakB    float64            // per cell, where last run
}

// setting is one choice of a peer's options.
type setting struct {
	words string
	args  []string
}

// families lists the peers. The settings are the usual ones for scalar diffusion; which is
// quickest is found out by running them.
func families(dir string, mpirun []string) []*family {
	structured := &family{name: "structured peer", command: append(mpirun[:len(mpirun):len(mpirun)], filepath.Join(dir, "structured")), best: map[string]setting{}}
	for _, relax := range []struct{ words, arg string }{{"red-black", "2"}, {"weighted Jacobi", "1"}} {
		for _, skip := range []string{"0", "1"} {
			for _, coarse := range []string{"0", "1"} {
				structured.settings = append(structured.settings, setting{
					fmt.Sprintf("PFMG %s, skip %s, coarse operator %s", relax.words, skip, coarse), []string{relax.arg, skip, coarse, "1"}})
			}
		}
	}
	structured.settings = append(structured.settings, setting{"PFMG red-black, whole matrix stored", []string{"2", "0", "0", "0"}},
		setting{"SMG", []string{"-1", "0", "0", "1"}})
	amg := &family{name: "algebraic peer", command: append(mpirun[:len(mpirun):len(mpirun)], filepath.Join(dir, "algebraic")), best: map[string]setting{}}
	for _, threshold := range []string{"0.25", "0.5"} {
		for _, relax := range []struct{ words, arg string }{{"l1 symmetric GS", "8"}, {"l1 GS down and up", "13"}, {"symmetric GS", "6"}} {
			amg.settings = append(amg.settings, setting{fmt.Sprintf("threshold %s, %s", threshold, relax.words), []string{threshold, relax.arg, "0"}})
		}
	}
	for _, relax := range []struct{ words, arg string }{{"l1 symmetric GS", "8"}, {"l1 GS down and up", "13"}} {
		amg.settings = append(amg.settings, setting{fmt.Sprintf("threshold 0.25, %s, one aggressive level", relax.words), []string{"0.25", relax.arg, "1"}})
	}
	return []*family{structured, amg}
}

const (
	// every setting is tried up to this many cells; above, the one that won last
	tryCells = 3_000_000
	// up to this many, a setting is tried as often as it is measured: short times are noisy
	smallCells = 300_000
	// iterations after which a peer's setting is given up
	mostIterations = 200
	// longest one process may take
	patience = 30 * time.Minute
	// a peer is left out if it would need more than this share of the memory that is free
	memoryShare = 0.9
	// a solution counts if the residual we compute for it is at most this much above the tolerance: the peers stop by the
	// residual they carry along, which drifts from the true one
	drift = 1.1
	// a solver that gives another answer is wrong, not quick
	sameRel = 1e-6
	// what our own answers on one and two cores may differ by
	coresRel = 1e-10
)

// sweep runs every case.
type sweep struct {
	cases []string
	peers []*family
	runs  int
	dir   string
	out   io.Writer
}

func (s *sweep) run(ctx context.Context) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp(s.dir, "step")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	for _, name := range s.cases {
		if err := s.oneCase(ctx, self, dir, name); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// oneCase writes the step, solves it with each solver in a process of its own, and checks what they found.
func (s *sweep) oneCase(ctx context.Context, self, dir, name string) error {
	step, first, second := filepath.Join(dir, "step"), filepath.Join(dir, "ours"), filepath.Join(dir, "theirs")
	defer os.Remove(step)
	if _, err := output(ctx, self, "generate", "-case", name, step); err != nil {
		return err
	}
	for i, workers := range []int{2, 1} {
		solution := [...]string{first, second}[i]
		row, err := output(ctx, self, "ours", "-workers", strconv.Itoa(workers), "-runs", strconv.Itoa(s.runs), step, solution)
		if err != nil {
			return err
		}
		row.Solver = fmt.Sprintf("finwright, %d cores", workers)
		if workers == 1 {
			row.Solver = "finwright, 1 core"
		}
		if err := s.judge(row, name, step, solution, first, coresRel, s.out); err != nil {
			return err
		}
	}
	for _, f := range s.peers {
		if err := s.peer(ctx, f, name, step, second, first); err != nil {
			return err
		}
	}
	return nil
}

// peer tries a peer's settings, where the case is small enough, then measures the best one.
func (s *sweep) peer(ctx context.Context, f *family, name, step, solution, ref string) error {
	p, _, err := readStep(step)
	if err != nil {
		return err
	}
	cells := p.Cells()
	kind, _, _ := strings.Cut(name, "-")
	row := exchange.Row{Part: "step", Case: name, Solver: f.name, Cells: cells}
	if free := availableBytes(); free > 0 && f.peakB*float64(cells) > memoryShare*free {
		row.Note = fmt.Sprintf("not run: it would need about %.0f GB, %.0f GB are free", f.peakB*float64(cells)/1e9, free/1e9)
		return row.Write(s.out)
	}
	once := func(c setting, runs int) (exchange.Row, error) {
		os.Remove(solution) // so that a peer that fails leaves none
		args := append(f.command[1:len(f.command):len(f.command)], step, solution, strconv.Itoa(runs), fmt.Sprint(tolerance), strconv.Itoa(mostIterations))
		got, err := output(ctx, f.command[0], append(args, c.args...)...)
		got.Cells, got.Solver, got.Setting = cells, f.name, c.words
		return got, err
	}
	if _, known := f.best[kind]; !known || cells <= tryCells {
		bestS, tries := math.Inf(1), 1
		if cells <= smallCells {
			tries = s.runs
		}
		for _, c := range f.settings {
			got, err := once(c, tries)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err == nil {
				err = s.judge(got, name, step, solution, ref, sameRel, io.Discard)
			}
			got.Part, got.Case = "tried", name
			if err != nil {
				got.Note = firstLine(err)
			} else if got.SolveS < bestS {
				bestS, f.best[kind] = got.SolveS, c
			}
			if err := got.Write(s.out); err != nil {
				return err
			}
		}
		if math.IsInf(bestS, 1) {
			row.Note = "no setting of it reached the tolerance"
			return row.Write(s.out)
		}
	}
	got, err := once(f.best[kind], s.runs)
	if err == nil {
		f.peakB = got.PeakB / float64(cells)
		err = s.judge(got, name, step, solution, ref, sameRel, s.out)
	}
	if err != nil && ctx.Err() == nil {
		row.Note, row.Setting = firstLine(err), f.best[kind].words
		return row.Write(s.out)
	}
	return ctx.Err()
}

// judge computes the residual of a solution from the file's operator and its difference to ours, and writes the row. A
// solution that is not one is an error.
func (s *sweep) judge(row exchange.Row, name, step, solution, ref string, mostRel float64, out io.Writer) error {
	op, rhs, err := readStep(step)
	if err != nil {
		return err
	}
	x, err := readSolution(solution, op)
	if err != nil {
		return err
	}
	bNorm := norm(rhs)
	row.RelResidual = op.Residual(rhs, rhs, x) / bNorm
	if !(row.RelResidual <= drift*tolerance) {
		return fmt.Errorf("its residual is %.2g of the right-hand side after %d iterations, %.0g was asked for", row.RelResidual, row.Iterations, tolerance)
	}
	if ref != solution {
		r, err := readSolution(ref, op)
		if err != nil {
			return err
		}
		size := norm(r)
		for c := range r {
			r[c] -= x[c]
		}
		off := norm(r) / size
		row.OffRel = &off
		if !(off <= mostRel) {
			return fmt.Errorf("its solution differs from ours by %.2g", off)
		}
	}
	row.Part, row.Case = "step", name
	return row.Write(out)
}

func readSolution(path string, op *linsolve.Operator) ([]float64, error) {
	g, a, err := exchange.ReadCells(path)
	if err != nil {
		return nil, err
	}
	if g != op.Grid || len(a) != 1 {
		return nil, fmt.Errorf("%s is not a solution of the step", path)
	}
	return a[0], nil
}

func norm(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum)
}

// output runs a program and decodes the row it prints, if any.
func output(ctx context.Context, program string, args ...string) (exchange.Row, error) {
	var row exchange.Row
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, args...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	data, err := cmd.Output()
	if err != nil {
		return row, fmt.Errorf("%s: %w: %s", filepath.Base(program), err, strings.TrimSpace(errs.String()))
	}
	if len(data) == 0 {
		return row, nil
	}
	if err := json.Unmarshal(data, &row); err != nil {
		return row, errors.Join(fmt.Errorf("%s printed no row", filepath.Base(program)), err)
	}
	return row, nil
}

func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}
