"""Each part of a starting design as lines of the design file, from its traced outline."""

from __future__ import annotations

import re

import numpy as np

from sheetlark.trace.model import Outline, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import crossings


def _moved(path: str, dx: float, dy: float, *, stretch: float = 1.0) -> str:
    """Absolute path data moved by (dx, dy), then stretched about the origin."""

    def shift(m: re.Match[str]) -> str:
        return f"{(float(m.group(1)) + dx) * stretch:.2f},{(float(m.group(2)) + dy) * stretch:.2f}"

    return re.sub(r"(-?\d+\.?\d*),(-?\d+\.?\d*)", shift, path)


def points_of(path: str) -> Floats:
    """Points along SVG path data, shape (n, 2)."""
    import svg.path

    out: list[complex] = []
    for s in svg.path.parse_path(path):
        if isinstance(s, (svg.path.Move, svg.path.Line)):
            out.append(s.end)
        else:
            out.extend(s.point(t) for t in np.linspace(0.0, 1.0, 13)[1:])
    return np.array([[p.real, p.imag] for p in out])


def half_of(o: Outline) -> Floats:
    """Points of an outline's starboard half."""
    return points_of(o.half_path)


def area_of(half: Floats) -> float:
    """Area a half outline encloses with the centre line. [mm²]"""
    x, y = half[:, 0], half[:, 1]
    return 0.5 * abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])))


def _chord(half: Floats, y: float) -> tuple[float, float]:
    cuts = crossings((half,), y, 1)
    return (float(cuts[0, 0]), float(cuts[-1, 1])) if len(cuts) else (float(half[0, 0]), float(half[-1, 0]))


def _mean_chord(half: Floats) -> tuple[float, float]:
    """Mean aerodynamic chord and the x of its quarter point, by strips. [mm]"""
    ys = np.linspace(0.01, 0.99, 60) * float(half[:, 1].max())
    ends = np.array([_chord(half, float(y)) for y in ys])
    c = ends[:, 1] - ends[:, 0]
    mac = float((c**2).sum() / c.sum())
    return mac, float(((ends[:, 0] + 0.25 * c) * c).sum() / c.sum())


def plain_body(span: float, length: float) -> Floats:
    """No side view: a plain slab, 5 % of the span deep each way; common practice, no source."""
    h = 0.05 * span
    return np.array(
        [
            [0, 0.6 * h],
            [0.2 * length, h],
            [length, 0.35 * h],
            [length, -0.05 * h],
            [0.2 * length, -h],
            [0, -0.6 * h],
        ]
    )


def edges_at(ring: Floats, x: float) -> tuple[float, float]:
    """Lowest and highest point of a closed outline at x, kept just inside its ends. [mm]"""
    x = float(np.clip(x, ring[:, 0].min() + 0.5, ring[:, 0].max() - 0.5))
    cuts = crossings((ring,), x, 0)
    return (float(cuts[0, 0]), float(cuts[-1, 1])) if len(cuts) else (-10.0, 10.0)


# Least gap between body and a wing above it that struts are cut for: common practice, no source.
CABANE_MM = 15.0


def wing_heights(tracing: Tracing, wings: list[Outline], ring: Floats) -> dict[str, float]:
    """Z of each wing at the centre line: from the front view, kept within reach of the body; else on top of it.

    A wing that stands clear above the body stays there, unless the aeroplane is tailless: no such one was ever drawn so.
    """
    seen = list(tracing.proportions.wing_height_mm)
    out = {}
    for k, w in enumerate(wings):
        half = half_of(w)
        low, high = edges_at(ring, 0.5 * (half[0, 0] + half[-1, 0]))
        if len(wings) == 2:
            order = "upper" in w.name
            gap = tracing.proportions.gap_mm or 0.2 * tracing.span_mm
            base = low + 0.15 * (high - low)
            out[w.name] = base + gap if order else base
        elif len(seen) == 1 and _stands_clear(tracing, half, seen[0] - high):
            out[w.name] = seen[0]
        elif len(seen) == 1:
            out[w.name] = float(np.clip(seen[0], low + 3.0, high + 3.0))
        else:
            out[w.name] = high + 3.0 if k == 0 else low
    return out


