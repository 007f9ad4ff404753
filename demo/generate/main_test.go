package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// The committed logs are what this program writes, to the byte.
func TestCommittedLogsAreWhatIsWritten(t *testing.T) {
	for _, l := range logs() {
		want, story := l.write()
		got, err := os.ReadFile(filepath.Join("..", filepath.FromSlash(l.path)))
		if err != nil {
			t.Errorf("%v; run go run ./demo/generate", err)
			continue
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs from what the generator writes (%s); run go run ./demo/generate", l.path, story)
		}
	}
}

// One lump with a linear loss has a closed form, T = air + P/G (1 - exp(-G t/C)); a link to a very large lump is such a loss.
func TestOneLumpFollowsItsClosedForm(t *testing.T) {
	const powerW, gWK, capacityJK, airC = 3.0, 0.2, 150.0, 20.0
	n := network{
		lumps: []lump{{name: "case", capacityJK: capacityJK, powerW: powerW}, {name: "room", capacityJK: 1e15}},
		links: []link{{0, 1, gWK}},
	}
	h := n.run(air{startC: airC}, airC, 10, 3600, 0)
	for row, got := range h.tC {
		want := airC + powerW/gWK*(1-math.Exp(-gWK*float64(row)*h.rowS/capacityJK))
		if math.Abs(got[0]-want) > 1e-6 {
			t.Fatalf("after %.0f s the lump is at %.8f °C, closed form %.8f °C", float64(row)*h.rowS, got[0], want)
		}
	}
}

// In the end all the power leaves by the outer faces.
func TestSteadyStateLosesWhatIsMade(t *testing.T) {
	for _, l := range logs() {
		n := l.truth
		n.stopC, n.steps = 0, nil
		h := n.run(air{startC: 20}, 20, 3600, 20*3600, 0)
		last := h.tC[len(h.tC)-1]
		made, lost := 0.0, 0.0
		for i := range n.lumps {
			p := &n.lumps[i]
			made += p.powerW + p.fixedW
			if p.areaM2 > 0 {
				lost += p.areaM2 * p.filmWm2K(last[i], 20) * (last[i] - 20)
			}
		}
		if math.Abs(made-lost) > 1e-3*made {
			t.Errorf("%s: %.4f W made, %.4f W lost", l.path, made, lost)
		}
	}
}

// Chains of lumps and steps of power: the share is taken above and left below, and never without the sensor's say.
func TestStepsFollowTheSensor(t *testing.T) {
	n := network{
		lumps:  []lump{{name: "plate", capacityJK: 20, powerW: 5, areaM2: 0.01, heightM: 0.05, emissivity: 0.9}},
		sensor: 0,
		steps:  []step{{50, 45, 0.3}},
	}
	h := n.run(air{startC: 20}, 20, 1, 3600, 0)
	if len(h.stepsS) < 2 {
		t.Fatalf("%d steps taken, the plate should swing between 45 and 50 °C", len(h.stepsS))
	}
	for row, temps := range h.tC {
		at := float64(row) * h.rowS
		if temps[0] > 50.2 || at > h.stepsS[0] && temps[0] < 44.8 {
			t.Fatalf("after %.0f s the plate is at %.2f °C, outside its steps", at, temps[0])
		}
	}
}
