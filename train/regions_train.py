"""Trains the network that tells leaf from everything else, on samples that train/drawscenes writes while this runs.

    python3 regions_train.py --data DIR --held DIR --out DIR --seconds 500 [--weights lite0.pth] [--start model.pt] [--gpu 0]

Everything is drawn with fixed seeds; how many samples are ready at which step depends on the machine's speed, so two
runs agree in what they learn, not in the last digit.
"""
import argparse
import copy
import glob
import json
import os
import threading
import time

import numpy as np
import torch
from torch import nn
from torch.nn import functional as F

import net as nets

PLANES, CLASSES, PER_FILE = 16, 5, 8
WIDE = (288, 384)
NAMES = ["rest", "leaf", "other part", "other plant", "pot"]
SHAPE = dict(planes=PLANES, classes=CLASSES, blocks=[1, 2, 2, 3, 3, 2], decoder=(64, 48, 32, 24, 16, 12), thin=6)


def shape_of(name):
    return WIDE if name.endswith("_w.bin") else WIDE[::-1]


def read(name):
    h, w = shape_of(name)
    a = np.fromfile(name, np.uint8).reshape(PER_FILE, -1)
    n = PLANES * h * w
    return a[:, :n].reshape(PER_FILE, PLANES, h, w), a[:, n:].reshape(PER_FILE, 2 * h, 2 * w)


class Pool:
    """All samples there are, in the accelerator's memory, wide and upright apart."""

    def __init__(self, device):
        self.device, self.seen, self.lock = device, set(), threading.Lock()
        self.files = {WIDE: [], WIDE[::-1]: []}

    def look(self, folder, limit=10 ** 9):
        for f in sorted(glob.glob(os.path.join(folder, "*.bin"))):
            if f in self.seen or len(self.seen) >= limit:
                continue
            x, y = read(f)
            x, y = torch.from_numpy(x.copy()).to(self.device), torch.from_numpy(y.copy()).to(self.device)
            with self.lock:
                self.seen.add(f)
                self.files[shape_of(f)].append((x, y))


    def count(self):
        return PER_FILE * len(self.seen)

    def batch(self, n, rng):
        with self.lock:
            wide, up = self.files[WIDE], self.files[WIDE[::-1]]
            group = up if up and rng.random() < len(up) / (len(wide) + len(up)) else wide
            picks = [(int(rng.integers(len(group))), int(rng.integers(PER_FILE))) for _ in range(n)]
            return (torch.stack([group[f][0][i] for f, i in picks]), torch.stack([group[f][1][i] for f, i in picks]))


def inputs(x):
    """Planes as the program gives them to the network: colours about 0, the rest 0..1."""
    x = x.float()
    return torch.cat([(x[:, :12] - 127) / 128, x[:, 12:] / 255], 1)


def mirrored(x, y):
    order = [3, 4, 5, 0, 1, 2, 9, 10, 11, 6, 7, 8, 12, 13, 14, 15]
    return x[:, order].flip(3), y.flip(2)


def jitter(x):
    """What calibration leaves: a little colour, contrast and noise, more of it where there is no card."""
    n = len(x)
    bare = (x[:, 12].amax((1, 2)) == 0).float()[:, None, None, None]
    amount = 0.04 + 0.12 * bare
    c = x[:, :12].view(n, 4, 3, *x.shape[2:])
    tone = 1 + amount[..., None] * torch.randn(n, 1, 1, 1, 1, device=x.device)
    cast = 1 + 0.6 * amount[..., None] * torch.randn(n, 1, 3, 1, 1, device=x.device)
    v = (c + 127 / 128) / 2
    v = v.clamp_min(1e-4) ** (1 + 1.5 * amount[..., None] * torch.randn(n, 1, 1, 1, 1, device=x.device))
    v = v * tone * cast
    v = v + 0.015 * torch.rand(n, 1, 1, 1, 1, device=x.device) * torch.randn_like(v)
    c = v.clamp(0, 1) * 2 - 127 / 128
    return torch.cat([c.view(n, 12, *x.shape[2:]), x[:, 12:]], 1)


def fine_logits(out):
    """Logits at the fine picture's size: the head's corrections of leaf go to the four pixels of each place."""
    c = out[:, :CLASSES]
    fine = F.interpolate(c, scale_factor=2, mode="nearest")
    delta = F.pixel_shuffle(out[:, CLASSES:], 2)
    return torch.cat([fine[:, :1], fine[:, 1:2] + delta, fine[:, 2:]], 1)


def loss_of(out, y):
    z = fine_logits(out.float())
    ok = y != 255
    t = torch.where(ok, y, 0).long()
    weight = torch.tensor([1.0, 1.6, 2.0, 1.6, 1.0], device=z.device)
    ce = F.cross_entropy(z, t, reduction="none") * weight[t] * ok
    p = z.softmax(1)[:, 1] * ok
    q = ((t == 1) & ok).float()
    # By photo: share of leaf found and right, and the leaf's area.
    inter, area = (p * q).sum((1, 2)), q.sum((1, 2))
    dice = 1 - (2 * inter + 200) / (p.sum((1, 2)) + area + 200)
    return ce.sum() / ok.sum().clamp_min(1) + 0.3 * dice.mean()


