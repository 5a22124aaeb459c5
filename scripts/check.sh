#!/usr/bin/env bash
# What keeps the house in order, for a contributor and for CI: scripts/check.sh [STEP...] (all where none is named). It stops at the
# first step that fails. Tools are pinned here and come from the Go module proxy; go.mod does not know them.
set -euo pipefail
cd "$(dirname "$0")/.."
go=${GO:-go}

# What a linter finds that the compiler does not: staticcheck's own choice of checks (staticcheck.conf says which not, and why).
staticcheck=honnef.co/go/tools/cmd/staticcheck@v0.8.2
# Conversions that convert nothing.
unconvert=github.com/mdempsky/unconvert@v0.0.0-20260816212528-33842c47157a
# Functions that the program cannot reach. What it finds beyond scripts/deadcode.kept is an error.
deadcode=golang.org/x/tools/cmd/deadcode@v0.52.0
# A function with more ways through it than this is cut before it grows on; most have under ten.
gocyclo=github.com/fzipp/gocyclo/cmd/gocyclo@v0.6.0
mostWays=30

format() { local f; f=$(gofmt -l cmd internal scripts); [ -z "$f" ] || { echo "run gofmt -w on: $f"; return 1; }; }

tidy() { $go mod tidy -diff; }

vet() { $go vet ./... && $go run ./scripts/crosscheck -goos windows; }

lint() {
  $go run $staticcheck ./...
  $go run $unconvert ./...
  $go run $gocyclo -over $mostWays -ignore 'internal/(measure/leaf|trainscene|wallmaker)/|_test\.go$' cmd internal
}

# Names are relative to the module, without line numbers, so that the list does not change with every edit.
dead() {
  local found
  found=$($go run $deadcode ./cmd/phototrack | sed -E 's/^([^:]+):[0-9]+:[0-9]+: unreachable func: /\1 /' | sort)
  diff <(sort scripts/deadcode.kept | grep -v '^#') <(echo "$found") | sed -n 's/^> /unreachable, and not in scripts\/deadcode.kept: /p; s/^< /in scripts\/deadcode.kept, and gone: /p' | { ! grep .; }
}

# Data races: the packages that start goroutines or are shared by them. Of those that measure or draw photos only the tests in which
# several photos, pages or workers are under way at once: all of them take an hour under the detector.
race() {
  $go test -race ./internal/change ./internal/collection ./internal/digest ./internal/fsx ./internal/gate ./internal/icc ./internal/series ./internal/words
  $go test -race -run 'WorkersThat|StoppedPool' ./internal/pipeline
  $go test -race -run 'FirstMonth|SameFault|Escaped|EXIF|Shrink' ./internal/report
  $go test -race -timeout 30m -run ExportsPlates ./internal/publish
}

fuzz() { bash scripts/fuzz.sh 10s; }

# Our C, and what we ask of OpenCV's filters, once under the address and undefined-behaviour sanitizers. The first time the binding of
# OpenCV is compiled with them, which takes minutes.
sanitize() {
  export CGO_CFLAGS="-O1 -g -fsanitize=undefined -fno-sanitize-recover=undefined" CGO_LDFLAGS="-fsanitize=undefined"
  $go test -asan ./internal/shrink ./internal/codec ./internal/pixels ./internal/segnet
  $go test -asan -run Sampled ./internal/measure/root
}

for step in ${*:-format tidy vet lint dead race fuzz sanitize}; do
  began=$SECONDS
  echo "== $step"
  ( set -euo pipefail; $step )
  echo "== $step: $((SECONDS - began)) s"
done
