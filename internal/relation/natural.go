package relation

import (
	"math"

	"finwright/internal/surface"
)

// natural are free convection around plates, boxes and cylinders.
func natural() []relation {
	of := func(law *surface.Law, name string, nu func(ra, pr float64) float64, withPr bool) relation {
		in := []quantity{number("Ra")}
		if withPr {
			in = append(in, number("Pr"))
		}
		return relation{name: name, formula: law.Formula, source: law.Source, law: law, in: in, out: []quantity{number("Nu")},
			eval: func(v values) values { return values{"Nu": nu(v["Ra"], v["Pr"])} }}
	}
	alone := func(nu func(ra float64) float64) func(ra, pr float64) float64 {
		return func(ra, _ float64) float64 { return nu(ra) }
	}
	up, down := alone(surface.UpwardPlateClassicNu), alone(surface.DownwardPlateClassicNu)
	return []relation{
		of(&surface.VerticalPlateLaw, "upright plate, all Rayleigh numbers", surface.VerticalPlateNu, true),
		of(&surface.VerticalPlateLaminarLaw, "upright plate, laminar", surface.VerticalPlateLaminarNu, true),
		of(&surface.UpwardPlateClassicLaw, "level plate, hot face up, classical", up, false),
		of(&surface.DownwardPlateClassicLaw, "level plate, hot face down, classical", down, false),
		of(&surface.CylinderLaw, "level cylinder", surface.CylinderNu, true),

		plateInAir(&surface.VerticalPlateLaw, "upright plate in air, all Rayleigh numbers", surface.VerticalPlateNu, airInputs(), true),
		plateInAir(&surface.VerticalPlateLaminarLaw, "upright plate in air, laminar", surface.VerticalPlateLaminarNu, airInputs(), false),
		plateInAir(&surface.UpwardPlateClassicLaw, "level plate in air, hot face up, classical", up, airWithoutPr(), true),
		plateInAir(&surface.DownwardPlateClassicLaw, "level plate in air, hot face down, classical", down, airWithoutPr(), true),
		plateInAir(&surface.UpwardPlateLaw, "level plate in air, hot face up", surface.UpwardPlateNu, airInputs(), false),
		plateInAir(&surface.DownwardPlateLaw, "level plate in air, hot face down", surface.DownwardPlateNu, airInputs(), false),

		{name: "inclined plate", formula: surface.InclinedPlateLaw.Formula, source: surface.InclinedPlateLaw.Source,
			in:  []quantity{number("Ra"), number("Pr"), {name: "from vertical", kind: angle, signed: true}},
			out: []quantity{number("Nu")},
			eval: func(v values) values {
				return values{"Nu": surface.InclinedPlateNu(v["Ra"], v["Pr"], math.Cos(v["from vertical"]))}
			}},
		{name: "upright cylinder over plate", formula: surface.UprightCylinderLaw.Formula, source: surface.UprightCylinderLaw.Source,
			in: []quantity{number("Ra"), number("Pr"), number("D/H")}, out: []quantity{number("ratio")},
			eval: func(v values) values {
				ra, pr := v["Ra"], v["Pr"]
				return values{"ratio": surface.UprightCylinderNu(ra, pr, 1, v["D/H"]) / surface.VerticalPlateNu(ra, pr)}
			}},
		{name: "level duct in air", formula: "q' = [2 hside H + (htop + hbottom) W] ΔT; sides: " + surface.VerticalPlateLaminarLaw.Formula + "; top and bottom on the length W/2: 0.54 Ra^(1/4) or 0.15 Ra^(1/3), and 0.27 Ra^(1/4)",
			source: surface.VerticalPlateLaminarLaw.Source + "; " + surface.UpwardPlateClassicLaw.Source,
			in:     join(temperatures(), []quantity{{name: "width", kind: length}, {name: "height", kind: length}}, airInputs()),
			out:    []quantity{{name: "h side", kind: film}, {name: "h top", kind: film}, {name: "h bottom", kind: film}, {name: "heat per metre", kind: perMetre}},
			eval: func(v values) values {
				h, w := v["height"], v["width"]
				side := surface.VerticalPlateLaminarNu(rayleigh(v, h), v["Pr"]) * v["k"] / h
				ra := rayleigh(v, w/2) // area over perimeter of a long plate
				top, bottom := surface.UpwardPlateClassicNu(ra)*v["k"]/(w/2), surface.DownwardPlateClassicNu(ra)*v["k"]/(w/2)
				return values{"h side": side, "h top": top, "h bottom": bottom, "heat per metre": (2*side*h + (top+bottom)*w) * (v["surface"] - v["air"])}
			}},
		{name: "box at rest in air", formula: "Nu0 = S/√A, a fit of ours", source: surface.BodyDiffusionLaw.Source,
			in: sides(), out: []quantity{number("Nu0")},
			eval: func(v values) values {
				return values{"Nu0": surface.CuboidDiffusionNu(v["length"], v["width"], v["height"])}
			}},
		{name: "box in air", formula: surface.CuboidLaw.Formula, source: surface.CuboidLaw.Source, law: &surface.CuboidLaw,
			in:  join(temperatures(), sides(), airInputs()),
			out: []quantity{number("Ra"), number("G"), number("Nu"), {name: "h", kind: film}, {name: "heat", kind: power}},
			eval: func(v values) values {
				l, w, h := v["length"], v["width"], v["height"]
				areaM2 := 2 * (l*w + w*h + h*l)
				ra := rayleigh(v, math.Sqrt(areaM2))
				nu := surface.CuboidNu(ra, v["Pr"], l, w, h)
				hWm2K := nu * v["k"] / math.Sqrt(areaM2)
				return values{"Ra": ra, "G": surface.CuboidG(l, w, h), "Nu": nu, "h": hWm2K, "heat": hWm2K * areaM2 * (v["surface"] - v["air"])}
			}},
	}
}

// plateInAir is a worked example of one face: from temperatures and air to the film, and with its area to the heat it gives off.
func plateInAir(law *surface.Law, name string, nu func(ra, pr float64) float64, of []quantity, toHeat bool) relation {
	r := relation{name: name, formula: law.Formula + "; h = k Nu/length", source: law.Source, law: law,
		in:  join(temperatures(), []quantity{{name: "length", kind: length}}, of),
		out: []quantity{number("Ra"), number("Nu"), {name: "h", kind: film}},
		eval: func(v values) values {
			ra := rayleigh(v, v["length"])
			n := nu(ra, v["Pr"])
			h := n * v["k"] / v["length"]
			return values{"Ra": ra, "Nu": n, "h": h, "heat": h * v["area"] * (v["surface"] - v["air"])}
		}}
	if toHeat {
		r.in = append(r.in, quantity{name: "area", kind: area, optional: true, absent: math.NaN()})
		r.out = append(r.out, quantity{name: "heat", kind: power})
	}
	return r
}

// sides of a box; height is the upright one.
func sides() []quantity {
	return []quantity{{name: "length", kind: length}, {name: "width", kind: length}, {name: "height", kind: length}}
}

func join(groups ...[]quantity) (out []quantity) {
	for _, g := range groups {
		out = append(out, g...)
	}
	return out
}
