"""What the user set right: view boxes, a scale line, outlines drawn over the picture."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import lru_cache

import numpy as np

from sheetlark.errors import NothingFoundError, PictureError
from sheetlark.trace.model import Axes, Corrections, DrawnOutline, Outline, Point, Proportions, Tracing, View
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.read import Picture
from sheetlark.trace.paper.regions import Solid
from sheetlark.trace.paper.search import Sheet, all_solids
from sheetlark.trace.paper.views import Candidate, Reading, candidates
from sheetlark.trace.shapes.contour import run_to
from sheetlark.trace.shapes.control_outlines import hinge_outline
from sheetlark.trace.shapes.fit import fit_path
from sheetlark.trace.shapes.outlining import TOLERANCE

KINDS = ("top", "side", "front")
MIRRORED = ("wing", "tail", "body")  # parts of the top view that are alike on both sides


def scale_from_line(corrections: Corrections) -> float | None:
    """Model millimetres per picture pixel from the line drawn over a known length, or None."""
    if corrections.scale_line_px is None:
        return None
    (x0, y0), (x1, y1) = corrections.scale_line_px
    pixels = float(np.hypot(x1 - x0, y1 - y0))
    mm = corrections.scale_line_mm
    if mm is None or not mm > 0.0 or pixels < 5.0:
        raise PictureError(
            f"the scale line is {pixels:.1f} px long and stands for {mm} mm; it needs at least 5 px and a length above 0."
        )
    return mm / pixels


@lru_cache(maxsize=1)
def _pool(sheet: Sheet) -> tuple[Candidate, ...]:
    """Every silhouette of a sheet; kept for the last one, for boxes are moved many times over one picture."""
    return tuple(candidates(all_solids(sheet)))


def reading_from_boxes(sheet: Sheet, found: Reading, corrections: Corrections, px_per_px: float) -> Reading:
    """Take the largest silhouette inside each box the user drew as that view; a found one that fills it stays."""
    picked: dict[str, Candidate | None] = {"top": None, "side": None, "front": None}
    axis = {"top": found.top_axis, "side": found.side_axis}
    seen = tuple(c for c in (found.top, found.side, found.front) if c is not None)
    for box in corrections.boxes:
        if box.kind not in KINDS:
            raise PictureError(f"a view is top, side or front, not {box.kind!r}.")
        b = np.array(box.box_px, dtype=np.float64) / px_per_px - 0.5
        corners = sheet.from_given(np.array([[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]]]))
        lo, hi = corners.min(0) / sheet.pool, corners.max(0) / sheet.pool
        inside = [c for c in seen if _lies_in(c, lo, hi) and _fills(c, lo, hi)]
        inside = inside or [c for c in _pool(sheet) if _lies_in(c, lo, hi)]
        if not inside:
            continue
        if box.kind == "top":
            best = max(inside, key=lambda c: np.log(c.solid.area) + 3.0 * max(c.upright, c.level))
            axis["top"] = "upright" if best.upright >= best.level else "level"
            if box.nose in {"up", "down"}:
                axis["top"] = "upright"
            elif box.nose in {"left", "right"}:
                axis["top"] = "level"
        else:
            best = max(inside, key=lambda c: c.solid.area)
            if box.kind == "side" and (box.nose or best is not found.side):
                axis["side"] = "upright" if box.nose in {"up", "down"} else "level"
        picked[box.kind] = best
    return Reading(
        top=picked["top"],
        side=picked["side"],
        front=picked["front"],
        top_axis=axis["top"],
        side_axis=axis["side"],
        score=found.score,
        confidence=0.9,
    )


def _lies_in(c: Candidate, lo: Floats, hi: Floats) -> bool:
    slack = 0.03 * float((hi - lo).max())
    x0, y0, x1, y1 = c.solid.box
    return bool(x0 >= lo[0] - slack and y0 >= lo[1] - slack and x1 <= hi[0] + slack and y1 <= hi[1] + slack)


def _fills(c: Candidate, lo: Floats, hi: Floats) -> bool:
    """Whether a silhouette, with the thin parts joined to it, takes most of a box: then nothing larger is meant."""
    wide = max(c.solid.box[2] - c.solid.box[0], c.solid.reach[2] - c.solid.reach[0])
    high = max(c.solid.box[3] - c.solid.box[1], c.solid.reach[3] - c.solid.reach[1])
    return bool(wide > 0.6 * (hi[0] - lo[0]) and high > 0.6 * (hi[1] - lo[1]))


def apply_outlines(
    found: Tracing | None,
    picture: Picture,
    sheet: Sheet,
    corrections: Corrections,
    span_mm: float,
    line_mm_per_px: float | None,
) -> Tracing:
    """Put hand-drawn outlines in the place of found ones; with nothing found, they are all there is.

    Raises
    ------
    NothingFoundError
        If nothing was found and nothing drawn.
    PictureError
        If nothing was found and there is no hand-drawn wing, centre line or scale to stand on.
    """
    drawn = corrections.outlines
    if found is None and not drawn:
        where = f" {picture.of_pages}" if picture.of_pages else ""
        raise NothingFoundError(
            "no top view of an aeroplane was found in the picture. It needs closed outlines, mirrored about a centre "
            f"line. Box the views in, or draw the outlines over the picture by hand.{where}"
        )
    base = found if found is not None else _empty(picture, sheet, corrections, span_mm, line_mm_per_px)
    base = _with_drawn_views(base, corrections)
    tolerance = TOLERANCE * base.span_mm
    new = [_drawn(d, base, tolerance if d.smooth else 1e-6) for d in drawn]
    replaced = {(o.part, o.view, o.name) for o in new}
    kept = tuple(o for o in base.outlines if (o.part, o.view, o.name) not in replaced)
    made = replace(base, outlines=(*kept, *new))
    return made if found is not None else _measured(made)


def _drawn(d: DrawnOutline, base: Tracing, tolerance_mm: float) -> Outline:
    points = _to_model(d, base)
    if d.part == "hinge":
        return hinge_outline(d.name or d.part, d.view, points[0], points[-1], 0.95)
    half = _half_of(points, half=d.half) if d.view == "top" and d.part in MIRRORED else None
    half_path = ""
    if half is not None:
        half_path = fit_path(half, tolerance_mm=tolerance_mm, closed=False).path
        points = np.vstack([half, half[-2:0:-1] * (1.0, -1.0)])
    fit = fit_path(points, tolerance_mm=tolerance_mm, closed=True)
    return Outline(
        part=d.part,
        name=d.name or d.part,
        view=d.view,
        path=fit.path,
        half_path=half_path,
        confidence=0.95,
        error_mm=fit.rms_mm,
        worst_mm=fit.worst_mm,
        nodes=fit.nodes,
    )


def _half_of(p: Floats, *, half: bool) -> Floats:
    """The starboard half of a part, from the centre line out and back to it; both halves averaged where both are drawn.

    A half whose ends stop short of the centre line is carried straight in to it.
    """
    if half:
        chain = p if float(p[:, 1].mean()) >= 0.0 else p * (1.0, -1.0)
    else:
        sides = [_side_of(p), _side_of(p * (1.0, -1.0))]
        areas = [_area(s) for s in sides]
        if min(areas) < 0.2 * max(areas):
            chain = sides[int(np.argmax(areas))]
        else:
            chain = 0.5 * (_spaced(sides[0]) + _spaced(sides[1]))
    if chain[0, 0] > chain[-1, 0]:
        chain = chain[::-1]
    chain = np.c_[chain[:, 0], np.maximum(chain[:, 1], 0.0)]
    reach = 0.02 * float(chain[:, 1].max())
    ends = [chain[:1] * (1.0, 0.0), chain[-1:] * (1.0, 0.0)]
    inner = chain[1:-1] if max(chain[0, 1], chain[-1, 1]) <= reach else chain
    return np.vstack([ends[0], inner, ends[1]])


def _side_of(p: Floats) -> Floats:
    """The part of a closed ring with y >= 0, as a chain from one end at the centre line to the other."""
    closed: Floats = np.vstack([p, p[:1]])
    out: list[Floats] = []
    for a, b in itertools.pairwise(closed):
        if a[1] >= 0.0:
            out.append(a)
        if (a[1] < 0.0) != (b[1] < 0.0):
            out.append(a + (b - a) * (a[1] / (a[1] - b[1])))
    if len(out) < 3:
        return np.zeros((3, 2))
    ring = np.array(out)
    low = ring[:, 1].min()
    foot = np.flatnonzero(ring[:, 1] <= low + 1e-6)
    first = foot[int(np.argmin(ring[foot, 0]))]
    last = foot[int(np.argmax(ring[foot, 0]))]
    ahead = np.roll(ring, -int(first), axis=0)
    stop = int((last - first) % len(ring))
    one: Floats = ahead[: stop + 1]
    other: Floats = np.vstack([ahead[stop:], ahead[:1]])[::-1]
    return one if _area(one) >= _area(other) else other


def _area(chain: Floats) -> float:
    x, y = chain[:, 0], chain[:, 1]
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def _spaced(chain: Floats, count: int = 600) -> Floats:
    """The same chain at evenly spaced points."""
    run = run_to(chain)
    at = np.linspace(0.0, run[-1], count)
    return np.asarray(np.c_[np.interp(at, run, chain[:, 0]), np.interp(at, run, chain[:, 1])])


def _empty(
    picture: Picture, sheet: Sheet, corrections: Corrections, span_mm: float, line_mm_per_px: float | None
) -> Tracing:
    """A tracing with only the views the user's own outlines make."""
    scale = line_mm_per_px if line_mm_per_px is not None else _scale_from_wing(corrections, span_mm)
    turned = corrections.turned_deg if corrections.turned_deg is not None else np.degrees(sheet.turned_rad)
    views = []
    for kind in KINDS:
        pts = [np.array(d.points_px) for d in corrections.outlines if d.view == kind]
        if not pts:
            continue
        p = np.vstack(pts)
        (x0, y0), (x1, y1) = p.min(0), p.max(0)
        box = (float(x0), float(y0), float(x1), float(y1))
        views.append(View(kind=kind, box_px=box, scale_mm_per_px=scale, nose="", confidence=0.95))
    return Tracing(
        picture=picture.name,
        size_px=picture.size_px,
        turned_deg=float(turned),
        span_mm=span_mm,
        views=tuple(views),
        outlines=(),
        proportions=Proportions(
            span_mm=span_mm,
            length_mm=None,
            dihedral_deg=None,
            wing_height_mm=(),
            stagger_mm=None,
            gap_mm=None,
        ),
        notes=(),
        confidence=0.9,
    )


