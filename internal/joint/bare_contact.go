package joint

import (
	"fmt"
	"math"
)

// BareContact is two rough, flat, clean metal faces pressed together with a gas between them.
type BareContact struct {
	K1WmK, K2WmK float64 // conductivities of the two metals
	RoughnessM   float64 // effective rms roughness, √(σ1²+σ2²)
	Slope        float64 // effective mean slope of the asperities, √(m1²+m2²), rad
	PressurePa   float64 // mean contact pressure
	HardnessPa   float64 // contact hardness of the softer metal; near the surface 1 to 3 GPa for aluminium, more than its bulk hardness
	GasKWmK      float64 // conductivity of the gas, 0 for vacuum
	GasJumpM     float64 // temperature-jump length of the gas at the two walls, see GasJumpM
}

// Relative contact pressures P/H the relations were made for; common contacts lie between 1e-5 and 1e-2.
const loRelative, hiRelative = 1e-6, 2.3e-2

// check returns what keeps the relations from being used.
func (c *BareContact) check() error {
	for _, v := range []struct {
		name string
		v    float64
	}{
		{"conductivity of the first metal", c.K1WmK}, {"conductivity of the second metal", c.K2WmK},
		{"roughness", c.RoughnessM}, {"slope of the roughness", c.Slope}, {"pressure", c.PressurePa}, {"hardness", c.HardnessPa},
	} {
		if !(v.v > 0) || math.IsInf(v.v, 0) {
			return fmt.Errorf("bare contact: %s is %g; it must be a positive number", v.name, v.v)
		}
	}
	if !(c.GasKWmK >= 0) || math.IsInf(c.GasKWmK, 0) || !(c.GasJumpM >= 0) || math.IsInf(c.GasJumpM, 0) {
		return fmt.Errorf("bare contact: gas conductivity %g W/(m K) or jump length %g m is not a number of 0 or more", c.GasKWmK, c.GasJumpM)
	}
	if r := c.PressurePa / c.HardnessPa; !(r >= loRelative && r <= hiRelative) {
		return fmt.Errorf("bare contact: pressure over hardness is %.3g, outside %.0e to %.1e where the relation holds; check that both are in Pa (1 MPa = 1e6 Pa), or give the joint as a range", r, loRelative, hiRelative)
	}
	return nil
}

// Conductance returns the conductance of the touching spots and of the gas between them, and their sum, W/(m² K).
//
//	h_spots = 1.25 k_s (m/σ)(P/H)^0.95,  k_s = 2 k1 k2/(k1+k2)
//	h_gas   = k_g/(Y + M)
//
// Spots: Cooper, Mikic & Yovanovich, Int. J. Heat Mass Transfer 12 (1969) 279-300, in the form of Yovanovich 1982
// (Mechanical Engineers' Handbook vol. 4, p. 374). Asperities yield: first loading, plastic. The power law is within
// 1.5 % of its own integral for P/H 1e-5 to 1e-2; parts that are not flat lie far below it, and a roughness
// without its slope does not fix it within a factor of three. The gap Y is the exact one of the same model, see Separation.
func (c BareContact) Conductance() (spotsWm2K, gasWm2K, totalWm2K float64, err error) {
	if err := c.check(); err != nil {
		return 0, 0, 0, err
	}
	ks := 2 * c.K1WmK * c.K2WmK / (c.K1WmK + c.K2WmK)
	relative := c.PressurePa / c.HardnessPa
	spotsWm2K = 1.25 * ks * c.Slope / c.RoughnessM * math.Pow(relative, 0.95)
	gasWm2K = c.GasKWmK / (c.RoughnessM*Separation(relative) + c.GasJumpM)
	return spotsWm2K, gasWm2K, spotsWm2K + gasWm2K, nil
}

// Separation returns Y/σ, the distance between the mean planes of two rough faces over their rms roughness, for a
// relative pressure P/H between 0 and 0.5: the plane at which the share P/H of a normal distribution is cut off,
//
//	Y/σ = √2 erfc⁻¹(2 P/H)
//
// (Cooper, Mikic & Yovanovich 1969). Published fits of it, 1.185[-ln(3.132 P/H)]^0.547 and 1.53 (P/H)^-0.097, are
// within 0.5 % and 3.5 % for P/H 1e-4 to 1e-2.
func Separation(relativePressure float64) float64 {
	return math.Sqrt2 * math.Erfcinv(2*relativePressure)
}

// GasJumpM returns the temperature-jump length M of air between two walls, m:
//
//	M = [(2-a1)/a1 + (2-a2)/a2] · 2γ/[Pr(γ+1)] · Λ,  Λ = 0.064 µm · (T/288.15 K)(101325 Pa/p)
//
// accommodation1, 2 are the thermal accommodation coefficients, about 0.9 for air on engineering metals. (Yovanovich
// 1982; Λ from memory.) γ 1.4, Pr 0.70. Arguments must be positive, accommodation at most 1.
func GasJumpM(accommodation1, accommodation2, tK, pressurePa float64) float64 {
	const gamma, pr = 1.4, 0.70
	freePathM := 0.064e-6 * (tK / 288.15) * (101325 / pressurePa)
	walls := (2-accommodation1)/accommodation1 + (2-accommodation2)/accommodation2
	return walls * 2 * gamma / (pr * (gamma + 1)) * freePathM
}
