#!/usr/bin/env bash
# Prints the version of this checkout, in a form that Debian's tools sort rightly:
#   0.1                            at the tag v0.1
#   0.1+12.g1a2b3c4                12 commits after it
#   0.1~20261125.0314.g1a2b3c4     before there is such a tag, by the commit's time
# The number itself stands in cmd/phototrack/root.go. Changes that are not committed add ".changed".
set -euo pipefail
cd "$(dirname "$0")/.."
number=$(sed -n 's/^var version = "\([0-9.]*\)"$/\1/p' cmd/phototrack/root.go)
[ -n "$number" ] || { echo "version: none found in cmd/phototrack/root.go" >&2; exit 1; }
if ! git rev-parse -q --verify HEAD >/dev/null 2>&1; then
	echo "$number" # a source archive
	exit
fi
if tagged=$(git describe --tags --match "v$number" --abbrev=7 2>/dev/null); then
	version=$(echo "${tagged#v}" | sed 's/-\([0-9]*\)-g/+\1.g/')
else
	version=$number~$(TZ=UTC0 git log -1 --date=format-local:%Y%m%d.%H%M --format=%cd).g$(git rev-parse --short=7 HEAD)
fi
[ -z "$(git status --porcelain --untracked-files=no)" ] || version=$version.changed
echo "$version"
