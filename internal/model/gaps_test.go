package model

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"finwright/internal/heat"
)

// Heat across sealed gaps that move: k Nu/L with the Nusselt numbers of ElSherbiny, Raithby & Hollands 1982 (upright) and
// Hollands et al. 1976 (warm side below), worked out here by hand from the formulas (coefficients from memory) with air at the
// gap's mean of 40 °C: k 0.0273 W/(m K), ν 1.702e-5 m²/s, α 2.41e-5 m²/s (US Standard Atmosphere 1976, Pr 0.706), plus the
// radiation between parallel grey planes. Plates of 70 x 70 mm at 60 and 20 °C, the room 66 x 66 mm.
//
//	Ra at 40 K: 9.80665·40/313.15·L³/(1.702e-5·2.41e-5) = 3.054e9 L³: 20 mm 24430, 10 mm 3054, 3 mm 82.5
//	upright 20 mm, H/L 3.3: max{1.755, [1+(0.104·19.30/1.159)³]^(1/3) = 1.810, 0.242·7403^0.272 = 2.731} = 2.731
//	lying 20 mm: 1 + 1.44(1 - 1708/24430) + (24430/5830)^(1/3) - 1 = 2.951
//	upright 3 mm, H/L 22: 1
func TestConvectionAcrossSealedGap(t *testing.T) {
	for _, tc := range []struct {
		up    string
		gapMM int
		nu    float64
	}{{"+y", 20, 2.731}, {"+x", 20, 2.731}, {"+z", 20, 2.951}, {"-z", 20, 1}, {"+y", 3, 1}, {"+z", 3, 1}} {
		t.Run(fmt.Sprintf("%d mm, up %s", tc.gapMM, tc.up), func(t *testing.T) {
			m := build(t, gapOf(tc.up, tc.gapMM), nil)
			tK, films := steady(t, m)
			q := 0.0273*tc.nu*40/(float64(tc.gapMM)*1e-3) + sigma*(math.Pow(333.15, 4)-math.Pow(293.15, 4))/(1/0.9+1/0.1-1)
			i := surfaceNamed(t, m, "cold")
			near(t, "heat", m.SurfaceHeatW(i, tK, films(i)), q*66*66e-6, 0.01)
		})
	}
}

// gapOf is the device of gap, with bright walls, so that motion is most of what crosses, and a gap of another width.
func gapOf(up string, mm int) string {
	yaml := strings.Replace(gap, "FINISH", "bright", 1)
	yaml = strings.ReplaceAll(yaml, "x 6 mm", fmt.Sprintf("x %d mm", mm))
	return strings.Replace(yaml, "device: d", "device: d\nup: \""+up+"\"", 1)
}

// At the onset of motion more heat crosses, the walls come together and the motion dies: at a given power the steady state must
// be found all the same, wherever the balance lies, and be a state in which wall difference and Nusselt number agree.
func TestOnsetOfMotionSettles(t *testing.T) {
	for _, mm := range []int{8, 10, 14} {
		for _, mW := range []int{100, 150, 200, 250, 300, 350, 400, 500, 700, 1000} {
			yaml := strings.Replace(gapOf("+z", mm), "hot: {face: a.back, temperature: 60 °C}", fmt.Sprintf("hot: {face: a.back, power: %d mW}", mW), 1)
			m := build(t, yaml, nil)
			tK, _, err := heat.Steady(context.Background(), m.Heat, make([]float64, len(m.Sources)), heat.Options{}, nil)
			if err != nil {
				t.Fatalf("%d mm, %d mW: %v", mm, mW, err)
			}
			for i, nu := range m.gapNusselt(m.bodyMeansK(tK)) {
				near(t, fmt.Sprintf("%d mm, %d mW: Nu in use", mm, mW), m.gapNu[i], nu, 0.05)
			}
		}
	}
}
