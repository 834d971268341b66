"""The views of a reading followed one after the other, and put together as a tracing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sheetlark.beside import Helpers
from sheetlark.errors import PictureError
from sheetlark.trace.model import Corrections, Note, Outline, Proportions, Tracing, View
from sheetlark.trace.notes import high_tail_note
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.read import Picture
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.paper.views import Candidate, Reading, length_amid
from sheetlark.trace.shapes.biplane import Both, Pair, split_pair
from sheetlark.trace.shapes.body import Body, bare_wing, find_body_width, with_tail_end
from sheetlark.trace.shapes.contour import Rings, trace_rings
from sheetlark.trace.shapes.control_outlines import control_outlines, hinge_note
from sheetlark.trace.shapes.cutout import with_cutout
from sheetlark.trace.shapes.ends import TopView
from sheetlark.trace.shapes.fin import drawn_root, rudder_foot
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.front import FrontView, FrontWing, fin_above, read_front
from sheetlark.trace.shapes.heading import Heading, find_heading
from sheetlark.trace.shapes.high_tail import tail_on_fin
from sheetlark.trace.shapes.in_picture import view_in_picture
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.nose import from_nose, length_of
from sheetlark.trace.shapes.outlining import Parts, part_outlines
from sheetlark.trace.shapes.planform import (
    find_foreplane,
    find_tail,
    find_wing,
    pointed_tip,
    through_body,
    with_point,
)
from sheetlark.trace.shapes.sections import Section, sections_beside
from sheetlark.trace.shapes.side import read_side
from sheetlark.trace.shapes.standing import SideView, standing_outlines
from sheetlark.trace.shapes.strip import Strip
from sheetlark.trace.shapes.strokes import Line, drawn_lines
from sheetlark.trace.shapes.surface import Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """What every step reads: the picture, its straightened sheet, the views found, the model's span. [mm]

    helpers : processes that take a share.
    """

    picture: Picture
    sheet: Sheet
    reading: Reading
    span: float
    helpers: Helpers | None = None

    def rings(self, c: Candidate) -> Rings:
        s = self.sheet
        return trace_rings(c.solid.mask, c.solid.at, pool=s.pool, dark=s.dark, pen_px=s.pen_px)

    def view(
        self,
        kind: str,
        c: Candidate,
        rings: Rings,
        frame: Frame,
        nose: str,
        most_px: tuple[float, float] = (0.0, 0.0),
        also: Floats | None = None,
    ) -> View:
        return view_in_picture(
            kind,
            self.sheet,
            c,
            rings,
            frame,
            px_per_px=self.picture.px_per_px,
            nose=nose,
            confidence=self.reading.confidence,
            most_px=most_px,
            also=also,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Top:
    """The top view read. Millimetres, x from the body's nose.

    angle : by which the view stands off the sheet's own axes. [rad]
    span : as drawn, with the point of a pointed tip.
    spinner : how far the view reaches ahead of the body.
    pen, edged : stroke width, of the sheet's lines and, where those are finer, hatching's, of the outlines.
    """

    view: View
    heading: Heading
    angle: float
    frame: Frame
    rings: tuple[Floats, ...]
    span: float
    spinner: float
    length: float
    wing: Surface | None
    tail: Surface | None
    ink: Ink
    pen: float
    edged: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """The side view read, on the top view's scale unless a note says otherwise.

    strip : the fin as the top view has it.
    """

    view: View
    frame: Frame
    rings: tuple[Floats, ...]
    body: Body | None
    fin: Surface | None
    strip: Strip | None
    ink: Ink
    note: Note | None


def traced_views(drawing: Drawing, line_mm_per_px: float | None, corrections: Corrections) -> Tracing:
    """The three views followed one after the other and put together.

    Parameters
    ----------
    line_mm_per_px : float, optional
        The scale of the user's own scale line, in place of the span's. [mm per px of the picture]

    Raises
    ------
    PictureError
        If the top view's outline cannot be followed.
    """
    side_c = drawing.reading.side
    side_rings = drawing.rings(side_c) if side_c is not None else Rings(rings=(), pen_px=0.0)
    if 0.0 < side_rings.pen_px < drawing.sheet.pen_px:  # a filling's width is no pen's
        drawing = replace(drawing, sheet=replace(drawing.sheet, pen_px=side_rings.pen_px))
    top = _top(drawing, side_rings, line_mm_per_px, corrections)
    side = _side(drawing, top, side_rings)
    front_view, ahead = _front(drawing, top, side)
    fronts = ahead.wings if ahead is not None else ()
    pair = _pair(top, side, fronts, drawing.helpers)
    side_body = side.body if side is not None else None
    depth = np.c_[side_body.x, side_body.high - side_body.low] if side_body is not None else None
    tail, strip = top.tail, side.strip if side is not None else None
    find = partial(
        find_body_width, top.rings, top.span, top.wing, depth=depth, ink=top.ink, pen_mm=top.pen, strip=strip
    )
    width = find(tail=tail)
    if tail is not None and width is not None:
        tail = through_body(tail, width, top.span)
        if tail is not top.tail:  # behind its trailing edge the body stands free
            width = find(tail=tail)
    length = top.length
    if width is not None and depth is not None:
        width = with_tail_end(width, depth)
        length = max(length, float(width.x[-1]))
    root, foot = _fin_ends(side, span=top.span, pen=top.pen)
    wing, uncut = top.wing, top.wing if pair is None else pair.upper
    cut = with_cutout(uncut, width, top.ink, span=top.span, pen_mm=top.edged) if uncut is not None else None
    if pair is not None and cut is not None:
        pair = replace(pair, upper=cut)
    elif cut is not None:
        wing = cut
    parts = Parts(
        wing=wing,
        pair=pair,
        tail=tail,
        tail_name="foreplane" if top.heading.kind == "canard" else "tailplane",
        uncut=uncut if cut is not uncut else None,
        width=width,
        side=side_body,
        fin=side.fin if side is not None else None,
        fin_root=root,
        fin_foot=foot,
    )
    outlines = part_outlines(parts, span=drawing.span, trust=drawing.reading.confidence)
    if tail is None and bare_wing(top.wing, width, side_body, top.span):
        outlines = [o for o in outlines if o.part != "body"]
    notes = [side.note] if side is not None and side.note is not None else []
    if top.wing is not None:
        outlines += _hinges(drawing, top, side, parts)
        notes.append(hinge_note(outlines, tailed=parts.tail is not None, finned=parts.fin is not None))
    if top.wing is not None and side is not None and side_body is not None:
        outlines += standing_outlines(
            drawing.sheet,
            drawing.reading,
            SideView(frame=side.frame, rings=side.rings, body=side_body),
            ahead,
            parts.wings,
            width,
            span=top.span,
        )
    notes += _high_tail(drawing, top, side, ahead)
    return Tracing(
        picture=drawing.picture.name,
        size_px=drawing.picture.size_px,
        turned_deg=float(np.degrees(drawing.sheet.turned_rad + top.angle)),
        span_mm=top.span,
        views=(top.view, *((side.view,) if side is not None else ()), *front_view),
        outlines=tuple(outlines),
        proportions=Proportions(
            span_mm=top.span,
            length_mm=length,
            dihedral_deg=float(np.mean([f.dihedral_deg for f in fronts])) if fronts else None,
            wing_height_mm=(fronts[0].z_mm,) if len(fronts) == 1 else (),
            stagger_mm=pair.stagger_mm if pair is not None else None,
            gap_mm=fronts[1].z_mm - fronts[0].z_mm if pair is not None else None,
        ),
        notes=tuple(notes),
        confidence=drawing.reading.confidence * (0.6 + 0.4 * top.heading.sure),
    )


def _top(drawing: Drawing, side_rings: Rings, line_mm_per_px: float | None, corrections: Corrections) -> _Top:
    """The top view: which way it points, its scale, its wing and tail."""
    sheet, reading = drawing.sheet, drawing.reading
    assert reading.top is not None
    found = drawing.rings(reading.top)
    if not found.rings:
        raise PictureError(
            "the top view's outline cannot be followed. Box it in by hand, or draw it with a darker pen."
        )
    angle, point = reading.top.mirror_line(reading.top_axis)
    at = reading.top.solid.at
    point = (point + np.array([at[1], at[0]])) * sheet.pool + (sheet.pool - 1) / 2.0
    said = {b.kind: b.nose for b in corrections.boxes}
    heading = find_heading(
        sheet,
        found,
        reading.top_axis,
        angle,
        point,
        side_rings if side_rings.rings else None,
        reading.side_axis,
        said=(said.get("top", ""), said.get("side", "")),
    )
    beyond = pointed_tip(heading.wing, heading.frame.inked(sheet.dark))
    mm_per_px = heading.frame.mm_per_px * drawing.span / 1000.0 / beyond
    if line_mm_per_px is not None:
        mm_per_px = line_mm_per_px * drawing.picture.px_per_px
    pen = sheet.pen_px * mm_per_px
    frame = replace(heading.frame, mm_per_px=mm_per_px)
    rings = tuple(frame.to_mm(r) for r in found.rings)
    span = float(np.ptp(np.concatenate([m[:, 1] for m in rings])))
    begun, beside, length_beside = frame, 0.0, 0.0
    if side_rings.rings and heading.side_frame is not None:
        ahead = replace(heading.side_frame, mm_per_px=mm_per_px)
        mm = tuple(ahead.to_mm(r) for r in side_rings.rings)
        beside = _forward(ahead, from_nose(ahead, mm, span, sheet.dark, pen=pen)[0])
        length_beside = length_of(mm)
    frame, rings = from_nose(
        begun, rings, span, sheet.dark, pen=pen, beside=beside, length_beside=length_beside
    )
    length = float(max(m[:, 0].max() for m in rings))
    wing = find_wing(rings, span)
    if wing is not None and beyond > 1.0:
        wing = with_point(wing, beyond)
        span *= beyond
    tail = None
    if wing is not None:
        find = find_foreplane if heading.kind == "canard" else find_tail
        tail = find(rings, span, wing)
    return _Top(
        view=drawing.view("top", reading.top, found, frame, heading.nose),
        heading=heading,
        angle=angle,
        frame=frame,
        rings=rings,
        span=span,
        spinner=_forward(begun, frame),
        length=length,
        wing=wing,
        tail=tail,
        ink=frame.inked(sheet.dark),
        pen=pen,
        edged=max(pen, found.pen_px * mm_per_px),
    )


def _forward(begun: Frame, frame: Frame) -> float:
    """How far a view reaches ahead of where x is counted from now. [mm]"""
    return float((frame.origin - begun.origin) @ begun.first) * begun.mm_per_px


def _side(drawing: Drawing, top: _Top, found: Rings) -> _Side | None:
    """The side view's body and fin; None where there is no side view."""
    c, frame = drawing.reading.side, top.heading.side_frame
    if c is None or frame is None:
        return None
    scale = top.frame.mm_per_px
    drawn = float(np.ptp(np.vstack(found.rings) @ frame.first)) * scale
    assert drawing.reading.top is not None
    amid = length_amid(drawing.reading.top, drawing.reading.top_axis) * drawing.sheet.pool * scale
    whole = top.length + max(top.spinner, 0.0)
    as_long = drawn / whole
    note = None
    if abs(as_long - 1.0) > 0.12 and abs(drawn - amid) > 0.12 * amid:
        scale /= as_long
        note = Note(
            id="side-scale",
            says=f"The side view is drawn {as_long:.2f} times as long as the top view; it is scaled to the top "
            "view's length.",
        )
    frame = replace(frame, mm_per_px=scale)
    rings = tuple(frame.to_mm(r) for r in found.rings)
    sheet = drawing.sheet
    frame, rings = from_nose(
        frame, rings, top.span, sheet.dark, pen=sheet.pen_px * scale, beside=top.spinner, length_beside=whole
    )
    beside = TopView(
        rings=top.rings, ink=top.ink, pen_mm=top.pen, span=top.span, wing=top.wing, tail=top.tail
    )
    frame, rings, body, fin, strip = read_side(sheet, frame, rings, beside)
    return _Side(
        view=drawing.view("side", c, found, frame, top.heading.side_nose),
        frame=frame,
        rings=rings,
        body=body,
        fin=fin,
        strip=strip,
        ink=frame.inked(sheet.dark),
        note=note,
    )