def _scale_from_wing(corrections: Corrections, span_mm: float) -> float:
    """Model millimetres a pixel from the drawn wing's reach across the centre line."""
    wings = [d for d in corrections.outlines if d.view == "top" and d.part == "wing"]
    if not wings:
        raise PictureError(
            "nothing sets the scale: draw the wing in the top view, or a scale line over a known length."
        )
    line = corrections.centre_line_px
    if line is None:
        raise PictureError("the top view's centre line is not known: draw it from nose to tail.")
    start, v = np.array(line[0]), np.array(line[1]) - np.array(line[0])
    across = np.array([v[1], -v[0]]) / max(float(np.hypot(*v)), 1e-9)
    reach = [(np.array(d.points_px) - start) @ across for d in wings]
    span_px = max(
        2.0 * float(np.abs(r).max()) if d.half else float(np.ptp(r))
        for d, r in zip(wings, reach, strict=True)
    )
    return span_mm / max(span_px, 1.0)


def _with_drawn_views(base: Tracing, corrections: Corrections) -> Tracing:
    """Every view that was drawn in has axes: those found, set right by a drawn centre line, or made of the drawing."""
    known = {v.kind for v in base.views}
    scale = base.views[0].scale_mm_per_px if base.views else 1.0
    views = list(base.views)
    views += [
        View(kind=box.kind, box_px=box.box_px, scale_mm_per_px=scale, nose=box.nose, confidence=0.9)
        for box in corrections.boxes
        if box.kind not in known and any(d.view == box.kind for d in corrections.outlines)
    ]
    return replace(base, views=tuple(replace(v, axes=_axes(v, base, corrections)) for v in views))


