// Package linsolve solves the symmetric 7-point systems of finite-volume heat
// conduction on a tensor-product grid. It knows no physics: see Operator for the
// equations, Solver for the way to solve them.
package linsolve
