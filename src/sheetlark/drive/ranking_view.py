"""A ranking as a table to read and a chart to look at."""

from __future__ import annotations

import math
from html import escape

from sheetlark.drive.matching import Combination, Ranking

_FITTING, _DARK, _REFUSED, _TODAY = "#3b8fd4", "#0b3c66", "#b9b9b9", "#c2410c"

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


def ranking_chart(
    ranking: Ranking, *, title: str = "", numbered: int = 6, width: int = 760, height: int = 500
) -> str:
    """An SVG chart of thrust to weight over minutes of mixed flying, one dot a combination.

    Refused ones are hollow, the best carry their number in the table, and a diamond is the model's present drive;
    hovering over a dot shows its parts and its reasons.

    Parameters
    ----------
    numbered : int
        How many of the best carry their number.
    """
    every = [*ranking.refused, *ranking.fitting]
    shown = [c for c in every if math.isfinite(c.mixed_min)]
    now = ranking.today
    if now is not None and not math.isfinite(now.mixed_min):
        now = None
    placed = shown if now is None else [*shown, now]
    left, bottom, top, right = 58.0, 50.0, 66.0, 20.0
    most_x = _round_up(1.04 * max((c.mixed_min for c in placed), default=10.0))
    most_y = _round_up(1.04 * max((c.thrust_to_weight for c in placed), default=1.0))

    def at(c: Combination) -> tuple[float, float]:
        return (
            left + c.mixed_min / most_x * (width - left - right),
            height - bottom - c.thrust_to_weight / most_y * (height - bottom - top),
        )

    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" '
            f'font-size="12" role="img" aria-label="Thrust to weight over minutes">'
        ),
        f'<rect width="{width}" height="{height}" fill="white"/>',
        f'<text x="{left:g}" y="24" font-size="16" font-weight="bold">{escape(title or _titled(ranking))}</text>',
    ]
    for step in range(6):
        x = left + (width - left - right) * step / 5
        y = height - bottom - (height - bottom - top) * step / 5
        parts.append(
            f'<path d="M{x:.1f} {top}V{height - bottom}M{left} {y:.1f}H{width - right}" stroke="#ddd"/>'
        )
        parts.append(
            f'<text x="{x:.1f}" y="{height - bottom + 18:.1f}" text-anchor="middle">{most_x * step / 5:g}</text>'
        )
        parts.append(
            f'<text x="{left - 8:.1f}" y="{y + 4:.1f}" text-anchor="end">{most_y * step / 5:.2g}</text>'
        )
    for value, words, dashes in (
        (ranking.aim.least_thrust_to_weight, "least", "2 3"),
        (ranking.aim.wanted_thrust_to_weight, "wanted", "6 4"),
    ):
        y = height - bottom - min(value / most_y, 1.0) * (height - bottom - top)
        parts.append(
            f'<path d="M{left} {y:.1f}H{width - right}" stroke="{_DARK}" stroke-dasharray="{dashes}"/>'
            f'<text x="{width - right - 4}" y="{y - 5:.1f}" text-anchor="end" fill="{_DARK}">'
            f"{words} for {escape(ranking.aim.name)}</text>"
        )
    for c in shown:
        x, y = at(c)
        paint = (
            f'fill="white" stroke="{_REFUSED}"'
            if c.refusals
            else f'fill="{_FITTING}" fill-opacity="0.55" stroke="{_DARK}" stroke-width="0.6"'
        )
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" {paint}>{_told(c)}</circle>')
    # The first is drawn last: where two lie together the better one shows.
    best = [(i, c) for i, c in enumerate(ranking.fitting[:numbered], 1) if math.isfinite(c.mixed_min)]
    for i, c in reversed(best):
        x, y = at(c)
        parts.append(
            f'<g><rect x="{x - 9:.1f}" y="{y - 9:.1f}" width="18" height="18" rx="9" fill="{_DARK}" stroke="white"/>'
            f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" fill="white" font-weight="bold">{i}</text>'
            f"{_told(c)}</g>"
        )
    if now is not None:
        x, y = at(now)
        side, away = ("end", -12) if x > 0.7 * width else ("start", 12)
        words = "in the design: refused" if now.refusals else "in the design"
        parts.append(
            f'<path d="M{x:.1f} {y - 9:.1f}l9 9l-9 9l-9 -9z" fill="{_TODAY}" stroke="white">{_told(now)}</path>'
            f'<text x="{x + away:.1f}" y="{y + 4:.1f}" text-anchor="{side}" font-weight="bold" fill="{_TODAY}" '
            f'stroke="white" stroke-width="4" paint-order="stroke">{words}</text>'
        )
    parts += [
        (
            f'<circle cx="{left + 5:g}" cy="44" r="3.5" fill="{_FITTING}" stroke="{_DARK}"/>'
            f'<text x="{left + 14:g}" y="48">will do, the best numbered</text>'
            f'<circle cx="{left + 190:g}" cy="44" r="3.5" fill="white" stroke="{_REFUSED}"/>'
            f'<text x="{left + 199:g}" y="48">nearly: the nearest refused</text>'
        ),
        (
            f'<text x="{(left + width - right) / 2:.0f}" y="{height - 10}" text-anchor="middle">'
            "minutes of mixed flying, down to the reserve</text>"
            f'<text x="15" y="{(height - bottom + top) / 2:.0f}" text-anchor="middle" '
            f'transform="rotate(-90 15 {(height - bottom + top) / 2:.0f})">static thrust over weight</text></svg>'
        ),
    ]
    return "\n".join(parts)


def _titled(ranking: Ranking) -> str:
    return f"Drives for {ranking.aim.name} flying: {ranking.will_do} of {ranking.tried} will do"


def _told(c: Combination) -> str:
    """What hovering shows."""
    words = [
        f"{c.motor.key}, {c.propeller.key}, {c.pack.key}: {c.thrust_to_weight:.2f}, {c.mixed_min:.0f} min",
        *c.refusals,
    ]
    return f"<title>{escape('; '.join(words))}</title>"


def _round_up(value: float) -> float:
    """The next of 1, 2, 2.5, 5, 10 times a power of ten."""
    if not (math.isfinite(value) and value > 0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 2.0, 2.5, 5.0, 10.0) if step * power >= value * (1 - 1e-9))
