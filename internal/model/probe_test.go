package model

import (
	"math"
	"testing"

	"finwright/internal/device"
)

// wall is a plane wall of 8 mm, k 0.5, held at 80 °C behind and with 25 W/(m² K) to 20 °C before it.
const wall = `device: d
materials:
  stuff: {conductivity: 0.5 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  w: {material: stuff, box: 20 x 20 x 8 mm}
boundaries:
  hot: {face: w.back, temperature: 80 °C}
  air: {face: w.front, film: 25 W/m2K, ambient: 20 °C}
`

// Plane wall with a film: q = ΔT/(L/k + 1/h), T(z) = 80 - q z/k (Incropera et al., 6th ed., section 3.1).
func TestProbesOfAPlaneWall(t *testing.T) {
	m := build(t, wall, nil)
	tK, films := steady(t, m)
	q := 60 / (0.008/0.5 + 1/25.0)
	at := func(zM float64) float64 { return 80 + zeroC - q*zM/0.5 }
	for _, tc := range []struct {
		place string
		want  float64
	}{
		{"0 0 8 mm", at(0.008)}, {"20 20 8 mm", at(0.008)}, {"w.front centre", at(0.008)}, {"w.front", at(0.008)}, {"w.front highest", at(0.008)}, {"air", at(0.008)},
		{"w.back centre", at(0)}, {"hot", at(0)}, {"20 0 0 mm", at(0)},
		{"w centre", at(0.004)}, {"7 13 3.1 mm", at(0.0031)}, {"7 13 7.9 mm", at(0.0079)},
		{"w", at(0.004)},
	} {
		within(t, tc.place, read(t, m, tc.place, tK, films), tc.want, 1e-6)
	}
	// the hottest cell is the one at the hot face: half a cell from it
	dz := m.Shape.Grid.CellSize(2, 0)
	within(t, "w highest", read(t, m, "w highest", tK, films), at(dz/2), 1e-6)
	for _, place := range []string{"25 0 0 mm", "nobody", "w.upper", ""} {
		if _, err := m.Probe(place); err == nil {
			t.Errorf("%q was found", place)
		}
	}
}

// On both sides of a joint a point is the side of its own part, and a covered face is the layer under it.
func TestProbesAtAJoint(t *testing.T) {
	m := build(t, stack("a50", "b200", "conductance: 1000 W/m2K"), nil)
	tK, films := steady(t, m)
	q := 40 / (0.01/50 + 1/1000.0 + 0.01/200)
	hot, cold := 60+zeroC-q*0.01/50, 20+zeroC+q*0.01/200
	within(t, "a.front centre", read(t, m, "a.front centre", tK, films), hot, 1e-6)
	within(t, "b.back centre", read(t, m, "b.back centre", tK, films), cold, 1e-6)
	dz := m.Shape.Grid.CellSize(2, 0)
	// no outer face: the mean of the cells under it, half a cell off the face
	i, _ := m.Shape.Grid.Index(2, 0.01)
	da, db := m.Shape.Grid.CellSize(2, i-1), m.Shape.Grid.CellSize(2, i)
	within(t, "a.front", read(t, m, "a.front", tK, films), hot+q*da/2/50, 1e-6)
	within(t, "b.back", read(t, m, "b.back", tK, films), cold-q*db/2/200, 1e-6)
	within(t, "a", read(t, m, "a", tK, films), 60+zeroC-q*0.005/50, 1e-6)
	within(t, "a highest", read(t, m, "a highest", tK, films), 60+zeroC-q*dz/2/50, 1e-6)
	within(t, "glue", m.JointProbe(0).Read(tK, films), hot+q*da/2/50, 1e-5)
}

// Places are written to a hundredth of a millimetre: one on a face at 8.0052 mm reads 8.01 mm and is still on it; one a tenth off is not.
func TestPlacesAreWrittenRounded(t *testing.T) {
	m := build(t, `device: d
materials:
  stuff: {conductivity: 0.5 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  w: {material: stuff, box: 20 x 20 x 8.0052 mm, heat: 0.3 W}
`, nil)
	tK, films := steady(t, m)
	within(t, "front", read(t, m, "10 10 8.01 mm", tK, films), read(t, m, "w.front centre", tK, films), 1e-3)
	if p, err := m.Probe("10 10 8.1 mm"); err == nil {
		t.Errorf("a place outside gives %+v", p)
	}
}

