package device

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/unit"
)

func (c *checker) parts() {
	f := c.f
	earlier := map[string]bool{}
	for i := range f.Parts {
		p := &f.Parts[i]
		about := fmt.Sprintf("part %q", p.Name)
		if p.Material != "" && !f.knowsMaterial(p.Material) {
			c.bad(c.where("parts."+p.Name, p.Pos, "material"), fmt.Sprintf("%s: the material %q is neither in the library nor under materials", about, p.Material), "", orNearest(p.Material, f.materialNames(), "or describe it under materials"))
		}
		if p.Finish != "" && !f.knowsFinish(p.Finish) {
			c.bad(c.where("parts."+p.Name, p.Pos, "finish"), fmt.Sprintf("%s: the finish %q is neither in the library nor under finishes", about, p.Finish), "", orNearest(p.Finish, f.finishNames(), "or describe it under finishes"))
		}
		if !c.broken["parts."+p.Name] {
			c.shape(p, about)
			c.placing(p, about, earlier)
			c.heldApart(p, about)
			for k := range p.Cuts {
				c.cut(&p.Cuts[k], fmt.Sprintf("cut %d of %s", k+1, about))
			}
		}
		earlier[p.Name] = true
	}
}

// shape checks that a part has one shape and that its sizes fit each other.
func (c *checker) shape(p *Part, about string) {
	var shapes []string
	for _, s := range []struct {
		given bool
		name  string
	}{{len(p.Box) > 0, "box"}, {len(p.Plate) > 0, "plate"}, {p.Cylinder != nil, "cylinder"}, {p.Tube != nil, "tube"}, {p.FinBlock != nil, "fin block"}} {
		if s.given {
			shapes = append(shapes, s.name)
		}
	}
	if len(shapes) != 1 {
		what, hint := about+" has no shape", "add box: 60 x 90 x 22 mm or another of these"
		if len(shapes) > 1 {
			what, hint = fmt.Sprintf("%s has %d shapes: %s", about, len(shapes), strings.Join(shapes, " and ")), "keep one; describe the other as a part of its own"
		}
		c.bad(p.Pos, what, "expected exactly one of box, plate, cylinder, tube, fin block", hint)
		return
	}
	if p.Wall.Given() && len(p.Box) == 0 && p.Cylinder == nil {
		c.bad(p.Wall.Pos, about+" has a wall, but only a box or a cylinder can be hollow", "", "a tube has inner instead")
	}
	if p.Thickness.Given() && len(p.Plate) == 0 {
		c.bad(p.Thickness.Pos, about+" has a thickness, but only a plate needs one", "", "a box has its thickness among its three sizes")
	}
	if p.Normal != "" && len(p.Plate) == 0 {
		c.bad(p.Pos, about+" has a normal, but only a plate needs one", "", "take normal out")
	}
	size, sized := p.sizeM()
	if p.Wall.Given() && sized {
		least := math.Min(size[0], math.Min(size[1], size[2]))
		if 2*p.Wall.Mid >= least {
			c.bad(p.Wall.Pos, fmt.Sprintf("%s: two walls of %s leave no room in %s", about, mm(p.Wall.Mid), mm(least)), "expected a wall thinner than half the smallest size", "")
		}
	}
	switch {
	case len(p.Plate) > 0:
		if !p.Thickness.Given() {
			c.bad(p.Pos, about+" is a plate without a thickness", "", "add thickness: 1.8 mm")
		}
		if p.On == "" && p.Normal == "" {
			c.bad(p.Pos, about+": it is not said which way the plate faces", "", "add on: part.face, or normal: z with at")
		}
		if p.On != "" && p.Normal != "" {
			c.bad(p.Pos, about+" has both on and normal: the face it is on says which way it faces", "", "take normal out")
		}
	case p.Cylinder != nil && p.Cylinder.Inner.Given():
		c.bad(p.Cylinder.Inner.Pos, about+" is a cylinder with an inner diameter", "", "call it a tube")
	case p.Tube != nil:
		switch r := p.Tube; {
		case !r.Inner.Given():
			c.bad(r.Pos, about+" is a tube without an inner diameter", "", "add inner: 16 mm")
		case r.Inner.Mid >= r.Diameter.Mid:
			c.bad(r.Inner.Pos, fmt.Sprintf("%s: its inner diameter %s is not smaller than its outer diameter %s", about, mm(r.Inner.Mid), mm(r.Diameter.Mid)), "", "")
		}
	case p.FinBlock != nil:
		c.finBlock(p, about)
	}
}

