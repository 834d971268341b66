"""Which way the nose points: top and side view read together.

Each way round of the top view is weighed as a tailed aeroplane, a canard or a tailless one; each way round of the side
view by its fin and its taper; and each pair of both by what the views share: where wing and tail cross the side view,
and the body's width against its depth. The best sum wins. Where it is close, hinge lines decide, for they lie aft.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.shapes.body import find_body_width
from sheetlark.trace.shapes.contour import Rings, crossings_each, widest
from sheetlark.trace.shapes.frame import Frame, flipped
from sheetlark.trace.shapes.hinges import find_hinge
from sheetlark.trace.shapes.nose import spinner_end
from sheetlark.trace.shapes.planform import find_foreplane, find_tail, find_wing, reversed_surface
from sheetlark.trace.shapes.surface import Surface

CLOSE = 1.6  # scores nearer than this ask the hinge lines too
STATIONS = np.linspace(0.01, 0.99, 200)  # columns of the side view, as shares of its length
_NO_FIN = STATIONS < 0.72  # where no fin stands on the body
_MIDDLE = (STATIONS > 0.3) & _NO_FIN
_BLADE = 0.05  # of the length, from either end of the side view to which a propeller's blade is looked for
_IN_LINE = 0.04  # of the length, how far apart the ends of projected views may lie
SPAN = 1000.0  # lengths here are in thousandths of the span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heading:
    """The noses of the top and the side view.

    kind : tailed, canard or tailless.
    wing : in thousandths of the span, or None where none was found.
    frame : the top view's, x from its foremost point, in thousandths of the span.
    side_nose, side_frame : "" and None without a side view; its frame is in pixels, z from its lowest point.
    sure : 0 to 1.
    """

    kind: str
    nose: str
    frame: Frame
    wing: Surface | None
    side_nose: str
    side_frame: Frame | None
    sure: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Top:
    """The top view one way round.

    shares : (lead, trail) of each surface's root over the length.
    width : half the body's width at `STATIONS`.
    """

    nose: str
    frame: Frame
    wing: Surface | None
    tail: Surface | None
    foreplane: Surface | None
    shares: tuple[tuple[float, float], ...]
    width: Floats | None
    kinds: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """The side view one way round: depth and strokes met in each of `STATIONS` columns, nose first.

    hung : what of the score is owed to what hangs below the body ahead of its middle, its wheels.
    """

    nose: str
    frame: Frame
    score: float
    hung: float
    depth: Floats
    strokes: Floats


_Reading = tuple[float, str, _Top, _Side | None]


def find_heading(
    sheet: Sheet,
    top: Rings,
    axis: str,
    angle: float,
    point: Floats,
    side: Rings | None,
    side_axis: str,
    *,
    said: tuple[str, str] = ("", ""),
) -> Heading:
    """The way the nose points in the top view and, where there is one, in the side view.

    Parameters
    ----------
    axis, side_axis : "upright" or "level", along which the views' noses lie.
    angle, point : the top view's mirror line. [rad, px]
    said : the noses of the top and the side view where the user said them.
    """
    tops = _top_ways(top, axis, angle, point)
    sides = (
        _side_ways(sheet, side, side_axis, angle if abs(angle) < 0.02 else 0.0) if side is not None else []
    )
    tops = [t for t in tops if t.nose == said[0]] or tops
    sides = [s for s in sides if s.nose == said[1]] or sides
    found: list[_Reading] = []
    # noses in line, as most draughtsmen set them, the more so where one view is projected from the other
    in_line = 0.8 if side is not None and axis == side_axis and _projected(top, side, axis) else 0.35
    for t in tops:
        for kind, score in t.kinds:
            if not sides:
                found.append((score, kind, t, None))
            for s in sides:
                hint = in_line if s.nose == t.nose else 0.0
                # a canard's wheels stand under its wing, behind the middle: wheels do not tell where its nose is
                own = s.score - s.hung if kind == "canard" else s.score
                found.append((score + own + _shared(t, s) + hint, kind, t, s))
    best = _best(found)
    if best[1] < CLOSE:
        worth = [_hinged(sheet, t) for t in tops]
        found = [(f[0] + worth[tops.index(f[2])], *f[1:]) for f in found]
        best = _best(found)
    (_, kind, first, beside), apart = best
    return Heading(
        kind=kind,
        nose=first.nose,
        frame=first.frame,
        wing=first.wing,
        side_nose=beside.nose if beside is not None else "",
        side_frame=beside.frame if beside is not None else None,
        sure=float(np.tanh(apart)),
    )


def _projected(top: Rings, side: Rings, axis: str) -> bool:
    """Whether both views lie above or beside one another, nose to tail at the same places of the sheet."""
    along = [np.vstack(r.rings)[:, 1 if axis == "upright" else 0] for r in (top, side)]
    (a, b), (c, d) = ((float(v.min()), float(v.max())) for v in along)
    return max(abs(a - c), abs(b - d)) < _IN_LINE * (b - a)


def _best(found: list[_Reading]) -> tuple[_Reading, float]:
    """The best reading, and how far it is ahead of the best with the top view the other way round."""
    best = max(found, key=lambda f: f[0])
    return best, best[0] - max((f[0] for f in found if f[2] is not best[2]), default=-9.0)


def _top_ways(rings: Rings, axis: str, angle: float, point: Floats) -> list[_Top]:
    """The top view both ways round; the parts are found once."""
    cs, sn = np.cos(angle), np.sin(angle)
    along = np.array([-sn, cs]) if axis == "upright" else np.array([cs, sn])
    every = np.vstack(rings.rings)
    starboard = np.array([along[1], -along[0]])
    b = (every - point) @ starboard
    origin = point + 0.5 * (b.max() + b.min()) * starboard
    a = (every - origin) @ along
    scale = SPAN / float(b.max() - b.min())
    frame = Frame(origin=origin + a.min() * along, first=along, second=starboard, mm_per_px=scale)
    mm = tuple(frame.to_mm(r) for r in rings.rings)
    length = float(a.max() - a.min()) * scale
    wing = find_wing(mm, SPAN)
    tail = find_tail(mm, SPAN, wing) if wing is not None else None
    fore = find_foreplane(mm, SPAN, wing) if wing is not None else None
    body = find_body_width(mm, SPAN, wing, tail if tail is not None else fore, None, None)
    width = np.interp(STATIONS * length, body.x, body.high) if body is not None else None
    turned = tuple(np.c_[length - m[:, 0], m[:, 1]] for m in mm)
    ways = (
        (frame, mm, wing, tail, fore, width),
        (
            flipped(frame, rings),
            turned,
            reversed_surface(wing, length) if wing is not None else None,
            reversed_surface(fore, length) if fore is not None else None,
            reversed_surface(tail, length) if tail is not None else None,
            width[::-1] if width is not None else None,
        ),
    )
    out = []
    for one, points, main, behind, ahead, wide in ways:
        aft = float(one.first[1] if axis == "upright" else one.first[0]) > 0.0
        roots = [x for x in (main, behind, ahead) if x is not None]
        out.append(
            _Top(
                nose=("up" if aft else "down") if axis == "upright" else ("left" if aft else "right"),
                frame=one,
                wing=main,
                tail=behind,
                foreplane=ahead,
                shares=tuple((float(x.lead[0]) / length, float(x.trail[0]) / length) for x in roots),
                width=wide,
                kinds=_kinds(main, behind, ahead, length, spinner=spinner_end(points, SPAN) > 0.0),
            )
        )
    return out


def _kinds(
    wing: Surface | None, tail: Surface | None, fore: Surface | None, length: float, *, spinner: bool
) -> tuple[tuple[str, float], ...]:
    """What the top view may be this way round, each with its score.

    A tail stands at the very end of the body, a foreplane leaves a nose ahead of it; a tailed aeroplane's wing lies
    ahead of the middle, a canard's behind it. Canards are rare.
    """
    if wing is None:
        return (("tailless", 0.0),)
    middle = 0.5 * (wing.lead + wing.trail)
    weight = np.maximum(wing.trail - wing.lead, 0.0)
    centre = float((middle * weight).sum() / max(weight.sum(), 1e-9)) / length
    area = max(wing.area_mm2(), 1e-9)
    ahead = 0.4 if spinner else 0.0
    out: list[tuple[str, float]] = []
    if tail is not None and tail.area_mm2() > 0.04 * area:
        beyond = (length - float(tail.trail[0])) / length
        smaller = 2.0 if tail.area_mm2() < 0.6 * area else 0.5
        out.append(("tailed", smaller + 1.5 * (0.5 - centre) + 0.6 * np.tanh((0.05 - beyond) / 0.03) + ahead))
    if fore is not None and fore.area_mm2() > 0.04 * area:
        beyond = float(fore.lead[0]) / length
        smaller = 1.2 if fore.area_mm2() < 0.6 * area else -0.3
        out.append(("canard", smaller + 1.5 * (centre - 0.5) - 0.6 * np.tanh((0.05 - beyond) / 0.03) - ahead))
    if not out:
        outer = wing.station > 0.25 * wing.station[-1]
        sweep = float(np.polyfit(wing.station[outer], middle[outer], 1)[0])
        out.append(("tailless", 1.2 * np.tanh(3.0 * sweep) + 0.8 * (centre - 0.5) + ahead))
    return tuple(out)


def _side_ways(sheet: Sheet, rings: Rings, axis: str, angle: float) -> list[_Side]:
    """The side view every way round; its shape is found once."""
    cs, sn = np.cos(angle), np.sin(angle)
    level, upright = np.array([cs, sn]), np.array([-sn, cs])
    aft, up = (level, -upright) if axis == "level" else (upright, level)
    every = np.vstack(rings.rings)
    first = _seated(every, aft, up)
    mm = tuple(first.to_mm(r) for r in rings.rings)
    length, height = float(np.ptp(every @ aft)), float(np.ptp(every @ up))
    cuts = crossings_each(mm, STATIONS * length, 0)
    got = np.array([widest(c) if len(c) else (np.nan, np.nan) for c in cuts])
    ok = np.isfinite(got[:, 0])
    if ok.sum() < 0.3 * STATIONS.size:
        return []
    low, high = (np.interp(STATIONS, STATIONS[ok], got[ok, k]) for k in (0, 1))
    low, high = _without_blade(low, high)
    strokes = _strokes_met(sheet, first, length, height)
    out = []
    for turned in (False, True):
        for over in (False, True) if axis == "upright" else (False,):
            below, above = (height - high, height - low) if over else (low, high)
            if turned:
                below, above = below[::-1], above[::-1]
            frame = _seated(every, -aft if turned else aft, -up if over else up)
            way = _side_way(frame, below, above, strokes[::-1] if turned else strokes)
            out.append(replace(way, score=way.score + _finned(below, above)) if axis == "upright" else way)
    return out


def _seated(every: Floats, aft: Floats, up: Floats) -> Frame:
    """A side view's frame in pixels, x from its foremost and z from its lowest point."""
    return Frame(
        origin=(every @ aft).min() * aft + (every @ up).min() * up, first=aft, second=up, mm_per_px=1.0
    )


