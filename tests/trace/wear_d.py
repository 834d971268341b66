"""What the fourth hand draws over a three-view besides the aeroplane: dimensions, hatching, lettering and the like."""

from __future__ import annotations

import numpy as np
import shapely
from planes_d import Plane
from sheet_d import Pens, Points, Sheet, dashes, on_page


def box_of(plane: Plane, view: str, to: Points) -> tuple[float, float, float, float]:
    every = [s.points for s in plane.of(view)] + [p for v, p in plane.sticks if v == view]
    p = on_page(to, np.vstack(every))
    return (*p.min(0), *p.max(0))  # type: ignore[return-value]


def dimension(sheet: Sheet, ends: Points, axis: int, at: float, said: str, pens: Pens) -> None:
    """Extension lines from two points to a line along `axis` at `at`, arrows, and its figure."""
    feet = ends.copy()
    feet[:, 1 - axis] = at
    for end, foot in zip(ends, feet, strict=True):
        away = (foot - end) / np.hypot(*(foot - end))
        sheet.lines.append((np.array([end + away * 3 * pens.main, foot + away * pens.text * 0.4]), pens.thin))
    along = (feet[1] - feet[0]) / np.hypot(*(feet[1] - feet[0]))
    size = pens.text * 0.7
    for foot, way in ((feet[0], along), (feet[1], -along)):
        side = np.array([-way[1], way[0]])
        sheet.arrows.append(
            np.array([foot, foot + size * way + 0.25 * size * side, foot + size * way - 0.25 * size * side])
        )
    middle = feet.mean(0)
    half = 0.35 * pens.text * len(said) + 0.3 * pens.text
    sheet.lines += [
        (np.array([feet[0], middle - along * half]), pens.thin),
        (np.array([middle + along * half, feet[1]]), pens.thin),
    ]
    sheet.words.append(((middle[0], middle[1]), said, pens.text, 90 if axis == 1 else 0))


def dimensions(
    sheet: Sheet, plane: Plane, to: dict[str, Points], pens: Pens, rng: np.random.Generator
) -> None:
    """The span beside the top view, ahead or aft of it, and the length under the side view."""
    wing = max((s for s in plane.of("top") if s.part == "wing"), key=lambda s: np.ptp(s.points[:, 1]))
    body = next(s for s in plane.of("side") if s.part == "body")
    out = 0.05 * plane.span_mm * pens.mm
    for view, shape, of, length in (("top", wing, 1, plane.span_mm), ("side", body, 0, plane.length_mm)):
        p = shape.points[[shape.points[:, of].argmin(), shape.points[:, of].argmax()]]
        ends = on_page(to[view], p)
        axis = int(np.argmax(np.abs(ends[1] - ends[0])))
        box = box_of(plane, view, to[view])
        after = view == "side" or rng.random() < 0.5
        at = box[3 - axis] + out if after else box[1 - axis] - out
        dimension(sheet, ends, axis, at, f"{length:.0f}", pens)


def hatching(sheet: Sheet, plane: Plane, to: dict[str, Points], pens: Pens, rng: np.random.Generator) -> None:
    """Slanted lines over one or two regions: a fin, an end of the wings, a stretch of the body."""
    span = plane.span_mm
    wings = [s for s in plane.of("top") if s.part == "wing"]
    places: list[tuple[str, shapely.Geometry]] = []
    fin = next(s for s in plane.of("side") if s.part == "fin")
    body = next(s for s in plane.of("side") if s.part == "body")
    places.append(("side", fin.area.difference(body.area)))
    lo = rng.uniform(0.28, 0.36) * span
    ends = shapely.union_all([shapely.box(-1e4, lo, 1e4, 1e4), shapely.box(-1e4, -1e4, 1e4, -lo)])
    places.append(("top", wings[0].area.intersection(ends)))
    L = plane.length_mm
    places.append(
        (
            "side",
            body.area.intersection(shapely.box(0.3 * L, -1e4, 0.55 * L, 1e4)).difference(
                shapely.union_all(
                    [s.area for s in plane.of("side") if s.part == "wing"] or [shapely.Polygon()]
                )
            ),
        )
    )
    tail = [s for s in plane.of("top") if s.part == "tail"]
    if tail:
        covered = shapely.union_all([s.area for s in plane.of("top") if s.part in {"body", "fin"}])
        places.append(("top", tail[0].area.difference(covered)))
    step = rng.uniform(7, 14) * max(1.0, pens.mm * span / 1000)
    for i in rng.permutation(len(places))[: rng.integers(1, 3)]:
        view, area = places[i]
        m = to[view]
        there = shapely.transform(area, lambda p, m=m: on_page(m, p))
        if there.is_empty:
            continue
        x0, y0, x1, y1 = there.bounds
        for c in np.arange(x0 - (y1 - y0), x1, step):
            cut = shapely.LineString([(c, y1), (c + (y1 - y0), y0)]).intersection(there)
            sheet.lines += [
                (np.asarray(p.coords), pens.thin)
                for p in shapely.get_parts(cut)
                if p.geom_type == "LineString"
            ]