func (c *checker) finBlock(p *Part, about string) {
	b := p.FinBlock
	if n := b.Fins.Mid; n != math.Round(n) || n < 2 || b.Fins.Doubtful() {
		c.bad(b.Fins.Pos, fmt.Sprintf("%s has %q fins", about, b.Fins.Text), "expected a whole number from 2 on", "")
		return
	}
	out := -1
	if side, _ := sideOf(faceOf(p.On)); side >= 0 {
		out = side / 2
	}
	if a := axisOf(b.Out); a >= 0 {
		out = a
	}
	along := axisOf(b.Along)
	switch {
	case out < 0:
		c.bad(b.Pos, about+": it is not said where its fins point", "", "add fins point: +z, or on: part.face")
		return
	case along == out:
		c.bad(b.Pos, fmt.Sprintf("%s: its fins run along %s and point along it too", about, b.Along), "", "fins run across the way they point")
		return
	}
	// The base's two sizes go with the two axes other than out, in order; fins stand side by side along the one that is not along.
	k := 0
	for a := range 3 {
		if a == out {
			continue
		}
		if a != along && len(b.Base) == 2 {
			if need := b.Fins.Mid * b.FinThick.Mid; need >= b.Base[k].Mid {
				c.bad(b.Fins.Pos, fmt.Sprintf("%s: %.0f fins of %s need %s, but the base is %s wide", about, b.Fins.Mid, mm(b.FinThick.Mid), mm(need), mm(b.Base[k].Mid)), "", "fewer or thinner fins, or fins along the other axis")
			}
		}
		k++
	}
}

// placing checks where a part is put.
func (c *checker) placing(p *Part, about string, earlier map[string]bool) {
	if p.On == "" {
		if len(p.Offset) > 0 || p.Gap.Given() {
			c.bad(p.Pos, about+" has an offset or gap, but sits on nothing", "", "add on: part.face, or use at")
		}
		return
	}
	if len(p.At) > 0 {
		c.bad(p.Pos, about+" has both on and at", "", "keep one; to shift it on its face use offset")
	}
	name, face, ok := strings.Cut(p.On, ".")
	pos := c.where("parts."+p.Name, p.Pos, "on")
	if !ok {
		c.bad(pos, fmt.Sprintf("%s: on: %q does not name a face", about, p.On), "expected a face such as plate.front", "did you mean "+p.On+".front?")
		return
	}
	host := c.f.Part(name)
	switch {
	case host == nil:
		c.badErr(pos, about+": on", c.f.noPart(name))
	case name == p.Name:
		c.bad(pos, about+" sits on itself", "", "name another part")
	case !earlier[name]:
		c.bad(pos, fmt.Sprintf("%s sits on %q, which comes later in the file", about, name), "expected an earlier part", fmt.Sprintf("move %q up above it", name))
	default:
		if err := host.flatFace(face); err != nil {
			c.badErr(pos, about+": on", err)
		}
	}
}

// heldApart finds what would touch a part that is to touch nothing, as far as that needs no geometry.
func (c *checker) heldApart(p *Part, about string) {
	if !p.HeldApart {
		return
	}
	pos := c.where("parts."+p.Name, p.Pos, "held apart")
	if p.On != "" && !(p.Gap.Mid > 0) {
		c.bad(pos, fmt.Sprintf("%s is held apart, but sits on %s without a gap", about, p.On), "", "add gap: 3 mm, or take held apart out")
	}
	for i := range c.f.Joints {
		if j := &c.f.Joints[i]; slices.Contains(j.Between, p.Name) {
			c.bad(pos, fmt.Sprintf("%s is held apart, but joint %q says what it touches", about, j.Name), "", "take either out")
		}
	}
}

func (c *checker) cut(k *Cut, about string) {
	box, hole := len(k.Box) > 0, k.Hole.Given()
	switch {
	case box == hole:
		c.bad(k.Pos, about+" should be either a box or a hole", "expected {box: 10 x 5 x 2 mm, at: 0 0 0 mm} or {hole: 3 mm, through: z, at: 5 5 0 mm}", "")
	case hole && k.Through == "":
		c.bad(k.Pos, about+": it is not said which way the hole goes", "", "add through: z")
	case box && (k.Through != "" || k.Depth.Given()):
		c.bad(k.Pos, about+" is a box: its depth is among its three sizes", "", "take through and depth out")
	}
}

func mm(m float64) string { return unit.Format(m, unit.Length) }
