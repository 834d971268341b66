"""A ranking as a table to read and a chart to look at."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from sheetlark.drive.matching import Combination, Ranking

_HEAD = (
    f"{'motor':<12} {'propeller':<24} {'pack':<8} {'control':<8} {'all up':>7} {'thrust/':>8} {'':>5} {'static':>7} "
    f"{'pitch/':>7} {'full':>6} {'mixed':>6}\n"
    f"{'':<12} {'':<24} {'':<8} {'':<8} {'g':>7} {'weight':>8} {'±%':>5} {'A':>7} {'stall':>7} {'min':>6} {'min':>6}"
)


def ranking_table(ranking: Ranking, rows: int = 20, refused: int = 5) -> str:
    """The best combinations, the nearest misses with their reasons, and what refused the rest."""
    lines = [
        f"{ranking.will_do} of {ranking.tried} combinations will do for {ranking.aim.name} flying",
        _HEAD,
    ]
    lines += [_row(c) for c in ranking.fitting[:rows]]
    if not ranking.fitting:
        lines.append("none will do")
    if ranking.refused and refused > 0:
        lines += ["", "nearest misses:"]
        for c in ranking.refused[:refused]:
            lines.append(_row(c))
            lines += [f"    {reason}" for reason in c.refusals]
    if ranking.counts:
        lines += ["", "refused (one may have several reasons):"]
        lines += [f"{count.count:>8}  {count.reason}" for count in ranking.counts]
    return "\n".join(lines)


def _row(c: Combination) -> str:
    return (
        f"{c.motor.key:<12} {c.propeller.key:<24} {c.pack.key:<8} {c.controller.key:<8} {1e3 * c.mass_kg:7.0f} "
        f"{c.thrust_to_weight:8.2f} {100 * c.thrust_spread:5.0f} {c.static_current_a:7.1f} {c.pitch_speed_ms / c.stall_ms:7.1f} "
        f"{c.full_throttle_min:6.1f} {c.mixed_min:6.1f}"
    )


def ranking_chart(ranking: Ranking, *, width: int = 720, height: int = 440) -> str:
    """An SVG chart of thrust to weight over minutes of mixed flying, one dot a combination.

    Refused ones are hollow; hovering over a dot shows its parts and its reasons.
    """
    shown = [c for c in (*ranking.refused, *ranking.fitting) if math.isfinite(c.mixed_min)]
    left, bottom, top, right = 56.0, 48.0, 16.0, 16.0
    most_x = _round_up(max((c.mixed_min for c in shown), default=10.0))
    most_y = _round_up(max((c.thrust_to_weight for c in shown), default=1.0))

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            left + x / most_x * (width - left - right),
            height - bottom - y / most_y * (height - bottom - top),
        )

    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" '
            f'font-size="12" role="img" aria-label="Thrust to weight over minutes">'
        ),
        f'<rect width="{width}" height="{height}" fill="white"/>',
    ]
    for step in range(6):
        x, y0 = at(most_x * step / 5, 0.0)
        x0, y = at(0.0, most_y * step / 5)
        parts.append(f'<path d="M{x:.1f} {top}V{y0:.1f}M{x0:.1f} {y:.1f}H{width - right}" stroke="#ddd"/>')
        parts.append(f'<text x="{x:.1f}" y="{y0 + 18:.1f}" text-anchor="middle">{most_x * step / 5:g}</text>')
        parts.append(
            f'<text x="{x0 - 8:.1f}" y="{y + 4:.1f}" text-anchor="end">{most_y * step / 5:.2g}</text>'
        )
    wanted = at(0.0, min(ranking.aim.wanted_thrust_to_weight, most_y))[1]
    parts.append(
        f'<path d="M{left} {wanted:.1f}H{width - right}" stroke="#06c" stroke-dasharray="5 4"/>'
        f'<text x="{width - right - 4}" y="{wanted - 5:.1f}" text-anchor="end" fill="#06c">'
        f"wanted for {escape(ranking.aim.name)}</text>"
    )
    for c in shown:
        x, y = at(c.mixed_min, c.thrust_to_weight)
        fill, edge = ("white", "#b55") if c.refusals else ("#06c", "#024")
        words = [
            f"{c.motor.key}, {c.propeller.key}, {c.pack.key}: {c.thrust_to_weight:.2f}, {c.mixed_min:.0f} min",
            *c.refusals,
        ]
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="{fill}" stroke="{edge}">'
            f"<title>{escape('; '.join(words))}</title></circle>"
        )
    parts.append(
        f'<text x="{(left + width - right) / 2:.0f}" y="{height - 8}" text-anchor="middle">'
        "minutes of mixed flying, down to the reserve</text>"
        f'<text x="14" y="{(height - bottom + top) / 2:.0f}" text-anchor="middle" '
        f'transform="rotate(-90 14 {(height - bottom + top) / 2:.0f})">static thrust over weight</text></svg>'
    )
    return "\n".join(parts)


def _round_up(value: float) -> float:
    """The next of 1, 2, 2.5, 5, 10 times a power of ten."""
    if not (math.isfinite(value) and value > 0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 2.0, 2.5, 5.0, 10.0) if step * power >= value * (1 - 1e-9))
