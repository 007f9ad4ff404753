package part

import (
	"fmt"
	"math"
	"sort"
)

// TurnedSolid is a solid rotated about the middle of its bounds.
type TurnedSolid struct {
	Base     Solid
	AngleRad float64
	Axis     int
	place    frame
	bounds   Box
	square   bool // a quarter turn: flat faces stay normal to axes
}

// Turned rotates a solid about its own middle (that of its bounds), counter-clockwise seen from the axis' positive end.
func Turned(s Solid, angleRad float64, axis int) (Solid, error) {
	if err := checkAxis(axis); err != nil {
		return nil, err
	}
	if math.IsNaN(angleRad) || math.IsInf(angleRad, 0) {
		return nil, fmt.Errorf("the angle it is turned by is not a number")
	}
	angleRad = math.Remainder(angleRad, 2*math.Pi)
	if math.Abs(angleRad) < 1e-9 {
		return s, nil
	}
	t := &TurnedSolid{Base: s, AngleRad: angleRad, Axis: axis, place: turnFrame(angleRad, axis, s.Bounds().Centre())}
	_, _, t.square = axisOf(t.place.rot[(axis+1)%3])
	for a := range t.bounds.Min {
		t.bounds.Max[a] = t.support(unitVec(a, 1))
		t.bounds.Min[a] = -t.support(unitVec(a, -1))
	}
	return t, nil
}

func (s *TurnedSolid) Bounds() Box         { return s.bounds }
func (s *TurnedSolid) Contains(p Vec) bool { return s.Base.Contains(s.place.unpoint(p)) }
func (s *TurnedSolid) Aligned() bool       { return s.square && s.Base.Aligned() }
func (s *TurnedSolid) VolumeM3() float64   { return s.Base.VolumeM3() }

// from is the base's axis (and its direction) that has become the given one; ok is false when none has.
func (s *TurnedSolid) from(axis int) (own, sign int, ok bool) { return axisOf(s.place.rot[axis]) }

func (s *TurnedSolid) Oblique(axis int) bool {
	own, _, ok := s.from(axis)
	return !ok || s.Base.Oblique(own)
}

func (s *TurnedSolid) Planes(axis int) []float64 {
	p := []float64{s.bounds.Min[axis], s.bounds.Max[axis]}
	if own, sign, ok := s.from(axis); ok {
		p = p[:0]
		for _, v := range s.Base.Planes(own) {
			p = append(p, float64(sign)*v+s.place.shift[axis])
		}
		sort.Float64s(p)
	}
	return p
}

// Wishes are the base's for an axis that stays one; else ten cells across, finer (up to 40) when the base is thin.
func (s *TurnedSolid) Wishes(axis int) []Wish {
	if own, sign, ok := s.from(axis); ok {
		var out []Wish
		for _, w := range s.Base.Wishes(own) {
			lo, hi := float64(sign)*w.LoM+s.place.shift[axis], float64(sign)*w.HiM+s.place.shift[axis]
			w.LoM, w.HiM = math.Min(lo, hi), math.Max(lo, hi)
			out = append(out, w)
		}
		return out
	}
	size, least := s.bounds.Size(), math.Inf(1)
	for i := 1; i <= 2; i++ {
		own := (s.Axis + i) % 3
		p := s.Base.Planes(own)
		for k := 1; k < len(p); k++ {
			least = math.Min(least, p[k]-p[k-1])
		}
		for _, w := range s.Base.Wishes(own) {
			least = math.Min(least, 2*w.CellM)
		}
	}
	return []Wish{{LoM: s.bounds.Min[axis], HiM: s.bounds.Max[axis], CellM: math.Max(math.Min(size[axis]/10, least/2), size[axis]/40),
		MostM: math.Min(size[axis]/4, 2*least)}}
}

func (s *TurnedSolid) Against(b Box) Relation {
	c, h := b.Centre(), scale(b.Size(), 0.5)
	own := s.place.unpoint(c)
	var half Vec
	for a := range half {
		for i := range h {
			half[a] += math.Abs(s.place.rot[i][a]) * h[i]
		}
	}
	return s.Base.Against(Box{Min: sub(own, half), Max: add(own, half)})
}

func (s *TurnedSolid) support(dir Vec) float64 {
	return s.Base.support(s.place.undir(dir)) + dot(s.place.shift, dir)
}

func (s *TurnedSolid) facets(f frame, stepM Vec, visit func(Facet)) {
	s.Base.facets(s.place.within(f), stepM, visit)
}
