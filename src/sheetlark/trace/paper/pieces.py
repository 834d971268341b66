"""Views drawn in two pieces that touch nowhere: a biplane's upper wing without struts."""

from __future__ import annotations

import itertools

import numpy as np

from sheetlark.trace.paper.regions import Solid, on_sheet
from sheetlark.trace.paper.views import Candidate, mirror_agreement

_ASIDE = 0.015  # of the wider piece's width, how far the other's middle lies from its own, at most
_NARROWEST = 0.4  # of it, the other's width
_APART = 0.35  # of it, the paper between them
_HIGHEST = 0.6  # of it, both together
_FLAT = 3.0  # a section's length in its height, at least


def fronts_in_two(pool: list[Candidate]) -> list[Candidate]:
    """Front views of two wings one above the other, each with what hangs on to it, as one silhouette each."""
    wide = [c for c in pool if c.height < _APART * c.width and c.upright > 0.85]
    out = []
    for a, b in itertools.combinations(wide, 2):
        (x0, y0, x1, y1), (u0, v0, u1, v1) = a.solid.box, b.solid.box
        most = max(a.width, b.width)
        level = abs(0.5 * (x0 + x1) - 0.5 * (u0 + u1)) < _ASIDE * most + 1.0
        alike = min(a.width, b.width) > _NARROWEST * most
        between = max(v0 - y1, y0 - v1)
        if level and alike and 0 < between < _APART * most and max(y1, v1) - min(y0, v0) < _HIGHEST * most:
            out.append(in_one(a, b))
    return out


def with_section(side: Candidate, pool: list[Candidate], height: int) -> Candidate:
    """A level side view with the section of a wing that stands clear of its body, where both are as high as that."""
    x0, y0, x1, y1 = side.solid.box
    for c in pool:
        u0, v0, u1, v1 = c.solid.box
        clear = v1 <= y0 or v0 >= y1
        if clear and x0 <= u0 and u1 <= x1 and c.width > _FLAT * c.height and c.level > 0.8:
            high = max(y1, v1) - min(y0, v0)
            if abs(high / height - 1.0) < 0.05:
                return in_one(side, c)
    return side


def in_one(a: Candidate, b: Candidate) -> Candidate:
    """Two silhouettes as one."""
    s, t = a.solid, b.solid

    def around(p: tuple[int, int, int, int], q: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
        return min(p[0], q[0]), min(p[1], q[1]), max(p[2], q[2]), max(p[3], q[3])

    at = (min(s.at[0], t.at[0]), min(s.at[1], t.at[1]))
    far = np.max([np.add(k.at, k.mask.shape) for k in (s, t)], axis=0)
    shape = (int(far[0]) - at[0], int(far[1]) - at[1])
    mask = on_sheet(s, shape, at) | on_sheet(t, shape, at)
    upright, level = mirror_agreement(mask)
    whole = Solid(
        mask=mask,
        at=at,
        box=around(s.box, t.box),
        reach=around(s.reach, t.reach),
        gap_px=max(s.gap_px, t.gap_px),
        loose_px=s.loose_px + t.loose_px,
        peeled=s.peeled,
    )
    return Candidate(solid=whole, upright=upright, level=level)
