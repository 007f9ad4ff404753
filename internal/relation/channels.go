package relation

import (
	"math"

	"finwright/internal/surface"
)

// channels are the gaps between upright plates and fins, and the gap that is best.
func channels() []relation {
	oneSided := surface.ChannelLaw
	oneSided.Formula = "Nu = (144/El² + 2.873/El^(1/2))^(-1/2)"
	symmetric := surface.ChannelLaw
	symmetric.Formula = "Nu = (576/El² + 2.873/El^(1/2))^(-1/2)"
	of := func(law *surface.Law, name string, nu func(el float64) float64) relation {
		return relation{name: name, formula: law.Formula, source: law.Source, law: law, in: []quantity{number("El")}, out: []quantity{number("Nu")},
			eval: func(v values) values { return values{"Nu": nu(v["El"])} }}
	}
	u := &surface.UChannelLaw
	return []relation{
		of(&surface.ElenbaasLaw, "upright parallel plates, classical", surface.ElenbaasNu),
		of(&symmetric, "upright parallel plates", surface.ChannelNu),
		of(&oneSided, "upright parallel plates, one insulated", surface.ChannelOneSidedNu),
		{name: "upright parallel plates in air", formula: symmetric.Formula + "; El = gβΔT S⁴/(ναL), h = k Nu/S", source: symmetric.Source, law: &symmetric,
			in:  join(temperatures(), []quantity{{name: "gap", kind: length}, {name: "height", kind: length}}, airWithoutPr()),
			out: []quantity{number("El"), number("Nu"), {name: "h", kind: film}},
			eval: func(v values) values {
				el := rayleigh(v, v["gap"]) * v["gap"] / v["height"]
				nu := surface.ChannelNu(el)
				return values{"El": el, "Nu": nu, "h": nu * v["k"] / v["gap"]}
			}},
		best("best gap of upright parallel plates", &symmetric, surface.ChannelNu),
		best("best gap of upright parallel plates, one insulated", &oneSided, surface.ChannelOneSidedNu),
		{name: "best gap of upright parallel plates in air", formula: "largest Nu/S² over S, with " + symmetric.Formula, source: symmetric.Source,
			in:  join(temperatures(), []quantity{{name: "height", kind: length}}, airWithoutPr()),
			out: []quantity{{name: "gap", kind: length}, {name: "h", kind: film}},
			eval: func(v values) values {
				s := bestGap(surface.ChannelNu)
				gapM := s / math.Sqrt(math.Sqrt(rayleigh(v, 1)/v["height"]))
				return values{"gap": gapM, "h": surface.ChannelNu(s*s*s*s) * v["k"] / gapM}
			}},
		// Properties at the wall, expansion at the air, as published.
		{name: "upright channel between fins in air", formula: u.Formula, source: u.Source, law: u,
			in:  join(temperatures(), []quantity{{name: "gap", kind: length}, {name: "depth", kind: length}, {name: "height", kind: length}}),
			out: []quantity{number("R"), number("Nu"), {name: "h", kind: film}, number("share of plates")},
			eval: func(v values) values {
				s, d, l := v["gap"], v["depth"], v["height"]
				r := 2 * d * s / (2*d + s)
				a := surface.AirAt(v["surface"], surface.StandardPressurePa)
				a.BetaPerK = 1 / v["air"]
				rise := v["surface"] - v["air"]
				x := surface.Rayleigh(&a, rise, r) * r / l
				nu := surface.UChannelNu(x, s, d)
				h := nu * a.KWmK / r
				plates := surface.ChannelNu(surface.Rayleigh(&a, rise, s)*s/l) * a.KWmK / s
				return values{"R": x, "Nu": nu, "h": h, "share of plates": h / plates}
			}},
	}
}

// best is the optimum itself, the same for all plates and air.
func best(name string, law *surface.Law, nu func(el float64) float64) relation {
	return relation{name: name, formula: "largest Nu/S² over S, with " + law.Formula + "; P = gβΔT/(ναL)", source: law.Source,
		out: []quantity{number("S P^1/4"), number("El"), number("Nu")},
		eval: func(values) values {
			s := bestGap(nu)
			return values{"S P^1/4": s, "El": s * s * s * s, "Nu": nu(s * s * s * s)}
		}}
}

// bestGap is S·P^(1/4) at which thin plates on a base of given width give off the most heat: a gap S makes room for plates in
// proportion to 1/S, so that h/S ∝ Nu/S² is to be largest. With P = gβΔT/(ναL), El is P S⁴. The optimum is searched for, not
// taken from the published coefficient.
func bestGap(nu func(el float64) float64) float64 {
	return math.Exp(highest(func(lnS float64) float64 { s := math.Exp(lnS); return nu(s*s*s*s) / (s * s) }, math.Log(0.1), math.Log(100)))
}

// highest is where f, which rises and then falls between lo and hi, is largest: golden section search (Kiefer, Proc. Amer. Math.
// Soc. 4 (1953) 502-506), to about 1e-8 of lo..hi, which is as far as the flat top of a maximum lets itself be told apart.
func highest(f func(float64) float64, lo, hi float64) float64 {
	const shrink = 0.6180339887498949 // (√5 - 1)/2
	a, b := hi-shrink*(hi-lo), lo+shrink*(hi-lo)
	fa, fb := f(a), f(b)
	for range 40 {
		if fa < fb {
			lo, a, fa = a, b, fb
			b = lo + shrink*(hi-lo)
			fb = f(b)
		} else {
			hi, b, fb = b, a, fa
			a = hi - shrink*(hi-lo)
			fa = f(a)
		}
	}
	return (lo + hi) / 2
}
