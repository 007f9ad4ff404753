package part

import (
	"fmt"
	"math"
	"sort"
)

// FinBlockParams are the figures of a fin block.
type FinBlockParams struct {
	Min            Vec        // smallest corner of the box around base and fins
	BaseM          [2]float64 // the base's two in-plane sizes, in the order x, y, z
	BaseThicknessM float64
	Count          int
	HeightM        float64 // of the fins above the base
	FinThicknessM  float64
	Along          int // axis the fins run along, over the whole base
	OutAxis        int // axis the fins point along
	OutSign        int // +1 or −1
}

// FinBlock is a base plate with straight, equally spaced fins. The outer fins are flush with the base's edges; a single fin
// stands in the middle.
type FinBlock struct {
	FinBlockParams
	Base   Box
	Across int     // axis the fins follow each other along
	PitchM float64 // middle of a fin to the middle of the next; 0 for a single fin
	GapM   float64 // free width between two fins; 0 for a single fin
	space  Box
}

// NewFinBlock makes a fin block.
func NewFinBlock(p FinBlockParams) (Solid, error) {
	if err := checkPlace(p.Min); err != nil {
		return nil, err
	}
	if checkAxis(p.Along) != nil || checkAxis(p.OutAxis) != nil || p.OutSign != 1 && p.OutSign != -1 {
		return nil, fmt.Errorf("its fins need an axis they run along and a direction they point, such as +z")
	}
	if p.Along == p.OutAxis {
		return nil, fmt.Errorf("its fins run along %s and also point along %s: they must run along one of the base's sides", axisNames[p.Along], axisNames[p.OutAxis])
	}
	for _, c := range []struct {
		what string
		m    float64
	}{{"first base size", p.BaseM[0]}, {"second base size", p.BaseM[1]}, {"base thickness", p.BaseThicknessM}, {"fin height", p.HeightM}, {"fin thickness", p.FinThicknessM}} {
		if err := checkLength(c.what, c.m); err != nil {
			return nil, err
		}
	}
	if p.Count < 1 {
		return nil, fmt.Errorf("it has %d fins; it needs one at least", p.Count)
	}
	if p.Count > 1000 {
		return nil, fmt.Errorf("it has %d fins; more than 1000 is not a thing to cut", p.Count)
	}
	s := &FinBlock{FinBlockParams: p, Across: 3 - p.Along - p.OutAxis}
	var size Vec
	next := 0
	for a := range size {
		if a == p.OutAxis {
			size[a] = p.BaseThicknessM + p.HeightM
			continue
		}
		size[a] = p.BaseM[next]
		next++
	}
	width := size[s.Across]
	if p.Count == 1 && p.FinThicknessM > width || p.Count > 1 && float64(p.Count)*p.FinThicknessM >= width {
		return nil, fmt.Errorf("%d fins of %s need more than the base's %s along %s: take fewer than %d fins, or thinner ones", p.Count, mm(p.FinThicknessM), mm(width),
			axisNames[s.Across], int(math.Ceil(width/p.FinThicknessM)))
	}
	s.space = Box{Min: p.Min, Max: add(p.Min, size)}
	s.Base = s.space
	if p.OutSign > 0 {
		s.Base.Max[p.OutAxis] = p.Min[p.OutAxis] + p.BaseThicknessM
	} else {
		s.Base.Min[p.OutAxis] = s.space.Max[p.OutAxis] - p.BaseThicknessM
	}
	if p.Count > 1 {
		s.PitchM = (width - p.FinThicknessM) / float64(p.Count-1)
		s.GapM = s.PitchM - p.FinThicknessM
	}
	return s, nil
}

// Fin is the space of fin i (from 0, along Across), without the base.
func (s *FinBlock) Fin(i int) Box {
	b := s.space
	if s.OutSign > 0 {
		b.Min[s.OutAxis] = s.Base.Max[s.OutAxis]
	} else {
		b.Max[s.OutAxis] = s.Base.Min[s.OutAxis]
	}
	a := s.Across
	switch {
	case s.Count == 1:
		mid := (b.Min[a] + b.Max[a]) / 2
		b.Min[a], b.Max[a] = mid-s.FinThicknessM/2, mid+s.FinThicknessM/2
	case i == s.Count-1: // exactly flush
		b.Min[a] = b.Max[a] - s.FinThicknessM
	default:
		b.Min[a] += float64(i) * s.PitchM
		b.Max[a] = b.Min[a] + s.FinThicknessM
	}
	return b
}

