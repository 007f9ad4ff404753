// Conjugate gradients with algebraic multigrid (BoomerAMG) on one implicit step.
//
//   mpirun -n 2 algebraic STEP SOLUTION RUNS TOLERANCE MOST_ITERATIONS THRESHOLD RELAX AGGRESSIVE
//
// THRESHOLD is the strength threshold, RELAX the library's relax type (13 stands for 13 down and 14 up), AGGRESSIVE the number of
// levels coarsened aggressively. Coarsening HMIS, interpolation extended+i with at most four entries per row.
#include <HYPRE.h>
#include <HYPRE_krylov.h>
#include <HYPRE_parcsr_ls.h>

#include "step.h"

int main(int argc, char **argv) {
  MPI_Init(&argc, &argv);
  if (argc != 9) fail("needs STEP SOLUTION RUNS TOLERANCE MOST_ITERATIONS THRESHOLD RELAX AGGRESSIVE", argv[0]);
  int runs = atoi(argv[3]), most = atoi(argv[5]), relax = atoi(argv[7]), aggressive = atoi(argv[8]);
  double tolerance = atof(argv[4]), threshold = atof(argv[6]);
  int rank, size;
  MPI_Comm_rank(MPI_COMM_WORLD, &rank);
  MPI_Comm_size(MPI_COMM_WORLD, &size);
  step s = read_step(argv[1]);
  HYPRE_Init();

  // rows are numbered process by process, within one as its slab is packed
  int64_t nx = s.f.nx, nz = s.f.nz, rows = s.j1 - s.j0, plane = nx * rows;
  int64_t base = nx * nz * s.j0;
  int64_t rows_below = s.j0 - first_row(&s.f, rank - (rank > 0), size), base_below = base - nx * nz * rows_below;
  int64_t rows_above = rank + 1 < size ? first_row(&s.f, rank + 2, size) - s.j1 : 0, base_above = base + s.cells;
  HYPRE_BigInt first = (HYPRE_BigInt)base, last = (HYPRE_BigInt)(base + s.cells - 1);
  HYPRE_IJMatrix ij;
  HYPRE_IJMatrixCreate(MPI_COMM_WORLD, first, last, first, last, &ij);
  HYPRE_IJMatrixSetObjectType(ij, HYPRE_PARCSR);
  HYPRE_Int *sizes = malloc((size_t)s.cells * sizeof *sizes);
  for (int64_t c = 0; c < s.cells; c++) sizes[c] = 7;
  HYPRE_IJMatrixSetRowSizes(ij, sizes);
  free(sizes);
  HYPRE_IJMatrixInitialize(ij);
  for (int64_t k = 0; k < nz; k++)
    for (int64_t j = 0; j < rows; j++)
      for (int64_t i = 0; i < nx; i++) {
        int64_t own = base + k * plane + j * nx + i;
        int64_t at[7] = {own, own - 1, own + 1, own - nx, own + nx, own - plane, own + plane};
        if (j == 0) at[3] = base_below + (k * rows_below + rows_below - 1) * nx + i;
        if (j == rows - 1) at[4] = base_above + k * rows_above * nx + i;
        double a[7];
        HYPRE_BigInt here = (HYPRE_BigInt)own, cols[7];
        HYPRE_Int n = 0;
        row(&s, i, j, k, a);
        for (int e = 0; e < 7; e++)
          if (a[e] != 0) cols[n] = (HYPRE_BigInt)at[e], a[n++] = a[e];
        HYPRE_IJMatrixSetValues(ij, 1, &n, &here, cols, a);
      }
  HYPRE_IJMatrixAssemble(ij);
  HYPRE_IJVector ij_rhs, ij_x;
  HYPRE_IJVectorCreate(MPI_COMM_WORLD, first, last, &ij_rhs);
  HYPRE_IJVectorSetObjectType(ij_rhs, HYPRE_PARCSR);
  HYPRE_IJVectorInitialize(ij_rhs);
  HYPRE_IJVectorSetValues(ij_rhs, (HYPRE_Int)s.cells, NULL, s.rhs);
  HYPRE_IJVectorAssemble(ij_rhs);
  HYPRE_IJVectorCreate(MPI_COMM_WORLD, first, last, &ij_x);
  HYPRE_IJVectorSetObjectType(ij_x, HYPRE_PARCSR);
  HYPRE_IJVectorInitialize(ij_x);
  HYPRE_IJVectorAssemble(ij_x);
  forget(&s);
  HYPRE_ParCSRMatrix matrix;
  HYPRE_ParVector rhs, x;
  HYPRE_IJMatrixGetObject(ij, (void **)&matrix);
  HYPRE_IJVectorGetObject(ij_rhs, (void **)&rhs);
  HYPRE_IJVectorGetObject(ij_x, (void **)&x);

  timing best = {0};
  double live = 0;
  for (int r = 0; r < runs; r++) {
    HYPRE_Solver cg, mg;
    timing t;
    HYPRE_ParVectorSetConstantValues(x, 0);
    HYPRE_BoomerAMGCreate(&mg);
    HYPRE_BoomerAMGSetMaxIter(mg, 1);
    HYPRE_BoomerAMGSetTol(mg, 0);
    HYPRE_BoomerAMGSetCoarsenType(mg, 10);
    HYPRE_BoomerAMGSetInterpType(mg, 6);
    HYPRE_BoomerAMGSetPMaxElmts(mg, 4);
    HYPRE_BoomerAMGSetStrongThreshold(mg, threshold);
    HYPRE_BoomerAMGSetAggNumLevels(mg, aggressive);
    HYPRE_BoomerAMGSetNumSweeps(mg, 1);
    HYPRE_BoomerAMGSetCycleRelaxType(mg, relax, 1);
    HYPRE_BoomerAMGSetCycleRelaxType(mg, relax == 13 ? 14 : relax, 2);
    HYPRE_BoomerAMGSetCycleRelaxType(mg, 9, 3);
    HYPRE_BoomerAMGSetRelaxOrder(mg, 0);
    HYPRE_BoomerAMGSetPrintLevel(mg, 0);
    HYPRE_ParCSRPCGCreate(MPI_COMM_WORLD, &cg);
    HYPRE_PCGSetTol(cg, tolerance);
    HYPRE_PCGSetMaxIter(cg, most);
    HYPRE_PCGSetTwoNorm(cg, 1);
    HYPRE_PCGSetPrecond(cg, (HYPRE_PtrToSolverFcn)HYPRE_BoomerAMGSolve, (HYPRE_PtrToSolverFcn)HYPRE_BoomerAMGSetup, mg);
    double from = now();
    HYPRE_ParCSRPCGSetup(cg, matrix, rhs, x);
    double between = now();
    HYPRE_ParCSRPCGSolve(cg, matrix, rhs, x);
    double to = now();
    t.setup_s = between - from, t.solve_s = to - between;
    HYPRE_PCGGetNumIterations(cg, &t.iterations);
    HYPRE_PCGGetFinalRelativeResidualNorm(cg, &t.residual);
    keep_best(&best, t, r == 0);
    live = resident_bytes();
    HYPRE_ParCSRPCGDestroy(cg);
    HYPRE_BoomerAMGDestroy(mg);
  }
  double *solution = malloc((size_t)s.cells * sizeof *solution);
  HYPRE_IJVectorGetValues(ij_x, (HYPRE_Int)s.cells, NULL, solution);
  write_slab(argv[2], &s.f, solution, s.j0, s.j1);
  report(&s, best, live);
  MPI_Finalize();
  return 0;
}
