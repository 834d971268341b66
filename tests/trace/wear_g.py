"""What the seventh hand draws over a three-view besides the aeroplane, or rubs out of it."""

from __future__ import annotations

import random

import numpy as np
import shapely
from planes_g import Plane, Shape
from shapely.geometry import LineString, Polygon
from sheet_d import Points, on_page
from sheet_g import Canvas

Boxes = dict[str, tuple[float, float, float, float]]
Views = dict[str, list[Shape]]


def _area(shapes: list[Shape], part: str) -> Polygon:
    return next((s.area for s in reversed(shapes) if s.closed and s.part == part), Polygon())


def panels(rng: random.Random, on: Canvas, p: Plane, views: Views, to: dict[str, Points]) -> None:
    """Ribs and a hinge line of the upper wing, formers of the body."""
    span, w, over = p.span, p.wings[0], p.style == "over"
    half = w.span / 2
    wing = _area(views["top"], "wing").buffer(-span * 0.004)
    if over and p.kind != "biplane":
        wing = wing.difference(_area(views["top"], "body"))
    ys = [s * half * f for f in (0.3, 0.5, 0.7) for s in (-1, 1)]
    lines = [LineString([(w.lead - 9 * span, y), (w.lead + 9 * span, y)]) for y in ys]
    f = rng.uniform(0.65, 0.8)
    root, tip = w.lead + f * w.root, w.lead + w.sweep + f * w.tip
    lines += [LineString([(root, 0), (tip, s * half)]) for s in (-1, 1)]
    for line in lines:
        on.lines(to["top"], line.intersection(wing), on.thin)
    for view in ("side", "top"):
        body = _area(views[view], "body")
        if over and (view == "side" or p.kind == "biplane"):
            body = body.difference(_area(views[view], "wing"))
        for f in (0.15, 0.3, 0.55, 0.75):
            former = LineString([(p.length * f, -span), (p.length * f, span)])
            on.lines(to[view], former.intersection(body), on.thin)


def hatching(rng: random.Random, on: Canvas, p: Plane, views: Views, to: dict[str, Points]) -> None:
    """Slanted lines over a wing or a body."""
    view, part = rng.choice([("top", "wing"), ("side", "body"), ("top", "body")])
    area = _area(views[view], part)
    if p.style == "over":
        parts = [s.part for s in views[view]]
        after = views[view][parts.index(part) + 1 :] if part in parts else []
        for s in after:
            if s.closed and s.part != part:
                area = area.difference(s.area)
    if area.is_empty:  # a wing alone
        return
    step = p.span * rng.uniform(0.012, 0.025)
    x0, y0, x1, y1 = area.bounds
    for c in np.arange(x0 - y1 - step, x1 - y0 + step, step):
        line = LineString([(c + y0 - 5, y0 - 5), (c + y1 + 5, y1 + 5)])
        on.lines(to[view], line.intersection(area), on.thin * 0.8)


def centres(on: Canvas, p: Plane, to: dict[str, Points], mm: float) -> None:
    """Dash-dotted lines through the views' middles. mm: pixels."""
    over = 0.06 * p.span
    high = p.height + (p.fin.height if p.fin else 0.0) + over
    for view in ("top", "side", "front"):
        ends = [(-over, 0), (p.length + over, 0)] if view != "front" else [(0, -p.height - over), (0, high)]
        a, b = on_page(to[view], np.array(ends, float))
        many = int(np.hypot(*(b - a)) / max(6, 0.01 * p.span * mm))
        t = np.linspace(0, 1, many + 1)
        for i in range(many):
            if i % 4 == 3:
                continue
            from_, till = (0.4, 0.6) if i % 4 == 1 else (0.0, 1.0)
            dash = [t[i] + f * (t[i + 1] - t[i]) for f in (from_, till)]
            on.line(np.array([a + (b - a) * f for f in dash]), on.thin)


