"""A seventh hand's three-view drawings: `draw(seed)` lays any plane out on a sheet and spoils it; truth is kept beside it."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import planes_g
import shapely
import sheet_g
import wear_g
from examiner import Truth, turned
from PIL import Image
from planes_g import Plane, Shape
from sheet_d import Points, on_page

WEARS = (
    "rotated",
    "grey",
    "noisy",
    "peppered",
    "jpeg",
    "yellowed",
    "title",
    "dimensions",
    "hatching",
    "centres",
    "lettering",
    "panels",
    "gaps",
    "crossings",
)
LAYOUTS: tuple[
    tuple[tuple[tuple[str, ...], ...], str, str], ...
] = (  # rows of views; noses of top and side view
    ((("top",), ("side", "front")), "left", "left"),
    ((("top",), ("side",), ("front",)), "left", "left"),
    ((("top",), ("side",), ("front",)), "right", "right"),
    ((("top", "side"), ("front",)), "up", "left"),
    ((("top", "side"), ("front",)), "up", "right"),
    ((("top",), ("front",), ("side",)), "up", "left"),
    ((("front",), ("top",), ("side",)), "down", "left"),
    ((("front", "side"), ("top",)), "up", "left"),
    ((("side", "front"), ("top",)), "left", "left"),
    ((("top", "front"), ("side",)), "left", "left"),
    ((("side",), ("top",), ("front",)), "right", "right"),
    ((("front", "side"), ("top",)), "down", "right"),
    ((("top",), ("front", "side")), "up", "left"),
    ((("top", "side", "front"),), "up", "left"),
    ((("top",), ("side", "front")), "right", "right"),
)
TURNS = {
    ("top", "left"): np.array([[1.0, 0], [0, -1]]),
    ("top", "right"): np.array([[-1.0, 0], [0, 1]]),
    ("top", "up"): np.array([[0, 1.0], [1, 0]]),
    ("top", "down"): np.array([[0, -1.0], [-1, 0]]),
    ("side", "left"): np.array([[1.0, 0], [0, -1]]),
    ("side", "right"): np.array([[-1.0, 0], [0, -1]]),
    ("front", ""): np.array([[1.0, 0], [0, -1]]),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    plane: Plane
    wear: tuple[str, ...]
    layout: str
    nose: str
    pen_px: float
    mm_per_px: float
    image: Image.Image
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]
    truth: tuple[Truth, ...]
    file: str = "png"

    @property
    def span_mm(self) -> float:
        return self.plane.span

    @property
    def starts_mm(self) -> tuple[float, ...]:
        """Where a tracing may put x = 0: at the spinner's tip or at the body's front."""
        return (0.0, self.plane.front) if self.plane.front else (0.0,)

    @property
    def told(self) -> dict[str, object]:
        return {
            "kind": self.plane.kind,
            "style": self.plane.style,
            "layout": self.layout,
            "nose": self.nose,
            "pen_px": self.pen_px,
        }

    def save(self, folder: Path) -> Path:
        path = folder / "three-view.png"
        self.image.save(path)
        return path


def _wear(rng: random.Random, seed: int) -> tuple[str, ...]:
    """Of twelve drawings of each kind four are clean, six have one disturbance, two have two."""
    slot = seed // 5 % 12
    if slot % 3 == 0:
        return ()
    return tuple(rng.sample(WEARS, 2)) if slot in {5, 10} else (rng.choice(WEARS),)


def draw(seed: int) -> Drawing:
    """Drawing `seed`: of five two are monoplanes, two biplanes, one a delta. Same seed, same drawing."""
    rng, noise = random.Random(seed * 7919 + 13), np.random.default_rng(seed)
    p = planes_g.plane(rng, planes_g.KINDS[seed % 5])
    wear = _wear(rng, seed)
    views = {v: of(p) for v, of in planes_g.VIEWS.items()}
    rows, nose, side_nose = rng.choice(LAYOUTS)
    turns = {v: TURNS[v, {"top": nose, "side": side_nose, "front": ""}[v]] for v in views}
    longest = rng.choice([800, 1000, 1200, 1600, 2000, 2500, 3200, 4000])
    noted = bool({"dimensions", "lettering"} & set(wear))  # what needs room round the views
    gap = p.span * rng.uniform(0.08, 0.16) + (p.span * 0.1 if noted else 0)
    flat = {v: np.vstack([s.points @ turns[v].T for s in shapes]) for v, shapes in views.items()}
    low = {v: q.min(0) for v, q in flat.items()}
    size = {v: q.max(0) - low[v] for v, q in flat.items()}
    at, wide, high = places(rows, size, gap, rng.choice(["left", "centre"]))
    high += p.span * 0.22 if "title" in wear else 0
    page, mm = _page(rng, longest, wide, high, p.span * 0.09 if noted else 0)
    margin = np.array([(page[0] - wide * mm) / 2, (page[1] - high * mm) / 2])
    pen = min(rng.choice([1, 1.5, 2, 2.5, 3, 4, 5, 6, 8]), max(1, 0.008 * p.span * mm))
    thin = max(0.8, pen * rng.uniform(0.4, 0.8))
    to = {v: np.c_[turns[v] * mm, (at[v] - low[v]) * mm + margin] for v in views}
    boxes = {v: box(on_page(to[v], np.vstack([s.points for s in shapes]))) for v, shapes in views.items()}

    on = sheet_g.Canvas(page, 3 if longest <= 2500 else 2, pen, thin)
    for v, shapes in views.items():
        on.shapes(to[v], shapes, p.style)
    on.letter(max(9, int(p.span * mm * rng.uniform(0.018, 0.03))))
    if "panels" in wear:
        wear_g.panels(rng, on, p, views, to)
    if "hatching" in wear:
        wear_g.hatching(rng, on, p, views, to)
    if "centres" in wear:
        wear_g.centres(on, p, to, mm)
    if "dimensions" in wear:
        wear_g.dimensions(rng, on, p, nose, boxes, mm)
    if "lettering" in wear:
        wear_g.lettering(rng, on, boxes, margin[1])
    if "title" in wear:
        wear_g.title(rng, on, p, margin, mm)
    if "crossings" in wear:
        wear_g.crossings(rng, on)
    if "gaps" in wear:
        wear_g.gaps(rng, on, views, to)
    image, angle = sheet_g.spoilt(on.shrunk(), wear, rng, noise)
    to = {v: turned(m, angle, page, image.size) for v, m in to.items()}
    return Drawing(
        plane=p,
        wear=wear,
        layout=" / ".join("+".join(r) for r in rows),
        nose=nose,
        pen_px=pen,
        mm_per_px=1 / mm,
        image=image,
        boxes_px={v: box(on_page(to[v], np.vstack([s.points for s in views[v]]))) for v in views},
        to_px=to,
        truth=tuple(_truth(p, views)),
    )


def places(
    rows: tuple[tuple[str, ...], ...], size: dict[str, Points], gap: float, align: str
) -> tuple[dict[str, Points], float, float]:
    """Each view's upper left corner, and the width and height of all. [mm]"""
    wide = [sum(size[v][0] for v in r) + gap * (len(r) - 1) for r in rows]
    at, y = {}, 0.0
    for r in rows:
        high = max(size[v][1] for v in r)
        x = 0.0 if align == "left" else (max(wide) - sum(size[v][0] for v in r) - gap * (len(r) - 1)) / 2
        for v in r:
            at[v] = np.array([x, y + (high - size[v][1]) / 2])
            x += size[v][0] + gap
        y += high + gap
    return at, max(wide), y - gap


