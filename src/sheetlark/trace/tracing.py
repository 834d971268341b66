"""The door of the room: a picture in, views and outlines out."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.biplane import Pair, split_pair, upper_section
from sheetlark.trace.contour import Rings, crossings, trace_rings
from sheetlark.trace.fit import fit_path
from sheetlark.trace.front import FrontWing, front_wings
from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Corrections, Note, Outline, Proportions, Tracing, View
from sheetlark.trace.read import Picture, read_picture
from sheetlark.trace.search import Sheet, read_sheet
from sheetlark.trace.split import (
    Body,
    Surface,
    find_body_side,
    find_body_width,
    find_fin,
    find_tail,
    find_wing,
    pointed_tip,
    spinner_end,
    with_point,
    with_tail_end,
)
from sheetlark.trace.views import Candidate, Reading, symmetry_axis


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """Picture pixels (straightened) <-> model millimetres of one view: p = origin + (a * first + b * second) / scale."""

    origin: Floats
    first: Floats  # unit vector of the first model axis in the picture
    second: Floats
    mm_per_px: float

    def to_mm(self, p: Floats) -> Floats:
        d = p - self.origin
        return np.asarray(np.c_[d @ self.first, d @ self.second] * self.mm_per_px)

    def to_px(self, a: Floats, b: Floats) -> tuple[Floats, Floats]:
        a, b = np.asarray(a) / self.mm_per_px, np.asarray(b) / self.mm_per_px
        return (
            np.asarray(self.origin[0] + a * self.first[0] + b * self.second[0]),
            np.asarray(self.origin[1] + a * self.first[1] + b * self.second[1]),
        )


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
) -> Tracing:
    """As `trace_picture`, with what the user set right by hand; works with hand-drawn outlines alone."""
    from sheetlark.trace.byhand import apply_outlines, reading_from_boxes, scale_from_line

    if not (np.isfinite(span_m) and 0.05 <= span_m <= 20.0):
        raise PictureError(f"span must lie between 0.05 and 20 m, got {span_m:g} m.")
    picture = read_picture(path, page=page)
    turned = None if corrections.turned_deg is None else float(np.radians(corrections.turned_deg))
    sheet, reading = read_sheet(picture.grey, turned_rad=turned)
    if corrections.boxes:
        reading = reading_from_boxes(sheet, reading, corrections, picture.px_per_px)
    line_mm_per_px = scale_from_line(corrections)
    found: Tracing | None = None
    if reading.top is not None:
        found = _trace(picture, sheet, reading, span_m * 1000.0, length_m, line_mm_per_px, corrections)
    if corrections.outlines or found is None:
        found = apply_outlines(found, picture, sheet, corrections, span_m * 1000.0, line_mm_per_px)
    return found


def _nose_of_top(rings: Rings, axis: str, angle: float, point: Floats) -> tuple[str, _Frame, float]:
    """Which way the nose points, the frame with x from the foremost point, and how sure."""
    cs, sn = np.cos(angle), np.sin(angle)
    along = np.array([-sn, cs]) if axis == "upright" else np.array([cs, sn])
    results = []
    every = np.vstack(rings.rings)
    for sign in (1.0, -1.0):
        aft = sign * along
        starboard = np.array([aft[1], -aft[0]])
        b = (every - point) @ starboard
        shift = 0.5 * (b.max() + b.min())
        origin = point + shift * starboard
        span_px = float(b.max() - b.min())
        a = (every - origin) @ aft
        origin = origin + a.min() * aft
        frame = _Frame(origin=origin, first=aft, second=starboard, mm_per_px=1000.0 / span_px)
        mm = tuple(frame.to_mm(r) for r in rings.rings)
        length = float((a.max() - a.min()) * frame.mm_per_px)
        wing = find_wing(mm, 1000.0)
        score = 0.0
        if wing is not None:
            mid = 0.5 * (wing.lead + wing.trail)
            weight = np.maximum(wing.trail - wing.lead, 0.0)
            centre = float((mid * weight).sum() / max(weight.sum(), 1e-9)) / length
            tail = find_tail(mm, 1000.0, wing)
            if tail is not None:
                share = tail.area_mm2() / max(wing.area_mm2(), 1e-9)
                score += 2.0 if share < 0.6 else 0.5
                score += 1.5 * (0.5 - centre)
            else:
                outer = wing.station > 0.25 * wing.station[-1]
                sweep = float(np.polyfit(wing.station[outer], mid[outer], 1)[0])
                score += 1.2 * np.tanh(3.0 * sweep) + 0.8 * (centre - 0.5)
        results.append((score, sign, frame))
    results.sort(key=lambda t: -t[0])
    sure = float(np.tanh(results[0][0] - results[1][0]))
    sign = results[0][1]
    nose = ("up" if sign > 0 else "down") if axis == "upright" else ("left" if sign > 0 else "right")
    return nose, results[0][2], sure


def _nose_of_side(
    rings: Rings, axis: str, angle: float, width: Callable[[Floats], Floats] | None, hint: str
) -> tuple[str, _Frame]:
    """Side view: nose by the fin, the depth's likeness to the width, and how the views are laid out."""
    every = np.vstack(rings.rings)
    cs, sn = np.cos(angle), np.sin(angle)
    options = []
    level = np.array([cs, sn])
    upright = np.array([-sn, cs])
    turns = (
        [(level, -upright), (-level, -upright)]
        if axis == "level"
        else [(s * upright, t * level) for s in (1.0, -1.0) for t in (1.0, -1.0)]
    )
    for aft, up in turns:
        a, z = (every) @ aft, (every) @ up
        origin = a.min() * aft + z.min() * up
        frame = _Frame(origin=origin, first=aft, second=up, mm_per_px=1.0)
        mm = tuple(frame.to_mm(r) for r in rings.rings)
        length = float(a.max() - a.min())
        xs = np.linspace(0.03, 0.97, 60) * length
        lo, hi = np.full(60, np.nan), np.full(60, np.nan)
        for i, x in enumerate(xs):
            cuts = crossings(mm, float(x), 0)
            if len(cuts):
                c = cuts[np.argmax(cuts[:, 1] - cuts[:, 0])]
                lo[i], hi[i] = c
        ok = np.isfinite(lo)
        if ok.sum() < 20:
            continue
        lo, hi = np.interp(xs, xs[ok], lo[ok]), np.interp(xs, xs[ok], hi[ok])
        middle = slice(18, 42)
        body = max(float(np.median((hi - lo)[middle])), 1.0)
        aft_rise = float(np.max(hi[48:]) - np.median(hi[middle])) / body
        fore_rise = float(np.max(hi[:12]) - np.median(hi[middle])) / body
        score = 1.2 * (aft_rise - fore_rise)
        score += 0.8 * (float(np.min(lo[44:])) - float(np.min(lo[4:20]))) / body  # deep forward, rising aft
        if width is not None:
            w = width(xs / length)
            m = np.isfinite(w)
            if m.sum() > 15:
                under = np.minimum(hi - lo, 2.0 * body)
                score += 0.8 * float(np.corrcoef(w[m], under[m])[0, 1])
        nose = {(True, True): "left", (True, False): "right", (False, True): "up", (False, False): "down"}[
            (abs(aft[0]) > 0.7, float(aft[0] if abs(aft[0]) > 0.7 else aft[1]) > 0)
        ]
        score += 0.35 if nose == hint else 0.0
        options.append((score, nose, frame))
    if not options:
        return "left", _Frame(origin=np.zeros(2), first=level, second=-upright, mm_per_px=1.0)
    best = max(options, key=lambda t: t[0])
    return best[1], best[2]


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
    pts = sheet.to_given(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    if abs(sheet.turned_rad) > 0 and (x1 - x0) <= 1.001 * w:
        inner = sheet.to_given(every)
        lo, hi = inner.min(0), inner.max(0)
        if (y1 - y0) <= 1.001 * h:
            pts = np.vstack([lo, hi])
    lo, hi = (pts.min(0) + 0.5) * px_per_px, (pts.max(0) + 0.5) * px_per_px
    return float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])


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
    nose, frame, sure = _nose_of_top(top_rings, reading.top_axis, angle, point)
    wanted = next((b.nose for b in corrections.boxes if b.kind == "top" and b.nose), "")
    if wanted and wanted != nose:
        nose, frame = (
            wanted,
            _flipped(frame, top_rings) if {wanted, nose} in ({"up", "down"}, {"left", "right"}) else frame,
        )
    mm_per_px = frame.mm_per_px * span / 1000.0
    beyond = pointed_tip(tuple(frame.to_mm(r) for r in top_rings.rings), 1000.0)
    mm_per_px /= beyond
    if line_mm_per_px is not None:
        mm_per_px = line_mm_per_px * picture.px_per_px
    frame = replace(frame, mm_per_px=mm_per_px)
    mm = tuple(frame.to_mm(r) for r in top_rings.rings)
    span_seen = float(np.ptp(np.concatenate([m[:, 1] for m in mm])))
    frame, mm = _from_nose(frame, mm, span_seen)
    length = float(max(m[:, 0].max() for m in mm))
    views.append(
        View(
            kind="top",
            box_px=_box(sheet, reading.top, top_rings, picture.px_per_px),
            scale_mm_per_px=mm_per_px / picture.px_per_px,
            nose=nose,
            confidence=reading.confidence,
        )
    )
    wing = find_wing(mm, span_seen)
    if wing is not None and beyond > 1.0:
        wing = with_point(wing, beyond)
        span_seen *= beyond
    tail = find_tail(mm, span_seen, wing) if wing is not None else None
    # side view
    side_body: Body | None = None
    fin: Surface | None = None
    side_frame: _Frame | None = None
    side_mm: tuple[Floats, ...] = ()
    if reading.side is not None:
        side_rings = _rings(sheet, reading.side)
        if side_rings.rings:
            first = find_body_width(mm, span_seen, wing, tail, None, None)
            width = None
            if first is not None:
                plain = first

                def width(f: Floats) -> Floats:
                    return np.asarray(np.interp(f * length, plain.x, plain.high))

            hint = nose if nose in {"left", "right"} else ""
            side_nose, side_frame = _nose_of_side(
                side_rings, reading.side_axis, angle if abs(angle) < 0.02 else 0.0, width, hint
            )
            side_wanted = next((b.nose for b in corrections.boxes if b.kind == "side" and b.nose), "")
            if side_wanted and {side_wanted, side_nose} == {"left", "right"}:
                side_nose, side_frame = side_wanted, _flipped_side(side_frame, side_rings)
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
            side_frame, side_mm = _from_nose(side_frame, side_mm, span_seen)
            side_frame, side_mm, side_body, fin = _read_side(sheet, side_frame, side_mm)
            views.append(
                View(
                    kind="side",
                    box_px=_box(sheet, reading.side, side_rings, picture.px_per_px),
                    scale_mm_per_px=scale / picture.px_per_px,
                    nose=side_nose,
                    confidence=reading.confidence,
                )
            )

    def top_ink(x: Floats, y: Floats) -> Floats:
        from scipy import ndimage

        col, row = frame.to_px(x, y)
        return np.asarray(ndimage.map_coordinates(sheet.dark, [row, col], order=1, mode="constant"))

    def side_ink(x: Floats, z: Floats) -> Floats:
        from scipy import ndimage

        assert side_frame is not None
        col, row = side_frame.to_px(x, z)
        return np.asarray(ndimage.map_coordinates(sheet.dark, [row, col], order=1, mode="constant"))

    fronts: tuple[FrontWing, ...] = ()
    if reading.front is not None:
        front_rings = _rings(sheet, reading.front)
        if front_rings.rings:
            fronts = _read_front(sheet, front_rings, reading.front, mm_per_px, span_seen, side_mm, angle)
            views.append(
                View(
                    kind="front",
                    box_px=_box(sheet, reading.front, front_rings, picture.px_per_px, span_seen / mm_per_px),
                    scale_mm_per_px=mm_per_px / picture.px_per_px,
                    nose="toward",
                    confidence=reading.confidence,
                )
            )
    pair: Pair | None = None
    if wing is not None and len(fronts) == 2:
        gap = fronts[1].z_mm - fronts[0].z_mm
        section = upper_section(side_mm, side_body, gap, length, side_ink) if side_body is not None else None
        pair = split_pair(
            wing,
            span=span_seen,
            semi_upper=fronts[1].semi_mm,
            semi_lower=fronts[0].semi_mm,
            section=section,
            ink=top_ink,
        )
    depth = np.c_[side_body.x, side_body.high - side_body.low] if side_body is not None else None
    body = find_body_width(mm, span_seen, wing, tail, depth, top_ink)
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
                    confidence=trust * (0.7 + 0.3 * pair.seen),
                    mirrored=True,
                )
            )
            outlines.append(
                _closed("wing", "lower wing", "top", lower, tol=tol, confidence=0.6 * trust, mirrored=True)
            )
        else:
            outlines.append(
                _closed("wing", "wing", "top", wing.half(), tol=tol, confidence=trust, mirrored=True)
            )
    if tail is not None:
        trust = sure_top * float(np.exp(-((tail.asymmetry / (0.01 * span)) ** 2)))
        outlines.append(
            _closed("tail", "tailplane", "top", tail.half(), tol=tol, confidence=trust, mirrored=True)
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
        ring = np.vstack([np.c_[fin.lead, fin.station], np.c_[fin.trail, fin.station][::-1]])
        if side_body is not None:  # the root follows the body's upper line
            xs = np.linspace(ring[-1, 0], ring[0, 0], 12)
            ring = np.vstack([ring, np.c_[xs, np.interp(xs, side_body.x, side_body.high)]])
        outlines.append(
            _closed("fin", "fin", "side", ring, tol=tol, confidence=0.85 * reading.confidence, mirrored=False)
        )
    if length_m is not None:
        off = length / (1000.0 * length_m) - 1.0
        notes.append(
            Note(
                id="length-check",
                says=f"At this span the drawing is {length:.1f} mm long; {1000 * length_m:.1f} mm was stated, "
                f"{100 * off:+.1f} %."
                + (" One of the two is wrong, or the picture is stretched." if abs(off) > 0.015 else ""),
            )
        )
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
        confidence=reading.confidence * (0.6 + 0.4 * sure),
    )


