"""Trains the network of the pot's wall on drawn walls.

    python walls_train.py --data DIR --val DIR --seconds S --out DIR [--state FILE]

DIR (or a pattern of folders) is filled by wallgen, before or meanwhile. With --state the training goes on where an earlier call left it. Writes walls.onnx, walls.pt, walls.json (figures on samples not trained on:
IoU by class, reliability, temperature), walls.log and walls.jpg (predictions).
"""
import argparse
import copy
import json
import math
import os
import sys
import time

import numpy as np
import torch
from torch.nn import functional as F

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from net import Net, write_onnx  # noqa: E402
import walls_data as data  # noqa: E402

# The network: 0.42 G multiply-adds for a wall of 384 by 384 px (96 by 96 mm); filters of 3 x 3 throughout, which OpenCV runs fastest.
SHAPE = dict(
    stages=[(16, 3, 1, 1, 1), (32, 3, 2, 4, 3), (64, 3, 2, 4, 4), (128, 3, 2, 4, 6)],
    stem=24, fine=False, thin=16, decoder=(128, 80, 48, 32, 24))


def line_loss(z, cls, line):
    """How well the middle lines are told within roots and just beside them; elsewhere nobody asks."""
    ok = (cls != data.NOTHING).float()
    root = ((cls >= 1) & (cls <= 3)).float().unsqueeze(1)
    near = torch.maximum(F.max_pool2d(root, 5, 1, 2).squeeze(1), line.float()) * ok
    bce = F.binary_cross_entropy_with_logits(z, line.float(), reduction="none")
    return (bce * near).sum() / near.sum().clamp(min=1)


def loss_of(logits, cls, weight):
    y = cls.long()
    ok = y != data.NOTHING
    y = torch.where(ok, y, torch.full_like(y, -100))
    ce = F.cross_entropy(logits, y, weight=weight, ignore_index=-100)
    # overlap of all root, so that few and thin roots count as much as many
    p = logits.softmax(1)
    root = (p[:, 1] + p[:, 2] + p[:, 3]) * ok
    true = ((y >= 1) & (y <= 3)).float()
    both = (root * true).sum((1, 2))
    dice = 1 - (2 * both + 200) / (root.sum((1, 2)) + true.sum((1, 2)) + 200)
    return ce + 0.3 * dice.mean()


class Tee:
    def __init__(self, path):
        self.f = open(path, "w")

    def __call__(self, *a):
        s = " ".join(str(v) for v in a)
        print(s, flush=True)
        self.f.write(s + "\n")
        self.f.flush()


@torch.no_grad()
def judge(net, store, dtype, device):
    """Logits of the whole validation set, on the processor, thinned to every third pixel each way for the tables."""
    net.eval()
    inter, union = torch.zeros(data.CLASSES), torch.zeros(data.CLASSES)
    root, lines = [0.0, 0.0], [0.0, 0.0]
    picked, truth = [], []
    for i in range(0, store.n, 32):
        rgb, cls, place = store.rgb[i:i + 32], store.cls[i:min(i + 32, store.n)], store.place[i:i + 32]
        rgb, place = rgb[:len(cls)], place[:len(cls)]
        cls, line = data.apart(cls)
        x = data.planes(rgb, place).to(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=dtype, enabled=device.type == "cuda"):
            z = net(x)
        z, zl = data.full(z.float())
        p = z.argmax(1)
        ok = cls != data.NOTHING
        inroot = (cls >= 1) & (cls <= 3) | line
        a, b = (zl > 0) & inroot, line & ok
        lines[0] += (a & b).sum().item()
        lines[1] += (a | b).sum().item()
        for c in range(data.CLASSES):
            a, b = (p == c) & ok, (cls == c) & ok
            inter[c] += (a & b).sum().cpu()
            union[c] += (a | b).sum().cpu()
        a, b = (p >= 1) & (p <= 3) & ok, (cls >= 1) & (cls <= 3) & ok
        root[0] += (a & b).sum().item()
        root[1] += (a | b).sum().item()
        picked.append(z[:, :, ::3, ::3].permute(0, 2, 3, 1).reshape(-1, data.CLASSES)[ok[:, ::3, ::3].reshape(-1)].cpu())
        truth.append(cls[:, ::3, ::3].reshape(-1)[ok[:, ::3, ::3].reshape(-1)].cpu().long())
    return (inter / union.clamp(min=1)).tolist(), root[0] / max(1, root[1]), lines[0] / max(1, lines[1]), torch.cat(picked), torch.cat(truth)