def _fin_ends(side: _Side | None, *, span: float, pen: float) -> tuple[Floats | None, Floats | None]:
    """Both ends of the fin's root where it is drawn inside the body, and the rudder's outline behind the body."""
    if side is None or side.fin is None or side.body is None:
        return None, None
    root = drawn_root(side.fin, side.body, side.ink, span=span, pen_mm=pen)
    return root, rudder_foot(side.rings, side.fin, side.body, span=span)


def _front(drawing: Drawing, top: _Top, side: _Side | None) -> tuple[tuple[View, ...], FrontView | None]:
    """The front view, where there is one."""
    c = drawing.reading.front
    found = drawing.rings(c) if c is not None else Rings(rings=(), pen_px=0.0)
    if c is None or not found.rings:
        return (), None
    stands = None
    if side is not None and side.body is not None:
        stands = (float(side.body.low.min()), float(side.body.high.max()))
    mm_per_px = top.frame.mm_per_px
    beside = side.rings if side is not None else ()
    ahead = read_front(drawing.sheet, found, c, mm_per_px, top.span, beside, top.angle, body=stands)
    peak = fin_above(drawing.sheet, found, ahead.frame, beside, span=top.span, pen=top.pen)
    tall = drawing.reading.side_reach * drawing.sheet.pool * mm_per_px  # with gear that a break has opened
    high = 1.15 * max(float(np.ptp(np.vstack(beside)[:, 1])), tall) if beside else 0.8 * top.span
    most_px = (top.span / mm_per_px, high / mm_per_px)
    view = drawing.view("front", c, found, ahead.frame, "toward", most_px=most_px, also=peak)
    return (view,), ahead


