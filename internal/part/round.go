package part

import (
	"fmt"
	"math"
)

// cellsAcrossRound is how many cells across a diameter show a round shape well enough: with sampled volume fractions the
// volume is then right to far better than 1 % (see the grid's tests).
const cellsAcrossRound = 10

// Cylinder is a round bar or, with an inner diameter, a tube open at both ends.
type Cylinder struct {
	Axis      int
	Centre    Vec // middle of the axis
	DiameterM float64
	InnerM    float64 // diameter of the bore; 0 for a bar
	LengthM   float64
	lo, hi    float64 // ends along the axis
}

// NewCylinder makes a round bar along an axis; min is the smallest corner of the box around it.
func NewCylinder(min Vec, diameterM, lengthM float64, axis int) (Solid, error) {
	c, err := newRound(min, diameterM, 0, lengthM, axis)
	if err != nil {
		return nil, err
	}
	return c, nil
}

// NewTube makes a tube, open at both ends; min is the smallest corner of the box around it.
func NewTube(min Vec, diameterM, innerM, lengthM float64, axis int) (Solid, error) {
	if err := checkLength("inner diameter", innerM); err != nil {
		return nil, err
	}
	if innerM >= diameterM {
		return nil, fmt.Errorf("its inner diameter of %s leaves no wall in the outer diameter of %s", mm(innerM), mm(diameterM))
	}
	c, err := newRound(min, diameterM, innerM, lengthM, axis)
	if err != nil {
		return nil, err
	}
	return c, nil
}

func newRound(min Vec, diameterM, innerM, lengthM float64, axis int) (*Cylinder, error) {
	if err := checkAxis(axis); err != nil {
		return nil, err
	}
	if err := checkPlace(min); err != nil {
		return nil, err
	}
	if err := checkLength("diameter", diameterM); err != nil {
		return nil, err
	}
	if err := checkLength("length", lengthM); err != nil {
		return nil, err
	}
	c := &Cylinder{Axis: axis, DiameterM: diameterM, InnerM: innerM, LengthM: lengthM, lo: min[axis], hi: min[axis] + lengthM}
	for a := range min {
		c.Centre[a] = min[a] + diameterM/2
	}
	c.Centre[axis] = min[axis] + lengthM/2
	return c, nil
}

func (s *Cylinder) Bounds() Box {
	var b Box
	for a := range b.Min {
		b.Min[a], b.Max[a] = s.Centre[a]-s.DiameterM/2, s.Centre[a]+s.DiameterM/2
	}
	b.Min[s.Axis], b.Max[s.Axis] = s.lo, s.hi
	return b
}

func (s *Cylinder) Contains(p Vec) bool {
	if p[s.Axis] < s.lo || p[s.Axis] > s.hi {
		return false
	}
	u, v := (s.Axis+1)%3, (s.Axis+2)%3
	x, y := p[u]-s.Centre[u], p[v]-s.Centre[v]
	d2 := 4 * (x*x + y*y)
	return d2 <= s.DiameterM*s.DiameterM && (s.InnerM == 0 || d2 >= s.InnerM*s.InnerM)
}

func (s *Cylinder) Planes(axis int) []float64 {
	b := s.Bounds()
	return []float64{b.Min[axis], b.Max[axis]}
}
func (s *Cylinder) Aligned() bool         { return false }
func (s *Cylinder) Oblique(axis int) bool { return axis != s.Axis }

// VolumeM3 is π/4·(D² − d²)·L.
func (s *Cylinder) VolumeM3() float64 {
	return math.Pi / 4 * (s.DiameterM*s.DiameterM - s.InnerM*s.InnerM) * s.LengthM
}

func (s *Cylinder) Wishes(axis int) []Wish {
	return s.wishes(axis, (s.DiameterM-s.InnerM)/2)
}

// wishes of a round shape with a wall: ten cells across, and one through the wall, but no more than 40 across for that. At
// the least four across, and none longer than two walls.
func (s *Cylinder) wishes(axis int, wallM float64) []Wish {
	if axis == s.Axis {
		return nil
	}
	r := s.DiameterM / 2
	return []Wish{{LoM: s.Centre[axis] - r, HiM: s.Centre[axis] + r, CellM: math.Max(math.Min(s.DiameterM/cellsAcrossRound, wallM), s.DiameterM/40),
		MostM: math.Min(s.DiameterM/4, 2*wallM)}}
}

func (s *Cylinder) Against(b Box) Relation {
	if b.Max[s.Axis] <= s.lo || b.Min[s.Axis] >= s.hi {
		return Apart
	}
	rel := s.disc(s.DiameterM, b)
	if s.InnerM > 0 {
		rel = minus(rel, s.disc(s.InnerM, b))
	}
	if rel == Fills && (b.Min[s.Axis] < s.lo || b.Max[s.Axis] > s.hi) {
		return Crosses
	}
	return rel
}

// disc is how a circle round the axis lies to the box's cross-section.
func (s *Cylinder) disc(diameterM float64, b Box) Relation {
	near2, far2 := 0.0, 0.0
	for i := 1; i <= 2; i++ {
		a := (s.Axis + i) % 3
		lo, hi := b.Min[a]-s.Centre[a], b.Max[a]-s.Centre[a]
		near := math.Max(math.Max(lo, -hi), 0)
		far := math.Max(-lo, hi)
		near2 += near * near
		far2 += far * far
	}
	r2 := diameterM * diameterM / 4
	switch {
	case near2 >= r2:
		return Apart
	case far2 <= r2:
		return Fills
	}
	return Crosses
}

