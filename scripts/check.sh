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
# Functions that take six parameters and more (revive.toml says why not).
revive=github.com/mgechev/revive@v1.15.0
# Functions that the program cannot reach. What it finds beyond scripts/deadcode.kept is an error.
deadcode=golang.org/x/tools/cmd/deadcode@v0.52.0
# A function with more ways through it than this is cut before it grows on; most have under ten.
gocyclo=github.com/fzipp/gocyclo/cmd/gocyclo@v0.6.0
mostWays=15

format() { local f; f=$(gofmt -l cmd internal scripts); [ -z "$f" ] || { echo "run gofmt -w on: $f"; return 1; }; }

tidy() { $go mod tidy -diff; }

vet() { $go vet ./... && $go run ./scripts/crosscheck -goos windows -vet; }

lint() {
  $go run $staticcheck ./...
  $go run $unconvert ./...
  $go run $revive -config revive.toml ./...
  $go run $gocyclo -over $mostWays -ignore '_test\.go$' cmd internal
}

# Numbers that decide something and have neither a name nor a word beside them: there are none, and there shall be none.
literals() { $go run ./scripts/literals; }

# Names are relative to the module, without line numbers, so that the list does not change with every edit.
dead() {
  local found
  found=$($go run $deadcode ./cmd/phototrack | sed -E 's/^([^:]+):[0-9]+:[0-9]+: unreachable func: /\1 /' | sort)
  diff <(sort scripts/deadcode.kept | grep -v '^#') <(echo "$found") | sed -n 's/^> /unreachable, and not in scripts\/deadcode.kept: /p; s/^< /in scripts\/deadcode.kept, and gone: /p' | { ! grep .; }
}

# Data races: every package but those in which nothing runs beside anything else. A photo is measured by one goroutine of a process of its
# own, and a scene is drawn by one: calib, measure/... and scenemaker are pure functions, whose tests would take minutes under the detector
# (it makes them eight times slower and more) and could find nothing; only the wall's network is shared, which a test of root is about.
# browsertest and layers are tests of pages and of the go command, and those of cmd/phototrack start the built program.
# Of the packages where photos, pages, pictures or workers are under way at once, and whose tests take minutes, the tests in which they
# are; of all others every test but the simulations, which draw thousands of cases through code that the others run too.
alone='internal/(calib|measure/leaf|measure/part|measure/register|scenemaker|browsertest|layers)$'
someTests=(
  "internal/publish ReportOfASmall"
  "internal/plate Copied|ReadByAnother|HoldsTheProfile|WordsOf|LongNotes|Pattern|OddPictures|CropsOfAPart"
  "internal/pipeline WorkersThat|StoppedPool|TestNoOrphans|Stroke|Dashes|CorrectColours"
  "internal/report FirstMonth|SameFault|Escaped|EXIF|Shrink|AsKept"
  "internal/desk AsKept|EditForms|PartsAndCounts|HandEdits|Hostile|KeyIs|UploadsAre|ReadAhead"
  "internal/measure/root TwoWalls"
  "internal/scenebank Row|Places"
)
simulations='SeldomCalledChanged|SlopeCoverage|FalseDiscoveries|EffectCoverage|PowerAt|IntervalsHold|AgainstMonteCarlo|EachReading|TwentyThousand'
# raceOf PACKAGE TESTS: a name that is no test's any more is an error, too.
raceOf() {
  local said rc=0
  said=$($go test -race -run "$2" "./$1" 2>&1) || rc=1
  [[ $said != *"no tests to run"* ]] || rc=1
  echo "$said"
  return $rc
}
race() {
  local some; some=$(printf '%s|' "${someTests[@]%% *}")
  $go test -race -skip "$simulations" $($go list ./internal/... | grep -vE "$alone" | grep -vE "/(${some%|})$")
  export -f raceOf; export go
  printf '%s\n' "${someTests[@]}" | xargs -P 2 -L 1 bash -c 'raceOf "$@"' race
}

fuzz() { bash scripts/fuzz.sh 10s; }

# Our C and C++, and what we ask of OpenCV's filters, once under the address and undefined-behaviour sanitizers. The first time the
# binding of OpenCV is compiled with them, which takes a minute or two.
sanitize() {
  local flags="-O1 -g -fsanitize=undefined -fno-sanitize-recover=undefined"
  export CGO_CFLAGS=$flags CGO_CXXFLAGS=$flags CGO_LDFLAGS="-fsanitize=undefined"
  $go test -asan ./internal/codec ./internal/cv ./internal/icc ./internal/pixels ./internal/regions ./internal/segnet ./internal/shrink
  $go test -asan -run Sampled ./internal/measure/root
  $go test -asan -run 'Sides|Masks|Tones|Light' ./internal/measure/leaf
}

for step in ${*:-format tidy vet lint literals dead race fuzz sanitize}; do
  began=$SECONDS
  echo "== $step"
  ( set -euo pipefail; $step )
  echo "== $step: $((SECONDS - began)) s"
done