def _side_way(frame: Frame, low: Floats, high: Floats, strokes: Floats) -> _Side:
    """One way round, scored by its shape: the fin stands aft, the body is deep forward and rises aft.

    Turned over and tail first, a fin hangs below the nose, and what lies behind it seems to rise.
    """
    depth, body = high - low, _body_depth(low, high)
    fin = float(np.max(high[STATIONS > 0.79]) - np.max(high[STATIONS < 0.21])) / body
    fore = (STATIONS > 0.09) & (STATIONS < 0.35)
    aft = STATIONS > 0.72
    rise = float(np.min(low[aft]) - np.min(low[fore])) / body
    alone = float(np.median(low[aft]) - np.median(low[fore])) / body  # the body's own, whatever hangs from it
    nose = (STATIONS > 0.02) & (STATIONS < 0.1)  # behind a propeller
    hangs = float(np.min(low[_MIDDLE]) - np.median(low[nose])) / body
    lies = abs(float(frame.first[0])) > 0.7
    toward = float(frame.first[0] if lies else frame.first[1]) > 0.0
    return _Side(
        nose=("left" if toward else "right") if lies else ("up" if toward else "down"),
        frame=frame,
        score=1.2 * fin + 0.8 * (rise - max(hangs, 0.0)),
        hung=0.8 * max(rise - alone, 0.0),
        depth=np.minimum(depth, 2.0 * body),
        strokes=strokes,
    )


