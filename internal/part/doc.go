// Package part knows exact parametric solids: boxes, hollow boxes, round bars, tubes, cans, fin blocks, turned solids and
// solids with cut-outs. The same values serve the heat model, the mass, drawings and CAD files, so every concrete type keeps
// the figures it was made from.
//
// Lengths are in metres, angles in radians, axes are 0, 1, 2 for x, y, z. A solid never changes after it was made.
//
// Start reading at Solid; the shapes are one per file.
package part

import (
	"fmt"
	"math"
)

// Vec is a point or direction: x, y, z in metres (or without unit for a direction).
type Vec [3]float64

// Box is a rectangular space whose faces are normal to the axes.
type Box struct{ Min, Max Vec }

// Size is the extent along x, y, z, m.
func (b Box) Size() Vec { return sub(b.Max, b.Min) }

// Centre is the middle of the box.
func (b Box) Centre() Vec { return scale(add(b.Min, b.Max), 0.5) }

// Contains says whether p is inside or on the boundary.
func (b Box) Contains(p Vec) bool {
	return b.Min[0] <= p[0] && p[0] <= b.Max[0] &&
		b.Min[1] <= p[1] && p[1] <= b.Max[1] &&
		b.Min[2] <= p[2] && p[2] <= b.Max[2]
}

// holds says whether p is strictly inside.
func (b Box) holds(p Vec) bool {
	return b.Min[0] < p[0] && p[0] < b.Max[0] &&
		b.Min[1] < p[1] && p[1] < b.Max[1] &&
		b.Min[2] < p[2] && p[2] < b.Max[2]
}

// volumeM3 is the volume, 0 for an empty (inverted) box.
func (b Box) volumeM3() float64 {
	s := b.Size()
	return math.Max(s[0], 0) * math.Max(s[1], 0) * math.Max(s[2], 0)
}

// against is how box o lies to this box.
func (b Box) against(o Box) Relation {
	rel := Fills
	for a := range b.Min {
		if o.Max[a] <= b.Min[a] || o.Min[a] >= b.Max[a] {
			return Apart
		}
		if o.Min[a] < b.Min[a] || o.Max[a] > b.Max[a] {
			rel = Crosses
		}
	}
	return rel
}

// Relation is how a solid lies to a box.
type Relation uint8

const (
	Apart   Relation = iota // the solid has nothing inside the box
	Crosses                 // the solid's surface may pass through the box
	Fills                   // the solid fills the whole box
)

// Solid is one body in space. The types of this package are the only ones.
type Solid interface {
	// Bounds is the smallest box around the solid. (For a solid with cut-outs: around the solid before cutting.)
	Bounds() Box
	// Contains says whether p is inside or on the surface. Cavities are not part of a solid.
	Contains(p Vec) bool
	// Planes are the coordinates, m, of the flat faces normal to that axis, and the extremes of the solid, sorted, each once.
	Planes(axis int) []float64
	// Aligned says that every face is flat and normal to an axis, so that Planes describe the solid exactly.
	Aligned() bool
	// Oblique says that the cross-section normal to that axis changes between two of Planes(axis).
	Oblique(axis int) bool
	// VolumeM3 is the volume; closed form but for the cases named at CutSolid.
	VolumeM3() float64
	// Against tells how the solid lies to a box. It may say Crosses of a box that is in truth Apart or filled, never the reverse.
	Against(b Box) Relation
	// Wishes are the longest cells along that axis that still show the solid's oblique shapes; none for an aligned solid.
	Wishes(axis int) []Wish

	// support is the largest p·dir over all points of the solid.
	support(dir Vec) float64
	// facets visits small elements of the surface, in a frame; see Facets.
	facets(f frame, stepM Vec, visit func(Facet))
	// face finds a named face.
	face(n faceName) (FaceInfo, error)
}

// Wish is how long cells may be between two coordinates along an axis to show an oblique shape.
type Wish struct {
	LoM, HiM float64
	CellM    float64 // shows it well
	MostM    float64 // shows it at all, and keeps thin walls tight: with longer cells samples would miss them
}

// Facet is a small element of a solid's surface.
type Facet struct {
	At     Vec // its middle
	Normal Vec // unit vector out of the solid
	AreaM2 float64
}

// Facets visits the part of the surface that is not both flat and normal to an axis, in small elements: no longer along an
// axis than about stepM of that axis. The areas sum up to the closed-form area of that surface (of each solid by itself: where
// a cutter ends outside the solid its surface is visited too; the caller tests on which side of an element there is matter).
// The order is always the same.
func Facets(s Solid, stepM Vec, visit func(Facet)) {
	s.facets(upright, stepM, visit)
}

// mm writes a length for messages.
func mm(m float64) string { return fmt.Sprintf("%.4g mm", m*1e3) }

// axisNames are the words for axes in messages.
var axisNames = [3]string{"x", "y", "z"}

func checkAxis(axis int) error {
	if axis < 0 || axis > 2 {
		return fmt.Errorf("its axis is not x, y or z")
	}
	return nil
}

// checkLength finds lengths that no thing can have.
func checkLength(what string, m float64) error {
	if math.IsNaN(m) || math.IsInf(m, 0) {
		return fmt.Errorf("its %s is not a number", what)
	}
	if m <= 0 {
		return fmt.Errorf("its %s is %s; it must be above zero", what, mm(m))
	}
	if m > 100 {
		return fmt.Errorf("its %s is %.4g m; check the unit", what, m)
	}
	return nil
}

func checkPlace(p Vec) error {
	for a, v := range p {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("its place along %s is not a number", axisNames[a])
		}
	}
	return nil
}

func add(a, b Vec) Vec               { return Vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func sub(a, b Vec) Vec               { return Vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func scale(a Vec, f float64) Vec     { return Vec{a[0] * f, a[1] * f, a[2] * f} }
func dot(a, b Vec) float64           { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func unitVec(axis, sign int) (v Vec) { v[axis] = float64(sign); return v }
