// Package joint turns what is known about two touching parts into a conductance per area, W/(m² K).
//
// Three ways, best first: a bond line of known filler and thickness (BondLine), a bare metal contact of known roughness
// and pressure (BareContact), and, where the user knows nothing but which parts touch, a kind of joint with a wide range
// (Kind). Conductivities of fillers live elsewhere; here they are numbers.
//
// Not here: pump-out and ageing of pastes, uneven pressure under screws, heat spreading beside the joint.
package joint
