package grid

import "math"

// AirRuns gives for each sealed-air cell the free length of the air column through it along an axis, m, and the bodies at its
// low and high end (Outside where the column ends at outer air, which happens only at cells too small to count). For all other
// cells the length is 0 and both bodies are Outside. A cell that air owns counts whole.
func (g *Grid) AirRuns(axis int) (lengthM []float32, lo, hi []int16) {
	n := len(g.Owner)
	lengthM, lo, hi = make([]float32, n), make([]int16, n), make([]int16, n)
	for c := range lo {
		lo[c], hi[c] = Outside, Outside
	}
	step := g.stride[axis]
	for c := range g.Owner {
		if g.IJK(c)[axis] != 0 {
			continue
		}
		before := int16(Outside) // owner of the cell before the run
		for i := 0; i < g.n[axis]; {
			first := c + i*step
			o := g.Owner[first]
			if int(o) < g.AirBase {
				before = o
				i++
				continue
			}
			length := 0.0
			end := i
			for end < g.n[axis] && g.Owner[c+end*step] == o {
				length += g.CellSize(axis, end)
				end++
			}
			after := int16(Outside)
			if end < g.n[axis] {
				after = g.Owner[c+end*step]
			}
			for ; i < end; i++ {
				lengthM[c+i*step], lo[c+i*step], hi[c+i*step] = float32(length), before, after
			}
			before = o
		}
	}
	return lengthM, lo, hi
}

// FacingGap looks from the middle of an exposed element along its Axis and Sign through outer air: how far the next solid is
// and which body it is; ok is false when there is none.
func (g *Grid) FacingGap(e *Exposed) (gapM float64, body int, ok bool) {
	axis, sign := int(e.Axis), float64(e.Sign)
	p := e.Centre
	at := g.IJK(int(e.Cell))
	// the middle of a bent element lies a little inside or off its surface: be clear of it before looking
	leaving := math.Abs(e.Normal[axis]) < 1-1e-9
	free := e.Centre[axis] + sign*g.CellSize(axis, at[axis])
	for a := range at {
		if a != axis {
			if i, in := g.Index(a, p[a]); in {
				at[a] = i
			}
		}
	}
	i, in := g.Index(axis, p[axis]+sign*g.tinyM)
	for in {
		at[axis] = i
		cell := (at[2]*g.NY+at[1])*g.NX + at[0]
		start, end := g.planes[axis][i], g.planes[axis][i+1]
		if sign < 0 {
			start, end = end, start
		}
		st := g.state[cell]
		if st >= 0 && !(leaving && (free-start)*sign > 0) {
			return math.Max((start-e.Centre[axis])*sign, 0), int(st), true
		}
		if st <= firstCut {
			// cut: look at the solids themselves, in 16 steps
			box := g.Box(cell)
			near := g.overlapping(box)
			const n = 16
			for k := 0; k < n; k++ {
				x := start + (end-start)*(float64(k)+0.5)/float64(n)
				if (x-e.Centre[axis])*sign <= 0 {
					continue
				}
				p[axis] = x
				b := g.bodyAt(near, p)
				switch {
				case b < 0:
					leaving = false
				case !leaving || (x-free)*sign > 0:
					return math.Max((start+(end-start)*float64(k)/float64(n)-e.Centre[axis])*sign, 0), int(b), true
				}
			}
		} else if st < 0 {
			leaving = false
		}
		i += int(sign)
		in = i >= 0 && i < g.n[axis]
	}
	return 0, 0, false
}
