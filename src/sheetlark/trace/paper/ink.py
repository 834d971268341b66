"""From grey levels to ink: flatten the paper, find the pen, straighten, and rub out lines that only cross.

Words used in this room
-----------------------
ink       how dark a pixel is against the paper around it: 0 paper, 1 full pen.
pen       the usual width of a drawn line, in pixels.
face      a patch of paper closed in by ink.
solid     what is left when the paper around a drawing is taken away.
view      one projection of the aeroplane: top, side or front.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


def darkness(grey: Floats) -> Floats:
    """Ink strength of every pixel, paper shading and noise taken out.

    Parameters
    ----------
    grey : ndarray, shape (rows, columns)
        Grey levels, 0 black to 255 white.

    Returns
    -------
    ndarray, shape (rows, columns)
        About 0 on paper and 1 on full ink. White lines on dark paper are turned round first.
    """
    from scipy import ndimage

    small = grey[::4, ::4]
    paper, low, high = np.median(small), np.percentile(small, 0.5), np.percentile(small, 99.5)
    grey = 255.0 - grey if high - paper > 1.3 * (paper - low) else grey
    # the paper: a bright percentile of each tile, smoothed, is blind to thin lines and follows shading
    rows, columns = grey.shape
    tile = max(24, min(rows, columns) // 24)
    tr, tc = -(-rows // tile), -(-columns // tile)
    padded = np.pad(grey, ((0, tr * tile - rows), (0, tc * tile - columns)), mode="edge")
    tiles = np.percentile(padded.reshape(tr, tile, tc, tile).swapaxes(1, 2).reshape(tr, tc, -1), 65, axis=2)
    top = ndimage.maximum_filter(ndimage.median_filter(tiles, 3), 3)  # a tile lost in solid ink borrows
    whole = np.percentile(tiles, 80)
    tiles = np.where(tiles < 0.6 * whole, np.maximum(top, 0.85 * whole), tiles)
    paper_map = ndimage.zoom(
        ndimage.gaussian_filter(tiles, 0.7), tile, order=1, mode="nearest", grid_mode=True
    )
    diff = paper_map[:rows, :columns] - grey
    noise = 1.4826 * float(np.median(np.abs(diff - np.median(diff))))
    diff = ndimage.gaussian_filter(diff, 0.45 + min(noise, 30.0) / 40.0) - float(np.median(diff))
    noise = 1.4826 * float(np.median(np.abs(diff)))
    strong = diff[diff > max(6.0 * noise, 12.0)]
    full = float(np.percentile(strong, 75)) if strong.size > 50 else 255.0
    full = max(full, 8.0 * noise, 20.0)
    return np.asarray(diff / full, dtype=np.float64)


def ink_mask(dark: Floats) -> Mask:
    """Pixels that belong to a pen stroke: strong ones, and weak ones joined to them; specks dropped."""
    from scipy import ndimage

    weak, strong = dark > 0.33, dark > 0.55
    label, n = ndimage.label(weak, np.ones((3, 3)))
    size = np.bincount(label.ravel(), minlength=n + 1)
    hit = np.bincount(label[strong], minlength=n + 1)
    keep = (size > 8) & (hit > 0)
    keep[0] = False
    return np.asarray(keep[label], dtype=np.bool_)


def grow(mask: Mask, r: int) -> Mask:
    """The mask spread by r pixels, in squares."""
    return _any_near(_any_near(mask, r, 0, beyond=False), r, 1, beyond=False) if r > 0 else mask


def shrink(mask: Mask, r: int) -> Mask:
    """The mask less r pixels at its rim, in squares; beyond the edge there is nothing."""
    return ~_any_near(_any_near(~mask, r, 0, beyond=True), r, 1, beyond=True) if r > 0 else mask


def _any_near(mask: Mask, r: int, axis: int, *, beyond: bool) -> Mask:
    """Whether any pixel within r along an axis is set. Windows are doubled, far quicker than a running maximum."""
    pad = [(0, 0), (0, 0)]
    pad[axis] = (r, r)
    out = np.pad(mask, pad, constant_values=beyond)
    wide, want = 1, 2 * r + 1
    while wide < want:
        step = min(wide, want - wide)
        out = out[:-step] | out[step:] if axis == 0 else out[:, :-step] | out[:, step:]
        wide += step
    return out


_PEN = 0.01  # of the sheet, a stroke's width at the most: what is wider is filled
_FILLED = 0.5  # share of the ink that is filled, from which most ridges may be the filling's
_DARKER = 2.0  # how many times as dark as the filling lines are that tell the pen then
_FEW = 0.1  # of the sheet's longer side, ridges no longer than that together tell no pen
_SOLID = 0.9  # share that is filled, from which what else is drawn tells none
_SOLID_PX = 3.0  # what passes for a stroke's width where nothing tells it


def pen_width(ink: Mask, dark: Floats) -> float:
    """Usual stroke width in pixels, from the ridge of the distance to paper.

    Filled figures have ridges of their own: there strokes are what is darker than the filling, and where nothing is, no
    width is told.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
    dark : ndarray, shape (rows, columns)
        Ink strength, from :func:`darkness`.
    """
    from scipy import ndimage

    if not ink.any():
        return 1.0
    label, _n = ndimage.label(ink, np.ones((3, 3)))
    spans = [max(s[0].stop - s[0].start, s[1].stop - s[1].start) for s in ndimage.find_objects(label)]
    large = np.r_[False, np.array(spans) > 0.06 * max(ink.shape)]
    ink = np.asarray(large[label]) if large.any() else ink  # lettering has its own pen
    rows = [slice(None)]
    if ink.size > 1_500_000:  # a third of it tells as well
        some = [slice(r, r + 96) for r in range(0, len(ink), 288) if ink[r : r + 96].any()]
        rows = some if len(some) > 3 else rows
    most = 0.5 * _PEN * max(ink.shape)
    ridges, filling = _ridges([ink[r] for r in rows], most)
    wide = _across(ridges)
    share = filling.mean()
    if share > _FILLED:
        strength = np.concatenate([dark[r][ink[r]] for r in rows])
        fill, line = float(np.median(strength[filling])), float(np.percentile(strength, 98))
        lines, _ = _ridges([ink[r] & (dark[r] > 0.5 * (fill + line)) for r in rows], most)
        told = line > _DARKER * fill and lines.size > _FEW * max(ink.shape)
        if told:
            return _across(lines)
        wide = min(wide, _SOLID_PX) if share < _SOLID else _SOLID_PX
    return wide if wide < _PEN * max(ink.shape) else _SOLID_PX


def _across(ridges: Floats) -> float:
    """How wide strokes are: one n pixels wide has its ridge at (n + 1) / 2 from the nearest paper pixel."""
    return float(max(1.0, 2.0 * np.median(ridges) - 1.0))


def _ridges(pieces: list[Mask], most: float) -> tuple[Floats, Mask]:
    """Distances to paper along the middles of strokes; and which pixels are of what is wider than twice `most`."""
    from scipy import ndimage

    ridges, filling = [np.zeros(0)], [np.zeros(0, dtype=bool)]
    for ink in pieces:
        distance = ndimage.distance_transform_edt(ink)
        ridges.append(distance[(distance == ndimage.maximum_filter(distance, 3)) & ink])
        core = distance > most
        near = ndimage.distance_transform_edt(~core) <= most if core.any() else core
        filling.append(near[ink])
    return np.concatenate(ridges), np.concatenate(filling)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A straight stroke from a to b (column, row), with its mean width, and which ends run free."""

    a: tuple[float, float]
    b: tuple[float, float]
    width_px: float
    free_a: bool
    free_b: bool

    @property
    def length_px(self) -> float:
        return float(np.hypot(self.b[0] - self.a[0], self.b[1] - self.a[1]))

    @property
    def angle_rad(self) -> float:
        return float(np.arctan2(self.b[1] - self.a[1], self.b[0] - self.a[0]))


