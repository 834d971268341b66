"""What the user set right: view boxes, a scale line, outlines drawn over the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.fit import fit_path
from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Corrections, DrawnOutline, Outline, Proportions, Tracing, View
from sheetlark.trace.read import Picture
from sheetlark.trace.regions import Solid
from sheetlark.trace.search import Sheet, all_solids
from sheetlark.trace.views import Candidate, Reading, candidates

KINDS = ("top", "side", "front")


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


def reading_from_boxes(sheet: Sheet, found: Reading, corrections: Corrections, px_per_px: float) -> Reading:
    """Take the largest silhouette inside each box the user drew as that view."""
    pool = candidates(all_solids(sheet))
    picked: dict[str, Candidate | None] = {"top": None, "side": None, "front": None}
    axis = {"top": found.top_axis, "side": found.side_axis}
    for box in corrections.boxes:
        if box.kind not in KINDS:
            raise PictureError(f"a view is top, side or front, not {box.kind!r}.")
        b = np.array(box.box_px, dtype=np.float64) / px_per_px - 0.5
        corners = sheet.from_given(np.array([[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]]]))
        lo, hi = corners.min(0) / sheet.pool, corners.max(0) / sheet.pool
        slack = 0.03 * float((hi - lo).max())
        inside = [
            c
            for c in pool
            if c.solid.box[0] >= lo[0] - slack
            and c.solid.box[1] >= lo[1] - slack
            and c.solid.box[2] <= hi[0] + slack
            and c.solid.box[3] <= hi[1] + slack
        ]
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
            if box.kind == "side":
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
    PictureError
        If nothing was found and there is no hand-drawn wing, centre line or scale to stand on.
    """
    drawn = corrections.outlines
    if found is None and not drawn:
        raise PictureError(
            "no top view of an aeroplane was found in the picture. It needs closed outlines, mirrored about a centre "
            "line. Box the views in, or draw the outlines over the picture by hand."
        )
    base = found if found is not None else _empty(picture, sheet, corrections, span_mm, line_mm_per_px)
    new: list[Outline] = []
    for d in drawn:
        points = _to_model(d, base, corrections, line_mm_per_px)
        fit = fit_path(points, tolerance_mm=0.0012 * span_mm if d.smooth else 1e-6, closed=True)
        new.append(
            Outline(
                part=d.part,
                name=d.name or d.part,
                view=d.view,
                path=fit.path,
                half_path="",
                confidence=0.95,
                error_mm=fit.rms_mm,
                worst_mm=fit.worst_mm,
                nodes=fit.nodes,
            )
        )
    replaced = {(o.part, o.view, o.name) for o in new}
    kept = tuple(o for o in base.outlines if (o.part, o.view, o.name) not in replaced)
    return replace(base, outlines=(*kept, *new))


def _empty(
    picture: Picture, sheet: Sheet, corrections: Corrections, span_mm: float, line_mm_per_px: float | None
) -> Tracing:
    """A tracing with only the views the user's own outlines make."""
    wings = [np.array(d.points_px) for d in corrections.outlines if d.view == "top" and d.part == "wing"]
    if line_mm_per_px is None and not wings:
        raise PictureError(
            "nothing sets the scale: draw the wing in the top view, or a scale line over a known length."
        )
    scale = line_mm_per_px
    views = []
    for kind in KINDS:
        pts = [np.array(d.points_px) for d in corrections.outlines if d.view == kind]
        if not pts:
            continue
        p = np.vstack(pts)
        if scale is None:
            w = np.vstack(wings)
            line = corrections.centre_line_px
            if line is None:
                raise PictureError("the top view's centre line is not known: draw it from nose to tail.")
            v = np.array(line[1]) - np.array(line[0])
            v = v / max(float(np.hypot(*v)), 1e-9)
            scale = span_mm / max(float(np.ptp(w @ np.array([v[1], -v[0]]))), 1.0)
        (x0, y0), (x1, y1) = p.min(0), p.max(0)
        box = (float(x0), float(y0), float(x1), float(y1))
        views.append(View(kind=kind, box_px=box, scale_mm_per_px=scale, nose="", confidence=0.95))
    return Tracing(
        picture=picture.name,
        size_px=picture.size_px,
        turned_deg=float(np.degrees(sheet.turned_rad)),
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


def _to_model(
    d: DrawnOutline,
    base: Tracing,
    corrections: Corrections,
    line_mm_per_px: float | None,
) -> Floats:
    """Picture pixels of a drawn outline -> mm in its view's plane."""
    if d.view not in KINDS:
        raise PictureError(f"a view is top, side or front, not {d.view!r}.")
    p = np.array(d.points_px, dtype=np.float64)
    if p.ndim != 2 or len(p) < 3:
        raise PictureError(f"the outline of {d.part!r} has {len(p)} points; at least 3 are needed.")
    view = base.view(d.view)
    if view is None:
        raise PictureError(
            f"no {d.view} view is known for the outline of {d.part!r}. Box that view in first."
        )
    scale = line_mm_per_px or view.scale_mm_per_px
    given = next((b.nose for b in corrections.boxes if b.kind == d.view and b.nose), "") or view.nose
    origin, aft, other = _axes(d, view, corrections, given, base)
    q = (p - origin) * scale
    return np.asarray(np.c_[q @ aft, q @ other])


def _axes(
    d: DrawnOutline, view: View, corrections: Corrections, nose: str, base: Tracing
) -> tuple[Floats, Floats, Floats]:
    turn = np.radians(base.turned_deg)
    c, s = np.cos(turn), np.sin(turn)

    def turned(x: float, y: float) -> Floats:
        return np.array([c * x - s * y, s * x + c * y])

    x0, y0, x1, y1 = view.box_px
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    if d.view == "front":
        return middle, turned(1.0, 0.0), turned(0.0, -1.0)
    if d.view == "top" and corrections.centre_line_px is not None:
        a, b = (np.array(t, dtype=np.float64) for t in corrections.centre_line_px)
        aft = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        return a, aft, np.array([aft[1], -aft[0]])
    aft = {"left": turned(1, 0), "right": turned(-1, 0), "up": turned(0, 1), "down": turned(0, -1)}.get(
        nose, turned(1, 0)
    )
    half = 0.5 * abs(float(aft @ np.array([x1 - x0, 0.0]))) + 0.5 * abs(float(aft @ np.array([0.0, y1 - y0])))
    origin = middle - aft * half
    if d.view == "top":
        return origin, aft, np.array([aft[1], -aft[0]])
    return origin, aft, turned(0.0, -1.0)


__all__ = ["Solid", "apply_outlines", "reading_from_boxes", "scale_from_line"]
