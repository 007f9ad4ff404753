package reduce

import "golang.org/x/sys/cpu"

// vector chooses the kernels of vector_amd64.s over their twins in vector.go, which compute the same but for the order of
// rounding. Tests switch it.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func addRow4(dst, x *float64, f float64, n int)

//go:noescape
func dotRow4(a, x *float64, n int) float64

//go:noescape
func bothRow4(dst, row, x *float64, f float64, n int) float64

//go:noescape
func eliminate4(a, rows *float64, block int)

//go:noescape
func combine32(dst, base *float64, terms, f *float32, terms1, chunks int)

//go:noescape
func spread4(x, rows, y *float64, block int)

//go:noescape
func gather4(sum, rows, x *float64, block int)
