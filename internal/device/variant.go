package device

import (
	"fmt"
	"reflect"
	"slices"
	"sort"
	"strings"

	"finwright/internal/unit"
)

// Variant is this device with a retrofit carried out; "" is the device as it is. The file it is called on does not change.
// The notes say what was done beyond the letter of the list, such as joints that went with a part. A variant has no
// retrofits, and no stock runs either: what was seen was seen on the device as it was.
//
// The error is a Problems; a file that came from Load or Parse has none, because its retrofits were tried out then.
func (f *File) Variant(retrofit string) (*File, []string, error) {
	if retrofit == "" {
		return clone(f), nil, nil
	}
	for i := range f.Retrofits {
		if f.Retrofits[i].Name != retrofit {
			continue
		}
		v, notes, problems := f.apply(&f.Retrofits[i])
		if len(problems) > 0 {
			return nil, nil, problems
		}
		return v, notes, nil
	}
	names := make([]string, len(f.Retrofits))
	for i := range names {
		names[i] = f.Retrofits[i].Name
	}
	hint := "this file has no retrofits"
	if len(names) > 0 {
		hint = orNearest(retrofit, names, "")
	}
	return nil, nil, Problems{f.Problem(Pos{}, fmt.Sprintf("there is no retrofit %q", retrofit), "", hint)}
}

// clone copies a file with all that hangs on it.
func clone(f *File) *File {
	v := deepCopy(reflect.ValueOf(*f)).Interface().(File)
	v.assumed, v.places = append([]Assumption(nil), f.assumed...), f.places
	return &v
}

// deepCopy copies slices and what pointers lead to. Fields that cannot be set from here keep the original's value.
func deepCopy(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			p := reflect.New(v.Type().Elem())
			p.Elem().Set(deepCopy(v.Elem()))
			out.Set(p)
		}
	case reflect.Slice:
		if !v.IsNil() {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
			for i := range v.Len() {
				out.Index(i).Set(deepCopy(v.Index(i)))
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(deepCopy(v.Field(i)))
			}
		}
	default:
		out.Set(v)
	}
	return out
}

// applier carries out one retrofit.
type applier struct {
	src      *File
	f        *File
	r        *Retrofit
	gone     map[string]Pos // parts taken off, with the place of the change
	notes    []string
	problems Problems
}

func (f *File) apply(r *Retrofit) (*File, []string, Problems) {
	a := &applier{src: f, f: clone(f), r: r, gone: map[string]Pos{}}
	a.f.Retrofits, a.f.Runs = nil, nil
	for i := range r.Changes {
		a.change(i, &r.Changes[i])
	}
	a.leftBehind()
	if len(a.problems) > 0 {
		return nil, nil, a.problems
	}
	return a.f, a.notes, nil
}

// path is what is put on the paths of what the retrofit brings.
func (a *applier) path() string { return "retrofits." + a.r.Name }

func (a *applier) bad(pos Pos, what, hint string) {
	a.problems = append(a.problems, a.src.Problem(pos, fmt.Sprintf("retrofit %q: %s", a.r.Name, what), "", hint))
}

func (a *applier) badErr(pos Pos, about string, err *placeError) {
	if at, ok := a.gone[strings.TrimSuffix(strings.TrimPrefix(err.what, `there is no part "`), `"`)]; ok {
		a.bad(pos, about+": "+err.what, fmt.Sprintf("it was taken off on line %d", at.Line))
		return
	}
	a.bad(pos, about+": "+err.what, err.hint)
}

func (a *applier) note(format string, args ...any) {
	a.notes = append(a.notes, fmt.Sprintf(format, args...))
}

