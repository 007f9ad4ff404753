package relation

import "finwright/internal/surface"

// air are properties of air, and its pressure over height.
func air() []relation {
	return []relation{
		{name: "dry air", formula: "dilute gas: η0(T), λ0(T); cp of an ideal mixture of rigid rotors with one vibration each; ρ = p/(287.05287 J/kgK · T)",
			source: "Lemmon & Jacobsen, Int. J. Thermophys. 25 (2004) 21-69",
			in:     []quantity{{name: "temperature", kind: temperature}, {name: "pressure", kind: pressure, optional: true, absent: surface.StandardPressurePa}},
			out: []quantity{{name: "density", kind: density}, {name: "dynamic viscosity", kind: dynamic}, {name: "k", kind: conductivity}, {name: "cp", kind: specificHeat},
				{name: "viscosity", kind: diffusivity}, {name: "diffusivity", kind: diffusivity}, number("Pr")},
			eval: func(v values) values {
				a := surface.AirAt(v["temperature"], v["pressure"])
				return values{"density": a.DensityKgM3, "dynamic viscosity": a.ViscosityPaS, "k": a.KWmK, "cp": a.CpJkgK, "viscosity": a.NuM2s, "diffusivity": a.AlphaM2s, "Pr": a.Pr}
			}},
		// 288.15 K at sea level, 6.5 K less per kilometre.
		{name: "standard atmosphere", formula: "p = p0 (1 - 0.0065 H/288.15)^5.25588 to 11 km of geopotential altitude H in m; ρ = p/(287.05287 T)",
			source: "U.S. Standard Atmosphere 1976; ISO 2533",
			in:     []quantity{{name: "altitude", kind: length, signed: true}},
			out:    []quantity{number("p/p0"), {name: "pressure", kind: pressure}, {name: "density", kind: density}},
			eval: func(v values) values {
				p := surface.PressureAtAltitude(v["altitude"])
				a := surface.AirAt(288.15-0.0065*v["altitude"], p)
				return values{"p/p0": p / surface.StandardPressurePa, "pressure": p, "density": a.DensityKgM3}
			}},
	}
}
