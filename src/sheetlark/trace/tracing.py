"""The door of the room: a picture in, views and outlines out."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.biplane import Pair, split_pair
from sheetlark.trace.body import Body, find_body_width, with_tail_end
from sheetlark.trace.contour import Rings, trace_rings
from sheetlark.trace.fin import fin_ring
from sheetlark.trace.fit import fit_path
from sheetlark.trace.frame import Frame
from sheetlark.trace.front import FrontView, read_front
from sheetlark.trace.heading import find_heading
from sheetlark.trace.hinges import control_outlines, hinge_note
from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Axes, Corrections, Note, Outline, Proportions, Tracing, View
from sheetlark.trace.nose import from_nose
from sheetlark.trace.planform import find_foreplane, find_tail, find_wing, pointed_tip, with_point
from sheetlark.trace.read import Picture, read_picture
from sheetlark.trace.search import Sheet, read_sheet
from sheetlark.trace.sections import drawn_sections
from sheetlark.trace.side import read_side
from sheetlark.trace.standing import SideView, standing_outlines
from sheetlark.trace.surface import Surface
from sheetlark.trace.views import Candidate, Reading, symmetry_axis


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenPicture:
    """A picture read and looked through for views; the costly half of tracing, which most corrections leave as it is."""

    picture: Picture
    sheet: Sheet
    reading: Reading


def open_picture(
    path: str | os.PathLike[str], *, page: int = 1, turned_deg: float | None = None
) -> OpenPicture:
    """Read a picture and find its views.

    Parameters
    ----------
    turned_deg : float, optional
        The sheet's turn; without it, it is found.

    Raises
    ------
    PictureError
        If the picture is refused.
    """
    picture = read_picture(path, page=page)
    turned = None if turned_deg is None else float(np.radians(turned_deg))
    sheet, reading = read_sheet(picture.grey, turned_rad=turned)
    return OpenPicture(picture=picture, sheet=sheet, reading=reading)


def trace_picture(
    path: str | os.PathLike[str], *, span_m: float, length_m: float | None = None, page: int = 1
) -> Tracing:
    """Read a three-view picture into outlines at model size.

    Parameters
    ----------
    path : path
        PNG, JPEG, WebP, PDF, SVG or DXF.
    span_m : float
        Span of the model, tip to tip, which sets the scale. [m]
    length_m : float, optional
        A second known dimension, nose to tail, to check the scale against. [m]
    page : int
        Page of a PDF, from 1.

    Raises
    ------
    PictureError
        If the picture is refused, or no view of an aeroplane is found in it.
    """
    return trace_with(path, Corrections(), span_m=span_m, length_m=length_m, page=page)


def trace_with(
    path: str | os.PathLike[str],
    corrections: Corrections,
    *,
    span_m: float,
    length_m: float | None = None,
    page: int = 1,
    opened: OpenPicture | None = None,
) -> Tracing:
    """As `trace_picture`, with what the user set right by hand; works with hand-drawn outlines alone.

    With `opened`, from :func:`open_picture` of the same page and turn, the picture is not read again.
    """
    from sheetlark.trace.byhand import apply_outlines, reading_from_boxes, scale_from_line

    if not (np.isfinite(span_m) and 0.05 <= span_m <= 20.0):
        raise PictureError(f"span must lie between 0.05 and 20 m, got {span_m:g} m.")
    if opened is None:
        opened = open_picture(path, page=page, turned_deg=corrections.turned_deg)
    picture, sheet, reading = opened.picture, opened.sheet, opened.reading
    if corrections.boxes:
        reading = reading_from_boxes(sheet, reading, corrections, picture.px_per_px)
    line_mm_per_px = scale_from_line(corrections)
    found: Tracing | None = None
    if reading.top is not None:
        found = _trace(picture, sheet, reading, span_m * 1000.0, length_m, line_mm_per_px, corrections)
    if corrections.outlines or found is None:
        found = apply_outlines(found, picture, sheet, corrections, span_m * 1000.0, line_mm_per_px)
    return found


def _box(
    sheet: Sheet, c: Candidate, rings: Rings, px_per_px: float, span_px: float = 0.0
) -> tuple[float, float, float, float]:
    """Box of a view in the given picture: its outline, grown to small parts joined to it."""
    every = np.vstack(rings.rings)
    x0, y0 = every.min(0)
    x1, y1 = every.max(0)
    r = np.array(c.solid.reach, dtype=np.float64) * sheet.pool
    w, h = x1 - x0, y1 - y0
    if span_px and abs((r[2] - r[0]) / span_px - 1.0) < 0.04 and r[3] - r[1] < 0.8 * span_px:
        x0, y0, x1, y1 = (float(v) for v in r)  # wings of single lines or on struts belong to the view
    elif (
        r[0] > x0 - 0.04 * w
        and r[2] < x1 + 0.04 * w
        and r[1] > y0 - 0.9 * min(w, h)
        and r[3] < y1 + 0.9 * min(w, h)
    ):
        grow = (r[3] - r[1]) < 1.9 * h and min(w, h) < 0.45 * max(w, h)
        if grow:
            y0, y1 = min(y0, r[1]), max(y1, r[3])
    # of a turned sheet the corners of an upright box lie far out: its figure, and the middles of its sides, tell more
    x, y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    pts = sheet.to_given(np.vstack([every, [[x0, y], [x1, y], [x, y0], [x, y1]]]))
    lo, hi = (pts.min(0) + 0.5) * px_per_px, (pts.max(0) + 0.5) * px_per_px
    return float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])


def _axes_in_picture(frame: Frame, sheet: Sheet, px_per_px: float) -> Axes:
    """A view's frame in pixels of the picture as it was given."""
    marks = frame.origin + np.array([np.zeros(2), frame.first, frame.second]) / frame.mm_per_px
    origin, first, second = ((sheet.to_given(marks) + 0.5) * px_per_px).tolist()
    return Axes(
        origin_px=(origin[0], origin[1]),
        first_px=(first[0] - origin[0], first[1] - origin[1]),
        second_px=(second[0] - origin[0], second[1] - origin[1]),
    )


