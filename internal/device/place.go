package device

import (
	"fmt"
	"strings"

	"finwright/internal/unit"
)

// Where says which temperature of a part or face is meant.
type Where uint8

const (
	Mean    Where = iota // the mean of the part or the face
	Centre               // the point in the middle
	Highest              // the hottest point
)

// Place is where a temperature is taken.
type Place struct {
	Part, Face string // Face is empty for the whole part; "inside back" for an inner face
	Spot       Where
	Inside     bool       // Face is an inner face of a hollow part
	Point      [3]float64 // m, when IsPoint
	IsPoint    bool
}

// sides are the six sides of a part, in the order of axes with the negative side first. Index/2 is the axis.
var sides = [6]string{"left", "right", "bottom", "top", "back", "front"}

// axisWords are the directions along the device's axes.
var axisWords = []string{"+x", "-x", "+y", "-y", "+z", "-z"}

// sideOf is the index of a side's name in sides, -1 for another word; "inside " before it is passed over.
func sideOf(face string) (side int, inside bool) {
	face, inside = strings.CutPrefix(face, "inside ")
	for i, s := range sides {
		if s == face {
			return i, inside
		}
	}
	return -1, inside
}

// axisOf is 0, 1, 2 for x, y, z, also behind a sign; -1 for another word.
func axisOf(word string) int {
	if len(word) == 2 && (word[0] == '+' || word[0] == '-') {
		word = word[1:]
	}
	if len(word) != 1 {
		return -1
	}
	return strings.Index("xyz", word)
}

// ParsePlace reads "part", "part.face", each with " centre" or " highest" behind it, or a point such as "10 20 5 mm".
// Faces are left (-x), right (+x), bottom (-y), top (+y), back (-z), front (+z), and "inside back" and so on for hollow
// parts. The part and the face must be there.
func ParsePlace(text string, f *File) (Place, error) {
	var pl Place
	rest := strings.TrimSpace(text)
	if rest == "" {
		return pl, &placeError{what: "no place is written", hint: placeForms}
	}
	if f.Part(rest) == nil && strings.ContainsRune("0123456789+-.−", []rune(rest)[0]) {
		qs, err := unit.ParseVec(rest, unit.Length)
		if err != nil {
			return pl, &placeError{what: fmt.Sprintf("%q is neither a part nor a point", text), hint: placeForms}
		}
		if len(qs) != 3 {
			return pl, &placeError{what: fmt.Sprintf("%q has %d lengths; a point has three", text, len(qs)), hint: "write x, y and z such as 10 20 5 mm"}
		}
		for i := range qs {
			pl.Point[i] = qs[i].Mid
		}
		pl.IsPoint = true
		return pl, nil
	}
	if s, ok := strings.CutSuffix(rest, " centre"); ok {
		rest, pl.Spot = strings.TrimSpace(s), Centre
	} else if s, ok := strings.CutSuffix(rest, " highest"); ok {
		rest, pl.Spot = strings.TrimSpace(s), Highest
	}
	var hasFace bool
	pl.Part, pl.Face, hasFace = strings.Cut(rest, ".")
	p := f.Part(pl.Part)
	if p == nil {
		return pl, f.noPart(pl.Part)
	}
	if !hasFace {
		return pl, nil
	}
	if err := p.hasFace(pl.Face); err != nil {
		return pl, err
	}
	_, pl.Inside = sideOf(pl.Face)
	return pl, nil
}

const placeForms = "write a part, a face such as plate.front, either with centre or highest behind it, or a point such as 10 20 5 mm"

// placeError keeps what is wrong and what to do apart.
type placeError struct{ what, hint string }

func (e *placeError) Error() string {
	if e.hint == "" {
		return e.what
	}
	return e.what + "; " + e.hint
}

// Part finds a part by name, nil when there is none.
func (f *File) Part(name string) *Part {
	for i := range f.Parts {
		if f.Parts[i].Name == name {
			return &f.Parts[i]
		}
	}
	return nil
}

