package joint

import (
	"fmt"
	"math"
)

// BondLine is a joint filled with paste, adhesive, pad or solder.
type BondLine struct {
	ThicknessM  float64 // of the filler in the finished joint
	KWmK        float64 // of the filler
	BoundaryM2K float64 // resistance of both faces together, m² K/W; 0 = the filler wets them perfectly
	Coverage    float64 // wetted share of the area, 0..1
	VoidKWmK    float64 // conductivity of what fills the rest, air 0.026; 0 = nothing crosses there
}

// Conductance returns W/(m² K) over the whole area: wetted and dry parts side by side.
//
//	h = C/(t/k + R_b) + (1-C) k_void/t
func (b BondLine) Conductance() (hWm2K float64, err error) {
	pos := func(v float64) bool { return v > 0 && !math.IsInf(v, 0) }
	switch {
	case !pos(b.ThicknessM):
		return 0, fmt.Errorf("bond line: thickness is %g m; it must be positive (50 µm is 0.00005 m)", b.ThicknessM)
	case !pos(b.KWmK):
		return 0, fmt.Errorf("bond line: conductivity is %g W/(m K); it must be positive", b.KWmK)
	case !(b.BoundaryM2K >= 0) || math.IsInf(b.BoundaryM2K, 0):
		return 0, fmt.Errorf("bond line: boundary resistance is %g m² K/W; it must be 0 or more", b.BoundaryM2K)
	case !(b.Coverage >= 0 && b.Coverage <= 1):
		return 0, fmt.Errorf("bond line: coverage is %g; it must lie between 0 and 1 (60 %% is 0.6)", b.Coverage)
	case !(b.VoidKWmK >= 0) || math.IsInf(b.VoidKWmK, 0):
		return 0, fmt.Errorf("bond line: conductivity of the voids is %g W/(m K); it must be 0 or more", b.VoidKWmK)
	}
	return b.Coverage/(b.ThicknessM/b.KWmK+b.BoundaryM2K) + (1-b.Coverage)*b.VoidKWmK/b.ThicknessM, nil
}

// PasteThicknessM returns the bond line that a filled paste settles to under a pressure, m:
//
//	t = 1.31e-4 (τ_y/P)^0.166        τ_y, P in Pa
//
// Prasher et al., IMECE2002-32118 (constant and exponent from memory; that yield stress and pressure rule is
// confirmed). Made for thermal pastes with τ_y of some tens to some hundreds of Pa under 0.03 to 0.7 MPa. It knows no
// largest grain: a filler never gets thinner than that.
func PasteThicknessM(yieldPa, pressurePa float64) (thicknessM float64, err error) {
	if !(yieldPa > 0 && pressurePa > 0) || math.IsInf(yieldPa, 0) || math.IsInf(pressurePa, 0) {
		return 0, fmt.Errorf("paste: yield stress %g Pa and pressure %g Pa must both be positive", yieldPa, pressurePa)
	}
	return 1.31e-4 * math.Pow(yieldPa/pressurePa, 0.166), nil
}
