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

// Surface is one named outer surface: elements of one body that look the same way and meet the air the same way.
type Surface struct {
	Body     int
	Side     int    // index into Sides
	Channel  bool   // another wall of the device stands opposite
	Name     string // "plate front", "fins front, in channels"
	Elements []int  // indices into grid.Grid.Exposed

	AreaM2     float64
	Normal     part.Vec   // area-weighted mean outward normal, unit length
	SpanM      [3]float64 // extents of the surface along x, y, z
	GapM       float64    // mean distance to the facing wall; 0 when there is none
	GapDepthM  float64    // how deep the channel is from its mouth; 0 when there is none
	ViewOut    float64    // share of the hemisphere that leaves the device, area-weighted, 0..1
	FacingBody int        // body met across the gap, -1 when none
}

// FarFacingM is the distance beyond which a facing wall is left out of account: at hand-held sizes the boundary layers of
// two walls (some 10 mm thick each, B.2 of the plate-channel literature: optimum spacing 6-8 mm) no longer meet.
const FarFacingM = 0.030

// Read groups the exposed elements of g. names gives the bodies' names. The order is by body, then side, then open before
// channel, so that the same device always gives the same list.
func Read(g *grid.Grid, names []string) []Surface {
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
			s = &Surface{Body: int(e.Body), Side: side, Channel: ok, FacingBody: -1}
			groups[k] = s
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
		if s.Channel {
			s.GapM = gapSum[k] / s.AreaM2
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
		return !x.Channel && y.Channel
	})
	rays := newRays(g)
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
		s.Name = names[s.Body] + " " + Sides[s.Side]
		if s.Channel {
			s.Name += ", facing a wall"
			s.GapDepthM = channelDepth(s)
		}
		s.ViewOut = rays.viewOut(s)
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

// channelDepth is how far the air in the channel is from its open mouth: the shorter of the two in-plane spans, which for
// straight fins is the fin height.
func channelDepth(s *Surface) float64 {
	d := math.Inf(1)
	for a, v := range s.SpanM {
		if a != s.Side/2 {
			d = math.Min(d, v)
		}
	}
	return d
}
