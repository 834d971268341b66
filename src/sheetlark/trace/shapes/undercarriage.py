"""Wheels and the legs that carry them, in the side and the front view."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Outline, exact_outline
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import InkGrid
from sheetlark.trace.shapes.struts import Bar, bars_between, straight_outline

SMALLEST, LARGEST = 0.012, 0.065  # a wheel's radius as a share of the span; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    """A wheel in the side view: centre (x, z) and radius [mm]; share of its rim that is inked."""

    x: float
    z: float
    radius: float
    inked: float


def find_wheels(grid: InkGrid, x: Floats, low: Floats, *, pen: float, span: float) -> list[Wheel]:
    """Circles below the body in the side view, the largest first, at most three.

    Parameters
    ----------
    x, low : ndarray, shape (n,)
        The body's lower line. [mm]

    Notes
    -----
    The ink is weighed with rings of growing radius; the best places are then fitted, and kept where the rim is
    inked nearly all round and stands out from the ink inside and outside it, or where the whole disc is inked.
    """
    from scipy import ndimage

    step = max(grid.step, span / 420.0)
    shrink = max(1, round(step / grid.step))
    ink = ndimage.maximum_filter(grid.fine, size=shrink)[::shrink, ::shrink]
    step = shrink * grid.step
    below = (
        grid.low[1] + np.arange(ink.shape[1]) * step
        < np.interp(grid.low[0] + np.arange(ink.shape[0]) * step, x, low)[:, None]
    )
    votes: list[tuple[float, float, float, float]] = []
    spread = 0.5 * pen + 0.6 * step
    spectrum = _Spectrum(ink, int(np.ceil((LARGEST * span + 3.0 * spread) / step)) + 1)
    for radius in np.geomspace(SMALLEST, LARGEST, 15) * span:
        reach = int(np.ceil((radius + 3.0 * spread) / step)) + 1
        if 2 * reach + 1 >= min(ink.shape) or radius < 2.5 * step:
            continue
        k = np.arange(-reach, reach + 1) * step
        r = np.hypot(k[:, None], k[None, :])
        rim = np.abs(r - radius) < spread
        beside = (np.abs(r - radius) >= spread) & (np.abs(r - radius) < 2.4 * spread)
        kernel = rim / rim.sum() - 0.6 * beside / beside.sum()
        got = np.where(below, spectrum.convolved(kernel), 0.0)
        peak = (got == ndimage.maximum_filter(got, size=2 * max(2, reach // 2) + 1)) & (got > 0.3)
        places = np.argwhere(peak)
        for a, b in places[np.argsort(-got[peak])][:6]:
            place = grid.low + np.array([a, b]) * step
            votes.append((float(got[a, b]), float(place[0]), float(place[1]), float(radius)))
    votes.sort(reverse=True)
    found: list[Wheel] = []
    for _, cx, cz, radius in votes[:16]:
        wheel = _fitted(grid, cx, cz, radius, pen=pen, step=step)
        if wheel is None or wheel.z > float(np.interp(wheel.x, x, low)) + 0.2 * wheel.radius:
            continue
        if not x[0] - wheel.radius <= wheel.x <= x[-1] + wheel.radius:
            continue  # of the view beside, as a spinner from ahead
        found.append(wheel)
    return _distinct(found)


class _Spectrum:
    """An image's Fourier transform, taken once, to convolve it with many kernels.

    `scipy.signal` does one such convolution, and importing it takes as long as all that is done here.
    """

    def __init__(self, image: Floats, reach: int) -> None:
        """Ready for square kernels that reach up to `reach` to each side."""
        from scipy import fft

        self.size = image.shape
        self.room = tuple(fft.next_fast_len(n + 2 * reach, real=True) for n in image.shape)
        self.values = fft.rfft2(image, self.room)

    def convolved(self, kernel: Floats) -> Floats:
        """The convolution with a kernel of odd size, the size of the image."""
        from scipy import fft

        whole = fft.irfft2(self.values * fft.rfft2(kernel, self.room), self.room)
        first = kernel.shape[0] // 2
        return np.asarray(whole[first : first + self.size[0], first : first + self.size[1]])


def _fitted(grid: InkGrid, cx: float, cz: float, radius: float, *, pen: float, step: float) -> Wheel | None:
    """The circle near one with the most ink on its rim, moved in ever smaller steps; None where it is no circle."""
    angles = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    c, s = np.cos(angles), np.sin(angles)
    best = np.array([cx, cz, radius])
    soft = grid.wide(0.3 * step)
    for size in (1.0, 0.5, 0.25):
        move = np.arange(-2, 3) * size * step
        a, b, r = (m.ravel()[:, None] for m in np.meshgrid(move, move, 0.7 * move, indexing="ij"))
        rim = grid.at(
            soft if size > 0.3 else grid.fine,
            best[0] + a + (best[2] + r) * c,
            best[1] + b + (best[2] + r) * s,
        )
        k = int((rim.mean(1) - 0.02 * np.abs(r[:, 0]) / step).argmax())
        best = best + np.array([a[k, 0], b[k, 0], r[k, 0]])
    cx, cz, radius = (float(v) for v in best)
    if not radius > 2.0 * pen:
        return None
    around = np.max(
        [grid.at(grid.fine, cx + q * c, cz + q * s) for q in radius + np.array([-0.4, 0.0, 0.4]) * pen],
        axis=0,
    )
    inked = float((around > 0.4).mean())
    off = 1.4 * pen + grid.step
    out = float((grid.at(grid.fine, cx + (radius + off) * c, cz + (radius + off) * s) > 0.4).mean())
    inside = float((grid.at(grid.fine, cx + (radius - off) * c, cz + (radius - off) * s) > 0.4).mean())
    if inked < 0.86 or out > 0.42 or (inside > 0.45 and out > 0.3):
        return None
    return Wheel(x=cx, z=cz, radius=radius, inked=inked - 0.3 * out)


def _distinct(found: list[Wheel]) -> list[Wheel]:
    """Of circles one within another the outermost that is well inked, then by size."""
    out: list[Wheel] = []
    for w in sorted(found, key=lambda w: -w.radius):
        if all(np.hypot(w.x - o.x, w.z - o.z) > 0.8 * (w.radius + o.radius) for o in out):
            out.append(w)
    return out[:3]


def circle_path(x: float, z: float, radius: float) -> str:
    """SVG path data of a circle: four cubics, within 0.03 % of its radius."""
    k = 4.0 / 3.0 * (np.sqrt(2.0) - 1.0) * radius
    r = radius

    def p(a: float, b: float) -> str:
        return f"{x + a:.2f},{z + b:.2f}"

    return (
        f"M {p(r, 0)} C {p(r, k)} {p(k, r)} {p(0, r)} C {p(-k, r)} {p(-r, k)} {p(-r, 0)} "
        f"C {p(-r, -k)} {p(-k, -r)} {p(0, -r)} C {p(k, -r)} {p(r, -k)} {p(r, 0)} Z"
    )


def gear_outlines(
    side: InkGrid,
    front: InkGrid | None,
    x: Floats,
    low: Floats,
    *,
    half_body: float,
    pen: float,
    span: float,
    trust: float,
) -> list[Outline]:
    """Wheels and legs below the body; nothing where no wheel is drawn in the side view.

    Parameters
    ----------
    x, low : the body's lower line in the side view. [mm]
    half_body : half the body's width above the wheels. [mm]
    """
    wheels = find_wheels(side, x, low, pen=pen, span=span)
    if not wheels:
        return []
    main = max(wheels, key=lambda w: (w.radius > 0.7 * wheels[0].radius, -abs(w.x - 0.3 * float(x[-1]))))
    long_ = float(x[-1])
    out = [
        _wheel_outline(w, main, trust)
        for w in wheels
        if w is main or w.x - main.x > 0.3 * long_ or main.x - w.x > 0.12 * long_
    ]
    legs = _legs(side, main, x, low, pen=pen)
    out += [
        straight_outline(
            "gear", "leg" if k == 0 else f"leg {k + 1}", "side", b.corners(), trust * (0.2 + 0.6 * b.strength)
        )
        for k, b in enumerate(sorted(legs, key=lambda b: b.head[0]))
    ]
    if front is not None:
        out += _front_gear(
            front, main, float(np.interp(main.x, x, low)), half_body, pen=pen, span=span, trust=trust
        )
    return out


def _wheel_outline(w: Wheel, main: Wheel, trust: float) -> Outline:
    name = "wheel" if w is main else "nose wheel" if w.x < main.x else "tail wheel"
    path = circle_path(w.x, w.z, w.radius)
    return exact_outline("gear", name, "side", path, nodes=4, confidence=trust * (0.1 + 0.85 * w.inked))


def _legs(side: InkGrid, w: Wheel, x: Floats, low: Floats, *, pen: float) -> list[Bar]:
    """Legs from the wheel up to the body's lower line in the side view."""
    rim = w.z + 1.08 * w.radius
    step = max(0.7 * pen, 0.07 * w.radius)
    near = (x > w.x - 5.0 * w.radius) & (x < w.x + 6.0 * w.radius)
    if near.sum() < 2 or float(np.interp(w.x, x, low)) - rim < 4.0 * pen:
        return []
    at = np.arange(w.x - 5.0 * w.radius, w.x + 6.0 * w.radius, step)
    at = at[(at > x[0]) & (at < x[-1])]
    feet = np.arange(w.x - 2.5 * w.radius, w.x + 2.5 * w.radius, step)
    head = np.c_[at, np.interp(at, x, low)]
    foot = np.c_[feet, np.full(feet.size, rim)]
    found = bars_between(
        side, foot, head, pen=pen, lean=1.6, thickest=0.45 * w.radius + pen, within=(0.05, 0.9), most=4
    )
    return [b for b in found if _aims_at(b, w.x, w.z, 0.45 * w.radius + pen)][:3]


