package surface

import (
	"fmt"
	"math"
)

// Env is the air around the body.
type Env struct {
	AirK       float64
	PressurePa float64 // 0 = one standard atmosphere
	WindMS     float64 // 0 = still air
	WindKnown  bool    // the wind's direction is known: WindCos, WindAlong and WindRise are meant
	WindRise   float64 // sine of the wind's climb: 1 straight up, -1 straight down
	Factor     Factors
}

// Factors multiply the published relations, 0 means 1: a study gives their scatter as unknowns common to all patches.
type Factors struct{ Faces, Channels, Forced float64 }

func factor(f float64) float64 {
	if f == 0 {
		return 1
	}
	return f
}

// Check tells what is wrong with the surroundings for a person, or nil.
func (e *Env) Check() error {
	if err := CheckAir(e.AirK, e.pressurePa()); err != nil {
		return err
	}
	if !(e.WindMS >= 0 && e.WindMS <= 40) {
		return fmt.Errorf("wind of %g m/s must lie between 0 and 40 m/s", e.WindMS)
	}
	if !(math.Abs(e.WindRise) <= 1+1e-9) {
		return fmt.Errorf("the sine of the wind's climb, %g, must lie between -1 (straight down) and 1 (straight up)", e.WindRise)
	}
	for _, f := range []float64{e.Factor.Faces, e.Factor.Channels, e.Factor.Forced} {
		if !(f >= 0 && f <= 10) {
			return fmt.Errorf("a factor of %g on the film coefficients must lie between 0 (taken as 1) and 10", f)
		}
	}
	return nil
}

func (e *Env) pressurePa() float64 {
	if e.PressurePa > 0 {
		return e.PressurePa
	}
	return StandardPressurePa
}