// near is the fins that may reach into lo..hi along Across.
func (s *FinBlock) near(lo, hi float64) (first, last int) {
	if s.Count == 1 {
		return 0, 0
	}
	x := s.space.Min[s.Across]
	first = int(math.Floor((lo-x-s.FinThicknessM)/s.PitchM)) - 1
	last = int(math.Ceil((hi-x)/s.PitchM)) + 1
	return max(first, 0), min(last, s.Count-1)
}

func (s *FinBlock) Bounds() Box { return s.space }

func (s *FinBlock) Contains(p Vec) bool {
	if !s.space.Contains(p) {
		return false
	}
	if s.Base.Contains(p) {
		return true
	}
	for i, last := s.near(p[s.Across], p[s.Across]); i <= last; i++ {
		if s.Fin(i).Contains(p) {
			return true
		}
	}
	return false
}

func (s *FinBlock) Planes(axis int) []float64 {
	switch axis {
	case s.OutAxis:
		p := []float64{s.Base.Min[axis], s.Base.Max[axis], s.space.Min[axis], s.space.Max[axis]}
		sort.Float64s(p)
		return unique(p)
	case s.Across:
		p := []float64{s.space.Min[axis], s.space.Max[axis]}
		for i := 0; i < s.Count; i++ {
			f := s.Fin(i)
			p = append(p, f.Min[axis], f.Max[axis])
		}
		sort.Float64s(p)
		return unique(p)
	}
	return []float64{s.space.Min[axis], s.space.Max[axis]}
}

// unique drops equal neighbours of a sorted list, in place.
func unique(p []float64) []float64 {
	out := p[:1]
	for _, v := range p[1:] {
		if v != out[len(out)-1] {
			out = append(out, v)
		}
	}
	return out
}

func (s *FinBlock) Aligned() bool     { return true }
func (s *FinBlock) Oblique(int) bool  { return false }
func (s *FinBlock) Wishes(int) []Wish { return nil }

// VolumeM3 is base and fins together.
func (s *FinBlock) VolumeM3() float64 {
	size := s.space.Size()
	return s.Base.volumeM3() + float64(s.Count)*s.FinThicknessM*s.HeightM*size[s.Along]
}

func (s *FinBlock) Against(b Box) Relation {
	if s.space.against(b) == Apart {
		return Apart
	}
	rel := s.Base.against(b)
	if rel == Fills {
		return Fills
	}
	for i, last := s.near(b.Min[s.Across], b.Max[s.Across]); i <= last; i++ {
		switch s.Fin(i).against(b) {
		case Fills:
			return Fills
		case Crosses:
			rel = Crosses
		}
	}
	return rel
}

func (s *FinBlock) support(dir Vec) float64 {
	// the outer fins reach all corners of the space, but for a single fin
	return math.Max(boxSupport(s.Base, dir), math.Max(boxSupport(s.Fin(0), dir), boxSupport(s.Fin(s.Count-1), dir)))
}

func (s *FinBlock) facets(f frame, stepM Vec, visit func(Facet)) {
	// boxes without the face where base and fins meet, and the channel floors
	f.boxFaces(s.Base, 1, stepM, visit, s.OutAxis, s.OutSign)
	a := s.Across
	floor := s.Base
	for i := 0; i < s.Count; i++ {
		fin := s.Fin(i)
		f.boxFaces(fin, 1, stepM, visit, s.OutAxis, -s.OutSign)
		floor.Max[a] = fin.Min[a]
		f.boxFace(floor, s.OutAxis, s.OutSign, 1, stepM, visit)
		floor.Min[a] = fin.Max[a]
	}
	floor.Max[a] = s.Base.Max[a]
	f.boxFace(floor, s.OutAxis, s.OutSign, 1, stepM, visit)
}
