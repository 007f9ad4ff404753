package model

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/surface"
)

// Crossing is the heat through one contact between two bodies, with the mean temperatures on both sides of the interface.
type Crossing struct {
	A, B           int // bodies; sealed air regions follow the parts
	AreaM2         float64
	FlowW          float64 // from A to B
	SideAK, SideBK float64 // area-weighted means at the interface, K
}

// Crossings adds up the heat between touching bodies in a field of cell temperatures.
func (m *Model) Crossings(tK []float64) []Crossing {
	g := m.Shape.Grid
	size := [3][]float64{widths(g.X), widths(g.Y), widths(g.Z)}
	cond := [3][]float64{m.Heat.GX, m.Heat.GY, m.Heat.GZ}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	acc := map[[2]int]*Crossing{}
	for cell, owner := range g.Owner {
		b1 := int(owner)
		if b1 < 0 {
			continue
		}
		idx := [3]int{cell % g.NX, cell / g.NX % g.NY, cell / (g.NX * g.NY)}
		for a := 0; a < 3; a++ {
			if cond[a][cell] == 0 {
				continue
			}
			next := cell + stride[a]
			b2 := int(g.Owner[next])
			if b2 == b1 || b2 < 0 {
				continue
			}
			k := pair(b1, b2)
			c := acc[k]
			if c == nil {
				c = &Crossing{A: k[0], B: k[1]}
				acc[k] = c
			}
			area := size[(a+1)%3][idx[(a+1)%3]] * size[(a+2)%3][idx[(a+2)%3]] * float64(g.Open[a][cell])
			flow := cond[a][cell] * (tK[cell] - tK[next])
			side1 := tK[cell] - flow*size[a][idx[a]]/(2*m.kWmK[a][cell]*area)
			side2 := tK[next] + flow*size[a][idx[a]+1]/(2*m.kWmK[a][next]*area)
			if b1 != c.A {
				flow, side1, side2 = -flow, side2, side1
			}
			c.FlowW += flow
			c.AreaM2 += area
			c.SideAK += area * side1
			c.SideBK += area * side2
		}
	}
	out := make([]Crossing, 0, len(acc))
	for _, c := range acc {
		c.SideAK /= c.AreaM2
		c.SideBK /= c.AreaM2
		out = append(out, *c)
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].A != out[j].A {
			return out[i].A < out[j].A
		}
		return out[i].B < out[j].B
	})
	return out
}

// BodyName is a part's name, or "sealed air".
func (m *Model) BodyName(b int) string { return m.Shape.names[b] }

// IsAir says whether body b is a sealed air region.
func (m *Model) IsAir(b int) bool { return m.Shape.airBody(b) }

// JointLabel names what lies between two bodies: "thermal pad, 1 mm", or "air" beside sealed air.
func (m *Model) JointLabel(a, b int) string {
	if i, ok := m.jointOf[pair(a, b)]; ok {
		return m.Joints[i].What
	}
	return "air"
}

// JointProbe is the highest temperature of the cells on both sides of a joint, for the limit of its glue.
func (m *Model) JointProbe(ji int) *Probe {
	name := "glue " + m.Joints[ji].label(m.Shape.names)
	if p := m.fewer(name); p != nil {
		return p
	}
	g := m.Shape.Grid
	cond := [3][]float64{m.Heat.GX, m.Heat.GY, m.Heat.GZ}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	want := pair(m.Joints[ji].A, m.Joints[ji].B)
	p := &Probe{Name: name, kind: highestOfCells, m: m}
	for cell, owner := range g.Owner {
		if owner < 0 {
			continue
		}
		for a := 0; a < 3; a++ {
			if cond[a][cell] == 0 {
				continue
			}
			if o := g.Owner[cell+stride[a]]; o >= 0 && pair(int(owner), int(o)) == want && o != owner {
				p.Places = append(p.Places, int32(cell), int32(cell+stride[a]))
			}
		}
	}
	return p
}

// PartProbe is the mean (or highest) temperature of part b.
func (m *Model) PartProbe(b int, highest bool) *Probe {
	if highest {
		if p := m.fewer(m.Parts[b].Name + " highest"); p != nil {
			return p
		}
		return m.cellProbe(m.Parts[b].Name+" highest", b, highestOfCells)
	}
	return m.cellProbe(m.Parts[b].Name, b, meanOfCells)
}

// Describe tells what stands behind the film of surface si at the surfaces' mean temperatures; ok is false for stated
// boundaries and for what is wholly covered by a support.
func (m *Model) Describe(si int, meansK []float64) (d Described, ok bool) {
	l := m.Surfaces[si].patch
	if l == nil {
		return d, false
	}
	d.Film = l.patch.Film(meansK[si], l.upstreamK(meansK, si), &l.outer.env)
	hr, radK := l.outer.radiation(meansK, si)
	open := 1.0
	if s := m.Surfaces[si].support; s != nil {
		open = 1 - s.share
	}
	d.ConvWm2 = open * d.ConvWm2K * (meansK[si] - m.Under.AirK)
	d.RadWm2 = open * hr * (meansK[si] - radK)
	d.SunWm2 = open * l.sunWm2
	d.Lies = lies(l.patch.TiltRad)
	return d, true
}

// Described is what a surface in air exchanges, W/m² of the whole of it, by what film. What a support touches is left out.
type Described struct {
	surface.Film
	ConvWm2 float64 // to the air
	RadWm2  float64 // net radiation given off to the surroundings and to other surfaces
	SunWm2  float64 // light absorbed
	Lies    string  // "upright"; of a channel, how its mouth does
}

// lies tells how a face with this angle between its outward normal and up lies.
func lies(tiltRad float64) string {
	switch deg := tiltRad * 180 / math.Pi; {
	case deg < 1:
		return "faces up"
	case deg > 179:
		return "faces down"
	case math.Abs(deg-90) < 1:
		return "upright"
	case deg < 90:
		return fmt.Sprintf("faces up, leaning %.0f°", 90-deg)
	default:
		return fmt.Sprintf("faces down, leaning %.0f°", deg-90)
	}
}
