#!/bin/sh
# The bench: finwright's solver, its stepper, whole sessions and the reduced model beside general-purpose peers, all built and run
# here and now, one after the other. Prints one table. What the columns mean is in bench/README.md.
set -eu
cd "$(dirname "$0")/.."

usage() {
  cat <<'TEXT'
scripts/bench.sh [options]
  --install         install what is missing with apt-get (needs root)
  --json            print JSON instead of text
  --tried           list the settings of the peers that were tried, too
  --sizes 32,64     edges of the layered cubes, in cells           (32,64,128,256)
  --cubes 128       edges of those with cubic cells; '' for none   (128)
  --device 400x200x25   cells of the thin device; '' for none      (400x200x25)
  --session 200000  sizes of the 3-D sessions, in cells; '' for none (200000,1000000)
  --draws 200       draws the reduced model is checked at; 0 for none (200)
  --runs 3          the best of so many counts                     (3)
  --quick           small sizes only, to see that all of it works
  --keep FILE       keep the rows as they come, one JSON object a line
Nothing else should run on the machine meanwhile; the whole takes about twenty minutes, --quick one or two.
TEXT
}

install=no json= tried= sizes=32,64,128,256 cubes=128 device=400x200x25 session=200000,1000000 draws=200 runs=3 keep=
while [ $# -gt 0 ]; do
  case $1 in
  --install) install=yes ;;
  --json) json=-json ;;
  --tried) tried=-tried ;;
  --quick) sizes=32,64 cubes=32 device=100x60x25 session=20000 draws=4 runs=1 ;;
  --help | -h) usage; exit 0 ;;
  --sizes | --cubes | --device | --session | --draws | --runs | --keep)
    [ $# -ge 2 ] || { echo "$1 needs a value" >&2; exit 2; }
    case $1 in
    --sizes) sizes=$2 ;; --cubes) cubes=$2 ;; --device) device=$2 ;; --session) session=$2 ;;
    --draws) draws=$2 ;; --runs) runs=$2 ;; --keep) keep=$2 ;;
    esac
    shift ;;
  *) echo "unknown option $1" >&2; usage >&2; exit 2 ;;
  esac
  shift
done

# what is needed, and the Debian package that brings it
missing= words=
lack() { missing="$missing $1"; words="$words  $2 (Debian: $1)
"; }
look() {
  missing= words=
  command -v make >/dev/null 2>&1 || lack make "the program make"
  command -v cc >/dev/null 2>&1 || lack gcc "a C compiler"
  if command -v mpicc >/dev/null 2>&1 && command -v mpirun >/dev/null 2>&1; then :; else
    lack "openmpi-bin libopenmpi-dev" "an MPI with its compiler and starter"
  fi
  [ -e /usr/include/hypre/HYPRE_struct_ls.h ] || lack libhypre-dev "the multigrid library that finwright's solver is measured against"
  [ -e /usr/include/cvode/cvode.h ] || lack libsundials-dev "the stiff integrator that finwright's stepper is measured against"
}
if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing. Install Go 1.26 or later from your system's packages or from the Go project, then run this again." >&2
  exit 1
fi
look
if [ -n "$missing" ] && [ $install = yes ]; then
  # shellcheck disable=SC2086 # several packages
  { apt-get update && DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $missing; } >&2
  look
fi
if [ -n "$missing" ]; then
  printf 'The bench needs, and does not find:\n%sInstall with: apt-get install%s\nor run this again as root with --install.\n' "$words" "$missing" >&2
  exit 1
fi

# two processes, one on each processor
mpi="mpirun -n 2"
if mpirun --version 2>&1 | grep -q 'Open MPI'; then
  mpi="mpirun --use-hwthread-cpus -n 2"
  [ "$(id -u)" -ne 0 ] || mpi="mpirun --allow-run-as-root --use-hwthread-cpus -n 2"
fi
[ "$(nproc)" -ge 2 ] || { echo "the bench needs two processors" >&2; exit 1; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT TERM
say() { printf '%s\n' "$1" >&2; }

say "building the peers"
make -s -C bench/peers OUT="$work" >&2
say "building finwright's side"
CGO_ENABLED=0 go build -o "$work/" ./bench/solver ./bench/transient ./bench/session ./bench/table

rows=$work/rows
say "memory bandwidth"
"$work/triad" 2 1024 >>"$rows"
say "one implicit step: layers $sizes, cubes $cubes, device $device"
"$work/solver" sweep -sizes "$sizes" -cubes "$cubes" -device "$device" -runs "$runs" -dir "$work" -peers "$work" -mpirun "$mpi" >>"$rows"
say "a transient"
"$work/transient" -runs "$runs" -peers "$work" >>"$rows"
say "whole sessions and the reduced model"
"$work/session" -cells "$session" -draws "$draws" -runs "$runs" >>"$rows"
[ -z "$keep" ] || cp "$rows" "$keep"
# shellcheck disable=SC2086 # absent options
"$work/table" $json $tried <"$rows"