_STEP = np.radians(0.5)


def _votes(points: Floats, reach: int) -> npt.NDArray[np.int64]:
    """Count points on every line (angle of the normal, distance / 2 px)."""
    angles = np.arange(0.0, np.pi, _STEP)
    rows = np.empty((angles.size, reach), dtype=np.int64)
    for k, t in enumerate(angles):
        rho = (points[:, 0] * np.cos(t) + points[:, 1] * np.sin(t)) / 2.0 + reach / 2.0
        rows[k] = np.bincount(np.clip(rho.astype(np.int64), 0, reach - 1), minlength=reach)[:reach]
    return rows


def straight_strokes(ink: Mask, *, pen_px: float, shortest_px: float) -> tuple[Stroke, ...]:
    """Straight strokes longer than `shortest_px`, found by voting and a local fit, longest votes first.

    An end runs free when the last few pixels of the stroke have no other ink beside or before them: a
    dimension's extension line, a centre line or a scratch ends so; the edge of a part never does.
    """
    from scipy import ndimage

    side = int(2.2 * pen_px) + 3
    thick = ndimage.minimum_filter(ink.view(np.uint8), size=side, mode="constant")
    thick = ndimage.maximum_filter(thick, size=side + 4, origin=-1 if side % 2 == 0 else 0, mode="constant")
    thin = ink & (thick == 0)
    rr, cc = np.nonzero(thin)
    if rr.size < 50:
        return ()
    rng = np.random.default_rng(0)
    pts = np.c_[cc, rr].astype(np.float64)
    origin = np.array([ink.shape[1], ink.shape[0]]) / 2.0
    found: list[Stroke] = []
    alive = np.ones(len(pts), dtype=bool)
    reach = int(np.hypot(*ink.shape)) // 2 + 8
    near = max(1.6, 0.5 * pen_px + 1.2)
    for _ in range(4):
        left = np.nonzero(alive)[0]
        live = pts[left]
        if len(live) < shortest_px * 0.7:
            break
        column, row = live[:, 0].astype(np.float32), live[:, 1].astype(np.float32)
        pick = live if len(live) <= 30_000 else live[rng.permutation(len(live))[:30_000]]
        share = len(live) / len(pick)
        votes = _votes(pick - origin, reach) * share
        peak = (votes == ndimage.maximum_filter(votes, (7, 5))) & (
            votes > 0.6 * shortest_px * min(pen_px, 2.0)
        )
        where = np.argwhere(peak)
        where = where[np.argsort(-votes[peak])][:60]
        before = int(alive.sum())
        for k, r in where:
            t = k * _STEP
            n = np.array([np.cos(t), np.sin(t)])
            base = origin + n * ((r + 0.5 - reach / 2.0) * 2.0)
            off = column * np.float32(n[0]) + row * np.float32(n[1]) - np.float32(base @ n)
            idx = left[np.abs(off) < near + 2.0]
            idx = idx[alive[idx]]
            _take_runs(ink, pts, alive, idx, base, n, near, pen_px, shortest_px, found)
        if int(alive.sum()) == before:
            break
    return tuple(found)


