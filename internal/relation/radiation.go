package relation

import (
	"math"

	"finwright/internal/radiate"
)

const catalog = "Howell, A Catalog of Radiation Heat Transfer Configuration Factors"

// radiation are view factors and the exchange between grey surfaces.
func radiation() []relation {
	view := []quantity{number("F")}
	emissivity := quantity{name: "emissivity", kind: ratio}
	return []relation{
		{name: "view between equal rectangles face to face", formula: "closed form C-11", source: catalog,
			in: []quantity{{name: "a", kind: length}, {name: "b", kind: length}, {name: "distance", kind: length}}, out: view,
			eval: func(v values) values { return values{"F": radiate.ViewParallel(v["a"], v["b"], v["distance"])} }},
		{name: "view between rectangles at a right angle", formula: "closed form C-14, from the rectangle edge x from to that of edge x to", source: catalog,
			in: []quantity{{name: "edge", kind: length}, {name: "from", kind: length}, {name: "to", kind: length}}, out: view,
			eval: func(v values) values { return values{"F": radiate.ViewPerpendicular(v["edge"], v["from"], v["to"])} }},
		{name: "view between disks on one axis", formula: "closed form C-41", source: catalog,
			in: []quantity{{name: "from radius", kind: length}, {name: "to radius", kind: length}, {name: "distance", kind: length}}, out: view,
			eval: func(v values) values {
				return values{"F": radiate.ViewDisks(v["from radius"], v["to radius"], v["distance"])}
			}},
		{name: "view out of a channel between fins", formula: "1 less the views of closed forms C-11 and C-14: base to the open mouth with both ends, one fin to the same", source: catalog,
			in: channelSides(), out: []quantity{number("base out"), number("fin out")},
			eval: func(v values) values {
				views := channelViews(v)
				return values{"base out": views.Row(0)[3], "fin out": views.Row(1)[3]}
			}},
		{name: "grey channel between fins", formula: "radiosity of base and two fins, each uniform, mouth and ends black at 0 K: heat over σT⁴ and the base's area",
			source: catalog + "; Oppenheim 1956", in: append(channelSides(), emissivity), out: []quantity{number("per base"), number("per wall")},
			eval: func(v values) values {
				base, fin := v["gap"]*v["length"], v["depth"]*v["length"]
				x, err := radiate.NewExchange([]float64{base, fin, fin}, []float64{v["emissivity"], v["emissivity"], v["emissivity"]}, channelViews(v))
				if err != nil {
					return values{"per base": math.NaN(), "per wall": math.NaN()}
				}
				out := x.Row(0)[3] + x.Row(1)[3] + x.Row(2)[3]
				return values{"per base": out / base, "per wall": out / (base + 2*fin)}
			}},
		{name: "radiation to surroundings", formula: "q = εσ(T1⁴ - T2⁴), h = q/(T1 - T2); σ 5.670374419e-8 W/m²K⁴", source: "Stefan-Boltzmann law; CODATA 2018",
			in:  []quantity{emissivity, {name: "surface", kind: temperature}, {name: "surroundings", kind: temperature}, {name: "area", kind: area, optional: true, absent: math.NaN()}},
			out: []quantity{{name: "h", kind: film}, {name: "flux", kind: flux}, {name: "heat", kind: power}},
			eval: func(v values) values {
				h := radiate.RadiativeCoefficient(v["emissivity"], v["surface"], v["surroundings"])
				q := h * (v["surface"] - v["surroundings"])
				return values{"h": h, "flux": q, "heat": q * v["area"]}
			}},
	}
}

// channelSides are gap wide at the base, depth from mouth to base, length along the run.
func channelSides() []quantity {
	return []quantity{{name: "gap", kind: length}, {name: "depth", kind: length}, {name: "length", kind: length}}
}

// channelViews are those of base, fin, fin and the outside.
func channelViews(v values) *radiate.Views {
	gap, depth, run := v["gap"], v["depth"], v["length"]
	bf := radiate.ViewPerpendicular(run, gap, depth)
	fb := bf * gap / depth // reciprocity
	ff := radiate.ViewParallel(depth, run, gap)
	views := radiate.NewViews(3, 1)
	copy(views.Row(0), []float64{0, bf, bf, 1 - 2*bf})
	copy(views.Row(1), []float64{fb, 0, ff, 1 - fb - ff})
	copy(views.Row(2), []float64{fb, ff, 0, 1 - fb - ff})
	return views
}