def _axes(view: View, base: Tracing, corrections: Corrections) -> Axes:
    """Where a view's plane lies in the picture."""
    line = corrections.centre_line_px if view.kind == "top" else None
    if view.axes is not None:
        if line is None:
            return view.axes
        a, b = (np.array(t, dtype=np.float64) for t in line)
        aft = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        if aft @ np.array(view.axes.first_px) < 0.0:
            aft = -aft
        origin = a + aft * float((np.array(view.axes.origin_px) - a) @ aft)
        return _axes_of(origin, aft, np.array([aft[1], -aft[0]]), view.scale_mm_per_px)
    turn = np.radians(base.turned_deg)
    c, s = np.cos(turn), np.sin(turn)

    def turned(x: float, y: float) -> Floats:
        return np.array([c * x - s * y, s * x + c * y])

    drawn = {d.part: np.array(d.points_px) for d in corrections.outlines if d.view == view.kind}
    every = np.vstack(list(drawn.values())) if drawn else np.array(view.box_px).reshape(2, 2)
    middle = 0.5 * (every.min(0) + every.max(0))
    if view.kind == "front":
        return _axes_of(middle, turned(1.0, 0.0), turned(0.0, -1.0), view.scale_mm_per_px)
    nose = next((b.nose for b in corrections.boxes if b.kind == view.kind and b.nose), "") or view.nose
    ways = {"left": turned(1, 0), "right": turned(-1, 0), "up": turned(0, 1), "down": turned(0, -1)}
    aft = ways.get(nose, turned(1, 0))
    if view.kind == "top":
        origin = middle + aft * float(((every - middle) @ aft).min())
        if line is not None:
            a, b = (np.array(t, dtype=np.float64) for t in line)
            aft = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
            origin = a
        if "body" in drawn:
            origin = origin + aft * float(((drawn["body"] - origin) @ aft).min())
        return _axes_of(origin, aft, np.array([aft[1], -aft[0]]), view.scale_mm_per_px)
    up = turned(0.0, -1.0) if abs(aft @ turned(1, 0)) > 0.7 else turned(1.0, 0.0)
    body = drawn.get("body", every)
    along = (body - middle) @ aft
    origin = middle + aft * float(along.min())
    nose_end = body[along <= along.min() + 0.012 * float(np.ptp(along))]
    heights = (nose_end - origin) @ up
    return _axes_of(origin + up * 0.5 * float(heights.min() + heights.max()), aft, up, view.scale_mm_per_px)


