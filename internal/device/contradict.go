package device

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"finwright/internal/unit"
)

// Finding is a place where the user's own figures cannot all be true, or would mean something the user may not expect.
type Finding struct {
	Pos  Pos
	Text string // what disagrees, with the numbers, what to look at, and the line
}

// Contradictions compares the user's figures with each other as far as that needs no geometry. A comparison is only
// reported when the 90 % intervals have nothing in common, so that honest doubt stays quiet.
func (f *File) Contradictions() []Finding {
	c := &crossCheck{f: f}
	for i := range f.Runs {
		r := &f.Runs[i]
		on := f
		if r.Retrofit != "" {
			var err error
			if on, _, err = f.Variant(r.Retrofit); err != nil {
				continue // not of a file that was read without errors
			}
		}
		c.energy(r, on)
		c.spots(r, on)
		c.order(r)
		for k := range f.Runs[:i] {
			if f.Runs[k].Retrofit == r.Retrofit {
				c.two(&f.Runs[k], r, on)
			}
		}
	}
	c.standing()
	return c.out
}

type crossCheck struct {
	f   *File
	out []Finding
}

func (c *crossCheck) add(pos Pos, hint, format string, args ...any) {
	c.out = append(c.out, Finding{Pos: pos, Text: fmt.Sprintf("%s; %s (line %d)", fmt.Sprintf(format, args...), hint, pos.Line)})
}

// says writes a quantity's interval in few digits.
func says(q unit.Quantity) string { return unit.FormatInterval(q.Lo, q.Mid, q.Hi, q.Dim) }

// In returns the power in a mode; a mode that is not named has none.
func (h *ByMode) In(mode string) Q {
	if h.All.Given() {
		return h.All
	}
	for i := range h.Modes {
		if h.Modes[i].Name == mode {
			return h.Modes[i].Q
		}
	}
	return Q{}
}

// modeOf is the mode a stock run was in.
func (f *File) modeOf(r *Run) string {
	if r.Mode != "" {
		return r.Mode
	}
	return f.Mode
}

// drawn is the power taken from the battery in a mode, W: the heats of all parts but the cell itself, and what leaves the
// device not as heat. Ends are added to ends, so the interval is rather too wide than too narrow. leastShare is the smallest
// share of full power that the device's own steps may leave.
func (f *File) drawn(mode string) (p unit.Quantity, leastShare float64, any bool) {
	leastShare = 1
	p.Dim, p.Kind = unit.Power, unit.Range
	add := func(q Q) {
		if q.Given() {
			p.Lo, p.Mid, p.Hi, any = p.Lo+q.Lo, p.Mid+q.Mid, p.Hi+q.Hi, true
		}
	}
	for i := range f.Parts {
		if f.Battery != nil && f.Parts[i].Name == f.Battery.Part {
			continue
		}
		add(f.Parts[i].Heat.In(mode))
	}
	if f.Battery != nil {
		add(f.Battery.OtherLoad.In(mode))
	}
	for i := range f.Sensors {
		for k := range f.Sensors[i].Steps {
			leastShare = math.Min(leastShare, f.Sensors[i].Steps[k].Power.Lo)
		}
	}
	return p, leastShare, any
}

// energy holds watts times minutes against the battery.
func (c *crossCheck) energy(r *Run, f *File) {
	b := f.Battery
	names, lasted := r.outcomes()
	if b == nil || len(names) != 1 || b.State == "charging" || b.State == "idle" {
		return
	}
	powerW, share, any := f.drawn(f.modeOf(r))
	if !any {
		return
	}
	if least := powerW.Lo * share; least > 0 && lasted.Lo*least > b.Energy.Hi {
		c.add(lasted.Pos, "look at the battery's energy, at the heats, and whether it was fed from outside (battery state)",
			"%s %s %s, but drawing at least %s a battery of at most %s is empty after %s",
			r.about(), words(names[0]), says(lasted.Quantity), unit.Format(least, unit.Power), unit.Format(b.Energy.Hi, unit.Energy), unit.Format(b.Energy.Hi/least, unit.Time))
	}
	if r.EmptyAfter.Given() && powerW.Hi > 0 && lasted.Hi*powerW.Hi < b.Energy.Lo {
		c.add(lasted.Pos, "a load is missing (other load: light, radio), or the battery holds less than its label says",
			"%s ran the battery empty in %s, but drawing at most %s that takes only %s of at least %s",
			r.about(), says(lasted.Quantity), unit.Format(powerW.Hi, unit.Power), unit.Format(lasted.Hi*powerW.Hi, unit.Energy), unit.Format(b.Energy.Lo, unit.Energy))
	}
}

