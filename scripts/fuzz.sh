#!/usr/bin/env bash
# Runs every fuzz target of the project one after another: scripts/fuzz.sh [TIME_EACH] (10m by default; about two hours in all).
# A target that finds something leaves the input under its package's testdata/fuzz; the rest still run, the exit code tells.
set -uo pipefail
cd "$(dirname "$0")/.."
each=${1:-10m}
failed=0
while IFS=: read -r file target; do
  package=./$(dirname "$file")
  echo "== $package $target, $each"
  go test "$package" -run '^$' -fuzz "^$target\$" -fuzztime "$each" -parallel "${FUZZ_PARALLEL:-1}" | tail -2 || failed=1
done < <(grep -rho --with-filename --include=*_test.go '^func Fuzz[A-Za-z0-9_]*' internal cmd | sed 's/func //')
exit $failed
