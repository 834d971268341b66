"""The body in the top view, what stands ahead of its nose, and lines followed or carried across where it is hidden."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.contour import crossings
from sheetlark.trace.ink import Floats
from sheetlark.trace.surface import Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """Body over stations x from the nose; `low`, `high` are the two edges (-y, +y or lower, upper z). [mm]

    seen : shape (n,), true where the edge stands free in the picture, false where it was carried across.
    """

    x: Floats
    low: Floats
    high: Floats
    seen: Floats

    def ring(self) -> Floats:
        return np.vstack([np.c_[self.x, self.high], np.c_[self.x, self.low][::-1]])


def spinner_end(rings: tuple[Floats, ...], span: float) -> float:
    """How far a spinner or propeller stands ahead of the body's front; 0 where there is none. [same unit]

    Rings have x aft from the foremost point. Blades are a short spike in width; a spinner is narrow and the body
    behind it begins with a step.
    """
    step = 0.001 * span
    x = np.arange(0.5, 90.0) * step
    wide = np.zeros(x.size)
    aim = 0.0
    for k in range(x.size - 1, -1, -1):
        cuts = crossings(rings, float(x[k]), 0)
        if not len(cuts):
            break
        if k == x.size - 1:
            c = cuts[np.argmax(cuts[:, 1] - cuts[:, 0])]
        else:
            holds = [c for c in cuts if c[0] - step <= aim <= c[1] + step]
            if not holds:  # only what is not the body's stands ahead of here
                return float(x[k] + 0.5 * step) if k > 3 else 0.0
            c = max(holds, key=lambda c: c[1] - c[0])
        wide[k] = c[1] - c[0]
        aim = 0.5 * (c[0] + c[1]) if k == x.size - 1 else 0.7 * aim + 0.15 * (c[0] + c[1])
    body = float(np.median(wide[60:]))
    front = x < 0.055 * span
    blade = np.nonzero(front & (wide > 1.4 * body))[0]
    if blade.size and blade.size < 25:
        return float(x[blade[-1]] + step)
    lag = 6
    for k in range(int(front.sum()) - 1, 12, -1):
        ahead, behind = wide[k - lag : k - lag + 2].mean(), wide[k + lag]
        flat = wide[max(0, k - 2 * lag) : k - lag].mean()
        if behind > 0.45 * body and ahead > 0 and behind > 1.7 * ahead and flat > 0.55 * ahead:
            steep = np.diff(wide[k - lag : k + lag])
            if steep.max() > 0.12 * behind:
                return float(x[k - lag + int(steep.argmax())] + 0.5 * step)
    return 0.0


def find_body_width(
    rings: tuple[Floats, ...],
    span: float,
    wing: Surface | None,
    tail: Surface | None,
    depth: Floats | None,
    ink: object,
) -> Body | None:
    """Half width of the body along x in the top view.

    depth : shape (m, 2), optional
        Body depth over x from the side view: its shape fills what wing and tail hide.
    ink : callable (x, y) -> ink strength, or None
        Where the body's own line is drawn across the wing, it is followed.
    """
    x_all = np.concatenate([r[:, 0] for r in rings])
    end = float(x_all.max())
    middle = crossings(rings, 0.0008 * span, 1)  # the tailplane's tips may reach beyond the body
    if len(middle):
        end = min(end, float(middle[-1, 1]))
    if depth is not None and abs(float(depth[-1, 0]) / end - 1.0) < 0.09:
        end = float(depth[-1, 0]) if float(depth[-1, 0]) < end or tail is not None else end
    length = float(end - x_all.min())
    n = 260
    x = x_all.min() + length * (0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, n)))
    half = np.full(n, np.nan)
    for i, xi in enumerate(np.clip(x, x_all.min() + 1e-3 * length, x_all.max() - 1e-3 * length)):
        cuts = crossings(rings, float(xi), 0)
        mine = [c for c in cuts if c[0] < 0.003 * span and c[1] > -0.003 * span]
        if mine:
            c = max(mine, key=lambda c: c[1] - c[0])
            half[i] = 0.5 * (c[1] - c[0])
    seen = np.isfinite(half)
    pad = 0.006 * span
    limits = []
    for s in (wing, tail):
        if s is None:
            continue
        x0 = float(np.interp(s.lead_root, s.station, s.lead)) - pad
        x1 = float(np.interp(s.trail_root, s.station, s.trail)) + pad
        seen &= ~((x > x0) & (x < x1))
        limits.append((x0, x1))
    widest = 0.14 * span
    seen &= half < widest
    if len(limits) == 2:  # between wing and tail the body alone is seen; behind that it grows no wider
        between = seen & (x > limits[0][1]) & (x < limits[1][0])
        if between.sum() > 8:
            aft = x >= float(x[between].max())
            seen &= ~(aft & (half > 1.1 * float(np.median(half[np.nonzero(between)[0][-8:]]))))
    if seen.sum() < 5:
        return None
    # a propeller drawn across the nose is a short spike there
    front = seen & (x < x_all.min() + 0.10 * length)
    k = np.nonzero(seen & (x < x_all.min() + 0.25 * length))[0]
    if front.sum() > 5 and k.size > 12:
        usual = float(np.median(half[k]))
        seen &= ~(front & (half > 1.35 * usual) & (x < x_all.min() + 0.06 * length))
    guess = fill_between(x, half, seen, depth)
    if callable(ink) and limits:
        guess, seen = follow_lines(x, guess, seen, ink, span, symmetric=True)
    return Body(x=x, low=-guess, high=guess, seen=seen.astype(np.float64))


def fill_between(x: Floats, v: Floats, seen: Floats, depth: Floats | None) -> Floats:
    """Carry a width over stretches where it is hidden, in the shape the other view gives if there is one."""
    from scipy.interpolate import PchipInterpolator

    out = v.copy()
    ks = np.nonzero(seen)[0]
    if depth is not None:
        d = np.maximum(np.interp(x, depth[:, 0], depth[:, 1]), 1e-3)
        ratio = np.interp(x, x[ks], np.clip(v[ks] / d[ks], 0.02, 20.0))
        shaped = ratio * d
    else:
        shaped = None
    inner = (x > x[ks[0]]) & (x < x[ks[-1]]) & ~seen.astype(bool)
    if ks.size > 3:
        # thin the supports so that noise at a break does not tilt the bridge
        smooth = np.convolve(np.pad(v[ks], 2, mode="edge"), np.ones(5) / 5, mode="valid")
        bridge = PchipInterpolator(x[ks], smooth)(x)
    else:
        bridge = np.interp(x, x[ks], v[ks])
    out[inner] = bridge[inner] if shaped is None else 0.6 * bridge[inner] + 0.4 * shaped[inner]
    before, after = x <= x[ks[0]], x >= x[ks[-1]]
    for side, k in ((before, ks[0]), (after, ks[-1])):
        hidden = side & ~seen.astype(bool)
        if not hidden.any():
            continue
        if shaped is not None:
            out[hidden] = shaped[hidden] * v[k] / max(shaped[k], 1e-6)
        else:
            near = ks[-max(8, ks.size // 10) :] if side is after else ks[: max(8, ks.size // 10)]
            slope = np.polyfit(x[near], v[near], 1)[0]
            out[hidden] = np.clip(v[k] + slope * (x[hidden] - x[k]), 0.12 * v[k], 1.2 * v[k])
    # a depth next to nothing at the end of what is seen must not blow the rest up
    return np.asarray(np.where(seen.astype(bool), v, np.clip(out, 0.0, 1.25 * float(v[ks].max()))))


def follow_lines(
    x: Floats, guess: Floats, seen: Floats, ink: object, span: float, *, symmetric: bool
) -> tuple[Floats, Floats]:
    """Where ink runs near the guessed edge across a hidden stretch, follow it by dynamic programming."""
    out, now_seen = guess.copy(), np.asarray(seen, dtype=bool).copy()
    hidden = np.nonzero(~now_seen)[0]
    if not hidden.size or not callable(ink):
        return out, now_seen
    for run in np.split(hidden, np.nonzero(np.diff(hidden) > 1)[0] + 1):
        x0, x1 = float(x[run[0]]), float(x[run[-1]])
        if x1 - x0 < 0.01 * span:
            continue
        xs = np.linspace(x0, x1, max(12, int((x1 - x0) / (span / 450.0))))
        g = np.interp(xs, x, guess)
        dy = np.arange(-0.022, 0.0221, 0.0011) * span
        ys = g[:, None] + dy[None, :]
        grid_x = np.repeat(xs[:, None], dy.size, 1)
        e = np.minimum(ink(grid_x, ys), ink(grid_x, -ys)) if symmetric else ink(grid_x, ys)
        e = np.clip(np.asarray(e), 0.0, 1.0)
        e[ys < 0.15 * g[:, None] if symmetric else np.zeros_like(e, dtype=bool)] = 0.0
        cost = e - 0.06 * (dy / (0.022 * span)) ** 2
        far = np.abs(dy) > 0.005 * span
        if run[0] > 0:  # both ends are known where the edge stands free
            cost[:2, far] = -1e3
        if run[-1] < x.size - 1:
            cost[-2:, far] = -1e3
        total = cost.copy()
        came = np.zeros(cost.shape, dtype=np.int64)
        for i in range(1, len(xs)):
            prev = np.stack([np.roll(total[i - 1], s) - (0.04 if s else 0.0) for s in (-1, 0, 1)])
            prev[0, -1] = prev[2, 0] = -1e9
            k = prev.argmax(0)
            total[i] += np.take_along_axis(prev, k[None], 0)[0]
            came[i] = np.arange(dy.size) - (k - 1)
        j = int(total[-1].argmax())
        path = np.empty(len(xs), dtype=np.int64)
        for i in range(len(xs) - 1, -1, -1):
            path[i] = j
            j = int(np.clip(came[i, j], 0, dy.size - 1))
        strength = e[np.arange(len(xs)), path]
        if (strength > 0.4).mean() > 0.7:
            out[run] = np.interp(x[run], xs, g + dy[path])
            now_seen[run] = True
    return out, now_seen


def with_tail_end(body: Body, depth: Floats) -> Body:
    """Carry a body on to the length the side view has, in the shape of its depth.

    The end of a thin tail cone is all pen stroke in a small drawing, with no paper inside to be found by.
    """
    x0, x1 = float(body.x[-1]), float(depth[-1, 0])
    reach = x1 - x0
    if not 0.01 * x1 < reach < 0.12 * x1:
        return body
    x = np.linspace(x0, x1, 24)[1:]
    d = np.maximum(np.interp(np.r_[x0, x], depth[:, 0], depth[:, 1]), 1e-6)
    half = body.high[-1] * d[1:] / d[0]
    return Body(
        x=np.r_[body.x, x],
        low=np.r_[body.low, -half],
        high=np.r_[body.high, half],
        seen=np.r_[body.seen, np.zeros(x.size)],
    )


def bridge(x: Floats, v: Floats, seen: Floats) -> Floats:
    """Carry one edge (of either sign) over hidden stretches; straight beyond the last seen station."""
    from scipy.interpolate import PchipInterpolator

    ks = np.nonzero(np.asarray(seen, dtype=bool))[0]
    if ks.size < 4:
        return v
    smooth = np.convolve(np.pad(v[ks], 2, mode="edge"), np.ones(5) / 5, mode="valid")
    out = np.where(
        np.asarray(seen, dtype=bool), v, PchipInterpolator(x[ks], smooth)(np.clip(x, x[ks[0]], x[ks[-1]]))
    )
    return np.asarray(out)
