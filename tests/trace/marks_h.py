"""What hand h writes and draws on a sheet beside the aeroplane: dimensions, centre lines, lettering, a title block."""

from __future__ import annotations

import numpy as np
import shapely
from planes_h import Plane, Shape
from shapely.ops import unary_union
from sheet_h import Sheet, Stroke, Text, hatch

Points = np.ndarray
NAMES = ("DUNNOCK", "BRAMBLING", "TURNSTONE", "Dunnock II", "Brambling", "TURNSTONE MK 3")


def box_px(sheet: Sheet, view: str, shapes: list[Shape]) -> Points:
    """The view's box on the sheet. (2, 2)"""
    p = np.vstack([sheet.place(view, np.array(s.outline.exterior.coords)) for s in shapes])
    return np.array([p.min(0), p.max(0)])


def dimensions(sheet: Sheet, p: Plane, rng: np.random.Generator, letter: float, clear: float) -> None:
    """Span beside the front or top view, length beside the side or top view, now and then the height; `clear` of captions. [px]"""
    heads = str(rng.choice(["arrow", "open", "tick"]))
    boxes = {v: box_px(sheet, v, s) for v, s in p.views.items()}
    off = rng.uniform(1.6, 2.4) * letter + clear
    top = sheet.to_px["top"][:, :2]
    flat = abs(top[0, 0]) > abs(top[0, 1])  # the aeroplane lies along the sheet
    spans = [("front", 0), ("top", 1 if flat else 0)]
    lengths = [("side", 0), ("top", 0 if flat else 1)]
    feet = p.span_mm * rng.uniform(8, 14)
    for view, axis in (spans[int(rng.integers(2))], lengths[int(rng.integers(2))]):
        b = boxes[view]
        _dimension(
            sheet,
            b,
            axis,
            off,
            heads,
            f"{(b[1] - b[0])[axis] / sheet.px_per_mm * feet / p.span_mm / 1000:.2f} m",
            letter,
        )
    if rng.random() < 0.4:
        b = boxes["side"]
        _dimension(
            sheet,
            b,
            1,
            off,
            heads,
            f"{(b[1] - b[0])[1] / sheet.px_per_mm * feet / p.span_mm / 1000:.2f} m",
            letter,
        )


def _dimension(
    sheet: Sheet, box: Points, axis: int, off: float, heads: str, says: str, letter: float
) -> None:
    """A dimension below a box (axis 0) or at its left (axis 1)."""
    other = 1 - axis
    level = box[1, 1] + off if axis == 0 else box[0, 0] - off
    edge = box[1, 1] if axis == 0 else box[0, 0]

    def at(along: float, across: float) -> Points:
        return np.array([along, across]) if axis == 0 else np.array([across, along])

    lo, hi = box[0, axis], box[1, axis]
    sign = 1 if axis == 0 else -1
    for v in (lo, hi):
        line = np.array([at(v, edge + sign * 0.35 * letter), at(v, level + sign * 0.4 * letter)])
        sheet.strokes.append(Stroke(points=line, weight="thin", layer="dimension"))
    middle, half = (lo + hi) / 2, 0.36 * letter * (len(says) + 1)
    for a, b in ((lo, middle - half), (middle + half, hi)):
        sheet.strokes.append(
            Stroke(points=np.array([at(a, level), at(b, level)]), weight="thin", layer="dimension")
        )
    for v, s in ((lo, 1), (hi, -1)):
        n = 0.7 * letter
        tip = at(v, level)
        wings = [at(v + s * n, level + 0.25 * n), at(v + s * n, level - 0.25 * n)]
        if heads == "tick":
            line = np.array([tip - 0.4 * n, tip + 0.4 * n])
            sheet.strokes.append(Stroke(points=line, weight="inner", layer="dimension"))
        elif heads == "open":
            sheet.strokes.append(
                Stroke(points=np.array([wings[0], tip, wings[1]]), weight="thin", layer="dimension")
            )
        else:
            sheet.fills.append((np.array([tip, *wings]), 0))
    place = at(middle, level)
    sheet.texts.append(
        Text(says=says, at=(float(place[0]), float(place[1])), height=letter, upright=other == 0)
    )


def centre_lines(sheet: Sheet, p: Plane) -> None:
    """Chain lines down the middle of plan and front view, and along the thrust line of the side."""
    over = 0.03 * p.span_mm
    for view, axis in (("top", 0), ("side", 0), ("front", 1)):
        whole = unary_union([s.outline for s in p.views[view]]).bounds
        lo, hi = whole[axis] - over, whole[axis + 2] + over
        ends = np.array([[lo, 0.0], [hi, 0.0]]) if axis == 0 else np.array([[0.0, lo], [0.0, hi]])
        sheet.strokes.append(
            Stroke(points=sheet.place(view, ends), weight="thin", dash="chain", layer="centre")
        )


def panel_lines(
    sheet: Sheet, rng: np.random.Generator, shown: dict[tuple[str, str], shapely.Geometry]
) -> None:
    """Ribs and spars on wings, frames and seams on bodies, where they show."""
    for (view, part), area in shown.items():
        lo, hi = np.array(area.bounds[:2]), np.array(area.bounds[2:])
        lines = []
        if part == "wing" and view == "top":
            n = int(rng.integers(4, 10))
            ys = np.linspace(lo[1], hi[1], 2 * n + 3)[1:-1]
            lines += [np.array([[lo[0], y], [hi[0], y]]) for y in ys]
        if part == "body":
            for x in lo[0] + (hi[0] - lo[0]) * np.sort(rng.uniform(0.12, 0.92, int(rng.integers(3, 7)))):
                lines.append(np.array([[x, lo[1]], [x, hi[1]]]))
            if view == "side":
                z = lo[1] + (hi[1] - lo[1]) * rng.uniform(0.4, 0.6)
                lines.append(
                    np.array([[lo[0] + 0.15 * (hi[0] - lo[0]), z], [lo[0] + 0.85 * (hi[0] - lo[0]), z]])
                )
        for line in lines:
            cut = shapely.LineString(line).intersection(area)
            for q in getattr(cut, "geoms", [cut]):
                if q.geom_type == "LineString" and q.length > 0:
                    sheet.strokes.append(
                        Stroke(points=sheet.place(view, np.array(q.coords)), weight="thin", layer="panel")
                    )


