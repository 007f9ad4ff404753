#!/bin/sh
# Whether learning's intervals are right, on invented devices of the demo's kinds. What is done is in bench/README.md. Ends with 0 when all
# agrees, 1 when not or when something is missing.
set -eu
cd "$(dirname "$0")/.."

usage() {
  cat <<'TEXT'
scripts/calibrate.sh [options]
  --devices N   invented devices (200)
  --cells N     cells of each device, the same for what is observed and for learning (1500)
  --seed N      seed of devices, errors and learning (5)
  --at-a-time N devices at a time, each on one processor; what comes out does not depend on it (2)
  --json        print JSON instead of text
Ctrl-C ends it early and judges the devices there are.
TEXT
}

options=
while [ $# -gt 0 ]; do
  case $1 in
  --devices | --cells | --seed | --at-a-time)
    [ $# -gt 1 ] || { echo "$1 wants a number" >&2; exit 2; }
    options="$options -${1#--} $2"
    shift
    ;;
  --json) options="$options -json" ;;
  --help | -h) usage; exit 0 ;;
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
CGO_ENABLED=0 go build -o "$work/calibrate" ./bench/calibrate
# shellcheck disable=SC2086 # options are words
"$work/calibrate" $options
