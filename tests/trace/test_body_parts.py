"""The starting design's body follows the drawn one by few stations."""

from __future__ import annotations

import re
import tomllib
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from sheetlark.trace import Tracing
from sheetlark.trace.starting.body_parts import (
    CLOSE,
    LEAST_WIDTH_MM,
    MOST_STATIONS,
    Widths,
    body_lines,
    faced,
    fewest,
    flat_sides,
    profile_of,
)

SPAN, LENGTH = 760.0, 600.0


def _ring(edge: list[tuple[float, float]]) -> np.ndarray:
    """A closed outline from its upper edge, the lower one its mirror image."""
    e = np.array(edge)
    return np.vstack([e, e[::-1] * [1.0, -1.0], e[:1]])


def _path(ring: np.ndarray) -> str:
    return "M " + " L ".join(f"{x:.3f},{y:.3f}" for x, y in ring) + " Z"


def _tracing(top: np.ndarray | None) -> Tracing:
    """All that the body's lines ask of a tracing."""
    outline = None if top is None else SimpleNamespace(path=_path(top))
    return cast("Tracing", SimpleNamespace(span_mm=SPAN, outline=lambda *_: outline))


def _read(lines: list[str]) -> dict[str, Any]:
    body: dict[str, Any] = tomllib.loads("\n".join(lines))["body"]
    return body


def _edges(body: dict[str, Any]) -> np.ndarray:
    """(x, low, high) of a body's profile."""
    points = np.array(
        [[float(v) for v in p.split()] for p in re.split("[MLZ]", body["profile"]) if p.strip()]
    )
    half = len(points) // 2
    assert points[:half, 0] == pytest.approx(points[half:][::-1, 0])
    return np.column_stack([points[:half], points[half:][::-1, 1]])[:, [0, 2, 1]]


BLUNT = _ring([(0, 12), (30, 50), (580, 55), (597, 50), (600, 5)])
# a cockpit's cover between two of any evenly spread stations
HUMPED = _ring([(0, 16), (60, 30), (300, 30), (320, 52), (350, 52), (375, 30), (600, 6)])


@pytest.mark.parametrize("ring", [BLUNT, HUMPED], ids=["blunt stern", "cover"])
def test_the_profile_keeps_near_the_drawing_up_to_its_stern(ring: np.ndarray) -> None:
    body = _read(body_lines(_tracing(ring), ring, flat=True))
    edges = _edges(body)
    x = np.linspace(0.1 * LENGTH, 0.97 * LENGTH, 300)
    upper = ring[: len(ring) // 2]
    drawn = np.interp(x, upper[:, 0], upper[:, 1])
    assert np.abs(np.interp(x, edges[:, 0], edges[:, 2]) - drawn).max() < 0.005 * SPAN
    assert np.abs(np.interp(x, edges[:, 0], edges[:, 1]) + drawn).max() < 0.005 * SPAN
    assert len(edges) <= MOST_STATIONS
    assert edges[-1, 0] == pytest.approx(LENGTH)
    assert np.diff(edges[:, 0]).min() > 0.9 * CLOSE * LENGTH


def test_a_blunt_end_is_cut_square_and_a_pointed_one_is_not() -> None:
    square = profile_of(BLUNT, SPAN, pusher=False)
    assert square[-1, 2] > 30.0
    assert square[-1, 1] < -30.0
    pointed = profile_of(HUMPED, SPAN, pusher=False)
    assert pointed[-1, 2] == pytest.approx(6.0, abs=0.3)
    x = np.linspace(0.0, 100.0, 101)
    fall = np.where(x < 97.0, 40.0, 40.0 - 20.0 * (x - 97.0))
    end = faced(x, fall)
    assert end[-1] == pytest.approx(37.0)  # 45 degrees from where it begins to fall
    assert faced(x, 40.0 - 0.3 * x) == pytest.approx(40.0 - 0.3 * x)


def test_a_pusher_holds_its_motor_at_the_tail() -> None:
    body = _read(body_lines(_tracing(HUMPED), HUMPED, flat=True, pusher=True))
    assert body["width"][-1][1] == pytest.approx(40.0)
    edges = _edges(body)
    assert np.ptp(edges[-1, 1:]) == pytest.approx(30.0)
    assert body["former"][-1]["at"] == pytest.approx(LENGTH - 8.0)


def test_flat_sides_say_how_far_they_depart() -> None:
    """Straight tapers need two bends and lose nothing; what is round between loses what the words say."""
    tapered = _ring([(0, 20), (30, 20), (300, 60), (600, 10)])
    assert flat_sides(_tracing(tapered), tapered, pusher=False)[0] == 2
    assert flat_sides(_tracing(tapered), tapered, pusher=False)[1] < 1.0
    x = np.linspace(0.0, LENGTH, 61)
    round_ = _ring(list(zip(x, 20.0 + 50.0 * np.sin(np.pi * x / LENGTH), strict=True)))
    body = _read(body_lines(_tracing(round_), round_, flat=True))
    bends, off = flat_sides(_tracing(round_), round_, pusher=False)
    across = np.array(body["width"])
    assert len(across) == bends + 2
    full = np.maximum(2.0 * (20.0 + 50.0 * np.sin(np.pi * x / LENGTH)), LEAST_WIDTH_MM)
    assert np.abs(np.interp(x, across[:, 0], across[:, 1]) - full).max() == pytest.approx(off, abs=0.6)
    curved = np.array(_read(body_lines(_tracing(round_), round_, flat=False))["width"])
    assert np.abs(np.interp(x, curved[:, 0], curved[:, 1]) - full).max() < 0.5 * off


def test_without_a_view_from_above_it_has_a_usual_width() -> None:
    widths = Widths.of(_tracing(None), LENGTH, pusher=False)
    assert widths.full.min() >= LEAST_WIDTH_MM
    assert 50.0 < widths.full.max() < 80.0


def test_stations_stop_where_straight_lines_are_near_enough() -> None:
    x = np.linspace(0.0, 100.0, 101)
    bent = np.where(x < 40.0, x, 40.0)
    assert fewest(x, bent[:, None], [0, 100], 0.5, 9) == [0, 40, 100]
    assert len(fewest(x, np.sin(x / 4.0)[:, None], [0, 100], 1e-3, 6)) == 6