def hatched_parts(
    sheet: Sheet, p: Plane, rng: np.random.Generator, shown: dict[tuple[str, str], shapely.Geometry]
) -> None:
    """One or two parts hatched where they show, as a draughtsman tells colours or fabric from metal."""
    keys = [k for k in shown if shown[k].area > 1e-4 * p.span_mm**2]
    for i in rng.choice(len(keys), min(2, len(keys)), replace=False):
        hatch(
            sheet,
            keys[i][0],
            shown[keys[i]],
            p.span_mm * rng.uniform(0.01, 0.02),
            np.radians(rng.choice([45, -45, 60, 30])),
        )


def lettering(sheet: Sheet, p: Plane, rng: np.random.Generator, letter: float) -> None:
    """Captions below the views, a name at the top, and letters on the wing or the body's side."""
    captions = {
        "top": ("PLAN", "Plan view", "TOP VIEW"),
        "side": ("SIDE ELEVATION", "Side", "LEFT SIDE"),
        "front": ("FRONT", "Front view", "FRONT ELEVATION"),
    }
    style = int(rng.integers(3))
    for view, shapes in p.views.items():
        b = box_px(sheet, view, shapes)
        at = (float(b[:, 0].mean() + (b[1, 0] - b[0, 0]) * 0.25), float(b[1, 1] + 1.1 * letter))
        sheet.texts.append(Text(says=captions[view][style], at=at, height=letter))
    name = str(rng.choice(NAMES))
    sheet.texts.append(Text(says=name, at=(sheet.size[0] / 2, 1.2 * letter), height=1.4 * letter))
    if rng.random() < 0.6:
        m = sheet.to_px["side"]
        body = next(s.outline for s in p.views["side"] if s.part == "body")
        x = body.bounds[0] + 0.66 * (body.bounds[2] - body.bounds[0])
        cut = body.intersection(shapely.LineString([(x, -1e4), (x, 1e4)])).bounds
        at = np.array([x, (cut[1] + cut[3]) / 2]) @ m[:, :2].T + m[:, 2]
        sheet.texts.append(
            Text(
                says="D-07", at=(float(at[0]), float(at[1])), height=0.5 * (cut[3] - cut[1]) * sheet.px_per_mm
            )
        )


def title_block(sheet: Sheet, rng: np.random.Generator, letter: float) -> None:
    """A frame round the sheet with a ruled box in a lower corner; the sheet grows below to hold it."""
    w, h0 = sheet.size
    rows = int(rng.integers(3, 5))
    tall, wide = rows * 1.7 * letter, min(22 * letter, 0.6 * w)
    edge = 0.7 * letter
    h = int(h0 + tall + edge)
    sheet.size = (w, h)
    lo, hi = np.array([edge, edge]), np.array([w - edge, h - edge])

    def rule(*points: tuple[float, float]) -> None:
        sheet.strokes.append(Stroke(points=np.array(points, float), weight="inner", layer="title"))

    rule((lo[0], lo[1]), (hi[0], lo[1]), (hi[0], hi[1]), (lo[0], hi[1]), (lo[0], lo[1]))
    x0, x1 = (hi[0] - wide, hi[0]) if rng.random() < 0.7 else (lo[0], lo[0] + wide)
    y0 = hi[1] - tall
    rule((x0, hi[1]), (x0, y0), (x1, y0), (x1, hi[1]))
    words = [str(rng.choice(NAMES)), "SCALE 1:10", "SHEET 1 OF 2", "DRAWN  K.", "THREE VIEW"]
    for i in range(rows):
        y = y0 + (i + 0.5) * tall / rows
        if i:
            rule((x0, y0 + i * tall / rows), (x1, y0 + i * tall / rows))
        sheet.texts.append(Text(says=words[i], at=(x0 + 0.33 * wide, y), height=letter))
    rule((x0 + 0.66 * wide, y0), (x0 + 0.66 * wide, hi[1]))
    sheet.texts.append(
        Text(
            says=f"{rng.integers(10, 99)}-{rng.integers(100, 999)}",
            at=(x0 + 0.83 * wide, y0 + 0.5 * tall / rows),
            height=letter,
        )
    )


def crossing(sheet: Sheet, rng: np.random.Generator) -> None:
    """A few thin construction lines right across the sheet."""
    w, h = sheet.size
    for _ in range(int(rng.integers(2, 6))):
        if rng.random() < 0.5:
            y = rng.uniform(0.05, 0.95, 2) * h
            line = np.array(
                [[0.02 * w, y[0]], [0.98 * w, y[0] + (y[1] - y[0]) * rng.choice([0.0, 0.3, 1.0])]]
            )
        else:
            x = rng.uniform(0.05, 0.95, 2) * w
            line = np.array(
                [[x[0], 0.02 * h], [x[0] + (x[1] - x[0]) * rng.choice([0.0, 0.3, 1.0]), 0.98 * h]]
            )
        sheet.strokes.append(Stroke(points=line, weight="thin", layer="crossing"))
