"""The front view: how many wings, how far apart, their dihedral and spans."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.paper.views import Candidate
from sheetlark.trace.shapes.contour import Rings
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.inkgrid import Ink, InkGrid

_FACES = 0.10  # of the half span, how near each other two faces of one thick wing are
# of it, how near strokes of one wing lie at a station: of most wings, and of thick ones
_CLUMPS = (0.045, 0.075)
_ASTRAY = 0.02  # of the half span, how far a loose line across one half moves a wing found, at least
_BOTH = 0.3  # of a wing's stations are inked alike on both halves, whatever breaks it has
_LONG = 0.7  # of a little way beyond a tip is inked where a line goes on there
_OUTSIDE = np.linspace(
    1.012, 1.075, 40
)  # of the half span, where a line that goes on beyond a tip is looked at
_STROKE = 0.12  # of _FACES, the thickness of one stroke at the most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrontWing:
    """One wing seen from ahead. z at the centre line, slope of its middle line, and half span. [mm, deg]"""

    z_mm: float
    dihedral_deg: float
    semi_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrontView:
    """The front view's frame, (y, z) on the side view's datum where there is one, and its wings, lowest first."""

    frame: Frame
    wings: tuple[FrontWing, ...]


def front_wings(ink: Ink, *, semi: float, low: float, high: float, pen: float) -> tuple[FrontWing, ...]:
    """Wings in a front view, lowest first.

    Parameters
    ----------
    ink : callable (y, z) -> ink strength, millimetres, centre line at y = 0.
    semi : float
        Half span of the largest wing.
    low, high : float
        Range of z to look in.
    pen : float
        Stroke width.

    Notes
    -----
    At each station the ink of both halves is gathered into clumps along z; a clump that goes on from station to
    station along a straight line is a wing. Struts, wheels and propellers do not go on. A level line that goes on
    beyond the span is a centre line.
    """
    from scipy import ndimage

    z = np.arange(low, high, semi / 500.0)
    stations = np.linspace(0.30, 0.985, 110) * semi
    centre = _beyond(ink, z, semi)
    zz, yy = np.meshgrid(z, stations, indexing="ij")
    halves = np.array([ink(yy, zz), ink(-yy, zz)])
    strength = halves.max(0)
    # a hairline spread over two pixels is nowhere darker than half a wide one
    dark = 0.45 * float(np.clip(np.median(strength.max(0)) / 0.8, 0.5, 1.0))
    near = 2 * round((pen + 0.004 * semi) / (z[1] - z[0])) + 1
    mirrored = np.minimum(strength, ndimage.maximum_filter1d(halves, near, axis=1).min(0))

    clumps = partial(_clumps, z, stations, most=0.16 * semi)
    merge = _CLUMPS[0] * semi
    if _faces_part(clumps(strength > dark, merge), stations.size, semi):
        merge = _CLUMPS[1] * semi
    every, shared = (
        _wings(
            ink, clumps((s > dark) & ~centre[:, None], merge), stations, dark, (low, high), semi=semi, pen=pen
        )
        for s in (strength, mirrored)
    )
    every = tuple(w for w in every if _on_both(w, z, stations, mirrored > dark, 0.03 * semi))
    every, shared = (tuple(w for w in ws if not _goes_on(ink, w, semi)) for ws in (every, shared))
    # a loose line crosses one half alone; without one either half's ink tells more, for a break is in one half too
    alike = map(partial(_alike, slack=_ASTRAY * semi), every, shared)
    astray = len(shared) > len(every) or (len(shared) == len(every) and not all(alike))
    return shared if astray else every


def _on_both(wing: FrontWing, z: Floats, stations: Floats, mirrored: Mask, near: float) -> bool:
    """Whether a wing's ink, that near its line, is mirrored; not that of a slanting line across both halves. [mm]"""
    at = wing.z_mm + np.tan(np.radians(wing.dihedral_deg)) * stations
    inked = (mirrored & (np.abs(z[:, None] - at) < near)).any(0)
    return float(inked[stations < wing.semi_mm].mean()) > _BOTH


def _goes_on(ink: Ink, wing: FrontWing, semi: float) -> bool:
    """Whether what was taken for a wing goes on beyond both tips of the span: a line across the sheet, be it askew."""
    y = _OUTSIDE * semi
    z = wing.z_mm + np.tan(np.radians(wing.dihedral_deg)) * y + np.linspace(-0.015, 0.015, 31)[:, None] * semi
    yy = np.repeat(y[None], len(z), 0)
    return all(float((ink(sign * yy, z) > 0.45).any(0).mean()) > _LONG for sign in (1.0, -1.0))


