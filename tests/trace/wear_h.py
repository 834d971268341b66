"""What paper, scanner and file do to a drawing of hand h."""

from __future__ import annotations

import io

import numpy as np
import shapely
from PIL import Image
from scipy.ndimage import gaussian_filter
from sheet_h import Sheet

ON_SHEET = (
    "title block",
    "dimensions",
    "hatching",
    "centre lines",
    "lettering",
    "panel lines",
    "crossing lines",
    "filled",
    "hatched",
)
SCANS = ("gaps", "turned", "grey", "noisy", "yellowed", "jpeg")
FILES = ("svg", "pdf", "dxf", "webp")
VECTOR = frozenset({"svg", "pdf", "dxf"})
# A silhouette has no lines inside it; a vector file has no scanner's faults; each pair would be one fault twice.
NEVER_BOTH = [
    {"filled", "hatched"}, {"filled", "hatching"}, {"filled", "panel lines"}, {"filled", "gaps"}, {"hatched", "hatching"},
    {"hatched", "panel lines"}, {"grey", "yellowed"}, {"jpeg", "webp"},
    *({v, s} for v in VECTOR for s in SCANS), *({a, b} for a in FILES for b in FILES if a != b),
]  # fmt: skip


def choose(rng: np.random.Generator, number: int) -> tuple[tuple[str, ...], str]:
    """Disturbances and the file of a drawing: every third is clean, the others have one to three."""
    if number % 3 == 0:
        return (), "png"
    every = [*ON_SHEET, *SCANS, *FILES]
    few: list[str] = []
    for w in rng.permutation(every):
        if len(few) < 1 + number // 3 % 3 and not any({w, o} in NEVER_BOTH for o in few):
            few.append(str(w))
    file = next((w for w in few if w in FILES), "jpg" if "jpeg" in few else "png")
    return tuple(w for w in every if w in few and w not in FILES), file


def gaps(img: Image.Image, sheet: Sheet, pen: float, rng: np.random.Generator) -> Image.Image:
    """Places where a line has gone, a few pens long."""
    a = np.array(img)
    lines = [s.points for s in sheet.strokes if s.layer in sheet.to_px]
    long = np.array([np.hypot(*np.diff(p, axis=0).T).sum() for p in lines])
    yy, xx = np.mgrid[: a.shape[0], : a.shape[1]]
    for i in rng.choice(len(lines), int(rng.integers(10, 26)), p=long / long.sum()):
        at = shapely.get_coordinates(shapely.LineString(lines[i]).interpolate(rng.random(), normalized=True))[
            0
        ]
        r = pen * rng.uniform(0.8, 2.0)
        x0, y0 = (int(max(v - r - 2, 0)) for v in at)
        part = (slice(y0, int(at[1] + r + 3)), slice(x0, int(at[0] + r + 3)))
        a[part][np.hypot(xx[part] - at[0], yy[part] - at[1]) < r] = 255
    return Image.fromarray(a)


def turn(img: Image.Image, rng: np.random.Generator) -> tuple[Image.Image, float]:
    """A sheet laid askew on the glass, one in four also sideways or on its head; degrees counter-clockwise."""
    angle = float(rng.uniform(0.4, 4.0) * rng.choice([-1, 1]))
    if rng.random() < 0.25:
        angle = angle / 4 + float(rng.choice([90, 180, 270]))
    return img.rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor=255), angle


def grey(img: Image.Image, rng: np.random.Generator) -> Image.Image:
    """A pencil print: grey lines on a grey, unevenly lit ground."""
    a = np.asarray(img, float) / 255
    ground, line = rng.uniform(175, 235), rng.uniform(40, 105)
    h, w = a.shape
    light = np.linspace(-1, 1, w)[None, :] * rng.uniform(-14, 14) + np.linspace(-1, 1, h)[
        :, None
    ] * rng.uniform(-14, 14)
    return Image.fromarray(np.clip(line + (ground - line) * a + light * a, 0, 255).astype(np.uint8))


def noisy(img: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Grain all over and specks here and there."""
    a = np.asarray(img, float)
    a = a + rng.normal(0, rng.uniform(6, 22), a.shape[:2] + (1,) * (a.ndim - 2))
    specks = rng.random(a.shape[:2]) < rng.uniform(0.00003, 0.0004)
    specks |= np.roll(specks, 1, 0) & (rng.random(a.shape[:2]) < 0.5)
    a[specks] = rng.uniform(0, 120)
    return Image.fromarray(np.clip(a, 0, 255).astype(np.uint8))


def yellowed(img: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Old paper: yellow, browner towards the edges, with stains; ink gone brown."""
    a = np.asarray(img.convert("L"), float) / 255
    paper, ink = (
        np.array([238, 222, 178]) + rng.uniform(-12, 8, 3),
        np.array([60, 45, 35]) + rng.uniform(-15, 25),
    )
    h, w = a.shape
    small = gaussian_filter(rng.normal(0, 1, (h // 16 + 1, w // 16 + 1)), 0.06 * h / 16 + 2)
    small *= 10 / max(float(np.abs(small).max()), 1e-9)
    stain = np.asarray(Image.fromarray(small.astype(np.float32)).resize((w, h), Image.Resampling.BILINEAR))
    y, x = np.ogrid[:h, :w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y)) / max(h, w)
    dark = stain - 28 * np.exp(-edge / 0.03)
    rgb = ink + (paper + dark[..., None] - ink) * a[..., None]
    return Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))


def jpeg(img: Image.Image, rng: np.random.Generator) -> Image.Image:
    """Saved a time or two too often."""
    for quality in rng.integers(28, 60, int(rng.integers(1, 3))):
        kept = io.BytesIO()
        img.save(kept, "JPEG", quality=int(quality))
        img = Image.open(kept)
        img.load()
    return img