// words turns an outcome's key into a verb: "stops after" reads on as it is.
func words(outcome string) string {
	switch outcome {
	case "stops after":
		return "stops by itself after"
	case "still running after":
		return "is still running after"
	}
	return "has its battery empty after"
}

// Under fills the conditions of a run up from the file's own; those of the file itself come back as they are. What no one
// states stays absent, except Up. Some keys hang together, and a run that states the first of a pair is not given the
// file's second: surroundings before sky and ground, sun before sky light, held with up before leaning.
func (f *File) Under(c *Conditions) Conditions {
	out, d := *c, &f.Conditions
	fill := func(q *Q, from Q, wanted bool) {
		if wanted && !q.Given() {
			*q = from
		}
	}
	fill(&out.Ambient, d.Ambient, true)
	fill(&out.Surroundings, d.Surroundings, true)
	fill(&out.Sky, d.Sky, !c.Surroundings.Given())
	fill(&out.Ground, d.Ground, !c.Surroundings.Given())
	fill(&out.Sun, d.Sun, true)
	fill(&out.SkyLight, d.SkyLight, !c.Sun.Given())
	fill(&out.GroundReflects, d.GroundReflects, true)
	fill(&out.Altitude, d.Altitude, true)
	if !out.Air.Given {
		out.Air = d.Air
	}
	if !out.WindFrom.Given {
		out.WindFrom = d.WindFrom
	}
	if !out.SunFrom.Given {
		out.SunFrom = d.SunFrom
	}
	if out.Leaning == nil && c.Up == "" {
		out.Leaning = d.Leaning
	}
	for _, up := range []string{d.Up, f.Up, DefaultUp} {
		if out.Up == "" {
			out.Up = up
		}
	}
	if out.RestsOn == nil {
		out.RestsOn = d.RestsOn
	}
	return out
}

// During is this device under the conditions of a run, but in air of another temperature.
func (f *File) During(run *Conditions, ambient Q) *File {
	g := *f
	g.Conditions = f.Under(run)
	g.Conditions.Ambient = ambient
	return &g
}

// OnBench is this device in a room: still air or a fan's, no sun, no sky, and nothing around it of another temperature than the air's.
// Posture and what it lies on stay.
func (f *File) OnBench(ambient Q, windMS float64) *File {
	g := *f
	c := &g.Conditions
	none := Q{Quantity: unit.ExactSI(0, unit.HeatFlux)}
	c.Sun, c.SkyLight = none, none
	c.SunFrom, c.WindFrom = Direction{}, Direction{}
	c.Sky, c.Ground, c.Surroundings, c.GroundReflects = Q{}, Q{}, Q{}, Q{}
	c.Ambient, c.Air = ambient, Air{Given: true, Still: true}
	if windMS > 0 {
		c.Air = Air{Given: true, Speed: Q{Quantity: unit.ExactSI(windMS, unit.Velocity)}}
	}
	return &g
}

// Indoors are the keys that a run in the file must state to be on a bench, besides ambient and air: without them it would be given the sun,
// sky and ground of the file's own place. room is its temperature as text.
func (f *File) Indoors(room string) []string {
	c := &f.Conditions
	if !(c.Sun.Given() || c.SkyLight.Given() || c.Surroundings.Given() || c.Sky.Given() || c.Ground.Given()) {
		return nil
	}
	return []string{"sun: 0 W/m2", "surroundings: " + room}
}

// Supports are the contacts of conditions, without those that say "nothing".
func (c *Conditions) Supports() []RestsOn {
	var out []RestsOn
	for _, r := range c.RestsOn {
		if r.What != "nothing" {
			out = append(out, r)
		}
	}
	return out
}

// conditionsOf fills a stock run's conditions up from the file's own, ambient and air from the defaults too.
func (f *File) conditionsOf(r *Run) (ambient unit.Quantity, c Conditions) {
	c = f.Under(&r.Conditions)
	if !c.Ambient.Given() {
		c.Ambient.Quantity = unit.ExactSI(DefaultAmbientK, unit.Temperature)
	}
	if !c.Air.Given {
		c.Air.Still = true
	}
	return c.Ambient.Quantity, c
}

