package app

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"finwright/demo"
	"finwright/internal/compare"
)

func write(t *testing.T, path, text string, perm fs.FileMode) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), perm); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, perm); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// names lists a folder, to see that no temporary file stays behind.
func names(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return strings.Join(out, " ")
}

func TestWriteWhole(t *testing.T) {
	unix := runtime.GOOS != "windows"
	for name, tc := range map[string]struct {
		make      func(t *testing.T)
		path      string
		overwrite bool
		wrong     string // in the error; empty when it is to be written
		left      string // names in the folder afterwards
		check     func(t *testing.T)
	}{
		"new":      {path: "a.txt", left: "a.txt"},
		"new over": {path: "a.txt", overwrite: true, left: "a.txt"},
		"existing": {make: func(t *testing.T) { write(t, "a.txt", "old", 0o644) }, path: "a.txt", wrong: "already", left: "a.txt", check: func(t *testing.T) {
			if read(t, "a.txt") != "old" {
				t.Error("the old file was touched")
			}
		}},
		"existing over, permissions kept": {make: func(t *testing.T) { write(t, "a.txt", "old", 0o640) }, path: "a.txt", overwrite: true, left: "a.txt", check: func(t *testing.T) {
			if info, _ := os.Stat("a.txt"); unix && info.Mode().Perm() != 0o640 {
				t.Errorf("permissions %v", info.Mode())
			}
		}},
		"write-protected": {make: func(t *testing.T) { write(t, "a.txt", "old", 0o444) }, path: "a.txt", overwrite: true, wrong: "write-protected", left: "a.txt", check: func(t *testing.T) {
			if read(t, "a.txt") != "old" {
				t.Error("the old file was touched")
			}
		}},
		"no folder":             {path: "no/a.txt", wrong: "there is no folder no", left: ""},
		"a file for a folder":   {make: func(t *testing.T) { write(t, "no", "x", 0o644) }, path: "no/a.txt", wrong: "there is no folder no", left: "no"},
		"a folder of that name": {make: func(t *testing.T) { os.Mkdir("a.txt", 0o755) }, path: "a.txt", overwrite: true, wrong: "not a plain file", left: "a.txt"},
		"link followed": {make: func(t *testing.T) { write(t, "b.txt", "old", 0o600); link(t, "b.txt", "a.txt") }, path: "a.txt", overwrite: true, left: "a.txt b.txt", check: func(t *testing.T) {
			if info, err := os.Lstat("a.txt"); err != nil || info.Mode()&fs.ModeSymlink == 0 {
				t.Error("the link is no link any more")
			}
			if read(t, "b.txt") != "data" {
				t.Error("what the link leads to was not written")
			}
		}},
		"link refused": {make: func(t *testing.T) { write(t, "b.txt", "old", 0o600); link(t, "b.txt", "a.txt") }, path: "a.txt", wrong: "already", left: "a.txt b.txt", check: func(t *testing.T) {
			if read(t, "b.txt") != "old" {
				t.Error("what the link leads to was touched")
			}
		}},
		"dangling link":         {make: func(t *testing.T) { link(t, "b.txt", "a.txt") }, path: "a.txt", overwrite: true, wrong: "leads nowhere", left: "a.txt"},
		"dangling link refused": {make: func(t *testing.T) { link(t, "b.txt", "a.txt") }, path: "a.txt", wrong: "already", left: "a.txt"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			if tc.make != nil {
				tc.make(t)
			}
			err := WriteWhole(tc.path, []byte("data"), tc.overwrite)
			switch {
			case tc.wrong == "" && err != nil:
				t.Error(err)
			case tc.wrong == "" && read(t, tc.path) != "data":
				t.Error("other data were written")
			case tc.wrong != "" && (err == nil || !strings.Contains(err.Error(), tc.wrong) || !strings.Contains(err.Error(), tc.path)):
				t.Errorf("got error %v, want one with %q", err, tc.wrong)
			}
			if tc.wrong == "already" && !errors.Is(err, ErrExists) {
				t.Errorf("%v is not ErrExists", err)
			}
			if got := names(t, "."); got != tc.left {
				t.Errorf("in the folder: %s, want %s", got, tc.left)
			}
			if tc.check != nil {
				tc.check(t)
			}
		})
	}
}

func link(t *testing.T, to, at string) {
	t.Helper()
	if err := os.Symlink(to, at); err != nil {
		t.Skip("no links here: ", err)
	}
}

