// Package skin reads the outer surfaces of a device from its cells: geometry alone, no posture, no temperature, so that one
// reading serves every way the device may stand. It groups the exposed elements into surfaces that a person recognises
// ("plate front", "fins, channels", "tube, round side") and measures what the air meets there.
//
// # What becomes one surface
//
//   - A face: elements of one body that look the same way, to 10 degrees. A face of a turned box keeps its true normal. Parallel
//     faces at different depths stay together.
//   - The curved side of a round bar or tube, and the bore of a tube; any other curved surface of a body ("plate, curved face").
//   - Channels: where a body's own walls stand opposite each other, the flanks, and the floor and closed ends between them, are
//     one surface. Tips, ends and outer flanks of fins are faces.
//   - Gaps: the part of a face that another body stands opposite, one surface for each body met ("plate bottom, facing foot").
//     A body that lies on the tips of fins closes their channels: its part of them is a gap with the measures of the channels.
//   - Walls of a recess too wide to be a channel ("box inside left" is the wall on the left, as in the file), and its floor.
//
// A wall stands opposite when it is nearer than FarFacingM and nearer than the smaller in-plane extent of the part of the wall
// that is faced: two walls far apart against their size exchange air as open faces do. What would be less than 1/50 of its
// body's exposed area as a gap, a channel or an inside wall stays with the face that looks the same way; so does the sliver
// of an oblique edge where the cells mix two faces. Every exposed element belongs to exactly one surface.
//
// Start reading at Read.
package skin

import (
	"math"

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

// sideOf is the side a normal looks to most.
func sideOf(n part.Vec) int {
	best := 0
	for a := range n {
		if math.Abs(n[a]) > math.Abs(n[best])*(1+1e-9) {
			best = a
		}
	}
	if n[best] > 0 {
		return 2*best + 1
	}
	return 2 * best
}

// FarFacingM is the distance beyond which a facing wall is left out of account: at hand-held sizes the boundary layers of
// two walls (some 10 mm thick each; upright channels of that size work best 6 to 8 mm wide) no longer meet. Common practice,
// no source.
const FarFacingM = 0.030

// FingerM is the width of a fingertip's probe: what lies in a gap narrower than this nobody touches. Common practice, no source.
const FingerM = 0.008

// Body is what reading asks about a body besides its cells.
type Body struct {
	Name  string
	Round *Round // of a cylinder, tube or can; nil for all else
}

// Round is a round bar or tube, or its curved side.
type Round struct {
	Axis      part.Vec // unit vector
	Centre    part.Vec // middle of the axis, m
	DiameterM float64  // outer diameter
	LengthM   float64
}

// Surface is one named outer surface.
type Surface struct {
	Body     int
	Name     string
	Elements []int // indices into grid.Grid.Exposed, ascending
	AreaM2   float64

	Side   int        // index into Sides that Normal looks to most
	Normal part.Vec   // mean outward normal, unit vector; of channels between a body's own walls: the mouth's direction, or that of one wall when there is none; of a round side or bore: V
	SpanM  [3]float64 // extents along x, y, z; of a face: 0 along the axis it looks to
	U, V   part.Vec   // unit vectors at right angles. Of a face: in its plane; of channels and gaps: along the run, and across it between mouth and base; of a round side or bore: the axis, and across it
	UM, VM float64    // extents along U and V of the connected run (mean over the parts of the surface, by area; of another curved face the whole extent); of a round side or bore: length and diameter

	Round      *Round   // of the curved side of a round body, else nil
	Channel    *Channel // of channels, gaps and bores, else nil
	FacingBody int      // body met across the gap, the own one in channels and bores; -1 none
	Reach      bool     // a finger FingerM thick gets from outside to at least 1/20 of the surface: it is in no narrower channel, gap or recess
}

// Channel is the space in front of a surface between two walls. An end or mouth gives on open air when nothing stands in the
// way within two gap widths of it for most of the surface (two: common practice, no source).
type Channel struct {
	GapM    float64 // wall to wall, mean by area; the bore's diameter
	DepthM  float64 // from the mouth to the base; 0 when no long side is closed by a base, and for bores
	LengthM float64 // along the run

	Along, Mouth   part.Vec // unit vectors. Mouth leads away from the base; without a base to an open long side (the one at the positive end, when both are open); zero when there is none
	OpenLo, OpenHi bool     // the ends at -Along and +Along give on open air
	OpenMouth      bool     // the long side, or one of the long sides, away from the base gives on open air
	Count          int      // parallel channels in this surface
	OneSided       bool     // the facing wall is another body's
}