def _pair(
    top: _Top, side: _Side | None, fronts: tuple[FrontWing, ...], helpers: Helpers | None
) -> Pair | None:
    """Both wings of a biplane, where the front view shows two."""
    if top.wing is None or len(fronts) != 2:
        return None
    lower, upper = fronts
    both = Both.of(top.rings, top.wing, span=top.span, ink=top.ink, pen=top.pen)
    lines: Callable[[], list[Line]] = partial(drawn_lines, both.halves)
    if helpers is not None:
        lines = helpers.meanwhile(lines, drawn_lines, both.halves)
    uppers: tuple[Section, ...] = ()
    lowers: tuple[Section, ...] = ()
    if side is not None and side.rings:
        uppers, lowers = sections_beside(
            side.ink, side.rings, top.wing, (lower, upper), span=top.span, pen=top.pen
        )
    pair = split_pair(
        both,
        lines,
        semi_upper=upper.semi_mm,
        semi_lower=lower.semi_mm,
        uppers=uppers,
        lowers=lowers,
    )
    # without a tail, and without a second edge or two sections: one wing, and something else in the front view
    if pair is not None and top.tail is None and (pair.second < 0.5 or not (uppers and lowers)):
        return None
    return pair


def _high_tail(drawing: Drawing, top: _Top, side: _Side | None, ahead: FrontView | None) -> list[Note]:
    """A note on a tailplane that the fin carries."""
    if top.tail is None or side is None or side.body is None or ahead is None:
        return []
    body = side.body
    aft = float(top.tail.lead[0])
    body_top = float(np.interp(aft, body.x, body.high))
    height = tail_on_fin(
        ahead.frame.inked(drawing.sheet.dark),
        semi=float(top.tail.station[-1]),
        span=top.span,
        body=(float(body.low.min()), float(body.high.max())),
        body_top=body_top,
        fin_top=max(float(m[:, 1].max()) for m in side.rings),
        wings=ahead.wings,
    )
    return [] if height is None else [high_tail_note(height - body_top)]


def _hinges(drawing: Drawing, top: _Top, side: _Side | None, parts: Parts) -> list[Outline]:
    """The hinge lines drawn in wings, tail and fin."""
    names = ("wing",) if parts.pair is None else ("upper wing", "lower wing")
    body = parts.side
    return control_outlines(
        tuple(zip(names, parts.wings, strict=True)),
        parts.tail,
        parts.fin,
        top.ink,
        side.ink if side is not None else None,
        pen=top.pen,
        post=(float(body.x[-1]), float(body.low[-1])) if body is not None else None,
        trust=drawing.reading.confidence,
    )