def centres(sheet: Sheet, plane: Plane, to: dict[str, Points], pens: Pens) -> None:
    L, span = plane.length_mm, plane.span_mm
    z = float(np.mean(next(s for s in plane.of("front") if s.part == "body").points[:, 1]))
    lines = [
        ("top", (-0.05 * L, 0), (1.07 * L, 0)),
        ("side", (-0.05 * L, z), (1.07 * L, z)),
        ("front", (-0.54 * span, z), (0.54 * span, z)),
    ]
    front = np.vstack([s.points for s in plane.of("front")])
    lines.append(("front", (0, front[:, 1].min() - 0.03 * span), (0, front[:, 1].max() + 0.03 * span)))
    unit = max(3.0, 0.008 * span * pens.mm)
    for view, a, b in lines:
        p = on_page(to[view], np.array([a, b], float))
        sheet.lines += [(q, pens.thin) for q in dashes(p, (4 * unit, unit, unit, unit))]


def lettering(
    sheet: Sheet,
    plane: Plane,
    to: dict[str, Points],
    pens: Pens,
    nose: str,
    below: float,
    rng: np.random.Generator,
) -> None:
    """A name over the sheet, a word `below` each view, big letters on a wing and small ones on the body's side."""
    for view, said in (("top", "PLAN"), ("side", "SIDE ELEVATION"), ("front", "FRONT ELEVATION")):
        x0, _, x1, y1 = box_of(plane, view, to[view])
        sheet.words.append((((x0 + x1) / 2, y1 + below), said, pens.text, 0))
    sheet.words.append(((sheet.size[0] / 2, 1.6 * pens.text), "DUNNOCK  three views", 1.5 * pens.text, 0))
    wing = next(s for s in plane.of("top") if s.part == "wing")
    y = 0.27 * plane.span_mm
    chord = shapely.LineString([(-1e4, y), (1e4, y)]).intersection(wing.area)
    x0, x1 = chord.bounds[0], chord.bounds[2]
    at = on_page(to["top"], np.array([[(x0 + x1) / 2, y]]))[0]
    high = min(0.4 * (x1 - x0), 0.055 * plane.span_mm) * pens.mm
    sheet.words.append(
        ((at[0], at[1]), str(rng.choice(["DK4", "7", "B12"])), high, 0 if nose == "up" else 90)
    )
    L = plane.length_mm
    body = next(s for s in plane.of("side") if s.part == "body")
    cut = shapely.LineString([(0.66 * L, -1e4), (0.66 * L, 1e4)]).intersection(body.area)
    at = on_page(to["side"], np.array([[0.66 * L, (cut.bounds[1] + cut.bounds[3]) / 2]]))[0]
    stands = abs(to["side"][1, 0]) > abs(to["side"][0, 0])
    sheet.words.append(
        ((at[0], at[1]), "DUN", 0.4 * (cut.bounds[3] - cut.bounds[1]) * pens.mm, 90 if stands else 0)
    )


def title(sheet: Sheet, pens: Pens, corner: tuple[float, float]) -> None:
    """A frame round the sheet and a ruled block in its lower right corner."""
    w, h = sheet.size
    e = 0.5 * pens.text
    frame = np.array([(e, e), (w - e, e), (w - e, h - e), (e, h - e), (e, e)])
    sheet.lines.append((frame, pens.main))
    bw, bh = corner
    x0, y0 = w - e - bw, h - e - bh
    sheet.lines.append((np.array([(x0, h - e), (x0, y0), (w - e, y0)]), pens.main))
    for i, said in enumerate(("DUNNOCK", "scale 1:4", "sheet 1 of 1")):
        y = y0 + bh * (i + 0.5) / 3
        sheet.words.append(((x0 + bw / 2, y), said, min(pens.text, bh / 5), 0))
        if i:
            sheet.lines.append((np.array([(x0, y0 + bh * i / 3), (w - e, y0 + bh * i / 3)]), pens.thin))
    sheet.lines.append((np.array([(x0 + bw * 0.82, y0 + bh / 3), (x0 + bw * 0.82, h - e)]), pens.thin))


def crossings(sheet: Sheet, plane: Plane, to: dict[str, Points], rng: np.random.Generator) -> None:
    """Thin straight lines that cross the views: a ruler's slip, a fold."""
    for view, many in (("top", 3), ("side", 2)):
        x0, y0, x1, y1 = box_of(plane, view, to[view])
        for _ in range(many):
            mid = rng.uniform((x0, y0), (x1, y1))
            a = rng.uniform(0, np.pi)
            half = rng.uniform(0.15, 0.5) * np.hypot(x1 - x0, y1 - y0)
            way = np.array([np.cos(a), np.sin(a)]) * half
            sheet.lines.append((np.array([mid - way, mid + way]), 1.0))
