"""What the sixth hand draws over a three-view besides the aeroplane, or leaves out of it."""

from __future__ import annotations

import numpy as np
import shapely
import shapely.ops
from parts_f import Plane
from shapely import affinity
from shapely.geometry import LineString, Polygon
from sheet_d import Points, on_page
from sheet_f import Sheet, Stroke

Box = tuple[Points, Points]
Rng = np.random.Generator


def _ring(p: Polygon) -> Points:
    return np.array(p.exterior.coords)


def gaps(rng: Rng, sheet: Sheet) -> None:
    """Breaks in every long stroke."""
    out = []
    for s in sheet.strokes:
        line = shapely.LineString(s.points)
        if line.length <= sheet.span_px * 0.2:
            out.append(s)
            continue
        cuts = []
        for _ in range(int(rng.integers(1, 4))):
            middle = rng.uniform(0, line.length)
            wide = sheet.span_px * rng.uniform(0.003, 0.012) + s.pen
            cuts.append((middle - wide / 2, middle + wide / 2))
        at = 0.0
        for a, b in [*sorted(cuts), (line.length, np.inf)]:
            if a > at:
                part = shapely.ops.substring(line, at, a)
                out.append(Stroke(points=np.array(part.coords), pen=s.pen))
            at = max(at, b)
    sheet.strokes = [s for s in out if len(s.points) > 1]


def hatching(rng: Rng, sheet: Sheet, plane: Plane) -> None:
    """Slanted lines over one or two regions."""
    tail = [("top", _ring(plane.tail))] if plane.tail is not None else []
    sides = [("side", _ring(plane.body.side)), ("side", _ring(plane.fin))]
    regions = [("top", _ring(plane.wings[0].area)), *tail, *sides, ("top", _ring(plane.body.top))]
    for i in rng.choice(len(regions), int(rng.integers(1, 3)), replace=False):
        view, ring = regions[i]
        area = Polygon(on_page(sheet.to[view], ring))
        step = sheet.span_px * rng.uniform(0.015, 0.035) + sheet.thin * 2
        angle = float(rng.choice([45, -45, 30]))
        x0, y0, x1, y1 = area.bounds
        x, y, r = (x0 + x1) / 2, (y0 + y1) / 2, np.hypot(x1 - x0, y1 - y0) / 2
        for t in np.arange(-r, r, step):
            level = LineString([(x - r, y + t), (x + r, y + t)])
            sheet.lines(affinity.rotate(level, angle, origin=(x, y)).intersection(area), longer=2)


def panels(rng: Rng, sheet: Sheet, plane: Plane) -> None:
    """Ribs from rim to rim of wing and tail, formers of the body."""

    def across(view: str, ends: list[tuple[float, float]], area: Polygon) -> None:
        cut = LineString(ends).intersection(area)
        if cut.geom_type == "LineString":
            sheet.line(on_page(sheet.to[view], np.array(cut.coords)))

    for area in (plane.wings[0].area, *([plane.tail] if plane.tail is not None else [])):
        x0, y0, x1, y1 = area.bounds
        for y in np.linspace(y0, y1, int(rng.integers(8, 16)))[1:-1]:
            across("top", [(x0, y), (x1, y)], area)
    x0, z0, x1, z1 = plane.body.side.bounds
    for x in np.linspace(x0, x1, int(rng.integers(4, 9)))[1:-1]:
        across("side", [(x, z0), (x, z1)], plane.body.side)


def centres(rng: Rng, sheet: Sheet, plane: Plane, boxes: dict[str, Box]) -> None:
    """Dash-dotted lines through the views' middles. boxes: the views' corners in their own planes. [mm]"""
    over = plane.span_mm * rng.uniform(0.02, 0.05)

    def middle(view: str, axis: int) -> None:
        ends = np.zeros((2, 2))
        ends[:, axis] = boxes[view][0][axis] - over, boxes[view][1][axis] + over
        points = on_page(sheet.to[view], ends)
        sheet.strokes.append(Stroke(points=points, pen=sheet.thin, dashed=True))

    middle("top", 0)
    middle("front", 1)
    if rng.random() < 0.6:
        middle("side", 0)


def _dimension(sheet: Sheet, view: str, ends: Points, away: tuple[float, float], said: str) -> None:
    """A dimension line `away` from two points (shares of the span, on the page), with open arrows and its figure."""
    a, b = on_page(sheet.to[view], ends)
    span = sheet.span_px
    along = (b - a) / np.linalg.norm(b - a)
    off = np.array(away, float) * span
    feet, out = (a + off, b + off), off / np.linalg.norm(off)
    for end, foot in zip((a, b), feet, strict=True):
        sheet.line(np.array([end + out * span * 0.01, foot + out * span * 0.012]))
    sheet.line(np.array(feet))
    head, beside = span * 0.015, np.array([-along[1], along[0]])
    for foot, way in zip(feet, (along, -along), strict=True):
        back, side = foot + way * head, beside * head * 0.3
        sheet.line(np.array([back + side, foot, back - side]))
    middle = (feet[0] + feet[1]) / 2 + out * span * 0.012
    sheet.words.append((middle, said, span * 0.025, 0 if abs(along[0]) > 0.5 else 90))


