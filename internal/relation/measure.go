package relation

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"finwright/internal/unit"
)

// kind is what a number measures, and how it may be written.
type kind struct {
	name string
	dim  unit.Dim  // read by package unit
	own  []ownUnit // units that a person at a bench does not write, so that package unit has none for them; else nil
	eg   string
}

type ownUnit struct {
	name string
	si   float64
}

var (
	ratio        = kind{name: "a plain number", dim: unit.Ratio, eg: "0.71"}
	length       = kind{name: "a length", dim: unit.Length, eg: "12 mm"}
	area         = kind{name: "an area", dim: unit.Area, eg: "4 cm2"}
	temperature  = kind{name: "a temperature", dim: unit.Temperature, eg: "25 °C"}
	pressure     = kind{name: "a pressure", dim: unit.Pressure, eg: "101.325 kPa"}
	velocity     = kind{name: "a speed", dim: unit.Velocity, eg: "5 m/s"}
	angle        = kind{name: "an angle", dim: unit.Angle, eg: "30 deg"}
	power        = kind{name: "a power", dim: unit.Power, eg: "3 W"}
	flux         = kind{name: "a heat flux", dim: unit.HeatFlux, eg: "800 W/m2"}
	film         = kind{name: "a film coefficient", dim: unit.FilmCoefficient, eg: "5 W/m2K"}
	conductivity = kind{name: "a conductivity", dim: unit.Conductivity, eg: "0.026 W/mK"}
	specificHeat = kind{name: "a specific heat", dim: unit.SpecificHeat, eg: "1005 J/kgK"}
	density      = kind{name: "a density", dim: unit.Density, eg: "1.2 kg/m3"}
	diffusivity  = kind{name: "a viscosity or diffusivity", own: []ownUnit{{"mm2/s", 1e-6}, {"m2/s", 1}}, eg: "15.7 mm2/s"}
	dynamic      = kind{name: "a dynamic viscosity", own: []ownUnit{{"µPa s", 1e-6}, {"Pa s", 1}}, eg: "18.5 µPa s"}
	perKelvin    = kind{name: "an expansion coefficient", own: []ownUnit{{"1/K", 1}}, eg: "0.0033 1/K"}
	gravity      = kind{name: "an acceleration", own: []ownUnit{{"m/s2", 1}}, eg: "9.8 m/s2"}
	perMetre     = kind{name: "a heat flow per metre", own: []ownUnit{{"W/m", 1}}, eg: "246 W/m"}
)

func (k kind) want() string { return "expected " + k.name + " such as " + k.eg }

// scale turns SI into the unit a figure was written in: (si - zero)/one.
type scale struct {
	unit      string
	zero, one float64
}

func (s scale) from(si float64) float64     { return (si - s.zero) / s.one }
func (s scale) fromDiff(si float64) float64 { return si / s.one }

// split parts a number from its unit: "12.5 mm", "1e5".
func split(text string) (number float64, unitText string, err error) {
	fields := strings.Fields(text)
	if len(fields) == 0 {
		return 0, "", errors.New("nothing is written here")
	}
	number, err = strconv.ParseFloat(fields[0], 64)
	switch {
	case errors.Is(err, strconv.ErrRange) || err == nil && (math.IsInf(number, 0) || math.IsNaN(number)):
		return 0, "", fmt.Errorf("%q is not a number to reckon with", fields[0])
	case err != nil:
		return 0, "", fmt.Errorf("%q is not a number followed by a space and its unit", text)
	}
	return number, strings.Join(fields[1:], " "), nil
}

// read gives a figure in SI, and the scale it was written in.
func (k kind) read(text string) (si float64, s scale, err error) {
	number, unitText, err := split(text)
	if err != nil {
		return 0, scale{}, err
	}
	if k.own != nil {
		var names []string
		for _, u := range k.own {
			if strings.ReplaceAll(unitText, "²", "2") == u.name {
				return number * u.si, scale{u.name, 0, u.si}, nil
			}
			names = append(names, u.name)
		}
		return 0, scale{}, fmt.Errorf("%q is not a unit of %s; units that would do: %s", unitText, strings.TrimPrefix(strings.TrimPrefix(k.name, "a "), "an "), strings.Join(names, ", "))
	}
	var at [3]unit.Quantity
	for i, x := range []string{text, "0 " + unitText, "1 " + unitText} {
		q, err := unit.Parse(strings.TrimSpace(x), k.dim)
		if err != nil {
			var pe *unit.ParseError
			if errors.As(err, &pe) {
				if pe.Hint != "" {
					return 0, scale{}, fmt.Errorf("%s; %s", pe.What, pe.Hint)
				}
				return 0, scale{}, errors.New(pe.What)
			}
			return 0, scale{}, err
		}
		if q.Kind != unit.Exact {
			return 0, scale{}, errors.New("a figure of a table has no doubt of its own: one number and its unit")
		}
		at[i] = q
	}
	return at[0].Mid, scale{unitText, at[1].Mid, at[2].Mid - at[1].Mid}, nil
}

// loosest is the widest band that is still a check, as a share of the target.
const loosest = 0.5

// tolerance reads how far ours may be off, SI: in percent of the target, or in the target's own kind.
func (k kind) tolerance(text string, target float64) (float64, error) {
	number, unitText, err := split(text)
	if err != nil {
		return 0, err
	}
	var tol float64
	if unitText == "%" {
		if k.dim == unit.Temperature && k.own == nil {
			return 0, errors.New("a temperature's tolerance in % has no meaning, since its zero is arbitrary; write it in K")
		}
		tol = math.Abs(target) * number / 100
	} else {
		of := k
		if k.dim == unit.Temperature && k.own == nil {
			of.dim = unit.TemperatureDiff
		}
		if tol, _, err = of.read(text); err != nil {
			return 0, err
		}
	}
	switch {
	case !(tol > 0):
		return 0, errors.New("this allows nothing; write by how much ours may be off, such as 0.1 %")
	case k.dim != unit.Temperature && tol > loosest*math.Abs(target):
		return 0, fmt.Errorf("this allows more than %g %% of the figure, which checks nothing", 100*loosest)
	}
	return tol, nil
}
