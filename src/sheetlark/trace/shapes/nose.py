"""Where the body begins: behind a spinner and propeller blades, at a point the pen's width hides, at a flat face."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
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
from sheetlark.trace.shapes.contour import crossings, crossings_each, widest, widest_at, widest_each
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.inkgrid import Filling
from sheetlark.trace.shapes.point import find_point, with_point

_HATCHED = 0.75  # share of a body's width that hatching covers at the most
_WIDEST = 0.28  # of the span, a body's front
_LEAP = 0.06  # of a body's width, the least step from a spinner to the flat face behind it
_BROKEN = 0.6  # share of a line that is inked where a break has parted it, at least
_ROUNDS = 0.6  # times as fast as ahead of a line, how a round nose widens behind it at least
_CLOSE = 0.015  # of the span, the farthest behind a propeller that a face lies where both are one silhouette
_NEAR = 0.003  # of the span, and a pen: how far both views may have a spinner's end apart
_AS_LONG = 0.006  # of the span, within which two views are as long
_LONG = 0.015  # of the span, a spinner that is cut off without a line behind it, at the least
_FLUSH = 0.6  # of the width behind blades, how wide a spinner is ahead of them that goes on through them
_BEHIND = 2.5  # times as far aft as the blades, how far a spinner's end is looked for
_SPINNER = 0.7  # of the width of the flat face behind it, the widest a spinner is taken to be


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
    filling, lines = _lines_alone(frame, mm, span, dark)
    if point is not None:
        spun = point.at + beside if beside > 0.0 else 0.0  # where the other view's spinner would end here
        if beside > 0.0 and abs(spun) < pen + _NEAR * span and point.at < -2.0 * pen:
            return frame, mm  # of the spinner no paper was found: the silhouette begins at the face behind it
        behind = _flat_face(
            frame, mm, span, lines, pen, first=0.02 * span, filled=filling, sharply=True
        ) or _line_at(frame, mm, span, lines, pen, spun, least=_BROKEN)
        if not behind and shows and abs(point.at) < pen + _NEAR * span:
            behind = spun
        if behind > 0.0:
            return _from(frame, mm, behind)
        pointed = tuple(m - (point.at, 0.0) for m in with_point(mm, point, pen=pen))
        return frame.moved(point.at), pointed
    blades = blades_of(mm, span, at) if at > 0.0 else blades_beside(frame, mm, span, dark, pen)
    between = nose_between(frame, mm, span, lines, pen, blades) if blades is not None else None
    shown = _line_at(frame, mm, span, lines, pen, beside, least=_BROKEN)
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
        face = _flat_face(frame, mm, span, lines, pen, first=first, filled=filling, hidden=hidden)
        if blades is not None and not (face or shown):
            face = _behind_spinner(frame, mm, span, lines, pen, blades)
        at = _through_propeller(frame, mm, span, lines, pen, face or shown or at)
    gap = nose_behind_gap(frame, mm, span, lines, pen) if at <= 0.0 else None
    if gap is None and at <= 0.0 and blades is not None:
        gap = nose_behind_blades(frame, mm, span, lines, pen, blades[1])
    if gap is not None:
        at = gap[0]
        mm = without_blades(frame, mm, span, lines, pen, *gap)
    elif at <= 0.0 and shows and not _begins_square(mm, span, pen):
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
        if behind > _WIDEST * span or wide[k + 2 * lag] > 1.35 * behind:  # a wing close behind the nose
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


def _flat_face(
    frame: Frame,
    mm: tuple[Floats, ...],
    span: float,
    dark: Floats,
    pen: float,
    *,
    first: float,
    filled: bool,
    hidden: float = 0.0,
    sharply: bool = False,
) -> float:
    """Where a flat nose is drawn right across, with something narrower or much wider ahead of it; 0 where none is.

    Of several such lines the aftmost: a propeller seen edge on stands ahead of the face. One drawn across a spinner
    runs on beyond it on both sides, without a step there.

    hidden : up to here breaks closed may have filled what lies between a propeller and the face, as wide as it. [mm]
    sharply : only where the width leaps at the line.
    """
    px = frame.mm_per_px
    gap = 1.1 * pen + 1.5 * px
    found = 0.0
    best = 0.0
    stations = np.arange(first, 0.08 * span, 0.5 * px)
    stations = stations[
        stations >= gap + 2.0 * px
    ]  # closer to the front a line across is the front's own stroke
    middles, widths = widest_each(mm, stations + gap)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = widths / widest_each(mm, stations + gap + 0.015 * span)[1]
    ahead = [widest_each(mm, v)[1] for v in (stations - gap, stations - gap - 0.008 * span)]
    leaps, rounds = _leaps(mm, stations, gap), _rounds(mm, stations, gap, 0.008 * span)
    fit = (widths > 2.5 * pen) & (widths < _WIDEST * span) & (shares > 0.7) & (shares < 1.12)
    for k in np.flatnonzero(fit):
        x, middle, wide = float(stations[k]), float(middles[k]), float(widths[k])
        steps = [float(v[k]) / wide for v in ahead if np.isfinite(v[k])]
        if not leaps[k]:
            if sharply or (x > hidden and (rounds[k] or all(0.8 < step < 1.3 for step in steps))):
                continue  # nothing at all stands ahead
            if steps and steps[0] < 1.3 and _runs_beyond(frame, dark, x, middle, wide, span):
                continue
        if x > hidden and max(steps, default=0.0) >= 1.3 and _goes_on(mm, x - gap, wide, span):
            continue
        across = middle + np.linspace(-0.45, 0.45, 31) * wide

        def dark_at(at: float, across: Floats = across) -> Floats:
            return frame.ink(dark, np.full(31, at), across)

        line = np.max([dark_at(x + k * px) for k in (-1.0, 0.0, 1.0)], axis=0)
        behind = (dark_at(x + gap) > 0.45).mean()
        if (line > 0.45).mean() < 0.93:
            continue
        if filled or behind >= 0.9:  # the line's front tells where it is
            begins = _square(mm, x + gap, middle, wide)
            if begins is not None and abs(x - begins) < gap and x > found + 2.0 * pen + 2.0 * px:
                found = x + 0.5 * pen
            continue
        if behind > _HATCHED:
            continue
        strength = float(dark_at(x).mean())
        if x > found + 2.0 * pen + 2.0 * px:
            best = 0.0  # another line, further aft
        if strength > best:
            best, found = strength, x
    return found


def _leaps(mm: tuple[Floats, ...], x: Floats, gap: float) -> Mask:
    """At which stations, shape (n,), a silhouette grows wider by far more than on either side of it."""
    wide = np.stack([widest_each(mm, x + k * gap)[1] for k in (-3.0, -1.0, 1.0, 3.0)])
    ahead, here, behind = np.diff(wide, axis=0)
    usual = np.maximum(0.5 * (ahead + behind), 0.0)
    leaps = (here - usual > _LEAP * wide[2]) & (here > 1.3 * np.maximum(ahead, behind))
    return np.asarray(leaps & (x > 3.0 * gap))


def _rounds(mm: tuple[Floats, ...], x: Floats, gap: float, reach: float) -> Mask:
    """At which stations, shape (n,), a silhouette rounds on: it widens across them less than ahead and more than behind.

    Nearly as fast behind as ahead: where a spinner ends its edge breaks, or lies along the axis.
    """
    a, b, c, d = (widest_each(mm, x + k)[1] for k in (-gap - reach, -gap, gap, gap + reach))
    ahead, here, behind = (b - a) / reach, (c - b) / (2.0 * gap), (d - c) / reach
    return np.asarray((ahead > here) & (here > behind) & (behind > _ROUNDS * ahead))


def _runs_beyond(frame: Frame, dark: Floats, x: float, middle: float, wide: float, span: float) -> bool:
    """Whether a line across a body at x runs on on both sides of it: a propeller's, seen edge on."""
    out = 0.5 * wide + np.linspace(0.015, 0.03, 12) * span
    px = frame.mm_per_px
    sides = [
        np.max([frame.ink(dark, np.full(12, x + k * px), middle + s * out) for k in (-1.0, 0.0, 1.0)], axis=0)
        for s in (-1.0, 1.0)
    ]
    return min(float((side > 0.45).mean()) for side in sides) > 0.8


