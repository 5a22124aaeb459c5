"""Makes every sample new each time it is seen: turned, zoomed, recoloured, lit, blurred; and makes samples of photographs and cut-outs.

All of it runs on the accelerator, on whole batches. A sample is the planes of internal/regions (uint8) and the classes of the
fine picture (uint8, 255: not to be learnt).
"""
import glob
import os

import numpy as np
import torch
from torch.nn import functional as F

PLANES = 16
LEAF, PART, OTHER, POT, IGNORE = 1, 2, 3, 4, 255
SPACE = [0, 3, 6, 9, 1, 4, 7, 10, 2, 5, 8, 11]  # planes by colour, then by pixel


def unpack(x):
    """Planes (uint8) as the fine picture, 0..1, and the four planes that are half its size."""
    x = x.float() / 255
    return F.pixel_shuffle(x[:, SPACE], 2), x[:, 12:]


def inputs_of(fine, extra):
    """What the network is given: colours about 0, the rest 0..1, as the program gives it."""
    c = F.pixel_unshuffle(fine, 2)
    c = c.view(len(c), 3, 4, *c.shape[2:]).transpose(1, 2).reshape(len(c), 12, *c.shape[2:])
    return torch.cat([(c * 255 - 127) / 128, extra], 1)


def bell(n, device, scale=1.0, *shape):
    return scale * torch.randn(n, *shape, device=device)


def chance(n, p, device):
    return torch.rand(n, device=device) < p


def some(n, p, device):
    """Indices of the samples, each chosen with that probability."""
    return torch.nonzero(torch.rand(n, device=device) < p)[:, 0]


def smooth_noise(n, h, w, cells, device):
    """Smooth noise about 0.5, the same number of cells across for the whole batch, two octaves."""
    a = F.interpolate(torch.rand(n, 1, cells, cells, device=device), (h, w), mode="bicubic", align_corners=False)
    b = F.interpolate(torch.rand(n, 1, 3 * cells, 3 * cells, device=device), (h, w), mode="bilinear", align_corners=False)
    return 0.7 * a + 0.3 * b


