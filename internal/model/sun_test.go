package model

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"finwright/internal/heat"
)

// absorbedW is what each part takes in of the sun, W.
func absorbedW(m *Model) map[string]float64 {
	w := map[string]float64{}
	for i := range m.Surfaces {
		w[m.Parts[m.Surfaces[i].Body].Name] += filmAt(m, i, 310).GainWm2 * m.Surfaces[i].AreaM2
	}
	return w
}

func sunDecision(t *testing.T, m *Model) string {
	t.Helper()
	for _, f := range m.Fixed {
		if f.About == "where the sun stands" {
			return f.Value + ": " + f.Source
		}
	}
	t.Fatal("the sun's side is not told")
	return ""
}

const blackPlate = `device: d
finishes: {black: {emissivity: 0.9, sun absorbed: 0.95}, white: {emissivity: 0.9, sun absorbed: 0.2}}
parts:
  p: {material: aluminium 6061, finish: black, box: 60 x 90 x 3 mm}
`

// A plate square to the sun takes in α G A, and so its account over time says: 0.95 · 800 W/m² · 60 · 90 mm² = 4.104 W.
func TestSunOnABlackPlate(t *testing.T) {
	m := build(t, blackPlate+"conditions: {ambient: 25 °C, sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2, sun from: +z}\n", nil)
	near(t, "absorbed", absorbedW(m)["p"], 4.104, 1e-9)
	if d := sunDecision(t, m); d != "front: stated; the device takes in 4.1 W" {
		t.Error(d)
	}
	st, err := heat.NewStepper(m.Heat, heat.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := st.InitUniform(m.StartK, 0); err != nil {
		t.Fatal(err)
	}
	for st.Time() < 1200 {
		if _, err := st.Advance(context.Background(), 1200); err != nil {
			t.Fatal(err)
		}
	}
	b := st.Balance()
	near(t, "taken in over 20 min, J", b.GainJ, 4.104*1200, 1e-6)
	near(t, "out and stored, J", b.OutJ+b.StoredJ, b.GainJ, 1e-6)
	if b.StoredJ < 100 {
		t.Errorf("%g J stored: the sun does not warm it", b.StoredJ)
	}
}

// An added plate in front of the wall takes the sun the wall had, with its own finish: by hand 0.95 · 800 · 60 · 90 mm² = 4.104 W
// without, 0.2 · 800 · 60 · 45 mm² = 0.432 W and half of the wall's with half a shade. The post stands in the shade.
func TestShadeTakesTheSun(t *testing.T) {
	const post = "  post: {material: ABS, finish: black, box: 4 x 4 x 12 mm, at: 28 2 3 mm}\n"
	const conditions = "conditions: {sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2, sun from: +z}\n"
	for name, tc := range map[string]struct {
		shade           string
		wallW, shadedBy float64
	}{
		"whole": {"60 x 90 x 1 mm, at: 0 0 15 mm", 0, 0.864},
		"half":  {"60 x 45 x 1 mm, at: 0 0 15 mm", 2.052, 0.432},
		"wider": {"80 x 110 x 1 mm, at: -10 -10 15 mm", 0, 0.2 * 800 * 80 * 110e-6},
	} {
		t.Run(name, func(t *testing.T) {
			m := build(t, blackPlate+post+"  shade: {material: aluminium 6061, finish: white, box: "+tc.shade+"}\n"+conditions, nil)
			w := absorbedW(m)
			// what the lit black wall throws back, 5 %, comes to the rest as hundredths of a watt at most
			within(t, "wall", w["p"], tc.wallW, 0.01)
			within(t, "shade", w["shade"], tc.shadedBy, 0.01)
			within(t, "post", w["post"], 0, 0.001)
		})
	}
}

// Turned by 30°, a plate takes in α G times its outline: 60 mm · (90 cos 30° + 3 sin 30°).
func TestSunOnATurnedPart(t *testing.T) {
	m := build(t, strings.Replace(blackPlate, "3 mm}", "3 mm, turn: {by: 30 deg, about: x}}", 1)+"conditions: {sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2, sun from: +z}\n", nil)
	near(t, "absorbed", absorbedW(m)["p"], 0.95*800*0.060*(0.090*math.Cos(math.Pi/6)+0.003*0.5), 0.01)
}

// Without a stated side the whole device counts, shadows included: the black front alone would take in most, but a white shade
// stands before it; the bare back then takes in 4.104 W.
func TestWorstSideKnowsShadows(t *testing.T) {
	m := build(t, blackPlate+`  post: {material: ABS, finish: white, box: 4 x 4 x 12 mm, at: 28 2 3 mm}
  shade: {material: aluminium 6061, finish: white, box: 60 x 90 x 1 mm, at: 0 0 15 mm}
conditions: {sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2}
`, nil)
	near(t, "absorbed", absorbedW(m)["p"], 4.104, 1e-9)
	if d := sunDecision(t, m); d != "back: no direction is stated: the one, above the horizon, from which it takes in most; the device takes in 4.1 W" {
		t.Error(d)
	}
	// lying on its back the sun reaches it best aslant, under the shade
	lying := blackPlate + `  post: {material: ABS, finish: white, box: 4 x 4 x 12 mm, at: 28 2 3 mm}
  shade: {material: aluminium 6061, finish: white, box: 60 x 90 x 1 mm, at: 0 0 15 mm}
conditions: {sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2, rests on: {face: p.back, what: wood}%s}
`
	total := func(m *Model) (w float64) {
		for _, p := range absorbedW(m) {
			w += p
		}
		return w
	}
	worst := build(t, fmt.Sprintf(lying, ""), nil)
	for _, from := range []string{"+x", "-x", "+y", "+z", "[0, 1, 1]", "[1, 1, 1]"} {
		if one := build(t, fmt.Sprintf(lying, ", sun from: "+from), nil); total(one) > total(worst)+1e-9 {
			t.Errorf("%g W from %s, %g W from the worst side", total(one), from, total(worst))
		}
	}
	// a strip as wide as the room under the shade is high, 12 mm, is lit at 45°: 0.95 · 800 · cos 45° · 60 · 12 mm²
	slant := build(t, fmt.Sprintf(lying, ", sun from: [0, 1, 1]"), nil)
	near(t, "strip under the shade", describe(t, slant, surfaceNamed(t, slant, "p front, facing shade"), 310).SunWm2*0.060*0.090, 0.95*800*math.Sqrt2/2*0.060*0.012, 0.1)
}

// Learning builds models on one shape at the same time.
func TestSunOnOneShapeAtTheSameTime(t *testing.T) {
	s := shapeOf(t, blackPlate+"conditions: {sky light: 0 W/m2, ground reflects: 0, sun: 800 W/m2}\n", nil)
	var wg sync.WaitGroup
	for i := 0; i < 4; i++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			m, err := s.At(nil, nil, "")
			if err != nil {
				t.Error(err)
				return
			}
			near(t, "absorbed", absorbedW(m)["p"], 4.104, 1e-9)
		}()
	}
	wg.Wait()
}

// A shade held apart touches nothing, and is a body of its own all the same: it takes the sun, and gives the wall behind it no more
// than what it radiates. The settled wall is cooler with it, and both accounts close.
func TestShadeHeldApart(t *testing.T) {
	const sunny = "conditions: {ambient: 30 °C, sun: 800 W/m2, sun from: +z, held with up: +y}\n"
	bare := build(t, blackPlate+sunny, nil)
	shaded := build(t, blackPlate+"  shade: {material: aluminium 6061, finish: white, plate: 80 x 110 mm, thickness: 1 mm, on: p.front, gap: 12 mm, held apart: yes}\n"+sunny, nil)
	rise := func(m *Model) float64 {
		tK, films := steady(t, m)
		out := 0.0
		for i := range m.Surfaces {
			out += m.SurfaceHeatW(i, tK, films(i))
		}
		within(t, "heat out, light taken in included", out, 0, 1e-4)
		return read(t, m, "p", tK, films) - 303.15
	}
	without, with := rise(bare), rise(shaded)
	if !(with > 0.5 && with < 0.5*without) {
		t.Errorf("%g K above the air without a shade, %g K with it", without, with)
	}
}
