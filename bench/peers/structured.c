// Conjugate gradients with structured multigrid on one implicit step: PFMG (semicoarsening, points relaxed) or SMG
// (semicoarsening, planes relaxed; sturdier and dearer).
//
//   mpirun -n 2 structured STEP SOLUTION RUNS TOLERANCE MOST_ITERATIONS RELAX SKIP RAP SYMMETRIC
//
// RELAX, SKIP and RAP are PFMG's relax type, skip relax and coarse operator type; RELAX -1 stands for SMG. SYMMETRIC stores half
// the matrix.
#include <HYPRE_struct_ls.h>

#include "step.h"

int main(int argc, char **argv) {
  MPI_Init(&argc, &argv);
  if (argc != 10) fail("needs STEP SOLUTION RUNS TOLERANCE MOST_ITERATIONS RELAX SKIP RAP SYMMETRIC", argv[0]);
  int runs = atoi(argv[3]), most = atoi(argv[5]), relax = atoi(argv[6]), skip = atoi(argv[7]), rap = atoi(argv[8]), symmetric = atoi(argv[9]);
  double tolerance = atof(argv[4]);
  step s = read_step(argv[1]);

  HYPRE_Int lower[3] = {0, (HYPRE_Int)s.j0, 0};
  HYPRE_Int upper[3] = {(HYPRE_Int)s.f.nx - 1, (HYPRE_Int)s.j1 - 1, (HYPRE_Int)s.f.nz - 1};
  HYPRE_StructGrid grid;
  HYPRE_StructGridCreate(MPI_COMM_WORLD, 3, &grid);
  HYPRE_StructGridSetExtents(grid, lower, upper);
  HYPRE_StructGridAssemble(grid);

  // the order of row(); half of it when symmetric
  HYPRE_Int offsets[7][3] = {{0, 0, 0}, {-1, 0, 0}, {1, 0, 0}, {0, -1, 0}, {0, 1, 0}, {0, 0, -1}, {0, 0, 1}};
  int full[7] = {0, 1, 2, 3, 4, 5, 6}, half[4] = {0, 2, 4, 6};
  int *taken = symmetric ? half : full, entries = symmetric ? 4 : 7;
  HYPRE_StructStencil stencil;
  HYPRE_StructStencilCreate(3, entries, &stencil);
  for (int e = 0; e < entries; e++) HYPRE_StructStencilSetElement(stencil, e, offsets[taken[e]]);

  HYPRE_StructMatrix matrix;
  HYPRE_StructVector rhs, x;
  HYPRE_StructMatrixCreate(MPI_COMM_WORLD, grid, stencil, &matrix);
  HYPRE_StructMatrixSetSymmetric(matrix, symmetric);
  HYPRE_StructMatrixInitialize(matrix);
  HYPRE_Int which[7] = {0, 1, 2, 3, 4, 5, 6};
  int64_t plane = s.f.nx * (s.j1 - s.j0);
  double *values = malloc((size_t)(plane * entries) * sizeof *values);
  for (int64_t k = 0; k < s.f.nz; k++) {
    double *v = values, a[7];
    for (int64_t j = 0; j < s.j1 - s.j0; j++)
      for (int64_t i = 0; i < s.f.nx; i++) {
        row(&s, i, j, k, a);
        for (int e = 0; e < entries; e++) *v++ = a[taken[e]];
      }
    HYPRE_Int lo[3] = {lower[0], lower[1], (HYPRE_Int)k}, hi[3] = {upper[0], upper[1], (HYPRE_Int)k};
    HYPRE_StructMatrixSetBoxValues(matrix, lo, hi, entries, which, values);
  }
  free(values);
  HYPRE_StructMatrixAssemble(matrix);
  HYPRE_StructVectorCreate(MPI_COMM_WORLD, grid, &rhs);
  HYPRE_StructVectorInitialize(rhs);
  HYPRE_StructVectorSetBoxValues(rhs, lower, upper, s.rhs);
  HYPRE_StructVectorAssemble(rhs);
  HYPRE_StructVectorCreate(MPI_COMM_WORLD, grid, &x);
  HYPRE_StructVectorInitialize(x);
  HYPRE_StructVectorAssemble(x);
  forget(&s);

  timing best = {0};
  double live = 0;
  for (int r = 0; r < runs; r++) {
    HYPRE_StructSolver cg, mg;
    timing t;
    HYPRE_StructVectorSetConstantValues(x, 0);
    if (relax < 0) {
      HYPRE_StructSMGCreate(MPI_COMM_WORLD, &mg);
      HYPRE_StructSMGSetMemoryUse(mg, 0);
      HYPRE_StructSMGSetMaxIter(mg, 1);
      HYPRE_StructSMGSetTol(mg, 0);
      HYPRE_StructSMGSetZeroGuess(mg);
      HYPRE_StructSMGSetNumPreRelax(mg, 1);
      HYPRE_StructSMGSetNumPostRelax(mg, 1);
    } else {
      HYPRE_StructPFMGCreate(MPI_COMM_WORLD, &mg);
      HYPRE_StructPFMGSetMaxIter(mg, 1);
      HYPRE_StructPFMGSetTol(mg, 0);
      HYPRE_StructPFMGSetZeroGuess(mg);
      HYPRE_StructPFMGSetRelaxType(mg, relax);
      HYPRE_StructPFMGSetSkipRelax(mg, skip);
      HYPRE_StructPFMGSetRAPType(mg, rap);
      HYPRE_StructPFMGSetNumPreRelax(mg, 1);
      HYPRE_StructPFMGSetNumPostRelax(mg, 1);
    }
    HYPRE_StructPCGCreate(MPI_COMM_WORLD, &cg);
    HYPRE_StructPCGSetTol(cg, tolerance);
    HYPRE_StructPCGSetMaxIter(cg, most);
    HYPRE_StructPCGSetTwoNorm(cg, 1);
    if (relax < 0)
      HYPRE_StructPCGSetPrecond(cg, HYPRE_StructSMGSolve, HYPRE_StructSMGSetup, mg);
    else
      HYPRE_StructPCGSetPrecond(cg, HYPRE_StructPFMGSolve, HYPRE_StructPFMGSetup, mg);
    double from = now();
    HYPRE_StructPCGSetup(cg, matrix, rhs, x);
    double between = now();
    HYPRE_StructPCGSolve(cg, matrix, rhs, x);
    double to = now();
    t.setup_s = between - from, t.solve_s = to - between;
    HYPRE_StructPCGGetNumIterations(cg, &t.iterations);
    HYPRE_StructPCGGetFinalRelativeResidualNorm(cg, &t.residual);
    keep_best(&best, t, r == 0);
    live = resident_bytes();
    HYPRE_StructPCGDestroy(cg);
    if (relax < 0)
      HYPRE_StructSMGDestroy(mg);
    else
      HYPRE_StructPFMGDestroy(mg);
  }
  double *solution = malloc((size_t)s.cells * sizeof *solution);
  HYPRE_StructVectorGetBoxValues(x, lower, upper, solution);
  write_slab(argv[2], &s.f, solution, s.j0, s.j1);
  report(&s, best, live);
  MPI_Finalize();
  return 0;
}
