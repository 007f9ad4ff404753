package surface

import (
	"fmt"
	"math"
)

const (
	// StandardPressurePa is one standard atmosphere.
	StandardPressurePa = 101325.0
	// rAirJkgK is the gas constant of dry air, 287.05287 J/(kg K), U.S. Standard Atmosphere 1976.
	rAirJkgK = 287.05287

	// The range in which the properties are good to 1 %.
	airLoK, airHiK   = 233.15, 393.15
	airLoPa, airHiPa = 30e3, 110e3
	// airFloorK, airCeilK bound the arithmetic. A solver on its way may ask for anything; the kinetic forms
	// extrapolate smoothly between these and AirAt holds the nearer end beyond them.
	airFloorK, airCeilK = 100.0, 3000.0
	// airFloorPa, airCeilPa: a dilute gas in between, held beyond.
	airFloorPa, airCeilPa = 1e3, 1e6
)

// Air holds the properties of dry air at one temperature and pressure.
type Air struct {
	DensityKgM3, ViscosityPaS, KWmK, CpJkgK float64
	NuM2s, AlphaM2s                         float64 // kinematic viscosity, thermal diffusivity
	Pr                                      float64
	BetaPerK                                float64 // expansion, 1/T of an ideal gas
}

// AirAt returns the properties of dry air. Viscosity and conductivity are the dilute-gas part of Lemmon & Jacobsen,
// Int. J. Thermophys. 25 (2004) 21-69; the heat capacity is that of an ideal mixture of nitrogen, oxygen and argon
// (rigid rotors with one vibration each); density is p/(RT).
//
// Good to 1 % from -40 to 120 °C and 30 to 110 kPa; CheckAir tells whether a state lies there. Outside, the same forms
// are used (they follow measured air within some 3 % from 150 to 1000 K) down to 100 K and up to 3000 K, and the
// nearer end beyond. A temperature or pressure that is not a number is taken as 300 K and one atmosphere, so the
// result is always finite.
func AirAt(tK, pressurePa float64) Air {
	if math.IsNaN(tK) {
		tK = 300
	}
	if math.IsNaN(pressurePa) {
		pressurePa = StandardPressurePa
	}
	tK = min(max(tK, airFloorK), airCeilK)
	pressurePa = min(max(pressurePa, airFloorPa), airCeilPa)

	// Viscosity, µPa s: η0 = 0.0266958 √(MT) / (σ² Ω(T/ε)), M 28.9586 g/mol, σ 0.360 nm, ε/k 103.3 K.
	l := math.Log(tK / 103.3)
	omega := math.Exp(0.431 + l*(-0.4623+l*(0.08406+l*(0.005341+l*-0.00331))))
	etaMicro := 0.0266958 * math.Sqrt(28.9586*tK) / (0.360 * 0.360 * omega)
	// Conductivity, mW/(m K): λ0 = 1.308 η0 + 1.405 τ^-1.1 - 1.036 τ^-0.3, τ = 132.6312 K / T.
	lt := math.Log(132.6312 / tK)
	kMilli := 1.308*etaMicro + 1.405*math.Exp(-1.1*lt) - 1.036*math.Exp(-0.3*lt)

	// cp/R: 7/2 for the two diatomic gases and 5/2 for argon, plus one vibration each (3392 K and 2273 K;
	// mole fractions 0.7812, 0.2096, 0.0092).
	cp := rAirJkgK * (3.5*(0.7812+0.2096) + 2.5*0.0092 + 0.7812*einstein(3392/tK) + 0.2096*einstein(2273/tK))

	a := Air{
		DensityKgM3:  pressurePa / (rAirJkgK * tK),
		ViscosityPaS: etaMicro * 1e-6,
		KWmK:         kMilli * 1e-3,
		CpJkgK:       cp,
		BetaPerK:     1 / tK,
	}
	a.NuM2s = a.ViscosityPaS / a.DensityKgM3
	a.AlphaM2s = a.KWmK / (a.DensityKgM3 * cp)
	a.Pr = a.NuM2s / a.AlphaM2s
	return a
}

// einstein returns the heat capacity of one oscillator in units of R, x²eˣ/(eˣ-1)², x > 0.
func einstein(x float64) float64 {
	e := math.Exp(-x)
	return x * x * e / ((1 - e) * (1 - e))
}

// CheckAir tells whether AirAt is good to 1 % at this state.
func CheckAir(tK, pressurePa float64) error {
	if !(tK >= airLoK && tK <= airHiK) {
		return fmt.Errorf("air at %.4g K (%.4g °C) lies outside the checked range -40 to 120 °C; check the temperature", tK, tK-273.15)
	}
	if !(pressurePa >= airLoPa && pressurePa <= airHiPa) {
		return fmt.Errorf("air pressure %.4g kPa lies outside the checked range 30 to 110 kPa; give the altitude or the pressure of the place", pressurePa/1e3)
	}
	return nil
}

// PressureAtAltitude returns the pressure of the U.S. Standard Atmosphere 1976 at a geopotential altitude (which at
// 5 km differs from the surveyed height by 4 m). Valid -500 m to 20 km; beyond, the same forms go on.
func PressureAtAltitude(altitudeM float64) float64 {
	const (
		t0K, lapseKM, tropopauseM, t11K = 288.15, 0.0065, 11000.0, 216.65
		exponent                        = gravityMS2 / (rAirJkgK * lapseKM)
	)
	if altitudeM <= tropopauseM {
		return StandardPressurePa * math.Pow(1-lapseKM*altitudeM/t0K, exponent)
	}
	p11 := StandardPressurePa * math.Pow(t11K/t0K, exponent)
	return p11 * math.Exp(-gravityMS2*(altitudeM-tropopauseM)/(rAirJkgK*t11K))
}
