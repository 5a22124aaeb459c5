#!/usr/bin/env bash
# Measures the scenes with known truth (../shared beside the checkout) and scores the numbers.
set -euo pipefail
cd "$(dirname "$0")/.."
scenes=../shared/scenes
[ -d "$scenes" ] || { echo "no scenes beside the checkout ($scenes)"; exit 1; }
for set in ${SETS:-single series hard wild-leaves wild-roots}; do
  dir=$(mktemp -d)
  ${PHOTOTRACK:-bin/phototrack} init "$dir/c" > /dev/null
  mkdir "$dir/photos"
  cp "$scenes/$set"/*.jpg "$dir/photos/"
  printf 'from_date,across_mm,down_mm,colour_from,note\n2020-01-01,100.0,90.0,nominal,exact\n' > "$dir/c/cards.csv"
  if [ -e "$scenes/$set/plants.csv" ]; then
    cp "$scenes/$set"/{plants,events}.csv "$dir/c/"
  else
    python3 scripts/scene_plants.py "$scenes/$set/truth.json" > "$dir/c/plants.csv"
  fi
  ${PHOTOTRACK:-bin/phototrack} run "$dir/photos" --no-report --collection "$dir/c" > "$dir/log" || true
  ${PHOTOTRACK:-bin/phototrack} export --out "$dir/out" --collection "$dir/c" > /dev/null
  echo "== $set"
  python3 ../shared/peer/score.py --truth "$scenes/$set/truth.json" --results "$dir/out/measurements.csv" "$@" || true
  rm -rf "$dir"
done
