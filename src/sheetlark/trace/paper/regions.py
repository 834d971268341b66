"""From ink to solids: flood the paper from the border, close gaps, and peel off what dimension lines enclose."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Mask, grow, shrink

_ARROW = 0.015  # of a dimension's length, half an arrow head's width
_SQUARE = 0.97  # of its greatest width, how wide what a dimension line closes in is next to that
_MIRRORED = 3  # pixels by which ink may miss its mirror image
_ENDS = 0.1  # share of a figure's extent within which a dimension line along it begins and ends


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """One view's silhouette, cut out of the sheet.

    mask : shape (rows, columns), true inside the outline or on its pen stroke.
    at : (row, column) of the mask's corner on the sheet.
    box : (column, row, column, row) of the silhouette on the sheet.
    odd_px : of `loose_px`, what has no mirror image on the figure's other side, about an upright and a level middle line;
        None where that was not looked at.
    peeled : of the whole sheet's shape, what only a ruled box or a dimension line closed in; None where that is nothing.
    """

    mask: Mask
    at: tuple[int, int]
    box: tuple[int, int, int, int]
    reach: tuple[int, int, int, int]  # box of all ink joined to it
    gap_px: int = 0  # half the widest break closed to get it
    loose_px: float = 0.0  # length of the ink joined to it that lies outside it
    odd_px: tuple[float, float] | None = None
    peeled: Mask | None = None
    area: int = field(init=False)  # pixels of the mask, which is asked for often

    def __post_init__(self) -> None:
        object.__setattr__(self, "area", int(np.count_nonzero(self.mask)))


def at_rim(label: npt.NDArray[Any], n: int) -> npt.NDArray[np.bool_]:
    """Which of n labelled pieces reach the rim of the sheet, shape (n + 1,); the first, for no piece, is False."""
    reach = np.zeros(n + 1, dtype=bool)
    for edge in (label[0], label[-1], label[:, 0], label[:, -1]):
        reach[edge] = True
    reach[0] = False
    return reach


def enclosed(ink: Mask, gap: int) -> Mask:
    """The ink, and the paper it closes in where breaks up to twice `gap` wide are closed."""
    from scipy import ndimage

    paper, n = ndimage.label(~grow(ink, gap))
    return np.asarray(~grow(at_rim(paper, n)[paper], gap))


def on_sheet(s: Solid, shape: tuple[int, ...], corner: tuple[int, int]) -> Mask:
    """A solid's mask on a piece of the sheet, of that shape and with its corner at (row, column)."""
    out = np.zeros(shape, dtype=bool)
    r0, c0 = s.at[0] - corner[0], s.at[1] - corner[1]
    top, left = max(r0, 0), max(c0, 0)
    r1, c1 = min(shape[0], r0 + s.mask.shape[0]), min(shape[1], c0 + s.mask.shape[1])
    if r1 > top and c1 > left:
        out[top:r1, left:c1] = s.mask[top - r0 : r1 - r0, left - c0 : c1 - c0]
    return out


def _open_square(mask: Mask, r: float) -> Mask:
    """Opening by a square: what a square 2 r + 1 wide fits into."""
    k = round(r)
    return grow(shrink(mask, k), k)


def solids(
    ink: Mask, *, gap_px: int, pen_px: float, ends: tuple[int, int] = (0, 1)
) -> tuple[tuple[Solid, ...], bool]:
    """Silhouettes on the sheet, largest first, and whether a face behind a dimension line was peeled off.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes, stray lines already rubbed out.
    gap_px : int
        Breaks up to twice this in an outline are closed.
    pen_px : float
        Usual stroke width.
    ends : tuple of int
        Which side of a figure is tried first when looking for a dimension line: 0 upper or left, 1 lower or right.
    """
    from scipy import ndimage

    pad = gap_px + 2
    ink = np.pad(ink, pad)
    label, n = ndimage.label(~grow(ink, gap_px))
    outside = at_rim(label, n)
    boxes = ndimage.find_objects(label)
    sheet = ink.size
    for k, s in enumerate(boxes, start=1):  # the paper inside a frame
        if s and (s[0].stop - s[0].start) * (s[1].stop - s[1].start) > 0.5 * sheet:
            outside[k] = True
    radius = gap_px + 0.5 * pen_px + 1.5
    peeled = False
    closed = inside = ~grow(outside[label], gap_px)
    core = _open_square(inside, radius)
    for _ in range(12):
        boxes_off, lines_off = _peel(
            ink, label, outside, inside, core, gap_px=gap_px, pen_px=pen_px, ends=ends
        )
        peeled |= lines_off
        if not (boxes_off or lines_off):
            break
        inside = ~grow(outside[label], gap_px)
        core = _open_square(inside, radius)
    found = _cut(ink, inside, core, pad=pad, gap_px=gap_px, pen_px=pen_px)
    less = (closed & ~inside)[pad:-pad, pad:-pad]
    return tuple(replace(s, peeled=less) for s in found) if less.any() else found, peeled