def dimensions(rng: Rng, sheet: Sheet, plane: Plane, on: dict[str, Box]) -> None:
    """The span beside the top view and, mostly, the length under the side view. on: the views' corners in pixels."""
    ring = _ring(plane.wings[0].area)
    port, starboard = ring[ring[:, 1].argmin()], ring[ring[:, 1].argmax()]
    a, b = on_page(sheet.to["top"], np.array([port, starboard]))
    axis = 1 if sheet.noses["top"] in {"up", "down"} else 0
    away = [0.0, 0.0]
    away[axis] = (on["top"][0][axis] - max(a[axis], b[axis])) / sheet.span_px - 0.04
    ends = np.array([port, (port[0], starboard[1])])
    _dimension(sheet, "top", ends, (away[0], away[1]), f"{plane.span_mm:.0f}")
    if rng.random() < 0.7 and sheet.noses["side"] != "up":
        x0, z0, x1, _ = plane.readings("side")[-1].bounds
        below = on["side"][1][1] - on_page(sheet.to["side"], np.array([[0, z0]]))[0][1]
        away = (0.0, below / sheet.span_px + 0.035)
        _dimension(sheet, "side", np.array([(x0, z0), (x1, z0)]), away, f"{x1 - x0:.0f}")


def lettering(rng: Rng, sheet: Sheet, plane: Plane, on: dict[str, Box]) -> None:
    """Words under the views, letters on a wing and on the body's side."""
    span = sheet.span_px
    for view in ("top", "side", "front"):
        if rng.random() < 0.8:
            (x0, _), (x1, y1) = on[view]
            words = f"{view.upper()} VIEW"
            sheet.words.append((np.array([(x0 + x1) / 2, y1 + span * 0.025]), words, span * 0.025, 0))
    if rng.random() < 0.5:
        x0, _, x1, half = plane.wings[0].area.bounds
        at = ((x0 + x1) / 2, 0.5 * half) if plane.kind != "delta" else (x1 - 0.2 * (x1 - x0), 0.3 * half)
        turn = 0 if sheet.noses["top"] in {"up", "down"} else 90
        sheet.words.append((on_page(sheet.to["top"], np.array([at]))[0], "X-42", span * 0.035, turn))
    if rng.random() < 0.5:
        ring = _ring(plane.body.side)
        at = (0.6 * ring[:, 0].max(), np.mean(ring[:, 1]))
        turn = 0 if sheet.noses["side"] != "up" else 90
        sheet.words.append((on_page(sheet.to["side"], np.array([at]))[0], "GB 7", span * 0.022, turn))


def crossings(rng: Rng, sheet: Sheet) -> None:
    """Thin straight lines over the whole sheet, or some of it."""
    w, h = sheet.size
    for _ in range(int(rng.integers(2, 6))):
        if rng.random() < 0.5:
            ends = np.array([[rng.uniform(0, w), 0], [rng.uniform(0, w), h]])
        else:
            ends = np.array([[0, rng.uniform(0, h)], [w, rng.uniform(0, h)]])
        if rng.random() < 0.4:
            middle = ends.mean(0)
            ends = middle + (ends - middle) * rng.uniform(0.2, 0.5)
        sheet.line(ends, max(1.0, sheet.pen * rng.uniform(0.25, 0.45)))


def title(rng: Rng, sheet: Sheet) -> None:
    """A ruled block in the lower right corner, with or without a border round the sheet."""
    w, h = sheet.size
    wide, high = min(w * 0.45, sheet.span_px * 0.6), sheet.span_px * 0.12
    x1, y1 = w - sheet.span_px * 0.03, h - sheet.span_px * 0.03
    x0, y0 = x1 - wide, y1 - high

    def box(x0: float, y0: float, x1: float, y1: float) -> None:
        sheet.line(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]), sheet.pen)

    box(x0, y0, x1, y1)
    sheet.line(np.array([(x0, y1 - high / 2), (x1, y1 - high / 2)]))
    sheet.line(np.array([(x1 - wide * 0.4, y0), (x1 - wide * 0.4, y1)]))
    rows = (("MODEL NO 42", "SCALE 1:8"), ("DRAWN A.B.", "SHEET 1"))
    for row, up in zip(rows, (0.75, 0.25), strict=True):
        for said, left in zip(row, (0.7, 0.2), strict=True):
            sheet.words.append((np.array((x1 - wide * left, y1 - high * up)), said, high * 0.22, 0))
    if rng.random() < 0.5:
        m = sheet.span_px * 0.012
        box(m, m, w - m, h - m)
