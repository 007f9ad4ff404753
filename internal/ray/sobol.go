package ray

import "math/bits"

// spread is n points of the cube, one low-discrepancy set: (q+½)/n and three coordinates of Sobol's sequence (Sobol 1967;
// direction numbers of Joe and Kuo 2008, dimensions 1 to 3). For n a power of two every coordinate, and every pair with the
// first, is evenly stratified.
func spread(n int) [][3]float64 {
	var dir [3][32]uint32
	for b := range 32 {
		dir[0][b] = 1 << (31 - b)
	}
	// x+1, m = 1; x²+x+1, m = 1, 3
	dir[1][0] = 1 << 31
	for b := 1; b < 32; b++ {
		dir[1][b] = dir[1][b-1] ^ dir[1][b-1]>>1
	}
	dir[2][0], dir[2][1] = 1<<31, 3<<30
	for b := 2; b < 32; b++ {
		dir[2][b] = dir[2][b-1] ^ dir[2][b-2] ^ dir[2][b-2]>>2
	}
	half := uint32(1) << 31 >> bits.Len32(uint32(max(n, 1)-1)) // middles of the finest intervals
	out := make([][3]float64, n)
	for q := range out {
		for a := range dir {
			x := half
			for b := 0; q>>b != 0; b++ {
				if q>>b&1 == 1 {
					x ^= dir[a][b]
				}
			}
			out[q][a] = float64(x) / (1 << 32)
		}
	}
	return out
}