def _rings(sheet: Sheet, c: Candidate) -> Rings:
    return trace_rings(c.solid.mask, c.solid.at, pool=sheet.pool, dark=sheet.dark, pen_px=sheet.pen_px)


def _closed(
    part: str, name: str, view: str, half: Floats, *, tol: float, confidence: float, mirrored: bool
) -> Outline:
    """An outline from a half (mirrored about the second axis = 0) or from a whole ring."""
    if mirrored:
        ring = np.vstack([half, half[::-1] * (1.0, -1.0)])
        half_fit = fit_path(half, tolerance_mm=tol, closed=False)
    else:
        ring, half_fit = half, None
    fit = fit_path(ring, tolerance_mm=tol, closed=True)
    return Outline(
        part=part,
        name=name,
        view=view,
        path=fit.path,
        half_path=half_fit.path if half_fit else "",
        confidence=float(np.clip(confidence, 0.02, 0.99)),
        error_mm=fit.rms_mm,
        worst_mm=fit.worst_mm,
        nodes=fit.nodes,
    )


def length_note(found_mm: float, stated_m: float) -> Note:
    """How the length found compares with the one that was stated."""
    off = found_mm / (1000.0 * stated_m) - 1.0
    return Note(
        id="length-check",
        says=f"At this span the drawing is {found_mm:.1f} mm long; {1000 * stated_m:.1f} mm was stated, "
        f"{100 * off:+.1f} %."
        + (" One of the two is wrong, or the picture is stretched." if abs(off) > 0.015 else ""),
    )


