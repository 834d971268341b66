"""The sixth hand's sheet: how the views lie on it, how it is painted, spoilt as a scanner does, or written to a file."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from parts_f import Plane, Shape
from PIL import Image, ImageFilter
from shapely.geometry import LineString, Polygon
from sheet_d import Points, on_page

VIEWS = ("top", "side", "front")
FILES = ("png", "jpg", "webp", "pdf", "svg", "dxf")
SCANNED = frozenset({"rotated", "grey", "noisy", "yellowed"})  # only a picture of pixels can be spoilt so
DASH_DOT = (12, 3, 2, 3)

TOP = {
    "left": np.array([[1, 0], [0, 1.0]]),
    "right": np.array([[-1, 0], [0, 1.0]]),
    "up": np.array([[0, 1.0], [1, 0]]),
    "down": np.array([[0, 1.0], [-1, 0]]),
}
SIDE = {
    "left": np.array([[1, 0], [0, -1.0]]),
    "right": np.array([[-1, 0], [0, -1.0]]),
    "up": np.array([[0, 1.0], [1, 0]]),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    points: Points
    pen: float
    dashed: bool = False


@dataclass(slots=True, kw_only=True)
class Sheet:
    """Strokes and words in pixels of the flat page, y down. to: (2, 3) from a view's plane in mm to pixels."""

    size: tuple[int, int]
    to: dict[str, Points]
    noses: dict[str, str]
    pen: float
    span_px: float
    strokes: list[Stroke] = field(default_factory=list)
    words: list[tuple[Points, str, float, int]] = field(default_factory=list)  # middle, text, height, turn

    @property
    def thin(self) -> float:
        return max(1.0, self.pen * 0.45)

    def line(self, points: Points, pen: float | None = None) -> None:
        self.strokes.append(Stroke(points=np.asarray(points, float), pen=self.thin if pen is None else pen))

    def lines(self, g: shapely.Geometry, longer: float = 0.0) -> None:
        """Thin strokes along a geometry's lines of more than a length."""
        for q in shapely.get_parts(g):
            if q.geom_type == "LineString" and q.length > longer:
                self.line(np.array(q.coords))


def seen(shapes: list[Shape], wire: bool) -> list[tuple[Points, float]]:
    """What is drawn of a view, each line with its share of the pen: all of it, or what no later shape covers."""
    out = []
    for i, s in enumerate(shapes):
        figure = s.geometry.geom_type == "Polygon"
        rim = LineString(s.geometry.exterior.coords) if figure else s.geometry
        if not wire:
            covers = [o.geometry for o in shapes[i + 1 :] if o.covers and isinstance(o.geometry, Polygon)]
            rim = rim.difference(shapely.union_all(covers).buffer(-1e-6)) if covers else rim
        parts = shapely.get_parts(rim)
        out += [(np.array(q.coords), s.pen) for q in parts if q.geom_type == "LineString" and q.length > 1e-6]
    return out


# ---- layout ---------------------------------------------------------------------------------------------------------
IN_LINE = ("top over side", "side over top")
LAYOUTS = (IN_LINE[0], "nose up or down", "row", "column", IN_LINE[1], "grid")


def arrangement(rng: np.random.Generator) -> tuple[str, dict[str, str]]:
    """A layout, and which way the noses of the top and the side view point."""
    layout = str(rng.choice(LAYOUTS, p=[0.28, 0.26, 0.14, 0.12, 0.1, 0.1]))
    if layout in IN_LINE:
        top = "left"
    elif layout == "nose up or down":
        top = str(rng.choice(["up", "down"]))
    else:
        top = str(rng.choice(["left", "right", "up", "down"], p=[0.35, 0.15, 0.35, 0.15]))
    side = "right" if rng.random() < 0.25 else "left"
    if layout in IN_LINE:
        top = side = "right" if rng.random() < 0.25 else "left"
    if layout == "nose up or down" and top == "up" and rng.random() < 0.15:
        side = "up"
    return layout, {"top": top, "side": side}


