package linsolve

import "golang.org/x/sys/cpu"

// vector chooses the kernels of vector_amd64.s over their twins in Go, which
// compute the same but for the order of rounding. Tests switch it.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

// Kernels with eight float32 or four float64 at a time; each is documented at
// its twin. Counts are multiples of eight (four for applyCells4).

//go:noescape
func applyCells4(r *applyRow, from, to int) (dot float64)

//go:noescape
func stepCells8(a *stepArgs, n int) (rr float64)

//go:noescape
func directionCells8(p *float64, z *real, beta float64, n int)

//go:noescape
func sweepCells8(r *relaxRow, active *[8]uint32, n int)

//go:noescape
func leftoverCells8(r *relaxRow, active *[8]uint32, n int)

//go:noescape
func returnCells8(r *relaxRow, active *[8]uint32, n int)

//go:noescape
func returnDotCells8(r *relaxRow, active *[8]uint32, n int) (zr, zq float64)

//go:noescape
func relaxSlices8(m *sliced, x, b *real, end *int32, first, last int)

//go:noescape
func upperSlices8(m *sliced, t, x *real, first, last int)

//go:noescape
func applySlices8(m *sliced, v, x, b *real, first, last int) (xv, xb, bb float64)

//go:noescape
func stepBack8(b, v *real, f real, n int) (bb float64)

//go:noescape
func dot8(a, b *real, n int) float64
