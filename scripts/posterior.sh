#!/bin/sh
# The posterior sampler beside closed answers and a general-purpose ensemble sampler, within Monte Carlo error. What is compared is in
# bench/README.md. Ends with 0 when all agrees, 1 when not or when something is missing.
set -eu
cd "$(dirname "$0")/.."

usage() {
  cat <<'TEXT'
scripts/posterior.sh [options]
  --install         install what is missing with apt-get (needs root)
  --json            print JSON instead of text
It takes about ten minutes.
TEXT
}

install=no json=
while [ $# -gt 0 ]; do
  case $1 in
  --install) install=yes ;;
  --json) json=--json ;;
  --help | -h) usage; exit 0 ;;
  *) echo "unknown option $1" >&2; usage >&2; exit 2 ;;
  esac
  shift
done

if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing. Install Go 1.26 or later from your system's packages or from the Go project, then run this again." >&2
  exit 1
fi

# a Python that has both; the system's own comes second, as another may stand before it
python=
look() {
  for python in python3 /usr/bin/python3; do
    ! "$python" -c 'import emcee, numpy' >/dev/null 2>&1 || return 0
  done
  python=
}
look
if [ -z "$python" ] && [ $install = yes ]; then
  { apt-get update && DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends python3-emcee python3-numpy; } >&2
  look
fi
if [ -z "$python" ]; then
  cat >&2 <<'TEXT'
This needs, and does not find:
  a Python with the ensemble sampler that finwright's is measured against (Debian: python3-emcee python3-numpy)
Install with: apt-get install python3-emcee python3-numpy
or run this again as root with --install.
TEXT
  exit 1
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT TERM
say() { printf '%s\n' "$1" >&2; }

say "building and running finwright's side"
CGO_ENABLED=0 go build -o "$work/posterior" ./bench/posterior
"$work/posterior" -dir "$work" >"$work/problems.json"
say "running the peer and comparing"
# shellcheck disable=SC2086 # absent option
"$python" bench/posterior/compare.py $json "$work"
