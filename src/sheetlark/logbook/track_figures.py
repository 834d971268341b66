"""What a flight log says in a few figures, and how they stand against what was predicted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.logbook.tracks import Track


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackFigures:
    """A flight in a few figures; nan where the file does not tell.

    minutes : from lift-off to touch-down, as far as speed and height show it
    cruise_ms : median speed in flight. top_ms : reached for a second in all. slow_ms : least held for a second in all
    climb_ms : best over five seconds. height_m : highest above the start
    """

    minutes: float
    cruise_ms: float
    top_ms: float
    slow_ms: float
    climb_ms: float
    height_m: float
    through_air: bool


def figures(track: Track) -> TrackFigures:
    """The figures of a track: percentiles, so that single wild points do not count.

    It is taken to fly while faster than a third of its quick speed (95th percentile), or more than 3 m up.
    """
    t, v, h = track.time_s, track.speed_ms, track.height_m
    quick = float(np.nanpercentile(v, 95)) if np.isfinite(v).any() else math.nan
    with np.errstate(invalid="ignore"):
        flies = (v > quick / 3.0) | (h > 3.0)
    if not flies.any():
        flies = np.ones(t.size, dtype=bool)
    inside = np.flatnonzero(flies)
    span = slice(int(inside[0]), int(inside[-1]) + 1)
    t, v, h = t[span], v[span], h[span]
    step = float(np.median(np.diff(t))) if t.size > 1 else 1.0
    second = min(0.5, max(step, 1.0) / max(float(t[-1] - t[0]), 1.0))
    fast = v[np.isfinite(v)]
    climb = math.nan
    known = np.isfinite(h)
    if known.sum() > 3:
        at = np.arange(float(t[known][0]), float(t[known][-1]) - 5.0, 0.5)
        if at.size:
            rise = np.interp(at + 5.0, t[known], h[known]) - np.interp(at, t[known], h[known])
            climb = float(rise.max()) / 5.0
    return TrackFigures(
        minutes=float(t[-1] - t[0]) / 60.0,
        cruise_ms=float(np.median(fast)) if fast.size else math.nan,
        top_ms=float(np.quantile(fast, 1.0 - second)) if fast.size else math.nan,
        slow_ms=float(np.quantile(fast, second)) if fast.size else math.nan,
        climb_ms=climb,
        height_m=float(np.nanmax(h)) if known.any() else math.nan,
        through_air=track.through_air,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What was predicted, to hold a track against. [m/s], [min]."""

    stall_ms: float
    cruise_ms: float
    top_ms: float
    climb_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One figure of a track against the prediction."""

    quantity: str
    predicted: float
    found: float
    says: str


def against(found: TrackFigures, expected: Expected, *, wind_ms: float = 0.0) -> tuple[Held, ...]:
    """Hold a track against the prediction. A speed over the ground is only known to within the wind.

    Only what a track can tell is compared: the most of speed and climb is at least what it did, so less than predicted
    says nothing unless full throttle was held; more than predicted does.
    """
    slack = 0.0 if found.through_air else wind_ms
    rows = []
    for quantity, predicted, value, one_sided in (
        ("cruise", expected.cruise_ms, found.cruise_ms, False),
        ("top speed", expected.top_ms, found.top_ms, True),
        ("climb", expected.climb_ms, found.climb_ms, True),
    ):
        if not math.isfinite(value):
            continue
        off = value - predicted
        within = abs(off) <= slack + 0.1 * predicted
        if within:
            words = "as predicted" + (f", within the wind of {slack:.0f} m/s" if slack else "")
        elif one_sided and off < 0:
            words = "less than the model can do; it says something only if full throttle was held"
        else:
            words = f"{abs(off):.1f} m/s {'more' if off > 0 else 'less'} than predicted"
        rows.append(Held(quantity=quantity, predicted=predicted, found=value, says=words))
    return tuple(rows)
