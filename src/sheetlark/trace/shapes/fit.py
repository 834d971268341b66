"""Few nodes for a smooth outline, true corners where it is not: least-squares cubics between corners.

Each piece is a cubic whose end tangents are those of the points and whose two handles are solved for in the
least-squares sense; a piece that misses by more than the tolerance is parted where it misses most.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import run_to


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A fitted curve: SVG path data, its node count, and how far the points lie from it. [mm]"""

    path: str
    nodes: int
    rms_mm: float
    worst_mm: float


def fit_path(points: Floats, *, tolerance_mm: float, closed: bool) -> Fitted:
    """Fit points in order, shape (n, 2), by cubics and corners within a tolerance.

    A short piece over a jog of the points may curl and cross the curve: then the fit is made again, more closely.
    Where the points themselves cross, it stays as it is.
    """
    asked, plain = _fit(points, tolerance_mm, closed=closed)
    fitted = asked
    for share in (0.5, 0.25, 0.12):
        if plain:
            return fitted
        fitted, plain = _fit(points, share * tolerance_mm, closed=closed)
    return fitted if plain else asked


def _fit(points: Floats, tolerance_mm: float, *, closed: bool) -> tuple[Fitted, bool]:
    """One fit, and whether it nowhere crosses itself."""
    from shapely import LineString, Polygon

    p = _clean(np.asarray(points, dtype=np.float64))
    if closed:
        p = np.vstack([p, p[:1]])
    p = _even(p, 1.5 * tolerance_mm)
    corners = _corners(p, tolerance_mm, closed=closed)
    if closed and corners[0] != 0:
        k = corners[0]
        p = np.vstack([p[k:-1], p[: k + 1]])
        corners = [c - k for c in corners]
    stops = sorted({0, *[c for c in corners if 0 < c < len(p) - 1], len(p) - 1})
    out = [f"M{p[0, 0]:.2f},{p[0, 1]:.2f}"]
    errors: list[Floats] = []
    nodes = 1
    drawn = [p[:1]]
    u = _weights(np.linspace(0.0, 1.0, 13)[1:])
    for i, j in itertools.pairwise(stops):
        for c, err in _pieces(p[i : j + 1], tolerance_mm, None, None, 0):
            errors.append(err)
            nodes += 1
            straight = len(c) == 2
            drawn.append(c[1:] if straight else _blended(c, u))
            out.append(
                f"L{c[1, 0]:.2f},{c[1, 1]:.2f}"
                if straight
                else f"C{c[1, 0]:.2f},{c[1, 1]:.2f} {c[2, 0]:.2f},{c[2, 1]:.2f} {c[3, 0]:.2f},{c[3, 1]:.2f}"
            )
    e = np.concatenate(errors) if errors else np.zeros(1)
    fitted = Fitted(
        path=" ".join(out) + (" Z" if closed else ""),
        nodes=nodes,
        rms_mm=float(np.sqrt(np.mean(e**2))),
        worst_mm=float(e.max()),
    )
    line = np.round(np.vstack(drawn), 2)  # as it is written: a crossing within less is none
    plain = Polygon(line).is_valid if closed and len(line) > 3 else LineString(line).is_simple
    return fitted, bool(plain)


def _clean(p: Floats) -> Floats:
    keep = np.r_[True, np.hypot(*np.diff(p, axis=0).T) > 1e-6]
    p = p[keep]
    return p[:-1] if len(p) > 3 and np.hypot(*(p[0] - p[-1])) < 1e-6 else p


def _even(p: Floats, step: float) -> Floats:
    """Points added so that none lie further apart than `step`; at most 4000 in all."""
    gaps = np.hypot(*np.diff(p, axis=0).T)
    step = max(step, float(gaps.sum()) / 4000.0)
    n = np.maximum(1, np.ceil(gaps / step).astype(int))
    share = (np.arange(n.sum()) - np.repeat(np.cumsum(n) - n, n) + 1) / np.repeat(n, n)
    out = np.repeat(p[:-1], n, 0) + np.repeat(p[1:] - p[:-1], n, 0) * share[:, None]
    return np.vstack([p[:1], out])


def _corners(p: Floats, tol: float, *, closed: bool) -> list[int]:
    """Indices where the direction turns by more than 30 degrees within a few tolerances' length."""
    d = run_to(p)
    reach = max(4.0 * tol, 0.006 * d[-1])
    back, fore = d - reach, d + reach
    if closed:
        back, fore = back % d[-1], fore % d[-1]
    u, v = (
        end * (p - np.c_[np.interp(at, d, p[:, 0]), np.interp(at, d, p[:, 1])])
        for end, at in ((1.0, back), (-1.0, fore))
    )
    along = (
        u[:, None, :] @ v[:, :, None]
    ).ravel()  # as a dot product rounds: mirrored corners turn alike but for that
    turn = np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], along))
    if not closed:
        turn[(d < reach / 2) | (d[-1] - d < reach / 2)] = 0.0
    found: list[int] = []
    order = np.argsort(-turn)
    for i in order:
        if turn[i] < np.radians(30.0):
            break
        gap = [min(abs(d[i] - d[k]), d[-1] - abs(d[i] - d[k]) if closed else np.inf) for k in found]
        if all(g > 0.9 * reach for g in gap):
            found.append(int(i))
    last = len(p) - 1
    found = [0 if closed and i == last else i for i in found]
    return sorted(set(found)) or [0]


