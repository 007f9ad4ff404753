package grid_test

import (
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// finned is a device of plain boxes with a fin block: some 200 000 cells.
func finned() []part.Solid {
	return []part.Solid{hollow(0, 0, 0, 60, 90, 22, 2), box(2, 2, 18.2, 56, 86, 1.8), box(22, 56, 17, 14, 14, 1.2), box(5, 8, 2, 36, 60, 6),
		must(part.NewFinBlock(part.FinBlockParams{Min: part.Vec{2 * mm, 5 * mm, 22 * mm}, BaseM: [2]float64{56 * mm, 80 * mm}, BaseThicknessM: 3 * mm,
			Count: 12, HeightM: 10 * mm, FinThicknessM: 1.2 * mm, Along: 1, OutAxis: 2, OutSign: 1}))}
}

func benchmark(b *testing.B, opt grid.Options, s []part.Solid) {
	b.ReportAllocs()
	var g *grid.Grid
	for b.Loop() {
		g = build(b, opt, s...)
	}
	b.ReportMetric(float64(len(g.Owner)), "cells")
}

func BenchmarkFinned(b *testing.B) {
	benchmark(b, grid.Options{TargetCells: 220_000, Across: 3}, finned())
}

func BenchmarkFinnedCoarse(b *testing.B) {
	benchmark(b, grid.Options{TargetCells: 6_000, Across: 1}, finned())
}

func BenchmarkRound(b *testing.B) {
	can := must(part.NewCan(part.Vec{}, 40*mm, 60*mm, 1, 1.5*mm))
	benchmark(b, grid.Options{}, []part.Solid{can, box(10, 1.5, 10, 20, 3, 20), cylinder(12, 4.5, 12, 16, 30, 1)})
}

func BenchmarkTurned(b *testing.B) {
	s := append(finned(), must(part.Turned(must(part.Turned(box(10, 10, 8, 8, 16, 6), 0.5, 2)), 0.4, 0)))
	benchmark(b, grid.Options{TargetCells: 60_000}, s)
}