def _take_runs(
    ink: Mask,
    pts: Floats,
    alive: npt.NDArray[Any],
    idx: npt.NDArray[Any],
    base: Floats,
    n: Floats,
    near: float,
    pen_px: float,
    shortest_px: float,
    found: list[Stroke],
) -> None:
    """Split the points near a line into runs without long breaks, refit each, keep the long dense ones."""
    for _ in range(1):
        if idx.size < 0.6 * shortest_px:
            return
        u = np.array([-n[1], n[0]])
        s = (pts[idx] - base) @ u
        order = np.argsort(s)
        s, ids = s[order], idx[order]
        breaks = np.nonzero(np.diff(s) > 9.0 + pen_px)[0]
        for part in np.split(np.arange(s.size), breaks + 1):
            if part.size < 0.6 * shortest_px or s[part[-1]] - s[part[0]] < shortest_px:
                continue
            q = pts[ids[part]]
            mid, v, m = q.mean(0), u, n
            for _fit in range(3):
                d = (q - mid) @ m
                close = np.abs(d) < near
                if close.sum() < 0.5 * shortest_px:
                    break
                mid = q[close].mean(0)
                w = q[close] - mid
                _, _, vt = np.linalg.svd(w.T @ w)
                v = vt[0] if vt[0] @ u > 0 else -vt[0]
                m = np.array([-v[1], v[0]])
            near_ids = ids[part][np.abs((q - mid) @ m) < near]
            if near_ids.size < 0.5 * shortest_px:
                continue
            along = np.sort((pts[near_ids] - mid) @ v)
            lo, hi = float(along[0]), float(along[-1])
            cover = np.unique(np.round(along)).size / max(hi - lo + 1, 1.0)
            if hi - lo < shortest_px or cover < 0.45:
                continue
            alive[near_ids] = False
            lo, hi = _walk(ink, mid, v, lo, -1.0), _walk(ink, mid, v, hi, 1.0)
            a, b = mid + v * lo, mid + v * hi
            found.append(
                Stroke(
                    a=(float(a[0]), float(a[1])),
                    b=(float(b[0]), float(b[1])),
                    width_px=float(_width(ink, mid, v, lo, hi)),
                    free_a=_free(ink, a, v, pen_px),
                    free_b=_free(ink, b, -v, pen_px),
                )
            )