def places(
    rng: np.random.Generator, layout: str, nose: str, boxes: dict[str, tuple[Points, Points]], gap: float
) -> dict[str, Points]:
    """Where each view's own zero goes. nose: of the side view; boxes: corners of the turned views. [mm]"""
    low = {v: b[0] for v, b in boxes.items()}
    high = {v: b[1] for v, b in boxes.items()}
    size = {v: high[v] - low[v] for v in boxes}
    at: dict[str, Points] = {}
    if layout in IN_LINE:
        first, second = ("top", "side") if layout == IN_LINE[0] else ("side", "top")
        x = -min(low["top"][0], low["side"][0])
        at[first] = np.array([x, -low[first][1]])
        at[second] = np.array([x, size[first][1] + gap - low[second][1]])
        right = max(high["top"][0], high["side"][0]) + x
        at["front"] = np.array([right + gap - low["front"][0], at["side"][1]])
    elif layout == "nose up or down":
        first, second = ("front", "top") if rng.random() < 0.35 else ("top", "front")
        left = min(low["top"][0], low["front"][0])
        at[first] = np.array([-left, -low[first][1]])
        at[second] = np.array([-left, size[first][1] + gap - low[second][1]])
        right = max(high["top"][0], high["front"][0]) - left
        beside = "top" if nose == "up" else "front"
        at["side"] = np.array([right + gap - low["side"][0], at[beside][1]])
    elif layout in {"row", "column"}:
        done, run = 0.0, 0 if layout == "row" else 1
        across = 1 - run
        wide = max(s[across] for s in size.values())
        for v in rng.permutation(list(VIEWS)):
            p = np.zeros(2)
            p[run] = done - low[v][run]
            p[across] = (wide - size[v][across]) * rng.choice([0, 0.5]) - low[v][across]
            at[str(v)] = p
            done += size[v][run] + gap
    else:
        order = [str(v) for v in rng.permutation(list(VIEWS))]
        cells = [(0, 0), (1, 0), (0, 1)] if rng.random() < 0.5 else [(0, 0), (1, 0), (1, 1)]
        cell = np.max(list(size.values()), axis=0) + gap
        for v, c in zip(order, cells, strict=True):
            at[v] = c * cell + (cell - gap - size[v]) * 0.5 - low[v]
    return at


def laid_out(
    rng: np.random.Generator, plane: Plane, wear: tuple[str, ...]
) -> tuple[Sheet, str, dict[str, list[tuple[Points, float]]]]:
    """The plane's views on a sheet, the layout's name, and each view's lines in mm."""
    span = plane.span_mm
    lines = {v: seen(plane.shapes(v), plane.wire) for v in VIEWS}
    layout, noses = arrangement(rng)
    turns = {"top": TOP[noses["top"]], "side": SIDE[noses["side"]], "front": SIDE["left"]}
    boxes = {}
    for v in VIEWS:
        every = np.vstack([p @ turns[v].T for p, _ in lines[v]])
        boxes[v] = (every.min(0), every.max(0))
    at = places(rng, layout, noses["side"], boxes, span * rng.uniform(0.05, 0.2))
    low = np.min([at[v] + boxes[v][0] for v in VIEWS], axis=0)
    high = np.max([at[v] + boxes[v][1] for v in VIEWS], axis=0)
    margin = span * rng.uniform(0.04, 0.15) + (span * 0.08 if "dimensions" in wear else 0.0)
    page = high - low + 2 * margin + [0, span * 0.16 if "title" in wear else 0]
    longest = rng.choice(
        [700, 1000, 1400, 2000, 2800, 3800, 5000], p=[0.08, 0.17, 0.22, 0.23, 0.16, 0.09, 0.05]
    )
    scale = max(longest / page.max(), 400 / span)  # px per mm
    most = max(1.0, span * scale * 0.006)
    sheet = Sheet(
        size=(int(np.ceil(page[0] * scale)), int(np.ceil(page[1] * scale))),
        to={v: np.c_[turns[v] * scale, (at[v] - low + margin) * scale] for v in VIEWS},
        noses=noses,
        pen=float(np.clip(rng.choice([1, 1.5, 2, 3, 4, 5, 7, 9]), 1, most)),
        span_px=span * scale,
    )
    for v in VIEWS:
        for p, share in lines[v]:
            sheet.line(on_page(sheet.to[v], p), max(1.0, sheet.pen * (1.0 if plane.bare else share)))
    return sheet, layout, lines


# ---- paint and files ------------------------------------------------------------------------------------------------
def _figure(sheet: Sheet, smooth: bool) -> object:
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    w, h = sheet.size
    f = plt.figure(figsize=(w / 100, h / 100), dpi=100, facecolor="white")
    axes = f.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, w)
    axes.set_ylim(h, 0)
    axes.axis("off")
    for s in sheet.strokes:
        axes.plot(
            *s.points.T,
            color="black",
            lw=s.pen * 0.72,  # points an inch to pixels
            antialiased=smooth,
            solid_capstyle="round",
            solid_joinstyle="round",
            ls=(0, DASH_DOT) if s.dashed else "-",
        )
    for (x, y), said, high, turn in sheet.words:
        size = max(high, 7) * 0.72
        axes.text(x, y, said, fontsize=size, color="black", rotation=turn, ha="center", va="center")
    return f


