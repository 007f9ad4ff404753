package device

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestDirections(t *testing.T) {
	for _, tc := range []struct {
		text string
		want [3]float64
	}{
		{"+x", [3]float64{1, 0, 0}}, {"-x", [3]float64{-1, 0, 0}}, {"-y", [3]float64{0, -1, 0}}, {"+z", [3]float64{0, 0, 1}},
		{"[0, 0, 2]", [3]float64{0, 0, 1}},
		{"[3, 0, -4]", [3]float64{0.6, 0, -0.8}},
		{"[1, 2, 2]", [3]float64{1. / 3, 2. / 3, 2. / 3}},
		{"[1e300, 1e300, 0.0]", [3]float64{math.Sqrt2 / 2, math.Sqrt2 / 2, 0}}, // squares would overflow
		{"[0, 5e-324, 0]", [3]float64{0, 1, 0}},                                // squares would vanish
		{"[+0.5, -.5, 0]", [3]float64{math.Sqrt2 / 2, -math.Sqrt2 / 2, 0}},
	} {
		f := lamp(t, "conditions: {air: 5 m/s, sun: 800 W/m2, sun from: "+tc.text+", wind from: "+tc.text+"}\n")
		for name, d := range map[string]Direction{"sun": f.Conditions.SunFrom, "wind": f.Conditions.WindFrom} {
			off := 0.0
			for i := range d.Dir {
				off = math.Max(off, math.Abs(d.Dir[i]-tc.want[i]))
			}
			if !d.Given || off > 1e-15 || d.Pos.Line != 5 {
				t.Errorf("%s from %s: %+v, want %v", name, tc.text, d, tc.want)
			}
		}
	}
	f := lamp(t, "conditions: {air: 5 m/s}\n")
	if f.Conditions.SunFrom.Given || f.Conditions.WindFrom.Given {
		t.Error("a direction out of nothing")
	}
}

func TestDirectionAlongAnAxis(t *testing.T) {
	for i, word := range axisWords {
		f := lamp(t, "conditions: {air: 5 m/s, wind from: "+word+"}\n")
		if axis, sign, ok := f.Conditions.WindFrom.Axis(); !ok || axis != i/2 || sign != 1-2*(i%2) {
			t.Errorf("%s: axis %d, sign %d, %v", word, axis, sign, ok)
		}
	}
	f := lamp(t, "conditions: {air: 5 m/s, wind from: [1, 0, 0.001]}\n")
	if _, _, ok := f.Conditions.WindFrom.Axis(); ok {
		t.Error("a slanting direction is along no axis")
	}
	if _, _, ok := (Direction{}).Axis(); ok {
		t.Error("no direction is along no axis")
	}
}

// The angle counts counter-clockwise seen from the axis' positive end, the device being what turns. The wanted vectors are
// worked out by hand: where the room's upward direction then lies in the device's axes.
func TestUpOfALeaningDevice(t *testing.T) {
	half := math.Sqrt(3) / 2
	for _, tc := range []struct {
		conditions string
		want       [3]float64
	}{
		{"{}", [3]float64{0, 1, 0}},
		{"{held with up: -z}", [3]float64{0, 0, -1}},
		{"{leaning: {by: 30 deg, about: x}}", [3]float64{0, half, -0.5}}, // front looks 30° down
		{"{leaning: {by: -30 deg, about: x}}", [3]float64{0, half, 0.5}}, // front looks 30° up
		{"{leaning: {by: -90 deg, about: x}}", [3]float64{0, 0, 1}},      // laid on its back
		{"{leaning: {by: 90 deg, about: z}}", [3]float64{1, 0, 0}},       // laid on its left side
		{"{held with up: +x, leaning: {by: 90 deg, about: z}}", [3]float64{0, -1, 0}},
		{"{held with up: -z, leaning: {by: 60 deg, about: y}}", [3]float64{half, 0, -0.5}},
		{"{leaning: {by: 360 deg, about: z}}", [3]float64{0, 1, 0}},
	} {
		f := lamp(t, "conditions: "+tc.conditions+"\n")
		c := f.Under(&f.Conditions)
		got := c.UpDir(nil)
		for i := range got {
			if math.Abs(got[i]-tc.want[i]) > 1e-15 {
				t.Errorf("%s: up is %v, want %v", tc.conditions, got, tc.want)
				break
			}
		}
	}
	f := lamp(t, "conditions: {leaning: {by: 20 to 40 deg, about: x}}\n")
	c := f.Under(&f.Conditions)
	if got := c.UpDir(Values{"conditions.leaning.by": math.Pi / 2}); math.Abs(got[2]+1) > 1e-15 {
		t.Errorf("another angle gives %v", got)
	}
}

