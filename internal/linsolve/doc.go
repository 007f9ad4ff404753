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
// own nodes on every level that needs them. The coarse matrix (coarsen.go) just adds
// up conductances, which keeps it an M-matrix of the same form. Relaxation is one
// Gauss-Seidel sweep before and the mirrored one after, red-black on the grid
// (relax.go) and by colours on the coarse levels (level.go, sliced.go). Corrections
// that are constant on aggregates underestimate smooth errors; every coarse level
// therefore does two steps of conjugate gradients instead of one plain visit (the
// K-cycle). The last level, of at most 64 nodes, is eliminated without subtractions
// (bottom.go), so a body held by a conductance 1e-9 of its own is as easy as any.
//
// Solution, residual, directions and the product with the operator are in double
// precision, everything inside the preconditioner is in single precision. What a
// sweep from zero leaves undone needs half of the couplings only, so sweep and
// residual together read each coupling once.
//
// # Vector kernels
//
// On amd64 with AVX2 and FMA the kernels of vector_amd64.s do eight float32 or four
// float64 at a time; each has a twin in Go, which all other machines run and tests
// compare it with. The two round differently: solutions agree within the tolerance
// asked for, not to the last bit, between machines with and without.
//
// # Memory
//
// The caller holds 32 bytes a cell of operator and 16 of dst and rhs. The finest
// level takes 48: three vectors in double precision, and in single precision the
// operator (16) and two vectors. Coarse levels take 17 bytes per fine cell when
// aggregates hold eight cells, 30 in layers of flat cells, up to about 40 on wild
// coefficients. Altogether 113 bytes a cell on uniform 128³ and 126 on layers of 1:20
// cells with jumps of 1.5e4, at 64³ as at 256³. While a hierarchy is being chosen
// the process takes up to 200 bytes a cell, storage to be collected included.
//
// Cell (i,j,k) is at (k*NY+j)*NX+i. Kernels on the grid work through whole
// x-rows (rows.go, relax.go), those on coarse levels through slices of eight nodes.
// What is one piece of work depends on the problem only, sums are added piece by
// piece, and nodes relaxed together are not coupled: any number of workers gives the
// same bits. So does set-up, which joins cells within slabs of the grid. A worker's
// part of the cells, of the aggregates and of each colour is the same region of the
// grid in every kernel, and levels below sharedNodes are one worker's: fetching what
// another core has written last costs more than it saves. With parts handed out as
// workers came free two cores were slower than one at 64³ in half of the kernels.
// On a grid of a single x-row (NY = NZ = 1) the finest level has one piece of work.
//
// # Changes
//
// SetDiag renews the diagonals of all levels. SetConductances leaves the preconditioner
// alone while no conductance is off by more than ignoreLimit from what it was made
// for. Beyond, it keeps the aggregates and adds up the coarse levels anew as long as no
// conductance has changed by more than a factor of keepLimit since they were chosen. On layers of 128³ they took
// 2 and 11 percent of the time of New. What results then depends, within the tolerance, on
// the order of the changes.
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
// block and 20, 18, 23, 22 with cells 1:20; on the layers of bench_test.go (1:20, jumps
// 1.5e4, poor contacts) 17 at 32³, 64³, 128³ and 256³. The coarse levels
// in float64, or the whole preconditioner, change no count by more than one. joinLimit
// 10 to 18 and largest 8 to 10 differ by 3 iterations at most; smaller limits cost
// memory (plates in air), larger ones iterations (layers). With tie near 1 the uniform
// block takes as many iterations, but its levels fall into 6 to 9 colours instead of 2.
//
// Kept aggregates, conductances changed one by one at random by up to a factor of 2
// either way: 4 iterations more at most; by up to 4: half as many again (36 for 27
// with cells 1:20, 28 for 21 in the sealed device). All air times 3: none.
//
// Time, in processor seconds against the kernels in Go with coarse levels in
// compressed rows, layers of 128³: 0.38. What did not help, or helped less:
//
//	VGATHERDPS on coarse levels instead of single loads   0.75 ns a coupling for 0.42
//	loading z left of a cell after storing its neighbours 2.4 ns a cell for 1.3 (sweep)
//	gathering and spreading in the order of colours       17 percent more a cycle
//	the same two written in assembly                      at most 5 percent less, not kept
package linsolve