// New files have the permissions of any file this user makes.
func TestWriteWholeNewPermissions(t *testing.T) {
	t.Chdir(t.TempDir())
	f, err := os.Create("any")
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	if err := WriteWhole("ours", []byte("x"), false); err != nil {
		t.Fatal(err)
	}
	want, _ := os.Stat("any")
	got, _ := os.Stat("ours")
	if got.Mode() != want.Mode() {
		t.Errorf("got %v, want %v", got.Mode(), want.Mode())
	}
}

// A folder that takes no files: nothing is written, and that is said. The superuser may write anywhere, so /proc, which takes
// files from nobody, stands in.
func TestWriteWholeUnwritableFolder(t *testing.T) {
	dir := t.TempDir()
	if os.Getuid() == 0 {
		dir = "/proc"
		if _, err := os.Stat(dir); err != nil {
			t.Skip("no folder here that refuses the superuser")
		}
	} else if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "a.txt")
	if err := WriteWhole(path, []byte("x"), true); err == nil || !strings.Contains(err.Error(), "a.txt cannot be written") {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("it is there all the same")
	}
}

func TestPageFits(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "old.html", "<!DOCTYPE html>\n<html></html>", 0o644)
	write(t, "empty.html", "", 0o644)
	write(t, "lamp.yaml", "device: lamp", 0o644)
	for path, ok := range map[string]bool{"new.html": true, "old.html": true, "empty.html": false, "lamp.yaml": false, "no/new.html": false, ".": false} {
		err := PageFits(path)
		if (err == nil) != ok {
			t.Errorf("%s: %v", path, err)
		}
		if !ok {
			if err := WriteReport(path, &compare.Study{}); err == nil {
				t.Errorf("%s: written all the same", path)
			}
		}
	}
	if read(t, "lamp.yaml") != "device: lamp" {
		t.Error("the device file was overwritten")
	}
}

func TestUnpackDemo(t *testing.T) {
	for which := 1; which <= len(demo.Devices); which++ {
		to := filepath.Join(t.TempDir(), "new", "folder")
		opt := DemoOptions{Folder: to, Which: which}
		d, err := UnpackDemo(opt)
		if err != nil {
			t.Fatal(err)
		}
		if want := filepath.Join(to, filepath.FromSlash(demo.Devices[which-1])); d.File != want {
			t.Errorf("file %s, want %s", d.File, want)
		}
		device, err := demo.Files.ReadFile(demo.Devices[which-1])
		if err != nil {
			t.Fatal(err)
		}
		if read(t, d.File) != string(device) {
			t.Errorf("%s differs from the demo's", d.File)
		}
		logs, err := filepath.Glob(filepath.Join(filepath.Dir(d.File), "runs", "*.csv"))
		if err != nil || len(logs) == 0 {
			t.Errorf("device %d came without its log", which)
		}
		if _, err := UnpackDemo(opt); err != nil {
			t.Errorf("a second time: %v", err)
		}

		// a changed file is its user's: nothing is written
		write(t, logs[0], "mine", 0o644)
		if err := os.Remove(d.File); err != nil {
			t.Fatal(err)
		}
		if _, err := UnpackDemo(opt); err == nil || !strings.Contains(err.Error(), logs[0]+" has been changed") || !strings.Contains(err.Error(), "--to") {
			t.Errorf("over a changed file: %v", err)
		}
		if read(t, logs[0]) != "mine" {
			t.Error("the changed file was overwritten")
		}
		if _, err := os.Stat(d.File); !errors.Is(err, fs.ErrNotExist) {
			t.Error("a refused demo was unpacked in part")
		}
	}
	for _, which := range []int{-1, 0, len(demo.Devices) + 1} {
		if _, err := UnpackDemo(DemoOptions{Folder: t.TempDir(), Which: which}); err == nil {
			t.Errorf("device %d: no error", which)
		}
	}
}

// The demo's devices pass the check.
func TestDemoDevicesPass(t *testing.T) {
	for which := 1; which <= len(demo.Devices); which++ {
		d, err := UnpackDemo(DemoOptions{Folder: t.TempDir(), Which: which})
		if err != nil {
			t.Fatal(err)
		}
		rep, err := Check(d.File)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if !rep.Invented || len(rep.Retrofits) == 0 || len(rep.Warnings) > 0 {
			t.Errorf("%s: invented %v, %d retrofits, warnings %v", d.File, rep.Invented, len(rep.Retrofits), rep.Warnings)
		}
		for _, r := range rep.Retrofits {
			if r.Problem != "" {
				t.Errorf("%s: %s: %s", d.File, r.Name, r.Problem)
			}
		}
	}
}

