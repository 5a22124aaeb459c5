"""Drawn walls (from wallgen) as the network sees them: 15 planes at 2 px per mm, made of pixels at 4 px per mm.

0-3 L* (L - 50) / 25, 4-7 a* / 15, 8-11 b* / 20: CIELAB (D65) of the calibrated colour of the four pixels (upper left, upper
    right, lower left, lower right), 0 where the photo shows nothing
12  |sine of azimuth| from the camera's direction, at most 1.2; past 1 is beside the pot
13  depth below the rim, dm
14  share of the four pixels that the photo shows

The network answers with 28 channels: for each class the logits of the same four pixels, then those of a root's middle line, which
tells roots apart that touch.
"""
import glob
import os
import shutil
import threading
import time

import numpy as np
import torch
from torch.nn import functional as F

PLANES = 15
CLASSES = 6
NAMES = ["medium", "root", "tip", "old root", "hidden", "wall"]
PX_PER_MM = 4.0
NOTHING = 255
LINE = 32  # added to the class where a root's middle line is seen
LEAST_FREE = 20 << 30  # bytes of disk that shards kept for a later call leave free


def to_lab(rgb):
    """CIELAB of linear light (N, 3, H, W), white at 1."""
    r, g, b = rgb[:, 0], rgb[:, 1], rgb[:, 2]
    x = (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047
    y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b
    z = (0.0193339 * r + 0.1191920 * g + 0.9503041 * b) / 1.08883

    def f(t):
        t = t.clamp(min=0)
        return torch.where(t > 216 / 24389, t.clamp(min=1e-6) ** (1 / 3), (24389 / 27 * t + 16) / 116)

    fx, fy, fz = f(x), f(y), f(z)
    return torch.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], 1)


def linear(rgb8):
    v = rgb8.float() / 255
    return torch.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def apart(code):
    """Classes, and where a middle line is seen, of a sample's codes."""
    line = ((code & LINE) > 0) & (code != NOTHING)
    return torch.where(line, code - LINE, code), line


def moved(rgb8, cls, place, gen):
    """The samples turned, stretched and mirrored at random, as other pots and errors of the unrolling would show them; and the
    place of the wall told a little wrong, as it is found."""
    n, _, h, w = rgb8.shape
    dev = rgb8.device

    def u(lo, hi):
        return lo + (hi - lo) * torch.rand(n, generator=gen, device=dev)

    def z(s):
        return s * torch.randn(n, generator=gen, device=dev)
    some = (u(0, 1) < 0.6).float()
    size = torch.exp(some * u(-0.22, 0.22))
    sx, sy = size * torch.exp(some * z(0.05)), size * torch.exp(some * z(0.05))
    turn, lean = some * z(0.05), some * z(0.03)
    flip = torch.where(u(0, 1) < 0.5, -1.0, 1.0)
    theta = torch.zeros(n, 2, 3, device=dev)
    theta[:, 0, 0], theta[:, 0, 1] = flip * sx, turn + lean
    theta[:, 1, 0], theta[:, 1, 1] = -turn * flip, sy
    theta[:, 0, 2], theta[:, 1, 2] = some * z(0.04), some * z(0.04)
    grid = F.affine_grid(theta, (n, 3, h, w), align_corners=False)
    hard = torch.stack([cls.float(), (rgb8.sum(1) > 0).float()], 1) - torch.tensor([float(NOTHING), 0.0], device=dev).view(1, 2, 1, 1)
    hard = F.grid_sample(hard, grid, mode="nearest", padding_mode="zeros", align_corners=False)
    cls, seen = (hard[:, 0] + NOTHING).round().to(torch.uint8), hard[:, 1:]
    cls, line = apart(cls)
    rgb = F.grid_sample(rgb8.float(), grid, mode="bilinear", padding_mode="border", align_corners=False) * seen
    mid = (place[:, 0] + 0.5) / w * 2 - 1
    top = (place[:, 1] + 0.5) / h * 2 - 1
    new = place.clone()
    new[:, 0] = ((mid - theta[:, 0, 2]) / theta[:, 0, 0] + 1) * w / 2 - 0.5 + z(3)
    new[:, 1] = ((top - theta[:, 1, 2]) / sy + 1) * h / 2 - 0.5 + z(3)
    new[:, 2] = place[:, 2] / sx * torch.exp(z(0.02))
    new[:, 3] = place[:, 3] * sy / sx + z(0.01)
    return rgb, seen, cls, line, new