def at_points(ink: Mask, p: Floats) -> npt.NDArray[np.bool_]:
    """Ink at points (column, row), shape (..., 2); beyond the sheet as at its edge."""
    c = np.clip(np.round(p[..., 0]).astype(int), 0, ink.shape[1] - 1)
    r = np.clip(np.round(p[..., 1]).astype(int), 0, ink.shape[0] - 1)
    return np.asarray(ink[r, c])


def _walk(ink: Mask, mid: Floats, v: Floats, s: float, sign: float) -> float:
    """Move an end outward while there is ink on the line itself."""
    for _ in range(60):
        if not at_points(ink, mid + v * (s + sign)):
            return s
        s += sign
    return s


def _width(ink: Mask, mid: Floats, v: Floats, lo: float, hi: float) -> float:
    """Median width across the stroke, at most 24. [px]"""
    s = np.linspace(lo, hi, 60)[5:-5]
    m = np.array([-v[1], v[0]])
    k = np.arange(-12, 12.5, 0.5)
    grid = at_points(ink, mid + s[:, None, None] * v + k[None, :, None] * m)
    centre = 24
    up, down = (
        np.where(half.all(1), half.shape[1], np.argmin(half, axis=1))
        for half in (grid[:, centre:], grid[:, centre::-1])
    )
    on = grid[:, centre]
    return float(np.median((up + down - 1)[on]) * 0.5) if on.sum() > 3 else 1.0


def _free(ink: Mask, end: Floats, inward: Floats, pen_px: float) -> bool:
    """No other ink beside the last few pixels of a stroke nor before its end; beyond the sheet's rim there is none."""
    m = np.array([-inward[1], inward[0]])
    deep = np.arange(0.0, 0.5 * pen_px + 1.5, 1.0)
    side = pen_px / 2.0 + 1.7 + np.arange(0.0, 4.0)
    for sign in (1.0, -1.0):
        if _on_sheet(ink, end + deep[:, None, None] * inward + sign * side[None, :, None] * m).any():
            return False
    ahead = np.arange(2.0, 9.0 + pen_px)
    fan = np.linspace(-1.4, 1.4, 11)
    beyond = end - ahead[:, None, None] * (inward * np.cos(fan)[:, None] + m * np.sin(fan)[:, None])[None]
    return not bool(_on_sheet(ink, beyond).any())


def _on_sheet(ink: Mask, p: Floats) -> npt.NDArray[np.bool_]:
    """Ink at points (column, row), shape (..., 2); none beyond the sheet."""
    rows, columns = ink.shape
    within = (p[..., 0] > -0.5) & (p[..., 0] < columns - 0.5) & (p[..., 1] > -0.5) & (p[..., 1] < rows - 0.5)
    return np.asarray(within & at_points(ink, p))


