#!/usr/bin/env python3
"""Make training pictures and labels from the unpacked packages of fetch.sh.

usage: make.py UNPACKED OUT [--only NAME ...]

UNPACKED holds one folder a package, as fetch.sh leaves it. For each entry of recipes.json OUT gets
NAME.jpg and NAME_label.png (0 rest, 1 leaf, 2 other part, 4 pot, 255 ignore), or, for a cut-out, cutouts/KIND_NAME.png (RGBA);
OUT/list.json says what is what. README.md describes the recipes. Needs Pillow and numpy.
"""

import argparse
import bz2
import io
import json
import struct
import sys
import zipfile
import zlib
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageOps

IGNORE = 255
JPEG_QUALITY = 85
PHOTO_LONG_SIDE = 1024  # px
CUTOUT_LONG_SIDE = 320  # px; they are pasted into scenes of about 512 px
CUTOUT_OF_CLASS = {0: "rest", 1: "leaf", 2: "part"}
Image.MAX_IMAGE_PIXELS = None  # wallpapers are large, and the packages are known


# ---- finding the picture inside the package -------------------------------------------------

def rcc_member(blob, wanted):
    """Return one file of a compiled Qt resource archive (format versions 1 to 3)."""
    if blob[:4] != b"qres":
        raise ValueError("not a Qt resource archive")
    version, tree, data, names = struct.unpack(">IIII", blob[4:20])
    step = 22 if version >= 2 else 14

    def node(i):
        at = tree + i * step
        name_at, flags = struct.unpack(">IH", blob[at:at + 6])
        length = struct.unpack(">H", blob[names + name_at:names + name_at + 2])[0]
        start = names + name_at + 6
        name = blob[start:start + 2 * length].decode("utf-16be")
        return name, flags, blob[at + 6:at + 14]

    at = 0
    for part in wanted.strip("/").split("/"):
        _, flags, rest = node(at)
        if not flags & 2:
            raise KeyError(wanted)
        count, first = struct.unpack(">II", rest)
        at = next((k for k in range(first, first + count) if node(k)[0] == part), None)
        if at is None:
            raise KeyError(wanted)
    _, flags, rest = node(at)
    start = data + struct.unpack(">HHI", rest)[2]
    length = struct.unpack(">I", blob[start:start + 4])[0]
    content = blob[start + 4:start + 4 + length]
    if flags & 1:  # zlib, after four bytes that hold the length
        content = zlib.decompress(content[4:])
    return content


def embedded_jpeg(blob, wanted):
    """Return the first JPEG of size WxH inside a compiled theme file, which stores JPEG streams as they are."""
    width, height = (int(n) for n in wanted.split("x"))
    at = blob.find(b"\xff\xd8\xff")
    while at >= 0:
        try:
            if Image.open(io.BytesIO(blob[at:])).size == (width, height):
                return blob[at:]
        except OSError:
            pass  # the three bytes turned up inside other data
        at = blob.find(b"\xff\xd8\xff", at + 3)
    raise KeyError(wanted)


def open_picture(unpacked, entry):
    path = Path(unpacked) / entry["package"] / entry["file"]
    inside = entry.get("inside")
    if path.suffix == ".dat":  # raw RGB bytes, bz2; `inside` gives the size
        width, height = (int(n) for n in inside.split("x"))
        return Image.frombytes("RGB", (width, height), bz2.decompress(path.read_bytes()))
    if inside is None:
        picture = Image.open(path)
    elif path.suffix == ".rcc":
        picture = Image.open(io.BytesIO(rcc_member(path.read_bytes(), inside)))
    elif path.suffix == ".edj":
        picture = Image.open(io.BytesIO(embedded_jpeg(path.read_bytes(), inside)))
    else:
        with zipfile.ZipFile(path) as archive:
            picture = Image.open(io.BytesIO(archive.read(inside)))
    picture.load()
    return ImageOps.exif_transpose(picture)


# ---- labels ----------------------------------------------------------------------------------

def lab(picture, blur):
    """CIE L*, chroma and hue angle (degrees) of an sRGB picture, D65."""
    if blur:
        picture = picture.filter(ImageFilter.GaussianBlur(blur))
    rgb = np.asarray(picture, np.float32) / 255
    rgb = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    xyz = rgb @ np.array([[0.4124, 0.2126, 0.0193], [0.3576, 0.7152, 0.1192], [0.1805, 0.0722, 0.9505]], np.float32)
    xyz /= np.array([0.9505, 1.0, 1.089], np.float32)
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), xyz * (24389 / 27 / 116) + 16 / 116)
    a, b = 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])
    return 116 * f[..., 1] - 16, np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360


def inside_shapes(size, shapes):
    """A mask of shapes: polygons (lists of [x, y]) or ellipses ([x0, y0, x1, y1]), in thousandths of width and height."""
    mask = Image.new("L", size, 0)
    draw = ImageDraw.Draw(mask)
    sx, sy = size[0] / 1000, size[1] / 1000
    for shape in shapes:
        if isinstance(shape[0], list):
            draw.polygon([(x * sx, y * sy) for x, y in shape], fill=255)
        else:
            x0, y0, x1, y1 = shape
            draw.ellipse([x0 * sx, y0 * sy, x1 * sx, y1 * sy], fill=255)
    return np.asarray(mask) > 0


