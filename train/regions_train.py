"""Trains the network that tells leaf from everything else, on samples that train/drawscenes writes while this runs.

    python3 regions_train.py --data DIR --held DIR --out DIR --seconds 500 [--weights lite0.pth] [--go-on-from model.pt or .onnx.zst] [--gpu 0]

Started by torchrun it trains one network on all GPUs at once, each with samples of its own.

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

import augment
import net as nets

PLANES, CLASSES, PER_FILE = 16, 5, 8
WIDE = (288, 384)
NAMES = ["rest", "leaf", "other part", "other plant", "pot"]
FULL = dict(planes=PLANES, classes=CLASSES, blocks=[1, 2, 2, 3, 3, 2], decoder=(64, 48, 32, 24, 16, 12), thin=6)
# The third network: sees the fine picture itself, with an encoder twice as deep; for photos that the others are not sure of.
WHOLE = dict(planes=PLANES - 9, classes=CLASSES, stages=nets.LITE2, decoder=(128, 96, 64, 40, 24), thin=0, whole=True)
SLIM = dict(planes=PLANES, classes=CLASSES, stages=nets.SLIM, decoder=(64, 48, 32, 24, 16, 12), thin=6)


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

    def shape(self, rng):
        wide, up = self.files[WIDE], self.files[WIDE[::-1]]
        return WIDE[::-1] if up and rng.random() < len(up) / (len(wide) + len(up)) else WIDE

    def batch(self, shape, n, rng):
        with self.lock:
            group = self.files[shape]
            picks = [(int(rng.integers(len(group))), int(rng.integers(PER_FILE))) for _ in range(n)]
            return (torch.stack([group[f][0][i] for f, i in picks]), torch.stack([group[f][1][i] for f, i in picks]))


def inputs(x):
    """Planes as the program gives them to the network: colours about 0, the rest 0..1."""
    x = x.float()
    return torch.cat([(x[:, :12] - 127) / 128, x[:, 12:] / 255], 1)


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


def judge_photographs(model, photographs, device):
    """Leaf's IoU on photographs that were kept back, each seen whole."""
    model.eval()
    out = []
    for rgb, y in photographs:
        h, w = WIDE if y.shape[1] >= y.shape[0] else WIDE[::-1]
        pic = F.interpolate(rgb[None].float() / 255, (5 * h // 2, 5 * w // 2), mode="bilinear", antialias=True, align_corners=False)
        lab = F.interpolate(y[None, None].float(), (2 * h, 2 * w), mode="nearest")[0, 0]
        fine = F.interpolate(pic, (2 * h, 2 * w), mode="bilinear", antialias=True, align_corners=False)
        extra = torch.cat([torch.zeros(1, 2, h, w, device=device), augment.detail(pic[:, 1:2], h, w)], 1)
        with torch.no_grad():
            k = fine_logits(model(augment.inputs_of(fine, extra).to(memory_format=torch.channels_last)).float()).argmax(1)[0]
        ok = lab != 255
        t, k = (lab == 1) & ok, (k == 1) & ok
        if t.sum() > 2000:
            out.append(((t & k).sum() / (t | k).sum()).item())
    model.train()
    return out


class Team:
    """The processes that train one network together, one a GPU; or the one that trains alone."""

    def __init__(self):
        self.size, self.rank = int(os.environ.get("WORLD_SIZE", 1)), int(os.environ.get("LOCAL_RANK", 0))
        if self.size > 1:
            torch.cuda.set_device(self.rank)
            torch.distributed.init_process_group("nccl")

    def together(self, model, device):
        if self.size == 1:
            return model
        return nn.parallel.DistributedDataParallel(model, device_ids=[device.index], broadcast_buffers=False, gradient_as_bucket_view=True)

    def agree(self, value, device):
        """The first one's value, so that all stop at the same step."""
        if self.size == 1:
            return value
        t = torch.tensor([value], device=device)
        torch.distributed.broadcast(t, 0)
        return t.item()


def fastest(model, slow, pool, n):
    """Memory layout in which a step is faster on this accelerator."""
    best = None
    for layout in (torch.channels_last, torch.contiguous_format):
        m = copy.deepcopy(model).to(memory_format=layout)
        x = torch.randn(n, PLANES, *WIDE, device=pool.device).to(memory_format=layout)
        for i in range(9):
            if i == 4:
                torch.cuda.synchronize()
                t = time.time()
            with torch.autocast("cuda", torch.bfloat16):
                loss = m(x).float().mean()
            loss.backward()
        torch.cuda.synchronize()
        took = (time.time() - t) / 5
        print("step of", took, "s with", layout, flush=True)
        if best is None or took < best[0]:
            best = took, layout
    return model.to(memory_format=best[1]), slow.to(memory_format=best[1]), best[1]


def save(model, shape, out, result, log, args):
    os.makedirs(out, exist_ok=True)
    torch.save(model.state_dict(), os.path.join(out, "regions.pt"))
    kept = copy.deepcopy(model).float().cpu().to(memory_format=torch.contiguous_format)
    nets.write_onnx(kept, *WIDE, os.path.join(out, "regions.onnx"))
    plain = {k: v for k, v in shape.items() if k != "stages"}
    json.dump(dict(args=args, log=log, result=result, shape=plain), open(os.path.join(out, "regions.json"), "w"), indent=1)


def main():
    ap = argparse.ArgumentParser()
    for name in ("data", "held", "out"):
        ap.add_argument("--" + name, required=True)
    ap.add_argument("--photos", default="")
    ap.add_argument("--seconds", type=float, default=500)
    ap.add_argument("--weights", default="")
    ap.add_argument("--go-on-from", default="")
    ap.add_argument("--gpu", type=int, default=0)
    ap.add_argument("--batch", type=int, default=40, help="drawn scenes a step")
    ap.add_argument("--photographs", type=int, default=10, help="samples of photographs a step")
    ap.add_argument("--rate", type=float, default=2.5e-3)
    ap.add_argument("--most", type=int, default=40000, help="drawn scenes kept in the accelerator's memory")
    ap.add_argument("--least", type=int, default=800)
    ap.add_argument("--show", type=float, default=150, help="seconds between looks at the samples kept back")
    ap.add_argument("--strength", type=float, default=1, help="of what makes samples new; a third of it towards the end")
    ap.add_argument("--slim", action="store_true")
    ap.add_argument("--whole", action="store_true", help="train the third network")
    a = ap.parse_args()
    begin = time.time()
    team = Team()
    device = torch.device(f"cuda:{a.gpu + team.rank}" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(7)
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    rng = np.random.default_rng(7 + team.rank)
    shape = SLIM if a.slim else WHOLE if a.whole else FULL
    model = nets.Net(**shape)
    folded = a.go_on_from.endswith((".onnx", ".zst"))
    if folded:
        nets.load_onnx(model, a.go_on_from)
    elif a.go_on_from:
        nets.start_from(model, torch.load(a.go_on_from, map_location="cpu"))
    elif a.weights and not a.slim:
        nets.load_lite(model, a.weights)
    model = model.to(device).to(memory_format=torch.channels_last).train()
    slow = copy.deepcopy(model)
    opt = torch.optim.AdamW(model.parameters(), lr=a.rate, weight_decay=0.02)
    pool, held = Pool(device), Pool(device)
    photos = augment.Photographs(a.photos, device, [WIDE, WIDE[::-1]]) if a.photos else None
    if photos:
        for s in (WIDE, WIDE[::-1]):
            photos.more(s, 6)
    stop, layout = threading.Event(), torch.channels_last

    def watch():
        while not stop.is_set():
            pool.look(a.data, limit=a.most // PER_FILE)
            time.sleep(2)
    threading.Thread(target=watch, daemon=True).start()
    while pool.count() < a.least or not all(pool.files.values()):
        time.sleep(0.5)
    if folded:
        nets.settle(model, (inputs(pool.batch(pool.shape(rng), min(32, a.batch), rng)[0]) for _ in range(20)))
        slow.load_state_dict(model.state_dict())
    if device.type == "cuda" and not a.whole:  # the third network's step takes three times as long in the other layout, and finding that out a minute
        model, slow, layout = fastest(model, slow, pool, a.batch + a.photographs)
        torch.cuda.empty_cache()
        opt = torch.optim.AdamW(model.parameters(), lr=a.rate, weight_decay=0.02)
    together = team.together(model, device)
    torch.manual_seed(7 + team.rank)
    t0, step, shown, done = time.time(), 0, a.show, 0.0
    log, result = [], {}
    left = a.seconds - (t0 - begin) - 30
    while True:
        if step % 10 == 0:
            done = team.agree((time.time() - t0) / left, device)
        if done >= 1:
            break
        rate = a.rate * min(1, (step + 1) / 300) * (0.51 + 0.49 * np.cos(np.pi * min(1, done)))
        for g in opt.param_groups:
            g["lr"] = rate
        size = pool.shape(rng)
        x, y = pool.batch(size, a.batch, rng)
        with torch.no_grad():
            if photos:
                photos.more(size, int(step < 400 or step % 2))
                px, py = photos.batch(size, a.photographs)
                around = photos.batch(size, a.batch)
                x, y = torch.cat([x, px]), torch.cat([y, py])
                around = tuple(torch.cat([u, v]) for u, v in zip(around, (px, py)))
            x, y = augment.make_new(x, y, around if photos else None, strength=a.strength * (1 if done < 0.6 else 0.35))
            x = x.to(memory_format=layout)
        with torch.autocast(device.type, torch.bfloat16):
            out = together(x)
        loss = loss_of(out, y)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        opt.step()
        follow(slow, model, min(0.9985, (1 + step) / (20 + step)))
        step += 1
        if team.rank == 0 and time.time() - t0 > shown:
            shown += a.show
            held.look(a.held, limit=1000)
            if held.count():
                result = judge(slow, held)
            kept = judge_photographs(slow, photos.held, device) if photos else []
            line = dict(seconds=round(time.time() - begin), step=step, samples=pool.count(), loss=round(loss.item(), 4), rate=round(rate, 6),
                        leaf=result.get("iou", {}).get("leaf"), area=result.get("area_error_median"), p90=result.get("area_error_p90"),
                        photographs=round(float(np.mean(kept)), 3) if kept else None)
            log.append(line)
            print(json.dumps(line), flush=True)
            save(slow, shape, a.out, result, log, vars(a))
    stop.set()
    if team.rank > 0:
        return
    if held.count():
        result = judge(slow, held)
    result["steps"], result["samples"] = step, pool.count()
    result["photographs"] = judge_photographs(slow, photos.held, device) if photos else []
    print(json.dumps(result, indent=1), flush=True)
    save(slow, shape, a.out, result, log, vars(a))


if __name__ == "__main__":
    main()
