package surface

import (
	"math"
	"testing"
)

// Elenbaas 1942 and Bar-Cohen & Rohsenow 1984, evaluated independently.
func TestChannelTable(t *testing.T) {
	for _, tc := range []struct{ el, elenbaas, sym, one float64 }{
		{0.1, 0.00417, 0.00417, 0.00833}, {1, 0.04167, 0.04156, 0.08251}, {10, 0.40719, 0.38724, 0.65253},
		{50, 1.24510, 1.25323, 1.46820}, {100, 1.66917, 1.70276, 1.82059}, {500, 2.76216, 2.76513, 2.78358},
		{1e3, 3.32779, 3.30720, 3.31504}, {1e4, 5.98784, 5.89914, 5.89958}, {1e5, 10.66063, 10.49134, 10.49136},
	} {
		near(t, "Elenbaas", ElenbaasNu(tc.el), tc.elenbaas, 1e-3)
		near(t, "both warm", ChannelNu(tc.el), tc.sym, 1e-3)
		near(t, "one warm", ChannelOneSidedNu(tc.el), tc.one, 1e-3)
	}
}

// Best spacing of thin plates: maximum of Nu/S² over S. Published S = 2.714 P^-¼ (El 54.3, Nu 1.307) and 2.154 P^-¼
// (El 21.5, Nu 1.04), P = gβΔT/(ναL), Bar-Cohen & Rohsenow 1984. El = P S⁴, so Nu/S² ∝ Nu/√El.
func TestChannelOptimum(t *testing.T) {
	for _, tc := range []struct {
		nu        func(float64) float64
		s, nuBest float64
	}{{ChannelNu, 2.714, 1.307}, {ChannelOneSidedNu, 2.154, 1.04}} {
		best, at := 0.0, 0.0
		for s := 1.5; s < 4; s += 0.0005 {
			el := math.Pow(s, 4)
			if v := tc.nu(el) / math.Sqrt(el); v > best {
				best, at = v, s
			}
		}
		near(t, "S·P^¼", at, tc.s, 1e-3)
		near(t, "Nu", tc.nu(math.Pow(at, 4)), tc.nuBest, 2e-3)
	}
}

// 0.1 m plates, 70 °C in 25 °C air: Bar-Cohen & Rohsenow evaluated independently.
func TestChannelWorked(t *testing.T) {
	air := Air{KWmK: 0.0278721, NuM2s: 1.77179e-5, AlphaM2s: 2.51637e-5, BetaPerK: 1 / 320.65}
	for _, tc := range []struct{ mm, el, nu, h float64 }{
		{3, 2.50034, 0.103168, 0.9585}, {4, 7.90230, 0.312409, 2.1769}, {6, 40.0054, 1.108287, 5.1484},
		{8, 126.437, 1.852056, 6.4526}, {10, 308.684, 2.428444, 6.7686}, {15, 1562.71, 3.703380, 6.8814},
	} {
		s := tc.mm / 1e3
		el := Rayleigh(&air, 45, s) * s / 0.1
		near(t, "El", el, tc.el, 1e-4)
		near(t, "Nu", ChannelNu(el), tc.nu, 1e-4)
		near(t, "h", ChannelNu(el)*air.KWmK/s, tc.h, 1e-4)
	}
}

// Van de Pol & Tierney 1973 (coefficients from memory), 70 °C in 25 °C; and its limits, which are those of plates.
func TestUChannelConvection(t *testing.T) {
	for _, tc := range []struct{ s, d, psi, r, nu float64 }{
		{0.008, 0.025, 15.7744, 58.934, 1.33222}, {0.006, 0.010, 8.5915, 19.702, 0.96521},
		{0.010, 0.0254, 15.9073, 49.985, 1.24238}, {0.00635, 0.0254, 15.8017, 10.411, 0.52861},
	} {
		near(t, "ψ", uChannelPsi(tc.s, tc.d), tc.psi, 1e-4)
		near(t, "Nu", UChannelNu(tc.r, tc.s, tc.d), tc.nu, 1e-4)
	}
	near(t, "deep slot", uChannelPsi(1e-3, 10), 24, 5e-3)
	near(t, "narrow limit", UChannelNu(1e-4, 1e-3, 10), 1e-4/uChannelPsi(1e-3, 10), 1e-6)
	near(t, "wide limit", UChannelNu(1e6, 1e-3, 10), 0.595*fourth(1e6), 2e-3)
}