def paint(sheet: Sheet, smooth: bool) -> Image.Image:
    import matplotlib.pyplot as plt

    f = _figure(sheet, smooth)
    f.canvas.draw()
    pixels = np.asarray(f.canvas.buffer_rgba())[:, :, :3].copy()
    plt.close(f)
    return Image.fromarray(pixels)


def spoil(
    img: Image.Image, wear: tuple[str, ...], rng: np.random.Generator, smooth: bool, file: str
) -> tuple[Image.Image, float]:
    """What the scanner does; the turn it gave, degrees counter-clockwise."""
    img = img.convert("L")
    paper, ink, angle = np.array([255.0] * 3), np.zeros(3), 0.0
    if "rotated" in wear:
        angle = float(rng.choice([-1, 1]) * rng.choice([rng.uniform(0.4, 2), rng.uniform(2, 6)]))
        pixels = np.asarray(img).astype(float) / 255
        flat = Image.fromarray((pixels * 255).astype("uint8"))
        img = flat.rotate(angle, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)
    light = np.asarray(img).astype(float) / 255
    if "grey" in wear:
        paper = np.array([rng.uniform(190, 235)] * 3)
        ink = np.array([rng.uniform(60, 130)] * 3)
    if "yellowed" in wear:
        paper = np.array([rng.uniform(225, 245), rng.uniform(205, 225), rng.uniform(150, 185)])
        ink = np.array([60, 45, 35.0]) + rng.uniform(0, 30)
    h, w = light.shape
    yy, xx = np.mgrid[0:h, 0:w]
    out = paper * light[..., None] + ink * (1 - light[..., None])
    if "yellowed" in wear:
        few = Image.fromarray(rng.normal(0, 1, (8, 8)).astype("float32"))
        out *= (1 + 0.05 * np.asarray(few.resize((w, h), Image.Resampling.BICUBIC)))[..., None]
        out *= (1 - 0.15 * ((xx / w - 0.5) ** 2 + (yy / h - 0.5) ** 2))[..., None]
    if "grey" in wear:
        out *= (1 - rng.uniform(0, 0.15) * xx / w)[..., None]
    if "noisy" in wear:
        out += rng.normal(0, rng.uniform(6, 25), (h, w, 1))
        if rng.random() < 0.6:
            where, share = rng.random((h, w)), rng.uniform(0.0005, 0.004)
            out[where < share] = 0
            out[where > 1 - share] = 255
        if rng.random() < 0.3:
            soft = Image.fromarray(np.clip(out, 0, 255).astype("uint8")).filter(ImageFilter.GaussianBlur(0.7))
            out = np.asarray(soft).astype(float)
    img = Image.fromarray(np.clip(out, 0, 255).astype("uint8"))
    if not SCANNED & set(wear):
        img = img.convert(
            str(rng.choice(["L", "RGB", "1"] if not smooth and file == "png" else ["L", "RGB"]))
        )
    return img, angle


def write_svg(sheet: Sheet, path: Path) -> None:
    w, h = sheet.size
    rows = [f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}">']
    for s in sheet.strokes:
        d = "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in s.points)
        dash = f' stroke-dasharray="{" ".join(map(str, DASH_DOT))}"' if s.dashed else ""
        rows.append(f'<path d="{d}" fill="none" stroke="black" stroke-width="{s.pen:.2f}"{dash}/>')
    rows += [
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{high:.1f}" text-anchor="middle" '
        f'transform="rotate({-turn} {x:.1f} {y:.1f})">{said}</text>'
        for (x, y), said, high, turn in sheet.words
    ]
    path.write_text("\n".join([*rows, "</svg>"]), "utf-8")


def write_pdf(sheet: Sheet, path: Path) -> None:
    import matplotlib.pyplot as plt

    f = _figure(sheet, smooth=True)
    f.savefig(path, format="pdf", facecolor="white")
    plt.close(f)


def write_dxf(sheet: Sheet, path: Path, mm_per_px: float) -> None:
    import ezdxf

    doc = ezdxf.new("R2010")
    space, h = doc.modelspace(), sheet.size[1]
    for s in sheet.strokes:
        space.add_lwpolyline([(x * mm_per_px, (h - y) * mm_per_px) for x, y in s.points])
    for (x, y), said, high, turn in sheet.words:
        at = (x * mm_per_px, (h - y) * mm_per_px)
        space.add_text(said, height=high * mm_per_px, rotation=turn, dxfattribs={"insert": at})
    doc.saveas(path)
