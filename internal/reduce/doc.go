// Package reduce is a small stand-in for a heat model: the temperatures are sought in the span of a few fields ("modes") that
// 3-D runs of the same device have shown, so that a run costs a millisecond or two where the 3-D one costs a second. Learning calls
// it thousands of times; what is shown as an answer comes from package heat.
//
//	T(cell) = T0 + Σ V[cell,k] x_k          M dx/dt = −A x − Σ surfaces + Σ sources
//
// The modes are the leading ones of the snapshots in the norm of stored heat, weighted (proper orthogonal decomposition by the method
// of snapshots; Sirovich, Q. Appl. Math. 45, 1987). The projection is Galerkin's, so energy is conserved, for the uniform field is one
// of the modes.
//
// All that depends on the cells is worked out once, for all values of what is not known of the device (Build): M and A are sums of
// fixed matrices times numbers that depend on values, since whole groups of cells and faces go up and down together. What crosses
// sealed air depends on temperatures too; it is asked for at a few faces, and the rest follows (empirical interpolation). Surfaces keep
// their nonlinear laws, taken at their own mean temperatures, as in package heat. New values cost a few sums of small matrices (Take),
// and so does a step.
//
// How wrong it is shows only against 3-D: Train makes 3-D runs at other draws than those the modes come from. Of a run at hand, Apart
// and EstimateK say what to expect, Outside and BeyondK whether it leaves what the model was made for.
//
// Start reading at Train, then Build and Stepper.
package reduce
