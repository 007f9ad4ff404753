// Package layered makes the bench's problems: thin plates beside sealed air, poor contacts, flat cells. All materials and sizes
// are invented; the conductivities span those of copper and air, a ratio of 1.5e4.
package layered

import (
	"finwright/internal/linsolve"
)

// Problem is a body in cells. Temperatures are rises above the air outside, K.
//
//	CapJK dT/dt = conduction − FilmWK·T + PowerW
type Problem struct {
	linsolve.Grid
	CapJK, GX, GY, GZ, FilmWK, PowerW []float64
}

// material is one substance.
type material struct{ kWmK, rhoCJm3K float64 }

var (
	air      = material{0.026, 1.2e3}
	plastic  = material{0.2, 1.5e6}
	pad      = material{3, 2.2e6}
	board    = material{18, 1.9e6}
	aluminum = material{167, 2.4e6}
	copper   = material{390, 3.4e6}
)

const (
	jointWm2K = 3000. // of a contact between two plates
	filmWm2K  = 8.    // free convection and radiation on all outer faces
	totalW    = 5.    // heat of the body
)

// stack is the pattern of layers: cells thick, and whether a joint lies above.
var stack = []struct {
	of    material
	cells int
	joint bool
}{
	{plastic, 3, false}, {air, 5, false}, {aluminum, 4, true}, {copper, 1, false}, {air, 6, false},
	{board, 3, true}, {pad, 2, false}, {copper, 1, true}, {aluminum, 2, false}, {air, 5, false},
}

// Layers is nx×nx×nz cells of sideM × sideM × thickM, layers over the whole plan in a pattern that repeats every 32 cells.
// The boards make the heat, in their middle third.
func Layers(nx, nz int, sideM, thickM float64) *Problem {
	b := body{Grid: linsolve.Grid{NX: nx, NY: nx, NZ: nz}, dx: same(nx, sideM), dy: same(nx, sideM), dz: same(nz, thickM)}
	layer, joint := make([]material, nz), make([]bool, nz)
	for k, s, within := 0, 0, 0; k < nz; k++ {
		layer[k] = stack[s].of
		if within++; within == stack[s].cells {
			joint[k] = stack[s].joint
			s, within = (s+1)%len(stack), 0
		}
	}
	b.of = func(_, _, k int) material { return layer[k] }
	b.joint = func(_, _, k int) bool { return joint[k] }
	b.heated = func(i, j, k int) bool { return layer[k] == board && i*3/nx == 1 && j*3/nx == 1 }
	return b.problem()
}

// Device is a flat box: a plastic shell, sealed air, a board with openings, a copper sheet jointed to it and an aluminium lid,
// all narrower than the box; the cells are flat (up to 1:20) where the layers are thin. It needs 16 cells of height and 50 of both sides.
func Device(nx, ny, nz int) *Problem {
	const side = 0.5e-3
	b := body{Grid: linsolve.Grid{NX: nx, NY: ny, NZ: nz}, dx: same(nx, side), dy: same(ny, side), dz: same(nz, side)}
	mid := nz / 2
	for k := mid - 3; k <= mid+3; k++ {
		b.dz[k] = side / 20
	}
	within := func(i, j, margin int) bool { return i >= margin && j >= margin && i < nx-margin && j < ny-margin }
	b.of = func(i, j, k int) material {
		switch {
		case k < 2 || k >= nz-2 || !within(i, j, 4):
			return plastic
		case k == nz-3 && within(i, j, 6):
			return aluminum
		case (k == mid-1 || k == mid) && within(i, j, 12):
			if i%40 < 6 && j%50 < 8 { // openings
				return air
			}
			return board
		case k == mid+1 && within(i, j, 20):
			return copper
		case k == mid+2 && b.chip(i, j):
			return aluminum
		case k > mid+2 && k < nz-3 && b.chip(i, j):
			return pad
		}
		return air
	}
	b.joint = func(i, j, k int) bool { return (k == mid || k == mid+1) && within(i, j, 20) }
	b.heated = func(i, j, k int) bool { return k == mid+2 && b.chip(i, j) }
	return b.problem()
}

