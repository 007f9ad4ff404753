package model

import (
	"math"
	"strings"
	"testing"

	"finwright/internal/device"
)

// sealed is a shell with a warm plate behind its front. Invented.
const sealed = `device: d
up: +y
parts:
  shell: {material: ABS, box: 40 x 60 x 20 mm, wall: 2 mm}
  plate: {material: aluminium 6061, plate: 34 x 54 mm, thickness: 1 to 2 mm, on: shell.inside front}
  chip: {material: silicon, plate: 12 x 12 mm, thickness: 1.2 mm, on: plate.back, offset: 3 x 9 mm, heat: 2 W}
joints: {p: {between: [plate, shell], conductance: 400 W/m2K}}
retrofits:
  thinner: {changes: [{face: {part: shell, side: front, depth: 0.5 mm}}]}
`

// The picture is a true cut: its cells carry the field's temperatures, outer air none, and it goes through the heat source.
func TestSection(t *testing.T) {
	m := build(t, sealed, nil)
	tK, _ := steady(t, m)
	s := m.SectionOf(tK, &m.Under)
	nu, nv := len(s.UPlanesM)-1, len(s.VPlanesM)-1
	if s.UName != "z" || s.VName != "y" || s.Axis != 0 || len(s.TK) != nu*nv || len(s.Part) != nu*nv {
		t.Fatalf("%s and %s, normal to axis %d, %d x %d cells, %d values", s.UName, s.VName, s.Axis, nu, nv, len(s.TK))
	}
	within(t, "cut", s.AtM*1e3, 23, 1e-6) // the middle of the plate is at 20 mm, the chip 3 mm beside it
	seen := map[string]bool{}
	for v := 0; v < nv; v++ {
		for u := 0; u < nu; u++ {
			q := v*nu + u
			if (s.Part[q] < 0) != math.IsNaN(s.TK[q]) {
				t.Fatalf("cell %d: part %d at %g K", q, s.Part[q], s.TK[q])
			}
			if s.Part[q] < 0 {
				continue
			}
			seen[s.Names[s.Part[q]]] = true
			at := [3]float64{s.AtM, (s.VPlanesM[v] + s.VPlanesM[v+1]) / 2, (s.UPlanesM[u] + s.UPlanesM[u+1]) / 2}
			c, ok := m.Shape.Grid.Locate(at)
			if !ok || int(m.Shape.Grid.Owner[c]) != s.Part[q] {
				t.Fatalf("at %v m the section shows %q", at, s.Names[s.Part[q]])
			}
			// neighbours along x at the most differ: the cut may lie on a plane between two cells
			within(t, "temperature", s.TK[q], tK[c], 1.5)
		}
	}
	for _, name := range []string{"shell", "plate", "chip", "sealed air"} {
		if !seen[name] {
			t.Errorf("%s is not in the picture", name)
		}
	}
	if up := m.SectionOf(tK, &Under{UpAxis: 2, UpSign: 1}); up.VName != "z" {
		t.Errorf("up is z, the picture's is %s", up.VName)
	}
}

// Faces inside a hollow part, and a milled face, can be asked for: temperatures fall from the plate outwards by q L/k.
func TestProbesInsideAndOnMilledFaces(t *testing.T) {
	// heated evenly, so that no slope along the plate enters
	f := parse(t, strings.Replace(strings.Replace(sealed, ", heat: 2 W", "", 1), "thickness: 1 to 2 mm,", "thickness: 1.5 mm, heat: 2 W,", 1))
	thinner, _, err := f.Variant("thinner")
	if err != nil {
		t.Fatal(err)
	}
	for name, tc := range map[string]struct {
		file  *device.File
		wallM float64
	}{"stock": {f, 0.002}, "milled": {thinner, 0.0015}} {
		s, err := NewShape(tc.file, nil, small)
		if err != nil {
			t.Fatal(err)
		}
		m, err := s.At(nil, nil, "")
		if err != nil {
			t.Fatal(err)
		}
		tK, films := steady(t, m)
		plate, inside, outside := read(t, m, "plate.front centre", tK, films), read(t, m, "shell.inside front centre", tK, films), read(t, m, "shell.front centre", tK, films)
		if !(plate > inside && inside > outside && outside > m.Under.AirK) {
			t.Errorf("%s: plate %g, inside %g, outside %g K", name, plate, inside, outside)
		}
		layer := read(t, m, "shell.inside front", tK, films)
		if !(layer < plate && layer > m.Under.AirK) {
			t.Errorf("%s: the inner face is at %g K", name, layer)
		}
		// the same flux through joint and wall: (T_plate - T_inside) h = (T_inside - T_outside) k/L; a little spreads along the wall
		k := m.kWmK[2][m.Parts[0].Cells[0]]
		near(t, name+": flux", (inside-outside)*k/tc.wallM, (plate-inside)*400, 0.02)
	}
}

// Sizes in doubt are cut as chosen.
func TestSizesFollowTheValues(t *testing.T) {
	for _, mm := range []float64{1, 1.5, 2} {
		v := device.Values{"parts.plate.thickness": mm * 1e-3}
		near(t, "plate", build(t, sealed, v).Parts[1].VolumeM3, 34*54*mm*1e-9, 1e-6)
	}
	near(t, "plate in the middle", build(t, sealed, nil).Parts[1].VolumeM3, 34*54*math.Sqrt(1*2)*1e-9, 1e-6) // the middle of a range is its geometric mean
}
