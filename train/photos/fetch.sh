#!/usr/bin/env bash
# usage: fetch.sh FOLDER   Downloads the packages that recipes.json names, in exactly those versions, and unpacks each
# into FOLDER/unpacked/PACKAGE. Needs apt-get (a Debian 12 machine after `apt-get update`), dpkg, python3 with pip, unzip.
set -euo pipefail
[ $# -eq 1 ] || { echo "usage: fetch.sh FOLDER" >&2; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "$1/downloads" "$1/unpacked"
top=$(cd "$1" && pwd)

# One line a package: NAME VERSION. What is already unpacked is not fetched again.
python3 - "$here/recipes.json" <<'PY' > "$top/packages.txt"
import json, sys
entries = json.load(open(sys.argv[1], encoding="utf-8"))["entries"]
print("\n".join(sorted({f"{e['package']} {e['version']}" for e in entries})))
PY

while read -r name version; do
  [ -e "$top/unpacked/$name/.complete" ] && continue
  rm -rf "$top/unpacked/$name" "$top/downloads/$name"
  mkdir -p "$top/unpacked/$name" "$top/downloads/$name"
  cd "$top/downloads/$name"
  if [ "$name" = scipy ]; then
    # the wheel, whatever the machine's Python: only a picture is read from it
    python3 -m pip download -q --no-deps --only-binary :all: --python-version 3.11 \
      --platform manylinux2014_x86_64 -d . "scipy==$version"
    unzip -q scipy-*.whl 'scipy/misc/*' 'scipy-*/LICENSE*' -d "$top/unpacked/$name"
  else
    apt-get download -q "$name=$version"
    dpkg -x ./*.deb "$top/unpacked/$name"
  fi
  touch "$top/unpacked/$name/.complete"
  cd "$top"
  rm -rf "$top/downloads/$name"
  echo "$name $version"
done < "$top/packages.txt"
