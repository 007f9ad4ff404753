package model

import (
	"fmt"
	"math"
	"testing"

	"finwright/internal/device"
)

const lamp = `device: d
up: +y
finishes:
  pale: {emissivity: 0.9, sun absorbed: 0.2}
  dark: {emissivity: 0.9, sun absorbed: 0.95}
parts:
  body: {material: aluminium 6061, finish: pale, box: 60 x 90 x 22 mm}
  plate: {material: aluminium 6061, finish: dark, plate: 50 x 80 mm, thickness: 2 mm, on: body.front}
`

func at(t *testing.T, yaml string, c *device.Conditions) *Model {
	t.Helper()
	m, err := shapeOf(t, yaml, nil).At(nil, c, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Which way a face looks decides its correlation: tilt by hand for three ways to hold the same body.
func TestPostureTurnsTheSurfaces(t *testing.T) {
	for _, tc := range []struct {
		up                            string
		top, front, left, back        float64 // tilt, degrees: 0 faces up
		topHeightMM, frontHeightMM    float64
		topWidthMM, frontPlateWidthMM float64
	}{
		// a level face carries its two sides as height and width, an upright one its run along gravity and across
		{"", 0, 90, 90, 90, 22, 80, 60, 50},
		{"+y", 0, 90, 90, 90, 22, 80, 60, 50},
		{"-y", 180, 90, 90, 90, 22, 80, 60, 50},
		{"+z", 90, 0, 90, 180, 22, 50, 60, 80},
		{"-z", 90, 180, 90, 0, 22, 50, 60, 80},
		{"-x", 90, 90, 0, 90, 60, 50, 22, 80},
	} {
		t.Run("up "+tc.up, func(t *testing.T) {
			m := at(t, lamp, &device.Conditions{Up: tc.up})
			patch := func(name string) (tilt, heightMM, widthMM float64) {
				p := m.Surfaces[surfaceNamed(t, m, name)].patch.patch
				return p.TiltRad * 180 / math.Pi, p.HeightM * 1e3, p.WidthM * 1e3
			}
			tilt, h, w := patch("body top")
			within(t, "top", tilt, tc.top, 1e-6)
			within(t, "top height", h, tc.topHeightMM, 1e-6)
			within(t, "top width", w, tc.topWidthMM, 1e-6)
			tilt, h, w = patch("plate front")
			within(t, "front", tilt, tc.front, 1e-6)
			within(t, "front height", h, tc.frontHeightMM, 1e-6)
			within(t, "front width", w, tc.frontPlateWidthMM, 1e-6)
			tilt, _, _ = patch("body left")
			within(t, "left", tilt, tc.left, 1e-6)
			tilt, _, _ = patch("body back")
			within(t, "back", tilt, tc.back, 1e-6)
		})
	}
}

// The walls of fins see each other: 5 fins of 1 mm on 30 mm leave gaps of (30 - 5)/4 = 6.25 mm, 12 mm deep; the outer flanks stand free.
func TestFinsHaveChannels(t *testing.T) {
	m := build(t, `device: d
parts:
  fins: {material: aluminium 6061, at: 0 0 0 mm, fin block: {base: 30 x 40 mm, base thickness: 3 mm, fins: 5, fin height: 12 mm, fin thickness: 1 mm, fins along: y, fins point: +z}}
`, nil)
	i := surfaceNamed(t, m, "fins, channels")
	p, sk := m.Surfaces[i].patch.patch, &m.Shape.Surfaces[i]
	near(t, "gap", p.Channel.GapM, 6.25e-3, 1e-6)
	near(t, "depth", p.Channel.DepthM, 12e-3, 1e-6)
	near(t, "length", p.Channel.LengthM, 40e-3, 1e-6)
	within(t, "run from upright", p.Channel.RunTiltRad, 0, 1e-9)
	within(t, "mouth from up", p.Channel.MouthTiltRad, math.Pi/2, 1e-9)
	if c := p.Channel; !c.OpenLow || !c.OpenHigh || !c.OpenMouth || c.OneSided || sk.Channel.Count != 4 {
		t.Errorf("%+v", *sk.Channel)
	}
	if m.Surfaces[i].Reach {
		t.Error("a finger reaches between the fins")
	}
	near(t, "walls and floors of channels", m.Surfaces[i].AreaM2, 4*(2*12+6.25)*40e-6, 1e-6)
	// the mean over the walls of an open U: at most the openings over the walls, (6.25 · 40 + 2 · 6.25 · 12)/(30.25 · 40) = 0.33
	if v := m.Readings()[i].ViewOut; !(v > 0.22 && v < 0.33) {
		t.Errorf("channels see %.2f of their hemisphere", v)
	}
	total := 0.0
	for k := range m.Surfaces {
		total += m.Surfaces[k].AreaM2
		if k != i && m.Surfaces[k].patch.patch.Channel.GapM != 0 {
			t.Errorf("%s has a gap", m.Surfaces[k].Name)
		}
	}
	// 30 x 40 base: bottom + sides, its free top with tips, 10 flanks of 12 x 40, 10 ends of 12 x 1
	near(t, "all area", total, (2*30*40+2*3*(30+40)+10*12*40+10*12*1)*1e-6, 1e-6)
}

func TestSunOnTheWorstSide(t *testing.T) {
	for _, tc := range []struct {
		from string
		want map[string]float64 // absorbed, W/m²
	}{
		// the dark front takes in 0.95 · 50 · 80 + 0.2 · the pale rim, more than the pale back of 60 · 90
		{"", map[string]float64{"plate front": 760, "body front": 160, "body back": 0, "body left": 0}},
		{"+y", map[string]float64{"body top": 160, "plate top": 760, "body back": 0, "body bottom": 0}},
	} {
		conditions := "conditions: {sun: 800 W/m2, sky light: 0 W/m2, ground reflects: 0"
		if tc.from != "" {
			conditions += ", sun from: " + tc.from
		}
		m := build(t, lamp+conditions+"}\n", nil)
		for name, want := range tc.want {
			i := surfaceNamed(t, m, name)
			within(t, "sun "+tc.from+" on "+name, describe(t, m, i, 310).SunWm2, want, 0.5) // 0.5: what the edges beside it throw back
			within(t, "gain "+tc.from+" on "+name, filmAt(m, i, 310).GainWm2, want, 0.5)
		}
	}
	dull := build(t, lamp, nil)
	for i := range dull.Surfaces {
		if describe(t, dull, i, 310).SunWm2 != 0 {
			t.Error("sun without sun on ", dull.Surfaces[i].Name)
		}
	}
}

// Light of the sky and the ground on a plate that leans: an even sky gives (1 + cos β)/2 of its light on level ground to a plate
// leaning by β, the ground (1 − cos β)/2 of what it throws back (Liu & Jordan, Solar Energy 4 (1960) 1-19), and the sun its cosine.
func TestLightOnALeaningPlate(t *testing.T) {
	const absorbs = 0.95
	for _, tc := range []struct {
		leaning float64 // about x, from facing the zenith
	}{{0}, {30}, {45}, {90}, {120}, {180}} {
		m := build(t, fmt.Sprintf(blackPlate+`conditions: {held with up: +z, leaning: {by: %g deg, about: x}, sun: 800 W/m2, sun from: +z, sky light: 100 W/m2, ground reflects: 0.25}
`, tc.leaning), nil)
		cos := math.Cos(tc.leaning * math.Pi / 180)
		high := math.Max(0, cos) // the sun stands square on the plate, so it sinks with it
		want := absorbs * (800 + 100*(1+cos)/2 + 0.25*(800*high+100)*(1-cos)/2)
		near(t, fmt.Sprintf("front leaning %g°", tc.leaning), describe(t, m, surfaceNamed(t, m, "p front"), 310).SunWm2, want, 2e-3)
		back := absorbs * (100*(1-cos)/2 + 0.25*(800*high+100)*(1+cos)/2)
		near(t, fmt.Sprintf("back leaning %g°", tc.leaning), describe(t, m, surfaceNamed(t, m, "p back"), 310).SunWm2, back, 5e-3)
	}
}

// Between sky and ground of different temperatures an upright black face loses to half of each; facing up, to the sky alone.
func TestSkyAndGround(t *testing.T) {
	yaml := `device: d
finishes: {black: {emissivity: 1}}
parts:
  p: {material: aluminium 6061, finish: black, box: 60 x 90 x 3 mm}
conditions: {ambient: 10 °C, sky: -30 °C, ground: 20 °C, held with up: %s}
`
	to := func(k float64) float64 { return sigma * (math.Pow(310, 4) - math.Pow(k, 4)) }
	up := build(t, fmt.Sprintf(yaml, "+z"), nil)
	near(t, "up", describe(t, up, surfaceNamed(t, up, "p front"), 310).RadWm2, to(243.15), 1e-6)
	near(t, "down", describe(t, up, surfaceNamed(t, up, "p back"), 310).RadWm2, to(293.15), 1e-6)
	side := build(t, fmt.Sprintf(yaml, "+y"), nil)
	near(t, "upright", describe(t, side, surfaceNamed(t, side, "p front"), 310).RadWm2, (to(243.15)+to(293.15))/2, 2e-3)
}

// Height thins the air: 79.50 kPa at 2000 m (ICAO standard atmosphere, pressure ratio 0.784557), and laminar natural convection
// goes with (p/p0)^½; the part that is conduction into resting air does not change. Wind adds.
func TestAltitudeAndWind(t *testing.T) {
	sea := build(t, lamp, nil)
	high := build(t, lamp+"conditions: {altitude: 2000 m}\n", nil)
	windy := build(t, lamp+"conditions: {air: 3 m/s}\n", nil)
	near(t, "pressure", high.Under.PressurePa, 0.784557*101325, 1e-3)
	for i := range sea.Surfaces {
		still, thin := describe(t, sea, i, 320), describe(t, high, i, 320)
		h0, h1, h2 := still.ConvWm2K, thin.ConvWm2K, describe(t, windy, i, 320).ConvWm2K
		if !(h1 < 0.97*h0 && h1 > math.Sqrt(0.784557)*h0) || still.RadWm2 != thin.RadWm2 {
			t.Errorf("%s: %g W/(m² K), at 2000 m %g", sea.Surfaces[i].Name, h0, h1)
		}
		if !(h2 > 1.5*h0) {
			t.Errorf("%s: %g W/(m² K), in wind %g", sea.Surfaces[i].Name, h0, h2)
		}
	}
	// the film is against air and surroundings each with its own share
	cold := build(t, lamp+"conditions: {ambient: 20 °C, surroundings: 5 °C}\n", nil)
	for i := range cold.Surfaces {
		d, f := describe(t, cold, i, 320), filmAt(cold, i, 320)
		near(t, cold.Surfaces[i].Name, f.HWm2K*(320-f.RefK), d.ConvWm2+d.RadWm2, 1e-9)
		near(t, cold.Surfaces[i].Name+" air", d.ConvWm2, d.ConvWm2K*(320-293.15), 1e-9)
		// radiation is exactly εσ(T⁴-T∞⁴) for a face that sees all of the surroundings, with the finish's ε of 0.9
		if cold.Readings()[i].ViewOut > 1-1e-9 {
			near(t, cold.Surfaces[i].Name+" radiation", d.RadWm2, 0.9*sigma*(math.Pow(320, 4)-math.Pow(278.15, 4)), 1e-6)
		}
	}
}

// A face on a support loses by it and not by the air: an isothermal disk of its area on a half space, R = 1/(4 k a) (Yovanovich &
// Marotta in Bejan & Kraus, Heat Transfer Handbook 2003, ch. 4), a = √(A/π), and a contact film. Wood 0.15 W/(m K), 100 W/(m² K).
func TestRestsOn(t *testing.T) {
	m := build(t, lamp+"conditions: {ambient: 21 °C, rests on: {face: body.back, what: wood}}\n", nil)
	i := surfaceNamed(t, m, "body back, on wood")
	areaM2 := 60 * 90e-6
	diskWK := 4 * 0.15 * math.Sqrt(areaM2/math.Pi)
	f := filmAt(m, i, 320)
	near(t, "film", f.HWm2K, 1/(areaM2/diskWK+1.0/100), 1e-9)
	within(t, "against", f.RefK, 21+zeroC, 1e-9)
	if m.Surfaces[i].Reach {
		t.Error("a hand reaches the face it lies on")
	}
	for k := range m.Surfaces {
		if k != i && (m.Surfaces[k].patch == nil || !m.Surfaces[k].Reach) {
			t.Error("also changed: ", m.Surfaces[k].Name)
		}
	}
	if hand := build(t, lamp+"conditions: {rests on: {face: body.back, what: hand, share: 100 %}}\n", nil); filmAt(hand, surfaceNamed(t, hand, "body back, in the hand"), 320).RefK != 33+zeroC {
		t.Error("a hand is not at 33 °C")
	}
}

const plateWith = `device: d
materials:
  metal: {like: aluminium 6061, conductivity: 200 W/mK}
parts:
  p: {material: metal, box: 40 x 30 x 4 mm}
boundaries:
  %s
`

func TestBoundaries(t *testing.T) {
	const areaM2 = 40 * 30e-6
	far := "\n  cold: {face: p.back, temperature: 20 °C}"
	t.Run("flux", func(t *testing.T) { // Fourier's law
		m := build(t, fmt.Sprintf(plateWith, "in: {face: p.front, flux: 5000 W/m2}"+far), nil)
		tK, films := steady(t, m)
		within(t, "front", read(t, m, "p.front", tK, films), 20+zeroC+5000*0.004/200, 1e-6)
		within(t, "the boundary by its name", read(t, m, "in", tK, films), 20+zeroC+0.1, 1e-6)
		near(t, "heat", m.SurfaceHeatW(1, tK, films(1)), 5000*areaM2, 1e-6)
		near(t, "heat in", m.SurfaceHeatW(0, tK, films(0)), -5000*areaM2, 1e-6)
	})
	t.Run("power on a patch", func(t *testing.T) {
		m := build(t, fmt.Sprintf(plateWith, "in: {face: p.front, patch: 10 x 8 mm, offset: 5 x -3 mm, power: 3 W}"+far), nil)
		i := surfaceNamed(t, m, "in")
		near(t, "area", m.Surfaces[i].AreaM2, 80e-6, 1e-9)
		near(t, "flux", filmAt(m, i, 300).GainWm2, 3/80e-6, 1e-9)
		for _, ei := range m.Surfaces[i].Elements {
			c := m.Shape.Grid.Exposed[ei].Centre
			if c[0] < 20e-3 || c[0] > 30e-3 || c[1] < 8e-3 || c[1] > 16e-3 || math.Abs(c[2]-4e-3) > 1e-9 {
				t.Fatalf("element at %v m", c)
			}
		}
		tK, films := steady(t, m)
		near(t, "heat", m.SurfaceHeatW(1, tK, films(1)), 3, 1e-6)
		if hot, away := read(t, m, "25 12 4 mm", tK, films), read(t, m, "2 28 4 mm", tK, films); hot < away+0.5 {
			t.Errorf("under the patch %g K, away %g K", hot, away)
		}
	})
	t.Run("a patch beside its face", func(t *testing.T) {
		m := build(t, fmt.Sprintf(plateWith, "rest: {face: p.front, film: 10 W/m2K, ambient: 20 °C}\n  in: {face: p.front, patch: 10 x 8 mm, power: 3 W}"), nil)
		near(t, "rest", m.Surfaces[surfaceNamed(t, m, "rest")].AreaM2, areaM2-80e-6, 1e-9)
		tK, films := steady(t, m)
		i := surfaceNamed(t, m, "rest")
		near(t, "heat", m.SurfaceHeatW(i, tK, films(i)), 3, 1e-6)
	})
	t.Run("swing", func(t *testing.T) {
		m := build(t, fmt.Sprintf(plateWith, "in: {face: p.front, temperature: 50 °C, swing: 8 K, period: 40 s}"), nil)
		for _, p := range []struct{ s, c float64 }{{0, 50}, {10, 58}, {20, 50}, {30, 42}, {40.0 / 12, 54}} {
			f := m.Heat.Surfaces[0].Law.Film(even(m, 300), 0, p.s)
			if !math.IsInf(f.HWm2K, 1) {
				t.Fatal("not held")
			}
			within(t, fmt.Sprintf("at %g s", p.s), f.RefK, p.c+zeroC, 1e-9)
		}
	})
	t.Run("radiates", func(t *testing.T) { // εσ(T⁴ - T∞⁴) = q
		m := build(t, fmt.Sprintf(plateWith, "out: {face: p.front, radiates: 0.8, ambient: 300 K}\n  in: {face: p.back, flux: 400 W/m2}"), nil)
		tK, films := steady(t, m)
		within(t, "surface", read(t, m, "p.front", tK, films), math.Pow(math.Pow(300, 4)+400/(0.8*sigma), 0.25), 1e-3)
	})
	t.Run("film and resistance", func(t *testing.T) { // 1/h = R
		m := build(t, fmt.Sprintf(plateWith, "one: {face: p.front, film: 25 W/m2K, ambient: 20 °C}\n  two: {face: p.left, surface resistance: 0.04 m2K/W, ambient: 20 °C}"), nil)
		near(t, "film", filmAt(m, 0, 300).HWm2K, 25, 1e-12)
		near(t, "resistance", filmAt(m, 1, 300).HWm2K, 25, 1e-12)
	})
}

// A whole device against a published relation: an aluminium box of 100 x 60 x 25 mm in still air of 25 °C. Nu on √A =
// Nu0 + F(Pr) G Ra^(1/4) (Lee, Yovanovich & Jafarpur, J. Thermophys. Heat Transfer 5, 1991, 208-216), worked by hand at a rise
// of 20 K: 2.0684 W upright (100 mm upward), 2.0046 W flat (25 mm upward), with air at the film temperature of 308.15 K (k
// 0.0269565 W/(m K), ν 1.65114e-5, α 2.34054e-5 m²/s, Pr 0.70545) and Nu0 3.4321, G 0.99440 and 0.95927. Radiation of
// emissivity 0.05 is added, εσA(T⁴-T∞⁴). The rise must come out within the relation's 15 %.
func TestBoxAgainstWholeBodyRelation(t *testing.T) {
	const areaM2 = 0.02
	radW := 0.05 * sigma * areaM2 * (math.Pow(318.15, 4) - math.Pow(298.15, 4))
	for name, tc := range map[string]struct {
		up    string
		convW float64
	}{"upright": {"+y", 2.0684}, "flat": {"+z", 2.0046}} {
		t.Run(name, func(t *testing.T) {
			m := build(t, fmt.Sprintf(`device: d
up: %s
finishes: {bare: {emissivity: 0.05}}
parts:
  box: {material: aluminium 6061, finish: bare, box: 60 x 100 x 25 mm, heat: %.6f W}
conditions: {ambient: 25 °C, air: still}
`, tc.up, tc.convW+radW), nil)
			tK, films := steady(t, m)
			rise := read(t, m, "box", tK, films) - 298.15
			near(t, "rise", rise, 20, 0.15)
			out := 0.0
			for i := range m.Surfaces {
				out += m.SurfaceHeatW(i, tK, films(i))
			}
			near(t, "heat out", out, tc.convW+radW, 1e-3)
		})
	}
}
