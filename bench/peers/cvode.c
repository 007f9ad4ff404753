// A general-purpose stiff integrator (CVODE, BDF) on one transient: C dT/dt = conduction - film T + power, from zero.
//
//   cvode TRANSIENT RESULT RUNS METHOD RELATIVE ABSOLUTE SECONDS...
//
// METHOD: 0 GMRES with the diagonal as preconditioner, 1 GMRES with a tridiagonal one along z (the cells' thin direction),
// 2 a banded factorisation. Cells are numbered with z fastest, then x, so that the band is narrow and holds the strong couplings.
// RESULT gets the temperatures at the times asked for, one array each.
#include <cvode/cvode.h>
#include <cvode/cvode_bandpre.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_band.h>
#include <time.h>

#include "slab.h"

// arrays of the transient's file
enum { CAP, GX, GY, GZ, FILM, POWER, TRANSIENT_ARRAYS };

// cells in this program's order: cell (i,j,k) at (j*nx+i)*nz + k
typedef struct {
  int64_t nx, ny, nz, n;
  double *v[TRANSIENT_ARRAYS], *diag;
} body;

static int slope(realtype t, N_Vector y, N_Vector dy, void *data) {
  (void)t;
  const body *b = data;
  const double *T = N_VGetArrayPointer(y);
  double *d = N_VGetArrayPointer(dy);
  int64_t sx = b->nz, sy = b->nz * b->nx;
  for (int64_t c = 0; c < b->n; c++) d[c] = b->v[POWER][c] - b->v[FILM][c] * T[c];
  for (int64_t c = 0; c < b->n; c++) { // a face that leads out of the grid has conductance 0
    double own = T[c];
    if (b->v[GZ][c] > 0) { double q = b->v[GZ][c] * (T[c + 1] - own); d[c] += q, d[c + 1] -= q; }
    if (b->v[GX][c] > 0) { double q = b->v[GX][c] * (T[c + sx] - own); d[c] += q, d[c + sx] -= q; }
    if (b->v[GY][c] > 0) { double q = b->v[GY][c] * (T[c + sy] - own); d[c] += q, d[c + sy] -= q; }
  }
  for (int64_t c = 0; c < b->n; c++) d[c] /= b->v[CAP][c];
  return 0;
}

static int times(N_Vector v, N_Vector jv, realtype t, N_Vector y, N_Vector fy, void *data, N_Vector work) { // exact: the problem is linear
  (void)y, (void)fy, (void)work;
  const body *b = data;
  int flag = slope(t, v, jv, data);
  double *d = N_VGetArrayPointer(jv);
  for (int64_t c = 0; c < b->n; c++) d[c] -= b->v[POWER][c] / b->v[CAP][c];
  return flag;
}

static int jacobian(realtype t, N_Vector y, N_Vector fy, SUNMatrix J, void *data, N_Vector w1, N_Vector w2, N_Vector w3) {
  (void)t, (void)y, (void)fy, (void)w1, (void)w2, (void)w3;
  const body *b = data;
  int64_t stride[3] = {1, b->nz, b->nz * b->nx};
  const double *g[3] = {b->v[GZ], b->v[GX], b->v[GY]};
  SUNMatZero(J);
  for (int64_t c = 0; c < b->n; c++) {
    SM_ELEMENT_B(J, c, c) = -b->diag[c] / b->v[CAP][c];
    for (int a = 0; a < 3; a++)
      if (g[a][c] > 0) {
        SM_ELEMENT_B(J, c, c + stride[a]) = g[a][c] / b->v[CAP][c];
        SM_ELEMENT_B(J, c + stride[a], c) = g[a][c] / b->v[CAP][c + stride[a]];
      }
  }
  return 0;
}

static int jacobi(realtype t, N_Vector y, N_Vector fy, N_Vector r, N_Vector z, realtype gamma, realtype delta, int lr, void *data) {
  (void)t, (void)y, (void)fy, (void)delta, (void)lr;
  const body *b = data;
  const double *in = N_VGetArrayPointer(r);
  double *out = N_VGetArrayPointer(z);
  for (int64_t c = 0; c < b->n; c++) out[c] = in[c] / (1 + gamma * b->diag[c] / b->v[CAP][c]);
  return 0;
}