def _pieces(
    p: Floats, tol: float, t0: Floats | None, t1: Floats | None, depth: int
) -> list[tuple[Floats, Floats]]:
    chord = p[-1] - p[0]
    length = float(np.hypot(*chord))
    if length > 0:
        n = np.array([-chord[1], chord[0]]) / length
        off = np.abs((p - p[0]) @ n)
        along = (p - p[0]) @ chord / length
        if off.max() <= 0.6 * tol and along.min() > -tol and along.max() < length + tol:
            return [(np.vstack([p[0], p[-1]]), off)]
    if len(p) < 4:
        return [(np.vstack([a, b]), np.zeros(1)) for a, b in itertools.pairwise(p)]
    t0 = _direction(p) if t0 is None else t0
    t1 = _direction(p[::-1]) if t1 is None else t1
    d = run_to(p)
    u = d / d[-1]
    arc = float(np.hypot(*np.diff(p, axis=0).T).sum())
    best: tuple[Floats, Floats] | None = None
    for _ in range(5):
        weights = _weights(u)
        c = _solve(p, weights, t0, t1, length, arc)
        curve, slope = _blended(c, weights), _slope(c, u)
        err = np.hypot(*(curve - p).T)
        if best is None or err.max() < best[1].max():
            best = (c, err)
        step = ((curve - p) * slope).sum(1) / np.maximum((slope**2).sum(1), 1e-12)
        u = np.clip(np.maximum.accumulate(u - step), 0.0, 1.0)
        u[0], u[-1] = 0.0, 1.0
    assert best is not None
    if best[1].max() <= tol or depth > 12:
        return [best]
    k = int(np.clip(best[1].argmax(), 2, len(p) - 3)) if len(p) > 5 else len(p) // 2
    lo, hi = max(0, k - 3), min(len(p) - 1, k + 3)
    m = p[hi] - p[lo]
    m = m / max(float(np.hypot(*m)), 1e-12)
    return _pieces(p[: k + 1], tol, t0, -m, depth + 1) + _pieces(p[k:], tol, m, t1, depth + 1)


def _direction(p: Floats) -> Floats:
    k = min(len(p) - 1, 4)
    v = p[k] - p[0]
    return np.asarray(v / max(float(np.hypot(*v)), 1e-12))


def _weights(u: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """What each of a cubic's four points counts at the parameters."""
    return (1 - u) ** 3, 3 * u * (1 - u) ** 2, 3 * u**2 * (1 - u), u**3


def _solve(
    p: Floats,
    weights: tuple[Floats, Floats, Floats, Floats],
    t0: Floats,
    t1: Floats,
    length: float,
    arc: float,
) -> Floats:
    """The cubic nearest to points with those end tangents.

    length, arc : from the first point to the last, straight and along them all. [mm]
    """
    b0, b1, b2, b3 = weights
    a0, a1 = b1[:, None] * t0, b2[:, None] * t1
    rest = p - (b0 + b1)[:, None] * p[0] - (b2 + b3)[:, None] * p[-1]
    crossed = (a0 * a1).sum()
    m = np.array([[(a0 * a0).sum(), crossed], [crossed, (a1 * a1).sum()]])
    r = np.array([(a0 * rest).sum(), (a1 * rest).sum()])
    det = float(np.linalg.det(m))
    h = np.linalg.solve(m, r) if abs(det) > 1e-12 else np.array([length / 3, length / 3])
    if h.min() < 1e-3 * arc or h.max() > 1.5 * arc:
        h = np.array([arc / 3, arc / 3])
    return np.vstack([p[0], p[0] + h[0] * t0, p[-1] + h[1] * t1, p[-1]])


def _blended(c: Floats, weights: tuple[Floats, Floats, Floats, Floats]) -> Floats:
    """A cubic's points where its own count so much."""
    b0, b1, b2, b3 = (b[:, None] for b in weights)
    return np.asarray(b0 * c[0] + b1 * c[1] + b2 * c[2] + b3 * c[3])


def _slope(c: Floats, u: Floats) -> Floats:
    u = u[:, None]
    return np.asarray(
        3 * ((1 - u) ** 2 * (c[1] - c[0]) + 2 * u * (1 - u) * (c[2] - c[1]) + u**2 * (c[3] - c[2]))
    )
