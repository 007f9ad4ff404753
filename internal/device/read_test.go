package device

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"finwright/internal/unit"
)

// lamp is lampBase with more behind it, read.
func lamp(t *testing.T, more string) *File {
	t.Helper()
	f, err := Parse("testdata/lamp.yaml", []byte(lampBase+more))
	if err != nil {
		t.Fatalf("a file without fault was refused:\n%v", err)
	}
	return f
}

func TestEveryKeyIsRead(t *testing.T) {
	f, err := Load("testdata/every.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Warnings) > 0 {
		t.Error(f.Warnings)
	}
	// Every field with a key tag, found by walking the types here and not by the reader's own list, must have been filled
	// in somewhere in the file.
	filled := map[string]bool{}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Struct:
			for i := range v.NumField() {
				sf := v.Type().Field(i)
				if tag := sf.Tag.Get("key"); tag != "" && tag != "-" {
					name := v.Type().Name() + "." + sf.Name
					filled[name] = filled[name] || !v.Field(i).IsZero()
				}
				if sf.IsExported() {
					walk(v.Field(i))
				}
			}
		}
	}
	walk(reflect.ValueOf(*f))
	if len(filled) < 150 {
		t.Fatalf("only %d keys were found", len(filled))
	}
	for name, ok := range filled {
		if !ok {
			t.Errorf("%s is empty: the reader does not fill it, or testdata/every.yaml does not use it", name)
		}
	}
}

func TestValuesOfEveryKindOfKey(t *testing.T) {
	f, err := Load("testdata/every.yaml")
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	shell := f.Part("shell")
	near("box y", shell.Box[1].Mid, 0.090)
	near("at x", shell.At[0].Mid, -0.001)
	near("at from a list", f.Part("fins").Cuts[1].At[0].Mid, 0.010)
	near("angle", f.Part("standing").Turn.By.Mid, math.Pi/6)
	near("percent", f.Finishes[0].Absorbs.Mid, 0.7)
	near("altitude", f.Conditions.Altitude.Mid, 300)
	near("heat in a mode", f.Part("rod").Heat.In("low").Mid, 1)
	near("heat in a mode not named", f.Part("rod").Heat.In("off").Mid, 0)
	near("plain heat in any mode", f.Part("cell").Heat.In("low").Mid, 0.1)
	near("air", f.Conditions.Air.Speed.Lo, 2)
	near("period", f.Boundaries[2].Period.Mid, 86400)
	if !f.Runs[0].Air.Still || f.Runs[1].Air.Given {
		t.Error("air of the stock runs")
	}
	if got := f.Sensors[0].Acts; !reflect.DeepEqual(got, []string{"rod"}) {
		t.Errorf("acts on %v", got)
	}
	if f.Runs[0].Channels[0] != (Channel{Name: "T1", At: "shell.front highest", Pos: Pos{54, 20}}) {
		t.Errorf("channel %+v", f.Runs[0].Channels[0])
	}
	var names []string
	for _, p := range f.Parts {
		names = append(names, p.Name)
	}
	if got := strings.Join(names, " "); got != "shell plate standing rod pipe fins cell" {
		t.Errorf("parts are not in the file's order: %s", got)
	}
}

// paths gathers the path and place of every quantity of a file, retrofits too.
func paths(f *File) map[string][]Q {
	out := map[string][]Q{}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch {
		case v.Type() == typeQ:
			if q := v.Interface().(Q); q.Given() {
				out[q.Path] = append(out[q.Path], q)
			}
		case v.Kind() == reflect.Pointer && !v.IsNil():
			walk(v.Elem())
		case v.Kind() == reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case v.Kind() == reflect.Struct:
			for i := range v.NumField() {
				if v.Type().Field(i).IsExported() {
					walk(v.Field(i))
				}
			}
		}
	}
	walk(reflect.ValueOf(*f))
	return out
}