func (a *applier) change(i int, c *Change) {
	about := fmt.Sprintf("change %d", i+1)
	var given []string
	for _, k := range []struct {
		given bool
		name  string
	}{{c.Remove != "", "remove"}, {c.Face != nil, "face"}, {len(c.Add) > 0, "add"}, {len(c.Replace) > 0, "replace"}, {len(c.Rejoin) > 0, "rejoin"}, {c.Refinish != nil, "refinish"}, {c.Mode != "", "mode"}} {
		if k.given {
			given = append(given, k.name)
		}
	}
	if len(given) != 1 {
		what := about + " says nothing"
		if len(given) > 1 {
			what = fmt.Sprintf("%s says %s", about, strings.Join(given, " and "))
		}
		a.bad(c.Pos, what, "each change has exactly one of remove, face, add, replace, rejoin, refinish, mode; begin each with a dash")
		return
	}
	switch {
	case c.Remove != "":
		a.remove(c.Remove, c.Pos, about)
	case c.Face != nil:
		a.face(c.Face, about)
	case c.Refinish != nil:
		p := a.f.Part(c.Refinish.Part)
		if p == nil {
			a.badErr(c.Refinish.Pos, about, a.f.noPart(c.Refinish.Part))
			return
		}
		p.Finish = c.Refinish.Finish
	case c.Mode != "":
		a.f.Mode = c.Mode
	}
	for k := range c.Add {
		p := deepCopy(reflect.ValueOf(c.Add[k])).Interface().(Part)
		if a.f.Part(p.Name) != nil {
			a.bad(p.Pos, fmt.Sprintf("%s adds %q, but a part of that name is there already", about, p.Name), "choose a new name, or write replace")
			continue
		}
		a.sits(&p, about)
		p.Fitted = a.path()
		a.f.Parts = append(a.f.Parts, p)
	}
	for k := range c.Replace {
		p := deepCopy(reflect.ValueOf(c.Replace[k])).Interface().(Part)
		old := a.f.Part(p.Name)
		if old == nil {
			a.badErr(p.Pos, about, a.f.noPart(p.Name))
			continue
		}
		a.sits(&p, about)
		p.Fitted = a.path()
		*old = p
	}
	for k := range c.Rejoin {
		j := deepCopy(reflect.ValueOf(c.Rejoin[k])).Interface().(Joint)
		j.Fitted = a.path()
		a.rejoin(j, about)
	}
}

// sits checks that what a new part sits on is there at this point of the list.
func (a *applier) sits(p *Part, about string) {
	name, _, ok := strings.Cut(p.On, ".")
	if ok && name != p.Name && a.f.Part(name) == nil {
		a.badErr(p.Pos, fmt.Sprintf("%s: %q sits on %q", about, p.Name, p.On), a.f.noPart(name))
	}
}

func (a *applier) remove(name string, pos Pos, about string) {
	if a.f.Part(name) == nil {
		a.badErr(pos, about, a.f.noPart(name))
		return
	}
	a.gone[name] = pos
	parts := a.f.Parts[:0]
	for i := range a.f.Parts {
		if a.f.Parts[i].Name != name {
			parts = append(parts, a.f.Parts[i])
		}
	}
	a.f.Parts = parts
	joints := a.f.Joints[:0]
	for _, j := range a.f.Joints {
		goes := false
		for _, b := range j.Between {
			goes = goes || b == name
		}
		if goes {
			a.note("joint %q goes with %q, which is taken off", j.Name, name)
			continue
		}
		joints = append(joints, j)
	}
	a.f.Joints = joints
}

func (a *applier) rejoin(j Joint, about string) {
	for _, name := range j.Between {
		if a.f.Part(name) == nil {
			a.badErr(j.Pos, fmt.Sprintf("%s: joint %q", about, j.Name), a.f.noPart(name))
			return
		}
	}
	if len(j.Between) != 2 {
		a.bad(j.Pos, fmt.Sprintf("%s: joint %q is between %d parts", about, j.Name, len(j.Between)), "write between: [chip, plate]")
		return
	}
	for i := range a.f.Joints {
		old := &a.f.Joints[i]
		same := len(old.Between) == 2 && pairOf(old) == pairOf(&j)
		if old.Name == j.Name || same {
			if !same {
				a.note("joint %q is now between %s and %s", j.Name, j.Between[0], j.Between[1])
			} else if old.Name != j.Name {
				a.note("joint %q takes the place of joint %q", j.Name, old.Name)
			}
			*old = j
			return
		}
	}
	a.f.Joints = append(a.f.Joints, j)
}

