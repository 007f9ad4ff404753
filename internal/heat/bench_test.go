package heat

import (
	"fmt"
	"testing"
)

// sealedDevice is an invented hand-sized box: plastic shell, sealed air, an
// aluminium plate and a chip on it.
func sealedDevice() body {
	b := box([3]int{60, 45, 22}, [3]float64{0.06, 0.09, 0.022}, 1, 1)
	kWmK := make([]float64, b.Cells())
	volM3 := b.d[0] * b.d[1] * b.d[2]
	var chip []int32
	for c := range kWmK {
		i, j, k := b.Coordinates(c)
		switch {
		case i < 2 || j < 1 || k < 2 || i >= 58 || j >= 44 || k >= 20:
			kWmK[c], b.CapJK[c] = 0.2, 1.4e6*volM3
		case k < 4 && i > 2 && i < 57 && j > 1 && j < 43:
			kWmK[c], b.CapJK[c] = 167, 2.4e6*volM3
		case k == 4 && i > 20 && i < 34 && j > 10 && j < 17:
			kWmK[c], b.CapJK[c] = 100, 1.6e6*volM3
			chip = append(chip, int32(c))
		default:
			kWmK[c], b.CapJK[c] = 0.026, 1200*volM3
		}
	}
	series := func(g []float64, stride int) {
		for c := range g {
			if g[c] > 0 { // so far for 1 W/(m K)
				g[c] *= 2 * kWmK[c] * kWmK[c+stride] / (kWmK[c] + kWmK[c+stride])
			}
		}
	}
	series(b.GX, 1)
	series(b.GY, b.NX)
	series(b.GZ, b.NX*b.NY)
	b.k = 0.2
	for axis := range 3 {
		for _, sign := range []int{-1, 1} {
			b.side(fmt.Sprint("side ", axis, sign), axis, sign, lawFunc(func(m, s float64) Film {
				air, walls := freeConvection(1.4, 0.25, 297).Film([]float64{m}, 0, s), radiate(0.9, 5.67e-8, 297).Film([]float64{m}, 0, s)
				return Film{HWm2K: air.HWm2K + walls.HWm2K, RefK: 297}
			}))
		}
	}
	b.source("chip", chip...)
	return b
}

// BenchmarkSealedDevice is half an hour from switching on, to the default tolerance.
func BenchmarkSealedDevice(b *testing.B) {
	m := sealedDevice()
	steps, iterations := 0, 0
	for range b.N {
		st := begin(b, m.Model, Options{}, 297, 4)
		run(b, st, 1800)
		steps, iterations = st.Stats().Steps, st.Stats().LinearIterations
	}
	b.ReportMetric(float64(steps), "steps")
	b.ReportMetric(float64(iterations), "iterations")
}
