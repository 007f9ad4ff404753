#!/bin/sh
# How far the forecast of a running bench test can be trusted: invented tests of the demo's devices, readings of the first 15 minutes, and
# how often the real end lies in the 90 % interval. What is compared is in bench/README.md.
set -eu
cd "$(dirname "$0")/.."

usage() {
  cat <<'TEXT'
scripts/forecast.sh [options]
  --json            print JSON instead of text
  --tests 100       tests of each kind                      (100)
  --after 15        minutes of readings                     (15)
  --only TEXT       kinds of test whose name has this in it (all)
  --quick           reduced runs as the truth, ten tests of each kind, to see that it works
  --tuning          the seed that the forecast was set up with
Nothing else should run on the machine meanwhile; each kind takes some ten minutes.
TEXT
}

json='' tests=100 after=15 only='' quick='' tuning=''
while [ $# -gt 0 ]; do
  case $1 in
  --json) json=-json ;;
  --quick) quick="-cells 0 -pairs 12" tests=10 ;;
  --tuning) tuning=-tuning ;;
  --help | -h) usage; exit 0 ;;
  --tests | --after | --only)
    [ $# -ge 2 ] || { echo "$1 needs a value" >&2; exit 2; }
    case $1 in --tests) tests=$2 ;; --after) after=$2 ;; --only) only=$2 ;; esac
    shift ;;
  *) echo "unknown option $1" >&2; usage >&2; exit 2 ;;
  esac
  shift
done
if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing. Install Go 1.26 or later from your system's packages or from the Go project, then run this again." >&2
  exit 1
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT TERM
CGO_ENABLED=0 go build -o "$work/forecast" ./bench/forecast
# shellcheck disable=SC2086 # absent options
"$work/forecast" $json $quick $tuning -n "$tests" -after "$after" -only "$only"
