"""Rows of lettering, told from pieces of an outline: small marks of one height, close together on one line.

Lettering beside a figure would be joined to it where wide breaks are closed.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Mask, shrink

_TALLEST = 0.035  # of the picture's longer side
_RUN_TOGETHER = 3  # letters; a mark as wide as more of them is a word, or a piece of an outline
_MOST = 4000  # marks; a sheet with more of them is all dirt


def lettering(ink: Mask, *, pen_px: float) -> Mask:
    """The ink of level and upright rows of lettering; a row is three letters or more that touch nothing else.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes of a straightened sheet.
    pen_px : float
        Usual stroke width.

    Returns
    -------
    ndarray, shape (rows, columns)
    """
    from scipy import ndimage

    label, n = ndimage.label(ink, np.ones((3, 3)))
    places = ndimage.find_objects(label)
    box = np.array([(s[0].start, s[1].start, s[0].stop, s[1].stop) for s in places]).reshape(n, 4)
    high, wide = (box[:, 2] - box[:, 0]), (box[:, 3] - box[:, 1])
    own = np.minimum(pen_px, _strokes(label, n))[1:]  # lettering is often drawn with a finer pen
    most = _TALLEST * max(ink.shape)
    written = np.zeros(n + 1, dtype=bool)
    for tall, long_, turned in ((high, wide, False), (wide, high, True)):
        mark = np.nonzero(
            (tall >= np.maximum(2.5 * own, 1.2 * pen_px)) & (tall <= most) & (long_ <= 8.0 * tall)
        )[0]
        if not 0 < mark.size <= _MOST:
            continue
        row = _rows(box[mark][:, [1, 0, 3, 2]] if turned else box[mark])
        for k in range(int(row.max()) + 1):
            members = mark[row == k]
            letters = np.maximum(1, np.rint(long_[members] / (0.75 * tall[members])))  # some run together
            if letters.sum() < 3:
                continue
            shapes = [(label[places[i]] == i + 1).T if turned else label[places[i]] == i + 1 for i in members]
            if any(_crossed(m) < n for m, n in zip(shapes, letters, strict=True) if n > _RUN_TOGETHER):
                continue  # a piece of an outline, long and with little across it
            if members.size == 1:
                written[members + 1] |= _crossed(shapes[0]) > 1.4 * letters[0]
                continue
            bodied = np.array(
                [
                    _bodied(m, float(t), float(p))
                    for m, t, p in zip(shapes, tall[members], own[members], strict=True)
                ]
            )
            if letters[bodied].sum() > max(1.0, 0.4 * letters.sum()) and (members.size > 2 or bodied.all()):
                written[members + 1] = True
    return np.asarray(written[label]) if written.any() else np.zeros(ink.shape, dtype=bool)


def _strokes(label: npt.NDArray[Any], n: int) -> npt.NDArray[np.float64]:
    """Stroke width of n labelled marks, from their area and their rim; shape (n + 1,). [px]"""
    inner = shrink(label > 0, 1)
    area = np.bincount(label[label > 0], minlength=n + 1)
    rim = area - np.bincount(label[inner], minlength=n + 1)
    return np.asarray(2.0 * area / np.maximum(rim, 1))


def _rows(box: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Which row each of some marks is in: neighbours in a row are as high, level, and no further apart than words are.

    box : shape (n, 4), row, column, row, column.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    order = np.argsort(box[:, 1])
    top, left, bottom, right = box[order].T
    high = bottom - top
    pairs: list[tuple[int, int]] = []
    for i in range(len(box)):  # only marks not far behind begin near enough
        j = np.arange(i + 1, int(np.searchsorted(left, right[i] + 2.0 * high[i])))
        taller, lower = np.maximum(high[i], high[j]), np.minimum(high[i], high[j])
        level = np.minimum(bottom[i], bottom[j]) - np.maximum(top[i], top[j]) > 0.6 * lower
        near = left[j] - right[i] < 1.2 * taller
        pairs += [(i, int(k)) for k in j[level & near & (lower > 0.65 * taller)]]
    a, b = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    joined = coo_array((np.ones(len(pairs)), (a, b)), shape=(len(box), len(box)))
    out = np.empty(len(box), dtype=np.int64)
    out[order] = connected_components(joined, directed=False)[1]
    return out


def _bodied(mark: Mask, tall: float, pen_px: float) -> bool:
    """Whether a mark spreads both ways, as most letters and figures do; a dash or a hatching stroke does not."""
    spread = np.linalg.eigvalsh(np.cov(np.array(np.nonzero(mark), dtype=np.float64)))
    return bool(np.sqrt(max(spread[0], 0.0)) > max(0.13 * tall, 0.45 * pen_px))


def _crossed(word: Mask) -> float:
    """How many strokes a line along the middle of a word whose letters run together crosses, a quarter of them at least.

    To a single line a slanted stroke with ragged rims looks like many.
    """
    middle = word[word.shape[0] // 4 : -(-3 * word.shape[0] // 4)]
    return float(np.quantile((np.diff(middle.astype(np.int8), axis=1, prepend=0) == 1).sum(1), 0.75))