// Whatever the posture, up stays a unit vector and its component along the axis turned about stays what it was.
func TestUpKeepsItsLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Conditions{Up: rapid.SampledFrom(axisWords).Draw(t, "up"), Leaning: &Turn{About: rapid.SampledFrom([]string{"x", "y", "z"}).Draw(t, "about")}}
		before := (&Conditions{Up: c.Up}).UpDir(nil)
		c.Leaning.By.Path = "by"
		up := c.UpDir(Values{"by": rapid.Float64Range(-7, 7).Draw(t, "angle")})
		axis := axisOf(c.Leaning.About)
		if n := math.Hypot(math.Hypot(up[0], up[1]), up[2]); math.Abs(n-1) > 1e-14 || up[axis] != before[axis] {
			t.Fatalf("%v of length %v", up, n)
		}
	})
}

func TestRestsOnListOrOne(t *testing.T) {
	type held struct {
		face, what string
		share      float64 // 0: not given
	}
	for _, tc := range []struct {
		text  string
		given bool // the key says something, if only "nothing"
		want  []held
	}{
		{"", false, nil},
		{"rests on:", false, nil},
		{"rests on: []", true, nil},
		{"rests on: {what: nothing}", true, nil},
		{"rests on: {face: a.back, what: nothing}", true, nil},
		{"rests on: [{what: nothing}]", true, nil},
		{"rests on: {face: a.back, what: wood}", true, []held{{"a.back", "wood", 0}}},
		{"rests on: {face: a.back, what: hand, share: 40 %}", true, []held{{"a.back", "hand", 0.4}}},
		{"rests on: [{face: a.back, what: glass}]", true, []held{{"a.back", "glass", 0}}},
		{"rests on:\n    face: a.back\n    what: paper", true, []held{{"a.back", "paper", 0}}},
		{"rests on:\n    what: nothing", true, nil},
		{"rests on:\n    - {face: a.left, what: hand, share: 1}\n    - {face: a.right, what: hand, share: 0.4 ± 0.1}\n    - {face: a.bottom, what: tripod}", true,
			[]held{{"a.left", "hand", 1}, {"a.right", "hand", 0.4}, {"a.bottom", "tripod", 0}}},
	} {
		f := lamp(t, "conditions:\n  altitude: 0 m\n  "+tc.text+"\n")
		if (f.Conditions.RestsOn != nil) != tc.given {
			t.Errorf("%q: given %v", tc.text, f.Conditions.RestsOn != nil)
		}
		var got []held
		for _, r := range f.Conditions.Supports() {
			got = append(got, held{r.Face, r.What, r.Share.Mid})
			if r.Pos.Line == 0 || r.Share.Given() != (r.Share.Mid > 0) {
				t.Errorf("%q: %+v", tc.text, r)
			}
		}
		if !reflect.DeepEqual(got, tc.want) {
			t.Errorf("%q: %v, want %v", tc.text, got, tc.want)
		}
	}
}

