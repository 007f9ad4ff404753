// Package reduce is a small stand-in for a heat model: the temperatures are sought in the span of a few fields ("modes") that
// 3-D runs of the same device have shown, so that a run costs milliseconds where the 3-D one costs a second. Learning calls
// it hundreds of times; what is shown as an answer comes from package heat.
//
//	T(cell) = T0 + Σ V[cell,k] a_k          M da/dt = −K a − Σ surfaces + Σ sources
//
// The modes are the leading ones of the snapshots in the norm of stored heat (proper orthogonal decomposition by the method
// of snapshots; Sirovich, Q. Appl. Math. 45, 1987). A model under other values (powers, joints, conductivities,
// capacities, film laws) is projected anew on the same modes: Galerkin, so energy is conserved for every mode, and the
// uniform field is one of them. Surfaces keep their nonlinear laws, taken at their own mean temperature, as in package heat;
// radiation across sealed air follows a parabola in the mean temperature of each air region, and its motion straight lines in how
// far the walls on both sides are apart.
//
// How wrong it is shows only against a 3-D run: package learn makes one at the values found and says the difference.
//
// Start reading at NewBasis, then Basis.Stepper.
package reduce
