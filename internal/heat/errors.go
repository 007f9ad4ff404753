package heat

import (
	"fmt"
	"strings"
)

// ModelError says what is wrong with a model or with an argument that belongs to it.
type ModelError struct{ What string }

func (e *ModelError) Error() string { return "heat model: " + e.What }

var errNotFinite = &ModelError{"a temperature is not a finite number"}

// LawError says that the law of a surface gave something that is not a film.
type LawError struct {
	Surface  string
	MeanK    float64
	TimeS    float64
	Film     Film
	Conflict bool // two surfaces hold one cell at different temperatures
}

func (e *LawError) Error() string {
	if e.Conflict {
		return fmt.Sprintf("surface %q holds a cell at %.6g K that another surface holds at a different temperature", e.Surface, e.Film.RefK)
	}
	return fmt.Sprintf("surface %q at %.6g K and %.6g s: film coefficient %g W/(m²·K) to %g K with a gain of %g W/m² is no film; "+
		"it needs a coefficient >= 0 and finite numbers", e.Surface, e.MeanK, e.TimeS, e.Film.HWm2K, e.Film.RefK, e.Film.GainWm2)
}

// StepError says why no step could be made from AtS. Why may be nil.
type StepError struct {
	AtS, StepS float64
	What       string
	Why        error
}

func (e *StepError) Error() string {
	s := fmt.Sprintf("no step of %.3g s from %.6g s: %s", e.StepS, e.AtS, e.What)
	if e.Why != nil {
		s += ": " + e.Why.Error()
	}
	return s
}
func (e *StepError) Unwrap() error { return e.Why }

// BalanceError says that heat in, out and stored do not agree.
type BalanceError struct {
	InJ, OutJ, StoredJ float64 // J; W (and no store) at rest
	ClosureRel         float64
}

func (e *BalanceError) Error() string {
	return fmt.Sprintf("the heat balance does not close: %.6g in, %.6g out, %.6g stored, off by %.2g of the heat moved (limit %.0e)",
		e.InJ, e.OutJ, e.StoredJ, e.ClosureRel, closureLimit)
}

// NoWayOutError says that no steady state exists: a connected group of cells has
// no surface that could carry its heat away (or set its temperature).
type NoWayOutError struct {
	Sources []string // that put heat into the group
	PowerW  float64
	Cells   int // in the group
}

func (e *NoWayOutError) Error() string {
	if e.PowerW == 0 {
		return fmt.Sprintf("nothing fixes the temperature of a group of %d connected cells: give it a surface that exchanges heat", e.Cells)
	}
	return fmt.Sprintf("the heat of %s (%.3g W) has no way out: none of the surfaces of its %d connected cells can carry it away; "+
		"give one of them a film or a joint to something that has one", strings.Join(e.Sources, ", "), e.PowerW, e.Cells)
}

// UnsettledError says that surface coefficients and temperatures did not come to agree.
type UnsettledError struct {
	Surface string
	MeanK   float64 // where the surface was
	OffK    float64 // how far its temperature is from the one its film was taken at
	Passes  int
}

func (e *UnsettledError) Error() string {
	if e.Surface == "" {
		return fmt.Sprintf("the conductances that depend on temperature did not settle in %d passes", e.Passes)
	}
	return fmt.Sprintf("the film of surface %q did not settle in %d passes: it stands at %.6g K and still moves by %.2g K",
		e.Surface, e.Passes, e.MeanK, e.OffK)
}
