package device

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/joint"
	"finwright/internal/material"
	"finwright/internal/unit"
)

// checker finds what can be wrong between keys that are right by themselves: names that lead nowhere, shapes given twice,
// figures that exclude each other. It knows no geometry beyond single sizes.
type checker struct {
	f        *File
	broken   map[string]bool // paths whose reading failed: what hangs on them is passed over
	problems Problems
	variant  string // name of the retrofit, when its result is checked
	at       Pos    // place of the retrofit, for parts that lie elsewhere
	modes    []string
}

// check is the static check of a file just read. Retrofits are tried out on the way.
func (f *File) check(broken map[string]bool) Problems {
	c := &checker{f: f, broken: broken}
	c.all()
	variants := map[string]*File{} // those without errors
	for i := range f.Retrofits {
		r := &f.Retrofits[i]
		if broken["retrofits."+r.Name] {
			continue
		}
		v, _, problems := f.apply(r)
		c.problems = append(c.problems, problems...)
		// A retrofit of a broken device would repeat the device's errors.
		if len(problems) > 0 || !c.clean() || len(broken) > 0 {
			continue
		}
		vc := &checker{f: v, variant: r.Name, at: r.Pos}
		vc.all()
		if vc.clean() {
			variants[r.Name] = v
		}
		for _, p := range vc.problems {
			if p.Severity == Error {
				c.problems = append(c.problems, p)
			}
		}
	}
	c.runs(variants)
	return c.problems
}

func (c *checker) clean() bool {
	for _, p := range c.problems {
		if p.Severity == Error {
			return false
		}
	}
	return true
}

func (c *checker) bad(pos Pos, what, want, hint string) {
	if c.variant != "" {
		what = fmt.Sprintf("with retrofit %q: %s", c.variant, what)
		if pos == (Pos{}) {
			pos = c.at
		}
	}
	c.problems = append(c.problems, c.f.Problem(pos, what, want, hint))
}

func (c *checker) odd(pos Pos, what, hint string) {
	p := c.f.Problem(pos, what, "", hint)
	p.Severity = Warning
	c.problems = append(c.problems, p)
}

// badErr reports an error of ParsePlace and its like.
func (c *checker) badErr(pos Pos, about string, err error) {
	if pe, ok := err.(*placeError); ok {
		c.bad(pos, about+": "+pe.what, "", pe.hint)
		return
	}
	c.bad(pos, about+": "+err.Error(), "", "")
}

// where is the place of a key's value below something that starts at base, or that start itself. What a retrofit brought
// under the same name starts elsewhere, and keeps its own place.
func (c *checker) where(path string, base Pos, key string) Pos {
	if p, ok := c.f.places[path+"."+key]; ok && c.f.places[path] == base {
		return p
	}
	return base
}

func (c *checker) all() {
	c.modes = c.f.Modes()
	c.materials()
	c.parts()
	c.joints()
	modePos := c.f.places["mode"]
	if c.variant != "" {
		modePos = c.at // the retrofit may have changed it
	}
	c.mode(c.f.Mode, modePos, "mode")
	c.mode(c.f.AfterStop, c.f.places["after stop"], "after stop")
	if len(c.modes) > 0 && c.f.Mode == "" {
		c.bad(c.firstByMode(), "heats are given by mode, but the file does not say which mode it runs in", "", "add mode: "+c.modes[0])
	}
	c.sensors()
	c.battery()
	c.conditions(&c.f.Conditions, "conditions", "conditions")
	c.boundaries()
	c.expectations()
	if len(c.f.Boundaries) == 0 && len(c.f.Parts) > 0 && !c.makesHeat() && !c.broken["parts"] {
		c.odd(Pos{}, "nothing in this device makes heat", "give a part heat: 3 to 5 W, or heat: unknown")
	}
}