def _stands_clear(tracing: Tracing, half: Floats, gap: float) -> bool:
    """Whether a single wing's gap above the body is one that struts bridge; a wider one was most likely misread."""
    chord = float(half[-1, 0] - half[0, 0])
    return CABANE_MM <= gap <= 0.4 * chord and tracing.outline("tail", "top") is not None


def straight_to(half: Floats, start: float, end: float, share: float) -> float:
    """Share of the half span to which a straight hinge keeps within 1.5 % of the chord of its share of the chord.

    A straight hinge from `start` on follows the share of the chord on straight edges; toward a rounded tip it does not.
    """
    semi = float(half[:, 1].max())
    y = np.linspace(start, end, 40) * semi
    ends = np.array([_chord(half, float(v)) for v in y])
    hinge = ends[:, 1] - share * (ends[:, 1] - ends[:, 0])
    for n in range(y.size, 3, -1):
        line = np.interp(y[:n], [y[0], y[n - 1]], [hinge[0], hinge[n - 1]])
        if np.abs(hinge[:n] - line).max() <= 0.015 * float((ends[:n, 1] - ends[:n, 0]).mean()):
            return float(y[n - 1] / semi)
    return end


def wing_lines(
    w: Outline,
    half: Floats,
    z: float,
    tracing: Tracing,
    *,
    elevon: bool,
    wide: bool,
    straight: bool = True,
    rods: tuple[str, ...],
) -> list[str]:
    """One wing with a spar and, on the lower or only one, ailerons or elevons."""
    x0 = float(half[0, 0])
    semi = float(half[:, 1].max())
    dihedral = float(np.clip(tracing.proportions.dihedral_deg or 0.0, -5.0, 12.0))
    lines = [
        "",
        "[[wing]]",
        f'name = "{w.name}"',
        f"at = [{x0:.1f}, {z:.1f}]",
        f'outline = "{_moved(w.half_path, -x0, 0.0)}"',
        f"incidence = {0.0 if elevon else 1.5}",
        f"dihedral = {dihedral:.1f}",
    ]
    for k, rod in enumerate(rods):
        lines += [
            "[[wing.spar]]",
            f'rod = "{rod}"',
            f"at = {(0.5, 0.3)[k % 2] if elevon else (0.22, 0.65)[k % 2]:.2f}",  # clear of the struts
            f"span = {(1.4 if elevon else 1.7) * semi:.0f}",
        ]
    if elevon:
        lines += [
            "[wing.aileron]",
            'role = "elevon"',
            f"chord = {0.22 if wide else 0.16}",
            "start = 0.2",
            "end = 0.8",
            "up = 22",
            "down = 18",
        ]
    elif "upper" not in w.name:
        share = 0.28 if wide else 0.22
        lines += [
            "[wing.aileron]",
            f"chord = {share}",
            "start = 0.45",
            f"end = {0.9 if straight else max(straight_to(half, 0.45, 0.9, share), 0.55):.3f}",
            "up = 22",
            "down = 14",
        ]
    return lines


TAIL_VOLUME = 0.45  # of a calm light model; common practice, no source
ENOUGH = 0.95  # of it: more tail than that lacks changes nothing that is felt, and the drawing is left alone


def tail_volume(tail: Outline, wings: list[Outline], halves: dict[str, Floats]) -> float:
    """Area of the tailplane as drawn times its arm, over area and mean chord of the wings."""
    half = half_of(tail)
    mac, quarter = _mean_chord(halves[wings[0].name])
    area = sum(2.0 * area_of(h) for h in halves.values())
    return 2.0 * area_of(half) * (_mean_chord(half)[1] - quarter) / (area * mac)


def tail_stretch(volume: float) -> float:
    """How much larger each way a tailplane of a volume is drawn where that is too small."""
    if volume <= 0.0 or volume > ENOUGH * TAIL_VOLUME:  # a foreplane is as large as it is drawn
        return 1.0
    return float(min(np.sqrt(TAIL_VOLUME / max(volume, 0.05)), 1.3))


