package app

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"finwright/internal/benchtest"
	"finwright/internal/device"
	"finwright/internal/report"
)

// A test whose log the device file knows already is read as that run says, and what is learned for judging it does not know it.
func TestRunsOfALog(t *testing.T) {
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	before, after := write("before.csv", "t\n"), write("runs/2 after.csv", "t\n")
	const design = "plate: bare #2"
	const lamp = `device: lamp
parts:
  shell: {material: ABS, box: 40 x 50 x 16 mm, wall: 2 mm}
  chip: {material: silicon, plate: 12 x 12 mm, thickness: 1.5 mm, on: shell.inside front, heat: 3 W}
conditions: {ambient: 30 °C, sun: 800 W/m2, sky light: 100 W/m2, sky: 5 °C, ground: 40 °C}
stock runs:
  - {name: A, ambient: 22 °C, log: before.csv, channels: {T1: shell.front centre}}
%sretrofits:
  "plate: bare #2": {changes: [{add: {cap: {material: copper C110, plate: 30 x 40 mm, thickness: 1 mm, on: shell.front}}}]}
`
	load := func(runs string) *device.File {
		f, err := device.Load(write("lamp.yaml", strings.Replace(lamp, "%s", runs, 1)))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	f := load("retrofit runs:\n  - {name: B, retrofit: \"plate: bare #2\", ambient: 23 °C, log: runs/2 after.csv, log reading: decimal comma, channels: {T2: cap.front centre}}\n")
	if r := runOf(f, design, after); r == nil || r.Name != "B" {
		t.Errorf("%+v", r)
	}
	if r := runOf(f, "", after); r != nil {
		t.Errorf("the stock device has no run with it, but %+v", r)
	}
	if g := withoutLog(f, after); len(g.Runs) != 1 || g.Runs[0].Name != "A" || len(f.Runs) != 2 {
		t.Errorf("%d runs left of %d", len(g.Runs), len(f.Runs))
	}
	v, _, err := f.Variant(design)
	if err != nil {
		t.Fatal(err)
	}
	ch, reading, err := channelsOf(f, v, after, JudgeOptions{BenchOptions: BenchOptions{Design: design}})
	if err != nil || len(ch) != 1 || ch[0].At != "cap.front centre" || reading != "decimal comma" {
		t.Errorf("%+v %q %v", ch, reading, err)
	}
	if curves := stockCurves(f); len(curves) != 0 { // before.csv has no reading; after.csv is of another device
		t.Errorf("%v", curves)
	}

	// what is printed for pasting is a run of a file that reads
	g := load("")
	out := &report.JudgedTest{Verdict: &benchtest.Verdict{RoomK: 296.15, RoomErrorK: 1, StartK: 301.15, EndS: 3600, Ended: benchtest.EndRunning}}
	paste(out, g, after, "decimal comma", ch, JudgeOptions{BenchOptions: BenchOptions{Design: design, Setting: benchtest.Setting{WindMS: 2}}})
	if !strings.Contains(out.PasteWhere, "retrofit runs") {
		t.Errorf("%q", out.PasteWhere)
	}
	h := load("retrofit runs:\n  " + strings.Join(out.Paste, "\n  ") + "\n")
	if len(h.Runs) != 2 {
		t.Fatalf("%d runs", len(h.Runs))
	}
	if r := h.Runs[1]; r.Retrofit != design || r.Log != "runs/2 after.csv" || r.RunningAfter.Mid != 3600 || len(r.Channels) != 1 || r.LogReading != "decimal comma" || r.Ambient.Mid != 296.15 {
		t.Errorf("%+v", r)
	}
	// out of the sun and sky of the file's own place, as warm at the start, and in the fan's air
	if r, c := h.Runs[1], h.Under(&h.Runs[1].Conditions); !c.Sun.Given() || c.Sun.Mid != 0 || c.SkyLight.Given() || c.Sky.Given() || c.Surroundings.Mid != 296.15 || c.Air.Still || c.Air.Speed.Mid != 2 || r.Start.Mid != 301.15 || r.Ambient.Hi-r.Ambient.Mid < 0.99 {
		t.Errorf("%+v starts at %v", c, r.Start)
	}
	// a bond at fault is told of instead: learning would take the run for one with all bonds as planned
	out = &report.JudgedTest{Verdict: &benchtest.Verdict{RoomK: 296.15, EndS: 3600, Ended: benchtest.EndRunning, Blamed: []int{0},
		Bonds: []benchtest.Suspicion{{Bond: benchtest.Bond{Name: "foot", A: "shell", B: "cap", HWm2K: 5000}, Factor: [3]float64{5, 10, 20}}}}}
	paste(out, g, before, "", ch, JudgeOptions{BenchOptions: BenchOptions{Design: design}})
	if len(out.Paste) != 2 || out.Paste[0] != "- rejoin:" {
		t.Errorf("%q", out.Paste)
	}
}