// Each share has a path of its own, also when the support stands alone, and may be unknown.
func TestShareIsAmongTheDoubts(t *testing.T) {
	f := lamp(t, "conditions: {rests on: [{face: a.left, what: hand}, {face: a.right, what: hand, share: unknown}]}\nstock runs: [{rests on: {face: a.back, what: wood, share: 50 to 80 %}, still running after: 9 min}]\n")
	var got []string
	for _, q := range f.Doubtful() {
		got = append(got, q.Path)
	}
	if want := []string{"conditions.rests on.1.share", "stock runs.0.rests on.0.share"}; !reflect.DeepEqual(got, want) {
		t.Errorf("doubts %q, want %q", got, want)
	}
	for _, a := range f.Assumptions() {
		if a.Path == "conditions.rests on.1.share" {
			if a.About != "share of support 2" || !strings.HasPrefix(a.Source, "unknown in the file") {
				t.Errorf("%+v", a)
			}
			return
		}
	}
	t.Error("what stands for unknown is not told")
}

// A run takes over what it does not state, but not what would contradict what it does.
func TestUnder(t *testing.T) {
	const file = `up: +z
conditions:
  ambient: 30 °C
  air: 4 m/s
  wind from: +x
  sky: -5 °C
  ground: 40 °C
  sun: 800 W/m2
  sun from: [1, 2, 0.5]
  sky light: 90 W/m2
  ground reflects: 0.3
  altitude: 500 m
  leaning: {by: 30 deg, about: x}
  rests on: {face: a.back, what: tripod}
`
	for _, tc := range []struct {
		name, run string
		check     func(c *Conditions) bool
	}{
		{"all of it", "", func(c *Conditions) bool {
			return c.Ambient.Given() && c.Air.Speed.Mid == 4 && c.WindFrom.Given && c.Sky.Given() && c.Ground.Given() && c.Sun.Mid == 800 && c.SunFrom.Given &&
				c.SkyLight.Mid == 90 && c.GroundReflects.Mid == 0.3 && c.Altitude.Mid == 500 && c.Leaning != nil && len(c.RestsOn) == 1 && c.Up == "+z"
		}},
		{"indoors", "surroundings: 22 °C", func(c *Conditions) bool { return c.Surroundings.Given() && !c.Sky.Given() && !c.Ground.Given() }},
		{"another ground", "ground: 20 °C", func(c *Conditions) bool { return c.Sky.Given() && math.Abs(c.Ground.Mid-293.15) < 1e-9 }},
		{"at night", "sun: 0 W/m2", func(c *Conditions) bool {
			return c.Sun.Given() && c.Sun.Mid == 0 && !c.SkyLight.Given() && c.GroundReflects.Given()
		}},
		{"sun behind a cloud", "sky light: 200 W/m2", func(c *Conditions) bool { return c.Sun.Mid == 800 && c.SkyLight.Mid == 200 }},
		{"upright", "held with up: +y", func(c *Conditions) bool { return c.Up == "+y" && c.Leaning == nil }},
		{"leaning more", "leaning: {by: 60 deg, about: x}", func(c *Conditions) bool { return c.Up == "+z" && math.Abs(c.Leaning.By.Mid-math.Pi/3) < 1e-15 }},
		{"hung up", "rests on: []", func(c *Conditions) bool { return c.RestsOn != nil && len(c.Supports()) == 0 }},
		{"in the hand", "rests on: {face: a.left, what: hand}", func(c *Conditions) bool { return len(c.RestsOn) == 1 && c.RestsOn[0].What == "hand" }},
		{"no wind", "air: still", func(c *Conditions) bool { return c.Air.Still }},
	} {
		run := tc.run
		if run != "" {
			run += ", "
		}
		f := lamp(t, file+"stock runs: [{"+run+"still running after: 9 min}]\n")
		c := f.Under(&f.Runs[0].Conditions)
		if !tc.check(&c) {
			t.Errorf("%s: %+v", tc.name, c)
		}
		own := f.Under(&f.Conditions)
		own.Up = f.Conditions.Up
		if diff := cmp.Diff(f.Conditions, own); diff != "" {
			t.Errorf("the file's own conditions change: %s", diff)
		}
	}
}