def tail_lines(tail: Outline, ring: Floats, *, stretch: float, wide: bool, straight: bool) -> list[str]:
    """The tailplane, `stretch` times as large each way as drawn: it grows forward, its rear end stays."""
    half = half_of(tail)
    x0, end = float(half[0, 0]), float(half[-1, 0])
    at_x = end - (end - x0) * stretch
    low, high = edges_at(ring, 0.5 * (at_x + end))
    share = 0.42 if wide else 0.3
    return [
        "",
        "[tailplane]",
        f"at = [{at_x:.1f}, {0.5 * (low + high):.1f}]",
        f'outline = "{_moved(tail.half_path, -x0, 0.0, stretch=stretch)}"',
        "[tailplane.elevator]",
        f"chord = {share}",
        f"end = {1.0 if straight else max(straight_to(half, 0.02, 0.98, share), 0.4):.3f}",
        "up = 18",
        "down = 18",
    ]


def fin_lines(
    tracing: Tracing, ring: Floats, length: float, *, wide: bool, stretch: float = 1.0
) -> list[str]:
    """The fin as its root, tip and height, its foot on the body's upper line, `stretch` times as tall as drawn."""
    o = tracing.outline("fin", "side")
    if o is None:
        return []
    p = points_of(o.path)
    top = float(p[:, 1].max())
    foot_x = float(p[:, 0].min())
    foot_z = edges_at(ring, foot_x + 0.3 * (length - foot_x))[1]
    height = top - foot_z
    if height < 10.0:
        return []
    low, high = crossings((p,), foot_z + 0.12 * height, 1), crossings((p,), foot_z + 0.88 * height, 1)
    if not len(low) or not len(high):
        return []
    a0, a1, b0, b1 = (float(v) for v in (low[0, 0], low[-1, 1], high[0, 0], high[-1, 1]))
    slope = (b0 - a0) / (0.76 * height)
    root_lead = a0 - 0.12 * height * slope
    root = a1 - root_lead
    sweep = float(np.clip(np.degrees(np.arctan(slope / stretch)), -20.0, 65.0))  # taller, not further aft
    tip = max(0.25 * root, (b1 - b0) - 0.12 * height * slope * 0.5)
    height *= stretch
    return [
        "",
        "[[fin]]",
        'name = "fin"',
        f"at = [{root_lead:.1f}, {foot_z:.1f}]",
        f"height = {height:.1f}",
        f"root_chord = {root:.1f}",
        f"tip_chord = {min(tip, root):.1f}",
        f"sweep = {sweep:.1f}",
        "tip_roundness = 0.5",
        "[fin.rudder]",
        f"chord = {0.45 if wide else 0.35}",
        "up = 28",
        "down = 28",
    ]


def strut_lines(
    wings: list[Outline], halves: dict[str, Floats], tracing: Tracing, ring: Floats, heights: dict[str, float]
) -> list[str]:
    """A biplane's struts between the wings, one out on each side; and one from the body to a wing that stands above it."""
    upper = next((w.name for w in wings if "upper" in w.name), wings[0].name)
    lower = next((w.name for w in wings if w.name != upper), None)
    height = heights[upper]
    semi = min(float(h[:, 1].max()) for h in halves.values())
    chord = float(halves[upper][-1, 0] - halves[upper][0, 0])
    top = tracing.outline("body", "top")
    half = 0.04 * tracing.span_mm
    if top is not None:
        low, high = edges_at(points_of(top.path), float(halves[upper][0, 0]) + 0.45 * chord)
        half = 0.5 * (high - low)
    between = (
        []
        if lower is None
        else [
            "",
            "[[strut]]",
            f'joins = ["{lower}", "{upper}"]',
            f"y = {0.65 * semi:.0f}",
            "place = 0.47",
            f"chord = {max(25.0, 0.26 * chord):.0f}",
        ]
    )
    if height - edges_at(ring, float(halves[upper][0, 0]) + 0.45 * chord)[1] < CABANE_MM:
        return between  # the wing rests on the body
    return [
        *between,
        "",
        "[[strut]]",
        f'joins = ["body", "{upper}"]',
        f"y = {max(8.0, half - 14.0):.0f}",  # inside the body's side
        "place = 0.47",
        f"chord = {max(25.0, 0.3 * chord):.0f}",
    ]
