"""From grey levels to ink: flatten the paper, tell what is drawn from what is not, find the pen.

Words used in this room
-----------------------
ink       how dark a pixel is against the paper around it: 0 paper, 1 full pen.
pen       the usual width of a drawn line, in pixels.
face      a patch of paper closed in by ink.
solid     what is left when the paper around a drawing is taken away.
view      one projection of the aeroplane: top, side or front.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


_SPECK = 8  # pixels of a speck, at most


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
    """Pixels that belong to a pen stroke: strong ones, and weak ones joined to them; specks dropped.

    A pen of one hard pixel comes in short dashes where its line hardly slants: such a dash has ink before it and behind it.
    """
    from scipy import ndimage

    weak, strong = dark > 0.33, dark > 0.55
    label, n = ndimage.label(weak, np.ones((3, 3)))
    of_weak = label[weak]  # few pixels of a sheet are ink
    size = np.bincount(of_weak, minlength=n + 1)
    hit = np.bincount(label[strong], minlength=n + 1)
    inked = hit > 0
    kept = inked & ((size > _SPECK) | _between(label, inked, size))
    out = np.zeros(dark.shape, dtype=bool)
    out[weak] = kept[of_weak]
    return out


def _between(label: npt.NDArray[Any], inked: Mask, size: npt.NDArray[Any]) -> Mask:
    """Which specks have two other pieces of ink next to them, at most a pixel of paper away; shape (n + 1,).

    label : ndarray, shape (rows, columns), n pieces numbered from 1.
    inked, size : shape (n + 1,), whether a piece is dark somewhere, and its pixels.
    """
    row, column = np.nonzero((inked & (size <= _SPECK))[label])
    mine = label[row, column]
    wide = np.pad(label, 2)
    pairs = [np.c_[mine, wide[row + i, column + j]] for i in range(5) for j in range(5)]
    met = np.unique(np.concatenate(pairs), axis=0)
    met = met[inked[met[:, 1]] & (met[:, 0] != met[:, 1])]
    return np.asarray(np.bincount(met[:, 0], minlength=size.size) > 1)


def grow(mask: Mask, r: int) -> Mask:
    """The mask spread by r pixels, in squares."""
    return spread(spread(mask, (r, r), 0), (r, r), 1) if r > 0 else mask


def shrink(mask: Mask, r: int) -> Mask:
    """The mask less r pixels at its rim, in squares; beyond the edge there is nothing."""
    if r <= 0:
        return mask
    return ~spread(spread(~mask, (r, r), 0, beyond=True), (r, r), 1, beyond=True)


def spread(mask: Mask, by: tuple[int, int], axis: int, *, beyond: bool = False) -> Mask:
    """The mask spread along an axis, so many pixels back and so many on; windows are doubled, far quicker than a running maximum.

    beyond : what there is beyond the mask's edge.
    """
    back, on = by
    rows, columns = mask.shape
    out: Mask  # with what lies up to `on` before the first pixel and `back` behind the last, for that is spread on to them
    if axis == 0:
        out = np.full((rows + back + on, columns), beyond)
        out[on : on + rows] = mask
    else:
        out = np.full((rows, columns + back + on), beyond)
        out[:, on : on + columns] = mask
    wide, want = 1, back + on + 1
    while wide < want:
        step = min(wide, want - wide)
        out = out[:-step] | out[step:] if axis == 0 else out[:, :-step] | out[:, step:]
        wide += step
    return out


def pooled(ink: Mask, q: int) -> Mask:
    """Ink q times as coarse: where there is any."""
    if q == 1:
        return ink
    a = np.pad(ink, ((0, -ink.shape[0] % q), (0, -ink.shape[1] % q)))
    # one way after the other, far quicker than both at once
    rows: Mask = np.asarray(a.reshape(a.shape[0] // q, q, a.shape[1]).any(1))
    return np.asarray(np.logical_or.reduce([rows[:, k::q] for k in range(q)]))


def unpooled(coarse: Mask, q: int, shape: tuple[int, ...]) -> Mask:
    """A mask of a sheet pooled by q, as fine as the sheet, of its (rows, columns) `shape`."""
    return np.asarray(np.repeat(np.repeat(coarse, q, 0), q, 1)[: shape[0], : shape[1]])


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
    if large.any():  # lettering has its own pen
        inked, ink = ink, np.zeros_like(ink)
        ink[inked] = large[label[inked]]
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


def at_points(ink: Mask, p: Floats) -> npt.NDArray[np.bool_]:
    """Ink at points (column, row), shape (..., 2); beyond the sheet as at its edge."""
    c = np.rint(p[..., 0]).astype(int).clip(0, ink.shape[1] - 1)
    r = np.rint(p[..., 1]).astype(int).clip(0, ink.shape[0] - 1)
    return np.asarray(ink[r, c])
