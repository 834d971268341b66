"""A first flight as one page: the story beside its plots, drawn here, with nothing asked of the network."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape

import numpy as np

from sheetlark.evaluation import Evaluation
from sheetlark.flight import Story
from sheetlark.outline import Floats
from sheetlark.review.maiden_words import figures

_WIDE, _TALL, _LEFT, _BELOW, _ABOVE = 720.0, 132.0, 52.0, 20.0, 12.0
_MOST_POINTS = 700
# Ink that reads on light and dark, and apart for the colour-blind (after the Okabe-Ito set, from memory).
_INKS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7")

_STYLE = """
:root { color-scheme: light dark; --ink: #1c2430; --faint: #667085; --rule: #d5dae1; --paper: #fcfcfa; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6e9ee; --faint: #98a2b3; --rule: #39414d; --paper: #161b22; } }
body { font: 15px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper); margin: 2rem auto;
  max-width: 60rem; padding: 0 1rem; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; } h2 { font-size: 1.05rem; margin: 1.8rem 0 .4rem; }
p.note { color: var(--faint); margin: 0 0 1rem; }
table { border-collapse: collapse; width: 100%; } td { padding: .18rem .8rem .18rem 0; vertical-align: top; }
td.n { text-align: right; white-space: nowrap; color: var(--faint); font-variant-numeric: tabular-nums; }
figure { margin: 0 0 .6rem; } figcaption { font-size: .9rem; color: var(--faint); }
svg { width: 100%; height: auto; display: block; } svg text { fill: var(--faint); font: 11px system-ui, sans-serif; }
.grid { stroke: var(--rule); stroke-width: 1; } .mark { stroke: var(--rule); stroke-width: 1; stroke-dasharray: 2 3; }
.limit { stroke: var(--faint); stroke-width: 1; stroke-dasharray: 6 4; }
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trace:
    """One line of a plot."""

    name: str
    values: Floats


def story_page(e: Evaluation, story: Story) -> str:
    """The page as HTML text; the same story is the same text."""
    h = story.history
    every = max(1, len(h.time_s) // _MOST_POINTS)
    keep = slice(None, None, every)
    time = h.time_s[keep]
    degrees = 180.0 / math.pi
    marks = [event.time_s for event in story.events]
    plots = [
        ("Height, m", [_Trace(name="height", values=h.height_m[keep])], None),
        (
            "Airspeed, m/s",
            [_Trace(name="airspeed", values=h.airspeed_ms[keep])],
            (e.flight.stall_ms, "stall"),
        ),
        (
            "Bank, degrees (starboard down positive)",
            [_Trace(name="bank", values=degrees * h.bank_rad[keep])],
            None,
        ),
        ("Sideslip, degrees", [_Trace(name="sideslip", values=degrees * h.beta_rad[keep])], None),
        (
            "Sticks and throttle",
            [
                _Trace(name="pitch", values=h.pitch_stick[keep]),
                _Trace(name="roll", values=h.roll_stick[keep]),
                _Trace(name="yaw", values=h.yaw_stick[keep]),
                _Trace(name="throttle", values=h.throttle[keep]),
            ],
            None,
        ),
    ]
    name = escape(e.design.model.name)
    rows = "".join(
        f'<tr><td class="n">{v.time_s:.1f} s</td><td class="n">{max(v.height_m, 0.0):.1f} m</td><td>{escape(v.says)}</td></tr>'
        for v in story.events
    )
    facts = "".join(f"<tr><td>{escape(a)}</td><td>{escape(b)}</td></tr>" for a, b in figures(e, story))
    drawn = "".join(
        f"<figure><figcaption>{escape(title)}{_legend(traces)}</figcaption>{_plot(title, time, traces, marks, limit)}</figure>"
        for title, traces, limit in plots
    )
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{name}: first flight</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_STYLE}</style></head><body><h1>{name}: the first flight, simulated</h1>"
        '<p class="note">Computed from the design: a guide to what to expect, not a promise. Fly over open ground, away '
        "from people, and keep to your local rules.</p>"
        f"<h2>What happened</h2><table>{rows}</table><h2>Figures</h2><table>{facts}</table>"
        f"<h2>Instruments</h2>{drawn}<h2>Track from above</h2>"
        '<p class="note">North is up; the wind blows from the north. A dot every five seconds.</p>'
        f"{_track(h.north_m[keep], h.east_m[keep], time)}</body></html>\n"
    )


def _legend(traces: list[_Trace]) -> str:
    if len(traces) == 1:
        return ""
    return ": " + ", ".join(
        f'<span style="color:{ink}">{escape(t.name)}</span>' for t, ink in zip(traces, _INKS, strict=False)
    )