def _line_at(
    frame: Frame,
    mm: tuple[Floats, ...],
    span: float,
    dark: Floats,
    pen: float,
    about: float,
    *,
    least: float = 0.93,
) -> float:
    """Where close to x = about a line is drawn right across the body; 0 where none is, or nothing is asked for.

    least : share of it that is inked; where another view tells of it a break may have parted it.
    """
    best, found = least, 0.0
    reach = pen + _NEAR * span
    if about <= reach:
        return found
    stations = np.arange(about - reach, about + reach, 0.5 * frame.mm_per_px)
    for x, middle, wide in zip(stations, *widest_each(mm, stations), strict=True):
        if np.isnan(wide):
            continue
        across = float(middle) + np.linspace(-0.4, 0.4, 31) * float(wide)
        strength = frame.ink(dark, np.full(31, x), across)
        share = float((strength > 0.45).mean()) + 0.05 * float(strength.mean())
        if share > best:
            best, found = share, float(x)
    return found


def _behind_spinner(
    frame: Frame,
    mm: tuple[Floats, ...],
    span: float,
    dark: Floats,
    pen: float,
    blades: tuple[float, float],
) -> float:
    """Where the line lies that a spinner ends at which goes on through blades drawn beside it; 0 where none is found.

    The body goes on as wide as the spinner, so that no step shows; but a spinner does not end at the blades, for ahead
    of them it is nearly as wide as behind them.
    """
    front, rear = blades
    if front < 2.0 * pen + 0.004 * span:
        return 0.0
    pieces = widest_at(mm, np.array([front - pen - 0.001 * span, rear + 0.01 * span]))
    if pieces is None or float(pieces[1][0]) < _FLUSH * float(pieces[1][1]):
        return 0.0
    reach = pen + _NEAR * span
    for about in np.arange(rear + 1.5 * pen + reach, min(_BEHIND * rear, 0.08 * span), reach):
        line = _line_at(frame, mm, span, dark, pen, float(about))
        if line > 0.0:
            return line
    return 0.0