def _read_front(
    sheet: Sheet,
    rings: Rings,
    c: Candidate,
    mm_per_px: float,
    span: float,
    side: tuple[Floats, ...],
    angle: float,
) -> tuple[FrontWing, ...]:
    """Wings of the front view, heights on the side view's datum where there is one (both show the same top)."""
    from scipy import ndimage

    turn = angle if abs(angle) < 0.02 else 0.0
    right, up = np.array([np.cos(turn), np.sin(turn)]), np.array([np.sin(turn), -np.cos(turn)])
    every = np.vstack(rings.rings)
    a, z = every @ right, every @ up
    wide = float(np.ptp(a)) * mm_per_px
    centre = 0.5 * (a.max() + a.min())
    if abs(wide / span - 1.0) > 0.05:  # wings drawn as single lines: trust the ink's reach
        centre = 0.5 * (c.solid.reach[0] + c.solid.reach[2]) * sheet.pool * right[0]
    origin = centre * right + z.min() * up
    frame = _Frame(origin=origin, first=right, second=up, mm_per_px=mm_per_px)
    high_px = z.max() - z.min()

    def ink(y: Floats, h: Floats) -> Floats:
        col, row = frame.to_px(y, h)
        return np.asarray(ndimage.map_coordinates(sheet.dark, [row, col], order=1, mode="constant"))

    found = front_wings(ink, semi=span / 2.0, low=-0.12 * span, high=float(high_px * mm_per_px) + 0.12 * span)
    if not side or not found:
        return found
    # the fin's tip is the highest ink on the centre line
    h = np.arange(-0.1 * span, high_px * mm_per_px + 0.2 * span, 0.001 * span)
    on = ink(np.zeros_like(h), h) > 0.45
    side_top = float(max(m[:, 1].max() for m in side))
    shift = side_top - float(h[on].max()) if on.any() else 0.0
    return tuple(
        FrontWing(z_mm=f.z_mm + shift, dihedral_deg=f.dihedral_deg, semi_mm=f.semi_mm) for f in found
    )


