package model

import (
	"math"
	"sync"

	"finwright/internal/part"
	"finwright/internal/radiate"
	"finwright/internal/ray"
	"finwright/internal/skin"
)

// sights are what rays found out about a shape. They depend on sizes only: learning builds many models on one shape and at the
// same time, and each ray is marched once.
type sights struct {
	sync.Mutex
	traced   *ray.Seen
	postures map[part.Vec]*posture
	lit      map[part.Vec][]float64 // by where the sun stands: shares of the surfaces that are lit
}

// posture is what the surfaces see and which come before which, for one way up.
type posture struct {
	views  *radiate.Views // far fields: sky, ground
	before [][]float64    // per surface: see patchLaw.before
	stray  float64        // share of the rays that ended where no surface is for certain
}

// postureFor is the posture with this way up.
func (s *Shape) postureFor(up part.Vec) *posture {
	s.seen.Lock()
	defer s.seen.Unlock()
	if s.seen.traced == nil {
		s.seen.traced = ray.Trace(s.Grid, s.elements(), s.rays)
		s.seen.postures, s.seen.lit = map[part.Vec]*posture{}, map[part.Vec][]float64{}
	}
	p := s.seen.postures[up]
	if p == nil {
		p = &posture{views: s.seen.traced.Split(up), before: make([][]float64, len(s.Surfaces))}
		for i := range p.before {
			p.before[i] = passedBefore(s, i, up)
		}
		if t := s.seen.traced; t.Strays > 0 {
			p.stray = float64(t.Strays) / float64(t.Rays*len(s.Surfaces))
		}
		s.seen.postures[up] = p
	}
	return p
}

// elements are those of each surface.
func (s *Shape) elements() [][]int {
	out := make([][]int, len(s.Surfaces))
	for i := range out {
		out[i] = s.Surfaces[i].Elements
	}
	return out
}

// passedBefore is, per surface, its share in the mean of what air that rises along surface i has passed before: the area of the
// others that lies lower than all of i. nil when there is none.
func passedBefore(s *Shape, i int, up part.Vec) []float64 {
	lowestM := math.Inf(1)
	for _, ei := range s.Surfaces[i].Elements {
		lowestM = math.Min(lowestM, dot(s.Grid.Exposed[ei].Centre, up))
	}
	out := make([]float64, len(s.Surfaces))
	total := 0.0
	for k := range s.Surfaces {
		if k == i {
			continue
		}
		for _, ei := range s.Surfaces[k].Elements {
			if e := &s.Grid.Exposed[ei]; dot(e.Centre, up) < lowestM {
				out[k] += e.AreaM2
			}
		}
		total += out[k]
	}
	if total == 0 {
		return nil
	}
	for k := range out {
		out[k] /= total
	}
	return out
}

// bodies are the shape's bodies as skin reads them.
func (s *Shape) bodies() []skin.Body {
	out := make([]skin.Body, len(s.names))
	for i, name := range s.names {
		out[i].Name = name
		if i < len(s.solids) {
			out[i].Round = roundOf(&s.solids[i])
		}
	}
	return out
}

// roundOf is the axis of a cylinder or tube, nil of any other part. Turned about its middle, only the axis' direction changes.
func roundOf(p *placed) *skin.Round {
	c, ok := p.body.(*part.Cylinder)
	if can, is := p.body.(*part.Can); is {
		c, ok = can.Outer, true
	}
	if !ok {
		return nil
	}
	r := &skin.Round{Centre: c.Centre, DiameterM: c.DiameterM, LengthM: c.LengthM}
	r.Axis[c.Axis] = 1
	i, j := (p.turnAxis+1)%3, (p.turnAxis+2)%3
	sin, cos := math.Sincos(p.turnRad)
	r.Axis[i], r.Axis[j] = cos*r.Axis[i]-sin*r.Axis[j], sin*r.Axis[i]+cos*r.Axis[j]
	return r
}