def _clumps(z: Floats, stations: Floats, on: Mask, merge: float, *, most: float) -> Floats:
    """Clumps of ink along z, shape (n, 3): station, middle and thickness; strokes nearer than `merge` are one. [mm]"""
    marks: list[tuple[float, float, float]] = []
    for y, column in zip(stations, on.T, strict=True):
        k = np.nonzero(column)[0]
        if not k.size:
            continue
        for run in np.split(k, np.nonzero(np.diff(z[k]) > merge)[0] + 1):
            thick = float(z[run[-1]] - z[run[0]])
            if thick < most:
                marks.append((float(y), float(z[run].mean()), thick))
    return np.array(marks).reshape(-1, 3)


def _faces_part(marks: Floats, stations: int, semi: float) -> bool:
    """Whether faces of one wing are one clump toward its tip and two where it is thicker.

    At many stations two single strokes lie near each other, at others a clump is as thick as can be.
    """
    thin = marks[marks[:, 2] < _STROKE * _FACES * semi]
    order = np.lexsort((thin[:, 1], thin[:, 0]))
    step = np.diff(thin[order], axis=0)
    pairs = np.count_nonzero((step[:, 0] == 0.0) & (step[:, 1] < _CLUMPS[1] * semi))
    thick = np.count_nonzero(np.abs(marks[:, 2] - _CLUMPS[0] * semi) < 0.3 * _CLUMPS[0] * semi)
    return bool(pairs > 0.1 * stations and thick > 0.1 * stations)


def _alike(a: FrontWing, b: FrontWing, *, slack: float) -> bool:
    """Whether two wings have their places and tips as near each other as that. [mm]"""
    return max(abs(a.z_mm - b.z_mm), abs(a.semi_mm - b.semi_mm)) < slack


def _wings(
    ink: Ink,
    pool: Floats,
    stations: Floats,
    dark: float,
    within: tuple[float, float],
    *,
    semi: float,
    pen: float,
) -> tuple[FrontWing, ...]:
    """The wings that clumps of ink make, lowest first.

    pool : shape (n, 3), station, middle and thickness; within : range of z looked in. [mm]
    dark : strength above which there is ink.
    """
    if len(pool) < 20:
        return ()
    low, high = within
    found: list[tuple[float, FrontWing]] = []
    for _ in range(5):
        best: tuple[int, float, float] | None = None
        for slope in np.tan(np.radians(np.arange(-6.0, 14.1, 0.25))):
            at0 = pool[:, 1] - slope * pool[:, 0]
            order = np.sort(at0)
            wide = 0.02 * semi
            counts = np.searchsorted(order, order + wide) - np.arange(order.size)
            j = int(counts.argmax())
            if best is None or counts[j] > best[0]:
                best = (int(counts[j]), float(slope), float(order[j] + wide / 2))
        assert best is not None
        count, slope, at0 = best
        if count < 0.45 * stations.size:
            break
        mine = np.abs(pool[:, 1] - slope * pool[:, 0] - at0) < 0.022 * semi
        fine = np.polyfit(pool[mine, 0], pool[mine, 1], 1)
        step = float(stations[1] - stations[0])
        thick = float(np.median(pool[mine, 2]))
        last = _end(pool[mine, 0], step)
        tip = _tip(ink, (float(fine[0]), float(fine[1])), last, step, 0.5 * thick + pen, dark) - 0.5 * pen
        wing = FrontWing(
            z_mm=float(fine[1]),
            dihedral_deg=float(np.degrees(np.arctan(fine[0]))),
            semi_mm=min(tip, semi),
        )
        found.append((thick, wing))
        pool = pool[np.abs(pool[:, 1] - fine[0] * pool[:, 0] - fine[1]) > 0.05 * semi]
        if len(pool) < 20:
            break
    found = _whole_wings(found, _FACES * semi)
    # a dimension line under the span is one stroke where a wing is two, its lower and its upper face
    thickest = max((thick for thick, _ in found), default=0.0)
    # well inside the view no dimension line lies: there one face of a wing may be faint
    inner = (low + 0.26 * semi, high - 0.26 * semi)
    wings = [
        wing
        for thick, wing in found
        if thick > 0.4 * thickest or thickest < 0.012 * semi or inner[0] < wing.z_mm < inner[1]
    ][:2]
    return tuple(sorted(wings, key=lambda w: w.z_mm))


