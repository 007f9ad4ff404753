// Package linsolve solves the symmetric 7-point systems of finite-volume heat
// conduction on a tensor-product grid, from a hundred cells to ten million. It
// knows no physics. Read operator.go first (the equations), then solver.go.
//
// # Method
//
// Flexible conjugate gradients, preconditioned by one cycle of multigrid by
// aggregation. Each coarser level lumps up to ten nodes of the finer one together
// (aggregate.go), mostly 2x2x2 cells where conduction is alike in all directions,
// chains of four where cells are flat. Nodes join along strong couplings, and
// only if relaxation can deal with everything that varies inside the union; so
// sheets one cell thick, contacts that hardly conduct and jumps of 1e5 keep their
// own nodes on every level that needs them. The coarse matrix (level.go) just adds
// up conductances, which keeps it an M-matrix of the same form. Relaxation is one
// Gauss-Seidel sweep before and the mirrored one after, red-black on the grid and
// by colours on the coarse levels. Corrections that are constant on aggregates
// underestimate smooth errors; every coarse level therefore does two
// steps of conjugate gradients instead of one plain visit (the K-cycle). The
// last level, of at most 64 nodes, is eliminated without subtractions
// (bottom.go), so a body held by a conductance 1e-9 of its own is as easy as any.
//
// # Memory
//
// The caller holds 32 bytes a cell of operator and 16 of dst and rhs. The finest
// level takes 44: four vectors and the inverse diagonal in float64, one scratch
// vector in float32. Coarse levels are in float32 and compressed rows and take 19
// bytes per fine cell when aggregates hold eight cells, up to about 50 on wild
// coefficients. Altogether 111 bytes a cell on uniform 160³, 113 on a device of a
// million cells. While a hierarchy is being chosen, 44 bytes a cell come on top
// of the finest level's vectors, and go before the coarse levels are complete.
//
// Cell (i,j,k) is at (k*NY+j)*NX+i. Kernels on the grid work through whole
// x-rows (rows.go), those on coarse levels through ranges of nodes. What is one
// piece of work depends on the problem only, sums are added piece by piece, and
// nodes relaxed together are not coupled: any number of workers gives the same bits.
// On a grid of a single x-row (NY = NZ = 1) the finest level has one piece of work.
//
// # Limits
//
// Double precision leaves a residual of about 1e-16·‖A‖·‖x‖ whatever the method.
// Steady problems that are held very weakly reach it before 1e-8 of the
// right-hand side; Solve then returns *NotConverged with Rounding set.
//
// # Tried and rejected
//
// Iterations to 1e-8 on a right-hand side of noise, from the cases of
// cases_test.go. "Pairs" accepts each join by the couplings of the two
// sides alone instead of the worst mode of their union; "V" visits each coarse level
// once; the last column is conjugate gradients with the diagonal.
//
//	                              now  pairs     V   diagonal
//	uniform 48³, steady            12     15    29        363
//	cells 1:20                     21     38    33      >3000
//	spacing stretched both ways    22     50    43      >3000
//	plate beside air               18     29    35        500
//	checkerboard, jumps 1e5        13   >500    24        613
//	conductivity over 5 decades    19     70    34        864
//	sealed device, steady          19     28    33        787
//	line of 20,000 cells           22     50   275      >3000
//
// From 16³ over 32³ and 64³ to 128³ it takes 12, 12, 12, 12 iterations on the uniform
// block and 20, 18, 23, 22 with cells 1:20. Coarse levels in float64 instead of
// float32 change no count by more than one. joinLimit 10 to 18 and largest 8 to 10
// differ by 3 iterations at most; smaller limits cost memory (plates in air), larger
// ones iterations (layers). With tie near 1 the uniform block takes as many
// iterations, but its levels fall into 6 to 9 colours instead of 2.
package linsolve