def _aims_at(b: Bar, a: float, z: float, near: float) -> bool:
    """Whether a leg, carried on in its direction, meets the axle."""
    slope = (b.head[0] - b.foot[0]) / (b.head[1] - b.foot[1])
    return abs(b.foot[0] + slope * (z - b.foot[1]) - a) < near


def _front_gear(
    front: InkGrid, w: Wheel, body_low: float, half_body: float, *, pen: float, span: float, trust: float
) -> list[Outline]:
    """The same wheel edge-on in the front view, both sides alike, and the leg that carries it."""
    y = np.arange(0.2 * half_body, 0.32 * span, max(0.4 * pen, front.step))
    z = w.z + np.linspace(-0.6, 0.6, 21) * w.radius
    soft = front.wide(0.3 * pen)
    upright = np.mean(
        [
            (front.at(soft, sign * y[:, None], np.repeat(z[None, :], y.size, 0)) > 0.4).mean(1)
            for sign in (1.0, -1.0)
        ],
        axis=0,
    )
    best: tuple[float, float, float] | None = None
    strong = np.flatnonzero(upright > 0.85)
    groups = (
        np.split(strong, np.flatnonzero(np.diff(y[strong]) > 1.5 * (y[1] - y[0])) + 1) if strong.size else []
    )
    lines = [(float(y[g].mean()), float(np.ptp(y[g])), float(upright[g].max())) for g in groups if g.size]
    for n, (a, wide, strength) in enumerate(lines):
        if max(0.25 * w.radius, 1.8 * pen) < wide < 1.6 * w.radius:  # filled
            best = max(best or (0.0, 0.0, 0.0), (strength - 0.15, a, wide - pen))
        for b, _, other in lines[n + 1 :]:
            if not 0.25 * w.radius < b - a < 1.5 * w.radius:
                continue
            ends = [
                float(
                    np.mean(
                        front.at(soft, sign * np.linspace(a, b, 9), np.full(9, w.z + up * w.radius)) > 0.4
                    )
                )
                for sign in (1.0, -1.0)
                for up in (1.0, -1.0)
            ]
            worth = min(strength, other) * (0.5 + 0.5 * float(np.mean(ends)))
            if best is None or worth > best[0]:
                best = (worth, 0.5 * (a + b), b - a)
    if best is None or best[0] < 0.6:
        return []
    _, track, wide = best
    half = 0.5 * max(wide, pen)
    corners = np.array(
        [
            [track - half, w.z - w.radius],
            [track - half, w.z + w.radius],
            [track + half, w.z + w.radius],
            [track + half, w.z - w.radius],
        ]
    )
    out = [straight_outline("gear", "wheel", "front", corners, trust * 0.9 * best[0])]
    rim = w.z + 1.08 * w.radius
    if body_low - rim > 4.0 * pen:
        step = max(0.7 * pen, 0.07 * w.radius)
        feet = np.arange(max(track - 2.0 * w.radius, 0.0), track + 2.0 * w.radius, step)
        heads = np.arange(0.0, track + 2.0 * w.radius, step)
        found = bars_between(
            front,
            np.c_[feet, np.full(feet.size, rim)],
            np.c_[heads, np.full(heads.size, body_low)],
            pen=pen,
            lean=2.5,
            thickest=0.45 * w.radius + pen,
            within=(0.05, 0.88),
            mirrored=True,
            most=4,
        )
        found = [b for b in found if _aims_at(b, track, w.z, half + 0.15 * w.radius + pen)]
        out += [
            straight_outline("gear", "leg", "front", b.corners(), trust * (0.2 + 0.6 * b.strength))
            for b in found[:1]
        ]
    return out