// A probe names every cell that it reads, so that a solver may fill in no others (the session does so inside a step).
func TestProbesReadOnlyTheirPlaces(t *testing.T) {
	m := build(t, wall, nil)
	tK, films := steady(t, m)
	for _, place := range []string{"0 0 8 mm", "w.front centre", "w centre", "7 13 3.1 mm", "w", "w highest", "w.front", "w.front highest", "air"} {
		p, err := m.Probe(place)
		if err != nil {
			t.Fatal(err)
		}
		sparse := make([]float64, len(tK))
		for i := range sparse {
			sparse[i] = math.NaN()
		}
		for _, c := range p.Places {
			sparse[c] = tK[c]
		}
		within(t, place, p.Read(sparse, films), p.Read(tK, films), 0)
	}
}

// The hottest place a hand can reach is the surface's own temperature, not the cell's, and no face that lies on something.
func TestHottestReach(t *testing.T) {
	const yaml = `device: d
materials:
  stuff: {conductivity: 0.5 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  w: {material: stuff, box: 20 x 20 x 8 mm, heat: 0.3 W}
`
	for _, rests := range []string{"", "conditions: {rests on: {face: w.back, what: cloth}}\n"} {
		m := build(t, yaml+rests, nil)
		tK, films := steady(t, m)
		top := m.HottestReach().Read(tK, films)
		want := math.Inf(-1)
		for _, face := range []string{"w.front highest", "w.left highest", "w.top highest", "w.bottom highest", "w.right highest"} {
			want = math.Max(want, read(t, m, face, tK, films))
		}
		back := read(t, m, "w.back highest", tK, films)
		if rests == "" {
			want = math.Max(want, back)
		} else if back <= want {
			t.Error("the test needs a face below that is hottest")
		}
		within(t, "hottest", top, want, 1e-12)
		if inside := read(t, m, "w highest", tK, films); top >= inside {
			t.Errorf("surface %g K, inside %g K", top, inside)
		}
	}
}

// Heat in series: chip, board, plate, film. Every contact carries all the power, its step is P/(hA), and what crosses adds up.
func TestCrossings(t *testing.T) {
	m := build(t, `device: d
materials:
  stuff: {conductivity: 20 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  plate: {material: stuff, box: 40 x 40 x 3 mm}
  board: {material: stuff, box: 30 x 30 x 2 mm, on: plate.back}
  chip: {material: stuff, box: 10 x 10 x 2 mm, on: board.back, heat: 2.5 W}
  second: {material: stuff, box: 10 x 10 x 2 mm, on: board.back, offset: 10 x 10 mm, heat: 0.5 W}
joints:
  one: {between: [chip, board], conductance: 2000 W/m2K}
  two: {between: [second, board], conductance: 1000 W/m2K}
  three: {between: [board, plate], conductance: 500 W/m2K}
boundaries:
  air: {face: plate.front, film: 30 W/m2K, ambient: 25 °C}
`, nil)
	tK, films := steady(t, m)
	want := map[[2]string][2]float64{ // watts, kelvins
		{"board", "chip"}:   {2.5, 2.5 / (2000 * 100e-6)},
		{"board", "second"}: {0.5, 0.5 / (1000 * 100e-6)},
		{"plate", "board"}:  {3, 3 / (500 * 900e-6)},
	}
	got := m.Crossings(tK)
	if len(got) != len(want) {
		t.Fatalf("%d crossings", len(got))
	}
	for _, c := range got {
		w := want[[2]string{m.BodyName(c.A), m.BodyName(c.B)}]
		near(t, m.BodyName(c.A)+" | "+m.BodyName(c.B), -c.FlowW, w[0], 1e-6)
		near(t, "step", c.SideBK-c.SideAK, w[1], 1e-6) // the area's mean, exact for one conductance
		near(t, "area × h × step", c.AreaM2*w[0]/w[1]/m.Joints[m.jointOf[pair(c.A, c.B)]].AreaM2*(c.SideBK-c.SideAK), w[0], 1e-6)
	}
	near(t, "out", m.SurfaceHeatW(0, tK, films(0)), 3, 1e-6)
	near(t, "mean of the front", read(t, m, "plate.front", tK, films), 25+zeroC+3/(30*1600e-6), 1e-9)
}

// The same file and values give the same model, cell by cell.
func TestModelIsDeterministic(t *testing.T) {
	a, b := build(t, modes, nil), build(t, modes, device.Values{})
	for c := range a.Heat.CapJK {
		if a.Heat.CapJK[c] != b.Heat.CapJK[c] || a.Heat.GX[c] != b.Heat.GX[c] || a.Heat.GY[c] != b.Heat.GY[c] || a.Heat.GZ[c] != b.Heat.GZ[c] {
			t.Fatalf("cell %d differs", c)
		}
	}
	for i := range a.Unknowns {
		if a.Unknowns[i].Path != b.Unknowns[i].Path {
			t.Fatalf("unknown %d is %s and %s", i, a.Unknowns[i].Path, b.Unknowns[i].Path)
		}
	}
}