def warp(fine, extra, y, strength=1.0):
    """Turns, zooms, shears and shifts; what lies beyond the edge is the picture's mirror image."""
    n, dev = len(fine), fine.device
    h, w = fine.shape[2:]
    turn = torch.where(chance(n, 0.1 * strength, dev), (torch.rand(n, device=dev) - 0.5) * 2 * np.pi, bell(n, dev, 0.1))
    zoom = torch.exp((torch.rand(n, device=dev) * 0.65 - 0.45) * strength)  # below 1: larger in the picture
    flip = torch.where(chance(n, 0.5, dev), -1.0, 1.0)
    stretch = torch.exp(bell(n, dev, 0.06))
    keep = chance(n, 0.15 + 0.5 * (1 - strength), dev)
    turn, zoom, stretch = (torch.where(keep, v, t) for v, t in ((0 * turn, turn), (0 * zoom + 1, zoom), (0 * stretch + 1, stretch)))
    c, s = torch.cos(turn), torch.sin(turn)
    r = h / w  # grid coordinates are -1..1 in both directions
    slack = 0.3 + (1 - zoom).clamp_min(0)
    shift = (torch.rand(n, 2, device=dev) - 0.5) * (slack * ~keep)[:, None]
    theta = torch.stack([
        torch.stack([flip * zoom * stretch * c, -zoom * stretch * s * r, shift[:, 0]], 1),
        torch.stack([flip * zoom / stretch * s / r, zoom / stretch * c, shift[:, 1]], 1)], 1)
    grid = F.affine_grid(theta, (n, 1, h, w), align_corners=False)
    half = F.affine_grid(theta, (n, 1, h // 2, w // 2), align_corners=False)
    fine = F.grid_sample(fine, grid, mode="bilinear", padding_mode="reflection", align_corners=False)
    extra = F.grid_sample(extra, half, mode="bilinear", padding_mode="reflection", align_corners=False)
    y = F.grid_sample(y[:, None].float(), grid, mode="nearest", padding_mode="reflection", align_corners=False)[:, 0]
    return fine, torch.cat([(extra[:, :2] > 0.5).float(), extra[:, 2:]], 1), y.round().to(torch.uint8)


# Colours of leaves as sRGB: purple and red, nearly black, cream and white, yellow, brown, greens.
PALETTE = [(95, 40, 85), (130, 50, 75), (150, 60, 60), (75, 35, 55), (110, 85, 120), (40, 30, 40), (35, 45, 35),
           (235, 230, 195), (240, 240, 230), (225, 215, 150), (215, 200, 70), (190, 175, 60), (150, 115, 60), (105, 75, 45),
           (170, 140, 100), (70, 110, 50), (110, 150, 60), (50, 80, 45), (120, 150, 120), (165, 185, 110), (90, 120, 100)]


# Colours of margins and of downy leaves: cream, white, silver, pale yellow.
PALE = [(235, 230, 195), (242, 242, 234), (225, 215, 150), (205, 210, 195), (170, 182, 170), (225, 225, 220)]


def any_leaf_colour(n, device, palette=PALETTE):
    p = torch.tensor(palette, device=device, dtype=torch.float32) / 255
    c = p[torch.randint(len(p), (n,), device=device)]
    return (c * torch.exp(bell(n, device, 0.12, 3)) * torch.exp(bell(n, device, 0.15, 1))).clamp(0.02, 1)[:, :, None, None]


def colour_beside(fine, mask):
    """For each sample the colour of some place close to the masked one, but not of it: bark, pot, bench, neighbour."""
    n = len(fine)
    small = F.avg_pool2d(mask, 8)
    free = F.avg_pool2d(fine * (1 - mask), 8) / (1 - small).clamp_min(0.05)
    around = (F.max_pool2d(small, 9, 1, 4) > 0.2).float() * (small < 0.05).float() + 1e-6
    i = torch.multinomial(around.flatten(1), 1)
    return free.flatten(2).gather(2, i[:, None].expand(n, 3, 1)).view(n, 3, 1, 1).clamp(0.02, 1)


def recolour(fine, extra, y, p=0.45, hidden=0.3):
    """Gives some plants another colour: all over, along the outline, in patches. Light and shade stay. Of these some (hidden) get the colour of
    what lies beside them, as dry tips before bark have it: then shape and light alone tell."""
    n, dev = len(fine), fine.device
    h, w = fine.shape[2:]
    for cls, share in ((LEAF, p), (OTHER, p * 0.5)):
        on = some(n, share, dev)
        m = len(on)
        if not m:
            continue
        part = fine[on]
        mask = (y[on] == cls)[:, None].float()
        k = int(torch.randint(2, 14, (1,)))
        inner = F.avg_pool2d(mask, 2 * k + 1, 1, k, count_include_pad=False)
        lum = part.mean(1, keepdim=True)
        mean = (lum * mask).sum((1, 2, 3), keepdim=True) / mask.sum((1, 2, 3), keepdim=True).clamp_min(1)
        kind = torch.rand(m, 1, 1, 1, device=dev)
        edge = torch.sigmoid((0.86 + 0.1 * torch.rand(m, 1, 1, 1, device=dev) - inner) * 30)
        cells = int(torch.randint(3, 40, (1,)))
        patch = torch.sigmoid((smooth_noise(m, h, w, cells, dev) - 0.4 - 0.25 * torch.rand(m, 1, 1, 1, device=dev)) * 25)
        amount = torch.where(kind < 0.27, torch.ones_like(patch), torch.where(kind < 0.68, edge, patch))
        soft = F.avg_pool2d(mask, 3, 1, 1, count_include_pad=False) * mask
        gamma = torch.exp(bell(m, dev, 0.2, 1, 1, 1))
        beside = (torch.rand(m, 1, 1, 1, device=dev) < hidden) & (kind > 0.2)
        pale = torch.rand(m, 1, 1, 1, device=dev) < torch.where(kind > 0.27, 0.45, 0.1)
        any_ = torch.where(pale, any_leaf_colour(m, dev, PALE), any_leaf_colour(m, dev))
        new = torch.where(beside, colour_beside(part, mask), any_) * (lum / mean.clamp_min(0.05)).clamp(0, 3) ** gamma
        fine[on] = part + (new.clamp(0, 1) - part) * amount * soft * (0.6 + 0.4 * torch.rand(m, 1, 1, 1, device=dev))
    on = some(n, 0.6 * p, dev)
    if len(on):
        ground = F.avg_pool2d(((y[on] == 0) | (y[on] == IGNORE))[:, None].float(), 3, 1, 1, count_include_pad=False)
        ground = ground * (F.interpolate(extra[on, :2].amax(1, keepdim=True), scale_factor=2, mode="nearest") < 0.02)  # the card's colours are known
        gain = torch.exp(bell(len(on), dev, 0.3, 3, 1, 1))
        fine[on] = fine[on] * (1 + (gain - 1) * ground)
    return fine


# Colours of sticks as sRGB: wood, bamboo, dark and white plastic, wire, greens.
STICKS = [(150, 115, 75), (185, 150, 100), (205, 180, 130), (95, 70, 45), (60, 45, 35), (40, 40, 40), (230, 230, 225), (140, 140, 145),
          (70, 100, 55), (110, 140, 75), (150, 165, 110), (60, 120, 90), (130, 90, 90)]


def sticks(fine, extra, y, p=0.12):
    """Sets long thin things before some plants: stakes, wires, strings, labels on edge, bare flower stems. They are no leaves: those that are brown, grey or
    white belong to the rest; what is green or reddish may be a stem of the plant and is not to be learnt but as no leaf (another part)."""
    n, dev = len(fine), fine.device
    h, w = fine.shape[2:]
    on = torch.nonzero((torch.rand(n, device=dev) < p) & ((y == LEAF).float().mean((1, 2)) > 0.01))[:, 0]
    if not len(on):
        return fine, extra, y
    y = y.clone()
    yy, xx = torch.meshgrid(torch.arange(h, device=dev).float(), torch.arange(w, device=dev).float(), indexing="ij")
    palette = torch.tensor(STICKS, device=dev, dtype=torch.float32) / 255
    for i in on.tolist():
        spots = torch.nonzero(y[i, ::8, ::8] == LEAF)
        for _ in range(int(torch.randint(1, 4, (1,)))):
            if not len(spots):
                break
            c = spots[int(torch.randint(len(spots), (1,)))] * 8
            u = torch.rand(9).tolist()
            turn = (u[0] - 0.5) * (0.5 if u[1] < 0.7 else 3.1)  # mostly upright
            s, co = np.sin(turn), np.cos(turn)
            along = (xx - c[1]) * s + (yy - c[0]) * co
            across = (xx - c[1]) * co - (yy - c[0]) * s
            half = h * (0.12 + 0.5 * u[2])
            across = across + (u[3] - 0.5) * (0.7 if u[4] < 0.5 else 0.06) * (along / half) ** 2 * half * 0.4
            r = float(np.exp(np.log(1.0) + u[5] * np.log(7.0)))  # half of the width, px of the fine picture
            cover = (r + 0.5 - across.abs()).clamp(0, 1) * (half + 0.5 - (along + (u[6] - 0.5) * half).abs()).clamp(0, 1)
            k = int(torch.randint(len(palette), (1,)))
            light = fine[i].mean(0)[y[i] == LEAF].mean().clamp(0.08, 0.8) * 2.2
            shade = (1 - 0.5 * ((across / r + (u[7] - 0.5)).clamp(-1, 1) ** 2)) * light
            colour = (palette[k] * (1 + 0.15 * torch.randn(3, device=dev)))[:, None, None] * shade
            if u[8] < 0.5:
                colour = colour * (0.85 + 0.3 * smooth_noise(1, h, w, 60, dev)[0])
            if extra[i, 0].amax() > 0:  # card and tag stand where they are
                known = F.interpolate(extra[i:i + 1, :2].amax(1, keepdim=True), scale_factor=2, mode="nearest")[0, 0]
                cover = cover * (known < 0.5)
            fine[i] = fine[i] * (1 - cover) + colour.clamp(0, 1) * cover
            edge = F.max_pool2d(cover[None], 2)[0]  # its outline is as sharp as the picture's sharpest
            extra[i, 2:] = torch.maximum(extra[i, 2:], edge * extra[i, 2:].amax((1, 2), keepdim=True) * (0.6 + 0.4 * u[1]))
            y[i] = torch.where(cover > 0.5, torch.full_like(y[i], PART if 8 <= k <= 10 or k == 12 else 0), y[i])
            y[i] = torch.where((cover > 0.15) & (cover <= 0.5) & (y[i] == LEAF), torch.full_like(y[i], IGNORE), y[i])
    return fine, extra, y


def cloth(n, h, w, device):
    """Hanging or lying cloth, paper and painted walls of any colour, with folds, weave and prints, in or out of focus: pictures 0..1 of a fine
    picture twice h by w, and their two planes of sharpness."""
    H, W = h * 5 // 2, w * 5 // 2
    one = (n, 1, 1, 1)
    rand = lambda *shape: torch.rand(*shape, device=device)
    leafy = any_leaf_colour(n, device)
    pic = torch.where(rand(one) < 0.4, leafy, rand(n, 3, 1, 1) ** 1.5).expand(n, 3, H, W)
    yy, xx = torch.meshgrid(torch.linspace(-1, 1, H, device=device), torch.linspace(-1, 1, W, device=device) * W / H, indexing="ij")
    bend = smooth_noise(n, H, W, int(torch.randint(2, 6, (1,))), device) - 0.5
    for _ in range(2):  # a print: blotches or a pattern of another colour
        wave = torch.sin((xx * bell(n, device, 1.0, 1, 1, 1) + yy * bell(n, device, 1.0, 1, 1, 1)) * (4 + 60 * rand(one)))
        spots = (smooth_noise(n, H, W, int(torch.randint(3, 30, (1,))), device) - 0.5) * 6
        shape = torch.sigmoid(torch.where(rand(one) < 0.5, spots, wave) * (1 + 14 * rand(one)) - 2 * rand(one))
        second = torch.where(rand(one) < 0.5, any_leaf_colour(n, device), rand(n, 3, 1, 1))
        pic = torch.lerp(pic, second, shape * (rand(one) < 0.25) * rand(one))
    for _ in range(2):  # folds: light on one side, shade on the other, now and then a crease
        turn = rand(one) * np.pi
        along = xx * torch.cos(turn) + yy * torch.sin(turn) + 1.2 * rand(one) * bend
        wave = torch.sin(along * (2 + 16 * rand(one) ** 2) + 6.3 * rand(one))
        wave = torch.where(rand(one) < 0.4, 1 - 2 * wave.abs() ** 0.6, wave)
        pic = pic * torch.exp(wave * 0.45 * rand(one) * (rand(one) < 0.6))
    pic = pic * (0.55 + 0.9 * rand(one) + (smooth_noise(n, H, W, 2, device) - 0.5) * rand(one))
    pic = pic * (1 + 0.15 * rand(one) ** 2 * torch.randn(n, 1, H, W, device=device))
    pic = torch.where(rand(one) < 0.5, F.avg_pool2d(pic, 7, 1, 3, count_include_pad=False), pic).clamp(0, 1)
    sharp = detail(pic[:, 1:2], h, w) * (0.4 + 0.6 * rand(one))
    return F.interpolate(pic, (2 * h, 2 * w), mode="bilinear", antialias=True, align_corners=False), sharp


def leaf_if_sharp(sharp, y):
    """Classes without card and tag, where every plant counts: other plants become leaf where something near is about as sharp as the
    picture's sharpest, and are not to be learnt elsewhere (far out of focus it is for the eye to say)."""
    fine = sharp[:, :1]
    near = F.max_pool2d(fine[:, :, ::2, ::2], 17, 1, 8)
    best = torch.quantile(fine.flatten(1)[:, ::7], 0.985, dim=1).view(-1, 1, 1, 1)
    soft = F.interpolate((near < best - 0.13).float(), y.shape[1:], mode="nearest")[:, 0] > 0.5
    return torch.where(y == OTHER, torch.where(soft, torch.full_like(y, IGNORE), torch.full_like(y, LEAF)), y)


def behind(fine, extra, y, other, p=0.1, woven=0.5, bare=0.35):
    """Sets some plants, with their pots and cards, before another picture or before cloth (woven: its share); what grows there is some other plant
    if there is a card. Some of them (bare) lose card and tag, and half of these their pots, as cut-outs do: then every plant counts."""
    on = torch.nonzero((torch.rand(len(y), device=y.device) < p) & ((y == LEAF).float().mean((1, 2)) > 0.01))[:, 0]
    if not len(on):
        return fine, extra, y
    m, dev = len(on), y.device
    back, back_extra = unpack(other[0][on])
    back_y, part_y, part_extra = other[1][on].clone(), y[on], extra[on]
    hung = some(m, woven, dev)
    if len(hung):
        pic, sharp = cloth(len(hung), *extra.shape[2:], dev)
        back[hung], back_y[hung] = pic, 0
        back_extra[hung] = torch.cat([0 * sharp, sharp], 1)
    off = chance(m, bare, dev)[:, None, None]
    pots = (part_y == POT) & ~(off & chance(m, 0.5, dev)[:, None, None])
    part_extra = torch.cat([part_extra[:, :2] * ~off[:, None], part_extra[:, 2:]], 1)
    part_y = torch.where(off, leaf_if_sharp(part_extra[:, 2:], part_y), part_y)
    known = F.interpolate(F.max_pool2d(part_extra[:, :2].amax(1, keepdim=True), 5, 1, 2), scale_factor=2, mode="nearest")
    keep = torch.maximum(((part_y == LEAF) | (part_y == PART) | pots | (part_y == IGNORE))[:, None].float(), known)
    a = F.avg_pool2d(keep, 3, 1, 1, count_include_pad=False)
    ah = F.avg_pool2d(a, 2)
    carded = (part_extra[:, 0].amax((1, 2)) > 0)[:, None, None]
    there = torch.where(carded & ((back_y == LEAF) | (back_y == PART)), torch.full_like(back_y, OTHER), back_y)
    size = int(torch.randint(2, 20, (1,))) * 2 + 1
    shade = F.avg_pool2d(torch.roll(a, (size // 2, int(torch.randint(-size, size, (1,)))), (2, 3)), size, 1, size // 2)
    back = back * (1 - 0.8 * shade * torch.rand(m, 1, 1, 1, device=dev) * (torch.rand(m, 1, 1, 1, device=dev) < 0.5))
    fine[on] = fine[on] * a + back * (1 - a)
    extra[on] = torch.cat([part_extra[:, :2], part_extra[:, 2:] * ah + back_extra[:, 2:] * (1 - ah)], 1)
    y = y.clone()
    y[on] = torch.where(a[:, 0] > 0.5, part_y, there)
    return fine, extra, y


def middle_of(mask):
    """Centre (-1..1) and spread of each picture of a mask."""
    h, w = mask.shape[1:]
    yy = torch.linspace(-1, 1, h, device=mask.device)[None, :, None]
    xx = torch.linspace(-1, 1, w, device=mask.device)[None, None, :]
    total = mask.sum((1, 2)).clamp_min(1)
    x, y = (mask * xx).sum((1, 2)) / total, (mask * yy).sum((1, 2)) / total
    far = (xx - x[:, None, None]) ** 2 + (yy - y[:, None, None]) ** 2
    return x, y, ((mask * far).sum((1, 2)) / total).sqrt().clamp_min(0.02)


def softer(sharp, loss):
    """Planes of sharpness of what is out of focus: they are logarithms, so that a blur takes the same off each (a tenth for each halving of the
    detail), the coarse one less, down to what noise leaves."""
    m, dev = len(sharp), sharp.device
    floor = 0.15 * torch.rand(m, 1, 1, 1, device=dev)
    return torch.minimum(sharp, torch.maximum(sharp - torch.cat([loss, loss * (0.4 + 0.5 * torch.rand_like(loss))], 1), floor))


def out_of_focus(pic, cover, sharp, p=0.25):
    """Blurs some of the pictures, each with the mask that cuts it out, and says that they are less sharp. A little out of focus (size 1) only the photo
    at its own size shows, not this picture."""
    for size, least, most in ((1, 0.05, 0.3), (3, 0.12, 0.3), (7, 0.15, 0.3)):
        on = (torch.rand(len(pic), device=pic.device) < p)[:, None, None, None]
        wide = F.avg_pool2d(cover, size, 1, size // 2)
        soft = F.avg_pool2d(pic * cover, size, 1, size // 2) / wide.clamp_min(1e-3)
        pic = torch.where(on & (wide > 1e-3), soft, pic)
        loss = least + (most - least) * torch.rand(len(pic), 1, 1, 1, device=pic.device)
        cover, sharp = torch.where(on, wide, cover), torch.where(on, softer(sharp, loss), sharp)
    return pic, cover, sharp


def neighbours(fine, extra, y, p=0.45):
    """Sets plants of other samples, with their pots, behind some plants: sharp or a little out of focus, of any size up to twice their own. What
    grows there is another plant."""
    n, dev = len(y), y.device
    leafy = (y == LEAF).float().mean((1, 2))
    on = torch.nonzero((torch.rand(n, device=dev) < p) & (leafy > 0.01) & (extra[:, 0].amax((1, 2)) > 0))[:, 0]
    donors = torch.nonzero(leafy > 0.02)[:, 0]
    if not len(on) or not len(donors):
        return fine, extra, y
    whole = fine, extra, y
    y, fine, extra = y.clone(), fine.clone(), extra.clone()
    h, w = y.shape[1:]
    for _ in range(2):
        m = len(on)
        if not m:
            break
        k = donors[torch.randint(len(donors), (m,), device=dev)]
        theirs, mine = whole[2][k], y[on]
        grows = ((theirs == LEAF) | (theirs == PART)).float()[:, None]
        cut = torch.maximum(grows, (theirs == POT).float()[:, None])
        there_x, there_y, there_spread = middle_of(grows[:, 0])
        x, up, spread = middle_of((mine == LEAF).float())
        # as large as this plant or smaller, within two or three of its spreads
        size = (spread / there_spread * torch.exp(bell(m, dev, 0.35)) * 0.8).clamp(0.25, 2.2)
        to_x, to_y = x + bell(m, dev, 1.6) * spread, up + bell(m, dev, 0.7) * spread - 0.2 * spread
        flip = torch.where(chance(m, 0.5, dev), -1.0, 1.0)
        zero = torch.zeros(m, device=dev)
        theta = torch.stack([torch.stack([flip / size, zero, there_x - flip * to_x / size], 1),
                             torch.stack([zero, 1 / size, there_y - to_y / size], 1)], 1)
        grid = F.affine_grid(theta, (m, 1, h, w), align_corners=False)
        cover, grows = F.grid_sample(torch.cat([cut, grows], 1), grid, align_corners=False).split(1, 1)
        gain = torch.exp(bell(m, dev, 0.2, 1, 1, 1) + bell(m, dev, 0.05, 3, 1, 1))
        pic = (F.grid_sample(whole[0][k], grid, align_corners=False) * gain).clamp(0, 1)
        sharp = F.grid_sample(whole[1][k][:, 2:], F.affine_grid(theta, (m, 1, h // 2, w // 2), align_corners=False), align_corners=False)
        pic, cover, sharp = out_of_focus(pic, cover, sharp)
        known = F.interpolate(F.max_pool2d(extra[on, :2].amax(1, keepdim=True), 5, 1, 2), scale_factor=2, mode="nearest")
        before = torch.maximum(((mine != 0) & (mine != OTHER))[:, None].float(), (known > 0.02).float())
        before = F.avg_pool2d(before, 3, 1, 1, count_include_pad=False)
        cover = cover * (1 - before)
        half = F.avg_pool2d(cover, 2)
        fine[on] = fine[on] * (1 - cover) + pic * cover
        extra[on] = torch.cat([extra[on, :2], extra[on, 2:] * (1 - half) + sharp * half], 1)
        new = torch.where(grows[:, 0] > 0.5, torch.full_like(mine, OTHER), torch.zeros_like(mine))
        free, cover = before[:, 0] < 0.5, cover[:, 0]
        y[on] = torch.where(free & (cover > 0.5), new, torch.where(free & (cover > 0.15), torch.full_like(mine, IGNORE), mine))
        on = on[chance(m, 0.5, dev)]
    return fine, extra, y


def uncard(extra, y, p=0.07):
    """Takes the knowledge of card and tag away from some samples: then every plant counts."""
    off = chance(len(y), p, y.device) & (extra[:, 0].amax((1, 2)) > 0)
    extra = torch.cat([extra[:, :2] * ~off[:, None, None, None], extra[:, 2:]], 1)
    return extra, torch.where(off[:, None, None], leaf_if_sharp(extra[:, 2:], y), y)


def light(fine, extra, strength=1.0):
    """What calibration leaves of cast and exposure (more of both where there is no card), uneven light, blur, noise; and doubt
    about how sharpness looks in photos of other sizes."""
    n, dev = len(fine), fine.device
    h, w = fine.shape[2:]
    one = (n, 1, 1, 1)
    bare = (extra[:, 0].amax((1, 2)) == 0).float().view(one)
    amount = 0.04 + 0.13 * bare
    v = fine.clamp(1e-4, 1) ** torch.exp(1.5 * amount * torch.randn(one, device=dev))
    v = v * ((1 + amount * torch.randn(one, device=dev)) * (1 + 0.6 * amount * torch.randn(n, 3, 1, 1, device=dev)))
    gray = v.mean(1, keepdim=True)
    v = torch.lerp(gray, v, torch.exp((0.08 + 0.15 * bare) * torch.randn(one, device=dev)))
    on = some(n, 0.35 * strength, dev)
    if len(on):
        v[on] = v[on] * torch.exp((smooth_noise(len(on), h, w, 3, dev) - 0.5) * 1.2 * torch.rand(len(on), 1, 1, 1, device=dev))
    on = some(n, 0.12 * strength, dev)
    if len(on):
        u = torch.rand(2, len(on), 1, 1, 1, device=dev)
        v[on] = v[on] * (1 - 0.6 * torch.sigmoid((smooth_noise(len(on), h, w, 5, dev) - 0.6) * (8 + 40 * u[0])) * u[1])
    d = extra[:, 2:]
    d = d * (1 + 0.06 * torch.randn(one, device=dev)) + 0.05 * torch.randn(one, device=dev) + 0.025 * torch.randn(n, 2, 1, 1, device=dev)
    on = some(n, 0.3 * strength, dev)
    if len(on):
        m = len(on)
        sigma = 0.35 + 1.3 * torch.rand(m, device=dev)
        t = torch.arange(-4, 5, device=dev).float()
        k = torch.exp(-t ** 2 / (2 * sigma[:, None] ** 2))
        k = (k / k.sum(1, keepdim=True)).repeat_interleave(3, 0)
        with torch.backends.cudnn.flags(benchmark=False):  # their number is another each time: no use to look for the fastest way
            b = F.conv2d(v[on].reshape(1, -1, h, w), k[:, None, None, :], padding=(0, 4), groups=3 * m)
            v[on] = F.conv2d(b, k[:, None, :, None], padding=(4, 0), groups=3 * m).view(m, 3, h, w)
        loss = torch.log2(1 + sigma.view(m, 1, 1, 1) * 2.5) / 10
        d[on] = d[on] - torch.cat([loss, loss * 0.4], 1)
    v = v + 0.02 * torch.rand(one, device=dev) * torch.randn_like(v)
    on = some(n, 0.2, dev)
    if len(on):
        d[on] = F.max_pool2d(d[on], 3, 1, 1)
    on = some(n, 0.25 * strength, dev)
    if len(on):  # leaves that come towards the camera or go back are a little softer than the card
        d[on] = d[on] - 0.16 * torch.rand(len(on), 1, 1, 1, device=dev) * torch.sigmoid((smooth_noise(len(on), *d.shape[2:], 3, dev) - 0.5) * 20)
    d = d * ~chance(n, 0.03 * strength, dev).view(one)
    return v.clamp(0, 1), torch.cat([extra[:, :2], d.clamp(0, 1)], 1)


def make_new(x, y, other=None, strength=1.0):
    """A batch as the network should see it. strength 1 is all of it; less towards the end of a training."""
    fine, extra = unpack(x)
    if other is not None:
        fine, extra, y = behind(fine, extra, y, other, 0.2 * strength)
    fine, extra, y = neighbours(fine, extra, y, 0.3 * (0.4 + 0.6 * strength))
    extra, y = uncard(extra, y)
    fine = recolour(fine, extra, y, 0.45 * (0.4 + 0.6 * strength))
    fine, extra, y = sticks(fine, extra, y, 0.05 * (0.4 + 0.6 * strength))
    fine, extra, y = warp(fine, extra, y, strength)
    fine, extra = light(fine, extra, strength)
    return inputs_of(fine, extra), y


def detail(green, h, w):
    """The two planes of sharpness, as internal/regions makes them, of a picture of greens 0..1."""
    out = []
    for g in (green, F.avg_pool2d(green, 2)):
        k = torch.tensor([[0, -1, 0], [-1, 4, -1], [0, -1, 0]], device=g.device, dtype=g.dtype).view(1, 1, 3, 3)
        d = F.conv2d(g, k).abs()
        d = F.adaptive_max_pool2d(F.pad(d, (1, 1, 1, 1)), (h, w))
        out.append((25.5 * torch.log2(1 + d * 255) / 255).clamp(0, 1))
    return torch.cat(out, 1)


def open_gaps(rgb, y):
    """In labels that were made by outline and hue, gaps between leaves count as leaf: where it is far darker than the leaves
    around, the label is withdrawn, and where it is nearly black there is no leaf."""
    v = torch.from_numpy(rgb.max(2)).float()[None, None]
    leaf = torch.from_numpy((y == LEAF))[None, None].float()
    k = max(y.shape) // 12 | 1
    mean = F.avg_pool2d(v * leaf, k, 1, k // 2) / F.avg_pool2d(leaf, k, 1, k // 2).clamp_min(0.02)
    dark = ((v < 0.3 * mean) | (v < 20))[0, 0].numpy()
    y[dark & (y == LEAF)] = IGNORE
    y[((v < 0.2 * mean) & (v < 48) | (v < 20))[0, 0].numpy() & ((y == LEAF) | (y == IGNORE))] = 0


class Photographs:
    """Free photographs with labels and cut-outs (train/photos), as an endless source of samples without card and tag.

    A few new samples are made each step into a store from which batches are drawn."""

    def __init__(self, folder, device, shapes, store=512, seed=11):
        from PIL import Image
        self.device, self.rng = device, np.random.default_rng(seed)
        self.pics, self.bare, self.cuts, self.held = [], [], [], []
        growing, self.weight = 0, []
        for name in sorted(glob.glob(os.path.join(folder, "*.jpg"))):
            label = name[:-4] + "_label.png"
            if not os.path.exists(label):
                continue
            rgb = np.array(Image.open(name).convert("RGB"))
            y = np.array(Image.open(label)).astype(np.uint8)
            grows = np.isin(y, (LEAF, PART, OTHER))
            if (y == LEAF).mean() > 0.02:
                open_gaps(rgb, y)
            t = torch.from_numpy(rgb).permute(2, 0, 1).contiguous().to(device), torch.from_numpy(y).to(device)
            if grows.mean() > 0.002:
                growing += 1
                (self.held if growing % 8 == 5 else self.pics).append(t)  # held: never trained on
                if growing % 8 != 5:  # much of one kind: textures of lawn
                    texture = os.path.basename(name).split("_")[0] in ("ground", "tex", "kart", "home")
                    self.weight.append(0.25 if texture else 1.0)
            else:
                self.bare.append(t)
        self.weight = np.array(self.weight) / sum(self.weight)
        kinds = {"leaf": LEAF, "part": PART, "rest": 0}
        for name in sorted(glob.glob(os.path.join(folder, "cutouts", "*.png"))):
            kind = os.path.basename(name).split("_")[0]
            if kind in kinds:
                a = np.array(Image.open(name).convert("RGBA"))
                self.cuts.append((torch.from_numpy(a).permute(2, 0, 1).contiguous().to(device), kinds[kind]))
        self.leafy = [i for i, c in enumerate(self.cuts) if c[1] == LEAF]
        self.shapes = shapes
        self.store = {s: [] for s in shapes}
        self.most = store

    def window(self, t, h, w, far=1.0):
        """A part of a photograph, turned a little, as picture 0..1 and classes."""
        rgb, y = t
        H, W = y.shape
        r = self.rng
        fit = min(W / w, H / h)
        zoom = fit * np.exp(r.uniform(np.log(0.28), 0)) * far
        a = r.normal(0, 0.12) if r.random() < 0.8 else r.uniform(-np.pi, np.pi)
        c, s = np.cos(a) * zoom, np.sin(a) * zoom
        flip = -1 if r.random() < 0.5 else 1
        cx = r.uniform(-1, 1) * max(0.0, 1 - zoom * w / W)
        cy = r.uniform(-1, 1) * max(0.0, 1 - zoom * h / H)
        theta = torch.tensor([[[flip * c * w / W, -s * h / W, cx], [flip * s * w / H, c * h / H, cy]]], dtype=torch.float32, device=self.device)
        grid = F.affine_grid(theta, (1, 1, h, w), align_corners=False)
        pic = F.grid_sample(rgb[None].float() / 255, grid, padding_mode="reflection", align_corners=False)
        lab = F.grid_sample(y[None, None].float(), grid, mode="nearest", padding_mode="reflection", align_corners=False)
        return pic, lab

    def blurred(self, pic, sigma):
        k = int(3 * sigma) | 1
        for _ in range(2):
            pic = F.avg_pool2d(F.pad(pic, (k // 2,) * 4, mode="replicate"), k, 1)
        return pic

    def compose(self, h, w):
        """Cut-outs scattered over a photograph or plain ground."""
        r, dev = self.rng, self.device
        kind = r.random()
        if kind < 0.5:
            pic, lab = self.window(self.bare[r.integers(len(self.bare))], h, w)
        elif kind < 0.7:
            pic, lab = self.window(self.pics[r.integers(len(self.pics))], h, w)
            pic = self.blurred(pic, r.uniform(6, 25))
            lab = torch.where(lab == 0, lab, torch.full_like(lab, OTHER))
        else:
            c = torch.tensor(r.uniform(0, 1, 3) ** 1.5, dtype=torch.float32, device=dev).view(1, 3, 1, 1)
            c = c if r.random() < 0.6 else c * 0 + c.mean()
            pic = c * (0.6 + 0.8 * smooth_noise(1, h, w, int(r.integers(2, 40)), dev))
            if r.random() < 0.45:  # blotches, stripes or checks of any colour, which are no leaves
                spread = r.uniform(0.05, 0.6)
                if r.random() < 0.6:
                    blots = torch.cat([smooth_noise(1, h, w, int(r.integers(3, 30)), dev) for _ in range(3)], 1) - 0.5
                    pic = pic + 2 * spread * blots
                else:
                    other = torch.tensor(r.uniform(0, 1, 3) ** 1.5, dtype=torch.float32, device=dev).view(1, 3, 1, 1)
                    ys = torch.arange(h, device=dev)[:, None] * 2 * np.pi / r.uniform(12, 160)
                    xs = torch.arange(w, device=dev)[None] * 2 * np.pi / r.uniform(12, 160)
                    wave = torch.sin(ys) * torch.sin(xs) if r.random() < 0.5 else torch.sin(ys * r.uniform(0, 1) + xs * r.uniform(-1, 1))
                    pic = torch.lerp(pic, other * (0.7 + 0.6 * smooth_noise(1, h, w, int(r.integers(2, 40)), dev)), torch.sigmoid(wave * r.uniform(1, 30)))
                pic = pic.clamp(0, 1)
            lab = torch.zeros(1, 1, h, w, device=dev)
        if kind < 0.5 and r.random() < 0.35:
            pic = self.blurred(pic, r.uniform(2, 15))
        if r.random() < 0.25:
            pic = pic * r.uniform(0.05, 0.6)
        many = r.random() < 0.35
        one = self.leafy[r.integers(len(self.leafy))]
        cls_map = lab
        for _ in range(int(r.integers(8, 28)) if many else int(r.integers(1, 6))):
            i = one if many and r.random() < 0.8 else int(r.integers(len(self.cuts))) if r.random() < 0.35 else self.leafy[r.integers(len(self.leafy))]
            cut, cls = self.cuts[i]
            H, W = cut.shape[1:]
            size = h * np.exp(r.uniform(np.log(0.12), np.log(0.45 if many else 1.0)))
            zoom = max(H, W) / size  # px of the cut-out a px of the picture
            a = r.normal(0, 0.3) if r.random() < 0.5 else r.uniform(-np.pi, np.pi)
            sx, sy = zoom * np.exp(r.normal(0, 0.12)), zoom
            ca, sa = np.cos(a), np.sin(a)
            fl = -1 if r.random() < 0.5 else 1
            px, py = r.uniform(-1, 1), r.uniform(-1, 1)
            m = np.array([[fl * ca * sx * w / W, -fl * sa * sx * h / W], [sa * sy * w / H, ca * sy * h / H]])
            off = -m @ np.array([px, py])
            theta = torch.tensor(np.concatenate([m, off[:, None]], 1)[None], dtype=torch.float32, device=dev)
            grid = F.affine_grid(theta, (1, 1, h, w), align_corners=False)
            q = F.grid_sample(cut[None].float() / 255, grid, padding_mode="zeros", align_corners=False)
            alpha = q[:, 3:]
            rgb = q[:, :3] / alpha.clamp_min(0.2)
            gain = torch.tensor(np.exp(r.normal(0, 0.12, 3) + r.normal(0, 0.25)), dtype=torch.float32, device=dev).view(1, 3, 1, 1)
            rgb = (rgb * gain).clamp(0, 1)
            if r.random() < 0.5:
                d = int(r.integers(1, 14))
                shade = self.blurred(torch.roll(alpha, (d, int(r.integers(-d, d + 1))), (2, 3)), 1 + d / 2)
                pic = pic * (1 - r.uniform(0.1, 0.7) * shade)
            pic = pic * (1 - alpha) + rgb * alpha
            cls_map = torch.where(alpha > 0.5, torch.full_like(cls_map, cls), cls_map)
        return pic.clamp(0, 1), cls_map

    def one(self, shape):
        """A sample of a fine picture twice the shape, drawn a quarter larger so that sharpness shows."""
        h, w = shape
        H, W = h * 5 // 2, w * 5 // 2
        kind = self.rng.random()
        if kind < 0.4:
            pic, lab = self.window(self.pics[self.rng.choice(len(self.pics), p=self.weight)], H, W)
        elif kind < 0.5:
            pic, lab = self.window(self.bare[self.rng.integers(len(self.bare))], H, W)
        else:
            pic, lab = self.compose(H, W)
        fine = F.interpolate(pic, (2 * h, 2 * w), mode="bilinear", antialias=True, align_corners=False)
        y = F.interpolate(lab, (2 * h, 2 * w), mode="nearest")[0, 0].round().to(torch.uint8)
        extra = torch.cat([torch.zeros(1, 2, h, w, device=self.device), detail(pic[:, 1:2], h, w)], 1)
        x = (inputs_of(fine, extra) * 1)
        x = torch.cat([x[:, :12] * 128 + 127, x[:, 12:] * 255], 1).round().clamp(0, 255).to(torch.uint8)[0]
        return x, y

    @torch.no_grad()
    def more(self, shape, n):
        s = self.store[shape]
        for _ in range(n):
            v = self.one(shape)
            if len(s) < self.most:
                s.append(v)
            else:
                s[self.rng.integers(len(s))] = v

    def batch(self, shape, n):
        s = self.store[shape]
        picks = [s[self.rng.integers(len(s))] for _ in range(n)]
        return torch.stack([p[0] for p in picks]), torch.stack([p[1] for p in picks])
