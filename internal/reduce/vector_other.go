//go:build !amd64

package reduce

// vector is false where there are no kernels of vector_amd64.s; what stands below is never called.
var vector = false

func addRow4(*float64, *float64, float64, int)                    { panic("reduce: no vector kernels") }
func dotRow4(*float64, *float64, int) float64                     { panic("reduce: no vector kernels") }
func bothRow4(*float64, *float64, *float64, float64, int) float64 { panic("reduce: no vector kernels") }
func eliminate4(*float64, *float64, int)                          { panic("reduce: no vector kernels") }
func combine32(*float64, *float64, *float32, *float32, int, int)  { panic("reduce: no vector kernels") }
func spread4(*float64, *float64, *float64, int)                   { panic("reduce: no vector kernels") }
func gather4(*float64, *float64, *float64, int)                   { panic("reduce: no vector kernels") }