def _whole_wings(found: list[tuple[float, FrontWing]], faces: float) -> list[tuple[float, FrontWing]]:
    """Wings with both faces of a thick one made one wing in their middle, with their thickness. [mm]"""
    out: list[tuple[float, FrontWing]] = []
    for thick, wing in found:
        k = next((i for i, (_, other) in enumerate(out) if _nearest(wing, other) < faces), None)
        if k is None:
            out.append((thick, wing))
            continue
        known, other = out[k]
        level = abs(wing.dihedral_deg - other.dihedral_deg) < 1.5
        single = (
            max(known, thick) < _STROKE * faces
        )  # each a stroke alone, no wing with a dimension line beside it
        if level and single and abs(wing.semi_mm - other.semi_mm) < 0.05 * other.semi_mm:
            middle = FrontWing(
                z_mm=0.5 * (wing.z_mm + other.z_mm),
                dihedral_deg=0.5 * (wing.dihedral_deg + other.dihedral_deg),
                semi_mm=max(wing.semi_mm, other.semi_mm),
            )
            out[k] = (abs(wing.z_mm - other.z_mm), middle)
    return out


def _beyond(ink: Ink, z: Floats, semi: float) -> Mask:
    """Heights at which a level line goes on beyond both tips, as wide as it is drawn."""
    from scipy import ndimage

    y = _OUTSIDE * semi
    yy, zz = np.repeat(y[None, :], z.size, 0), np.repeat(z[:, None], y.size, 1)
    sides = [(ink(sign * yy, zz) > 0.45).mean(1) > 0.3 for sign in (1.0, -1.0)]
    return np.asarray(
        ndimage.binary_dilation(sides[0], iterations=2) & ndimage.binary_dilation(sides[1], iterations=2)
    )


def _end(y: Floats, step: float) -> float:
    """The outermost of a wing's stations; specks beyond its tip, fewer than the stations missing before them, are not."""
    at = np.unique(y)
    for k in np.nonzero(np.diff(at) > 5.0 * step)[0]:
        if at.size - 1 - k < (at[k + 1] - at[k]) / step:
            return float(at[k])
    return float(at[-1])


def _tip(ink: Ink, line: tuple[float, float], last: float, step: float, reach: float, dark: float) -> float:
    """Where a wing's ink ends, outward from a station just inside its tip, in the middle of both halves. [mm]

    line : slope and height of the wing; reach : how far above and below it there is ink. [mm]
    dark : strength above which there is ink.
    """
    y = np.arange(last - step, last + 2.5 * step + reach, 0.05 * step)
    z = np.polyval(line, y)[:, None] + np.linspace(-reach, reach, 25)
    ends = []
    for sign in (1.0, -1.0):
        bare = np.nonzero(ink(sign * np.repeat(y[:, None], 25, 1), z).max(1) <= dark)[0]
        bare = bare[y[bare] > last - 0.5 * step] if bare.size else bare
        ends.append(float(y[bare[0]]) - 0.025 * step if bare.size else float(y[-1]))
    # a break may have shortened one half, or a line lengthened it
    return float(np.mean(ends)) if abs(ends[0] - ends[1]) < step else last + 0.5 * step


def _nearest(a: FrontWing, b: FrontWing) -> float:
    """How near two wings come to each other, at the centre line or at the shorter one's tip. [mm]"""
    tip = min(a.semi_mm, b.semi_mm)
    rise = np.tan(np.radians([a.dihedral_deg, b.dihedral_deg]))
    return float(min(abs(a.z_mm - b.z_mm), abs(a.z_mm - b.z_mm + (rise[0] - rise[1]) * tip)))


def mirror_line(ink: Ink, *, span: float, high: float) -> float:
    """The y about which the ink of a front view is mirrored best, within 2.5 % of the span. [mm]

    The ends of the silhouette do not tell the middle where a dimension's extension line hangs on to one tip.
    """
    grid = InkGrid.of(ink, (-0.55 * span, 0.0), (0.55 * span, high), 0.002 * span)
    soft = grid.wide(0.002 * span)
    rows = len(soft)
    most = 25
    agreement = np.empty(2 * most + 1)
    for k in range(-most, most + 1):
        low, high_row = max(0, k), min(rows, rows + k)
        part = soft[low:high_row]
        agreement[k + most] = np.minimum(part, part[::-1]).sum()
    best = int(agreement.argmax())
    if agreement[best] < 1.02 * agreement[most]:
        return 0.0
    middle = 0.5 * (rows - 1 + best - most)
    return float(grid.low[0] + middle * grid.step)


