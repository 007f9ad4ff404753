package model

import (
	"fmt"
	"math"
	"testing"

	"finwright/internal/device"
)

// stack is two blocks of 20 x 20 x 10 mm, k 50 and 200 W/(m K), one on the other, held at 60 and 20 °C at their far ends.
func stack(materialA, materialB, joint string) string {
	if joint != "" {
		joint = "joints:\n  j: {between: [a, b], " + joint + "}\n"
	}
	return fmt.Sprintf(`device: d
materials:
  a50: {like: aluminium 6061, conductivity: 50 W/mK}
  b200: {like: aluminium 6061, conductivity: 200 W/mK}
parts:
  a: {material: %s, box: 20 x 20 x 10 mm}
  b: {material: %s, box: 20 x 20 x 10 mm, on: a.front}
%sboundaries:
  hot: {face: a.back, temperature: 60 °C}
  cold: {face: b.front, temperature: 20 °C}
`, materialA, materialB, joint)
}

// What is learned of a joint is not known of another that a retrofit makes, though it has the same name.
func TestRetrofitsJointsAreTheirOwn(t *testing.T) {
	f := parse(t, stack("a50", "b200", "filler: thermal pad, thickness: 1 mm")+`retrofits:
  pasted: {changes: [{rejoin: {j: {between: [a, b], filler: thermal paste, thickness: 0.1 mm}}}]}
  other paste: {changes: [{rejoin: {j: {between: [a, b], filler: thermal paste, thickness: 0.1 mm}}}]}
  capped: {changes: [{add: {cap: {material: a50, box: 20 x 10 x 5 mm, on: a.left}}}]}
`)
	h := func(retrofit string, v device.Values, joint int) float64 {
		d, _, err := f.Variant(retrofit)
		if err != nil {
			t.Fatal(err)
		}
		s, err := NewShape(d, nil, small)
		if err != nil {
			t.Fatal(err)
		}
		m, err := s.At(v, nil, "")
		if err != nil {
			t.Fatal(err)
		}
		return m.Joints[joint].HWm2K
	}
	learned := device.Values{"joints.j.conductivity": 0.5, "retrofits.pasted.joints.j.conductivity": 0.25, "retrofits.capped.contacts.a | cap": 77}
	near(t, "stock pad of 1 mm", h("", learned, 0), 0.5/1e-3, 1e-9)
	near(t, "paste of 0.1 mm that was tested", h("pasted", learned, 0), 0.25/0.1e-3, 1e-9)
	near(t, "another retrofit's paste", h("other paste", learned, 0), h("other paste", nil, 0), 1e-12)
	if got := h("other paste", nil, 0); got == h("pasted", learned, 0) {
		t.Error("the values chosen change nothing")
	}
	found := false
	for k := range 2 {
		found = found || h("capped", learned, k) == 77
	}
	if !found {
		t.Error("an added part's contact is not under its retrofit")
	}
}

func TestJointConductances(t *testing.T) {
	// Bare metal after Cooper, Mikic & Yovanovich 1969 in Yovanovich's form (Mechanical Engineers' Handbook vol. 4, p. 374):
	// h = 1.25 k_s (m/σ)(P/H)^0.95, worked here from the figures the model names (σ/m 7 µm, σ 1 µm, H 1.1 GPa), and the gas with
	// the published power-law fit of the gap, Y = 1.53 σ (P/H)^-0.097 and a jump length of 0.283 µm (air, 40 °C, accommodation 0.9).
	bare := func(k1, k2, pressurePa float64) float64 {
		rel := pressurePa / 1.1e9
		return 1.25*2*k1*k2/(k1+k2)/7e-6*math.Pow(rel, 0.95) + 0.027/(1.53e-6*math.Pow(rel, -0.097)+0.283e-6)
	}
	for _, tc := range []struct {
		name, a, b, joint string
		h, tol            float64
	}{
		{"conductance", "a50", "b200", "conductance: 1000 W/m2K", 1000, 1e-12},
		{"conductance, half covered", "a50", "b200", "conductance: 1000 W/m2K, coverage: 0.5", 500, 1e-12},
		{"filler k/t", "a50", "b200", "filler: thermal pad, thickness: 0.5 mm, conductivity: 2 W/mK", 4000, 1e-12},
		// the rest of the area is air of 0.027 W/(m K): 0.8 · 4000 + 0.2 · 54
		{"filler, covering 80 %", "a50", "b200", "filler: thermal pad, thickness: 0.5 mm, conductivity: 2 W/mK, coverage: 0.8", 3210.8, 1e-9},
		{"filler with its conductance", "a50", "b200", "filler: thermal pad, conductance: 1500 W/m2K", 1500, 1e-12},
		// the gas term of the model is from the exact gap, the fit here is up to 3.5 % off for P/H 1e-4 to 1e-2
		{"120 kPa", "a50", "b200", "pressure: 120 kPa", bare(50, 200, 1.2e5), 0.035},
		{"1 MPa", "a50", "b200", "pressure: 1 MPa", bare(50, 200, 1e6), 0.035},
		{"1 MPa, aluminium 6061: 38000 by the spots alone, rounded to two figures", "aluminium 6061", "aluminium 6061", "pressure: 1 MPa", 38000 + 0.027/(1.53e-6*math.Pow(1e6/1.1e9, -0.097)+0.283e-6), 0.035},
		// middles of the ranges of kinds (common practice: joint.RangeOf names what is behind each)
		{"kind", "a50", "b200", "kind: screwed metal", 6000, 1e-12},
		{"kind, half covered", "a50", "b200", "kind: screwed metal, coverage: 0.5", 3000, 1e-12},
		{"default, metal on metal", "a50", "b200", "", 2000, 1e-12},
		{"default, metal on plastic", "a50", "ABS", "", 350, 1e-12},
		{"default, plastic on plastic", "ABS", "polycarbonate", "", 250, 1e-12},
		{"default, chip on its board", "flip-chip package", "populated board", "", 15000, 1e-12},
		{"default, rubber on metal", "silicone rubber", "b200", "", 1300, 1e-12},
	} {
		t.Run(tc.name, func(t *testing.T) {
			m := build(t, stack(tc.a, tc.b, tc.joint), nil)
			if len(m.Joints) != 1 {
				t.Fatalf("%d joints", len(m.Joints))
			}
			j := m.Joints[0]
			near(t, "h", j.HWm2K, tc.h, tc.tol)
			near(t, "area", j.AreaM2, 400e-6, 1e-9)
			// and it is what the heat meets: layers in series (Incropera et al., 6th ed., eq. 3.19)
			tK, films := steady(t, m)
			perArea := 0.01/m.kWmK[2][m.Parts[0].Cells[0]] + 1/j.HWm2K + 0.01/m.kWmK[2][m.Parts[1].Cells[0]]
			want := 40 * 400e-6 / perArea
			out := m.SurfaceHeatW(surfaceNamed(t, m, "cold"), tK, films(surfaceNamed(t, m, "cold")))
			near(t, "heat through", out, want, 1e-6)
		})
	}
}

