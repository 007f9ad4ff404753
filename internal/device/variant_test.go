package device

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

// partList is the parts' names in order.
func partList(f *File) string { return strings.Join(f.partNames(), " ") }

func mustVariant(t *testing.T, f *File, name string) (*File, []string) {
	t.Helper()
	v, notes, err := f.Variant(name)
	if err != nil {
		t.Fatal(err)
	}
	return v, notes
}

func TestVariantOfEachChange(t *testing.T) {
	f := lamp(t, `  c: {material: ABS, box: 5 x 5 x 5 mm, on: b.front}
joints:
  c-b: {between: [c, b], kind: resting}
  b-a: {between: [b, a], kind: resting}
conditions: {ambient: 25 °C}
stock runs: [{still running after: 30 min}]
retrofits:
  removed: {changes: [{remove: c}]}
  added: {changes: [{add: {d: {material: POM, box: 5 x 5 x 5 mm, on: c.front}, e: {material: POM, box: 1 x 1 x 1 mm, on: d.front}}}]}
  replaced: {changes: [{replace: {b: {material: copper C110, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 2 W}}}]}
  rejoined: {changes: [{rejoin: {new: {between: [b, c], filler: thermal paste}}}]}
  rejoined by name: {changes: [{rejoin: {c-b: {between: [c, a], filler: thermal paste}}}]}
  joined: {changes: [{rejoin: {c-a: {between: [c, a], filler: thermal paste}}}]}
  refinished: {changes: [{refinish: {part: a, finish: black anodised}}]}
  again: {changes: [{remove: c}, {add: {c: {material: POM, box: 2 x 2 x 2 mm, on: b.front}}}]}
`)
	before := clone(f)
	names := func(f *File) string {
		var out []string
		for _, j := range f.Joints {
			out = append(out, j.Name)
		}
		return strings.Join(out, " ")
	}
	v, notes := mustVariant(t, f, "removed")
	if partList(v) != "a b" || names(v) != "b-a" || len(notes) != 1 || notes[0] != `joint "c-b" goes with "c", which is taken off` {
		t.Errorf("removed: %s, %s, %q", partList(v), names(v), notes)
	}
	if len(v.Runs) != 0 || len(v.Retrofits) != 0 {
		t.Error("a variant carries what was seen on the stock device")
	}
	v, _ = mustVariant(t, f, "added")
	if partList(v) != "a b c d e" {
		t.Errorf("added: %s", partList(v))
	}
	v, _ = mustVariant(t, f, "replaced")
	if partList(v) != "a b c" || v.Part("b").Material != "copper C110" || v.Part("b").Heat.All.Mid != 2 {
		t.Errorf("replaced: %s, %+v", partList(v), v.Part("b"))
	}
	v, notes = mustVariant(t, f, "rejoined")
	if names(v) != "new b-a" || v.Joints[0].Filler != "thermal paste" || v.Joints[0].Kind != "" || len(notes) != 1 {
		t.Errorf("rejoined: %s, %q", names(v), notes)
	}
	v, notes = mustVariant(t, f, "rejoined by name")
	if names(v) != "c-b b-a" || !reflect.DeepEqual(v.Joints[0].Between, []string{"c", "a"}) || len(notes) != 1 {
		t.Errorf("rejoined by name: %s, %q", names(v), notes)
	}
	if v, _ = mustVariant(t, f, "joined"); names(v) != "c-b b-a c-a" {
		t.Errorf("joined: %s", names(v))
	}
	if v, _ = mustVariant(t, f, "refinished"); v.Part("a").Finish != "black anodised" || f.Part("a").Finish != "" {
		t.Error("refinished")
	}
	if v, _ = mustVariant(t, f, "again"); partList(v) != "a b c" || v.Part("c").Material != "POM" {
		t.Errorf("again: %s", partList(v))
	}
	v, notes = mustVariant(t, f, "")
	if !reflect.DeepEqual(v, f) || notes != nil {
		t.Error("the stock variant is not the device itself")
	}
	v.Parts[0].Box[0].Mid = 7
	v.Runs[0].Name = "x"
	if !reflect.DeepEqual(f, before) {
		t.Error("making variants changed the file they are made from")
	}
}

