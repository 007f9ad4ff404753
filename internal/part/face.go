package part

import (
	"fmt"
	"math"
	"strings"
)

// FaceInfo is a named face of a solid: where another part would be put.
type FaceInfo struct {
	Center Vec
	Axis   int        // the face is normal to this axis
	Sign   int        // and a part put on it goes to this side: +1 or −1
	Size   [2]float64 // extents along the two other axes, in the order x, y, z, m
	Inside bool       // a wall of a cavity
}

// faceName is a face's name taken apart.
type faceName struct {
	axis, sign int // the side of the solid it is on
	inside     bool
}

// sides are the words for the six sides: index 2·axis for the negative side, 2·axis+1 for the positive one.
var sides = [6]string{"left", "right", "bottom", "top", "back", "front"}

// Face finds a face by name: left (−x), right (+x), bottom (−y), top (+y), back (−z), front (+z), and "inside left" and so on
// for the walls of a cavity. On a round solid the lateral names mean the plane that touches it there, and so they do on a
// solid that is turned. On a fin block the side the fins point to is the plane of their tips, and the others are faces of
// the base.
func Face(s Solid, name string) (FaceInfo, error) {
	n := faceName{axis: -1}
	word := strings.Join(strings.Fields(strings.ToLower(name)), " ")
	if rest, ok := strings.CutPrefix(word, "inside "); ok {
		n.inside, word = true, rest
	}
	for i, side := range sides {
		if word == side {
			n.axis, n.sign = i/2, 2*(i%2)-1
		}
	}
	if n.axis < 0 {
		return FaceInfo{}, fmt.Errorf("there is no face %q: the faces are %s; inside a hollow part \"inside left\" and so on", name, strings.Join(sides[:], ", "))
	}
	return s.face(n)
}

// boxFace is a face of a box.
func boxFace(b Box, n faceName) FaceInfo {
	f := FaceInfo{Center: b.Centre(), Axis: n.axis, Sign: n.sign, Inside: n.inside}
	if n.sign > 0 {
		f.Center[n.axis] = b.Max[n.axis]
	} else {
		f.Center[n.axis] = b.Min[n.axis]
	}
	if n.inside { // seen from the cavity a part goes the other way
		f.Sign = -n.sign
	}
	size := b.Size()
	next := 0
	for a := range size {
		if a != n.axis {
			f.Size[next] = size[a]
			next++
		}
	}
	return f
}

// outerFace is boxFace for a solid without a cavity.
func outerFace(b Box, n faceName) (FaceInfo, error) {
	if n.inside {
		return FaceInfo{}, fmt.Errorf("it has no inside: only a box or a cylinder with a wall has")
	}
	return boxFace(b, n), nil
}

func (s *Block) face(n faceName) (FaceInfo, error) { return outerFace(s.Space, n) }

func (s *Hollow) face(n faceName) (FaceInfo, error) {
	if n.inside {
		return boxFace(s.Cavity, n), nil
	}
	return boxFace(s.Outer, n), nil
}

func (s *Cylinder) face(n faceName) (FaceInfo, error) { return outerFace(s.Bounds(), n) }

func (s *Can) face(n faceName) (FaceInfo, error) {
	if n.inside {
		return boxFace(s.Cavity.Bounds(), n), nil
	}
	return boxFace(s.Outer.Bounds(), n), nil
}

func (s *FinBlock) face(n faceName) (FaceInfo, error) {
	if n.axis == s.OutAxis && n.sign == s.OutSign {
		return outerFace(s.space, n)
	}
	return outerFace(s.Base, n)
}

func (s *TurnedSolid) face(n faceName) (FaceInfo, error) {
	own, sign, ok := s.from(n.axis)
	if !ok {
		return outerFace(s.bounds, n)
	}
	// a face whose normal is still an axis is the base's own face carried along; Size is that of the box around its outline
	f, err := s.Base.face(faceName{axis: own, sign: sign * n.sign, inside: n.inside})
	if err != nil {
		return f, err
	}
	var size Vec
	next := 0
	for a := range size {
		if a != f.Axis {
			size[a] = f.Size[next]
			next++
		}
	}
	f.Center = s.place.point(f.Center)
	f.Axis, f.Sign = n.axis, f.Sign*sign
	next = 0
	for a := range size {
		if a != f.Axis {
			r := s.place.rot[a]
			f.Size[next] = math.Abs(r[0])*size[0] + math.Abs(r[1])*size[1] + math.Abs(r[2])*size[2]
			next++
		}
	}
	return f, nil
}

func (s *CutSolid) face(n faceName) (FaceInfo, error) { return s.Base.face(n) }