def calibrate(z, y):
    """Temperature, and an addition to each class, that make the probabilities of samples not trained on right: least negative
    log likelihood."""
    t = torch.zeros(1, device=z.device, requires_grad=True)
    b = torch.zeros(data.CLASSES, device=z.device, requires_grad=True)
    opt = torch.optim.Adam([t, b], lr=0.05)
    for _ in range(120):
        loss = F.cross_entropy(z * torch.exp(-t) + b, y)
        opt.zero_grad()
        loss.backward()
        opt.step()
    return float(torch.exp(t.detach())), b.detach().cpu(), float(loss.detach())


def reliability(z, y):
    """How often a pixel is root that is said to be so with a probability: ten steps."""
    p = z.softmax(1)
    said = p[:, 1] + p[:, 2] + p[:, 3]
    true = ((y >= 1) & (y <= 3)).float()
    rows = []
    for k in range(10):
        m = (said >= k / 10) & (said < (k + 1) / 10 + (k == 9))
        if m.sum() > 0:
            rows.append(dict(said=round(said[m].mean().item(), 4), true=round(true[m].mean().item(), 4), share=round(m.float().mean().item(), 5)))
    return rows


INKS = torch.tensor([[40, 40, 40], [240, 240, 240], [60, 220, 60], [200, 120, 40], [220, 60, 200], [60, 140, 255], [0, 0, 0], [255, 0, 0]], dtype=torch.uint8)


@torch.no_grad()
def sheet(net, store, dtype, device, path, n=24):
    from PIL import Image
    net.eval()
    rgb, cls, place = store.rgb[:n], store.cls[:n], store.place[:n]
    with torch.autocast(device.type, dtype=dtype, enabled=device.type == "cuda"):
        z, line = data.full(net(data.planes(rgb, place).to(memory_format=torch.channels_last)).float())
    cls = data.apart(cls)[0].cpu().long()
    p = z.argmax(1).cpu()
    p[((p >= 1) & (p <= 3)) & (line > 0).cpu()] = 7
    cls[cls == data.NOTHING] = 6
    p[cls == 6] = 6
    tiles = []
    for i in range(len(p)):
        tiles.append(torch.cat([rgb[i].cpu().permute(1, 2, 0), INKS[cls[i]], INKS[p[i]]], 1)[::2, ::2])
    while len(tiles) % 3:
        tiles.append(torch.zeros_like(tiles[0]))
    rows = [torch.cat(tiles[i:i + 3], 1) for i in range(0, len(tiles), 3)]
    Image.fromarray(torch.cat(rows, 0).numpy()).save(path, quality=88)