@torch.no_grad()
def judge(model, pool, temperature=1.0):
    """IoU by class, errors of the leaf's area, and how often a probability of leaf is right."""
    model.eval()
    conf = torch.zeros(CLASSES, CLASSES, device=pool.device)
    errors, hits, total, sums = [], torch.zeros(10), torch.zeros(10), torch.zeros(10)
    logits = []
    for group in pool.files.values():
        for x, y in group:
            for i in range(0, len(x), 32):
                z = fine_logits(model(inputs(x[i:i + 32]).to(memory_format=torch.channels_last)).float())
                t = y[i:i + 32].long()
                ok = t != 255
                k = z.argmax(1)
                conf += torch.bincount((t * CLASSES + k)[ok], minlength=CLASSES ** 2).view(CLASSES, CLASSES)
                p = (z / temperature).softmax(1)[:, 1]
                a = ((t == 1) & ok).sum((1, 2)).float()
                e = (((k == 1) & ok).sum((1, 2)).float() - a) / a.clamp_min(1)
                errors += e[a > 1500].tolist()
                b = (p * 10).long().clamp(0, 9)
                for j in range(10):
                    m = (b == j) & ok
                    total[j] += m.sum().cpu()
                    hits[j] += (m & (t == 1)).sum().cpu()
                    sums[j] += p[m].sum().cpu()
                if len(logits) < 12:
                    s = torch.randint(z.shape[2] * z.shape[3] * len(z), (20000,), device=z.device)
                    zz = z.permute(0, 2, 3, 1).reshape(-1, CLASSES)[s]
                    tt = t.reshape(-1)[s]
                    logits.append((zz[tt != 255], tt[tt != 255]))
    iou = (conf.diag() / (conf.sum(0) + conf.sum(1) - conf.diag()).clamp_min(1)).tolist()
    e = np.array(errors)
    z, t = torch.cat([a for a, _ in logits]), torch.cat([b for _, b in logits])
    best = min(np.arange(0.6, 3.01, 0.05), key=lambda s: F.cross_entropy(z / s, t).item())
    model.train()
    return dict(iou=dict(zip(NAMES, [round(v, 4) for v in iou])), area_bias=float(np.median(e)), area_error_median=float(np.median(abs(e))),
                area_error_p90=float(np.quantile(abs(e), 0.9)), temperature=float(best),
                reliability=[dict(p=round(float(s / n), 3), right=round(float(h / n), 3), pixels=int(n)) for s, h, n in zip(sums, hits, total) if n > 0])


@torch.no_grad()
def follow(slow, model, keep):
    """The running mean of the weights, which is what is kept."""
    a = [p for p in slow.state_dict().values() if p.is_floating_point()]
    b = [p for p in model.state_dict().values() if p.is_floating_point()]
    torch._foreach_lerp_(a, b, 1 - keep)


def main():
    ap = argparse.ArgumentParser()
    for name in ("data", "held", "out"):
        ap.add_argument("--" + name, required=True)
    ap.add_argument("--seconds", type=float, default=500)
    ap.add_argument("--weights", default="")
    ap.add_argument("--start", default="")
    ap.add_argument("--gpu", type=int, default=0)
    ap.add_argument("--batch", type=int, default=48)
    ap.add_argument("--rate", type=float, default=2.5e-3)
    ap.add_argument("--least", type=int, default=800)
    a = ap.parse_args()
    begin = time.time()
    device = torch.device(f"cuda:{a.gpu}" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(7)
    torch.backends.cudnn.benchmark = True
    rng = np.random.default_rng(7)
    model = nets.Net(**SHAPE)
    if a.start:
        nets.start_from(model, torch.load(a.start, map_location="cpu"))
    elif a.weights:
        nets.load_lite0(model, a.weights)
    model = model.to(device).to(memory_format=torch.channels_last).train()
    slow = copy.deepcopy(model)
    opt = torch.optim.AdamW(model.parameters(), lr=a.rate, weight_decay=0.02)
    pool, held = Pool(device), Pool(device)
    stop = threading.Event()

    def watch():
        while not stop.is_set():
            pool.look(a.data)
            time.sleep(0.5)
    threading.Thread(target=watch, daemon=True).start()
    while pool.count() < a.least:
        time.sleep(0.5)
    t0, step, shown = time.time(), 0, 0
    log = []
    left = a.seconds - (t0 - begin) - 25
    while True:
        done = (time.time() - t0) / left
        if done >= 1:
            break
        rate = a.rate * min(1, step / 150) * (0.5 + 0.5 * np.cos(np.pi * min(1, done)) * 1.0)
        for g in opt.param_groups:
            g["lr"] = rate
        x, y = pool.batch(a.batch, rng)
        if rng.random() < 0.5:
            x, y = mirrored(x, y)
        x = jitter(inputs(x)).to(memory_format=torch.channels_last)
        with torch.autocast(device.type, torch.bfloat16):
            out = model(x)
        loss = loss_of(out, y)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        opt.step()
        follow(slow, model, min(0.998, (1 + step) / (20 + step)))
        step += 1
        if time.time() - t0 > shown:
            shown += 20
            line = dict(seconds=round(time.time() - begin), step=step, samples=pool.count(), loss=round(loss.item(), 4), rate=rate)
            log.append(line)
            print(json.dumps(line), flush=True)
    stop.set()
    held.look(a.held, limit=1000)
    best = slow
    result = judge(best, held) if held.count() else {}
    print(json.dumps(result, indent=1), flush=True)
    os.makedirs(a.out, exist_ok=True)
    torch.save(best.state_dict(), os.path.join(a.out, "regions.pt"))
    best = best.float().cpu().to(memory_format=torch.contiguous_format)
    nets.write_onnx(best, *WIDE, os.path.join(a.out, "regions.onnx"))
    json.dump(dict(args=vars(a), log=log, result=result, shape=SHAPE, steps=step, samples=pool.count()), open(os.path.join(a.out, "regions.json"), "w"), indent=1)


if __name__ == "__main__":
    main()