func TestVariantMode(t *testing.T) {
	f, err := Parse("x.yaml", []byte("mode: high\n"+partBase+"{material: ABS, box: 1 x 1 x 1 mm, heat: {high: 3 W, low: 1 W}}\nretrofits: {slow: {changes: [{mode: low}]}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if v, _ := mustVariant(t, f, "slow"); v.Mode != "low" || f.Mode != "high" {
		t.Errorf("mode %q, stock %q", v.Mode, f.Mode)
	}
}

// Milling is a cut over the whole side, inside the part on the negative sides and at the far end on the positive ones.
func TestFacingCutsTheWholeSide(t *testing.T) {
	f := lamp(t, `  r: {material: ABS, cylinder: {diameter: 8 mm, length: 12 mm, along: y}, at: 40 40 5 mm}
  p: {material: ABS, plate: 30 x 40 mm, thickness: 3 mm, on: a.inside front}
retrofits:
  m:
    changes:
      - face: {part: a, side: front, depth: 0.5 mm}
      - face: {part: a, side: left, depth: 0.4 mm}
      - face: {part: a, side: front, depth: 0.3 mm ± 0.1 mm}
      - face: {part: r, side: top, depth: 2 mm}
      - face: {part: p, side: back, depth: 1 mm}
      - add: {s: {material: ABS, plate: 9 x 9 mm, thickness: 1 mm, on: a.front}}
`)
	v, notes := mustVariant(t, f, "m")
	const mm = 1e-3
	for _, tc := range []struct {
		part     string
		cut      int
		box, at  [3]float64
		side     int
		milledMm float64
	}{
		{"a", 0, [3]float64{60, 90, 0.5}, [3]float64{0, 0, 19.5}, 5, 0.8},
		{"a", 1, [3]float64{0.4, 90, 20}, [3]float64{0, 0, 0}, 0, 0.4},
		{"a", 2, [3]float64{60, 90, 0.3}, [3]float64{0, 0, 19.2}, 5, 0.8},
		{"r", 0, [3]float64{8, 2, 8}, [3]float64{0, 10, 0}, 3, 2},
		{"p", 0, [3]float64{30, 40, 1}, [3]float64{0, 0, 0}, 4, 1},
	} {
		p := v.Part(tc.part)
		box, at := p.Cuts[tc.cut].Box.At(nil), p.Cuts[tc.cut].At.At(nil)
		for k := range box {
			if math.Abs(box[k]-tc.box[k]*mm) > 1e-12 || math.Abs(at[k]-tc.at[k]*mm) > 1e-12 {
				t.Errorf("%s cut %d: %v at %v, want %v at %v mm", tc.part, tc.cut, box, at, tc.box, tc.at)
				break
			}
		}
		if math.Abs(p.Milled[tc.side]-tc.milledMm*mm) > 1e-12 {
			t.Errorf("%s: milled %v", tc.part, p.Milled)
		}
	}
	if len(notes) != 1 || !strings.Contains(notes[0], "taken at its middle, 0.3 mm") {
		t.Errorf("notes %q", notes)
	}
	if f.Part("a").Milled != [6]float64{} || len(f.Part("a").Cuts) != 0 {
		t.Error("the stock part was milled too")
	}
	// The wall and the plates are what can be taken off: 2 mm of wall, of which 0.8 and 0.4 are gone.
	if got := v.Part("s").On; got != "a.front" {
		t.Error(got)
	}
}

func TestDoubtOfARetrofitIsItsOwn(t *testing.T) {
	f := lamp(t, "retrofits: {r: {changes: [{add: {s: {material: ABS, plate: 9 x 9 mm, thickness: 1 to 2 mm, on: a.front}}}]}}\n")
	if got := f.Doubtful(); len(got) != 0 {
		t.Errorf("the stock device has doubts: %v", got)
	}
	v, _ := mustVariant(t, f, "r")
	if got := v.Doubtful(); len(got) != 1 || got[0].Path != "retrofits.r.0.add.s.thickness" {
		t.Errorf("doubts %v", got)
	}
}

func TestVariantNamesTheNearest(t *testing.T) {
	f := lamp(t, "retrofits: {finned back: {changes: [{refinish: {part: a, finish: black anodised}}]}}\n")
	if _, _, err := f.Variant("fined back"); err == nil || !strings.Contains(err.Error(), `there is no retrofit "fined back"`) || !strings.Contains(err.Error(), `did you mean "finned back"?`) {
		t.Error(err)
	}
}
