#!/usr/bin/env bash
# usage: walls_run.sh GPU CORES SECONDS OUTDIR   Draws walls and trains on them, from nothing, with fixed seeds.
# Beside it lie net.py, walls_data.py, walls_train.py; the program that draws is built where it is missing.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
gpu=$1 cores=$2 seconds=$3 out=$4
mkdir -p "$out"
work=$(mktemp -d)
trap 'kill $draw 2>/dev/null || true; rm -rf "$work"' EXIT
gen=$here/wallgen
if [ ! -f "$gen" ]; then
  gen=$work/wallgen
  (cd "$here/.." && CGO_ENABLED=0 go build -trimpath -o "$gen" ./train/wallgen)
fi
export CUDA_VISIBLE_DEVICES=$gpu OMP_NUM_THREADS=4
seed=${WALLS_SEED:-1} size=${WALLS_SIZE:-384} val=${WALLS_VAL:-256}
python=${PYTHON:-python3}
( "$gen" -n "$val" -seed 9000000000 -side "$size" -shard 16 -cores "$cores" -out "$work/val"
  exec "$gen" -n 1000000 -seed "$((seed * 10000000))" -side "$size" -shard 16 -cores "$cores" -seconds "$((seconds * 85 / 100))" -out "$work/train" ) > "$out/wallgen.log" &
draw=$!
init=()
[ -e "$here/init.pt" ] && init=(--init "$here/init.pt")
"$python" "$here/walls_train.py" --data "$work/train" --val "$work/val" --val-count "$val" --size "$size" --seconds "$seconds" --seed "$seed" --out "$out" "${init[@]}" ${WALLS_ARGS:-}
