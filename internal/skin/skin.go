// Package skin reads the outer surfaces of a device from its cells: which faces are exposed, how they lie to gravity, how
// tall and wide the run is, how far the facing wall stands, and what share of the hemisphere sees the surroundings. It
// groups them into named surfaces a person recognises ("plate front", "fins channels") and knows no temperature.
//
// Start reading at Read.
package skin

import (
	"math"
	"sort"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// Sides are the six directions a face may look to, in the words of the device file: index 2*axis is the negative side,
// 2*axis+1 the positive one.
var Sides = [6]string{"left", "right", "bottom", "top", "back", "front"}

// SideVec is the outward unit vector of Sides[side].
func SideVec(side int) part.Vec {
	var v part.Vec
	v[side/2] = float64(2*(side%2) - 1)
	return v
}

// Body is what reading asks about a body besides its cells.
type Body struct {
	Name  string
	Round *Round // of a cylinder or tube; nil for all else
}

// Round is a round bar or tube, or its curved side.
type Round struct {
	Axis      part.Vec // unit vector
	Centre    part.Vec // middle of the axis, m
	DiameterM float64  // outer diameter
	LengthM   float64
}

// Surface is one named outer surface: elements of one body that look the same way and meet the air the same way.
type Surface struct {
	Body     int
	Name     string // "plate front", "fins, channels"
	Elements []int  // indices into grid.Grid.Exposed, ascending
	AreaM2   float64

	Side   int        // index into Sides that most of it looks to; of channels: that their mouth opens to
	Normal part.Vec   // mean outward normal, unit vector; of channels: the mouth's direction
	SpanM  [3]float64 // extents along x, y, z
	U, V   part.Vec   // in-plane axes, unit vectors at right angles to each other and to Normal; of channels: along and into the depth
	UM, VM float64    // extents along U and V of the run that air passes without a step

	Round      *Round   // of the curved side of a round body, else nil
	Channel    *Channel // of what faces another wall close by, else nil
	FacingBody int      // body met across the gap, the own one between fins; -1 none
	Reach      bool     // a finger can touch it
}

// Channel is the space in front of a surface between two walls.
type Channel struct {
	GapM    float64 // wall to wall
	DepthM  float64 // from the mouth to the base; 0 when there is no base
	LengthM float64 // along the run

	Along, Mouth   part.Vec // unit vectors; Mouth is zero when there is no open long side
	OpenLo, OpenHi bool     // the ends at -Along and +Along give on open air
	OpenMouth      bool     // the long side or sides away from the base give on open air
	Count          int      // parallel channels
	OneSided       bool     // the facing wall is another body's
}

// FarFacingM is the distance beyond which a facing wall is left out of account: at hand-held sizes the boundary layers of
// two walls (some 10 mm thick each, B.2 of the plate-channel literature: optimum spacing 6-8 mm) no longer meet.
const FarFacingM = 0.030

// Read groups the exposed elements of g into surfaces; bodies are those of the grid.
func Read(g *grid.Grid, bodies []Body) []Surface {
	type key struct {
		body, side int
		channel    bool
	}
	groups := map[key]*Surface{}
	gapSum := map[key]float64{}
	for i := range g.Exposed {
		e := &g.Exposed[i]
		side := e.Side()
		gap, facing, ok := g.FacingGap(e)
		ok = ok && gap < FarFacingM
		k := key{int(e.Body), side, ok}
		s := groups[k]
		if s == nil {
			s = &Surface{Body: int(e.Body), Side: side, FacingBody: -1, Reach: true}
			groups[k] = s
			if ok {
				s.Channel = &Channel{OpenLo: true, OpenHi: true, OpenMouth: true, Count: 1}
				s.Reach = false
			}
		}
		s.Elements = append(s.Elements, i)
		s.AreaM2 += e.AreaM2
		for a := range s.Normal {
			s.Normal[a] += e.Normal[a] * e.AreaM2
		}
		if ok {
			gapSum[k] += gap * e.AreaM2
			s.FacingBody = facing
		}
	}
	out := make([]Surface, 0, len(groups))
	for k, s := range groups {
		if s.Channel != nil {
			s.Channel.GapM = gapSum[k] / s.AreaM2
			s.Channel.OneSided = s.FacingBody != s.Body
		}
		out = append(out, *s)
	}
	sort.Slice(out, func(a, b int) bool {
		x, y := &out[a], &out[b]
		if x.Body != y.Body {
			return x.Body < y.Body
		}
		if x.Side != y.Side {
			return x.Side < y.Side
		}
		return x.Channel == nil && y.Channel != nil
	})
	for i := range out {
		s := &out[i]
		n := math.Sqrt(s.Normal[0]*s.Normal[0] + s.Normal[1]*s.Normal[1] + s.Normal[2]*s.Normal[2])
		if n > 0 {
			for a := range s.Normal {
				s.Normal[a] /= n
			}
		} else {
			s.Normal = SideVec(s.Side)
		}
		s.SpanM = span(g, s)
		s.Name = bodies[s.Body].Name + " " + Sides[s.Side]
		s.U, s.V = SideVec(2*((s.Side/2+1)%3)+1), SideVec(2*((s.Side/2+2)%3)+1)
		s.UM, s.VM = s.SpanM[(s.Side/2+1)%3], s.SpanM[(s.Side/2+2)%3]
		if c := s.Channel; c != nil {
			s.Name += ", facing a wall"
			c.DepthM = math.Min(s.UM, s.VM)
			c.LengthM = math.Max(s.UM, s.VM)
			c.Along, c.Mouth = s.U, s.V
			if s.VM > s.UM {
				c.Along, c.Mouth = s.V, s.U
			}
		}
	}
	return out
}

// span is the extent of the cells that carry the surface, along each axis.
func span(g *grid.Grid, s *Surface) [3]float64 {
	lo := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	hi := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, ei := range s.Elements {
		c := int(g.Exposed[ei].Cell)
		i, j, k := c%g.NX, c/g.NX%g.NY, c/(g.NX*g.NY)
		for a, b := range [3][2]float64{{g.X[i], g.X[i+1]}, {g.Y[j], g.Y[j+1]}, {g.Z[k], g.Z[k+1]}} {
			lo[a], hi[a] = math.Min(lo[a], b[0]), math.Max(hi[a], b[1])
		}
	}
	var out [3]float64
	for a := range out {
		out[a] = hi[a] - lo[a]
	}
	// Along its own normal a channel wall spans many parallel fins: that is not a length of the wall.
	out[s.Side/2] = 0
	return out
}

