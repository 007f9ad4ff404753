// Package heat conducts heat through a tensor grid of cells, in time and at rest.
//
//	C_c dT_c/dt = Σ_faces G (T_nb − T_c) + P_c − Σ_elements Q      per cell, W
//
// Cells carry a capacity (J/K), faces a conductance (W/K), sources put power into
// cells, surfaces let it out through a film whose coefficient may depend on the
// surface's own mean temperature, those of other surfaces, and time. SI throughout; T in kelvin (any
// scale will do while the laws use the same one).
//
// In time: TR-BDF2 with γ = 2−√2, second order, L-stable, both implicit stages on
// the same diagonal, with the embedded third-order companion as error estimate;
// M. E. Hosea & L. F. Shampine, "Analysis and implementation of TR-BDF2", Applied
// Numerical Mathematics 20 (1996) 21-37. In every stage the surface coefficients
// are iterated to agreement with the surface temperatures. Conductances that
// Model.Refresh renews are constant within a step, taken for the time that keeps the
// order. At rest: the same equations without
// capacity, see Steady.
//
// Each stage's solution is shifted by the one constant that makes the sum of all
// its equations exact, and stage derivatives come from the stage equations. Heat
// in, out and stored therefore agree to rounding, whatever the linear tolerance;
// the account is kept from the flows, the store from the temperatures, and Advance
// returns a *BalanceError if they ever disagree by more than 1e-6.
//
// Read first: model.go (what is solved), stepper.go (how), steady.go.
// Not here: geometry, material, film correlations, phase change, files, clocks.
package heat