def _peel(
    ink: Mask,
    label: npt.NDArray[Any],
    outside: npt.NDArray[np.bool_],
    inside: Mask,
    core: Mask,
    *,
    gap_px: int,
    pen_px: float,
    ends: tuple[int, int],
) -> tuple[bool, bool]:
    """Turn faces that only a ruled box or a dimension line closes into paper; whether any was, of either kind."""
    from scipy import ndimage

    radius = gap_px + 0.5 * pen_px + 1.5
    parts, _n = ndimage.label(core)
    boxes_off = lines_off = False
    smallest = (0.03 * max(ink.shape)) ** 2
    places = ndimage.find_objects(parts)
    square = np.array([False, *((parts[s] == k).mean() > 0.95 for k, s in enumerate(places, start=1))])
    boxed = square
    if square.any():
        near = grow(core, 2 * gap_px + int(pen_px) + 3)
        # thin ends, such as a tail cone, hold no square of a wide gap's size, but join what lies beyond them
        joined, _g = ndimage.label(near | _open_square(inside, 0.5 * pen_px + 1.5) if gap_px else near)
        group = np.array([0, *(joined[s][parts[s] == k][0] for k, s in enumerate(places, start=1))])
        boxed = square & ~np.isin(group, group[1:][~square[1:]])  # a plank wing beside a body is no ruled box
    for k, s in enumerate(places, start=1):
        mine = parts[s] == k
        rows, columns = mine.shape
        area = int(mine.sum())
        if rows * columns < smallest or area < 0.2 * smallest:
            continue
        if boxed[k] and min(rows, columns) < 0.2 * max(ink.shape):
            faces = np.unique(label[s][mine])
            outside[faces[faces > 0]] = True  # a ruled box: title block, table, legend
            boxes_off = True
            continue
        if square[k] or area < 0.35 * rows * columns:
            continue  # a dimension line from tip to tip makes the figure nearly fill its box
        for axis in (0, 1):
            for end in ends:
                m = mine if axis == 0 else mine.T
                m = m if end == 0 else m[::-1]
                lab = label[s] if axis == 0 else label[s].T
                lab = lab if end == 0 else lab[::-1]
                drawn = ink[s] if axis == 0 else ink[s].T
                drawn = drawn if end == 0 else drawn[::-1]
                level = _ruled_line(drawn, m, int(pen_px))
                if level is None:
                    continue
                band = level + int(pen_px) + gap_px
                deep = int(band + 2 * gap_px + 4)
                if deep >= m.shape[0]:
                    continue
                slim = 0.06 * m.shape[1] + 2.0 * gap_px + pen_px
                faces = _faces_along(lab[level:deep], m[level:deep], outside, skip=band - level, slim=slim)
                if not faces.size:
                    continue  # one face runs along a dimension line; a trailing edge is parted by the body
                before = max(0, level - 2 * int(pen_px) - 2 * gap_px - 3)
                beyond = lab[before : max(1, level - int(pen_px) - gap_px - 1)]
                if ((beyond > 0) & ~outside[beyond]).mean() > 0.04:
                    continue  # a panel line, a centre line, a leading edge behind a nose: the figure goes on ahead of it
                behind = np.isin(lab, faces)
                if _even(behind, int(pen_px) + 2):
                    continue  # a rudder between its hinge and its trailing edge
                if not _square_ended(behind[level:], band - level):
                    continue  # a wing's straight leading edge between round tips
                trial = outside.copy()
                trial[faces] = True
                left = mine & ~grow(trial[label[s]], gap_px)
                left = _open_square(left, radius)
                left_m = left if axis == 0 else left.T
                across = np.nonzero(left_m.any(0))[0]
                spanned = 0.96 * m.shape[1] - 2.0 * radius  # a tip drawn to a point holds no square
                if across.size and np.ptp(across) > spanned and left.sum() > 0.08 * area:
                    outside[faces] = True
                    lines_off = True
                    break
            else:
                continue
            break
    return boxes_off, lines_off