// Modes lists the modes that heats and other loads name, in file order.
func (f *File) Modes() []string {
	var out []string
	seen := map[string]bool{}
	add := func(b *ByMode) {
		for i := range b.Modes {
			if n := b.Modes[i].Name; !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	for i := range f.Parts {
		add(&f.Parts[i].Heat)
	}
	if f.Battery != nil {
		add(&f.Battery.OtherLoad)
	}
	return out
}

func (c *checker) firstByMode() Pos {
	for i := range c.f.Parts {
		if h := &c.f.Parts[i].Heat; len(h.Modes) > 0 {
			return h.Pos
		}
	}
	if c.f.Battery != nil {
		return c.f.Battery.OtherLoad.Pos
	}
	return Pos{}
}

func (h *ByMode) given() bool { return h.All.Given() || len(h.Modes) > 0 }

func (c *checker) makesHeat() bool {
	for i := range c.f.Parts {
		if c.f.Parts[i].Heat.given() {
			return true
		}
	}
	return c.f.Battery != nil && c.f.Battery.OwnHeat.Given()
}

// mode checks that a mode is one of those that heats name.
func (c *checker) mode(name string, pos Pos, about string) {
	if name == "" {
		return
	}
	for _, m := range c.modes {
		if m == name {
			return
		}
	}
	if c.broken["parts"] || c.broken["battery"] {
		return
	}
	if len(c.modes) == 0 {
		c.bad(pos, fmt.Sprintf("%s: there is no mode %q, because no heat is given by mode", about, name), "", "write a heat as {"+name+": 3 W}, or take the mode out")
		return
	}
	c.bad(pos, fmt.Sprintf("%s: there is no mode %q", about, name), "", orNearest(name, c.modes, ""))
}

func (c *checker) materials() {
	f := c.f
	used := map[string]bool{}
	for i := range f.Parts {
		used[f.Parts[i].Material], used[f.Parts[i].Finish] = true, true
	}
	for i := range f.Retrofits {
		for _, ch := range f.Retrofits[i].Changes {
			for _, p := range append(append([]Part(nil), ch.Add...), ch.Replace...) {
				used[p.Material], used[p.Finish] = true, true
			}
			if ch.Refinish != nil {
				used[ch.Refinish.Finish] = true
			}
		}
	}
	for i := range f.Materials {
		m := &f.Materials[i]
		if c.broken["materials."+m.Name] {
			continue
		}
		if m.Like != "" {
			if _, ok := material.Lookup(m.Like); !ok {
				c.bad(c.where("materials."+m.Name, m.Pos, "like"), fmt.Sprintf("material %q is like %q, which is not in the library", m.Name, m.Like), "", orNearest(m.Like, material.Names(), ""))
			}
		} else if _, ok := material.Lookup(m.Name); !ok {
			var missing []string
			for _, x := range []struct {
				q    Q
				name string
			}{{m.Conductivity, "conductivity"}, {m.Density, "density"}, {m.SpecificHeat, "specific heat"}} {
				if !x.q.Given() {
					missing = append(missing, x.name)
				}
			}
			if len(missing) > 0 {
				c.bad(m.Pos, fmt.Sprintf("material %q states no %s", m.Name, strings.Join(missing, ", no ")), "", "state it, write unknown, or name a library material it is like")
			}
		}
		if c.variant == "" && !used[m.Name] {
			c.odd(m.Pos, fmt.Sprintf("no part is made of material %q", m.Name), "")
		}
	}
	for i := range f.Finishes {
		if fin := &f.Finishes[i]; c.variant == "" && !used[fin.Name] {
			c.odd(fin.Pos, fmt.Sprintf("no part has finish %q", fin.Name), "")
		}
	}
}

func (c *checker) joints() {
	f := c.f
	pairs := map[[2]string]string{}
	for i := range f.Joints {
		j := &f.Joints[i]
		if !c.broken["joints."+j.Name] {
			c.joint(j)
		}
		if len(j.Between) != 2 {
			continue
		}
		pair := pairOf(j)
		if other, ok := pairs[pair]; ok {
			c.bad(j.Pos, fmt.Sprintf("joints %q and %q are both between %s and %s", other, j.Name, pair[0], pair[1]), "", "keep one of them")
		} else {
			pairs[pair] = j.Name
		}
	}
}

// pairOf is the two parts of a joint in alphabetical order.
func pairOf(j *Joint) [2]string {
	a, b := j.Between[0], j.Between[1]
	if a > b {
		a, b = b, a
	}
	return [2]string{a, b}
}

func (c *checker) joint(j *Joint) {
	about := fmt.Sprintf("joint %q", j.Name)
	if len(j.Between) != 2 {
		c.bad(j.Pos, fmt.Sprintf("%s is between %d parts", about, len(j.Between)), "expected two, such as between: [chip, plate]", "")
	} else {
		for _, name := range j.Between {
			if c.f.Part(name) == nil {
				c.badErr(c.where("joints."+j.Name, j.Pos, "between"), about, c.f.noPart(name))
			}
		}
		if j.Between[0] == j.Between[1] {
			c.bad(j.Pos, fmt.Sprintf("%s is between %q and itself", about, j.Between[0]), "", "name the two parts that touch")
		}
	}
	if j.Filler != "" {
		if _, ok := material.LookupFiller(j.Filler); !ok {
			c.bad(c.where("joints."+j.Name, j.Pos, "filler"), fmt.Sprintf("%s: the filler %q is not in the library", about, j.Filler), "", orNearest(j.Filler, material.FillerNames(), ""))
		}
	}
	if j.Kind != "" {
		if _, ok := joint.RangeOf(joint.Kind(j.Kind)); !ok {
			c.bad(c.where("joints."+j.Name, j.Pos, "kind"), fmt.Sprintf("%s: the kind %q is not known", about, j.Kind), "", orNearest(j.Kind, jointKinds(), ""))
		}
	}
	var ways []string
	for _, w := range []struct {
		given bool
		name  string
	}{{j.Filler != "", "filler"}, {j.Conductance.Given(), "conductance"}, {j.Pressure.Given(), "pressure"}, {j.Kind != "", "kind"}} {
		if w.given {
			ways = append(ways, w.name)
		}
	}
	fillerStated := j.Filler != "" && j.Conductance.Given() && len(ways) == 2 // the filler then only says what it is and what it stands
	switch {
	case len(ways) == 0:
		c.bad(j.Pos, about+" does not say what it is", "expected a filler, a conductance, a pressure or a kind", "write conductance: unknown when you do not know")
	case len(ways) > 1 && !fillerStated:
		c.bad(j.Pos, fmt.Sprintf("%s says %s: they exclude each other", about, strings.Join(ways, " and ")), "expected a filler (with a conductance, if it was measured), or a conductance, a pressure or a kind", "keep one")
	case j.Filler == "" && (j.Thickness.Given() || j.Conducts.Given()):
		c.bad(j.Pos, about+" has a thickness or conductivity but no filler", "", "add filler: and what fills the joint, such as thermal pad")
	case fillerStated && (j.Thickness.Given() || j.Conducts.Given()):
		c.bad(j.Pos, about+": its conductance says all that thickness and conductivity could", "", "take either out")
	}
}

func (c *checker) sensors() {
	f := c.f
	for i := range f.Sensors {
		s := &f.Sensors[i]
		about := fmt.Sprintf("sensor %q", s.Name)
		if c.broken["sensors."+s.Name] {
			continue
		}
		if _, err := ParsePlace(s.At, f); err != nil {
			c.badErr(c.where("sensors."+s.Name, s.Pos, "at"), about, err)
		}
		for _, name := range s.Acts {
			if p := f.Part(name); p == nil {
				c.badErr(s.Pos, about+" acts on", f.noPart(name))
			} else if !p.Heat.given() {
				c.bad(s.Pos, fmt.Sprintf("%s acts on %q, which makes no heat", about, name), "", "name the parts whose heat it cuts")
			}
		}
		if len(s.Acts) > 0 && len(s.Steps) == 0 {
			c.bad(s.Pos, about+" acts on parts but has no steps", "", "add steps, or take acts on out")
		}
		if !s.StopsAt.Given() && len(s.Steps) == 0 {
			c.odd(s.Pos, about+" does nothing", "give it stops at (unknown will do) or steps")
		}
		if s.Restarts.Given() && !s.StopsAt.Given() {
			c.bad(s.Pos, about+" restarts but never stops", "", "add stops at: unknown")
		}
		if s.Restarts.Kind != unit.Unknown && s.StopsAt.Kind != unit.Unknown && s.Restarts.Given() && s.StopsAt.Given() && s.Restarts.Mid >= s.StopsAt.Mid {
			c.bad(s.Restarts.Pos, fmt.Sprintf("%s restarts below %s, which is not below %s where it stops", about, temp(s.Restarts), temp(s.StopsAt)), "", "it has to cool before it starts again")
		}
		for k := range s.Steps {
			st := &s.Steps[k]
			n := fmt.Sprintf("step %d of %s", k+1, about)
			if st.BackBelow.Given() && known(st.BackBelow) && known(st.Above) && st.BackBelow.Mid >= st.Above.Mid {
				c.bad(st.BackBelow.Pos, fmt.Sprintf("%s is left below %s, which is not below %s where it is taken", n, temp(st.BackBelow), temp(st.Above)), "", "the device would jump to and fro")
			}
			if known(st.Above) && known(s.StopsAt) && s.StopsAt.Given() && st.Above.Mid >= s.StopsAt.Mid {
				c.bad(st.Above.Pos, fmt.Sprintf("%s comes at %s, but the device stops at %s already", n, temp(st.Above), temp(s.StopsAt)), "", "")
			}
			if k == 0 {
				continue
			}
			before := &s.Steps[k-1]
			if known(st.Above) && known(before.Above) && st.Above.Mid <= before.Above.Mid {
				c.bad(st.Above.Pos, fmt.Sprintf("%s comes at %s, not above the step before it (%s)", n, temp(st.Above), temp(before.Above)), "expected the coolest step first", "")
			}
			if st.Power.Mid >= before.Power.Mid {
				c.bad(st.Power.Pos, fmt.Sprintf("%s leaves %s of full power, not less than the step before it (%s)", n, percent(st.Power), percent(before.Power)), "expected shares of full power that get smaller", "")
			}
		}
	}
}

// known says whether a quantity can be held against another.
func known(q Q) bool { return q.Given() && q.Kind != unit.Unknown }

func temp(q Q) string    { return unit.Format(q.Mid, unit.Temperature) }
func percent(q Q) string { return fmt.Sprintf("%.3g %%", 100*q.Mid) }

func (c *checker) battery() {
	b := c.f.Battery
	if b == nil || c.broken["battery"] {
		return
	}
	if b.Part != "" {
		if c.f.Part(b.Part) == nil {
			c.badErr(c.where("battery", b.Pos, "part"), "battery", c.f.noPart(b.Part))
		}
	} else if b.OwnHeat.Given() || b.Limit.Given() {
		c.bad(b.Pos, "the battery's own heat and limit need a place", "", "add part: and the part that is the cell")
	}
}

func (c *checker) boundaries() {
	f := c.f
	for i := range f.Boundaries {
		b := &f.Boundaries[i]
		if c.broken["boundaries."+b.Name] {
			continue
		}
		about := fmt.Sprintf("boundary %q", b.Name)
		if f.Part(b.Name) != nil {
			c.bad(b.Pos, about+" has the name of a part", "", "name it otherwise, so that places stay clear")
		}
		part, face, hasFace := strings.Cut(b.Face, ".")
		if p := f.Part(part); p == nil {
			c.badErr(b.Pos, about, f.noPart(part))
		} else if hasFace {
			if err := p.hasFace(face); err != nil {
				c.badErr(b.Pos, about, err)
			}
		} else if len(b.Patch) > 0 {
			c.bad(b.Pos, about+" is a patch of a whole part", "", "name the face it lies on, such as "+part+".top")
		}
		if len(b.Offset) > 0 && len(b.Patch) == 0 {
			c.bad(b.Pos, about+" has an offset but no patch", "", "add patch, or take offset out")
		}
		film := b.Film.Given() || b.Resistance.Given()
		fixed := b.Temperature.Given()
		gain := b.Flux.Given() || b.Power.Given()
		switch {
		case !film && !fixed && !gain && !b.Emissivity.Given():
			c.bad(b.Pos, about+" states nothing", "expected a film, a surface resistance, a temperature, a flux, a power or radiates", "")
		case b.Film.Given() && b.Resistance.Given():
			c.bad(b.Pos, about+" has a film and a surface resistance: each is the other's inverse", "", "keep one")
		case b.Flux.Given() && b.Power.Given():
			c.bad(b.Pos, about+" has a flux and a power", "", "keep one")
		case fixed && (film || gain || b.Emissivity.Given() || b.Ambient.Given()):
			c.bad(b.Pos, about+" has a fixed temperature and something else, which can have no effect", "", "keep the temperature or the rest")
		case (film || b.Emissivity.Given()) && !b.Ambient.Given():
			c.bad(b.Pos, about+" does not say how warm it is beyond the surface", "", "add ambient: 20 °C")
		case b.Ambient.Given() && !film && !b.Emissivity.Given():
			c.bad(b.Pos, about+" has an ambient but neither film nor radiates", "", "add film, or take ambient out")
		}
		if b.Swing.Given() != b.Period.Given() {
			c.bad(b.Pos, about+" needs both swing and period, or neither", "", "")
		} else if b.Swing.Given() && !fixed {
			c.bad(b.Pos, about+" has a swing but no temperature to swing about", "", "add temperature")
		}
	}
}

// expectKinds are what an expectation can ask for, with the dimension of its figure.
func (e *Expect) asked() (names []string, place string, dim unit.Dim) {
	for _, k := range []struct {
		name, place string
		dim         unit.Dim
	}{
		{"temperature at", e.Temperature, unit.Temperature}, {"mean of", e.Mean, unit.Temperature}, {"highest of", e.Highest, unit.Temperature},
		{"rise at", e.Rise, unit.TemperatureDiff}, {"mean rise of", e.MeanRise, unit.TemperatureDiff}, {"heat through", e.Heat, unit.Power},
	} {
		if k.place != "" {
			names, place, dim = append(names, k.name), k.place, k.dim
		}
	}
	if e.TimeUntil != nil {
		names, place, dim = append(names, "time until"), e.TimeUntil.At, unit.Time
	}
	return names, place, dim
}

// TargetSI reads the published figure and its tolerance, in SI (kelvin for temperatures). Percentages are of the figure.
func (e *Expect) TargetSI() (target, within float64, dim unit.Dim, err error) {
	_, _, dim = e.asked()
	q, err := unit.Parse(e.Target, dim)
	if err != nil {
		return 0, 0, dim, fmt.Errorf("target: %w", err)
	}
	if q.Kind == unit.Unknown {
		return 0, 0, dim, fmt.Errorf("target: %q is no figure", e.Target)
	}
	if share, perr := unit.Parse(e.Within, unit.Ratio); perr == nil && strings.Contains(e.Within, "%") && dim != unit.Temperature {
		return q.Mid, share.Mid * math.Abs(q.Mid), dim, nil
	}
	diff := dim
	if dim == unit.Temperature {
		diff = unit.TemperatureDiff
	}
	w, err := unit.Parse(e.Within, diff)
	if err != nil {
		return 0, 0, dim, fmt.Errorf("within: %w", err)
	}
	if !(w.Mid > 0) || w.Kind == unit.Unknown {
		return 0, 0, dim, fmt.Errorf("within: %q is not above zero", e.Within)
	}
	return q.Mid, w.Mid, dim, nil
}

func (c *checker) expectations() {
	f := c.f
	ids := map[string]bool{}
	for i := range f.Expect {
		e := &f.Expect[i]
		if c.broken[fmt.Sprintf("expect.%d", i)] {
			continue
		}
		about := fmt.Sprintf("expectation %q", e.ID)
		if ids[e.ID] {
			c.bad(e.Pos, about+" is there twice", "", "give each its own id")
		}
		ids[e.ID] = true
		names, place, _ := e.asked()
		if len(names) != 1 {
			what := about + " asks for nothing"
			if len(names) > 1 {
				what = about + " asks for " + strings.Join(names, " and ")
			}
			c.bad(e.Pos, what, "expected one of temperature at, mean of, highest of, rise at, mean rise of, heat through, time until", "")
			continue
		}
		boundary := false
		for k := range f.Boundaries {
			boundary = boundary || f.Boundaries[k].Name == place
		}
		switch {
		case e.Heat != "" && !boundary:
			c.bad(e.Pos, fmt.Sprintf("%s: there is no boundary %q", about, place), "", "name one of this file's boundaries")
		case !boundary:
			if _, err := ParsePlace(place, f); err != nil {
				c.badErr(e.Pos, about, err)
			}
		}
		if (e.Rise != "" || e.MeanRise != "") && len(f.Boundaries) == 0 {
			c.bad(e.Pos, about+" asks for a rise, but there is no boundary whose ambient it could count from", "", "add a boundary with ambient")
		}
		if e.TimeUntil != nil && e.After.Given() {
			c.bad(e.Pos, about+" asks for a time and also gives one", "", "take after out")
		}
		if _, _, _, err := e.TargetSI(); err != nil {
			c.bad(e.Pos, about+": "+err.Error(), "", "")
		}
	}
}
