// Reading the bench's cell files, and each process's share of the cells.
//
// A cell file is "FWCELLS1", four little-endian int64 (nx, ny, nz, number of arrays), then the arrays of nx*ny*nz float64;
// cell (i,j,k) is at (k*ny+j)*nx+i. Processes share the rows of y as evenly as they go.
#ifndef SLAB_H
#define SLAB_H

#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

enum { header_bytes = 8 + 4 * 8 };

typedef struct {
  int64_t nx, ny, nz, arrays;
  int fd;
} cell_file;

static inline void fail(const char *what, const char *path) {
  fprintf(stderr, "%s: %s\n", path, what);
  exit(1);
}

static inline cell_file open_cells(const char *path) {
  cell_file f;
  char magic[8];
  int64_t head[4];
  f.fd = open(path, O_RDONLY);
  if (f.fd < 0) fail("cannot be opened", path);
  if (read(f.fd, magic, 8) != 8 || memcmp(magic, "FWCELLS1", 8) != 0 || read(f.fd, head, sizeof head) != sizeof head)
    fail("is not a cell file", path);
  f.nx = head[0], f.ny = head[1], f.nz = head[2], f.arrays = head[3];
  return f;
}

static inline void transfer(int writing, int fd, void *data, size_t bytes, off_t at) {
  char *p = data;
  while (bytes > 0) {
    ssize_t n = writing ? pwrite(fd, p, bytes, at) : pread(fd, p, bytes, at);
    if (n <= 0) fail(writing ? "cannot be written" : "is too short", "cell file");
    p += n, at += n, bytes -= (size_t)n;
  }
}

// read_slab reads rows j0 <= j < j1 of one array, packed as (k*(j1-j0) + j-j0)*nx + i.
static inline double *read_slab(const cell_file *f, int array, int64_t j0, int64_t j1) {
  size_t part = (size_t)(f->nx * (j1 - j0));
  double *v = malloc((part * (size_t)f->nz + 1) * sizeof *v);
  if (!v) fail("not enough memory", "cell file");
  for (int64_t k = 0; k < f->nz; k++)
    transfer(0, f->fd, v + (size_t)k * part, part * 8,
             header_bytes + 8 * ((off_t)array * f->nx * f->ny * f->nz + (k * f->ny + j0) * f->nx));
  return v;
}

// write_slab writes this process's rows of a cell file of one array.
static inline void write_slab(const char *path, const cell_file *f, double *v, int64_t j0, int64_t j1) {
  int64_t head[4] = {f->nx, f->ny, f->nz, 1};
  char magic[9] = "FWCELLS1";
  size_t part = (size_t)(f->nx * (j1 - j0));
  int fd = open(path, O_WRONLY | O_CREAT, 0644);
  if (fd < 0) fail("cannot be written", path);
  if (j0 == 0) {
    transfer(1, fd, magic, 8, 0);
    transfer(1, fd, head, sizeof head, 8);
  }
  for (int64_t k = 0; k < f->nz; k++)
    transfer(1, fd, v + (size_t)k * part, part * 8, header_bytes + 8 * ((off_t)(k * f->ny + j0) * f->nx));
  if (close(fd) != 0) fail("cannot be written", path);
}

// resident_bytes is the memory this process now holds; peak_bytes the most it ever held.
static inline double resident_bytes(void) {
  long pages = 0;
  FILE *f = fopen("/proc/self/statm", "r");
  if (!f || fscanf(f, "%*s %ld", &pages) != 1) pages = 0;
  if (f) fclose(f);
  return (double)pages * (double)sysconf(_SC_PAGESIZE);
}

static inline double peak_bytes(void) {
  struct rusage u;
  getrusage(RUSAGE_SELF, &u);
  return 1024.0 * (double)u.ru_maxrss;
}

#endif