def _faces_along(
    lab: npt.NDArray[Any], mine: Mask, outside: npt.NDArray[np.bool_], *, skip: int, slim: float
) -> npt.NDArray[Any]:
    """The face that runs along most of a line, or the two that a centre line parts and that run along all of it.

    lab, mine : the faces, and the figure, from the line inward.
    skip : depth at which the line itself is past. [px]
    slim : how wide a line with its figure parts faces; a body or struts between two wings part them wider. [px]
    """
    faces, counts = np.unique(lab[skip:][mine[skip:]], return_counts=True)
    inner = (faces > 0) & (counts > 3) & ~outside[faces]
    if inner.any() and counts[inner].max() >= 0.6 * mine[skip:].size:
        return np.asarray(faces[inner])
    met = mine & (lab > 0)
    first = np.where(met.any(0), np.take_along_axis(lab, met.argmax(0)[None], 0)[0], 0)
    faces, counts = np.unique(first, return_counts=True)
    keep = (faces > 0) & ~outside[faces] & (counts > 1)
    faces, share = faces[keep], counts[keep] / first.size
    if faces.size and share.max() > 0.85:  # less deep than the strip looked at
        return np.asarray(faces)
    pair = np.argsort(-share)[:2]
    if pair.size < 2 or share[pair].min() < 0.4 or share[pair].sum() < 0.85:
        return np.asarray(faces[:0])
    ends = sorted((int(c[0]), int(c[-1])) for c in (np.nonzero(first == f)[0] for f in faces[pair]))
    return np.asarray(faces if ends[1][0] - ends[0][1] < slim else faces[:0])