// spots holds readings against the air and against the stop temperature.
func (c *crossCheck) spots(r *Run, f *File) {
	ambient, _ := f.conditionsOf(r)
	names, lasted := r.outcomes()
	for k := range r.Spots {
		s := &r.Spots[k]
		coldStart := r.Start.Given() && r.Start.Lo < ambient.Lo || f.Start.Given() && f.Start.Lo < ambient.Lo
		if s.Reads.Hi < ambient.Lo && !coldStart {
			c.add(s.Reads.Pos, "look at the logger and the ambient; for a device that started cold add start",
				"%s: %s read %s in air of %s: nothing in it can be colder than the air", r.about(), s.At, says(s.Reads.Quantity), says(ambient))
		}
		if len(names) != 1 || s.After.Lo > lasted.Hi {
			continue // it was off, and may soak hotter than it ever ran
		}
		for n := range f.Sensors {
			sensor := &f.Sensors[n]
			if sensor.StopsAt.Given() && sensor.At == s.At && s.Reads.Lo > sensor.StopsAt.Hi {
				c.add(s.Reads.Pos, "the sensor reads less than that place has, or stops at is too low, or the reading too high",
					"%s: %s read %s while it ran, but sensor %q there stops it at %s", r.about(), s.At, says(s.Reads.Quantity), sensor.Name, says(sensor.StopsAt.Quantity))
			}
		}
	}
}

// order finds a first power step that comes after the end.
func (c *crossCheck) order(r *Run) {
	names, lasted := r.outcomes()
	if r.DimsAfter.Given() && len(names) == 1 && r.DimsAfter.Lo > lasted.Hi {
		c.add(r.DimsAfter.Pos, "one of the two times is wrong", "%s: its first power step came after %s, but it %s %s",
			r.about(), says(r.DimsAfter.Quantity), words(names[0]), says(lasted.Quantity))
	}
}

// alike says whether two quantities may be the same; both absent counts.
func alike(a, b Q) bool {
	if a.Given() != b.Given() {
		return false
	}
	return !a.Given() || !disjoint(a.Quantity, b.Quantity)
}

// sameButAir says whether two runs took place alike, leaving the air aside.
func (f *File) sameButAir(a, b *Run) bool {
	_, ca := f.conditionsOf(a)
	_, cb := f.conditionsOf(b)
	return f.modeOf(a) == f.modeOf(b) && alike(ca.Ambient, cb.Ambient) && alike(ca.Surroundings, cb.Surroundings) &&
		alike(ca.Sky, cb.Sky) && alike(ca.Ground, cb.Ground) && alike(ca.Sun, cb.Sun) && ca.SunFrom.Dir == cb.SunFrom.Dir &&
		alike(ca.SkyLight, cb.SkyLight) && alike(ca.GroundReflects, cb.GroundReflects) && alike(ca.Altitude, cb.Altitude) &&
		ca.Up == cb.Up && sameTurn(ca.Leaning, cb.Leaning) && sameSupports(ca.Supports(), cb.Supports()) && alike(a.Start, b.Start)
}

func sameTurn(a, b *Turn) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.About == b.About && alike(a.By, b.By)
}

// sameSupports compares what holds the device, in any order.
func sameSupports(a, b []RestsOn) bool {
	if len(a) != len(b) {
		return false
	}
	for _, x := range a {
		if !slices.ContainsFunc(b, func(y RestsOn) bool { return x.Face == y.Face && x.What == y.What && alike(x.Share, y.Share) }) {
			return false
		}
	}
	return true
}