func TestPathsAreUniqueAndPlacesRight(t *testing.T) {
	f, err := Load("testdata/every.yaml")
	if err != nil {
		t.Fatal(err)
	}
	all := paths(f)
	for path, qs := range all {
		if len(qs) != 1 || path == "" {
			t.Errorf("path %q names %d quantities", path, len(qs))
		}
		q := qs[0]
		// What stands in the file at the quantity's place is its text; components of a vector share the place of the whole.
		line := string([]rune(f.Text[q.Pos.Line-1])[q.Pos.Column-1:])
		last := path[strings.LastIndexByte(path, '.')+1:]
		shared := last == "x" || last == "y" || last == "z" || last == "first" || last == "second"
		if !shared && !strings.HasPrefix(line, q.Text) {
			t.Errorf("%s: %q stands at %d:%d, not %q", path, line, q.Pos.Line, q.Pos.Column, q.Text)
		}
	}
	for _, want := range []string{
		"parts.shell.box.x", "parts.plate.plate.first", "parts.rod.heat.on", "parts.cell.heat", "parts.fins.cuts.1.at.z", "parts.fins.fin block.fin height",
		"joints.padded.thickness", "sensors.soc.stops at", "sensors.soc.steps.0.above", "battery.energy", "battery.other load.on",
		"conditions.ambient", "conditions.air", "stock runs.0.ambient", "stock runs.0.spots.1.reads", "materials.alloy 3.3206.conductivity",
		"finishes.grey paint.emissivity", "retrofits.all changes.2.add.spreader.thickness", "retrofits.all changes.1.face.depth",
		"boundaries.warm.patch.first", "expect.0.after", "start",
	} {
		if len(all[want]) == 0 {
			t.Errorf("no quantity has the path %q", want)
		}
	}
}

func TestUnknownBringsAPriorAndSaysSo(t *testing.T) {
	f := lamp(t, "sensors: {s: {at: b, stops at: unknown}}\njoints: {j: {between: [a, b], conductance: unknown}}\n")
	for _, tc := range []struct {
		q      Q
		lo, hi float64
		log    bool
	}{
		{f.Sensors[0].StopsAt, 60 + 273.15, 105 + 273.15, false},
		{f.Joints[0].Conductance, 100, 20000, true},
	} {
		if tc.q.Kind != unit.Unknown || tc.q.Lo != tc.lo || tc.q.Hi != tc.hi || tc.q.Prior().Log != tc.log {
			t.Errorf("%s: %+v", tc.q.Path, tc.q)
		}
		found := false
		for _, a := range f.Assumptions() {
			found = found || a.Path == tc.q.Path && a.Source != "" && strings.Contains(a.Value, "to")
		}
		if !found {
			t.Errorf("%s: no assumption is recorded", tc.q.Path)
		}
	}
}

// Every prior must fit the place that names it: its dimension, and the limit of that place.
func TestPriorsFitTheirKeys(t *testing.T) {
	used := map[string]bool{}
	for typ := range structs() {
		for _, k := range keysOf(typ) {
			if k.prior == "" {
				continue
			}
			p, ok := unknowns[k.prior]
			if !ok {
				t.Errorf("%s.%s: there is no prior %q", typ.Name(), k.name, k.prior)
				continue
			}
			used[k.prior] = true
			q := p.quantity()
			if q.Dim != k.dim || !(q.Lo < q.Mid && q.Mid < q.Hi) || limitOf(k.limit, q.Lo, q.Hi) != "" || p.source == "" {
				t.Errorf("%s.%s: prior %+v does not fit", typ.Name(), k.name, q)
			}
		}
	}
	for name := range unknowns {
		if !used[name] {
			t.Errorf("no key uses the prior %q", name)
		}
	}
}

// structs are the struct types of the file that have keys.
func structs() map[reflect.Type]bool {
	out := map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(t reflect.Type) {
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct || out[t] || t == typeQ || t == typeByMode || t == typeAir || t == typeChannel {
			return
		}
		keyed := false
		for i := range t.NumField() {
			if tag := t.Field(i).Tag.Get("key"); tag != "" && tag != "-" {
				keyed = true
				walk(t.Field(i).Type)
			}
		}
		if keyed {
			out[t] = true
		}
	}
	walk(reflect.TypeFor[File]())
	return out
}

func TestDefaultsAreRecorded(t *testing.T) {
	f := lamp(t, "battery: {part: b, energy: 10 Wh}\n")
	got := map[string]string{}
	for _, a := range f.Assumptions() {
		got[a.Path] = a.Value
	}
	for path, value := range map[string]string{
		"up": "+y", "conditions.ambient": "25 °C", "conditions.air": "still", "conditions.altitude": "0 m", "limits.skin": "48 °C", "battery.limit": "60 °C",
	} {
		if got[path] != value {
			t.Errorf("%s: assumed %q, want %q", path, got[path], value)
		}
	}
	// What is stated is not assumed.
	f = lamp(t, "up: +z\nconditions: {ambient: 20 °C, air: still, altitude: 0 m}\nlimits: {skin: 45 °C}\n")
	if a := f.Assumptions(); len(a) != 0 {
		t.Errorf("assumed although stated: %v", a)
	}
}

