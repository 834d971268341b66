"""The seventh hand's sheet: a picture drawn some times too large with shapes, lines and words, then shrunk and spoilt."""

from __future__ import annotations

import io
import random

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFont
from planes_g import Shape
from sheet_d import FONT, Points, on_page

XY = tuple[float, float]


class Canvas:
    """Black on white. All measures in pixels of the finished picture."""

    def __init__(self, size: tuple[int, int], fine: int, pen: float, thin: float) -> None:
        self.size, self.fine, self.pen, self.thin = size, fine, pen, thin
        self.image = Image.new("L", (size[0] * fine, size[1] * fine), 255)
        self._draw = ImageDraw.Draw(self.image)
        self.font = ImageFont.load_default()
        self.letters = 0

    def letter(self, high: int) -> None:
        """Choose the height of letters."""
        self.letters = high
        self.font = ImageFont.truetype(FONT, high * self.fine)

    def line(self, points: Points | list[XY], pen: float, *, closed: bool = False) -> None:
        """A stroke with round ends."""
        q = [tuple(t) for t in np.asarray(points, float) * self.fine]
        if closed:
            q += q[:2]
        self._draw.line(q, fill=0, width=max(1, round(pen * self.fine)), joint="curve")
        if pen * self.fine / 2 > 1:
            for end in (q[0], q[-1]):
                self._disc(end, pen * self.fine / 2, 0)

    def lines(self, to: Points, g: shapely.Geometry, pen: float) -> None:
        """Strokes along a geometry's lines in mm."""
        for q in shapely.get_parts(g):
            if q.geom_type == "LineString" and not q.is_empty:
                self.line(on_page(to, np.array(q.coords)), pen)

    def _disc(self, at: tuple[float, ...], radius: float, grey: int) -> None:
        x, y = at
        self._draw.ellipse([x - radius, y - radius, x + radius, y + radius], fill=grey)

    def rub(self, at: Points, radius: float) -> None:
        x, y = at
        r, k = radius, self.fine
        self._draw.ellipse([(x - r) * k, (y - r) * k, (x + r) * k, (y + r) * k], fill=255)

    def fill(self, points: Points, grey: int) -> None:
        self._draw.polygon([tuple(t) for t in points * self.fine], fill=grey)

    def box(
        self, x0: float, y0: float, x1: float, y1: float, *, pen: float = 0.0, paper: bool = True
    ) -> None:
        """A rectangle of paper, ruled round with a pen where one is given."""
        corners = [v * self.fine for v in (x0, y0, x1, y1)]
        how = {"outline": 0, "width": round(pen * self.fine)} if pen else {}
        self._draw.rectangle(corners, fill=255 if paper else None, **how)

    def text(self, at: Points | XY, said: str, anchor: str = "mm") -> None:
        self._draw.text((at[0] * self.fine, at[1] * self.fine), said, font=self.font, fill=0, anchor=anchor)

    def half_width(self, said: str) -> float:
        return self.font.getbbox(said)[2] / self.fine / 2

    def shapes(self, to: Points, shapes: list[Shape], style: str) -> None:
        """A view: each shape over those before it, all as wires, or the outline of all."""
        union = shapely.union_all([s.area for s in shapes if s.closed]) if style == "union" else None
        for s in shapes:
            q = on_page(to, s.points)
            if s.outlined:
                self.line(q, self.thin, closed=True)
            elif union is not None and not s.closed:
                self.lines(to, shapely.LineString(s.points).difference(union), self.pen)
            elif union is None:
                if s.closed and style == "over":
                    self.fill(q, 255)
                self.line(q, self.pen, closed=s.closed)
        for area in shapely.get_parts(union) if union is not None else []:
            for ring in (area.exterior, *area.interiors):
                self.line(on_page(to, np.array(ring.coords)[:-1]), self.pen, closed=True)

    def shrunk(self) -> Image.Image:
        how = Image.Resampling.LANCZOS if self.fine > 1 else Image.Resampling.NEAREST
        return self.image.resize(self.size, how)


def spoilt(
    img: Image.Image, wear: tuple[str, ...], rng: random.Random, noise: np.random.Generator
) -> tuple[Image.Image, float]:
    """What scanning, copying and age do; the turn given, degrees counter-clockwise."""
    angle = 0.0
    if "rotated" in wear:
        angle = rng.choice([-1, 1]) * rng.uniform(0.5, 8)
        img = img.rotate(angle, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)
    grey = np.asarray(img).astype(float)
    h, w = grey.shape
    across, down = np.linspace(0, 1, w)[None, :], np.linspace(0, 1, h)[:, None]
    if "grey" in wear:
        paper = rng.uniform(150, 210)
        shade = across * rng.uniform(-35, 35), down * rng.uniform(-35, 35)
        ink = rng.uniform(20, 70)
        grey = ink + (paper + shade[0] + shade[1] - ink) * grey / 255
    if "noisy" in wear:
        grey = grey * 0.92 + 8 + noise.normal(0, rng.uniform(8, 22), grey.shape)
    if "peppered" in wear:
        where, share = noise.random(grey.shape), rng.uniform(0.001, 0.006)
        grey = np.where(where < share, 0, np.where(where > 1 - share, 255, grey))
    out = np.clip(grey, 0, 255).astype(np.uint8)
    if "yellowed" in wear:
        fade = (across + down) * rng.uniform(0, 12)
        few = Image.fromarray((noise.random((8, 8)) * 255).astype(np.uint8))
        blots = np.array(few.resize((w, h), Image.Resampling.BICUBIC)).astype(float) / 255 * 14
        paper = np.stack([235 - fade - blots, 222 - fade - blots, 180 - fade - 1.3 * blots], -1)
        ink = np.array([60, 50, 45.0])
        colour = ink + (paper - ink) * (out[..., None] / 255.0)
        out = np.clip(colour + noise.normal(0, 3, colour.shape), 0, 255).astype(np.uint8)
    img = Image.fromarray(out)
    if "jpeg" in wear:
        file = io.BytesIO()
        img.save(file, "JPEG", quality=rng.randint(40, 90))
        img = Image.open(io.BytesIO(file.getvalue())).convert("L")
    return img, angle
