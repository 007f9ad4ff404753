package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/part"
)

// sideNames maps the device file's words for sides to part's axis and sign.
var sideNames = map[string][2]int{
	"left": {0, -1}, "right": {0, 1}, "bottom": {1, -1}, "top": {1, 1}, "back": {2, -1}, "front": {2, 1},
}

// axisIndex is 0, 1, 2 for x, y, z; -1 otherwise.
func axisIndex(name string) int {
	return strings.Index("xyz", name)
}

// axisSign reads "+y" as (1, +1); an empty name gives ok false.
func axisSign(name string) (axis, sign int, ok bool) {
	if len(name) != 2 {
		return 0, 0, false
	}
	axis = axisIndex(name[1:])
	if axis < 0 {
		return 0, 0, false
	}
	if name[0] == '-' {
		return axis, -1, true
	}
	return axis, 1, true
}

// placed is one part of the file as a solid in space.
type placed struct {
	spec  *device.Part
	solid part.Solid
	body  part.Solid // the solid before cuts and facing: its faces are what other parts sit on
	size  part.Vec
	min   part.Vec

	turnRad  float64 // about its own middle and
	turnAxis int     // this axis
}

// solids places every part of the file, in order. Problems carry the part's place in the file.
func solids(f *device.File, v device.Values) ([]placed, error) {
	var out []placed
	var problems device.Problems
	byName := map[string]int{}
	for i := range f.Parts {
		p := &f.Parts[i]
		s, err := place(p, v, out, byName)
		if err != nil {
			problems = append(problems, f.Problem(p.Pos, fmt.Sprintf("part %q: %v", p.Name, err), "", ""))
			continue
		}
		byName[p.Name] = len(out)
		out = append(out, s)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	return out, nil
}

// place makes one part's solid: its size, then where its smallest corner goes, then turn and cuts.
func place(p *device.Part, v device.Values, before []placed, byName map[string]int) (placed, error) {
	out := placed{spec: p}

	// The face it sits on, when there is one.
	var face part.FaceInfo
	onFace := p.On != ""
	if onFace {
		name, side, _ := strings.Cut(p.On, ".")
		bi, ok := byName[name]
		if !ok {
			return out, fmt.Errorf("it sits on %q, but no earlier part is called %q", p.On, name)
		}
		var err error
		if face, err = part.Face(before[bi].body, side); err != nil {
			return out, fmt.Errorf("on %q: %w", p.On, err)
		}
		if as, ok := sideNames[side]; ok {
			// a face that was milled lies deeper by what was taken off
			face.Center[face.Axis] -= float64(face.Sign) * before[bi].spec.Milled[2*as[0]+(as[1]+1)/2]
		}
	}

	size, outAxis, outSign, err := sizeOf(p, v, face, onFace)
	if err != nil {
		return out, err
	}
	min := part.Vec(p.At.At(v))
	if onFace {
		min = onto(face, size, p.Offset.At(v), p.Gap.At(v))
		if len(p.At) > 0 {
			return out, fmt.Errorf("it has both 'on' and 'at'; keep one")
		}
	}
	out.size, out.min = size, min

	var s part.Solid
	switch {
	case len(p.Box) > 0 && p.Wall.Given():
		s, err = part.NewHollow(min, size, p.Wall.At(v))
	case len(p.Box) > 0 || len(p.Plate) > 0:
		s, err = part.NewBox(min, size)
	case p.Cylinder != nil && p.Wall.Given():
		s, err = part.NewCan(min, p.Cylinder.Diameter.At(v), p.Cylinder.Length.At(v), axisIndex(p.Cylinder.Along), p.Wall.At(v))
	case p.Cylinder != nil:
		s, err = part.NewCylinder(min, p.Cylinder.Diameter.At(v), p.Cylinder.Length.At(v), axisIndex(p.Cylinder.Along))
	case p.Tube != nil:
		s, err = part.NewTube(min, p.Tube.Diameter.At(v), p.Tube.Inner.At(v), p.Tube.Length.At(v), axisIndex(p.Tube.Along))
	case p.FinBlock != nil:
		b := p.FinBlock
		base := b.Base.At(v)
		s, err = part.NewFinBlock(part.FinBlockParams{
			Min: min, BaseM: [2]float64{base[0], base[1]}, BaseThicknessM: b.Thickness.At(v),
			Count: int(math.Round(b.Fins.At(v))), HeightM: b.Height.At(v), FinThicknessM: b.FinThick.At(v),
			Along: axisIndex(b.Along), OutAxis: outAxis, OutSign: outSign,
		})
	default:
		err = fmt.Errorf("it has no shape")
	}
	if err != nil {
		return out, err
	}
	out.body = s
	if p.Turn != nil {
		out.turnRad, out.turnAxis = p.Turn.By.At(v), axisIndex(p.Turn.About)
		if s, err = part.Turned(s, out.turnRad, out.turnAxis); err != nil {
			return out, err
		}
	}
	if len(p.Cuts) > 0 {
		cutters := make([]part.Solid, 0, len(p.Cuts))
		for i := range p.Cuts {
			c, err := cutter(&p.Cuts[i], v, min, size)
			if err != nil {
				return out, fmt.Errorf("cut %d: %w", i+1, err)
			}
			cutters = append(cutters, c)
		}
		if s, err = part.Cut(s, cutters...); err != nil {
			return out, err
		}
	}
	out.solid = s
	return out, nil
}

// sizeOf is the part's extent along x, y, z. For plates and fin blocks it depends on which way they face.
func sizeOf(p *device.Part, v device.Values, face part.FaceInfo, onFace bool) (size part.Vec, outAxis, outSign int, err error) {
	inPlane := func(uv [3]float64, axis int, across float64) part.Vec {
		var s part.Vec
		next := 0
		for a := range s {
			if a == axis {
				s[a] = across
				continue
			}
			s[a] = uv[next]
			next++
		}
		return s
	}
	switch {
	case len(p.Box) > 0:
		return part.Vec(p.Box.At(v)), 0, 0, nil
	case len(p.Plate) > 0:
		axis := face.Axis
		if !onFace {
			if axis = axisIndex(p.Normal); p.Normal == "" || axis < 0 {
				return size, 0, 0, fmt.Errorf("a plate needs 'on: part.face', or 'normal: x, y or z' with 'at'")
			}
		}
		return inPlane(p.Plate.At(v), axis, p.Thickness.At(v)), 0, 0, nil
	case p.Cylinder != nil:
		return roundSize(p.Cylinder, v), 0, 0, nil
	case p.Tube != nil:
		return roundSize(p.Tube, v), 0, 0, nil
	case p.FinBlock != nil:
		b := p.FinBlock
		axis, sign, ok := axisSign(b.Out)
		if !ok {
			if !onFace {
				return size, 0, 0, fmt.Errorf("a fin block placed with 'at' needs 'fins point', such as +z")
			}
			axis, sign = face.Axis, face.Sign
		}
		if axisIndex(b.Along) == axis {
			return size, 0, 0, fmt.Errorf("its fins run along %s but also point along %s", b.Along, b.Along)
		}
		return inPlane(b.Base.At(v), axis, b.Thickness.At(v)+b.Height.At(v)), axis, sign, nil
	}
	return size, 0, 0, fmt.Errorf("it has no shape: give one of box, plate, cylinder, tube, fin block")
}

func roundSize(r *device.Round, v device.Values) part.Vec {
	d := r.Diameter.At(v)
	s := part.Vec{d, d, d}
	if a := axisIndex(r.Along); a >= 0 {
		s[a] = r.Length.At(v)
	}
	return s
}

// onto is the smallest corner of a part of that size centred on a face, shifted by offset along the face's two axes, and
// standing gapM off it.
func onto(face part.FaceInfo, size part.Vec, offset [3]float64, gapM float64) part.Vec {
	var min part.Vec
	next := 0
	for a := range min {
		if a == face.Axis {
			if face.Sign > 0 {
				min[a] = face.Center[a] + gapM
			} else {
				min[a] = face.Center[a] - gapM - size[a]
			}
			continue
		}
		min[a] = face.Center[a] + offset[next] - size[a]/2
		next++
	}
	return min
}

// cutter is what a cut takes away, placed in space.
func cutter(c *device.Cut, v device.Values, corner, size part.Vec) (part.Solid, error) {
	at := c.At.At(v)
	p := part.Vec{corner[0] + at[0], corner[1] + at[1], corner[2] + at[2]}
	if len(c.Box) > 0 {
		return part.NewBox(p, part.Vec(c.Box.At(v)))
	}
	axis := axisIndex(c.Through)
	if axis < 0 || c.Through == "" {
		return nil, fmt.Errorf("a hole needs 'through: x, y or z'")
	}
	d := c.Hole.At(v)
	depth := size[axis]
	if c.Depth.Given() {
		depth = c.Depth.At(v)
	} else {
		p[axis] = corner[axis]
	}
	for a := range p {
		if a != axis {
			p[a] -= d / 2
		}
	}
	return part.NewCylinder(p, d, depth, axis)
}
