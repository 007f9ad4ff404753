package device

import (
	"math"

	"finwright/internal/unit"
)

// unknown is what "unknown" stands for at one kind of place: a wide 90 % interval and where it comes from. It is narrower
// than what unit gives any quantity of the dimension, because the place is known.
type unknown struct {
	dim    unit.Dim
	lo, hi float64 // SI
	source string
}

const (
	ourGuess = "our guess for a hand-sized device that stops itself from heat: common practice, no source"
	zeroC    = 273.15 // K
)

// unknowns are the priors, by the prior tag of spec.go. They are meant to hold nearly all hand-sized devices; learning
// narrows them.
var unknowns = map[string]unknown{
	"heat":                 {unit.Power, 0.5, 10, ourGuess},
	"other load":           {unit.Power, 0.05, 3, ourGuess},
	"stops at":             {unit.Temperature, zeroC + 60, zeroC + 105, "usual junction and board limits: common practice, no source"},
	"restarts below":       {unit.Temperature, zeroC + 40, zeroC + 80, ourGuess},
	"step":                 {unit.Temperature, zeroC + 45, zeroC + 95, ourGuess},
	"ambient":              {unit.Temperature, zeroC + 15, zeroC + 30, "a room somewhere: common practice, no source"},
	"sun":                  {unit.HeatFlux, 50, 1000, "overcast to clear sky at noon: from memory"},
	"sky":                  {unit.Temperature, zeroC - 40, zeroC + 25, "clear and dry to overcast and warm: from memory"},
	"ground":               {unit.Temperature, zeroC - 5, zeroC + 60, "frost to asphalt in the sun: from memory"},
	"sky light":            {unit.HeatFlux, 30, 400, "deep clear sky to bright cloud: from memory"},
	"ground reflects":      {unit.Ratio, 0.05, 0.45, "wet asphalt to dry sand or light concrete, no snow: from memory"},
	"share":                {unit.Ratio, 0.05, 1, ourGuess},
	"conductance":          {unit.FilmCoefficient, 100, 20000, "loose dry plastic to well-spread paste: common practice, no source"},
	"filler conductivity":  {unit.Conductivity, 0.5, 8, "makers' data sheets of pastes and pads: from memory"},
	"bond line":            {unit.Length, 0.02e-3, 2e-3, "thin paste to thick pad: common practice, no source"},
	"coverage":             {unit.Ratio, 0.5, 0.98, ourGuess},
	"pressure":             {unit.Pressure, 10e3, 1e6, "resting to screwed: common practice, no source"},
	"conductivity":         {unit.Conductivity, 0.1, 400, "foam-free plastic to copper: from memory"},
	"conductivity through": {unit.Conductivity, 0.1, 20, "plastic to graphite sheet across its plane: from memory"},
	"density":              {unit.Density, 800, 9000, "plastic to copper: from memory"},
	"specific heat":        {unit.SpecificHeat, 300, 2000, "copper to plastic: from memory"},
	"emissivity":           {unit.Ratio, 0.05, 0.95, "bare metal to paint: from memory"},
	"sun absorbed":         {unit.Ratio, 0.15, 0.95, "white paint to black: from memory"},
	"own heat":             {unit.Ratio, 0.01, 0.1, "lithium cell at half a C and below: common practice, no source"},
}

// quantity is the prior as a quantity of kind Unknown.
func (u unknown) quantity() unit.Quantity {
	q := unit.RangeSI(u.lo, u.hi, u.dim)
	q.Kind, q.Text = unit.Unknown, "unknown"
	return q
}

// measure says what to do instead of writing "unknown" where that is refused.
func measure(k *key) string {
	switch k.dim {
	case unit.Length:
		return "measure it with calipers; a range such as 1.5 to 2 mm will do"
	case unit.Mass:
		return "weigh it, or leave " + k.name + " out"
	case unit.Energy:
		return "take the cell's label with some doubt, such as 10 Wh ± 15 %"
	case unit.Time:
		return "give a range such as 20 to 30 min, or leave " + k.name + " out"
	case unit.Velocity:
		return "give a range such as 0.1 to 1 m/s, or write still"
	}
	return "give a range such as the widest you believe in, or leave " + k.name + " out"
}

// limitOf says what an interval breaks, or nothing. Limits are the words of the limit tag.
func limitOf(limit string, lo, hi float64) string {
	switch {
	case limit == "":
		return ""
	case (limit == ">0" || limit == "0+..1") && !(lo > 0):
		return "must be above zero"
	case (limit == ">=0" || limit == "0..1") && lo < 0:
		return "must not be below zero"
	case limit == ">=1" && lo < 1:
		return "must be 1 or more"
	case (limit == "0..1" || limit == "0+..1") && hi > 1+1e-12:
		return "must not be above 1 (100 %)"
	}
	if math.IsNaN(lo) || math.IsNaN(hi) {
		return "is not a number"
	}
	return ""
}
