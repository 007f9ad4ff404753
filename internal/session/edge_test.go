package session

import "testing"

// A power step taken just as the time asked for is over must end the run, not leave it a step of no length.
func TestStepAtTheVeryEnd(t *testing.T) {
	const more = "sensors: {s: {at: block, steps: [{above: 32 °C, back below: 22 °C, power: 20 %}]}}\n" + noSkin
	stepS := lumpedS(0, 12, 2)
	for _, late := range []float64{-0.3, 0, 0.05, 0.1, 0.3, 0.6} {
		res := simulate(t, block(more), Spec{UntilS: stepS + late})
		if res.Own.Kind != TimeOver {
			t.Errorf("%g s after the step: ended by %+v", late, res.Own)
		}
	}
}