def _steps(low: float, high: float, count: int) -> list[float]:
    """Round marks between two ends."""
    raw = (high - low) / count
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * m for m in (1.0, 2.0, 5.0, 10.0) if size * m >= raw)
    first = math.ceil(low / step - 1e-9)
    return [step * k for k in range(first, math.floor(high / step + 1e-9) + 1)]


def _plot(
    title: str, time: Floats, traces: list[_Trace], marks: list[float], limit: tuple[float, str] | None
) -> str:
    values = np.concatenate([t.values for t in traces] + ([np.array([limit[0]])] if limit else []))
    low, high = min(float(values.min()), 0.0), float(values.max())
    if high - low < 1e-6:
        high = low + 1.0
    end = max(float(time[-1]), 1.0)

    def x(t: float) -> float:
        return _LEFT + (_WIDE - _LEFT - 8.0) * t / end

    def y(v: float) -> float:
        return _ABOVE + (_TALL - _ABOVE - _BELOW) * (high - v) / (high - low)

    parts = [
        f'<svg viewBox="0 0 {_WIDE:.0f} {_TALL:.0f}" role="img" aria-label="{escape(title)} against time">'
    ]
    parts += [
        f'<line class="grid" x1="{_LEFT:.0f}" x2="{_WIDE - 8:.0f}" y1="{y(v):.1f}" y2="{y(v):.1f}"/>'
        f'<text x="{_LEFT - 6:.0f}" y="{y(v) + 4:.1f}" text-anchor="end">{v:g}</text>'
        for v in _steps(low, high, 4)
    ]
    parts += [
        f'<text x="{x(t):.1f}" y="{_TALL - 5:.0f}" text-anchor="middle">{t:g} s</text>'
        for t in _steps(0.0, end, 8)
    ]
    parts += [
        f'<line class="mark" x1="{x(t):.1f}" x2="{x(t):.1f}" y1="{_ABOVE:.0f}" y2="{_TALL - _BELOW:.0f}"/>'
        for t in marks
    ]
    if limit is not None:
        parts.append(
            f'<line class="limit" x1="{_LEFT:.0f}" x2="{_WIDE - 8:.0f}" y1="{y(limit[0]):.1f}" y2="{y(limit[0]):.1f}"/>'
            f'<text x="{_WIDE - 10:.0f}" y="{y(limit[0]) - 4:.1f}" text-anchor="end">{escape(limit[1])}</text>'
        )
    for trace, ink in zip(traces, _INKS, strict=False):
        points = " ".join(
            f"{x(t):.1f},{y(v):.1f}" for t, v in zip(time.tolist(), trace.values.tolist(), strict=True)
        )
        parts.append(f'<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="1.6"/>')
    return "".join([*parts, "</svg>"])


def _track(north: Floats, east: Floats, time: Floats) -> str:
    """The path over the ground, one scale both ways, with a bar to measure by."""
    wide = max(float(np.ptp(east)), 10.0)
    tall = max(float(np.ptp(north)), 10.0)
    scale = min((_WIDE - 60.0) / wide, 460.0 / tall)
    height = scale * tall + 60.0

    def at(n: float, e: float) -> tuple[float, float]:
        return 30.0 + scale * (e - float(east.min())), 30.0 + scale * (float(north.max()) - n)

    points = [at(n, e) for n, e in zip(north.tolist(), east.tolist(), strict=True)]
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dots = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="{_INKS[0]}"/>'
        f'<text x="{x + 5:.1f}" y="{y - 4:.1f}">{5 * k} s</text>'
        for k, (x, y) in enumerate(
            points[int(np.searchsorted(time, 5.0 * j))] for j in range(int(float(time[-1]) / 5.0) + 1)
        )
    )
    bar = next(b for b in (100.0, 50.0, 20.0, 10.0, 5.0, 2.0) if b * scale < _WIDE / 3 or b == 2.0)
    return (
        f'<svg viewBox="0 0 {_WIDE:.0f} {height:.0f}" role="img" aria-label="track over the ground">'
        f'<polyline points="{line}" fill="none" stroke="{_INKS[0]}" stroke-width="1.6"/>{dots}'
        f'<line class="limit" x1="30" x2="{30 + bar * scale:.1f}" y1="{height - 8:.0f}" y2="{height - 8:.0f}"/>'
        f'<text x="{36 + bar * scale:.1f}" y="{height - 4:.0f}">{bar:g} m</text></svg>'
    )
