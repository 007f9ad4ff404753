package relation

import (
	"math"

	"finwright/internal/surface"
)

// forced are plates, cylinders and bodies in a stream, and a stream with free convection.
func forced() []relation {
	stream := []quantity{{name: "speed", kind: velocity}, {name: "k", kind: conductivity}, {name: "viscosity", kind: diffusivity}, number("Pr")}
	results := []quantity{number("Re"), number("Nu"), {name: "h", kind: film}}
	dimensionless := []quantity{number("Re"), number("Pr")}
	plate, cylinder := &surface.FlatPlateLaw, &surface.CylinderForcedLaw
	return []relation{
		{name: "plate along a stream", formula: plate.Formula, source: plate.Source, law: plate, in: dimensionless, out: []quantity{number("Nu")},
			eval: func(v values) values { return values{"Nu": surface.FlatPlateNu(v["Re"], v["Pr"])} }},
		{name: "plate in an air stream", formula: plate.Formula + "; q' = h · length · ΔT", source: plate.Source, law: plate,
			in:  join(temperatures(), []quantity{{name: "length", kind: length}}, stream),
			out: join(results, []quantity{{name: "heat per metre", kind: perMetre}}),
			eval: func(v values) values {
				re := v["speed"] * v["length"] / v["viscosity"]
				nu := surface.FlatPlateNu(re, v["Pr"])
				return values{"Re": re, "Nu": nu, "h": nu * v["k"] / v["length"], "heat per metre": nu * v["k"] * (v["surface"] - v["air"])}
			}},
		{name: "strip of a plate in an air stream", formula: plate.Formula + "; a strip gives what the plate gives up to its end less what it gives up to its start", source: plate.Source,
			in:  join(temperatures(), []quantity{{name: "strip", kind: length}, number("count")}, stream),
			out: []quantity{{name: "heat per metre", kind: perMetre}},
			eval: func(v values) values {
				upTo := func(count float64) float64 {
					if count <= 0 {
						return 0
					}
					return surface.FlatPlateNu(v["speed"]*count*v["strip"]/v["viscosity"], v["Pr"]) * v["k"] * (v["surface"] - v["air"])
				}
				return values{"heat per metre": upTo(v["count"]) - upTo(v["count"]-1)}
			}},
		{name: "cylinder across a stream", formula: cylinder.Formula, source: cylinder.Source, law: cylinder, in: dimensionless, out: []quantity{number("Nu")},
			eval: func(v values) values { return values{"Nu": surface.CylinderForcedNu(v["Re"], v["Pr"])} }},
		{name: "cylinder across an air stream", formula: cylinder.Formula, source: cylinder.Source, law: cylinder,
			in: join([]quantity{{name: "diameter", kind: length}}, stream), out: results,
			eval: func(v values) values {
				re := v["speed"] * v["diameter"] / v["viscosity"]
				nu := surface.CylinderForcedNu(re, v["Pr"])
				return values{"Re": re, "Nu": nu, "h": nu * v["k"] / v["diameter"]}
			}},
		// Of a sphere √A is √π D, and so is the ratio of its outline to √A; Nu0 on D is 2, exact.
		{name: "sphere in a stream", formula: surface.BodyForcedLaw.Formula + ", turned to the diameter", source: surface.BodyForcedLaw.Source, in: dimensionless, out: []quantity{number("Nu")},
			eval: func(v values) values {
				s := math.Sqrt(math.Pi)
				return values{"Nu": 2 + surface.BodyForcedLayerNu(s*v["Re"], v["Pr"], s)/s}
			}},
		{name: "stream between parallel plates", formula: surface.DuctForcedLaw.Formula, source: surface.DuctForcedLaw.Source, law: &surface.DuctForcedLaw,
			in: []quantity{number("Re*"), number("Pr")}, out: []quantity{number("Nu")},
			eval: func(v values) values { return values{"Nu": surface.DuctForcedNu(v["Re*"], v["Pr"])} }},
		{name: "natural and forced together", formula: "Nu^n = |Nuforced^n ± Nunatural^n|", source: surface.MixedLaw.Source,
			in: []quantity{number("forced"), number("natural"), number("n")}, out: []quantity{number("assisting"), number("opposing")},
			eval: func(v values) values {
				return values{"assisting": surface.AssistingNu(v["forced"], v["natural"], v["n"]), "opposing": surface.OpposingNu(v["forced"], v["natural"], v["n"])}
			}},
	}
}
