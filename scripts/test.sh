#!/bin/sh
# Formatting, vet, static checks, all tests, the published cases and the demo.
# Needs only Go; it fetches its libraries through the Go module proxy and says what is missing.
set -eu
cd "$(dirname "$0")/.."

if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing. Install Go 1.26 or later from your system's packages or from the Go project, then run this again." >&2
  exit 1
fi
want=$(sed -n 's/^go \([0-9]*\.[0-9]*\).*/\1/p' go.mod)
have=$(go env GOVERSION | sed 's/^go\([0-9]*\.[0-9]*\).*/\1/')
if [ "$(printf '%s\n%s\n' "$want" "$have" | sort -V | head -n 1)" != "$want" ]; then
  echo "Go $have is here, but go.mod asks for $want or later." >&2
  exit 1
fi

step() { printf '\n== %s\n' "$1"; }

step "formatting"
bad=$(gofmt -l cmd internal demo proofs bench)
if [ -n "$bad" ]; then
  echo "not formatted (run gofmt -w on them):" >&2
  echo "$bad" >&2
  exit 1
fi

step "libraries as go.mod and go.sum say"
go mod download
go mod verify

step "vet"
go vet ./...

step "static checks"
go tool staticcheck ./...

step "builds without cgo for Linux, macOS and Windows"
for os in linux darwin windows; do
  for arch in amd64 arm64; do
    CGO_ENABLED=0 GOOS=$os GOARCH=$arch go build -o /dev/null ./cmd/finwright
  done
done

step "tests"
go test ./...

step "published cases"
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT
CGO_ENABLED=0 go build -o "$bin/finwright" ./cmd/finwright
"$bin/finwright" prove

step "demo"
"$bin/finwright" demo --to "$bin/demo"
test -s "$bin/demo/direction-finder/report.html"

printf '\nall passed\n'
