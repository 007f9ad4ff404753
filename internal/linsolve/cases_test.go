package linsolve

import (
	"math"
	"math/rand/v2"
)

// box builds operators from conductivities and spacings, the way finite volumes
// do: two half cells in series, G = A/(dx₁/2k₁ + dx₂/2k₂).
type box struct {
	Grid
	dx, dy, dz []float64
	k          []float64
}

func newBox(nx, ny, nz int, dx, dy, dz float64) *box {
	b := &box{Grid: Grid{nx, ny, nz}, k: make([]float64, nx*ny*nz)}
	same := func(n int, d float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = d
		}
		return v
	}
	b.dx, b.dy, b.dz = same(nx, dx), same(ny, dy), same(nz, dz)
	return b
}

// fill sets the conductivity of the cells i0<=i<i1 and so on; 0 is inactive.
func (b *box) fill(i0, i1, j0, j1, k0, k1 int, cond float64) {
	for k := k0; k < k1; k++ {
		for j := j0; j < j1; j++ {
			for i := i0; i < i1; i++ {
				b.k[(k*b.NY+j)*b.NX+i] = cond
			}
		}
	}
}

func (b *box) all(cond float64) { b.fill(0, b.NX, 0, b.NY, 0, b.NZ, cond) }

// operator returns the conduction operator with Diag = volume·perVolume in
// every active cell, plus film·area at active cells' outer faces.
func (b *box) operator(perVolume, film float64) *Operator {
	n := b.Cells()
	op := &Operator{Grid: b.Grid, GX: make([]float64, n), GY: make([]float64, n), GZ: make([]float64, n), Diag: make([]float64, n)}
	at := func(i, j, k int) float64 {
		if i < 0 || j < 0 || k < 0 || i >= b.NX || j >= b.NY || k >= b.NZ {
			return 0
		}
		return b.k[(k*b.NY+j)*b.NX+i]
	}
	for c := range n {
		i, j, k := b.Coordinates(c)
		own := b.k[c]
		if own == 0 {
			op.Diag[c] = 1
			continue
		}
		dx, dy, dz := b.dx[i], b.dy[j], b.dz[k]
		op.Diag[c] = perVolume * dx * dy * dz
		for _, f := range []struct {
			up, down float64
			g        []float64
			area, d  float64
			other    func() float64
		}{
			{at(i+1, j, k), at(i-1, j, k), op.GX, dy * dz, dx, func() float64 { return b.dx[i+1] }},
			{at(i, j+1, k), at(i, j-1, k), op.GY, dx * dz, dy, func() float64 { return b.dy[j+1] }},
			{at(i, j, k+1), at(i, j, k-1), op.GZ, dx * dy, dz, func() float64 { return b.dz[k+1] }},
		} {
			if f.up > 0 {
				f.g[c] = f.area / (f.d/2/own + f.other()/2/f.up)
			} else {
				op.Diag[c] += film * f.area
			}
			if f.down == 0 {
				op.Diag[c] += film * f.area
			}
		}
	}
	return op
}

// cut multiplies the z conductances above plane k by f: a poor contact.
func (op *Operator) cut(k int, f float64) {
	for c := k * op.NX * op.NY; c < (k+1)*op.NX*op.NY; c++ {
		op.GZ[c] *= f
	}
}

// noise is a right-hand side that holds every wave length.
func noise(n int) []float64 {
	rng := rand.New(rand.NewPCG(7, 19))
	v := make([]float64, n)
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	return v
}

// powered is heat in a small block in the middle of active cells, as in a device.
func powered(op *Operator) []float64 {
	v := make([]float64, op.Cells())
	for c := range v {
		i, j, k := op.Coordinates(c)
		if op.GX[c]+op.GY[c]+op.GZ[c] > 0 &&
			3*i/op.NX == 1 && 3*j/op.NY == 1 && 3*k/op.NZ == 1 {
			v[c] = 1
		}
	}
	return v
}

// hard is one demanding problem.
type hard struct {
	name string
	op   func() *Operator
	// most bounds the iterations to 1e-8 from zero: about 1.3 times what they were
	// when the method was chosen.
	most int
}

// sealedDevice is a shell around air with plates and boards, cells of widely
// different size and outside air that is inactive; edges 2n, 2n, n cells.
func sealedDevice(n int) *box {
	b := newBox(2*n, 2*n, n, 1e-3, 1e-3, 1e-3)
	rng := rand.New(rand.NewPCG(3, 11))
	for _, d := range [][]float64{b.dx, b.dy, b.dz} {
		for i := range d {
			d[i] = 1e-3 * math.Pow(10, -1.2*rng.Float64())
		}
	}
	nx, ny, nz := b.NX, b.NY, b.NZ
	m := n / 8
	b.fill(m, nx-m, m, ny-m, m, nz-m, 0.2)                      // plastic shell
	b.fill(m+2, nx-m-2, m+2, ny-m-2, m+1, nz-m-1, 0.026)        // air
	b.fill(m+4, nx-m-4, m+4, ny-m-4, nz/2, nz/2+1, 20)          // board, one cell
	b.fill(nx/2-m, nx/2+m, ny/2-m, ny/2+m, nz/2+1, nz/2+3, 120) // chip
	b.fill(m+3, nx/2+m+1, m+4, ny-m-4, nz/2+3, nz/2+4, 390)     // copper sheet
	b.fill(m+2, nx-m-2, m+2, ny-m-2, nz-m-2, nz-m-1, 200)       // aluminium lid
	return b
}

