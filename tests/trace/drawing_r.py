"""Plain clean three-views whose rears alone differ: `draw(seed)` paints every part over those behind it, as hidden lines are left out by hand."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rears
import shapely
import sheet_g
from drawing_g import TURNS, box, places
from examiner import Truth
from PIL import Image
from planes_g import planform
from rears import Layer, Rear
from sheet_d import Points, on_page

LAYOUTS = (
    ((("top",), ("side", "front")), "left", "left"),
    ((("side",), ("top",), ("front",)), "left", "left"),
    ((("front", "side"), ("top",)), "up", "left"),
    ((("top",), ("front", "side")), "right", "right"),
    ((("top", "front"), ("side",)), "left", "left"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    rear: Rear
    pen_px: float
    mm_per_px: float
    image: Image.Image
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]
    truth: tuple[Truth, ...]
    wear: tuple[str, ...] = ()
    file: str = "png"
    span_mm: float = 1000.0
    starts_mm: tuple[float, ...] = (0.0,)

    @property
    def told(self) -> dict[str, object]:
        r = self.rear
        names = (
            "stern",
            "above",
            "rise",
            "tail_at",
            "section",
            "tail_over",
            "rudder",
            "hinge",
            "fillet",
            "one",
        )
        more = ("strip", "cut_out", "hides", "tint")
        told = {k: getattr(r, k) for k in (*names, *more)}
        return {
            "kind": "monoplane",
            "pen_px": self.pen_px,
            "style": ", ".join(f"{k} {v}" for k, v in told.items()),
        }

    def save(self, folder: Path) -> Path:
        path = folder / "three-view.png"
        self.image.save(path)
        return path


def draw(seed: int) -> Drawing:
    """Drawing `seed`. Same seed, same drawing."""
    rng = random.Random(seed * 104729 + 7)
    r = rears.rear(rng)
    views = {v: of(r) for v, of in rears.VIEWS.items()}
    rows, nose, side_nose = rng.choice(LAYOUTS)
    turns = {v: TURNS[v, {"top": nose, "side": side_nose, "front": ""}[v]] for v in views}
    every = {v: np.vstack([q for s in shapes for q in (s.points, *s.rings)]) for v, shapes in views.items()}
    low = {v: (q @ turns[v].T).min(0) for v, q in every.items()}
    size = {v: (q @ turns[v].T).max(0) - low[v] for v, q in every.items()}
    at, wide, high = places(rows, size, rng.uniform(80, 150), rng.choice(["left", "centre"]))
    longest = rng.choice([1000, 1400, 1800, 2400, 3200])
    mm = 0.9 * longest / max(wide, high)
    page = int(wide * mm + 0.1 * longest), int(high * mm + 0.1 * longest)
    pen = min(rng.choice([1, 1.5, 2, 3, 4, 6]), 0.006 * 1000 * mm)
    to = {v: np.c_[turns[v] * mm, (at[v] - low[v]) * mm + 0.05 * longest] for v in views}
    on = sheet_g.Canvas(page, 3, pen, pen)
    for v, shapes in views.items():
        for s in shapes:
            _paint(on, to[v], s, r.tint)
    return Drawing(
        rear=r,
        pen_px=pen,
        mm_per_px=1 / mm,
        image=on.shrunk(),
        boxes_px={v: box(on_page(to[v], every[v])) for v in views},
        to_px=to,
        truth=tuple(_truths(r, views)),
    )


def _paint(on: sheet_g.Canvas, to: Points, s: Layer, tint: int) -> None:
    if not s.closed:
        on.line(on_page(to, s.points), on.pen)
        return
    if not s.rings:
        q = on_page(to, s.points)
        on.fill(q, tint)
        on.line(q, on.pen, closed=True)
        return
    for area in shapely.get_parts(s.area):
        q = on_page(to, np.array(area.exterior.coords)[:-1])
        on.fill(q, tint)
        on.line(q, on.pen, closed=True)


def _truths(r: Rear, views: dict[str, list[Layer]]) -> list[Truth]:
    out = []
    for view, parts in (("top", ("wing", "tail", "body")), ("side", ("body", "fin"))):
        for i, s in enumerate(views[view]):
            if s.part not in parts or not s.closed:
                continue
            over = [q.area for q in views[view][i + 1 :] if q.closed]
            others = ()
            if s.part == "tail" and r.cut_out:
                assert r.tail is not None
                others = (planform(r.tail),)
            if s.rings:
                fin = shapely.Polygon(s.rings[0]).buffer(0)
                hidden = shapely.union_all([*over, fin])
            else:
                hidden = shapely.union_all(over)
            out.append(Truth(part=s.part, name="", view=view, points=s.points, hidden=hidden, others=others))
    return out