static double now(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void must(int flag, const char *what) {
  if (flag < 0) fail(what, "cvode");
}

int main(int argc, char **argv) {
  if (argc < 8) fail("needs TRANSIENT RESULT RUNS METHOD RELATIVE ABSOLUTE SECONDS...", argv[0]);
  int runs = atoi(argv[3]), method = atoi(argv[4]), asked = argc - 7;
  double relative = atof(argv[5]), absolute = atof(argv[6]);
  cell_file f = open_cells(argv[1]);
  if (f.arrays != TRANSIENT_ARRAYS) fail("does not hold a transient", argv[1]);
  body b = {f.nx, f.ny, f.nz, f.nx * f.ny * f.nz, {0}, 0};
  for (int a = 0; a < TRANSIENT_ARRAYS; a++) {
    double *in = read_slab(&f, a, 0, f.ny), *out = malloc((size_t)b.n * 8);
    for (int64_t k = 0; k < b.nz; k++)
      for (int64_t ij = 0; ij < b.nx * b.ny; ij++) out[ij * b.nz + k] = in[k * b.nx * b.ny + ij];
    b.v[a] = out;
    free(in);
  }
  b.diag = calloc((size_t)b.n, 8);
  int64_t stride[3] = {b.nz, b.nz * b.nx, 1};
  for (int64_t c = 0; c < b.n; c++) {
    b.diag[c] += b.v[FILM][c];
    for (int a = 0; a < 3; a++) {
      double g = b.v[GX + a][c];
      b.diag[c] += g;
      if (g > 0) b.diag[c + stride[a]] += g;
    }
  }

  double *all = malloc((size_t)(b.n * asked) * 8), best = 1e30;
  long steps = 0, iterations = 0;
  for (int r = 0; r < runs; r++) {
    SUNContext ctx;
    must(SUNContext_Create(NULL, &ctx), "no context");
    N_Vector y = N_VNew_Serial(b.n, ctx);
    N_VConst(0, y);
    double from = now();
    void *cv = CVodeCreate(CV_BDF, ctx);
    must(CVodeInit(cv, slope, 0, y), "cannot start");
    must(CVodeSStolerances(cv, relative, absolute), "tolerances refused");
    must(CVodeSetUserData(cv, &b), "data refused");
    must(CVodeSetMaxNumSteps(cv, 1000000), "steps refused");
    SUNMatrix J = NULL;
    SUNLinearSolver ls;
    if (method == 2) {
      int64_t half = b.nz * b.nx;
      J = SUNBandMatrix(b.n, half, half, ctx);
      ls = SUNLinSol_Band(y, J, ctx);
      must(CVodeSetLinearSolver(cv, ls, J), "linear solver refused");
      must(CVodeSetJacFn(cv, jacobian), "derivatives refused");
    } else {
      ls = SUNLinSol_SPGMR(y, SUN_PREC_LEFT, 20, ctx);
      must(CVodeSetLinearSolver(cv, ls, NULL), "linear solver refused");
      must(CVodeSetJacTimes(cv, NULL, times), "derivatives refused");
      must(method == 0 ? CVodeSetPreconditioner(cv, NULL, jacobi) : CVBandPrecInit(cv, b.n, 1, 1), "preconditioner refused");
    }
    for (int o = 0; o < asked; o++) {
      realtype t;
      double until = atof(argv[7 + o]);
      must(CVode(cv, until, y, &t, CV_NORMAL), "the integration failed");
      const double *T = N_VGetArrayPointer(y);
      for (int64_t k = 0; k < b.nz; k++)
        for (int64_t ij = 0; ij < b.nx * b.ny; ij++) all[b.n * o + k * b.nx * b.ny + ij] = T[ij * b.nz + k];
    }
    double took = now() - from;
    if (took < best) best = took;
    CVodeGetNumSteps(cv, &steps);
    if (method != 2) CVodeGetNumLinIters(cv, &iterations);
    CVodeFree(&cv);
    SUNLinSolFree(ls);
    if (J) SUNMatDestroy(J);
    N_VDestroy(y);
    SUNContext_Free(&ctx);
  }
  int64_t head[4] = {f.nx, f.ny, f.nz, asked};
  FILE *out = fopen(argv[2], "wb");
  if (!out || fwrite("FWCELLS1", 8, 1, out) != 1 || fwrite(head, sizeof head, 1, out) != 1 ||
      fwrite(all, 8, (size_t)(b.n * asked), out) != (size_t)(b.n * asked) || fclose(out) != 0)
    fail("cannot be written", argv[2]);
  printf("{\"solveS\": %.6f, \"steps\": %ld, \"iterations\": %ld, \"peakB\": %.0f}\n", best, steps, iterations, peak_bytes());
  return 0;
}
