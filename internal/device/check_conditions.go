package device

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/unit"
)

// maxSunWm2 is more than the sun gives above the air: 1361 W/m2 at the mean distance (Kopp & Lean, Geophys. Res. Lett. 38,
// 2011), 3.4 % more in January.
const maxSunWm2 = 1410

// conditions checks those of the file or of a stock run; about names them for messages, path is where they stand.
func (c *checker) conditions(cond *Conditions, about, path string) {
	c.supports(cond, about)
	if c.broken["conditions"] || c.broken[path] {
		return
	}
	all := c.f.Under(cond)
	says, gives := " says", " gives" // a stock run; conditions are many
	if path == "conditions" {
		says, gives = " say", " give"
	}
	if cond.SunFrom.Given && !all.Sun.Given() {
		c.bad(cond.Pos, about+says+" where the sun stands, but not how strong it is", "", "add sun: 800 W/m2, or take sun from out")
	}
	if cond.WindFrom.Given && (all.Air.Still || !all.Air.Given) {
		c.bad(cond.WindFrom.Pos, about+says+" where the wind comes from, but the air is still", "", "add air: 5 m/s, or take wind from out")
	}
	if t := cond.Leaning; t != nil {
		if math.Max(math.Abs(t.By.Lo), math.Abs(t.By.Hi)) > 2*math.Pi+1e-9 {
			c.bad(t.By.Pos, fmt.Sprintf("%s, leaning: %q is more than a whole turn", about, t.By.Text), "expected an angle from -360 to 360 deg", "")
		}
		if axisOf(t.About) == axisOf(all.Up) {
			c.odd(t.Pos, fmt.Sprintf("%s, leaning: turning about %s changes nothing while %s points up", about, t.About, all.Up), "did you mean another axis?")
		}
	}
	for _, x := range []struct {
		q      Q
		name   string
		lo, hi float64 // K
	}{{cond.Sky, "sky", zeroC - 60, zeroC + 60}, {cond.Ground, "ground", zeroC - 60, zeroC + 90}} {
		if known(x.q) && (x.q.Mid < x.lo || x.q.Mid > x.hi) {
			c.odd(x.q.Pos, fmt.Sprintf("%s: a %s of %s is hardly found on earth", about, x.name, temp(x.q)), "is it in °F?")
		}
	}
	for _, x := range []struct {
		q    Q
		name string
	}{{cond.Sun, "sun"}, {cond.SkyLight, "sky light"}} {
		if known(x.q) && x.q.Mid > maxSunWm2 {
			c.odd(x.q.Pos, fmt.Sprintf("%s: %s of %s is more than the sun gives above the air, 1361 W/m²", about, x.name, unit.Format(x.q.Mid, unit.HeatFlux)), "look at the unit")
		}
	}
	if cond.Surroundings.Given() && cond.Sky.Given() && cond.Ground.Given() {
		c.odd(cond.Surroundings.Pos, about+gives+" sky and ground, so the surroundings have no effect", "take them out")
	}
}

// supports checks what the device rests on.
func (c *checker) supports(cond *Conditions, about string) {
	about += ", rests on"
	seen := map[string]bool{}
	for i := range cond.RestsOn {
		r := &cond.RestsOn[i]
		if r.What == "nothing" && len(cond.RestsOn) > 1 {
			c.bad(r.Pos, about+": nothing stands beside something", "", "take the entry out: a face that is not named touches nothing")
		}
		if r.Face == "" {
			if r.What != "nothing" && r.What != "" {
				c.bad(r.Pos, about+": it is not said which face touches the "+r.What, "expected a face such as shell.bottom", "add face: and the face")
			}
			continue
		}
		if seen[r.Face] {
			c.bad(r.Pos, fmt.Sprintf("%s: %q is given twice", about, r.Face), "", "keep one; with share: 40 % for a part of the face")
		}
		seen[r.Face] = true
		part, face, ok := strings.Cut(r.Face, ".")
		switch p := c.f.Part(part); {
		case !ok:
			c.bad(r.Pos, fmt.Sprintf("%s: %q is not a face", about, r.Face), "expected a face such as shell.bottom", "")
		case p == nil:
			c.badErr(r.Pos, about, c.f.noPart(part))
		default:
			if err := p.hasFace(face); err != nil {
				c.badErr(r.Pos, about, err)
			}
		}
	}
}