def freed(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> tuple[Stroke, ...]:
    """The strokes still in the ink, with their ends as they are now that other strokes have been rubbed out."""
    out = []
    for k in strokes:
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        s = np.linspace(0.05, 0.95, 40)[:, None]
        if at_points(ink, a * (1.0 - s) + b * s).mean() > 0.5:
            out.append(replace(k, free_a=_free(ink, a, v, pen_px), free_b=_free(ink, b, -v, pen_px)))
    return tuple(out)


def rub_out(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> Mask:
    """Take away strokes with a free end, keeping the ink of whatever they cross."""
    out = ink.copy()
    for k in strokes:
        if not (k.free_a or k.free_b):
            continue
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        m = np.array([-v[1], v[0]])
        s = np.arange(-1.0, k.length_px + 1.5, 0.5)
        half = min(k.width_px, 1.6 * pen_px) / 2.0 + 0.8
        across = np.arange(-half, half + 0.25, 0.5)
        line = a + s[:, None] * v
        left, right = at_points(ink, line + (half + 1.2) * m), at_points(ink, line - (half + 1.2) * m)
        p = (
            line[~(left | right | _grazed(left, right, pen=round(2 * pen_px)))][:, None, :]
            + across[None, :, None] * m
        )
        c = np.clip(np.round(p[..., 0]).astype(int), 0, ink.shape[1] - 1)
        r = np.clip(np.round(p[..., 1]).astype(int), 0, ink.shape[0] - 1)
        out[r, c] = False
    return out


def _grazed(left: Mask, right: Mask, *, pen: int) -> Mask:
    """Where another line runs together with a stroke: it came from one side and leaves on the other.

    At a small angle both strokes are one for a long stretch with no ink beside it, which would be rubbed out. Such a line
    lies on one side alone for longer than it is wide; one that crosses shows on both at nearly the same place.

    left, right : whether there is ink beside the stroke, every half pixel along it; pen : pen's width in half pixels.
    """
    alone_on = [_lasting(a & ~b, pen) for a, b in ((left, right), (right, left))]
    together = np.zeros(left.size, dtype=bool)
    alone = np.nonzero(~(left | right))[0]
    if not alone.size:
        return together
    for run in np.split(alone, np.nonzero(np.diff(alone) > 1)[0] + 1):
        i, j = int(run[0]) - 1, int(run[-1]) + 1
        if i < 0 or j >= left.size or run.size > 40 * pen + 40:
            continue
        together[run] = any(a[i] and b[j] for a, b in (alone_on, alone_on[::-1]))
    return together


def _lasting(on: Mask, length: int) -> Mask:
    """Where a stretch is that is on for at least so many samples."""
    from scipy import ndimage

    return np.asarray(ndimage.binary_opening(on, np.ones(max(1, length), dtype=bool)))


def skew_rad(strokes: tuple[Stroke, ...]) -> float:
    """How far the sheet is turned, from strokes that pair up at right angles, within 20 degrees. [rad]

    Edges of tapered wings come in mirrored pairs without a partner at right angles, so they lose against
    frames, dimension and centre lines, which have one.
    """
    if not strokes:
        return 0.0
    grid = np.radians(np.arange(-20.0, 20.01, 0.05))
    ang = np.array([k.angle_rad for k in strokes])
    weight = np.array([k.length_px * (1.5 if k.free_a or k.free_b else 1.0) for k in strokes])

    def mass(offset: float) -> Floats:
        d = (ang[None, :] - grid[:, None] - offset + np.pi / 2) % np.pi - np.pi / 2
        return np.asarray((weight * np.exp(-0.5 * (d / np.radians(0.12)) ** 2)).sum(1))

    flat, upright = mass(0.0), mass(np.pi / 2)
    score = np.sqrt(flat * upright) + 0.15 * (flat + upright)
    score = score * (1.0 - 0.2 * np.abs(grid) / grid[-1])
    return float(grid[int(score.argmax())]) if score.max() > 0 else 0.0