// A retrofit's device is in the same conditions as the stock one.
func TestVariantKeepsTheConditions(t *testing.T) {
	f := lamp(t, `limits: {hand: 43 °C}
conditions:
  air: 4 m/s
  wind from: [1, 0, 1]
  sky: -5 °C
  ground: 40 °C
  sun: 800 W/m2
  sun from: [1, 2, 0.5]
  sky light: 90 W/m2
  ground reflects: 0.3
  leaning: {by: 30 deg, about: x}
  rests on: [{face: b.back, what: tripod, share: 30 %}, {face: a.left, what: glass}]
retrofits:
  shaded: {changes: [{add: {shade: {material: ABS, plate: 50 x 50 mm, thickness: 1 mm, on: a.front, gap: 4 mm, held apart: yes}}}]}
`)
	v, _ := mustVariant(t, f, "shaded")
	if diff := cmp.Diff(f.Conditions, v.Conditions); diff != "" {
		t.Error(diff)
	}
	if v.Limits != f.Limits || !v.Part("shade").HeldApart {
		t.Errorf("%+v, %+v", v.Limits, v.Part("shade"))
	}
	v.Conditions.RestsOn[0].Face, v.Conditions.Leaning.About = "x", "z"
	if f.Conditions.RestsOn[0].Face != "b.back" || f.Conditions.Leaning.About != "x" {
		t.Error("a variant shares memory with the stock device")
	}
	f = lamp(t, "conditions: {rests on: []}\nretrofits: {r: {changes: [{refinish: {part: a, finish: black anodised}}]}}\n")
	if v, _ := mustVariant(t, f, "r"); v.Conditions.RestsOn == nil {
		t.Error("an empty list became none")
	}
}

func TestYesAndNo(t *testing.T) {
	for text, want := range map[string]bool{"yes": true, "true": true, "no": false, "false": false} {
		f, err := Parse("x.yaml", []byte("invented: "+text+"\n"+lampBase))
		if err != nil || f.Invented != want {
			t.Errorf("%s: %v", text, err)
		}
	}
}

func TestOddConditions(t *testing.T) {
	for _, tc := range []struct{ conditions, want string }{
		{"{sky: 70 °C}", "conditions: a sky of 70 °C is hardly found on earth"},
		{"{sky: -70 °C}", "conditions: a sky of -70 °C is hardly found on earth"},
		{"{sky: -55 °C}", ""},
		{"{sky: unknown}", ""},
		{"{ground: 104 °C}", "conditions: a ground of 104 °C is hardly found on earth"},
		{"{ground: 65 °C}", ""},
		{"{sun: 1500 W/m2}", "conditions: sun of 1500 W/m² is more than the sun gives above the air, 1361 W/m²"},
		{"{sun: 1400 W/m2}", ""}, // the sun in January, with nothing in between
		{"{sky light: 2 kW/m2}", "conditions: sky light of 2000 W/m² is more than the sun gives above the air, 1361 W/m²"},
		{"{sky light: 100 W/m2}", ""}, // no sun, but a sky
		{"{leaning: {by: 20 deg, about: y}}", "conditions, leaning: turning about y changes nothing while +y points up"},
		{"{held with up: -x, leaning: {by: 20 deg, about: x}}", "conditions, leaning: turning about x changes nothing while -x points up"},
		{"{leaning: {by: 360 deg, about: x}}", ""},
		{"{surroundings: 20 °C, sky: 0 °C, ground: 20 °C}", "conditions give sky and ground, so the surroundings have no effect"},
		{"{surroundings: 20 °C, sky: 0 °C}", ""},
	} {
		f := lamp(t, "conditions: "+tc.conditions+"\n")
		var got []string
		for _, w := range f.Warnings {
			got = append(got, w.What)
			if w.Pos.Line != 5 {
				t.Errorf("%s: %+v has no place", tc.conditions, w)
			}
		}
		if strings.Join(got, "; ") != tc.want {
			t.Errorf("%s: warned %q, want %q", tc.conditions, got, tc.want)
		}
	}
}
