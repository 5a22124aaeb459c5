#!/usr/bin/env bash
# Puts the program beside decoding alone and the Python baseline, on one processor and on the same photos of 12 and 48
# megapixels, and prints ratios; then a worker's memory, two workers against one, and time over many photos.
#   scripts/bench_side_by_side.sh [RUNS] [PHOTOS]     medians of RUNS (7), a folder of PHOTOS (300)
set -euo pipefail
cd "$(dirname "$0")/.."
runs=${1:-7}
photos=${2:-300}
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
go build -o "$dir/sidebyside" ./scripts/sidebyside
go build -o "$dir/phototrack" ./cmd/phototrack
side=$dir/sidebyside
one=(taskset -c 0)
command -v taskset >/dev/null || one=()

"$side" make "$dir"
echo "Processor time, medians of $runs runs, one processor (decode: OpenCV's imdecode, one thread)"
for f in leaf_12MP root_12MP leaf_48MP root_48MP; do
  "${one[@]}" "$side" time "$runs" "$dir/$f.jpg"
done | tee "$dir/own.txt"
if command -v heif-enc >/dev/null; then
  echo "The leaf photo as a phone's HEIC: what follows reading should cost what it costs for the JPEG"
  heif-enc -q 60 "$dir/leaf_12MP.jpg" -o "$dir/leaf_12MP.heic" >/dev/null
  "${one[@]}" "$side" time "$runs" "$dir/leaf_12MP.heic"
fi

if command -v tjbench >/dev/null; then
  echo "libjpeg-turbo's own decoding (tjbench, in memory)"
  for f in leaf_12MP root_12MP; do
    mps=$("${one[@]}" tjbench "$dir/$f.jpg" -benchtime 2 -warmup 0.5 2>/dev/null | grep -o '[0-9.]* *Megapixels/sec' | head -1 | cut -d' ' -f1)
    own=$(awk -v f="$f.jpg" '$2==f {print $7}' "$dir/own.txt")
    awk -v f=$f -v m="$mps" -v o="$own" 'BEGIN {t=1000*12/m; printf "tjbench %s %.1f ms; phototrack takes %.1f times that\n", f, t, o/t}'
  done
fi

baseline=../shared/peer/bench.py
python=/usr/bin/python3
if [ -e "$baseline" ] && "$python" -c 'import cv2, skimage' 2>/dev/null; then
  echo "Python baseline (imports aside)"
  for f in leaf_12MP root_12MP; do
    pot=()
    [ $f = root_12MP ] && pot=(--pot "$(awk -F, '$1=="31" {print $4","$5","$6}' samples/plants.csv)")
    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 "${one[@]}" "$python" "$baseline" "$dir/$f.jpg" --runs "$runs" "${pot[@]}" > "$dir/peer.txt"
    peer=$(grep -o 'CPU [0-9.]*' "$dir/peer.txt" | cut -d' ' -f2)
    awk -v f="$f.jpg" -v p="$peer" '$2==f {printf "baseline %s %.0f ms, %.1f times decoding; phototrack %.0f ms is %.1f times faster\n", f, p, p/$5, $7, p/$7}' "$dir/own.txt"
  done
fi

echo "Memory"
for f in leaf_12MP root_12MP leaf_48MP root_48MP; do "$side" memory "$dir/phototrack" "$dir/$f.jpg"; done

echo "A folder of photos of 12 megapixels, one in five of roots"
mkdir "$dir/some" "$dir/many"
"$side" copies "$dir/some" 40
"$side" run "$dir/phototrack" "$dir/some" 1
"$side" run "$dir/phototrack" "$dir/some" 2
"$side" copies "$dir/many" "$photos"
"$side" run "$dir/phototrack" "$dir/many" "$(nproc)"

echo "Reports of many years: a large bench, and four times as many sessions"
"$side" years "$dir/phototrack" 70 36
"$side" years "$dir/phototrack" 280 36