// A glued joint keeps its filler's service limit: plain epoxy 80 °C (as the library of fillers states), a pad none.
func TestJointLimits(t *testing.T) {
	glue := build(t, stack("a50", "b200", "filler: plain epoxy"), nil).Joints[0]
	if !glue.Glued || math.Abs(glue.LimitK-(80+zeroC)) > 1e-9 {
		t.Errorf("epoxy: glued %v, limit %g K", glue.Glued, glue.LimitK)
	}
	if pad := build(t, stack("a50", "b200", "filler: thermal pad"), nil).Joints[0]; pad.Glued {
		t.Error("a pad is no glue")
	}
}

// A round end touches by its disk: with a poor joint the heat is h π/4 d² ΔT, less what the parts themselves take.
func TestJointOfARoundEnd(t *testing.T) {
	m := build(t, `device: d
materials:
  metal: {like: aluminium 6061, conductivity: 400 W/mK}
parts:
  base: {material: metal, box: 30 x 30 x 5 mm}
  bar: {material: metal, cylinder: {diameter: 12 mm, length: 20 mm, along: z}, on: base.front}
joints:
  j: {between: [bar, base], conductance: 100 W/m2K}
boundaries:
  hot: {face: bar.front, temperature: 60 °C}
  cold: {face: base.back, temperature: 20 °C}
`, nil)
	diskM2 := math.Pi / 4 * 12 * 12e-6
	near(t, "area", m.Joints[0].AreaM2, diskM2, 0.01)
	tK, films := steady(t, m)
	// the bar in series; the base, as a spreader of 5 mm, is below 0.2 %
	want := 40 * diskM2 / (1.0/100 + 0.02/400)
	near(t, "heat", m.SurfaceHeatW(surfaceNamed(t, m, "cold"), tK, films(surfaceNamed(t, m, "cold"))), want, 0.012)
}

// A sheet conducts differently through its thickness: Q = k A ΔT/L along each axis, with the axis by the thinnest side, or as stated.
func TestSheetAxis(t *testing.T) {
	const L = 0.03 // x and y
	for _, tc := range []struct {
		name, material, from, to string
		want                     float64 // W for 10 K
	}{
		{"in its plane", "sheet", "left", "right", 20 * (0.03 * 0.003) / L * 10},
		{"in its plane, other way", "sheet", "bottom", "top", 20 * (0.03 * 0.003) / L * 10},
		{"through, thinnest", "sheet", "back", "front", 0.5 * (0.03 * 0.03) / 0.003 * 10},
		{"through, stated as x", "sheetx", "left", "right", 0.5 * (0.03 * 0.003) / L * 10},
		{"across the stated x", "sheetx", "back", "front", 20 * (0.03 * 0.03) / 0.003 * 10},
	} {
		t.Run(tc.name, func(t *testing.T) {
			m := build(t, fmt.Sprintf(`device: d
materials:
  sheet: {conductivity: 20 W/mK, conductivity through: 0.5 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
  sheetx: {like: FR4, conductivity: 20 W/mK, conductivity through: 0.5 W/mK, sheet normal: x}
parts:
  s: {material: %s, box: 30 x 30 x 3 mm}
boundaries:
  hot: {face: s.%s, temperature: 30 °C}
  cold: {face: s.%s, temperature: 20 °C}
`, tc.material, tc.from, tc.to), nil)
			tK, films := steady(t, m)
			i := surfaceNamed(t, m, "cold")
			near(t, "heat", m.SurfaceHeatW(i, tK, films(i)), tc.want, 1e-6)
		})
	}
}