// body is a box of cells before the conductances are taken.
type body struct {
	linsolve.Grid
	dx, dy, dz []float64 // m
	of         func(i, j, k int) material
	joint      func(i, j, k int) bool // between (i,j,k) and (i,j,k+1)
	heated     func(i, j, k int) bool
}

func (b *body) chip(i, j int) bool { return i*5/b.NX == 2 && j*5/b.NY == 2 }

func same(n int, d float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = d
	}
	return v
}

// problem takes two half cells in series, G = A/(d₁/2k₁ + 1/h_joint + d₂/2k₂), and half a cell and the film outside.
func (b *body) problem() *Problem {
	n := b.Cells()
	p := &Problem{Grid: b.Grid, CapJK: make([]float64, n), GX: make([]float64, n), GY: make([]float64, n), GZ: make([]float64, n),
		FilmWK: make([]float64, n), PowerW: make([]float64, n)}
	heated := 0
	for c := range n {
		i, j, k := b.Coordinates(c)
		own := b.of(i, j, k)
		dx, dy, dz := b.dx[i], b.dy[j], b.dz[k]
		p.CapJK[c] = own.rhoCJm3K * dx * dy * dz
		outside := func(areaM2, dM float64) { p.FilmWK[c] += areaM2 / (dM/2/own.kWmK + 1/filmWm2K) }
		if i+1 < b.NX {
			p.GX[c] = dy * dz / (dx/2/own.kWmK + b.dx[i+1]/2/b.of(i+1, j, k).kWmK)
		} else {
			outside(dy*dz, dx)
		}
		if j+1 < b.NY {
			p.GY[c] = dx * dz / (dy/2/own.kWmK + b.dy[j+1]/2/b.of(i, j+1, k).kWmK)
		} else {
			outside(dx*dz, dy)
		}
		if k+1 < b.NZ {
			r := dz/2/own.kWmK + b.dz[k+1]/2/b.of(i, j, k+1).kWmK
			if b.joint(i, j, k) {
				r += 1 / jointWm2K
			}
			p.GZ[c] = dx * dy / r
		} else {
			outside(dx*dy, dz)
		}
		if i == 0 {
			outside(dy*dz, dx)
		}
		if j == 0 {
			outside(dx*dz, dy)
		}
		if k == 0 {
			outside(dx*dy, dz)
		}
		if b.heated(i, j, k) {
			p.PowerW[c] = 1
			heated++
		}
	}
	for c := range p.PowerW {
		p.PowerW[c] *= totalW / float64(heated)
	}
	return p
}

// Step is the implicit step of dtS from temperatures that hold every wave length: a smooth rise of up to 20 K with ±1 K of noise.
//
//	(C/dt + film + conduction) T = C/dt·T_before + power
func (p *Problem) Step(dtS float64) (*linsolve.Operator, []float64) {
	n := p.Cells()
	op := &linsolve.Operator{Grid: p.Grid, GX: p.GX, GY: p.GY, GZ: p.GZ, Diag: make([]float64, n)}
	rhs := make([]float64, n)
	hump := func(i, n int) float64 { x := (float64(i) + 0.5) / float64(n); return 4 * x * (1 - x) }
	for c := range n {
		i, j, k := p.Coordinates(c)
		before := 20*hump(i, p.NX)*hump(j, p.NY)*hump(k, p.NZ) + noise(uint64(c))
		op.Diag[c] = p.CapJK[c]/dtS + p.FilmWK[c]
		rhs[c] = p.CapJK[c]/dtS*before + p.PowerW[c]
	}
	return op, rhs
}

// noise is a number from -1 to 1 that looks random: the mixer of SplitMix64 (Steele, Lea & Flood, OOPSLA 2014).
func noise(c uint64) float64 {
	z := (c + 1) * 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(z>>11)/(1<<52) - 1
}
