package grid

import (
	"sort"

	"finwright/internal/part"
)

// Contact is two bodies that touch, A < B. Sealed air regions take part with their own index.
type Contact struct {
	A, B    int
	AreaM2  float64 // true area
	FacesM2 float64 // open area of the faces between cells of A and cells of B: more than AreaM2 where stairs stand for a curve
}

// Touch lists the bodies that share faces of cells, sorted by A, then B.
func (g *Grid) Touch() []Contact { return append([]Contact(nil), g.contacts...) }

// touching gathers contacts while faces are visited.
type touching map[[2]int16]*Contact

func (t touching) of(a, b int16) *Contact {
	k := [2]int16{min(a, b), max(a, b)}
	c := t[k]
	if c == nil {
		c = &Contact{A: int(k[0]), B: int(k[1])}
		t[k] = c
	}
	return c
}

// faces works out how open the faces are, the flat outer surface, and flat contacts.
func (g *Grid) faces() {
	for a := range g.Open {
		g.Open[a] = make([]float32, len(g.Owner))
	}
	g.touching = touching{}
	g.eachFace(func(axis, c, d int, at [3]int) {
		oc, od := int16(Outside), int16(Outside)
		plain := true
		if c >= 0 {
			oc = g.Owner[c]
			plain = g.state[c] > firstCut
		}
		if d >= 0 {
			od = g.Owner[d]
			plain = plain && g.state[d] > firstCut
		}
		if oc < 0 && od < 0 {
			return
		}
		area := g.faceArea(axis, at)
		if plain {
			switch {
			case oc >= 0 && od >= 0:
				g.Open[axis][c] = 1
				if oc != od {
					t := g.touching.of(oc, od)
					t.AreaM2 += area
					t.FacesM2 += area
				}
			case oc >= 0:
				g.expose(c, axis, 1, oc, area, g.sideCentre(c, axis, 1))
			default:
				g.expose(d, axis, -1, od, area, g.sideCentre(d, axis, -1))
			}
			return
		}
		g.cutFace(axis, c, d, at, area)
	})
}

// cutFace is faces for a face one of whose cells is cut: point by point.
func (g *Grid) cutFace(axis, c, d int, at [3]int, area float64) {
	n, alongU := g.points(axis, at)
	each := area / float64(n)
	open := 0
	// area and middle of what each side exposes, by body; few bodies meet in one face
	type patch struct {
		cell, sign int
		body       int16
		area       float64
		centre     part.Vec
	}
	var patches []patch
	expose := func(cell, sign int, body int16, p int) {
		centre := g.sideCentre(cell, axis, sign)
		cellAt := g.IJK(cell)
		for i, idx := range [2]int{p % alongU, p / alongU} {
			u := (axis + 1 + i) % 3
			r := &g.rules[u][cellAt[u]]
			centre[u] = r.mid[r.core0+idx]
		}
		for i := range patches {
			if q := &patches[i]; q.sign == sign && q.body == body {
				q.area += each
				for a := range centre {
					q.centre[a] += each * centre[a]
				}
				return
			}
		}
		q := patch{cell: cell, sign: sign, body: body, area: each}
		for a := range centre {
			q.centre[a] = each * centre[a]
		}
		patches = append(patches, q)
	}
	activeC, activeD := c >= 0 && g.Owner[c] >= 0, d >= 0 && g.Owner[d] >= 0
	for p := 0; p < n; p++ {
		lc, ld := g.sideOwner(c, 2*axis+1, p), g.sideOwner(d, 2*axis, p)
		switch {
		case lc >= 0 && ld >= 0 && activeC && activeD:
			open++
			if lc != ld {
				g.touching.of(lc, ld).AreaM2 += each
			}
		case lc >= 0 && ld == Outside && activeC:
			expose(c, 1, lc, p)
		case ld >= 0 && lc == Outside && activeD:
			expose(d, -1, ld, p)
		}
	}
	if open > 0 {
		g.Open[axis][c] = float32(open) / float32(n)
		if g.Owner[c] != g.Owner[d] {
			g.touching.of(g.Owner[c], g.Owner[d]).FacesM2 += each * float64(open)
		}
	}
	for _, q := range patches {
		for a := range q.centre {
			q.centre[a] /= q.area
		}
		g.expose(q.cell, axis, q.sign, q.body, q.area, q.centre)
	}
}

// sideOwner is the owner at a point of a cell's side, what little is in a cell that counts as outer air included: its surface
// goes to the next active cell (see oblique), so the side before it exposes nothing there.
func (g *Grid) sideOwner(cell, side, pt int) int16 {
	if cell < 0 {
		return Outside
	}
	return g.sidePoint(cell, side, pt)
}

func (g *Grid) sideCentre(cell, axis, sign int) part.Vec {
	b := g.Box(cell)
	p := b.Centre()
	p[axis] = b.Max[axis]
	if sign < 0 {
		p[axis] = b.Min[axis]
	}
	return p
}

// expose adds a flat element on a side of a cell. Sealed air exposes nothing.
func (g *Grid) expose(cell, axis, sign int, body int16, area float64, centre part.Vec) {
	if int(body) >= g.AirBase {
		return
	}
	e := Exposed{Cell: int32(cell), Axis: int8(axis), Sign: int8(sign), Body: body, AreaM2: area, Centre: centre,
		DistM: g.CellSize(axis, g.IJK(cell)[axis]) / 2}
	e.Normal[axis] = float64(sign)
	g.Exposed = append(g.Exposed, e)
}

// closeGaps shuts the faces between cells of bodies that have a gap between them too narrow for the cells: what does not touch
// does not conduct.
func (g *Grid) closeGaps() {
	g.eachFace(func(axis, c, d int, _ [3]int) {
		if c < 0 || d < 0 || g.Open[axis][c] == 0 || g.Owner[c] == g.Owner[d] {
			return
		}
		if t := g.touching.of(g.Owner[c], g.Owner[d]); t.AreaM2 == 0 {
			g.Open[axis][c] = 0
		}
	})
}

// finish puts elements and contacts in order and lets go of what is no longer needed.
func (g *Grid) finish() {
	sort.SliceStable(g.Exposed, func(i, j int) bool {
		a, b := &g.Exposed[i], &g.Exposed[j]
		if a.Cell != b.Cell {
			return a.Cell < b.Cell
		}
		if a.Axis != b.Axis {
			return a.Axis < b.Axis
		}
		if a.Sign != b.Sign {
			return a.Sign < b.Sign
		}
		return a.Body < b.Body
	})
	apart := false
	for _, c := range g.touching {
		if c.FacesM2 > 0 && c.AreaM2 > 0 {
			g.contacts = append(g.contacts, *c)
		}
		apart = apart || c.AreaM2 == 0
	}
	if apart {
		g.closeGaps()
	}
	sort.Slice(g.contacts, func(i, j int) bool {
		a, b := g.contacts[i], g.contacts[j]
		return a.A < b.A || a.A == b.A && a.B < b.B
	})
	g.touching, g.pieceOwner, g.cutShares = nil, nil, nil
}
