// a = b + s c on arrays far larger than the caches, on two threads: the memory bandwidth that a solver cannot exceed. Counted
// as 24 bytes an element, like the usual triad; the best of ten passes.
//
//   triad THREADS MEBIBYTES_PER_ARRAY
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { passes = 10 };
static double *a, *b, *c;
static size_t n;
static int threads;
static pthread_barrier_t barrier;
static double best_s = 1e30;

static double now(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void *work(void *arg) {
  size_t me = (size_t)arg, lo = n * me / (size_t)threads, hi = n * (me + 1) / (size_t)threads;
  double *restrict x = a;
  const double *restrict y = b, *restrict z = c;
  for (size_t i = lo; i < hi; i++) a[i] = 0, b[i] = 1, c[i] = (double)i; // each thread touches its own pages first
  for (int p = 0; p < passes; p++) {
    pthread_barrier_wait(&barrier);
    double from = now();
    for (size_t i = lo; i < hi; i++) x[i] = y[i] + 3.0 * z[i];
    pthread_barrier_wait(&barrier);
    if (me == 0 && now() - from < best_s) best_s = now() - from;
  }
  return NULL;
}

int main(int argc, char **argv) {
  if (argc != 3 || (threads = atoi(argv[1])) < 1 || threads > 64 || atoi(argv[2]) < 1) {
    fprintf(stderr, "%s: needs THREADS MEBIBYTES_PER_ARRAY\n", argv[0]);
    return 1;
  }
  n = (size_t)atoi(argv[2]) << 17;
  a = malloc(n * 8), b = malloc(n * 8), c = malloc(n * 8);
  if (!a || !b || !c) {
    fprintf(stderr, "%s: not enough memory\n", argv[0]);
    return 1;
  }
  pthread_t id[64];
  pthread_barrier_init(&barrier, NULL, (unsigned)threads);
  for (int t = 0; t < threads; t++)
    if (pthread_create(&id[t], NULL, work, (void *)(size_t)t) != 0) return 1;
  for (int t = 0; t < threads; t++) pthread_join(id[t], NULL);
  for (size_t i = 0; i < n; i += n / 7 + 1)
    if (a[i] != 1 + 3.0 * (double)i) return 1;
  printf("{\"part\": \"limit\", \"case\": \"triad\", \"bytesPerS\": %.4g}\n", 24.0 * (double)n / best_s);
  return 0;
}
