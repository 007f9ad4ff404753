//go:build !amd64

package linsolve

// vector is false where there are no kernels of vector_amd64.s; what stands
// below is never called.
var vector = false

func applyCells4(*applyRow, int, int) float64       { panic("linsolve: no vector kernels") }
func stepCells8(*stepArgs, int) float64             { panic("linsolve: no vector kernels") }
func directionCells8(*float64, *real, float64, int) { panic("linsolve: no vector kernels") }
func sweepCells8(*relaxRow, *[8]uint32, int)        { panic("linsolve: no vector kernels") }
func leftoverCells8(*relaxRow, *[8]uint32, int)     { panic("linsolve: no vector kernels") }
func returnCells8(*relaxRow, *[8]uint32, int)       { panic("linsolve: no vector kernels") }
func returnDotCells8(*relaxRow, *[8]uint32, int) (float64, float64) {
	panic("linsolve: no vector kernels")
}
func relaxSlices8(*sliced, *real, *real, *int32, int, int) { panic("linsolve: no vector kernels") }
func upperSlices8(*sliced, *real, *real, int, int)         { panic("linsolve: no vector kernels") }
func applySlices8(*sliced, *real, *real, *real, int, int) (a, b, c float64) {
	panic("linsolve: no vector kernels")
}
func stepBack8(*real, *real, real, int) float64 { panic("linsolve: no vector kernels") }
func dot8(*real, *real, int) float64            { panic("linsolve: no vector kernels") }
