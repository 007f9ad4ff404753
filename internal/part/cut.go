package part

import (
	"fmt"
	"math"
	"sort"
)

// CutSolid is a solid with cut-outs. Cutters may stick out of it and may overlap.
//
// Its volume is closed form when solid and cutters are all aligned, or when the cutters, once clipped along their own axis to
// the solid's bounds, lie wholly inside the solid and clear of one another (holes through or into a plate). Otherwise it is
// sampled: 200 midpoints per axis along which the shape is oblique, right to about 0.1 % of the space sampled. VolumeExact
// says which.
type CutSolid struct {
	Base    Solid
	Cutters []Solid
}

// Cut takes cutters out of a solid. It is an error when nothing would be taken, or nothing be left.
func Cut(s Solid, cutters ...Solid) (Solid, error) {
	if len(cutters) == 0 {
		return s, nil
	}
	b := s.Bounds()
	for i, c := range cutters {
		if b.against(c.Bounds()) == Apart {
			return nil, fmt.Errorf("cut-out %d lies beside the part and takes nothing away: its place counts from the part's smallest corner", i+1)
		}
		if c.Against(b) == Fills {
			return nil, fmt.Errorf("cut-out %d takes the whole part away", i+1)
		}
	}
	cut := &CutSolid{Base: s, Cutters: append([]Solid(nil), cutters...)}
	if v := cut.VolumeM3(); !(v > 1e-9*s.VolumeM3()) {
		return nil, fmt.Errorf("the cut-outs take the whole part away")
	}
	return cut, nil
}

func (s *CutSolid) Bounds() Box { return s.Base.Bounds() }

func (s *CutSolid) Contains(p Vec) bool {
	if !s.Base.Contains(p) {
		return false
	}
	for _, c := range s.Cutters {
		if c.Contains(p) {
			return false
		}
	}
	return true
}

func (s *CutSolid) Planes(axis int) []float64 {
	b := s.Base.Bounds()
	p := append([]float64(nil), s.Base.Planes(axis)...)
	for _, c := range s.Cutters {
		for _, v := range c.Planes(axis) {
			if v > b.Min[axis] && v < b.Max[axis] {
				p = append(p, v)
			}
		}
	}
	sort.Float64s(p)
	return unique(p)
}

func (s *CutSolid) Aligned() bool {
	for _, c := range s.Cutters {
		if !c.Aligned() {
			return false
		}
	}
	return s.Base.Aligned()
}

func (s *CutSolid) Oblique(axis int) bool {
	for _, c := range s.Cutters {
		if c.Oblique(axis) {
			return true
		}
	}
	return s.Base.Oblique(axis)
}

// Wishes leaves cut-outs at two fifths of the fineness of a body: four cells across a hole, two at the least.
func (s *CutSolid) Wishes(axis int) []Wish {
	b := s.Base.Bounds()
	out := s.Base.Wishes(axis)
	for _, c := range s.Cutters {
		for _, w := range c.Wishes(axis) {
			w = Wish{math.Max(w.LoM, b.Min[axis]), math.Min(w.HiM, b.Max[axis]), 2.5 * w.CellM, 2 * w.MostM}
			if w.LoM < w.HiM {
				out = append(out, w)
			}
		}
	}
	return out
}

func (s *CutSolid) Against(b Box) Relation {
	rel := s.Base.Against(b)
	for _, c := range s.Cutters {
		if rel == Apart {
			break
		}
		rel = minus(rel, c.Against(b))
	}
	return rel
}

func (s *CutSolid) support(dir Vec) float64 { return s.Base.support(dir) }

func (s *CutSolid) facets(f frame, stepM Vec, visit func(Facet)) {
	s.Base.facets(f, stepM, visit)
	for _, c := range s.Cutters {
		c.facets(f, stepM, func(e Facet) {
			e.Normal = scale(e.Normal, -1)
			visit(e)
		})
	}
}

// VolumeExact says whether VolumeM3 is closed form.
func (s *CutSolid) VolumeExact() bool {
	_, ok := s.closedForm()
	return ok || s.Aligned()
}

// VolumeM3 is the volume left; see CutSolid for how.
func (s *CutSolid) VolumeM3() float64 {
	if v, ok := s.closedForm(); ok {
		return v
	}
	return s.sampled()
}

// closedForm is base minus cutters, when these are clear of each other and inside the base.
func (s *CutSolid) closedForm() (float64, bool) {
	v := s.Base.VolumeM3()
	if c, ok := s.Base.(*CutSolid); ok && !c.VolumeExact() {
		return 0, false
	}
	b := s.Base.Bounds()
	var spaces []Box
	for _, c := range s.Cutters {
		clipped, ok := clip(c, b)
		if !ok {
			return 0, false
		}
		space := clipped.Bounds()
		if s.Base.Against(space) != Fills {
			return 0, false
		}
		for _, o := range spaces {
			if o.against(space) != Apart {
				return 0, false
			}
		}
		spaces = append(spaces, space)
		v -= clipped.VolumeM3()
	}
	return v, true
}

// clip shortens a cutter to a box: a block on all sides, a round bar or tube along its axis. ok is false for other shapes.
func clip(c Solid, b Box) (Solid, bool) {
	switch c := c.(type) {
	case *Block:
		out := c.Space
		for a := range out.Min {
			out.Min[a], out.Max[a] = math.Max(out.Min[a], b.Min[a]), math.Min(out.Max[a], b.Max[a])
		}
		return &Block{Space: out}, true
	case *Cylinder:
		out := *c
		out.lo, out.hi = math.Max(c.lo, b.Min[c.Axis]), math.Min(c.hi, b.Max[c.Axis])
		out.LengthM = out.hi - out.lo
		out.Centre[c.Axis] = (out.lo + out.hi) / 2
		return &out, true
	}
	return nil, false
}

// sampled adds up the volume of small boxes whose middle is in the solid. Between two planes one box is enough along an axis
// that is not oblique, so an aligned solid comes out exactly.
func (s *CutSolid) sampled() float64 {
	const perAxis = 200
	var mid, width [3][]float64
	size := s.Bounds().Size()
	for a := range mid {
		p := s.Planes(a)
		for k := 1; k < len(p); k++ {
			n := 1
			if s.Oblique(a) {
				n = int(math.Ceil(perAxis * (p[k] - p[k-1]) / size[a]))
			}
			w := (p[k] - p[k-1]) / float64(n)
			for i := 0; i < n; i++ {
				mid[a] = append(mid[a], p[k-1]+w*(float64(i)+0.5))
				width[a] = append(width[a], w)
			}
		}
	}
	v := 0.0
	for k, z := range mid[2] {
		for j, y := range mid[1] {
			row := 0.0
			for i, x := range mid[0] {
				if s.Contains(Vec{x, y, z}) {
					row += width[0][i]
				}
			}
			v += row * width[1][j] * width[2][k]
		}
	}
	return v
}
