package heat

import "math"

// TR-BDF2: stages at 0, γ and 1 of the step,
//
//	T_γ = T_0 + h d (k_0 + k_γ)
//	T_1 = T_0 + h [w (k_0 + k_γ) + d k_1],   k = dT/dt
//
// and the difference to the third-order companion, h Σ e_i k_i; Hosea & Shampine,
// see the package's doc.
const (
	Gamma     = 2 - math.Sqrt2     // γ: where the first stage stands in the step
	Diagonal  = Gamma / 2          // d
	Weight    = math.Sqrt2 / 4     // w
	ErrStart  = (4*Weight - 1) / 3 // e_0
	ErrMiddle = -1.0 / 3           // e_γ
	ErrEnd    = 2 * Diagonal / 3   // e_1
)
