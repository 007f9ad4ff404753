package part

import "fmt"

// Block is a solid rectangular block.
type Block struct{ Space Box }

// NewBox makes a block from its corner with the smallest x, y, z and its size.
func NewBox(min, size Vec) (Solid, error) {
	space, err := newSpace(min, size)
	if err != nil {
		return nil, err
	}
	return &Block{Space: space}, nil
}

func newSpace(min, size Vec) (Box, error) {
	if err := checkPlace(min); err != nil {
		return Box{}, err
	}
	for a, v := range size {
		if err := checkLength("size along "+axisNames[a], v); err != nil {
			return Box{}, err
		}
	}
	return Box{Min: min, Max: add(min, size)}, nil
}

func (s *Block) Bounds() Box               { return s.Space }
func (s *Block) Contains(p Vec) bool       { return s.Space.Contains(p) }
func (s *Block) Planes(axis int) []float64 { return []float64{s.Space.Min[axis], s.Space.Max[axis]} }
func (s *Block) Aligned() bool             { return true }
func (s *Block) Oblique(int) bool          { return false }
func (s *Block) VolumeM3() float64         { return s.Space.volumeM3() }
func (s *Block) Against(b Box) Relation    { return s.Space.against(b) }
func (s *Block) Wishes(int) []Wish         { return nil }
func (s *Block) support(dir Vec) float64   { return boxSupport(s.Space, dir) }
func (s *Block) facets(f frame, stepM Vec, visit func(Facet)) {
	f.boxFaces(s.Space, 1, stepM, visit, 0, 0)
}

// boxSupport is the largest p·dir over a box.
func boxSupport(b Box, dir Vec) float64 {
	sum := 0.0
	for a, d := range dir {
		if d > 0 {
			sum += d * b.Max[a]
		} else {
			sum += d * b.Min[a]
		}
	}
	return sum
}

// Hollow is a closed box with walls of one thickness. The cavity is not part of it.
type Hollow struct {
	Outer, Cavity Box
	WallM         float64
}

// NewHollow makes a hollow box from its smallest corner, its outer size and its wall.
func NewHollow(min, size Vec, wallM float64) (Solid, error) {
	outer, err := newSpace(min, size)
	if err != nil {
		return nil, err
	}
	if err := checkLength("wall", wallM); err != nil {
		return nil, err
	}
	h := &Hollow{Outer: outer, WallM: wallM}
	for a, v := range size {
		if 2*wallM >= v {
			return nil, fmt.Errorf("its wall of %s leaves no cavity in the %s along %s: make the wall thinner than %s, or leave it out for a solid box",
				mm(wallM), mm(v), axisNames[a], mm(v/2))
		}
		h.Cavity.Min[a], h.Cavity.Max[a] = outer.Min[a]+wallM, outer.Max[a]-wallM
	}
	return h, nil
}

func (s *Hollow) Bounds() Box         { return s.Outer }
func (s *Hollow) Contains(p Vec) bool { return s.Outer.Contains(p) && !s.Cavity.holds(p) }
func (s *Hollow) Planes(axis int) []float64 {
	return []float64{s.Outer.Min[axis], s.Cavity.Min[axis], s.Cavity.Max[axis], s.Outer.Max[axis]}
}
func (s *Hollow) Aligned() bool     { return true }
func (s *Hollow) Oblique(int) bool  { return false }
func (s *Hollow) Wishes(int) []Wish { return nil }

// VolumeM3 is the volume of the walls.
func (s *Hollow) VolumeM3() float64 { return s.Outer.volumeM3() - s.Cavity.volumeM3() }

func (s *Hollow) Against(b Box) Relation {
	outer, cavity := s.Outer.against(b), s.Cavity.against(b)
	return minus(outer, cavity)
}

// minus is the relation of a solid with something taken out.
func minus(whole, taken Relation) Relation {
	switch {
	case whole == Apart || taken == Fills:
		return Apart
	case whole == Fills && taken == Apart:
		return Fills
	}
	return Crosses
}

func (s *Hollow) support(dir Vec) float64 { return boxSupport(s.Outer, dir) }
func (s *Hollow) facets(f frame, stepM Vec, visit func(Facet)) {
	f.boxFaces(s.Outer, 1, stepM, visit, 0, 0)
	f.boxFaces(s.Cavity, -1, stepM, visit, 0, 0)
}