def _read_side(
    sheet: Sheet, frame: _Frame, mm: tuple[Floats, ...]
) -> tuple[_Frame, tuple[Floats, ...], Body | None, Surface | None]:
    """Body and fin of the side view, z measured from the nose's middle."""
    from scipy import ndimage

    length = float(max(m[:, 0].max() for m in mm))
    nose_cuts = crossings(mm, 0.012 * length, 0)
    z0 = float(0.5 * (nose_cuts[0, 0] + nose_cuts[0, 1])) if len(nose_cuts) else float(np.median(mm[0][:, 1]))
    frame = replace(frame, origin=frame.origin + z0 / frame.mm_per_px * frame.second)
    mm = tuple(m - (0.0, z0) for m in mm)
    tops = []
    for x in np.linspace(0.45, 0.62, 9) * length:
        cuts = crossings(mm, float(x), 0)
        if len(cuts):
            tops.append(float(min((c[1] for c in cuts if c[1] - c[0] > 0.01 * length), default=cuts[-1, 1])))
    low_top = float(np.median(tops)) if tops else 0.0
    fin = find_fin(mm, length, low_top)

    def ink(x: Floats, z: Floats) -> Floats:
        col, row = frame.to_px(x, z)
        return np.asarray(ndimage.map_coordinates(sheet.dark, [row, col], order=1, mode="constant"))

    body = find_body_side(mm, length, fin, ink)
    return frame, mm, body, fin


def _from_nose(frame: _Frame, mm: tuple[Floats, ...], span: float) -> tuple[_Frame, tuple[Floats, ...]]:
    """Count x from the body's own nose: a spinner or propeller blades ahead of it are cut off."""
    at = spinner_end(mm, span)
    if at <= 0.0:
        return frame, mm
    moved = tuple(np.c_[np.maximum(m[:, 0] - at, 0.0), m[:, 1]] for m in mm if m[:, 0].max() > at)
    return replace(frame, origin=frame.origin + at / frame.mm_per_px * frame.first), moved


def _flipped(frame: _Frame, rings: Rings) -> _Frame:
    """The same top view with the nose at the other end."""
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return _Frame(
        origin=frame.origin + a.max() * frame.first,
        first=-frame.first,
        second=-frame.second,
        mm_per_px=frame.mm_per_px,
    )


def _flipped_side(frame: _Frame, rings: Rings) -> _Frame:
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return replace(frame, origin=frame.origin + a.max() * frame.first, first=-frame.first)