func (s *Cylinder) support(dir Vec) float64 {
	across := math.Sqrt(math.Max(dot(dir, dir)-dir[s.Axis]*dir[s.Axis], 0))
	return dot(s.Centre, dir) + s.LengthM/2*math.Abs(dir[s.Axis]) + s.DiameterM/2*across
}

func (s *Cylinder) facets(f frame, stepM Vec, visit func(Facet)) {
	s.lateral(f, s.DiameterM, s.lo, s.hi, 1, stepM, visit)
	if s.InnerM > 0 {
		s.lateral(f, s.InnerM, s.lo, s.hi, -1, stepM, visit)
	}
	s.end(f, s.InnerM, s.DiameterM, s.lo, -1, stepM, visit)
	s.end(f, s.InnerM, s.DiameterM, s.hi, 1, stepM, visit)
}

// lateral visits a round wall between lo and hi; outward is −1 for a bore.
func (s *Cylinder) lateral(f frame, diameterM, lo, hi, outward float64, stepM Vec, visit func(Facet)) {
	u, v := (s.Axis+1)%3, (s.Axis+2)%3
	n := roundDivisions(math.Pi*diameterM, stepM)
	along := divisions(f.dir(scale(unitVec(s.Axis, 1), hi-lo)), stepM)
	area := math.Pi * diameterM / float64(n) * (hi - lo) / float64(along)
	for i := 0; i < n; i++ {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / float64(n))
		var normal Vec
		normal[u], normal[v] = cos, sin
		p := add(s.Centre, scale(normal, diameterM/2))
		normal = f.dir(scale(normal, outward))
		for k := 0; k < along; k++ {
			p[s.Axis] = lo + (hi-lo)*(float64(k)+0.5)/float64(along)
			visit(Facet{At: f.point(p), Normal: normal, AreaM2: area})
		}
	}
}

// roundDivisions is how often a curve of that length that runs through all directions is divided, a multiple of four and at
// least 16.
func roundDivisions(lengthM float64, stepM Vec) int {
	step := math.Inf(1)
	for _, v := range stepM {
		if v > 0 {
			step = math.Min(step, v)
		}
	}
	return 4 * int(math.Max(4, math.Ceil(lengthM/step/4)))
}

// end visits a ring-shaped flat end when it is oblique in the world.
func (s *Cylinder) end(f frame, innerM, outerM, at, sign float64, stepM Vec, visit func(Facet)) {
	normal := f.dir(scale(unitVec(s.Axis, 1), sign))
	if _, _, ok := axisOf(normal); ok {
		return
	}
	u, v := (s.Axis+1)%3, (s.Axis+2)%3
	rings := max(1, roundDivisions((outerM-innerM)/2, stepM)/4)
	for k := 0; k < rings; k++ {
		r0 := innerM/2 + (outerM-innerM)/2*float64(k)/float64(rings)
		r1 := innerM/2 + (outerM-innerM)/2*float64(k+1)/float64(rings)
		n := roundDivisions(math.Pi*(r0+r1), stepM)
		for i := 0; i < n; i++ {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / float64(n))
			p := s.Centre
			p[u] += (r0 + r1) / 2 * cos
			p[v] += (r0 + r1) / 2 * sin
			p[s.Axis] = at
			visit(Facet{At: f.point(p), Normal: normal, AreaM2: math.Pi * (r1*r1 - r0*r0) / float64(n)})
		}
	}
}

// Can is a closed round can: a tube with two ends of the same wall. The cavity is not part of it.
type Can struct {
	Outer, Cavity *Cylinder
	WallM         float64
}

// NewCan makes a can along an axis from the smallest corner of the box around it, its outer sizes and its wall.
func NewCan(min Vec, diameterM, lengthM float64, axis int, wallM float64) (Solid, error) {
	outer, err := newRound(min, diameterM, 0, lengthM, axis)
	if err != nil {
		return nil, err
	}
	if err := checkLength("wall", wallM); err != nil {
		return nil, err
	}
	if least := math.Min(diameterM, lengthM); 2*wallM >= least {
		return nil, fmt.Errorf("its wall of %s leaves no cavity: make it thinner than %s, or leave it out for a solid bar", mm(wallM), mm(least/2))
	}
	cavity, err := newRound(add(min, Vec{wallM, wallM, wallM}), diameterM-2*wallM, 0, lengthM-2*wallM, axis)
	if err != nil {
		return nil, err
	}
	return &Can{Outer: outer, Cavity: cavity, WallM: wallM}, nil
}

func (s *Can) Bounds() Box { return s.Outer.Bounds() }
func (s *Can) Contains(p Vec) bool {
	return s.Outer.Contains(p) && !s.Cavity.Contains(p)
}
func (s *Can) Planes(axis int) []float64 {
	o, c := s.Outer.Planes(axis), s.Cavity.Planes(axis)
	return []float64{o[0], c[0], c[1], o[1]}
}
func (s *Can) Aligned() bool           { return false }
func (s *Can) Oblique(axis int) bool   { return axis != s.Outer.Axis }
func (s *Can) VolumeM3() float64       { return s.Outer.VolumeM3() - s.Cavity.VolumeM3() }
func (s *Can) Against(b Box) Relation  { return minus(s.Outer.Against(b), s.Cavity.Against(b)) }
func (s *Can) support(dir Vec) float64 { return s.Outer.support(dir) }
func (s *Can) Wishes(axis int) []Wish  { return s.Outer.wishes(axis, s.WallM) }

func (s *Can) facets(f frame, stepM Vec, visit func(Facet)) {
	s.Outer.facets(f, stepM, visit)
	s.Cavity.facets(f, stepM, func(e Facet) {
		e.Normal = scale(e.Normal, -1)
		visit(e)
	})
}