def _page(
    rng: random.Random, longest: int, wide: float, high: float, extra: float
) -> tuple[tuple[int, int], float]:
    """The sheet's size in pixels, lying, standing or fitted to the views, and pixels per mm."""
    m = rng.uniform(0.02, 0.10)  # margin, a share
    if rng.random() < 0.4:
        page = longest, int(longest / 1.414)
    elif rng.random() < 0.5:
        page = int(longest / 1.414), longest
    else:
        k = longest / max(wide, high)
        w, h = int(wide * k * (1 + 2 * m)), int(high * k * (1 + 2 * m))
        f = longest / max(w, h)
        page = int(w * f), int(h * f)
    k = min(page[0] * (1 - 2 * m) / (wide + 2 * extra), page[1] * (1 - 2 * m) / (high + 2 * extra))
    return page, k


def box(p: Points) -> tuple[float, float, float, float]:
    return (*p.min(0), *p.max(0))  # type: ignore[return-value]


def _truth(p: Plane, views: dict[str, list[Shape]]) -> list[Truth]:
    named = {"wing": "upper" if p.kind == "biplane" else "", "lower wing": "lower"}
    out = []
    for view, parts in (("top", ("wing", "lower wing", "tail", "body")), ("side", ("body", "fin"))):
        for i, s in enumerate(views[view]):
            if not s.closed or s.part not in parts:
                continue
            hidden = _hidden(p.style, views[view], i)
            if s.part == "body" and p.front > 0:  # behind the spinner the body's front may be anywhere
                hidden = hidden.union(shapely.box(-p.span, -p.span, p.front * 1.3, p.span))
            part = "wing" if "wing" in s.part else s.part
            out.append(
                Truth(part=part, name=named.get(s.part, ""), view=view, points=s.points, hidden=hidden)
            )
    return out


def _hidden(style: str, shapes: list[Shape], i: int) -> shapely.Geometry:
    """What covers a shape, or in one silhouette all that it runs together with."""
    if style == "wire":
        return shapely.Polygon()
    others = shapes[i + 1 :] if style == "over" else shapes[:i] + shapes[i + 1 :]
    return shapely.union_all([s.area for s in others if s.closed])
