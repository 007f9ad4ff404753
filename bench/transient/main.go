// Command transient measures a whole transient at a small size: finwright's stepper and a general-purpose stiff integrator on
// the same cells, 90 min from switching on with linear films. Both are compared with that integrator at a very tight tolerance.
//
//	transient -plan 8 -peers DIR
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"finwright/bench/exchange"
	"finwright/bench/layered"
	"finwright/internal/heat"
)

// atS are the times at which temperatures are compared, s.
var atS = []float64{1, 5, 20, 60, 180, 600, 1800, 3600, 5400}

// The cells: sideM x sideM in the layers' plane and thickM through them, height of them.
const (
	sideM, thickM = 8e-3, 1e-3
	height        = 32
)

func main() {
	n := flag.Int("plan", 8, "cells along each side of the layers; there are 32 through them")
	peers := flag.String("peers", "", "folder of the peers' programs")
	runs := flag.Int("runs", 3, "the best of so many counts")
	flag.Parse()
	if err := run(*n, *runs, *peers); err != nil {
		fmt.Fprintln(os.Stderr, "transient:", err)
		os.Exit(1)
	}
}

// methods of the integrator, as its program counts them.
var methods = []struct{ words, arg string }{{"BDF, GMRES, diagonal", "0"}, {"BDF, GMRES, tridiagonal", "1"}, {"BDF, banded", "2"}}

func run(n, runs int, peers string) error {
	if n < 3 || flag.NArg() != 0 {
		return errors.New("the layers need 3 cells or more along each side, and nothing else is asked for")
	}
	dir, err := os.MkdirTemp("", "transient")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	p := layered.Layers(n, height, sideM, thickM)
	file := filepath.Join(dir, "transient")
	if err := exchange.WriteCells(file, p.Grid, p.CapJK, p.GX, p.GY, p.GZ, p.FilmWK, p.PowerW); err != nil {
		return err
	}
	name := fmt.Sprintf("90 min, layers %dx%dx%d", n, n, height)
	integrate := func(method, rel, abs string, runs int) (exchange.Row, [][]float64, error) {
		return peer(peers, file, filepath.Join(dir, "result"), runs, method, rel, abs)
	}
	_, ref, err := integrate("1", "1e-9", "1e-8", 1)
	if err != nil {
		return err
	}
	write := func(row exchange.Row, got [][]float64) error {
		off := 0.0
		for o := range ref {
			for c := range ref[o] {
				off = math.Max(off, math.Abs(got[o][c]-ref[o][c]))
			}
		}
		row.Part, row.Case, row.Cells, row.OffK = "transient", name, p.Cells(), &off
		return row.Write(os.Stdout)
	}
	for _, tolK := range []float64{0.1, 0.02, 0.002} {
		row, got, err := ours(p, tolK, runs)
		if err != nil {
			return err
		}
		if err := write(row, got); err != nil {
			return err
		}
	}
	for _, m := range methods {
		for _, tol := range [][2]string{{"1e-4", "1e-3"}, {"1e-5", "1e-4"}, {"1e-6", "1e-5"}} {
			row, got, err := integrate(m.arg, tol[0], tol[1], runs)
			if err != nil {
				return err
			}
			row.Solver, row.Setting = "stiff integrator", fmt.Sprintf("%s, %s of T + %s K", m.words, tol[0], tol[1])
			if err := write(row, got); err != nil {
				return err
			}
		}
	}
	return nil
}

// peer runs the integrator and returns its temperatures at atS.
func peer(peers, file, result string, runs int, method, rel, abs string) (exchange.Row, [][]float64, error) {
	var row exchange.Row
	args := []string{file, result, fmt.Sprint(runs), method, rel, abs}
	for _, t := range atS {
		args = append(args, fmt.Sprint(t))
	}
	cmd := exec.Command(filepath.Join(peers, "cvode"), args...)
	var errs strings.Builder
	cmd.Stderr = &errs
	data, err := cmd.Output()
	if err != nil {
		return row, nil, fmt.Errorf("the integrator: %w: %s", err, errs.String())
	}
	if err := json.Unmarshal(data, &row); err != nil {
		return row, nil, err
	}
	_, got, err := exchange.ReadCells(result)
	if err == nil && len(got) != len(atS) {
		err = fmt.Errorf("the integrator wrote %d fields, not %d", len(got), len(atS))
	}
	return row, got, err
}

// film is a surface's law: all areas are 1 m², so that an element's film coefficient is its conductance to the air outside.
type film struct{ hWm2K float64 }

func (f film) Film(_ []float64, _ int, _ float64) heat.Film { return heat.Film{HWm2K: f.hWm2K} }

// model puts the problem into the terms of package heat. The conductance to outside already holds the half cell, so each value
// of it makes a surface whose elements sit at their cells' centres.
func model(p *layered.Problem) *heat.Model {
	m := &heat.Model{Grid: p.Grid, CapJK: p.CapJK, GX: p.GX, GY: p.GY, GZ: p.GZ}
	at := map[float64]int{}
	src := heat.Source{Name: "boards"}
	total := 0.0
	for c, g := range p.FilmWK {
		if g > 0 {
			i, ok := at[g]
			if !ok {
				i = len(m.Surfaces)
				at[g] = i
				m.Surfaces = append(m.Surfaces, heat.Surface{Name: fmt.Sprintf("outside %d", i+1), Law: film{g}})
			}
			s := &m.Surfaces[i]
			s.Cells = append(s.Cells, int32(c))
			s.AreaM2 = append(s.AreaM2, 1)
			s.HalfWK = append(s.HalfWK, math.Inf(1))
		}
		total += p.PowerW[c]
	}
	for c, w := range p.PowerW {
		if w > 0 {
			src.Cells = append(src.Cells, int32(c))
			src.Share = append(src.Share, w/total)
		}
	}
	m.Sources = []heat.Source{src}
	return m
}

// ours runs the stepper on one goroutine, as the integrator does. Preparing it counts, as it does there.
func ours(p *layered.Problem, tolK float64, runs int) (exchange.Row, [][]float64, error) {
	row := exchange.Row{Solver: "finwright, 1 core", Setting: fmt.Sprintf("%g K per step", tolK), SolveS: math.Inf(1)}
	m := model(p)
	totalW := 0.0
	for _, w := range p.PowerW {
		totalW += w
	}
	var got [][]float64
	for range runs {
		got = nil
		from := time.Now()
		st, err := heat.NewStepper(m, heat.Options{TolK: tolK, Workers: 1})
		if err == nil {
			err = st.InitUniform(0, 0)
		}
		if err == nil {
			err = st.SetPower([]float64{totalW})
		}
		for err == nil && len(got) < len(atS) {
			if _, err = st.Advance(context.Background(), atS[len(atS)-1]); err != nil {
				break
			}
			for len(got) < len(atS) && st.Time() >= atS[len(got)] {
				field := make([]float64, p.Cells())
				st.At(field, atS[len(got)], nil)
				got = append(got, field)
			}
		}
		if err != nil {
			return row, nil, err
		}
		row.SolveS = min(row.SolveS, time.Since(from).Seconds())
		row.Steps, row.Iterations = st.Stats().Steps, st.Stats().LinearIterations
	}
	return row, got, nil
}
