#!/usr/bin/env bash
# usage: walls_run.sh OUTDIR SECONDS GPU PROCS   Draws walls with PROCS processors and trains on them meanwhile, from nothing or from
# weights walls.pt beside it, with fixed seeds. Called again it goes on: weights, optimiser and drawn walls are kept in WALLS_WORK. Beside it lie net.py,
# walls_data.py and walls_train.py; the program that draws is built where it is missing.
set -euo pipefail
begin=$SECONDS
here=$(cd "$(dirname "$0")" && pwd)
out=$1 seconds=$2 gpu=$3 procs=$4
work=${WALLS_WORK:-${TMPDIR:-/tmp}/walls-work}
mkdir -p "$out" "$work"
gen=$here/wallgen
if [ ! -x "$gen" ]; then
  gen=$work/wallgen
  (cd "$here/.." && CGO_ENABLED=0 go build -trimpath -o "$gen" ./train/wallgen)
fi
call=$(($(cat "$work/calls" 2>/dev/null || echo 0) + 1))
echo "$call" > "$work/calls"
size=${WALLS_SIZE:-384} val=${WALLS_VAL:-384}
python=${PYTHON:-python3}
export CUDA_VISIBLE_DEVICES=$gpu OMP_NUM_THREADS=3
(
  export GOMAXPROCS=$procs
  [ "$call" -gt 1 ] || "$gen" -n "$val" -seed 9000000000 -side "$size" -shard 8 -cores "$procs" -out "$work/val"
  exec "$gen" -n 1000000 -seed "$((call * 10000000))" -side "$size" -shard 16 -cores "$procs" -seconds "$((seconds * 88 / 100))" -out "$work/train$call"
) > "$out/wallgen$call.log" 2>&1 &
draw=$!
init=() # a machine that has nothing of the earlier call goes on from its weights, or from weights that lie beside this script
[ ! -e "$here/walls.pt" ] || init=(--init "$here/walls.pt")
[ ! -e "$out/walls.pt" ] || init=(--init "$out/walls.pt")
trap 'kill $draw 2>/dev/null || true' EXIT
"$python" "$here/walls_train.py" --data "$work/train*" --val "$work/val" --val-count "$val" --size "$size" --seconds "$((seconds - (SECONDS - begin) - 3))" \
  --seed "$call" --out "$out" --state "$work/state.pt" --keep "${init[@]}" ${WALLS_ARGS:-}
