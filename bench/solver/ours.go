package main

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"strconv"
	"strings"
	"time"

	"finwright/bench/exchange"
	"finwright/internal/linsolve"
)

// readStep reads what generate wrote.
func readStep(path string) (*linsolve.Operator, []float64, error) {
	g, a, err := exchange.ReadCells(path)
	if err != nil {
		return nil, nil, err
	}
	if len(a) != 5 {
		return nil, nil, fmt.Errorf("%s does not hold an implicit step", path)
	}
	return &linsolve.Operator{Grid: g, GX: a[0], GY: a[1], GZ: a[2], Diag: a[3]}, a[4], nil
}

// ours solves the step in a file from a zero guess and writes the solution. Set-up is New: the hierarchy and all storage.
func ours(path, solution string, workers, runs int) (exchange.Row, error) {
	row := exchange.Row{Setting: fmt.Sprintf("workers %d", workers)}
	empty := heapBytes()
	op, rhs, err := readStep(path)
	if err != nil {
		return row, err
	}
	row.Cells = op.Cells()
	x := make([]float64, op.Cells())
	row.SetupS, row.SolveS = math.Inf(1), math.Inf(1)
	for r := range runs {
		runtime.GC() // a former run's storage is not this one's
		clear(x)
		from := time.Now()
		s, err := linsolve.New(op, linsolve.Options{Workers: workers})
		if err != nil {
			return row, err
		}
		between := time.Now()
		stats, err := s.Solve(x, rhs, linsolve.Until{RelNorm: tolerance})
		if err != nil {
			return row, err
		}
		row.SetupS = min(row.SetupS, between.Sub(from).Seconds())
		row.SolveS = min(row.SolveS, time.Since(between).Seconds())
		row.Iterations = stats.Iterations
		if r == runs-1 {
			row.LiveB = heapBytes() - empty
		}
		runtime.KeepAlive(s)
	}
	row.PeakB = peakBytes()
	return row, exchange.WriteCells(solution, op.Grid, x)
}

// heapBytes is what the heap holds that is still in use.
func heapBytes() float64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}

// peakBytes is the most memory this process ever held; 0 where the system does not tell.
func peakBytes() float64 { return kilobytes("/proc/self/status", "VmHWM:") }

// availableBytes is the memory that can still be had; 0 where the system does not tell.
func availableBytes() float64 { return kilobytes("/proc/meminfo", "MemAvailable:") }

func kilobytes(path, key string) float64 {
	data, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(data), key)
	if f := strings.Fields(rest); len(f) > 0 {
		if kb, err := strconv.ParseFloat(f[0], 64); err == nil {
			return 1024 * kb
		}
	}
	return 0
}