def _through_propeller(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float, at: float
) -> float:
    """Where a spinner ends that goes on through a propeller's line at x = `at`; `at` itself where none does.

    Half way along a long spinner the line is no face, even where it has thrown the silhouette's width aside.
    """
    if at <= 0.0:
        return at
    behind = widest_at(mm, np.array([at + pen + 0.003 * span]))
    if behind is None:
        return at
    middle, wide = float(behind[0][0]), float(behind[1][0])
    stations = np.arange(at - pen - 0.002 * span, at + pen + 0.002 * span, 0.5 * frame.mm_per_px)
    across = [x for x in stations.tolist() if _runs_beyond(frame, dark, x, middle, wide, span)]
    if not across:
        return at
    line = float(np.mean(across))
    rear = line + 0.5 * pen + frame.mm_per_px
    return _behind_spinner(frame, mm, span, dark, pen, (line, rear)) or at


def _goes_on(mm: tuple[Floats, ...], x: float, wide: float, span: float) -> bool:
    """Whether ahead of what is much wider than the body at x the body goes on: a leg or a wing, no propeller."""
    for at in np.arange(x, 0.0, -0.002 * span):
        piece = widest_at(mm, np.array([at]))
        if piece is None:
            return False
        if float(piece[1][0]) < 1.3 * wide:
            return float(piece[1][0]) > _SPINNER * wide
    return False


def _lines_alone(frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats) -> tuple[bool, Floats]:
    """Whether filling hides a body's lines; and the ink, less the filling where lines stand out from it."""
    pieces = [(x, widest_at(mm, np.array([x]))) for x in np.array([0.03, 0.04, 0.05, 0.06]) * span]
    share = np.linspace(-0.7, 0.7, 120)
    rows = [frame.ink(dark, np.full(120, x), c[0][0] + share * c[1][0]) for x, c in pieces if c is not None]
    if not rows:
        return False, dark
    filling = Filling(
        dark=float(np.median([r[np.abs(share) < 0.35] for r in rows])),
        lines=float(np.median([r.max() for r in rows])),
    )
    return filling.there and filling.hides, filling.taken_off(dark) if filling.shows_lines else dark


def _begins_square(mm: tuple[Floats, ...], span: float, pen: float) -> bool:
    """Whether a silhouette begins square across its width, as a face does and no spinner."""
    x = pen + 0.004 * span
    piece = widest_at(mm, np.array([x]))
    if piece is None:
        return False
    begins = _square(mm, x, float(piece[0][0]), float(piece[1][0]))
    return begins is not None and begins < pen


def _square(mm: tuple[Floats, ...], x: float, middle: float, wide: float) -> float | None:
    """Where a figure that begins square across its width does so, beside whatever stands ahead of its middle."""
    starts = []
    for share in (0.3, 0.4):
        for sign in (-1.0, 1.0):
            cuts = [c for c in crossings(mm, middle + sign * share * wide, 1) if c[0] <= x <= c[1]]
            if not cuts:
                return None
            starts.append(float(cuts[0][0]))
    return float(np.median(starts)) if sum(starts[2:]) - sum(starts[:2]) < 0.08 * wide else None
