"""Where the body begins: behind a spinner and propeller blades, at a point the pen's width hides, at a flat face."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.blades import (
    bare_behind,
    blades_beside,
    blades_of,
    line_beside,
    nose_behind_blades,
    nose_behind_gap,
    nose_between,
    without_blades,
)
from sheetlark.trace.shapes.contour import crossings_each, widest, widest_at
from sheetlark.trace.shapes.face import (
    NEAR,
    WIDEST,
    begins_square,
    behind_spinner,
    flat_face,
    line_at,
    lines_alone,
    through_propeller,
)
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.point import find_point, with_point

_BROKEN = 0.6  # share of a line that is inked where a break has parted it, at least
_CLOSE = 0.015  # of the span, the farthest behind a propeller that a face lies where both are one silhouette
_AS_LONG = 0.006  # of the span, within which two views are as long
_LONG = 0.015  # of the span, a spinner that is cut off without a line behind it, at the least


def from_nose(
    frame: Frame,
    mm: tuple[Floats, ...],
    span: float,
    dark: Floats,
    *,
    pen: float,
    beside: float = 0.0,
    length_beside: float = 0.0,
) -> tuple[Frame, tuple[Floats, ...]]:
    """Count x from the body's own nose.

    A spinner or propeller blades ahead of it are cut off, at the flat face where one is drawn across; where blades lie
    across the nose, it is looked for between their edges. A nose drawn to a point reaches the point where its edges
    meet, which the pen's own width hides, unless a sharp step behind it shows that the point is a spinner's.

    Parameters
    ----------
    dark : ndarray, shape (rows, columns)
        Ink strength of the full picture.
    pen : stroke width. [mm]
    beside : length of the spinner another view shows, 0 where it shows none: where this view has no other sign of
        one, a line across it there is the body's face. [mm]
    length_beside : how long the other view is with what stands ahead of its nose: where this one is as long, it shows that
        spinner too, and is cut off there also without a line. [mm]
    """
    begun, whole = frame, length_of(mm)
    frame, mm = _without_loose(frame, mm, span)
    shows = frame is begun and beside > _LONG * span and abs(whole - length_beside) < _AS_LONG * span
    at = spinner_end(mm, span)
    point = find_point(frame, mm, span, dark, pen=pen) if at <= 0.0 else None
    filling, lines = lines_alone(frame, mm, span, dark)
    if point is not None:
        spun = point.at + beside if beside > 0.0 else 0.0  # where the other view's spinner would end here
        if beside > 0.0 and abs(spun) < pen + NEAR * span and point.at < -2.0 * pen:
            return frame, mm  # of the spinner no paper was found: the silhouette begins at the face behind it
        behind = flat_face(
            frame, mm, span, lines, pen, first=0.02 * span, filled=filling, sharply=True
        ) or line_at(frame, mm, span, lines, pen, spun, least=_BROKEN)
        if not behind and shows and abs(point.at) < pen + NEAR * span:
            behind = spun
        if behind > 0.0:
            return _from(frame, mm, behind)
        pointed = tuple(m - (point.at, 0.0) for m in with_point(mm, point, pen=pen))
        return frame.moved(point.at), pointed
    blades = blades_of(mm, span, at) if at > 0.0 else blades_beside(frame, mm, span, dark, pen)
    between = nose_between(frame, mm, span, lines, pen, blades) if blades is not None else None
    shown = line_at(frame, mm, span, lines, pen, beside, least=_BROKEN)
    if blades is not None and between is not None and shown <= between:
        at = between
        mm = without_blades(frame, mm, span, lines, pen, at, blades[1])
    else:  # blades may lie across a spinner, ahead of the face another view shows
        first, hidden = max(at - pen, 0.002 * span), 0.0
        if blades is not None:
            hidden = bare_behind(frame, mm, span, lines, pen, blades[1])
        propeller = line_beside(frame, mm, span, lines, pen) if at <= 0.0 else None
        # its own line is no face, also where a round nose reaches a little ahead of it
        if propeller is not None:
            first, hidden = max(propeller, 0.0) + pen + 2.0 * frame.mm_per_px, _CLOSE * span
        face = flat_face(frame, mm, span, lines, pen, first=first, filled=filling, hidden=hidden)
        if blades is not None and not (face or shown):
            face = behind_spinner(frame, mm, span, lines, pen, blades)
        at = through_propeller(frame, mm, span, lines, pen, face or shown or at)
    gap = nose_behind_gap(frame, mm, span, lines, pen) if at <= 0.0 else None
    if gap is None and at <= 0.0 and blades is not None:
        gap = nose_behind_blades(frame, mm, span, lines, pen, blades[1])
    if gap is not None:
        at = gap[0]
        mm = without_blades(frame, mm, span, lines, pen, *gap)
    elif at <= 0.0 and shows and not begins_square(mm, span, pen):
        at = beside  # a silhouette that lost the spinner begins at the face
    return _from(frame, mm, at) if at > 0.0 else (frame, mm)


def length_of(mm: tuple[Floats, ...]) -> float:
    """How long a view is with all that stands ahead of its nose. [mm]"""
    return float(np.ptp(np.concatenate([m[:, 0] for m in mm])))


def _from(frame: Frame, mm: tuple[Floats, ...], at: float) -> tuple[Frame, tuple[Floats, ...]]:
    """Cut off square at x = at, which is 0 from there on."""
    moved = tuple(np.c_[np.maximum(m[:, 0] - at, 0.0), m[:, 1]] for m in mm if m[:, 0].max() > at)
    return frame.moved(at), moved


def _without_loose(frame: Frame, mm: tuple[Floats, ...], span: float) -> tuple[Frame, tuple[Floats, ...]]:
    """Without small rings ahead of the view's main piece: lettering, and blades that stand clear of the nose's middle."""
    areas = [abs(float(np.sum(m[:, 0] * np.roll(m[:, 1], -1) - m[:, 1] * np.roll(m[:, 0], -1)))) for m in mm]
    main = mm[int(np.argmax(areas))]
    front = float(main[:, 0].min())
    nose = widest_at((main,), np.array([front + 0.01 * span]))
    middle = float(nose[0][0]) if nose is not None else 0.0

    def loose(m: Floats, area: float) -> bool:
        ends = float(m[:, 0].max())
        if area <= 0.01 * max(areas) and ends <= front - 0.005 * span:
            return True
        aside = not float(m[:, 1].min()) < middle < float(m[:, 1].max())
        return area < 0.05 * max(areas) and ends < front + 0.005 * span and aside

    kept = tuple(m for m, area in zip(mm, areas, strict=True) if not loose(m, area))
    first = min(float(m[:, 0].min()) for m in kept)
    if len(kept) == len(mm):
        return frame, mm
    moved = tuple(m - (first, 0.0) for m in kept)
    return frame.moved(first), moved


def spinner_end(rings: tuple[Floats, ...], span: float) -> float:
    """How far a spinner or propeller stands ahead of the body's front; 0 where there is none. [same unit]

    Rings have x aft from the foremost point. Blades are a short spike in width; a spinner is narrow and the body
    behind it begins with a step on both sides.
    """
    step = 0.001 * span
    x = np.arange(0.5, 90.0) * step
    ends = np.zeros((x.size, 2))
    aim = 0.0
    every = crossings_each(rings, x, 0)
    for k in range(x.size - 1, -1, -1):
        cuts = every[k]
        if not len(cuts):
            break
        if k == x.size - 1:
            c = widest(cuts)
        else:
            holds = [q for q in cuts if q[0] - step <= aim <= q[1] + step]
            if not holds:  # a wheel was followed, or struts that join the body to a wing have ended
                holds = [q for q in cuts if np.abs(q - c).min() < 1.5 * step]
                if k > 30:
                    holds += [q for q in cuts if np.ptp(q) > 0.4 * min(np.ptp(c), np.ptp(ends[-1]))]
                if holds:
                    aim = float(np.mean(max(holds, key=np.ptp)))
                    ends[k + 1 :] = _aft_of(rings, x[k + 1 :], max(holds, key=np.ptp))
            if not holds and k > 3:  # only what is not the body's stands ahead of here
                return float(x[k] + 0.5 * step)
            if not holds:
                break
            c = max(holds, key=np.ptp)
        ends[k] = c
        aim = 0.5 * (c[0] + c[1]) if k == x.size - 1 else 0.7 * aim + 0.15 * (c[0] + c[1])
    wide = ends[:, 1] - ends[:, 0]
    body = float(np.median(wide[60:]))
    front = x < 0.055 * span
    blade = np.nonzero(front & (wide > 1.25 * body))[0]
    if blade.size and blade.size < 25:
        return float(x[blade[-1]] + step)
    lag = 6
    for k in range(int(front.sum()) - 1, 12, -1):
        ahead, behind = wide[k - lag : k - lag + 2].mean(), wide[k + lag]
        flat = wide[max(0, k - 2 * lag) : k - lag].mean()
        if behind > WIDEST * span or wide[k + 2 * lag] > 1.35 * behind:  # a wing close behind the nose
            continue
        if behind > 0.45 * body and ahead > 0 and behind > 1.7 * ahead and flat > 0.55 * ahead:
            steep = np.diff(wide[k - lag : k + lag])
            j = k - lag + int(steep.argmax())
            out = (ends[j + 3] - ends[j - 2]) * (-1.0, 1.0)
            if (
                out.min() < 0.25 * out.max()
            ):  # a cowl stands out on both sides, a strut or a broken nose on one
                continue
            if steep.max() > 0.12 * behind:
                return float(x[j] + 0.5 * step)
    return 0.0


def _aft_of(rings: tuple[Floats, ...], x: Floats, piece: Floats) -> Floats:
    """The piece cut at each station that goes on from one ahead of them all, shape (n, 2)."""
    out = np.zeros((x.size, 2))
    for k, cuts in enumerate(crossings_each(rings, x, 0)):
        if len(cuts):
            piece = cuts[(np.minimum(cuts[:, 1], piece[1]) - np.maximum(cuts[:, 0], piece[0])).argmax()]
        out[k] = piece
    return out
