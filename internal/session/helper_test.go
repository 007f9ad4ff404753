package session

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/model"
)

const zeroC = 273.15

func build(t *testing.T, yaml string) *model.Model {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	s, err := model.NewShape(f, nil, model.Fineness{TargetCells: 1200, Across: 1})
	if err != nil {
		t.Fatal(err)
	}
	m, err := s.At(nil, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func simulate(t *testing.T, yaml string, spec Spec) *Result {
	t.Helper()
	res, err := Run(context.Background(), build(t, yaml), spec)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %.2g", what, got, want, tol)
	}
}

func near(t *testing.T, what string, got, want, relTol float64) {
	t.Helper()
	within(t, what, got, want, relTol*math.Abs(want))
}

func eventsOf(res *Result, word string) (out []Event) {
	for _, e := range res.Events {
		if strings.Contains(e.What, word) {
			out = append(out, e)
		}
	}
	return out
}

func series(t *testing.T, res *Result, name string) []float64 {
	t.Helper()
	for i := range res.Series {
		if res.Series[i].Name == name {
			return res.Series[i].ValueK
		}
	}
	t.Fatalf("no series %q", name)
	return nil
}

// inOrder checks what every result must keep: times that rise, as many values as times, events in the order of time.
func inOrder(t *testing.T, res *Result) {
	t.Helper()
	for i := 1; i < len(res.TimeS); i++ {
		if !(res.TimeS[i] > res.TimeS[i-1]) {
			t.Errorf("sample %d at %.9g s comes after %.9g s", i, res.TimeS[i], res.TimeS[i-1])
		}
	}
	for i := range res.Series {
		if len(res.Series[i].ValueK) != len(res.TimeS) {
			t.Errorf("%s has %d values for %d times", res.Series[i].Name, len(res.Series[i].ValueK), len(res.TimeS))
		}
	}
	if len(res.PowerW) != len(res.TimeS) || res.BatteryJ != nil && len(res.BatteryJ) != len(res.TimeS) {
		t.Errorf("%d powers, %d energies for %d times", len(res.PowerW), len(res.BatteryJ), len(res.TimeS))
	}
	for i := 1; i < len(res.BatteryJ); i++ {
		if res.BatteryJ[i] > res.BatteryJ[i-1] {
			t.Errorf("the battery fills itself: %.6g J at %.6g s after %.6g J", res.BatteryJ[i], res.TimeS[i], res.BatteryJ[i-1])
			break
		}
	}
	for i := 1; i < len(res.Events); i++ {
		if res.Events[i].AtS < res.Events[i-1].AtS {
			t.Errorf("event %q at %.6g s is told after one at %.6g s", res.Events[i].What, res.Events[i].AtS, res.Events[i-1].AtS)
		}
	}
}

// A block of 20 mm that conducts so well (2000 W/(m K)) that it has one temperature: 16 J/K, and 20 W/(m² K) over 24 cm², so
// that T - 20 °C = P R (1 - exp(-t/RC)), the lumped-capacity closed form (Incropera et al., 6th ed., eq. 5.25).
const (
	capJK = 16.0
	resKW = 1 / 0.048
	tauS  = capJK * resKW
)

// block is that block with further lines of the file.
func block(more string) string {
	return fmt.Sprintf(`device: block
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
parts:
  block: {material: stuff, box: 20 x 20 x 20 mm, heat: {on: 2 W, off: 0 W}}
mode: on
boundaries:
  air: {face: block, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
%s`, more)
}

// lumpedS is when the block has risen from one rise to another under a power.
func lumpedS(fromK, toK, powerW float64) float64 {
	end := powerW * resKW
	return tauS * math.Log((end-fromK)/(end-toK))
}

const (
	noSkin  = "limits: {skin: 150 °C}\n"
	stops50 = "sensors: {s: {at: block, stops at: 50 °C}}\n" + noSkin
)
