package model

import (
	"testing"

	"finwright/internal/device"
)

const modes = `device: d
materials:
  stuff: {conductivity: 20 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  base: {material: stuff, box: 40 x 40 x 5 mm}
  chip: {material: stuff, box: 13 x 11 x 3 mm, on: base.front, offset: 2 x 3 mm, heat: {bright: 4 W, low: 0.8 W, off: 0.1 W}}
  coil: {material: stuff, box: 8 x 8 x 8 mm, on: base.back, heat: 0.5 W}
  cell: {material: stuff, box: 20 x 20 x 4 mm, on: base.top}
mode: bright
after stop: off
battery: {part: cell, energy: 10 Wh, own heat: 0.05, other load: {bright: 1.5 W}}
`

func TestSourcesByMode(t *testing.T) {
	for _, tc := range []struct {
		mode                         string
		chip, chipAfter, coil, other float64
	}{
		{"", 4, 0.1, 0.5, 1.5}, // the file's mode
		{"low", 0.8, 0.1, 0.5, 0},
		{"off", 0.1, 0.1, 0.5, 0},
	} {
		m, err := shapeOf(t, modes, nil).At(nil, nil, tc.mode)
		if err != nil {
			t.Fatal(err)
		}
		if len(m.Sources) != 3 {
			t.Fatalf("%d sources", len(m.Sources))
		}
		chip, coil, cell := m.Sources[0], m.Sources[1], m.Sources[2]
		if chip.FullW != tc.chip || chip.AfterW != tc.chipAfter || m.Parts[chip.Part].Name != "chip" {
			t.Errorf("mode %q: chip %+v", tc.mode, chip)
		}
		if coil.FullW != tc.coil || coil.AfterW != 0 { // one figure: off after the stop
			t.Errorf("mode %q: coil %+v", tc.mode, coil)
		}
		if !cell.Cell || m.Parts[cell.Part].Name != "cell" {
			t.Errorf("mode %q: cell %+v", tc.mode, cell)
		}
		near(t, "energy", m.Battery.EnergyJ, 36000, 1e-12)
		within(t, "other load", m.Battery.OtherW, tc.other, 1e-12)
		within(t, "own heat", m.Battery.OwnHeat, 0.05, 1e-12)
		within(t, "limit", m.Battery.LimitK, 60+zeroC, 1e-9)
		if !m.Battery.Discharges || m.Battery.Part != 3 {
			t.Errorf("battery %+v", m.Battery)
		}
	}
}

// Heat is made evenly in a part's volume: every cell's share over its own volume is the same.
func TestHeatIsSplitByVolume(t *testing.T) {
	m := build(t, modes, nil)
	g := m.Shape.Grid
	for i, src := range m.Heat.Sources {
		part := m.Sources[i].Part
		sum, vol := 0.0, 0.0
		for e, c := range src.Cells {
			if int(g.Owner[c]) != part {
				t.Fatalf("%s heats %s", src.Name, m.BodyName(int(g.Owner[c])))
			}
			sum += src.Share[e]
			vol += g.Volume(int(c))
			near(t, src.Name, src.Share[e]*m.Parts[part].VolumeM3, g.Volume(int(c)), 1e-6)
		}
		near(t, src.Name+" shares", sum, 1, 1e-12)
		near(t, src.Name+" volume", vol, m.Parts[part].VolumeM3, 1e-6)
	}
}

// Each doubtful quantity stands once on the list, whoever uses it, and a value given by its path is the one used.
func TestUnknowns(t *testing.T) {
	const yaml = `device: d
finishes:
  coat: {emissivity: 0.7 to 0.9}
parts:
  base: {material: aluminium 6061, finish: coat, box: 40 x 40 x 5 mm}
  chip: {material: aluminium 6061, finish: coat, plate: 12 x 12 mm, thickness: 1 to 2 mm, on: base.front, heat: {bright: 3 to 5 W, low: 1 W}}
  lid: {material: ABS, box: 12 x 12 x 2 mm, on: base.back, heat: 0.2 W ± 10 %}
joints:
  glue: {between: [chip, base], filler: thermal epoxy, coverage: 0.6 to 0.9}
mode: bright
sensors:
  s: {at: chip, stops at: 90 °C ± 3 K, steps: [{above: 70 °C ± 2 K, back below: 60 °C ± 1 K, power: 50 % ± 10 %}]}
conditions: {ambient: 20 to 24 °C}
`
	s := shapeOf(t, yaml, nil)
	m, err := s.At(nil, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, u := range m.Unknowns {
		count[u.Path]++
		if u.About == "" || u.Source == "" {
			t.Errorf("%s: about %q, source %q", u.Path, u.About, u.Source)
		}
		if !(u.Prior.Lo < u.Prior.Mid && u.Prior.Mid < u.Prior.Hi) {
			t.Errorf("%s: prior %+v", u.Path, u.Prior)
		}
	}
	for path, n := range count {
		if n != 1 {
			t.Errorf("%s stands %d times", path, n)
		}
	}
	for _, path := range []string{
		"finishes.coat.emissivity", "parts.chip.thickness", "parts.chip.heat.bright", "parts.lid.heat", "joints.glue.coverage", "joints.glue.conductivity", "joints.glue.thickness",
		"materials.aluminium 6061.conductivity", "materials.ABS.specific heat", "convection.faces", "conditions.ambient",
		"contacts.base | lid", "sensors.s.stops at", "sensors.s.steps.0.above", "sensors.s.steps.0.back below", "sensors.s.steps.0.power",
	} {
		if count[path] != 1 {
			t.Errorf("%s is not on the list: %v", path, count)
		}
	}
	if count["parts.chip.heat.low"] != 0 {
		t.Error("a power of another mode is on the list")
	}
	// a library figure that is hardly in doubt may be taken as decided instead, but not in silence
	decided := count["materials.aluminium 6061.density"]
	for _, d := range m.Fixed {
		if d.About == "density of aluminium 6061" {
			decided++
		}
	}
	if decided != 1 {
		t.Errorf("the density of aluminium 6061 is told %d times", decided)
	}
	v := device.Values{"finishes.coat.emissivity": 0.71, "parts.chip.heat.bright": 4.5, "joints.glue.thickness": 1e-4, "joints.glue.conductivity": 1, "joints.glue.coverage": 0.9,
		"materials.aluminium 6061.conductivity": 150, "conditions.ambient": 295, "contacts.base | lid": 500, "convection.faces": 1.1}
	o, err := s.At(v, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	within(t, "emissivity", o.emissivity[0], 0.71, 1e-12)
	within(t, "power", o.Sources[0].FullW, 4.5, 1e-12)
	within(t, "conductivity", o.kWmK[0][o.Parts[0].Cells[0]], 150, 1e-12)
	within(t, "ambient", o.Under.AirK, 295, 1e-12)
	within(t, "start", o.StartK, 295, 1e-12)
	near(t, "glue", o.Joints[o.jointOf[[2]int{0, 1}]].HWm2K, 0.9*1/1e-4+0.1*0.027/1e-4, 1e-9)
	near(t, "contact", o.Joints[o.jointOf[[2]int{0, 2}]].HWm2K, 500, 1e-12)
	c1, c2 := describe(t, m, 0, 320).ConvWm2K, describe(t, o, 0, 320).ConvWm2K
	if !(c2 > 1.05*c1) {
		t.Errorf("convection %g, with a factor of 1.1 and other air %g", c1, c2)
	}
	if len(o.Unknowns) != len(m.Unknowns) {
		t.Errorf("%d unknowns with values, %d without", len(o.Unknowns), len(m.Unknowns))
	}
}