def _even(face: Mask, slack: int) -> bool:
    """Whether a face is as deep in every column: its far side is a straight line, not a figure's outline."""
    columns = np.nonzero(face.any(0))[0]
    inner = columns[columns.size // 20 : columns.size - columns.size // 20]
    if not inner.size:
        return False
    far = face.shape[0] - face[::-1, inner].argmax(0)
    return int(np.ptp(far)) <= slack


def _square_ended(face: Mask, skip: int) -> bool:
    """Whether a face is as wide beside the line as anywhere: between extension lines it is, but for arrow heads.

    face : from the line inward; skip : depth at which the line itself is past. [px]
    """
    near = face[: skip + max(3, round(_ARROW * face.shape[1]))].any(0)
    columns, all_columns = np.nonzero(near)[0], np.nonzero(face.any(0))[0]
    return columns.size > 0 and int(np.ptp(columns)) > _SQUARE * int(np.ptp(all_columns))


def _ruled_line(ink: Mask, mine: Mask, pen: int) -> int | None:
    """Row of the outermost line drawn right across a figure, with little of the figure beyond it; or None."""
    rows = mine.shape[0]
    reach = max(2, pen)
    near = ink[: rows // 2 + reach]
    if not near.any():
        return None
    spread = np.stack([np.roll(near, k, axis=0) for k in range(-(reach // 2) - 1, reach // 2 + 2)]).any(0)
    cover = spread.mean(1)
    hits = np.nonzero(cover > 0.8)[0]
    if not hits.size:
        return None
    row = int(hits[0] + min(2 + reach // 2, hits.size - 1))
    # an overall dimension goes from end to end; a fin's trailing edge beside a wing as high as its head does not
    drawn = np.nonzero(np.asarray(spread)[hits[0]])[0]
    end = _ENDS * spread.shape[1]
    whole = drawn[0] < end and drawn[-1] >= spread.shape[1] - end
    return row if whole and mine[: hits[0]].sum() < 0.15 * mine.sum() else None


def _cut(ink: Mask, inside: Mask, core: Mask, *, pad: int, gap_px: int, pen_px: float) -> tuple[Solid, ...]:
    """Grow the cores back to the pen strokes and group them into views."""
    from scipy import ndimage

    white = inside & ~ink
    face, nf = ndimage.label(white)
    touched = np.zeros(nf + 1, dtype=bool)
    hits = np.bincount(face[core & white], minlength=nf + 1)
    touched[np.nonzero(hits > 4)[0]] = True
    touched[0] = False
    # thin ends (a tail cone behind the tailplane) hold no square: take them in where they are closed all round
    closed: npt.NDArray[np.bool_] | None = None
    about = grow(touched[face], round(pen_px) + 1)
    for _ in range(2):
        more = np.zeros(nf + 1, dtype=bool)
        more[face[about & white]] = True
        more &= ~touched
        if more.any() and closed is None:
            paper, sheets = ndimage.label(~ink)
            open_air = at_rim(paper, sheets)[paper]
            closed = np.bincount(face[open_air & white], minlength=nf + 1) == 0
        if closed is None or not (more & closed).any():
            break
        touched |= more & closed
        about = grow(touched[face], round(pen_px) + 1)
    whole = core | (about & inside)
    parts, n = ndimage.label(whole, np.ones((3, 3)))
    if n == 0:
        return ()
    areas = np.bincount(parts[whole], minlength=n + 1)[1:]
    boxes = ndimage.find_objects(parts)
    extent = np.array([max(s[0].stop - s[0].start, s[1].stop - s[1].start) for s in boxes])
    keep = [k for k in range(n) if areas[k] > 0.004 * areas.max() or extent[k] > 0.3 * extent.max()]
    joined, nj = ndimage.label(grow(ink | whole, gap_px + 1))
    reach = ndimage.find_objects(joined)
    group = {k: k for k in keep}
    own = {k: int(np.bincount(joined[boxes[k]][parts[boxes[k]] == k + 1]).argmax()) for k in keep}

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    def corners(k: int) -> tuple[int, int, int, int]:
        s = boxes[k]
        return s[1].start, s[0].start, s[1].stop, s[0].stop

    big = sorted(keep, key=lambda k: -extent[k])
    for i, p in enumerate(big):
        for q in big[i + 1 :]:
            x0, y0, x1, y1 = corners(p)
            u0, v0, u1, v1 = corners(q)
            gx, gy = max(u0 - x1, x0 - u1, 0), max(v0 - y1, y0 - v1, 0)
            apart = float(np.hypot(gx, gy))
            lap = min(x1, u1) - max(x0, u0) > 0.8 * min(x1 - x0, u1 - u0) or min(y1, v1) - max(
                y0, v0
            ) > 0.8 * min(y1 - y0, v1 - v0)
            same = own[p] == own[q]
            close = 0.3 if areas[q] > 0.3 * areas[p] else 0.05  # lettering on a dimension line is no part
            if (
                (apart == 0)
                or (
                    same
                    and lap
                    and apart < close * extent[p]
                    and not (
                        min(areas[p], areas[q]) > 0.6 * max(areas[p], areas[q])
                        and min(x1 - x0, y1 - y0) > 0.3 * extent[p]
                    )
                )
                or (lap and apart < 0.02 * extent[p] + 2 * gap_px and areas[q] < 0.2 * areas[p])
            ):
                group[root(q)] = root(p)
    out = []
    for r in {root(k) for k in keep}:
        members = [k for k in keep if root(k) == r]
        own_parts, own_ink = np.zeros(n + 1, dtype=bool), np.zeros(nj + 1, dtype=bool)
        own_parts[np.array(members) + 1] = True
        own_ink[[own[k] for k in members if own[k] > 0]] = True
        c = np.array([corners(k) for k in members])
        x0, y0, x1, y1 = int(c[:, 0].min()), int(c[:, 1].min()), int(c[:, 2].max()), int(c[:, 3].max())
        cut = own_parts[parts[y0:y1, x0:x1]]
        rs = [reach[own[k] - 1] for k in members if own[k] > 0]
        rb = (
            min(s[1].start for s in rs) - pad + gap_px + 1,
            min(s[0].start for s in rs) - pad + gap_px + 1,
            max(s[1].stop for s in rs) - pad - gap_px - 1,
            max(s[0].stop for s in rs) - pad - gap_px - 1,
        )
        around = (
            slice(min(s[0].start for s in rs), max(s[0].stop for s in rs)),
            slice(min(s[1].start for s in rs), max(s[1].stop for s in rs)),
        )
        within = grow(own_parts[parts[around]], round(pen_px) + 1)
        loose = ink[around] & own_ink[joined[around]] & ~within
        middle = (y0 + y1 - 1 - 2 * around[0].start, x0 + x1 - 1 - 2 * around[1].start)
        out.append(
            Solid(
                mask=np.asarray(cut),
                at=(y0 - pad, x0 - pad),
                box=(x0 - pad, y0 - pad, x1 - pad, y1 - pad),
                reach=rb,
                gap_px=gap_px,
                loose_px=float(np.count_nonzero(loose)) / pen_px,
                odd_px=(_odd(loose, 1, middle[1]) / pen_px, _odd(loose, 0, middle[0]) / pen_px),
            )
        )
    return tuple(sorted(out, key=lambda s: -s.area))


def _odd(loose: Mask, axis: int, twice_middle: int) -> int:
    """How many pixels have no mirror image nearby; the mirror lies at half of `twice_middle` along the axis."""
    at = np.array(np.nonzero(loose))
    at[axis] = twice_middle - at[axis]
    there = (at[axis] >= 0) & (at[axis] < loose.shape[axis])
    met = grow(loose, _MIRRORED)[tuple(at[:, there])]
    return int(at.shape[1] - np.count_nonzero(met))
