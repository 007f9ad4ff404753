package relation

import (
	"math"

	"finwright/internal/surface"
)

// gaps are layers of air sealed between two walls.
func gaps() []relation {
	formula := "upright: " + surface.UprightGapLaw.Formula + "; lying, warm side below: " + surface.TiltedGapLaw.Formula
	source := surface.UprightGapLaw.Source + "; " + surface.SquareGapLaw.Source + "; " + surface.TiltedGapLaw.Source
	walls := []quantity{{name: "warm", kind: temperature}, {name: "cold", kind: temperature}, {name: "gap", kind: length}, {name: "height", kind: length},
		{name: "tilt", kind: angle, signed: true, optional: true, absent: math.Pi / 2}}
	return []relation{
		// tilt 0: lying with the warm wall below; 90 deg: upright; 180 deg: warm wall on top
		{name: "sealed gap", formula: formula, source: source,
			in:  []quantity{number("Ra"), number("Pr"), number("H/L"), {name: "tilt", kind: angle, signed: true, optional: true, absent: math.Pi / 2}},
			out: []quantity{number("Nu")},
			eval: func(v values) values {
				return values{"Nu": surface.SealedGapNu(v["Ra"], v["Pr"], v["H/L"], v["tilt"])}
			}},
		{name: "sealed gap of air", formula: formula, source: source, in: walls, out: []quantity{number("Ra"), number("Nu")},
			eval: func(v values) values {
				a := surface.AirAt((v["warm"]+v["cold"])/2, surface.StandardPressurePa)
				ra := surface.Rayleigh(&a, v["warm"]-v["cold"], v["gap"])
				return values{"Ra": ra, "Nu": surface.SealedGapNu(ra, a.Pr, v["height"]/v["gap"], v["tilt"])}
			}},
	}
}
