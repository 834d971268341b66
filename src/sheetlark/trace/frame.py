"""A view's own axes: millimetres on the picture, and where the nose begins."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.body import spinner_end
from sheetlark.trace.contour import Rings, crossings
from sheetlark.trace.ink import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """Picture pixels (straightened) <-> model millimetres of one view: p = origin + (a * first + b * second) / scale."""

    origin: Floats
    first: Floats  # unit vector of the first model axis in the picture
    second: Floats
    mm_per_px: float

    def to_mm(self, p: Floats) -> Floats:
        d = p - self.origin
        return np.asarray(np.c_[d @ self.first, d @ self.second] * self.mm_per_px)

    def ink(self, dark: Floats, a: Floats, b: Floats) -> Floats:
        """Strength of the ink at places of the view, from the full picture's; outside it there is none."""
        from scipy import ndimage

        col, row = self.to_px(a, b)
        return np.asarray(ndimage.map_coordinates(dark, [row, col], order=1, mode="constant"))

    def to_px(self, a: Floats, b: Floats) -> tuple[Floats, Floats]:
        a, b = np.asarray(a) / self.mm_per_px, np.asarray(b) / self.mm_per_px
        return (
            np.asarray(self.origin[0] + a * self.first[0] + b * self.second[0]),
            np.asarray(self.origin[1] + a * self.first[1] + b * self.second[1]),
        )


def from_nose(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats
) -> tuple[Frame, tuple[Floats, ...]]:
    """Count x from the body's own nose.

    A spinner or propeller blades ahead of it are cut off; where blades lie across it, it is looked for between their
    edges. A nose drawn to a point reaches the point where its edges meet, which the pen's own width hides.

    Parameters
    ----------
    dark : ndarray, shape (rows, columns)
        Ink strength of the full picture.
    """
    at = spinner_end(mm, span)
    if at <= 0.0:
        at = _face_behind_spinner(frame, mm, span, dark)
    if at <= 0.0:
        met = _pointed_nose(frame, mm, span, dark)
        if met < 0.0:
            shifted = tuple(np.c_[m[:, 0] - met, m[:, 1]] for m in mm)
            return replace(frame, origin=frame.origin + met / frame.mm_per_px * frame.first), shifted
        return frame, mm
    at = _nose_between_blades(frame, mm, span, at, dark)
    moved = tuple(np.c_[np.maximum(m[:, 0] - at, 0.0), m[:, 1]] for m in mm if m[:, 0].max() > at)
    return replace(frame, origin=frame.origin + at / frame.mm_per_px * frame.first), moved


def _cut_at(mm: tuple[Floats, ...], xs: Floats) -> tuple[Floats, Floats] | None:
    """Middle and width of the widest piece cut at each x; None where one of them cuts nothing."""
    pieces = []
    for x in xs:
        cuts = crossings(mm, float(x), 0)
        if not len(cuts):
            return None
        pieces.append(cuts[np.argmax(cuts[:, 1] - cuts[:, 0])])
    low, high = np.array(pieces).T
    return 0.5 * (low + high), high - low


def _face_behind_spinner(frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats) -> float:
    """Where a flat nose is drawn right across behind a spinner little narrower than itself; 0 where none is."""
    xs = np.arange(0.004, 0.045, 0.0007) * span
    found = _cut_at(mm, xs)
    if found is None:
        return 0.0
    middle, wide = found
    for k in range(6, xs.size - 6):
        if wide[k + 5] < 1.2 * wide[k - 4] or wide[k + 5] > 4.0 * wide[k - 4] or wide[k] > wide[k + 5] * 1.02:
            continue
        across = middle[k + 5] + np.linspace(-0.42, 0.42, 25) * wide[k + 5]
        near = xs[k] + np.arange(-3.0, 3.1, 1.0) * frame.mm_per_px
        line = np.max([frame.ink(dark, np.full(25, x), across) for x in near], axis=0)
        open_ = [frame.ink(dark, np.full(25, xs[j]), across) for j in (k - 6, k + 6)]
        if (line > 0.45).mean() > 0.93 and max((o > 0.45).mean() for o in open_) < 0.3:
            strength = [float(frame.ink(dark, np.full(25, x), across).mean()) for x in near]
            return float(near[int(np.argmax(strength))])
    return 0.0


def _pointed_nose(frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats) -> float:
    """Where the edges of a pointed nose meet, ahead of 0; 0 where the nose is not pointed."""
    xs = np.linspace(0.004, 0.018, 10) * span
    found = _cut_at(mm, xs)
    if found is None:
        return 0.0
    middle, wide = found
    slope, start = np.polyfit(xs[:6], wide[:6], 1)
    later = float(np.polyfit(xs[4:], wide[4:], 1)[0])
    if slope <= 0.05 or start <= 0.0:
        return 0.0
    met = -float(start / slope)
    if slope > 1.22 * later or met < -0.018 * span:
        return 0.0  # rounded: its edges turn away from each other; the width of a circle's nose grows 1.3 times slower
    # the pen went there: ink from the point to where the outline begins, and none ahead of it
    drift = np.polyfit(xs, middle, 1)
    inked = np.linspace(0.75 * met, 0.0, 9)
    pen = 4.0 * frame.mm_per_px
    clear = met - pen - np.linspace(0.0, 0.01, 9) * span
    half = np.asarray(0.5 * (start + slope * inked), dtype=np.float64)
    middles = np.asarray(np.polyval(drift, inked), dtype=np.float64)
    lines = [frame.ink(dark, inked, middles + k * half) for k in (-1.0, 0.0, 1.0)]
    strong = np.max(lines, axis=0).min()
    beyond = np.asarray(np.polyval(drift, clear), dtype=np.float64)
    ahead = frame.ink(dark, clear, beyond).max()
    return met if strong > 0.4 and ahead < 0.3 else 0.0


def _nose_between_blades(frame: Frame, mm: tuple[Floats, ...], span: float, at: float, dark: Floats) -> float:
    """Front of a body across which propeller blades are drawn: its line between their front edge and their rear."""
    found = _cut_at(mm, np.array([0.25 * at, *(at + np.array([0.004, 0.008, 0.012]) * span)]))
    if found is None:
        return at
    middle, wide = found[0][1:], found[1][1:]
    if found[1][0] < 1.6 * float(wide.mean()):
        return at  # a spinner, or a plain step
    x = np.arange(0.0, at + 0.003 * span, 0.5 * frame.mm_per_px)
    rows = [frame.ink(dark, x, np.full(x.size, middle[0] + off * span)) for off in (-0.0015, 0.0, 0.0015)]
    ink = np.max(rows, axis=0) > 0.5
    edges = np.flatnonzero(np.diff(np.r_[False, ink, False].astype(np.int8)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        front = float(x[first])
        centre = 0.5 * (front + float(x[last - 1]))
        if centre < 0.2 * at or centre > 0.85 * at or first == 0:
            continue
        return centre if last - first < 12 else front
    return at


def flipped(frame: Frame, rings: Rings) -> Frame:
    """The same top view with the nose at the other end."""
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return Frame(
        origin=frame.origin + a.max() * frame.first,
        first=-frame.first,
        second=-frame.second,
        mm_per_px=frame.mm_per_px,
    )
