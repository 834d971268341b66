"""How a silhouette is mirrored: how well, about which line, and at which turn of the sheet."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask


def mirror_agreement(mask: Mask) -> tuple[float, float]:
    """Overlap over union of a mask with its mirror image, about the best upright and the best level axis."""
    step = max(1, max(mask.shape) // 220)
    m = mask[: mask.shape[0] // step * step, : mask.shape[1] // step * step]
    m = m.reshape(-1, step, m.shape[1]).sum(1).reshape(-1, m.shape[1] // step, step).sum(2) > 0.5 * step**2
    out = []
    for a in (m, m.T):
        n, area = a.shape[1], np.count_nonzero(a)
        if not area:
            out.append(0.0)
            continue
        centre = float((a.sum(0) * np.arange(n)).sum() / area)
        best = 0.0
        for c in np.arange(2 * centre - 0.06 * n - 1, 2 * centre + 0.06 * n + 1.5):
            k = round(c)  # column j goes to k - j
            lo, hi = max(0, k - n + 1), min(n - 1, k)
            if hi <= lo:
                continue
            b = a[:, lo : hi + 1]
            both = np.count_nonzero(b & b[:, ::-1])
            best = max(best, both / (2 * area - both))
        out.append(best)
    return out[0], out[1]


def mirror_turn(masks: tuple[Mask, ...]) -> tuple[float, float]:
    """The turn at which the silhouettes are mirrored best about upright or level lines, within 20 degrees.

    Returns
    -------
    angle_rad : float
        0 where no other angle is clearly better.
    agreement : float
        Share of the most telling silhouette that falls on itself when mirrored, 0..1.
    """
    grid = np.radians(np.arange(-20.0, 20.01, 0.25))
    total, telling = np.zeros(grid.size), np.zeros(grid.size)
    rng = np.random.default_rng(2)
    largest = max((int(m.sum()) for m in masks), default=0)
    for mask in masks:
        area = int(np.count_nonzero(mask))
        if area < 0.04 * largest or min(mask.shape) < 8:
            continue
        rr, cc = np.nonzero(mask)
        pick = rng.permutation(rr.size)[:1500]
        centre = np.array([cc.mean(), rr.mean()])
        p = np.c_[cc[pick], rr[pick]] - centre
        size = float(max(mask.shape))
        best = np.zeros(grid.size)
        mirrored = _Mirrored(mask, p, centre)
        for turn in (0.0, np.pi / 2):
            a = grid + turn
            n = np.c_[np.cos(a), np.sin(a)]
            d = np.ascontiguousarray((p @ n.T).T)  # (angles, points)
            for shift in np.array([-0.012, -0.006, 0.0, 0.006, 0.012]) * size:
                best = np.maximum(best, mirrored.hits(d - shift, n) / len(p))
        # thin tips weigh most: compare what is missed
        total += np.sqrt(area) * np.maximum(best - 0.7, 0.0)
        telling = np.maximum(telling, best)
    if not total.max() > 0.0:
        return 0.0, 0.0
    level = int(np.abs(grid).argmin())
    score = total * (1.0 - 0.1 * np.abs(grid) / grid[-1])
    k = int(score.argmax())
    if score[k] < 1.02 * score[level]:
        k = level
    near = np.nonzero(total >= 0.995 * total[k])[0]
    near = near[np.abs(near - k) <= 4]
    angle = float(np.average(grid[near], weights=total[near] - 0.99 * total[k])) if k != level else 0.0
    return angle, float(telling[k])


_AT_ONCE = 20_000  # mirrored points: so many lie near at hand for the processor


class _Mirrored:
    """A silhouette's points mirrored about lines, and how many of them fall on the silhouette again.

    mask : ndarray, shape (rows, columns)
    points : ndarray, shape (n, 2), columns and rows counted from `origin`.
    """

    def __init__(self, mask: Mask, points: Floats, origin: Floats) -> None:
        # a rim of nothing round it catches all that falls beside it
        self._on = np.pad(mask, 1)
        self._points, self._origin = np.ascontiguousarray(points.T), origin

    def hits(self, off: Floats, normals: Floats) -> npt.NDArray[np.int64]:
        """How many points fall on the silhouette, mirrored about lines; shape (m,).

        off : ndarray, shape (m, n), how far each point lies from each line, the way its normal points.
        normals : ndarray, shape (m, 2).
        """
        rows, columns = self._on.shape
        on, found = self._on.ravel(), []
        step = max(1, _AT_ONCE // off.shape[1])
        for some in range(0, len(off), step):
            twice, normal = 2.0 * off[some : some + step], normals[some : some + step]
            column, row = (self._points[k] - twice * normal[:, k, None] + self._origin[k] for k in (0, 1))
            for at, most in ((column, columns - 2.0), (row, rows - 2.0)):
                np.rint(at, out=at)
                np.clip(at, -1.0, most, out=at)
            place = ((row + 1.0) * columns + (column + 1.0)).astype(np.intp)
            found += [np.count_nonzero(line) for line in on[place]]
        return np.array(found)


def symmetry_axis(mask: Mask, axis: str) -> tuple[float, Floats]:
    """Fine angle (from the picture's own axis, within 4 degrees) and a point of the mirror line.

    Returns
    -------
    angle_rad : float
        Turn of the mirror line from upright (or level), counted from +column to +row.
    point : ndarray, shape (2,)
        A point (column, row) on it.
    """
    rr, cc = np.nonzero(mask)
    rng = np.random.default_rng(1)
    pick = rng.permutation(rr.size)[:6000]
    centre = np.array([cc.mean(), rr.mean()])
    p = np.c_[cc[pick], rr[pick]].astype(np.float64)
    mirrored = _Mirrored(mask, p, np.zeros(2))
    along = np.array([0.0, 1.0]) if axis == "upright" else np.array([1.0, 0.0])

    from_centre = p - centre

    def agreement(angle: float, shifts: list[float]) -> list[float]:
        c, s = np.cos(angle), np.sin(angle)
        v = np.array([along[0] * c - along[1] * s, along[0] * s + along[1] * c])
        n = np.array([-v[1], v[0]])
        off = from_centre @ n - np.array(shifts)[:, None]
        return [float(h) for h in mirrored.hits(off, np.tile(n, (len(shifts), 1)))]

    size = float(max(mask.shape))
    angle, shift = 0.0, 0.0
    for da, ds in (
        (np.radians(0.5), 0.006 * size),
        (np.radians(0.12), 0.0015 * size),
        (np.radians(0.03), 0.0005 * size),
    ):
        shifts = [shift + j * ds for j in range(-4, 5)]
        trials = [
            (held, -abs(i) - abs(j), angle + i * da, moved)
            for i in range(-6, 7)
            for j, moved, held in zip(range(-4, 5), shifts, agreement(angle + i * da, shifts), strict=True)
        ]
        # the top is flat: take the mean of the best few
        trials.sort(reverse=True)
        good = [t for t in trials if t[0] >= trials[0][0] * 0.999]
        angle = float(np.mean([t[2] for t in good]))
        shift = float(np.mean([t[3] for t in good]))
    c, s = np.cos(angle), np.sin(angle)
    v = np.array([along[0] * c - along[1] * s, along[0] * s + along[1] * c])
    return angle, centre + shift * np.array([-v[1], v[0]])