def _axes_of(origin: Floats, first: Floats, second: Floats, mm_per_px: float) -> Axes:
    def point(p: Floats) -> Point:
        return float(p[0]), float(p[1])

    return Axes(
        origin_px=point(origin), first_px=point(first / mm_per_px), second_px=point(second / mm_per_px)
    )


def _to_model(d: DrawnOutline, base: Tracing) -> Floats:
    """Picture pixels of a drawn outline -> mm in its view's plane."""
    if d.view not in KINDS:
        raise PictureError(f"a view is top, side or front, not {d.view!r}.")
    p = np.array(d.points_px, dtype=np.float64)
    least = 2 if d.part == "hinge" else 3
    if p.ndim != 2 or len(p) < least:
        raise PictureError(f"the outline of {d.part!r} has {len(p)} points; at least {least} are needed.")
    view = base.view(d.view)
    if view is None or view.axes is None:
        raise PictureError(
            f"no {d.view} view is known for the outline of {d.part!r}. Box that view in first."
        )
    axes = view.axes
    m = np.array([axes.first_px, axes.second_px])
    return np.asarray((p - np.array(axes.origin_px)) @ np.linalg.inv(m))


def _measured(made: Tracing) -> Tracing:
    """Span, length, heights and dihedral read off hand-drawn outlines alone."""
    import svg.path

    def points(o: Outline) -> Floats:
        t = np.linspace(0.0, 1.0, 13)[1:]
        rows = [
            s.point(u) for s in svg.path.parse_path(o.path) if not isinstance(s, svg.path.Move) for u in t
        ]
        return np.array([[z.real, z.imag] for z in rows])

    rings = {(o.part, o.view): points(o) for o in made.outlines}
    wings = [points(o) for o in made.outlines if o.part == "wing" and o.view == "top"]
    bodies = [r for (part, view), r in rings.items() if part == "body" and view != "front"]
    front = [points(o) for o in made.outlines if o.part == "wing" and o.view == "front"]
    span = 2.0 * max((float(np.abs(w[:, 1]).max()) for w in wings), default=0.5 * made.span_mm)
    length = max((float(b[:, 0].max()) for b in bodies), default=None)
    dihedral = None
    if front:
        y, z = np.abs(front[0][:, 0]), front[0][:, 1]
        outer = y > 0.3 * float(y.max())
        dihedral = float(np.degrees(np.arctan(np.polyfit(y[outer], z[outer], 1)[0])))
    side_wing = rings.get(("wing", "side"))
    heights = () if side_wing is None else (float(side_wing[:, 1].mean()),)
    return replace(
        made,
        span_mm=span,
        proportions=replace(
            made.proportions,
            span_mm=span,
            length_mm=length,
            dihedral_deg=dihedral,
            wing_height_mm=heights,
        ),
    )


__all__ = ["Solid", "apply_outlines", "reading_from_boxes", "scale_from_line"]