func TestDoubtfulInFileOrder(t *testing.T) {
	f, err := Load("testdata/every.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, q := range f.Doubtful() {
		got = append(got, q.Path)
	}
	want := []string{
		"materials.alloy 3.3206.conductivity", "materials.sheet.conductivity through", "materials.sheet.specific heat", "finishes.grey paint.emissivity",
		"parts.shell.mass", "parts.rod.heat.on", "joints.padded.thickness", "joints.padded.conductivity", "joints.measured.conductance",
		"sensors.soc.stops at", "battery.energy", "conditions.air",
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestParsePlace(t *testing.T) {
	f := lamp(t, "  big cell: {material: ABS, box: 9 x 9 x 9 mm, at: 20 40 5 mm}\n")
	for _, tc := range []struct {
		text string
		want Place
	}{
		{"b", Place{Part: "b"}},
		{"b highest", Place{Part: "b", Spot: Highest}},
		{"big cell centre", Place{Part: "big cell", Spot: Centre}},
		{"a.front", Place{Part: "a", Face: "front"}},
		{" a.inside back centre ", Place{Part: "a", Face: "inside back", Spot: Centre, Inside: true}},
		{"big cell.top highest", Place{Part: "big cell", Face: "top", Spot: Highest}},
		{"10 20 5 mm", Place{IsPoint: true, Point: [3]float64{0.010, 0.020, 0.005}}},
		{"-1 x 2 x 3 cm", Place{IsPoint: true, Point: [3]float64{-0.01, 0.02, 0.03}}},
	} {
		got, err := ParsePlace(tc.text, f)
		if err != nil || got != tc.want {
			t.Errorf("%q: %+v, %v", tc.text, got, err)
		}
	}
	for text, want := range map[string]string{
		"":                "no place is written",
		"bigcell":         `there is no part "bigcell"; did you mean "big cell"?`,
		"a.fron":          `"fron" is not a face; did you mean a.front?`,
		"b.inside front":  `part "b" has no inside`,
		"1 2 mm":          "has 2 lengths; a point has three",
		"3 sheep":         "is neither a part nor a point",
		"a.inside":        `"inside" is not a face`,
		"a.front.centre":  `"front.centre" is not a face`,
		"a.front center ": "is not a face",
	} {
		if _, err := ParsePlace(text, f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestWarnings(t *testing.T) {
	f, err := Parse("x.yaml", []byte("device: lamp\nmaterials: {goo: {like: ABS}}\nfinishes: {red: {emissivity: 0.9}}\nparts:\n  a: {material: ABS, box: 9 x 9 x 9 mm}\nsensors: {s: {at: a}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, w := range f.Warnings {
		if w.Severity != Warning {
			t.Errorf("%+v is no warning", w)
		}
		got = append(got, w.What)
	}
	want := []string{"nothing in this device makes heat", `no part is made of material "goo"`, `no part has finish "red"`, `sensor "s" does nothing`}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %q", got)
	}
}

func TestEmptyListsAreAsIfLeftOut(t *testing.T) {
	f := lamp(t, "joints:\nstock runs:\n  # - {ambient: 24 °C}\nconditions:\nretrofits:\n")
	if len(f.Joints)+len(f.Runs)+len(f.Retrofits) != 0 {
		t.Error("something was read from nothing")
	}
}

func TestLineEndsAndMark(t *testing.T) {
	f, err := Parse("x.yaml", []byte("\ufeff"+strings.ReplaceAll(lampBase, "\n", "\r\n")))
	if err != nil {
		t.Fatal(err)
	}
	if f.Device != "lamp" || f.Part("b").Heat.All.Pos != (Pos{4, 63}) {
		t.Errorf("%q %v", f.Device, f.Part("b").Heat.All.Pos)
	}
}

func TestLoad(t *testing.T) {
	dir := t.TempDir()
	if _, err := Load(filepath.Join(dir, "none.yaml")); err == nil || !strings.Contains(err.Error(), "none.yaml: the file cannot be read") {
		t.Error(err)
	}
	big := filepath.Join(dir, "big.yaml")
	if err := os.WriteFile(big, make([]byte, maxBytes+1), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(big); err == nil || !strings.Contains(err.Error(), "at most 128 kB") {
		t.Error(err)
	}
	if _, err := Load(dir); err == nil {
		t.Error("a folder was read")
	}
}

func TestTooMuch(t *testing.T) {
	if _, err := Parse("x.yaml", []byte(lampBase+strings.Repeat("#\n", maxLines))); err == nil || !strings.Contains(err.Error(), "has 5004 lines; a device file has at most 5000") {
		t.Error(err)
	}
	_, err := Parse("x.yaml", []byte(lampBase+strings.Repeat("oops: 1\n", 100)))
	ps, _ := err.(Problems)
	if len(ps) != maxShown+1 || !strings.Contains(ps[maxShown].What, "and 60 more problems") {
		t.Errorf("%d problems, %v", len(ps), err)
	}
}

// A log may lie below the file's folder, and a link must not lead out of it.
func TestLogStaysInTheFolder(t *testing.T) {
	dir := t.TempDir()
	home := filepath.Join(dir, "home")
	if err := os.MkdirAll(filepath.Join(home, "runs"), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{filepath.Join(home, "runs", "a.csv"), filepath.Join(dir, "secret.csv")} {
		if err := os.WriteFile(p, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(filepath.Join(dir, "secret.csv"), filepath.Join(home, "link.csv")); err != nil {
		t.Fatal(err)
	}
	f := &File{Path: filepath.Join(home, "lamp.yaml")}
	if p, err := f.LogPath("runs/a.csv"); err != nil || p != filepath.Join(home, "runs", "a.csv") {
		t.Error(p, err)
	}
	for _, bad := range []string{"link.csv", "../secret.csv", "runs/../../secret.csv", filepath.Join(dir, "secret.csv"), `..\secret.csv`, "runs", "a\x00b", ""} {
		if p, err := f.LogPath(bad); err == nil {
			t.Errorf("%q was let through as %s", bad, p)
		}
	}
}

func TestStarter(t *testing.T) {
	for _, name := range []string{"", "my lamp", `5" "box": {x}`, "# no", "ü\n"} {
		f, err := Parse("starter.yaml", Starter(name))
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		if len(f.Warnings) > 0 {
			t.Error(f.Warnings)
		}
		want := strings.ReplaceAll(name, "\n", " ")
		if name == "" {
			want = "hand lamp"
		}
		if f.Device != want {
			t.Errorf("device is %q, want %q", f.Device, want)
		}
		if !f.Invented || len(f.Contradictions()) > 0 {
			t.Errorf("invented %v, contradictions %v", f.Invented, f.Contradictions())
		}
		for _, r := range f.Retrofits {
			if _, _, err := f.Variant(r.Name); err != nil {
				t.Error(err)
			}
		}
	}
}

func runConditions(f *File) []Conditions {
	out := make([]Conditions, len(f.Runs))
	for i := range out {
		out[i] = f.Runs[i].Conditions
	}
	return out
}

// FuzzParse: no bytes make the reader panic, hang or return neither a file nor a located error.
func FuzzParse(f *testing.F) {
	for _, tc := range badFiles {
		f.Add([]byte(tc.in))
	}
	f.Add(Starter(""))
	f.Add([]byte(lampBase + outdoors))
	every, err := os.ReadFile("testdata/every.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(every)
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 8<<10 {
			return
		}
		file, err := Parse("testdata/fuzz.yaml", data)
		if (file == nil) == (err == nil) {
			t.Fatalf("file %v, error %v", file, err)
		}
		if err != nil {
			for _, p := range err.(Problems) {
				if p.What == "" || p.File == "" || p.Pos.Line < 0 {
					t.Fatalf("a problem without words or place: %+v", p)
				}
			}
			return
		}
		file.Contradictions()
		for _, c := range append([]Conditions{file.Conditions}, runConditions(file)...) {
			c := file.Under(&c)
			for what, v := range map[string][3]float64{"up": c.UpDir(nil), "sun from": c.SunFrom.Dir, "wind from": c.WindFrom.Dir} {
				n := math.Hypot(math.Hypot(v[0], v[1]), v[2])
				if given := what == "up" || what == "sun from" && c.SunFrom.Given || what == "wind from" && c.WindFrom.Given; given && !(math.Abs(n-1) < 1e-12) {
					t.Fatalf("%s is %v", what, v)
				}
			}
		}
		for path, qs := range paths(file) {
			for _, q := range qs {
				if math.IsNaN(q.Lo+q.Mid+q.Hi) || !(q.Lo <= q.Mid && q.Mid <= q.Hi) {
					t.Fatalf("%s: %+v", path, q)
				}
			}
			if len(qs) > 1 {
				t.Fatalf("path %q names %d quantities", path, len(qs))
			}
		}
		for _, r := range file.Retrofits {
			if _, _, err := file.Variant(r.Name); err != nil {
				t.Fatalf("a retrofit of a good file: %v", err)
			}
		}
	})
}
