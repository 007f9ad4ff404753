#!/bin/sh
# The advice on what to measure next, tried on synthetic devices of the demos' kinds: how often the first advice shrinks the interval of
# the decision more than the median alternative. What is done is in bench/README.md. Ends with 0 when it does in 8 of 10, 1 when not.
set -eu
cd "$(dirname "$0")/.."
case ${1-} in
--help | -h)
  echo "scripts/advice.sh [-devices 10] [-cells 4000] [-draws 1000] [-seed N]"
  echo "It takes about half a minute of two processors for each device."
  exit 0 ;;
esac
if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing. Install Go 1.26 or later from your system's packages or from the Go project, then run this again." >&2
  exit 1
fi
CGO_ENABLED=0 exec go run ./bench/advice "$@"
