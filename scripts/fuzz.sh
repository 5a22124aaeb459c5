#!/usr/bin/env bash
# Runs every fuzz target of the project: scripts/fuzz.sh [TIME_EACH] (10m by default). Two are under way at a time (FUZZ_JOBS), each on
# FUZZ_PARALLEL processors (one). What is new is made smaller in a hundred tries: the minute that is usual went by with nothing else where a
# try takes a millisecond. A target that finds something leaves the input under its package's testdata/fuzz; the rest still run,
# the exit code tells. A sieve that matched no target would be green without a word, so the targets are counted.
set -uo pipefail
cd "$(dirname "$0")/.."
export each=${1:-10m} FUZZ_PARALLEL=${FUZZ_PARALLEL:-1}
least=14 # as many targets as there were when this was written

# fuzz PACKAGE TARGET prints its last lines in one piece. Go's fuzzer at times takes the end of its own time for a failure ("context deadline exceeded",
# with no input written): such a target runs once more. What it finds is written down and fails here at once.
fuzz() {
  local said rc
  for _ in 1 2; do
    rc=0
    said=$(go test "$1" -run '^$' -fuzz "^$2\$" -fuzztime "$each" -fuzzminimizetime 100x -parallel "$FUZZ_PARALLEL" 2>&1) || rc=1
    if [ $rc = 0 ] || ! grep -q 'context deadline exceeded' <<<"$said" || grep -q 'Failing input written' <<<"$said"; then break; fi
  done
  printf '== %s %s, %s\n%s\n' "$1" "$2" "$each" "$(tail -$((rc ? 40 : 2)) <<<"$said")"
  return $rc
}
export -f fuzz

targets=$(grep -rho --with-filename --include=*_test.go '^func Fuzz[A-Za-z0-9_]*' internal cmd | sed -E 's|^(.*)/[^/]*:func |./\1 |')
[ "$(wc -l <<<"$targets")" -ge $least ] || { echo "fewer than $least fuzz targets were found"; exit 1; }
xargs -P "${FUZZ_JOBS:-2}" -L 1 bash -c 'fuzz "$@"' fuzz <<<"$targets"
