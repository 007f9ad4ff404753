// What the two MPI peers share: the implicit step's cell file, the share of this process, timing and the line they print.
#ifndef STEP_H
#define STEP_H

#include <mpi.h>

#include "slab.h"

// arrays of the step's file
enum { GX, GY, GZ, DIAG, RHS, STEP_ARRAYS };

typedef struct {
  cell_file f;
  int64_t j0, j1, cells;    // own rows of y and number of own cells
  double *gx, *gy, *gz;     // conductance to the next cell along each axis, own rows
  double *gy_below;         // gy of row j0-1 (zeros for the first process), packed as k*nx + i
  double *diag, *rhs;
  double before;            // resident bytes before anything was read
} step;

static int64_t first_row(const cell_file *f, int rank, int size) { return f->ny * rank / size; }

static step read_step(const char *path) {
  int rank, size;
  step s;
  MPI_Comm_rank(MPI_COMM_WORLD, &rank);
  MPI_Comm_size(MPI_COMM_WORLD, &size);
  s.before = resident_bytes();
  s.f = open_cells(path);
  if (s.f.arrays != STEP_ARRAYS) fail("does not hold an implicit step", path);
  if (s.f.ny < size) fail("has fewer rows than there are processes", path);
  s.j0 = first_row(&s.f, rank, size), s.j1 = first_row(&s.f, rank + 1, size);
  s.cells = s.f.nx * (s.j1 - s.j0) * s.f.nz;
  s.gx = read_slab(&s.f, GX, s.j0, s.j1);
  s.gy = read_slab(&s.f, GY, s.j0, s.j1);
  s.gz = read_slab(&s.f, GZ, s.j0, s.j1);
  s.diag = read_slab(&s.f, DIAG, s.j0, s.j1);
  s.rhs = read_slab(&s.f, RHS, s.j0, s.j1);
  s.gy_below = s.j0 > 0 ? read_slab(&s.f, GY, s.j0 - 1, s.j0) : calloc((size_t)(s.f.nx * s.f.nz), 8);
  return s;
}

// row gives the seven coefficients of own cell (i, j0+j, k): diagonal, -x, +x, -y, +y, -z, +z.
static void row(const step *s, int64_t i, int64_t j, int64_t k, double a[7]) {
  int64_t nx = s->f.nx, plane = nx * (s->j1 - s->j0), c = k * plane + j * nx + i;
  a[1] = i > 0 ? -s->gx[c - 1] : 0;
  a[2] = -s->gx[c];
  a[3] = j > 0 ? -s->gy[c - nx] : -s->gy_below[k * nx + i];
  a[4] = -s->gy[c];
  a[5] = k > 0 ? -s->gz[c - plane] : 0;
  a[6] = -s->gz[c];
  a[0] = s->diag[c] - a[1] - a[2] - a[3] - a[4] - a[5] - a[6];
}

static void forget(step *s) { // what the library has copied need not count as its memory
  free(s->gx), free(s->gy), free(s->gz), free(s->gy_below), free(s->diag), free(s->rhs);
}

static double now(void) {
  MPI_Barrier(MPI_COMM_WORLD);
  return MPI_Wtime();
}

typedef struct { double setup_s, solve_s, residual; int iterations; } timing;

static void keep_best(timing *best, timing t, int first) {
  if (first || t.setup_s < best->setup_s) best->setup_s = t.setup_s;
  if (first || t.solve_s < best->solve_s) best->solve_s = t.solve_s;
  best->residual = t.residual, best->iterations = t.iterations;
}

// report prints one line of JSON with the sums over the processes.
static void report(const step *s, timing t, double live) {
  int rank;
  double own[2] = {live - s->before, peak_bytes()}, sum[2];
  MPI_Comm_rank(MPI_COMM_WORLD, &rank);
  MPI_Reduce(own, sum, 2, MPI_DOUBLE, MPI_SUM, 0, MPI_COMM_WORLD);
  if (rank == 0)
    printf("{\"setupS\": %.6f, \"solveS\": %.6f, \"iterations\": %d, \"ownRelResidual\": %.4g, \"liveB\": %.0f, \"peakB\": %.0f}\n",
           t.setup_s, t.solve_s, t.iterations, t.residual, sum[0], sum[1]);
}

#endif