def main():
    p = argparse.ArgumentParser()
    p.add_argument("--data", required=True)
    p.add_argument("--val", required=True)
    p.add_argument("--out", required=True)
    p.add_argument("--seconds", type=float, default=400)
    p.add_argument("--size", type=int, default=384)
    p.add_argument("--capacity", type=int, default=96000)
    p.add_argument("--val-count", type=int, default=384)
    p.add_argument("--batch", type=int, default=64)
    p.add_argument("--rate", type=float, default=3e-3)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--init", default="", help="weights to start from")
    p.add_argument("--state", default="", help="file that keeps weights and optimiser for the next call")
    p.add_argument("--keep", action="store_true", help="leave the shards on the disk for the next call")
    p.add_argument("--least", type=int, default=256)
    a = p.parse_args()
    start = time.time()
    os.makedirs(a.out, exist_ok=True)
    say = Tee(os.path.join(a.out, "walls.log"))
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    dtype = torch.bfloat16
    torch.manual_seed(a.seed)
    gen = torch.Generator(device=device)
    gen.manual_seed(a.seed)
    torch.backends.cudnn.benchmark = True
    net = Net(data.PLANES, 4 * (data.CLASSES + 1), **SHAPE).to(device).to(memory_format=torch.channels_last)
    if a.init and os.path.exists(a.init):
        began = torch.load(a.init, map_location=device)
        for name in ("head.weight", "head.bias"):  # weights from before there were lines
            old, own = began[name], net.state_dict()[name].clone()
            own[:len(old)] = old
            began[name] = own
        net.load_state_dict(began)
        say("started from", os.path.basename(a.init))
    say("weights", sum(q.numel() for q in net.parameters()), "device", device)
    store = data.Store(a.data, a.size, a.capacity, device, a.keep)
    store.watch()
    val = data.Store(a.val, a.size, a.val_count, device, a.keep)
    while store.n < a.least:
        time.sleep(0.3)
        if time.time() - start > a.seconds:
            say("no samples came")
            sys.exit(1)
    decay = [q for q in net.parameters() if q.ndim > 1]
    plain = [q for q in net.parameters() if q.ndim <= 1]
    opt = torch.optim.AdamW([dict(params=decay, weight_decay=1e-2), dict(params=plain, weight_decay=0)], lr=a.rate, fused=device.type == "cuda")
    mean = copy.deepcopy(net)  # the running mean of the weights is what is kept
    step, peak = 0, a.rate
    if a.state and os.path.exists(a.state):
        kept = torch.load(a.state, map_location=device)
        net.load_state_dict(kept["net"])
        mean.load_state_dict(kept["mean"])
        opt.load_state_dict(kept["opt"])
        step, peak = kept["step"], a.rate * 0.5
        say("goes on from step", step)
    elif a.init and os.path.exists(a.init):
        peak = a.rate * 0.5
    slow = [q for q in mean.state_dict().values() if q.dtype.is_floating_point]
    fast = [q for q in net.state_dict().values() if q.dtype.is_floating_point]
    weight = torch.tensor([1, 1, 2.0, 1.2, 1, 1.5], device=device)
    first = time.time()
    end = start + a.seconds - min(0.35 * a.seconds, 25 + 0.03 * a.seconds)
    warm = min(15.0, 0.1 * (end - first))
    shown, saved, sum_loss, count, from_step = first, first, 0.0, 0, step

    def keep_state():
        torch.save(dict(net=net.state_dict(), mean=mean.state_dict(), opt=opt.state_dict(), step=step), a.state + ".part")
        os.replace(a.state + ".part", a.state)
        torch.save(mean.state_dict(), os.path.join(a.out, "walls.pt"))

    while True:
        now = time.time()
        if now >= end:
            break
        done = (now - first) / (end - first)
        rate = peak * min(1.0, (now - first) / warm + 0.02) * (0.5 + 0.5 * math.cos(math.pi * done))
        for g in opt.param_groups:
            g["lr"] = rate + 1e-6
        net.train()
        rgb, cls, place = store.batch(a.batch, gen)
        with torch.no_grad():
            rgb, seen, cls, line, place = data.moved(rgb, cls, place, gen)
            x = data.planes(rgb, place, gen, cls, seen).to(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=dtype, enabled=device.type == "cuda"):
            z = net(x)
        z, zl = data.full(z.float())
        loss = loss_of(z, cls, weight) + 0.3 * line_loss(zl, cls, line)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        opt.step()
        step += 1
        with torch.no_grad():
            k = min(0.999, (1 + step) / (10 + step))
            torch._foreach_lerp_(slow, fast, 1 - k)
        sum_loss = sum_loss + loss.detach()
        if a.state and now - saved > 200:  # a call that is cut off loses little
            keep_state()
            saved = now
        count += 1
        if now - shown > 20 or step == from_step + 20:
            say(f"{now - start:6.0f} s  step {step}  samples {store.n}  rate {rate:.5f}  loss {float(sum_loss) / count:.4f}")
            shown, sum_loss, count = now, 0.0, 0
    store.done = True
    if a.state:
        keep_state()
    val.take()
    iou, root, lines, z, y = judge(mean, val, dtype, device)
    half = torch.arange(len(y)) * 2 < len(y)  # calibrated on one half of the walls, shown on the other
    t, add, nll = calibrate(z[half].to(device), y[half].to(device))
    say(f"steps {step}, samples {store.n}, judged on {val.n}")
    say("IoU", {n: round(v, 4) for n, v in zip(data.NAMES, iou)}, "all root", round(root, 4), "lines", round(lines, 4), "temperature", round(t, 3), "additions", [round(float(v), 3) for v in add], "nll", round(nll, 4))
    rows = reliability(z[~half] / t + add, y[~half])
    for r in rows:
        say("said", r["said"], "true", r["true"], "share", r["share"])
    with torch.no_grad():
        mean = mean.float().cpu()
        weight0, bias0 = mean.head.weight.clone(), mean.head.bias.clone()
        n = 4 * data.CLASSES  # the line's logits stay as they are
        mean.head.weight[:n] /= t
        mean.head.bias[:n] = mean.head.bias[:n] / t + add.repeat_interleave(4)
    try:
        write_onnx(mean, 256, 256, os.path.join(a.out, "walls.onnx"))
    except ImportError:
        say("no ONNX file: the onnx package is missing; walls.pt and the temperature hold all that it needs")
    json.dump(dict(steps=step, samples=store.n, judged=val.n, iou=dict(zip(data.NAMES, iou)), root=root, lines=lines, temperature=t, additions=[float(v) for v in add], nll=nll,
                   reliability=rows, px_per_mm=data.PX_PER_MM, seconds=time.time() - start, shape=SHAPE, seed=a.seed), open(os.path.join(a.out, "walls.json"), "w"), indent=1)
    with torch.no_grad():
        mean.head.weight.copy_(weight0)
        mean.head.bias.copy_(bias0)
    torch.save(mean.state_dict(), os.path.join(a.out, "walls.pt"))
    try:
        sheet(mean.to(device), val, dtype, device, os.path.join(a.out, "walls.jpg"))
    except ImportError:
        say("no picture: Pillow is missing")
    say(f"{time.time() - start:.0f} s in all")


if __name__ == "__main__":
    main()