// face mills a layer off one side of a part: a cut over the whole side, which serves solid and hollow parts alike, since it
// must stay inside the wall. The part's size along that axis and the depth are taken at their middles.
func (a *applier) face(fc *Facing, about string) {
	p := a.f.Part(fc.Part)
	if p == nil {
		a.badErr(fc.Pos, about, a.f.noPart(fc.Part))
		return
	}
	side, _ := sideOf(fc.Side)
	about = fmt.Sprintf("%s mills %s.%s", about, fc.Part, fc.Side)
	if p.FinBlock != nil {
		a.bad(fc.Pos, about+", but a fin block cannot be milled", "replace it by one with other sizes")
		return
	}
	if err := p.flatFace(fc.Side); err != nil {
		a.bad(fc.Pos, about+": "+err.(*placeError).what, "only flat sides can be milled")
		return
	}
	size, ok := p.sizeM()
	if !ok {
		return // the part's own check says what is missing
	}
	axis, depth := side/2, fc.By.Mid
	before := p.Milled[side]
	left := size[axis] - p.Milled[2*axis] - p.Milled[2*axis+1]
	if p.Wall.Given() {
		left = p.Wall.Mid - before
	}
	if depth >= left {
		where := "the part is"
		if p.Wall.Given() {
			where = "the wall there is"
		}
		a.bad(fc.By.Pos, fmt.Sprintf("%s by %s, but %s only %s thick", about, mm(depth), where, mm(left)), "take off less")
		return
	}
	for i := range a.f.Parts {
		other := &a.f.Parts[i]
		if other.On == fc.Part+"."+fc.Side {
			a.bad(fc.Pos, fmt.Sprintf("%s, but %q sits there", about, other.Name), fmt.Sprintf("take %q off first with remove: %s, and add it again afterwards", other.Name, other.Name))
			return
		}
	}
	var box, at Vec
	for k := range size {
		b, o := size[k], 0.0
		if k == axis {
			b, o = depth, before
			if side%2 == 1 {
				o = size[axis] - before - depth
			}
		}
		box = append(box, Q{Quantity: exact(b), Pos: fc.Pos})
		at = append(at, Q{Quantity: exact(o), Pos: fc.Pos})
	}
	p.Cuts = append(p.Cuts, Cut{Pos: fc.Pos, Box: box, At: at})
	p.Milled[side] += depth
	if fc.By.Doubtful() {
		a.note("%s.%s: the depth is taken at its middle, %s", fc.Part, fc.Side, mm(depth))
	}
}

func exact(m float64) unit.Quantity {
	q := unit.ExactSI(m, unit.Length)
	q.Text = mm(m)
	return q
}

// leftBehind finds what hung on a part that is no longer there. Parts that sat on it are found by the check that follows.
func (a *applier) leftBehind() {
	var names []string
	for name := range a.gone {
		if a.f.Part(name) == nil {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	for _, name := range names {
		pos := a.gone[name]
		taken := fmt.Sprintf("%q is taken off, but ", name)
		if old := a.src.Part(name); old != nil && old.Heat.given() {
			a.bad(pos, taken+"it makes heat", "heat does not vanish with a part: add "+name+" again in its new place, or switch its heat off with a mode")
		}
		for i := range a.f.Sensors {
			if s := &a.f.Sensors[i]; partOfPlace(s.At) == name {
				a.bad(pos, taken+fmt.Sprintf("sensor %q is in it", s.Name), "replace the part instead, so that its sensor has a place")
			}
		}
		if b := a.f.Battery; b != nil && b.Part == name {
			a.bad(pos, taken+"it is the battery's cell", "replace it instead")
		}
		if slices.ContainsFunc(a.f.Conditions.Supports(), func(r RestsOn) bool { return partOfPlace(r.Face) == name }) {
			a.bad(pos, taken+"the device rests on it", "keep it, or take rests on out of the conditions")
		}
		for i := range a.f.Boundaries {
			if b := &a.f.Boundaries[i]; partOfPlace(b.Face) == name {
				a.bad(pos, taken+fmt.Sprintf("boundary %q is on it", b.Name), "")
			}
		}
		for i := range a.f.Parts {
			if p := &a.f.Parts[i]; partOfPlace(p.On) == name {
				a.bad(pos, taken+fmt.Sprintf("%q sits on it", p.Name), fmt.Sprintf("take %q off too, or replace %q", p.Name, name))
			}
		}
	}
}

// partOfPlace is the part's name in "part.face centre".
func partOfPlace(place string) string {
	part, _, _ := strings.Cut(place, ".")
	part = strings.TrimSpace(part)
	part = strings.TrimSuffix(part, " centre")
	return strings.TrimSuffix(part, " highest")
}