def dimensions(rng: random.Random, on: Canvas, p: Plane, nose: str, boxes: Boxes, mm: float) -> None:
    """The span beside the top view and the length under the side view. nose: of the top view."""
    ends = rng.choice(["arrows", "ticks", "none"])
    off, head = 0.045 * p.span * mm, max(5, 0.013 * p.span * mm)

    def dimension(a: Points, b: Points, away: Points, said: str) -> None:
        feet = a + away * off, b + away * off
        for end, foot in zip((a, b), feet, strict=True):
            on.line(np.array([end + away * off * 0.25, foot + away * off * 0.2]), on.thin)
        along = (feet[1] - feet[0]) / np.hypot(*(feet[1] - feet[0]))
        beside, middle = np.array([-along[1], along[0]]), (feet[0] + feet[1]) / 2
        on.line(np.array(feet), on.thin)
        for foot, s in zip(feet, (1, -1), strict=True):
            if ends == "arrows":
                back = foot + s * along * head
                on.fill(np.array([foot, back + beside * head * 0.3, back - beside * head * 0.3]), 0)
            if ends == "ticks":
                slant = (along + beside) * head * 0.4
                on.line(np.array([foot - slant, foot + slant]), on.thin)
        w, h = on.half_width(said) + 3, on.letters / 2 + 3
        on.box(middle[0] - w, middle[1] - h, middle[0] + w, middle[1] + h)
        on.text(middle, said)

    x0, y0, x1, y1 = (float(v) for v in boxes["top"])
    if nose not in {"up", "down"}:
        a, b, away = (x0, y0), (x0, y1), (-1, 0)
    elif rng.random() < 0.5:
        a, b, away = (x0, y1), (x1, y1), (0, 1)
    else:
        a, b, away = (x0, y0), (x1, y0), (0, -1)
    dimension(np.array(a), np.array(b), np.array(away, float), f"{p.span:.0f}")
    x0, _, x1, y1 = boxes["side"]
    dimension(np.array([x0, y1]), np.array([x1, y1]), np.array([0.0, 1]), f"{p.length:.0f}")


def lettering(rng: random.Random, on: Canvas, boxes: Boxes, margin: float) -> None:
    """A word under each view, a line at the head of the sheet."""
    names = {
        "top": ("PLAN", "TOP VIEW", "Plan view"),
        "side": ("SIDE", "SIDE VIEW", "Side elevation"),
        "front": ("FRONT", "FRONT VIEW", "Front elevation"),
    }
    which = rng.randrange(3)
    for view, said in names.items():
        x0, _, x1, y1 = boxes[view]
        on.text(((x0 + x1) / 2, y1 + on.letters * 1.2), said[which])
    said = rng.choice(["SPARROW MK II", "Scale 1:8", "Sports model 3-view"])
    on.text((on.size[0] * 0.5, max(on.letters, margin * 0.45)), said)


def title(rng: random.Random, on: Canvas, p: Plane, margin: Points, mm: float) -> None:
    """A ruled block in the lower right corner, with or without a border round the sheet."""
    (w, h), pen = on.size, on.pen
    wide, high = min(w - 2 * margin[0], p.span * mm * 0.7), p.span * mm * 0.15
    x1, y1 = w - margin[0] * 0.8, h - margin[1] * 0.8
    x0, y0 = x1 - wide, y1 - high
    on.box(x0, y0, x1, y1, pen=pen)
    for i in (1, 2):
        on.line([(x0, y0 + high * i / 3), (x1, y0 + high * i / 3)], on.thin)
    on.line([(x0 + wide * 0.6, y0), (x0 + wide * 0.6, y1)], on.thin)
    on.letter(max(8, int(high / 3 * 0.55)))
    rows = (("SPORT MODEL", "No 12"), ("Drawn: A.B.", "1:5"), (f"Span {p.span:.0f}", "Sheet 1"))
    for i, row in enumerate(rows):
        for said, x in zip(row, (x0, x0 + wide * 0.6), strict=True):
            on.text((x + 4 + pen, y0 + high * (i + 0.5) / 3), said, "lm")
    if rng.random() < 0.5:
        e = min(margin) * 0.4
        on.box(e, e, w - e, h - e, pen=pen, paper=False)


def crossings(rng: random.Random, on: Canvas) -> None:
    """Thin straight lines from edge to edge."""
    w, h = on.size
    for _ in range(rng.randint(2, 4)):
        if rng.random() < 0.5:
            ends = [(0.02 * w, h * rng.uniform(0.1, 0.9)), (0.98 * w, h * rng.uniform(0.1, 0.9))]
        else:
            ends = [(w * rng.uniform(0.1, 0.9), 0.02 * h), (w * rng.uniform(0.1, 0.9), 0.98 * h)]
        on.line(ends, min(on.thin, 1.5))


def gaps(rng: random.Random, on: Canvas, views: Views, to: dict[str, Points]) -> None:
    """Places rubbed out of the judged parts' outlines."""
    for view, shapes in views.items():
        rubbed = [s for s in shapes if s.closed and s.part in {"wing", "tail", "body", "fin", "lower wing"}]
        for _ in range(rng.randint(3, 7)):
            ring = rng.choice(rubbed).points
            line = LineString(np.vstack([ring, ring[:1]]))
            at = shapely.get_coordinates(line.interpolate(rng.random(), normalized=True))
            on.rub(on_page(to[view], at)[0], rng.uniform(3, 12) / 2 + on.pen * 0.3)