def relit(light, gen):
    """Other light and another camera's tones."""
    n, _, h, w = light.shape
    dev = light.device

    def u(*shape):
        return torch.rand(*shape, generator=gen, device=dev)
    gain = torch.exp((u(n, 1, 1, 1) - 0.5) * 0.8)
    cast = torch.exp((u(n, 3, 1, 1) - 0.5) * 0.16)
    some = (u(n, 1, 1, 1) < 0.5).float()
    field = torch.randn(n, 1, 4, 4, generator=gen, device=dev) * 0.25 * some * u(n, 1, 1, 1)
    light = light * gain * cast * torch.exp(F.interpolate(field, size=(h, w), mode="bicubic", align_corners=False))
    grey = light.mean(1, keepdim=True)
    less = (u(n, 1, 1, 1) < 0.2).float() * 0.7 * u(n, 1, 1, 1)
    light = grey + (light - grey) * (0.8 + 0.4 * u(n, 1, 1, 1)) * (1 - less)
    return light.clamp(min=0) ** torch.exp((u(n, 1, 1, 1) - 0.5) * 0.3)


def repainted(lab, cls, gen):
    """Other colours of roots and of what is none, and less texture in either, so that no colour and no texture is learnt for its
    own sake; then blur, haze and noise."""
    n, _, h, w = lab.shape
    dev = lab.device

    def u(*shape):
        return torch.rand(*shape, generator=gen, device=dev)

    def z(*shape):
        return torch.randn(*shape, generator=gen, device=dev)

    def chance(p):
        return (u(n, 1, 1, 1) < p).float()
    isroot = ((cls >= 1) & (cls <= 3)).float().unsqueeze(1)
    ismedium = (cls == 0).float().unsqueeze(1)
    root, medium = F.avg_pool2d(isroot, 3, 1, 1), F.avg_pool2d(ismedium, 3, 1, 1)

    def mean(mask):
        return (lab * mask).sum((2, 3), keepdim=True) / mask.sum((2, 3), keepdim=True).clamp(min=1)
    flat_m, flat_r = chance(0.3) * u(n, 1, 1, 1), chance(0.3) * u(n, 1, 1, 1)
    lab = lab + medium * flat_m * (mean(ismedium) - lab) + root * flat_r * (mean(isroot) - lab)
    scale = torch.tensor([8.0, 5.0, 6.0], device=dev).view(1, 3, 1, 1)
    shift = z(n, 3, 1, 1) * scale * chance(0.6)
    own = z(n, 3, 1, 1) * scale * (0.35 + 0.65 * chance(0.2))
    dark = (lab[:, :1] / 40).clamp(0, 1)  # black stays black
    lab = lab + dark * (shift * (1 - root) + own * root)
    # haze: all colours come nearer to one
    haze = chance(0.2) * 0.6 * u(n, 1, 1, 1)
    grey = torch.cat([30 + 50 * u(n, 1, 1, 1), 3 * z(n, 2, 1, 1)], 1)
    lab = lab + haze * (grey - lab)
    # blur of its own strength for each
    sigma = chance(0.3) * (0.3 + 1.2 * u(n, 1, 1, 1)) + 0.05
    d = torch.arange(-4, 5, device=dev, dtype=torch.float32).view(1, 9)
    kern = torch.exp(-0.5 * (d / sigma.view(n, 1)) ** 2)
    kern = (kern / kern.sum(1, keepdim=True)).repeat_interleave(3, 0)
    flat = lab.reshape(1, 3 * n, h, w)
    flat = F.conv2d(flat, kern.view(3 * n, 1, 9, 1), padding=(4, 0), groups=3 * n)
    lab = F.conv2d(flat, kern.view(3 * n, 1, 1, 9), padding=(0, 4), groups=3 * n).view(n, 3, h, w)
    # fine noise, and blotches as strong compression leaves them
    lab = lab + z(n, 3, h, w) * (1.5 * u(n, 1, 1, 1) + 2.5 * chance(0.15) * u(n, 1, 1, 1))
    blot = z(n, 3, h // 4, w // 4) * chance(0.25) * 2.5 * u(n, 1, 1, 1)
    return lab + F.interpolate(blot, size=(h, w), mode="bilinear", align_corners=False)


def planes(rgb8, place, gen=None, cls=None, seen=None):
    """rgb8 (N, 3, H, W), 0..255; place (N, 5): column of azimuth 0, row of the rim, radius there, its change, row of the base, px.
    gen: a torch.Generator where light, colours and texture are to be varied (cls: the classes). seen: what the photo shows, where
    black does not tell it."""
    n, _, h, w = rgb8.shape
    dev = rgb8.device
    if seen is None:
        seen = (rgb8.sum(1, keepdim=True) > 0).float()
    light = linear(rgb8)
    if gen is not None:
        light = relit(light, gen)
    lab = to_lab(light.clamp(0, 1.2))
    if gen is not None:
        lab = repainted(lab, cls, gen)
    lab = torch.stack([(lab[:, 0] - 50) / 25, lab[:, 1] / 15, lab[:, 2] / 20], 1) * seen
    ys = torch.arange(h, device=dev, dtype=torch.float32).view(1, 1, h, 1)
    xs = torch.arange(w, device=dev, dtype=torch.float32).view(1, 1, 1, w)
    mid, top, r0, k = (place[:, i].view(n, 1, 1, 1) for i in range(4))
    radius = (r0 + k * (ys - top)).clamp(min=8 * PX_PER_MM)
    side = ((xs - mid).abs() / radius).clamp(max=1.2)
    depth = ((ys - top) / PX_PER_MM / 100).expand(n, 1, h, w)
    rest = F.avg_pool2d(torch.cat([side, depth, seen], 1), 2)
    return torch.cat([F.pixel_unshuffle(lab, 2), rest], 1)


def full(logits):
    """The network's channels as logits at 4 px per mm: (N, CLASSES, H, W), and of the line (N, H, W)."""
    z = F.pixel_shuffle(logits, 2)
    return z[:, :CLASSES], z[:, CLASSES]


def read_shard(path, size):
    raw = np.fromfile(path, np.uint8)
    one = 32 + 4 * size * size
    raw = raw[: len(raw) // one * one].reshape(-1, one)
    place = raw[:, :32].copy().view(np.float32)[:, :5]
    rgb = raw[:, 32:32 + 3 * size * size].reshape(-1, size, size, 3).transpose(0, 3, 1, 2)
    cls = raw[:, 32 + 3 * size * size:].reshape(-1, size, size)
    return torch.from_numpy(np.ascontiguousarray(rgb)), torch.from_numpy(cls.copy()), torch.from_numpy(place.copy())


class Store:
    """Samples on the device, filled by a thread while shards are still being drawn. folder may be a pattern."""

    def __init__(self, folder, size, capacity, device, keep=False):
        self.folder, self.size, self.capacity, self.keep = folder, size, capacity, keep
        self.rgb = torch.empty(capacity, 3, size, size, dtype=torch.uint8, device=device)
        self.cls = torch.empty(capacity, size, size, dtype=torch.uint8, device=device)
        self.place = torch.empty(capacity, 5, device=device)
        self.n, self.done, self.read = 0, False, set()

    def take(self):
        for path in sorted(glob.glob(os.path.join(self.folder, "*.walls"))):
            if path in self.read or self.n >= self.capacity or self.done:
                continue
            self.read.add(path)
            rgb, cls, place = read_shard(path, self.size)
            m = min(len(rgb), self.capacity - self.n)
            self.rgb[self.n:self.n + m].copy_(rgb[:m])
            self.cls[self.n:self.n + m].copy_(cls[:m])
            self.place[self.n:self.n + m].copy_(place[:m])
            self.n += m
            if not self.keep or shutil.disk_usage(path).free < LEAST_FREE:
                os.remove(path)

    def watch(self):
        def loop():
            while not self.done and self.n < self.capacity:
                self.take()
                time.sleep(0.5)
        t = threading.Thread(target=loop, daemon=True)
        t.start()
        return t

    def batch(self, n, gen):
        i = torch.randint(0, self.n, (n,), generator=gen, device=self.rgb.device)
        return self.rgb[i], self.cls[i], self.place[i]