def read_front(
    sheet: Sheet,
    rings: Rings,
    c: Candidate,
    mm_per_px: float,
    span: float,
    side: tuple[Floats, ...],
    angle: float,
    body: tuple[float, float] | None = None,
) -> FrontView:
    """The front view, heights on the side view's datum where there is one.

    Both views show the same top and the same bottom, but a loose line may stand out above or below either of them.

    Parameters
    ----------
    side : outlines of the side view. [mm]
    body : lowest and highest z of the body in the side view. [mm]
    """
    turn = angle if abs(angle) < 0.02 else 0.0
    right, up = np.array([np.cos(turn), np.sin(turn)]), np.array([np.sin(turn), -np.cos(turn)])
    every = np.vstack(rings.rings)
    a, z = every @ right, every @ up
    wide = float(np.ptp(a)) * mm_per_px
    centre = 0.5 * (a.max() + a.min())
    if abs(wide / span - 1.0) > 0.05:  # wings drawn as single lines: trust the ink's reach
        centre = 0.5 * (c.solid.reach[0] + c.solid.reach[2]) * sheet.pool * right[0]
    origin = centre * right + z.min() * up
    frame = Frame(origin=origin, first=right, second=up, mm_per_px=mm_per_px)
    high_px = z.max() - z.min()

    ink = frame.inked(sheet.dark)
    off = mirror_line(ink, span=span, high=float(high_px * mm_per_px))
    origin = origin + off / mm_per_px * right
    frame = replace(frame, origin=origin)
    ink = frame.inked(sheet.dark)
    pen = sheet.pen_px * mm_per_px
    top = float(high_px * mm_per_px) + 0.12 * span
    found = front_wings(ink, semi=span / 2.0, low=-0.12 * span, high=top, pen=pen)
    if not side:
        return FrontView(frame=frame, wings=found)
    lifts = [side_z.max() - high_px * mm_per_px, side_z.min()] if (side_z := _heights(side)).size else [0.0]
    # the fin's tip is the highest ink on the centre line, unless a centre line is drawn on above it
    h = np.arange(0.0, (high_px + 0.06 * span / mm_per_px) * mm_per_px, 0.001 * span)
    on = ink(np.zeros_like(h), h) > 0.45
    if on.any():
        lifts.append(float(side_z.max()) - float(h[on].max()))
    shift = _best_lift([float(v) for v in lifts], ink, body, pen=pen)
    return FrontView(
        frame=replace(frame, origin=origin - shift / mm_per_px * up),
        wings=tuple(
            FrontWing(z_mm=f.z_mm + shift, dihedral_deg=f.dihedral_deg, semi_mm=f.semi_mm) for f in found
        ),
    )


def fin_above(
    sheet: Sheet, rings: Rings, frame: Frame, side: tuple[Floats, ...], *, span: float, pen: float
) -> Floats | None:
    """The tip of a fin drawn too thin for a silhouette: a line, or a strip, on the middle of the front view.

    It goes up no further than makes the front view as high as the side view, so that no centre line is taken for it.

    Returns
    -------
    ndarray, shape (1, 2)
        Its place (column, row) on the sheet; None where there is no such fin.
    """
    z = frame.to_mm(np.vstack(rings.rings))[:, 1]
    lacking = float(np.ptp(_heights(side)) - np.ptp(z)) if side else 0.0
    if lacking < 0.02 * span:
        return None
    h = z.max() + np.arange(pen, lacking + pen, 0.5 * frame.mm_per_px)
    y = np.linspace(-1.0, 1.0, 41) * max(0.012 * span, 2.0 * pen)
    on = frame.ink(sheet.dark, np.repeat(y[None], h.size, 0), np.repeat(h[:, None], y.size, 1)).max(1) > 0.45
    top = h[-1] if on.all() else h[on.argmin()]
    return np.column_stack(frame.to_px(np.zeros(1), np.array([top]))) if top > h[0] + 2.0 * pen else None


def _heights(side: tuple[Floats, ...]) -> Floats:
    return np.concatenate([m[:, 1] for m in side])


def _best_lift(
    lifts: list[float],
    ink: Ink,
    body: tuple[float, float] | None,
    *,
    pen: float,
) -> float:
    """Of several ways to lay the front view's heights on the side view's, the one that puts the body on its outline."""
    if body is None or max(lifts) - min(lifts) < 3.0 * pen:
        return lifts[-1]
    y = np.linspace(-0.12, 0.12, 13) * (body[1] - body[0])
    off = np.arange(-2.0, 2.1, 0.5) * pen

    def inked(lift: float) -> float:
        lines = [np.max([ink(y, np.full(y.size, z - lift + d)) for d in off], axis=0) for z in body]
        return float(np.mean([np.clip(line, 0.0, 1.0).mean() for line in lines]))

    return max(lifts, key=inked)