def _trace(
    picture: Picture,
    sheet: Sheet,
    reading: Reading,
    span: float,
    length_m: float | None,
    line_mm_per_px: float | None,
    corrections: Corrections,
) -> Tracing:
    assert reading.top is not None
    tol = 0.0012 * span
    notes: list[Note] = []
    views: list[View] = []
    outlines: list[Outline] = []
    top_rings = _rings(sheet, reading.top)
    if not top_rings.rings:
        raise PictureError(
            "the top view's outline cannot be followed. Box it in by hand, or draw it with a darker pen."
        )
    angle, point = symmetry_axis(reading.top.solid.mask, reading.top_axis)
    at = reading.top.solid.at
    point = (point + np.array([at[1], at[0]])) * sheet.pool + (sheet.pool - 1) / 2.0
    side_rings = _rings(sheet, reading.side) if reading.side is not None else Rings(rings=(), pen_px=0.0)
    said = {b.kind: b.nose for b in corrections.boxes}
    heading = find_heading(
        sheet,
        top_rings,
        reading.top_axis,
        angle,
        point,
        side_rings if side_rings.rings else None,
        reading.side_axis,
        said=(said.get("top", ""), said.get("side", "")),
    )
    nose, frame = heading.nose, heading.frame
    mm_per_px = frame.mm_per_px * span / 1000.0
    beyond = pointed_tip(heading.wing)
    mm_per_px /= beyond
    if line_mm_per_px is not None:
        mm_per_px = line_mm_per_px * picture.px_per_px
    frame = replace(frame, mm_per_px=mm_per_px)
    mm = tuple(frame.to_mm(r) for r in top_rings.rings)
    span_seen = float(np.ptp(np.concatenate([m[:, 1] for m in mm])))
    frame, mm = from_nose(frame, mm, span_seen, sheet.dark, pen=sheet.pen_px * mm_per_px)
    length = float(max(m[:, 0].max() for m in mm))
    views.append(
        View(
            kind="top",
            box_px=_box(sheet, reading.top, top_rings, picture.px_per_px),
            scale_mm_per_px=mm_per_px / picture.px_per_px,
            nose=nose,
            confidence=reading.confidence,
            axes=_axes_in_picture(frame, sheet, picture.px_per_px),
        )
    )
    wing = find_wing(mm, span_seen)
    if wing is not None and beyond > 1.0:
        wing = with_point(wing, beyond)
        span_seen *= beyond
    tail = None
    if wing is not None:
        find = find_foreplane if heading.kind == "canard" else find_tail
        tail = find(mm, span_seen, wing)
    # side view
    side_body: Body | None = None
    fin: Surface | None = None
    side_frame: Frame | None = None
    side_mm: tuple[Floats, ...] = ()
    if reading.side is not None and heading.side_frame is not None:
        side_nose, side_frame = heading.side_nose, heading.side_frame
        side_length_px = float(np.ptp(np.vstack(side_rings.rings) @ side_frame.first))
        scale = mm_per_px
        if abs(side_length_px * mm_per_px / length - 1.0) > 0.12:
            scale = length / side_length_px
            notes.append(
                Note(
                    id="side-scale",
                    says=f"The side view is drawn {side_length_px * mm_per_px / length:.2f} times as long as the "
                    "top view; it is scaled to the top view's length.",
                )
            )
        side_frame = replace(side_frame, mm_per_px=scale)
        side_mm = tuple(side_frame.to_mm(r) for r in side_rings.rings)
        side_frame, side_mm = from_nose(side_frame, side_mm, span_seen, sheet.dark, pen=sheet.pen_px * scale)
        side_frame, side_mm, side_body, fin = read_side(
            sheet, side_frame, side_mm, tuple(s for s in (wing, tail) if s is not None), span=span_seen
        )
        views.append(
            View(
                kind="side",
                box_px=_box(sheet, reading.side, side_rings, picture.px_per_px),
                scale_mm_per_px=scale / picture.px_per_px,
                nose=side_nose,
                confidence=reading.confidence,
                axes=_axes_in_picture(side_frame, sheet, picture.px_per_px),
            )
        )

    def top_ink(x: Floats, y: Floats) -> Floats:
        return frame.ink(sheet.dark, x, y)

    def side_ink(x: Floats, z: Floats) -> Floats:
        assert side_frame is not None
        return side_frame.ink(sheet.dark, x, z)

    ahead: FrontView | None = None
    if reading.front is not None:
        front_rings = _rings(sheet, reading.front)
        if front_rings.rings:
            stands = (
                (float(side_body.low.min()), float(side_body.high.max())) if side_body is not None else None
            )
            ahead = read_front(
                sheet, front_rings, reading.front, mm_per_px, span_seen, side_mm, angle, body=stands
            )
            views.append(
                View(
                    kind="front",
                    box_px=_box(sheet, reading.front, front_rings, picture.px_per_px, span_seen / mm_per_px),
                    scale_mm_per_px=mm_per_px / picture.px_per_px,
                    nose="toward",
                    confidence=reading.confidence,
                    axes=_axes_in_picture(ahead.frame, sheet, picture.px_per_px),
                )
            )
    fronts = ahead.wings if ahead is not None else ()
    pair: Pair | None = None
    if wing is not None and len(fronts) == 2:
        gap = fronts[1].z_mm - fronts[0].z_mm
        pen = sheet.pen_px * mm_per_px
        uppers, lowers = (
            drawn_sections(
                side_ink,
                root=(float(wing.lead[0]), float(wing.trail[0])),
                heights=(
                    float(min(m[:, 1].min() for m in side_mm)),
                    float(max(m[:, 1].max() for m in side_mm)),
                ),
                gap=gap,
                span=span_seen,
                pen=pen,
            )
            if side_frame is not None and side_mm
            else ((), ())
        )
        pair = split_pair(
            mm,
            wing,
            span=span_seen,
            semi_upper=fronts[1].semi_mm,
            semi_lower=fronts[0].semi_mm,
            uppers=uppers,
            lowers=lowers,
            ink=top_ink,
            pen=pen,
        )
        if pair is not None and tail is None and max(pair.seen_lower, pair.seen_upper) < 0.5:
            pair = None  # without a tail and without a second edge: one wing, and something else in the front view
    depth = np.c_[side_body.x, side_body.high - side_body.low] if side_body is not None else None
    body = find_body_width(mm, span_seen, wing, tail, depth, top_ink, pen_mm=sheet.pen_px * mm_per_px)
    if body is not None and depth is not None:
        body = with_tail_end(body, depth)
        length = max(length, float(body.x[-1]))
    sure_top = reading.confidence
    if wing is not None:
        trust = sure_top * float(np.exp(-((wing.asymmetry / (0.01 * span)) ** 2)))
        if pair is not None:
            upper, lower = pair.upper.half(), pair.lower.half()
            outlines.append(
                _closed(
                    "wing",
                    "upper wing",
                    "top",
                    upper,
                    tol=tol,
                    confidence=trust * (0.7 + 0.3 * pair.seen_upper),
                    mirrored=True,
                )
            )
            outlines.append(
                _closed(
                    "wing",
                    "lower wing",
                    "top",
                    lower,
                    tol=tol,
                    confidence=trust * (0.4 + 0.55 * pair.seen_lower),
                    mirrored=True,
                )
            )
        else:
            outlines.append(
                _closed("wing", "wing", "top", wing.half(), tol=tol, confidence=trust, mirrored=True)
            )
    if tail is not None:
        tail_name = "foreplane" if heading.kind == "canard" else "tailplane"
        trust = sure_top * float(np.exp(-((tail.asymmetry / (0.01 * span)) ** 2)))
        outlines.append(
            _closed("tail", tail_name, "top", tail.half(), tol=tol, confidence=trust, mirrored=True)
        )
    if body is not None:
        half = np.c_[body.x, body.high]
        half = np.vstack([[half[0, 0], 0.0], half, [half[-1, 0], 0.0]])
        trust = sure_top * (0.45 + 0.5 * float(body.seen.mean()))
        outlines.append(_closed("body", "body width", "top", half, tol=tol, confidence=trust, mirrored=True))
    if side_body is not None:
        trust = reading.confidence * (0.5 + 0.45 * float(side_body.seen.mean()))
        outlines.append(
            _closed("body", "body side", "side", side_body.ring(), tol=tol, confidence=trust, mirrored=False)
        )
    if fin is not None:
        ring = fin_ring(fin, side_body, span)
        outlines.append(
            _closed("fin", "fin", "side", ring, tol=tol, confidence=0.85 * reading.confidence, mirrored=False)
        )
    if wing is not None:
        outlines += control_outlines(
            (("wing", wing),) if pair is None else (("upper wing", pair.upper), ("lower wing", pair.lower)),
            tail,
            fin,
            top_ink,
            side_ink if side_frame is not None else None,
            pen=sheet.pen_px * mm_per_px,
            post=(float(side_body.x[-1]), float(side_body.low[-1])) if side_body is not None else None,
            trust=reading.confidence,
        )
        notes.append(hinge_note(outlines, tailed=tail is not None, finned=fin is not None))
    if wing is not None and side_frame is not None and side_body is not None:
        outlines += standing_outlines(
            sheet,
            reading,
            SideView(frame=side_frame, rings=side_mm, body=side_body),
            ahead,
            (wing,) if pair is None else (pair.upper, pair.lower),
            body,
            span=span_seen,
        )
    if length_m is not None:
        notes.append(length_note(length, length_m))
    return Tracing(
        picture=picture.name,
        size_px=picture.size_px,
        turned_deg=float(np.degrees(sheet.turned_rad + angle)),
        span_mm=span_seen,
        views=tuple(views),
        outlines=tuple(outlines),
        proportions=Proportions(
            span_mm=span_seen,
            length_mm=length,
            dihedral_deg=float(np.mean([f.dihedral_deg for f in fronts])) if fronts else None,
            wing_height_mm=(fronts[0].z_mm,) if len(fronts) == 1 else (),
            stagger_mm=pair.stagger_mm if pair is not None else None,
            gap_mm=fronts[1].z_mm - fronts[0].z_mm if pair is not None else None,
        ),
        notes=tuple(notes),
        confidence=reading.confidence * (0.6 + 0.4 * heading.sure),
    )