var hardCases = []hard{
	{"uniform, implicit step", func() *Operator {
		b := newBox(48, 48, 48, 1e-3, 1e-3, 1e-3)
		b.all(200)
		return b.operator(2.4e6/1, 5)
	}, 16},
	{"uniform, steady, weak film", func() *Operator {
		b := newBox(48, 48, 48, 1e-3, 1e-3, 1e-3)
		b.all(200)
		return b.operator(0, 5)
	}, 17},
	{"cells 1:20", func() *Operator {
		b := newBox(48, 48, 48, 1e-3, 1e-3, 5e-5)
		b.all(200)
		return b.operator(0, 5)
	}, 28},
	{"cells 1:20:50", func() *Operator {
		b := newBox(48, 48, 48, 5e-3, 1e-4, 2e-3)
		b.all(200)
		return b.operator(0, 5)
	}, 29},
	{"stretched spacing", func() *Operator {
		b := newBox(48, 48, 48, 1e-3, 1e-3, 1e-3)
		b.all(200)
		for i := range 48 {
			b.dx[i] *= math.Pow(1.07, float64(i))
			b.dy[i] *= math.Pow(1.07, math.Abs(float64(i)-24))
			b.dz[i] *= math.Pow(0.93, float64(i))
		}
		return b.operator(0, 5)
	}, 30},
	{"layers with jumps 1e4", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		for k := range 40 {
			b.fill(0, 40, 0, 40, k, k+1, []float64{390, 0.026, 0.2, 200, 0.026}[k%5])
		}
		return b.operator(0, 5)
	}, 19},
	{"plate beside air, steady", func() *Operator {
		b := newBox(64, 64, 32, 1e-3, 1e-3, 5e-4)
		b.all(0.026)
		b.fill(0, 64, 0, 64, 9, 10, 200)
		b.fill(4, 60, 4, 60, 15, 16, 390)
		return b.operator(0, 5)
	}, 25},
	{"plate beside air, step", func() *Operator {
		b := newBox(64, 64, 32, 1e-3, 1e-3, 5e-4)
		b.all(0.026)
		b.fill(0, 64, 0, 64, 9, 10, 200)
		b.fill(4, 60, 4, 60, 15, 16, 390)
		return b.operator(1200, 5)
	}, 24},
	{"blocks behind poor contacts", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		b.all(200)
		op := b.operator(0, 5)
		for _, k := range []int{4, 5, 9, 16, 17, 22, 31} {
			op.cut(k, 1e-9)
		}
		return op
	}, 21},
	{"checkerboard 1e5", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		for c := range b.k {
			i, j, k := b.Coordinates(c)
			b.k[c] = 0.004
			if (i/3+j/3+k/3)%2 == 0 {
				b.k[c] = 400
			}
		}
		return b.operator(0, 5)
	}, 19},
	{"random conductivity over 5 decades", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		rng := rand.New(rand.NewPCG(5, 23))
		for c := range b.k {
			b.k[c] = 0.004 * math.Pow(10, 5*rng.Float64())
		}
		return b.operator(0, 5)
	}, 26},
	{"sealed device, steady", func() *Operator { return sealedDevice(32).operator(0, 5) }, 26},
	{"sealed device, step", func() *Operator { return sealedDevice(32).operator(2e6/10, 5) }, 25},
	{"sealed device, hardly any film", func() *Operator { return sealedDevice(32).operator(0, 1e-3) }, 27},
	{"perforated plate", func() *Operator {
		b := newBox(160, 160, 1, 1e-3, 1e-3, 1e-3)
		b.all(200)
		for c := range b.k {
			if i, j, _ := b.Coordinates(c); i%2+j%2 == 2 {
				b.k[c] = 0.026
			}
		}
		return b.operator(0, 5)
	}, 22},
	{"star", func() *Operator { // cells that touch nothing but a bar
		b := newBox(3, 4000, 1, 1e-3, 1e-3, 1e-3)
		b.all(1e-9)
		b.fill(1, 2, 0, 4000, 0, 1, 400)
		op := b.operator(0, 5)
		for c := range op.GY {
			if c%3 != 1 {
				op.GY[c] = 0
			}
		}
		return op
	}, 25},
	{"one cell holds all", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		b.all(200)
		op := b.operator(0, 0)
		op.Diag[777] = 1e-5
		return op
	}, 19},
	{"penalty Diag 1e12", func() *Operator {
		b := newBox(40, 40, 40, 1e-3, 1e-3, 1e-3)
		b.all(0.2)
		op := b.operator(0, 0)
		for c := range 1600 {
			op.Diag[c] = 1e12
		}
		return op
	}, 22},
	{"line", func() *Operator {
		b := newBox(20000, 1, 1, 1e-3, 1e-3, 1e-3)
		b.all(200)
		return b.operator(10, 0)
	}, 29},
	{"sheet", func() *Operator {
		b := newBox(1, 200, 200, 1e-3, 1e-3, 1e-3)
		b.all(200)
		return b.operator(0, 0.01)
	}, 23},
}
