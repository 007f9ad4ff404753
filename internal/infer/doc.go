// Package infer turns residuals into parameters with doubt.
//
// The unknowns are given as standard-normal scores z: before any data each z[i] is N(0, 1), independently. The caller maps scores
// to its own quantities and returns residuals r(z), each divided by its standard deviation. Then, up to a constant,
//
//	-log p(z | data) = ½|r(z)|² + ½|z|²     (the cost)
//
// MAP finds the z that makes the cost least (the mode), and around it the Gaussian posterior
//
//	Cov = (JᵀJ + I)⁻¹ ,   J = ∂r/∂z at the mode ,
//
// which is exact for linear residuals. Draws samples that posterior, Confounded says which unknowns the data cannot tell apart, and
// Result.Narrowed how much was learned of each. Residuals may be slow (seconds) and slightly noisy: derivatives are secants over a
// fair part of the prior, and are renewed as seldom as possible.
//
// One-sided observations ("it was still running then") say next to nothing while they are satisfied by far. List them in
// Problem.OneSided and return their signed value, positive when violated: the cost then takes -ln Φ(-r), see censored.go.
//
// Not here: several separate modes in one answer (only the best start is kept), correlated priors (rotate the scores first).
// Read map.go first.
package infer
