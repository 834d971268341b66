"""A propeller seen edge on: a line across a side view's end that bounds no part of the aeroplane.

Its blade and a wheel below it may close in a face of paper with the body, once breaks as wide are closed. Such a face is
told by the line's other half, as long, on the other side of the body; a fin's edge has none.
"""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Mask, grow

_STRAIGHT = 0.4  # of a face's height, the least straight upright edge a blade gives it
_INKED = 0.7  # share of an edge and of its counterpart that is inked
_NEAR = 0.04  # of the view's length, how far from the edge the body's middle is looked for


def blade_bounds(face: Mask, view: Mask, ink: Mask) -> bool:
    """Whether a face beside a side view is bounded by one half of a line that stands out as far on the other side of the view.

    Parameters
    ----------
    face, view, ink : ndarray, shape (rows, columns)
        The face, the silhouette without it, and pen strokes.
    """
    if np.ptp(np.nonzero(view.any(1))[0]) > np.ptp(np.nonzero(view.any(0))[0]):  # the view stands on end
        face, view, ink = face.T, view.T, ink.T
    columns = np.nonzero(face.any(0))[0]
    inked = grow(ink, 1)
    along = np.nonzero(view.any(0))[0]
    reach = max(2, round(_NEAR * np.ptp(along)))
    for end, inward in ((columns[0], 1), (columns[-1], -1)):
        strip = face[:, min(end, end + 2 * inward) : max(end, end + 2 * inward) + 1]
        rows = np.nonzero(strip.any(1) & ~view[:, end])[0]
        if rows.size < _STRAIGHT * np.ptp(np.nonzero(face.any(1))[0]) or inked[rows, end].mean() < _INKED:
            continue
        at = int(along[np.abs(along - end).argmin()])
        beside = view[:, max(at - reach, 0) : at + reach + 1].any(1)
        middle = 0.5 * float(np.nonzero(beside)[0][0] + np.nonzero(beside)[0][-1])
        other = np.rint(2.0 * middle - rows).astype(int)
        other = other[(other >= 0) & (other < ink.shape[0])]
        if other.size > 0.8 * rows.size and inked[other, end].mean() > _INKED:
            return True
    return False