// A 20 × 20 × 10 mm block of aluminium 6061 weighs 4 cm³ · 2.70 g/cm³ = 10.8 g and stores 10.8e-3 · 896 = 9.68 J/K
// (density and specific heat: ASM Handbook vol. 2, aluminium 6061). Two blocks on each other touch on 4 cm².
func TestCheckFigures(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "blocks.yaml", `device: blocks
parts:
  lower: {material: aluminium 6061, box: 20 x 20 x 10 mm, heat: 2 W, mass: 30 g}
  upper: {material: aluminium 6061, box: 20 x 20 x 10 mm, at: 0 0 10 mm}
joints:
  between: {between: [lower, upper], conductance: 5000 W/m2K}
`, 0o644)
	rep, err := Check("blocks.yaml")
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want, rel float64) {
		t.Helper()
		if d := got - want; d > rel*want || d < -rel*want {
			t.Errorf("%s: got %g, want %g", what, got, want)
		}
	}
	if len(rep.Parts) != 2 || len(rep.Joints) != 1 {
		t.Fatalf("got %+v", rep)
	}
	near("volume", rep.Parts[1].VolumeM3, 4e-6, 1e-9)
	near("mass", rep.Parts[1].MassKg, 10.8e-3, 0.002)
	near("capacity", rep.Parts[1].CapacityJK, 9.68, 0.01)
	near("weighed mass", rep.Parts[0].MassKg, 30e-3, 1e-9)
	near("heat", rep.Parts[0].HeatW, 2, 1e-9)
	near("touching", rep.Joints[0].AreaM2, 4e-4, 1e-9)
	near("resistance", rep.Joints[0].Resistance, 1/(5000*4e-4), 1e-9)
	found := false
	for _, f := range rep.Findings {
		found = found || strings.Contains(f, "lower weighs 30 g") && strings.Contains(f, "10.8 g")
	}
	if !found {
		t.Errorf("a block of three times its weight was not noticed: %q", rep.Findings)
	}
	area := 0.0
	for _, s := range rep.Surfaces {
		area += s.AreaM2
	}
	near("outer surface", area, 2*4e-4+4*20e-3*20e-3, 1e-9)
}

// Progress is told in order and never beyond the whole.
func TestProveTellsProgress(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "wall.yaml", `device: wall
materials:
  brick: {conductivity: 2 W/mK, density: 2000 kg/m3, specific heat: 900 J/kgK}
parts:
  wall: {material: brick, box: 10 x 10 x 10 mm}
grid: {largest cell: 10 mm, cells across: 1}
start: 20 °C
boundaries:
  hot: {face: wall.left, temperature: 100 °C}
  cold: {face: wall.right, temperature: 20 °C}
expect:
  - {id: flow, heat through: cold, target: 1.6 W, within: 0.1 %, source: "Fourier's law: 2 W/mK, 1 cm2, 80 K over 10 mm"}
`, 0o644)
	last := -1.0
	proof, err := Prove(context.Background(), "wall.yaml", func(task string, done, total float64) {
		if done < last || done > total || task == "" {
			t.Errorf("told %q, %g of %g after %g", task, done, total, last)
		}
		last = done
	})
	if err != nil || proof.Passed != 1 || proof.Failed != 0 {
		t.Errorf("%+v, %v", proof, err)
	}
	if last != 1 {
		t.Errorf("ended at %g of 1", last)
	}
}

// The progress of a nil Tell is told to nobody.
func TestNobodyIsTold(t *testing.T) { Tell(nil).say("x", 1, 2) }

// Files of a folder are proved in the order of their names, and a fault in one names that file.
func TestProveNamesTheFile(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "bad.yaml", "device: x\nparts:\n  a: {material: brick, box: 1 x 1 x 1 mm}\n", 0o644)
	_, err := Prove(context.Background(), ".", nil)
	if err == nil || !strings.HasPrefix(err.Error(), "bad.yaml:3:") || bytes.Count([]byte(err.Error()), []byte("bad.yaml")) != 1 {
		t.Errorf("got %v", err)
	}
}