// partNames lists the parts in order.
func (f *File) partNames() []string {
	names := make([]string, len(f.Parts))
	for i := range f.Parts {
		names[i] = f.Parts[i].Name
	}
	return names
}

func (f *File) noPart(name string) *placeError {
	e := &placeError{what: fmt.Sprintf("there is no part %q", name)}
	if near := unit.Nearest(name, f.partNames()); near != "" {
		e.hint = fmt.Sprintf("did you mean %q?", near)
	} else if len(f.Parts) > 0 {
		e.hint = "parts here: " + strings.Join(f.partNames(), ", ")
	}
	return e
}

// hasFace says why a part has no such face, or nil.
func (p *Part) hasFace(face string) error {
	side, inside := sideOf(face)
	if side < 0 {
		hint := "faces are " + strings.Join(sides[:], ", ") + ", and inside left and so on for hollow parts"
		if near := unit.Nearest(face, sides[:]); near != "" {
			hint = "did you mean " + p.Name + "." + near + "?"
		}
		return &placeError{what: fmt.Sprintf("%q is not a face", face), hint: hint}
	}
	if inside && !p.Wall.Given() {
		return &placeError{what: fmt.Sprintf("part %q has no inside: it has no wall", p.Name), hint: "write " + p.Name + "." + sides[side] + ", or give the part a wall"}
	}
	if inside && p.Cylinder != nil && side/2 != axisOf(p.Cylinder.Along) {
		return &placeError{what: fmt.Sprintf("the inside of %q is round on its %s", p.Name, sides[side]), hint: "only its two ends are flat"}
	}
	return nil
}

// flatFace says why nothing can sit on that face, or nil.
func (p *Part) flatFace(face string) error {
	if err := p.hasFace(face); err != nil {
		return err
	}
	side, _ := sideOf(face)
	r := p.Cylinder
	if r == nil {
		r = p.Tube
	}
	switch {
	case r != nil && side/2 != axisOf(r.Along):
		return &placeError{what: fmt.Sprintf("part %q is round on its %s", p.Name, sides[side]), hint: "place what touches it there with at"}
	case p.Turn != nil:
		return &placeError{what: fmt.Sprintf("part %q is turned, so its faces are not where their names say", p.Name), hint: "place what touches it with at"}
	}
	return nil
}

// sizeM is the part's extent along x, y, z by the middles of its sizes, m, before it is turned; ok is false when the file
// does not say enough.
func (p *Part) sizeM() (m [3]float64, ok bool) {
	across := -1 // axis across a plate or fin block
	if side, _ := sideOf(faceOf(p.On)); side >= 0 {
		across = side / 2
	}
	flat := func(uv Vec, axis int, thickM float64) ([3]float64, bool) {
		if axis < 0 || len(uv) != 2 {
			return m, false
		}
		next := 0
		for a := range m {
			if a == axis {
				m[a] = thickM
				continue
			}
			m[a] = uv[next].Mid
			next++
		}
		return m, true
	}
	switch {
	case len(p.Box) == 3:
		return p.Box.At(nil), true
	case len(p.Plate) == 2:
		if across < 0 {
			across = axisOf(p.Normal)
		}
		return flat(p.Plate, across, p.Thickness.Mid)
	case p.Cylinder != nil || p.Tube != nil:
		r := p.Cylinder
		if r == nil {
			r = p.Tube
		}
		m = [3]float64{r.Diameter.Mid, r.Diameter.Mid, r.Diameter.Mid}
		if a := axisOf(r.Along); a >= 0 {
			m[a] = r.Length.Mid
			return m, true
		}
	case p.FinBlock != nil:
		if a := axisOf(p.FinBlock.Out); a >= 0 {
			across = a
		}
		return flat(p.FinBlock.Base, across, p.FinBlock.Thickness.Mid+p.FinBlock.Height.Mid)
	}
	return m, false
}

// faceOf is the face of "part.face".
func faceOf(on string) string {
	_, face, _ := strings.Cut(on, ".")
	return face
}
