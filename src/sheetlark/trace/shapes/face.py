"""The line across a flat nose: the body's face behind a spinner or propeller, told from a propeller's own line."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings, widest_at, widest_each
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.inkgrid import Filling

_HATCHED = 0.75  # share of a body's width that hatching covers at the most
WIDEST = 0.28  # of the span, a body's front
_LEAP = 0.06  # of a body's width, the least step from a spinner to the flat face behind it
_ROUNDS = 0.6  # times as fast as ahead of a line, how a round nose widens behind it at least
NEAR = 0.003  # of the span, and a pen: how far both views may have a spinner's end apart
_FLUSH = 0.6  # of the width behind blades, how wide a spinner is ahead of them that goes on through them
_BEHIND = 2.5  # times as far aft as the blades, how far a spinner's end is looked for
_SPINNER = 0.7  # of the width of the flat face behind it, the widest a spinner is taken to be


def flat_face(
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
    fit = (widths > 2.5 * pen) & (widths < WIDEST * span) & (shares > 0.7) & (shares < 1.12)
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


def line_at(
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
    reach = pen + NEAR * span
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


def behind_spinner(
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
    reach = pen + NEAR * span
    for about in np.arange(rear + 1.5 * pen + reach, min(_BEHIND * rear, 0.08 * span), reach):
        line = line_at(frame, mm, span, dark, pen, float(about))
        if line > 0.0:
            return line
    return 0.0


def through_propeller(
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
    return behind_spinner(frame, mm, span, dark, pen, (line, rear)) or at


def _goes_on(mm: tuple[Floats, ...], x: float, wide: float, span: float) -> bool:
    """Whether ahead of what is much wider than the body at x the body goes on: a leg or a wing, no propeller."""
    for at in np.arange(x, 0.0, -0.002 * span):
        piece = widest_at(mm, np.array([at]))
        if piece is None:
            return False
        if float(piece[1][0]) < 1.3 * wide:
            return float(piece[1][0]) > _SPINNER * wide
    return False


def lines_alone(frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats) -> tuple[bool, Floats]:
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


def begins_square(mm: tuple[Floats, ...], span: float, pen: float) -> bool:
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
