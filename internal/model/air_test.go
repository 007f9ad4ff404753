package model

import (
	"math"
	"slices"
	"strings"
	"testing"
)

const sigma = 5.670374419e-8 // W/(m² K⁴), CODATA 2018

// gap is two metal plates 6 mm apart, 70 x 70 mm, the air between them sealed by a frame that hardly conducts.
const gap = `device: d
materials:
  metal: {like: aluminium 6061, conductivity: 200 W/mK}
  nearly nothing: {conductivity: 0.0001 W/mK, density: 100 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
  bright: {emissivity: 0.1}
parts:
  a: {material: metal, finish: dark, box: 70 x 70 x 2 mm}
  frame: {material: nearly nothing, finish: dark, box: 70 x 70 x 6 mm, on: a.front, cuts: [{box: 66 x 66 x 6 mm, at: 2 2 0 mm}]}
  b: {material: metal, finish: FINISH, box: 70 x 70 x 2 mm, on: frame.front}
boundaries:
  hot: {face: a.back, temperature: 60 °C}
  cold: {face: b.front, temperature: 20 °C}
`

// Heat across a sealed flat gap: conduction of still air, k/L with k of air at 40 °C 0.0273 W/(m K) (Sutherland's formula of the
// US Standard Atmosphere 1976 gives 0.02731), plus radiation between parallel grey planes, σ(T1⁴-T2⁴)/(1/ε1+1/ε2-1)
// (Incropera et al., 6th ed., eq. 13.19). The frame's own share is below 1e-4.
func TestHeatAcrossSealedGap(t *testing.T) {
	for _, tc := range []struct {
		finish string
		e2     float64
	}{{"dark", 0.9}, {"bright", 0.1}} {
		t.Run(tc.finish, func(t *testing.T) {
			yaml := strings.Replace(gap, "FINISH", tc.finish, 1)
			m := build(t, yaml, nil)
			if len(m.Shape.Grid.Regions) != 1 {
				t.Fatalf("%d sealed regions", len(m.Shape.Grid.Regions))
			}
			near(t, "sealed air", m.SealedAirM3(), 66*66*6e-9, 1e-6)
			tK, films := steady(t, m)
			q := 0.0273*40/0.006 + sigma*(math.Pow(333.15, 4)-math.Pow(293.15, 4))/(1/0.9+1/tc.e2-1)
			i := surfaceNamed(t, m, "cold")
			// 0.7 %: 4σT³ for the radiation reads (20/313)² = 0.4 % low, k of air 0.3 %
			near(t, "heat", m.SurfaceHeatW(i, tK, films(i)), q*66*66e-6, 0.007)
			// the other way to know it: by what crosses into the air and out of it
			into, out := 0.0, 0.0
			for _, c := range m.Crossings(tK) {
				switch {
				case m.IsAir(c.B) && c.A == 0:
					into = c.FlowW
				case m.IsAir(c.B) && c.A == 2:
					out = -c.FlowW
				}
			}
			near(t, "into the air", into, q*66*66e-6, 0.007)
			near(t, "out of the air", out, into, 1e-3)
		})
	}
}

// Refreshing must leave exactly the conductances that a full pass gives, say when nothing moved, and follow 4σT³.
func TestRefreshIsConsistent(t *testing.T) {
	m := build(t, strings.Replace(gap, "FINISH", "dark", 1), nil)
	field := make([]float64, len(m.Heat.CapJK))
	at := func(tK float64) []float64 {
		for i := range field {
			field[i] = tK
		}
		return field
	}
	m.Heat.Refresh(at(300), 2)
	if m.Heat.Refresh(at(300.3), 2) {
		t.Error("refreshed for 0.3 K")
	}
	cell := slices.IndexFunc(m.Shape.Grid.Owner, func(b int16) bool { return m.Shape.airBody(int(b)) })
	kAir := func() float64 { return m.kWmK[2][cell] }
	k300 := kAir()
	before := slices.Clone(m.Heat.GZ)
	if !m.Heat.Refresh(at(360), 1) {
		t.Fatal("not refreshed for 60 K")
	}
	radiative := func(tK float64) float64 { return 0.006 * 4 * sigma * tK * tK * tK / (1/0.9 + 1/0.9 - 1) }
	// k of air rises from 26.25 to 30.7 mW/(m K) between 300 and 360 K (US Standard Atmosphere 1976: 26.252 at 300, 30.043 at 350)
	near(t, "conductivity across at 300 K", k300, radiative(300)+0.026252, 0.002)
	near(t, "conductivity across at 360 K", kAir(), radiative(360)+0.03079, 0.003)
	changed := 0
	for c := range before {
		if before[c] == m.Heat.GZ[c] {
			continue
		}
		changed++
		if b1, b2 := int(m.Shape.Grid.Owner[c]), int(m.Shape.Grid.Owner[c+m.Heat.NX*m.Heat.NY]); !m.Shape.airBody(b1) && !m.Shape.airBody(b2) {
			t.Fatalf("a face between solids changed")
		}
	}
	if changed == 0 {
		t.Error("no conductance changed")
	}
	gx, gy, gz := slices.Clone(m.Heat.GX), slices.Clone(m.Heat.GY), slices.Clone(m.Heat.GZ)
	m.conductances(false, 2)
	if !slices.Equal(gx, m.Heat.GX) || !slices.Equal(gy, m.Heat.GY) || !slices.Equal(gz, m.Heat.GZ) {
		t.Error("a refresh leaves other conductances than a full pass")
	}
}