def within(values, limits):
    low, high = limits
    return (values >= low) & (values <= high)


def step_mask(step, size, colour):
    """Where one step of a recipe applies: inside its shapes and within all of its colour limits."""
    light, chroma, hue = colour
    mask = np.ones((size[1], size[0]), bool)
    if "in" in step:
        mask &= inside_shapes(size, step["in"])
    if "out" in step:
        mask &= ~inside_shapes(size, step["out"])
    if "L" in step:
        mask &= within(light, step["L"])
    if "C" in step:
        mask &= within(chroma, step["C"])
    if "h" in step:
        low, high = step["h"]
        mask &= within(hue, (low, high)) if low <= high else (hue >= low) | (hue <= high)
    return mask


def near_border(label, reach):
    """Pixels within reach px of a change of class."""
    changes = np.zeros(label.shape, bool)
    changes[:, 1:] |= label[:, 1:] != label[:, :-1]
    changes[1:, :] |= label[1:, :] != label[:-1, :]
    grown = Image.fromarray((changes * 255).astype(np.uint8)).filter(ImageFilter.MaxFilter(2 * reach + 1))
    return np.asarray(grown) > 0


def make_label(picture, recipe):
    colour = lab(picture, recipe.get("blur", 1.0))
    label = np.full((picture.height, picture.width), recipe["base"], np.uint8)
    for step in recipe.get("steps", []):
        mask = step_mask(step, picture.size, colour)
        if "over" in step:
            mask &= np.isin(label, step["over"])
        label[mask] = step["set"]
    if recipe.get("clean"):
        # twice: specks go, and what they leave is made even
        smooth = Image.fromarray(label)
        for _ in range(2):
            smooth = smooth.filter(ImageFilter.ModeFilter(recipe["clean"]))
        label = np.array(smooth)
    if recipe.get("border"):
        label[near_border(label, recipe["border"])] = IGNORE
    return label


# ---- writing ---------------------------------------------------------------------------------

def shrunk(picture, long_side):
    scale = long_side / max(picture.size)
    if scale >= 1:
        return picture
    size = tuple(max(1, round(n * scale)) for n in picture.size)
    return picture.resize(size, Image.LANCZOS)


def cropped(picture, entry):
    if "crop" not in entry:
        return picture
    x0, y0, x1, y1 = entry["crop"]
    w, h = picture.size
    return picture.crop((round(x0 * w / 1000), round(y0 * h / 1000), round(x1 * w / 1000), round(y1 * h / 1000)))


def write_entry(unpacked, out, entry):
    picture = cropped(open_picture(unpacked, entry), entry)
    name, kind = entry["name"], entry["kind"]
    if kind == "cutout":
        cut = shrunk(picture.convert("RGBA"), entry.get("long_side", CUTOUT_LONG_SIDE))
        if "opaque_above" in entry:  # alpha that games keep soft: make it firm
            alpha = cut.getchannel("A").point(lambda a, t=entry["opaque_above"]: 255 if a > t else 0)
            cut.putalpha(alpha)
        seen = cut.getchannel("A").point(lambda a: 255 if a else 0)
        # colours that alpha hides would only cost bytes
        cut = Image.composite(cut, Image.new("RGBA", cut.size), seen)
        (out / "cutouts").mkdir(exist_ok=True)
        cut.save(out / "cutouts" / f"{CUTOUT_OF_CLASS[entry['class']]}_{name}.png", optimize=True)
        return {"name": name, "kind": kind, "class": entry["class"], "of": entry["of"]}
    small = shrunk(picture.convert("RGB"), entry.get("long_side", PHOTO_LONG_SIDE))
    label = make_label(small, entry["recipe"])
    small.save(out / f"{name}.jpg", quality=JPEG_QUALITY)
    Image.fromarray(label).save(out / f"{name}_label.png", optimize=True)
    shares = {str(c): round(float((label == c).mean()), 4) for c in np.unique(label)}
    return {"name": name, "kind": kind, "shares": shares}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("unpacked")
    parser.add_argument("out")
    parser.add_argument("--recipes", default=Path(__file__).with_name("recipes.json"))
    parser.add_argument("--only", nargs="*", default=None, help="names to make; all when left out")
    args = parser.parse_args()
    entries = json.loads(Path(args.recipes).read_text(encoding="utf-8"))["entries"]
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    made, failed = [], []
    for entry in entries:
        if args.only is not None and entry["name"] not in args.only:
            continue
        try:
            made.append(write_entry(args.unpacked, out, entry))
        except (OSError, KeyError, ValueError, zipfile.BadZipFile) as problem:
            failed.append(entry["name"])
            print(f"{entry['name']}: {entry['package']}/{entry['file']}: {problem!r}", file=sys.stderr)
    if args.only is None:
        (out / "list.json").write_text(json.dumps(made, indent=0), encoding="utf-8")
    print(f"{len(made)} made, {len(failed)} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