// two holds two runs of one device against each other.
func (c *crossCheck) two(a, b *Run, f *File) {
	na, ta := a.outcomes()
	nb, tb := b.outcomes()
	if len(na) != 1 || len(nb) != 1 {
		return
	}
	// Whatever the air: a run that stops by heat cannot outlast the battery in the same mode.
	for _, p := range []struct{ stop, empty *Run }{{a, b}, {b, a}} {
		if p.stop.StopsAfter.Given() && p.empty.EmptyAfter.Given() && f.modeOf(a) == f.modeOf(b) && p.stop.StopsAfter.Lo > p.empty.EmptyAfter.Hi {
			c.add(p.stop.StopsAfter.Pos, "perhaps the battery was empty, and it was no stop from heat",
				"%s stops by itself after %s, but %s has its battery empty after %s already", p.stop.about(), says(p.stop.StopsAfter.Quantity), p.empty.about(), says(p.empty.EmptyAfter.Quantity))
		}
	}
	if !f.sameButAir(a, b) {
		return
	}
	_, ca := f.conditionsOf(a)
	_, cb := f.conditionsOf(b)
	sameAir := ca.Air.Still == cb.Air.Still && alike(ca.Air.Speed, cb.Air.Speed) && ca.WindFrom.Dir == cb.WindFrom.Dir
	if sameAir {
		conflict := false
		switch {
		case na[0] == nb[0] && na[0] != "still running after":
			conflict = disjoint(ta.Quantity, tb.Quantity)
		case na[0] == "stops after" && nb[0] != "stops after":
			conflict = tb.Lo > ta.Hi
		case nb[0] == "stops after" && na[0] != "stops after":
			conflict = ta.Lo > tb.Hi
		case na[0] == "battery empty after" && nb[0] == "still running after":
			conflict = tb.Lo > ta.Hi
		case nb[0] == "battery empty after" && na[0] == "still running after":
			conflict = ta.Lo > tb.Hi
		}
		if conflict {
			c.add(tb.Pos, "something differed: the start temperature, what it lay on, the mode, the charge; say so, or widen the times",
				"%s and %s were alike, but one %s %s and the other %s %s", a.about(), b.about(), words(na[0]), says(ta.Quantity), words(nb[0]), says(tb.Quantity))
		}
		return
	}
	// The same minutes in still air and in wind: metal will not help a device that does not stop from heat.
	still, wind := a, b
	if !ca.Air.Still {
		still, wind, ca, cb = b, a, cb, ca
	}
	if ca.Air.Still && !cb.Air.Still && cb.Air.Speed.Lo >= 1 && still.StopsAfter.Given() && wind.StopsAfter.Given() && wind.StopsAfter.Hi < 1.1*still.StopsAfter.Mid {
		c.add(wind.StopsAfter.Pos, "it may stop by a time account, a low voltage or a cracked joint: find out before cutting metal",
			"it stops after %s in still air and after %s in air of %s: a stop from heat would come later in wind", says(still.StopsAfter.Quantity), says(wind.StopsAfter.Quantity), says(cb.Air.Speed.Quantity))
	}
}

// standing checks figures that do not depend on a run.
func (c *crossCheck) standing() {
	f := c.f
	if b := f.Battery; b != nil && b.Limit.Given() {
		switch {
		case b.State != "charging" && b.Limit.Hi < zeroC+46:
			c.add(b.Limit.Pos, "lithium cells usually stand 45 °C while charging and 60 °C while discharging: look at the data sheet",
				"the battery is not charging, but its limit of %s is one for charging", says(b.Limit.Quantity))
		case b.State == "charging" && b.Limit.Lo > zeroC+46:
			c.add(b.Limit.Pos, "lithium cells usually stand 45 °C while charging: look at the data sheet",
				"the battery is charging, but its limit of %s is one for discharging", says(b.Limit.Quantity))
		}
	}
	ambient := f.Conditions.Ambient
	for i := range f.Sensors {
		s := &f.Sensors[i]
		if s.StopsAt.Given() && ambient.Given() && s.StopsAt.Hi < ambient.Lo {
			c.add(s.StopsAt.Pos, "is one of them in °F?", "sensor %q stops the device at %s, below the air of %s: it would never start", s.Name, says(s.StopsAt.Quantity), says(ambient.Quantity))
		}
	}
	for _, l := range []struct {
		q    Q
		name string
	}{{f.Limits.Skin, "skin"}, {f.Limits.Hand, "hand"}} {
		if l.q.Given() && ambient.Given() && l.q.Hi < ambient.Lo {
			c.add(l.q.Pos, "is one of them in °F?", "the %s limit of %s is below the air of %s", l.name, says(l.q.Quantity), says(ambient.Quantity))
		}
	}
	for i := range f.Parts {
		for _, q := range append(append(Vec(nil), f.Parts[i].Box...), f.Parts[i].Plate...) {
			if q.Mid > 1 && len(f.Boundaries) == 0 {
				c.add(q.Pos, "was mm meant?", "part %q is %s long, which no hand holds", f.Parts[i].Name, strings.TrimSpace(says(q.Quantity)))
			}
		}
	}
}
