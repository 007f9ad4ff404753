package ray

import (
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// finned is a sealed box with a block of twelve fins: some 200 000 cells.
func finned(t testing.TB) *shape {
	const mm = 1e-3
	return readWith(t, []string{"case", "board", "lamp", "cell", "fins"}, grid.Options{TargetCells: 220_000, Across: 3},
		must(part.NewHollow(part.Vec{}, part.Vec{60 * mm, 90 * mm, 22 * mm}, 2*mm)), box(2, 2, 18.2, 56, 86, 1.8), box(22, 56, 17, 14, 14, 1.2), box(5, 8, 2, 36, 60, 6),
		must(part.NewFinBlock(part.FinBlockParams{Min: part.Vec{2 * mm, 5 * mm, 22 * mm}, BaseM: [2]float64{56 * mm, 80 * mm}, BaseThicknessM: 3 * mm,
			Count: 12, HeightM: 10 * mm, FinThicknessM: 1.2 * mm, Along: 1, OutAxis: 2, OutSign: 1})))
}

// quarters cuts every surface in pieces, so that there are some 30 of them.
func (s *shape) quarters() [][]int {
	var out [][]int
	for _, l := range s.lists {
		for q := 0; q < 3; q++ {
			if a, b := q*len(l)/3, (q+1)*len(l)/3; b > a {
				out = append(out, l[a:b])
			}
		}
	}
	return out
}

func BenchmarkTrace(b *testing.B) {
	s := finned(b)
	lists := s.quarters()
	b.ReportAllocs()
	b.ReportMetric(float64(len(s.g.Owner)), "cells")
	b.ReportMetric(float64(len(lists)), "surfaces")
	for b.Loop() {
		Trace(s.g, lists, 0)
	}
}

func BenchmarkLit(b *testing.B) {
	s := finned(b)
	lists := s.quarters()
	for b.Loop() {
		Lit(s.g, lists, part.Vec{1, 2, 3})
	}
}