def _without_blade(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Both edges less a propeller's blade at either end: narrow, it reaches as far up as down, a fin up alone."""
    low, high = low.copy(), high.copy()
    most = 0.3 * _body_depth(low, high)
    for end in (STATIONS < _BLADE, STATIONS > 1.0 - _BLADE):
        beside = (STATIONS > _BLADE) & (STATIONS < 3.0 * _BLADE)
        beside = beside if end[0] else beside[::-1]
        foot, head = float(np.median(low[beside])), float(np.median(high[beside]))
        blade = end & (high > head + most) & (low < foot - most)
        low[blade], high[blade] = foot, head
    return low, high


def _body_depth(low: Floats, high: Floats) -> float:
    """How deep a side view is amidships, where nothing but its body usually is."""
    return max(float(np.median((high - low)[_MIDDLE])), 1.0)


def _finned(low: Floats, high: Floats) -> float:
    """What a fin says of a side view that may lie on its back: how much more it grows above its tail than below it."""
    cone, aft = (STATIONS > 0.66) & (STATIONS < 0.79), STATIONS > 0.79
    body = _body_depth(low, high)
    above = float(np.max(high[aft]) - np.min(high[cone]))
    below = float(np.max(low[cone]) - np.min(low[aft]))
    return 1.2 * float(np.clip((above - below) / body, -1.0, 1.0))


def _strokes_met(sheet: Sheet, frame: Frame, length: float, height: float) -> Floats:
    """How many strokes each of `STATIONS` columns of the side view crosses."""
    z = np.linspace(0.0, height, 260)
    x = np.repeat((STATIONS * length)[:, None], z.size, 1)
    inked = frame.ink(sheet.dark, x, np.repeat(z[None, :], STATIONS.size, 0)) > 0.45
    return np.asarray((inked[:, 1:] & ~inked[:, :-1]).sum(1), dtype=np.float64)


def _shared(top: _Top, side: _Side) -> float:
    """How well a top and a side view, each one way round, show the same aeroplane.

    Where a wing's or tail's section lies across the side view a column meets more strokes than just ahead of and
    behind it; and the body is wide where it is deep.
    """
    more = 0.0
    for lead, trail in top.shares:
        at = (STATIONS - lead) / max(trail - lead, 1e-9)
        on = (at > 0.12) & (at < 0.8)
        off = ((at > -0.3) & (at < -0.04)) | ((at > 1.05) & (at < 1.3))
        if on.any() and off.any():
            more += float(np.clip(side.strokes[on].mean() - side.strokes[off].mean(), -3.0, 3.0))
    like = 0.0
    if top.width is not None:
        width, depth = top.width[_NO_FIN], side.depth[_NO_FIN]
        if min(np.std(width), np.std(depth)) > 0.0:
            like = float(np.corrcoef(width, depth)[0, 1])
    return 1.6 * float(np.tanh(0.35 * more)) + 0.8 * like


def _hinged(sheet: Sheet, top: _Top) -> float:
    """How much the hinge lines found behind the middle of wing and tail speak for this way round."""
    ink = top.frame.inked(sheet.dark)
    pen = sheet.pen_px * top.frame.mm_per_px
    worth = 0.0
    for surface, least in ((top.wing, 0.14), (top.tail or top.foreplane, 0.4)):
        if surface is None:
            continue
        root = max(surface.lead_root, surface.trail_root)
        hinge = find_hinge(surface, ink, pen=pen, root=root, least=least, widest=0.48)
        worth += hinge.confidence if hinge is not None else 0.0
    return 1.6 * worth
