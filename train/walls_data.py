"""Drawn walls (from wallgen) as the network sees them: 15 planes at 2 px per mm, made of pixels at 4 px per mm.

0-3 L* (L - 50) / 25, 4-7 a* / 15, 8-11 b* / 20: CIELAB (D65) of the calibrated colour of the four pixels (upper left, upper
    right, lower left, lower right), 0 where the photo shows nothing
12  |sine of azimuth| from the camera's direction, at most 1.2; past 1 is beside the pot
13  depth below the rim, dm
14  share of the four pixels that the photo shows

The network answers with 24 channels: for each class the logits of the same four pixels.
"""
import glob
import os
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


def planes(rgb8, place, vary=None, cls=None):
    """rgb8 (N, 3, H, W) uint8; place (N, 5): column of azimuth 0, row of the rim, radius there, its change, row of the base, px.
    vary: a torch.Generator where the light is to be varied, as camera and correction leave it, and the colours of what is
    no root by themselves (cls: the classes), so that no colour of a medium is learnt for its own sake."""
    n, _, h, w = rgb8.shape
    dev = rgb8.device
    seen = (rgb8.sum(1, keepdim=True) > 0).float()
    light = linear(rgb8)
    if vary is not None:
        def u(*shape):
            return torch.rand(*shape, generator=vary, device=dev)
        gain = torch.exp((u(n, 1, 1, 1) - 0.5) * 0.7)
        cast = torch.exp((u(n, 3, 1, 1) - 0.5) * 0.14)
        light = light * gain * cast
        grey = light.mean(1, keepdim=True)
        light = grey + (light - grey) * (0.8 + 0.4 * u(n, 1, 1, 1))
        light = light.clamp(min=0) ** torch.exp((u(n, 1, 1, 1) - 0.5) * 0.24)
    lab = to_lab(light.clamp(0, 1.2))
    if vary is not None:
        if cls is not None:
            some = (u(n, 1, 1, 1) < 0.6).float()
            shift = torch.randn(n, 3, 1, 1, generator=vary, device=dev) * torch.tensor([7.0, 5.0, 6.0], device=dev).view(1, 3, 1, 1) * some
            rest = F.avg_pool2d(((cls == 0) | (cls > 3)).float().unsqueeze(1), 3, 1, 1)
            own = torch.randn(n, 3, 1, 1, generator=vary, device=dev) * torch.tensor([3.0, 1.5, 2.0], device=dev).view(1, 3, 1, 1)
            dark = (lab[:, :1] / 40).clamp(max=1)  # black stays black
            lab = lab + dark * (shift * rest + own * (1 - rest))
        lab = lab + torch.randn(lab.shape, generator=vary, device=dev) * (1.5 * torch.rand(n, 1, 1, 1, generator=vary, device=dev))
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
    """The network's channels as logits (N, CLASSES, H, W) at 4 px per mm."""
    return F.pixel_shuffle(logits, 2)


def read_shard(path, size):
    raw = np.fromfile(path, np.uint8)
    one = 32 + 4 * size * size
    raw = raw[: len(raw) // one * one].reshape(-1, one)
    place = raw[:, :32].copy().view(np.float32)[:, :5]
    rgb = raw[:, 32:32 + 3 * size * size].reshape(-1, size, size, 3).transpose(0, 3, 1, 2)
    cls = raw[:, 32 + 3 * size * size:].reshape(-1, size, size)
    return torch.from_numpy(np.ascontiguousarray(rgb)), torch.from_numpy(cls.copy()), torch.from_numpy(place.copy())


class Store:
    """Samples on the device, filled by a thread while shards are still being drawn."""

    def __init__(self, folder, size, capacity, device):
        self.folder, self.size, self.capacity = folder, size, capacity
        self.rgb = torch.empty(capacity, 3, size, size, dtype=torch.uint8, device=device)
        self.cls = torch.empty(capacity, size, size, dtype=torch.uint8, device=device)
        self.place = torch.empty(capacity, 5, device=device)
        self.n, self.done, self.read = 0, False, set()
        self.lock = threading.Lock()

    def take(self):
        for path in sorted(glob.glob(os.path.join(self.folder, "*.walls"))):
            if path in self.read or self.n >= self.capacity:
                continue
            self.read.add(path)
            rgb, cls, place = read_shard(path, self.size)
            m = min(len(rgb), self.capacity - self.n)
            self.rgb[self.n:self.n + m].copy_(rgb[:m])
            self.cls[self.n:self.n + m].copy_(cls[:m])
            self.place[self.n:self.n + m].copy_(place[:m])
            self.n += m
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


def mirrored(rgb, cls, place):
    place = place.clone()
    place[:, 0] = rgb.shape[3] - 1 - place[:, 0]
    return rgb.flip(3), cls.flip(2), place
