"""A body's edge among what is drawn about it: covers, sections, propeller blades, a fin's foot."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812
import rates

from sheetlark.trace import trace_picture
from sheetlark.trace.shapes.body import bridge
from sheetlark.trace.shapes.covers import find_cover
from sheetlark.trace.shapes.edges import DrawnEdge, drawn_edge, stations

LENGTH, PEN = 1000.0, 3.0


def _base(x: np.ndarray) -> np.ndarray:
    """A body's upper line, round at the nose. [mm]"""
    return np.asarray(
        60.0 * np.sqrt(np.clip(1.0 - (1.0 - np.clip(x / 100.0, 0, 1)) ** 2, 0, None)) - 0.03 * x
    )


def _edge(outer, *lines, covers=(), hidden=(0.0, 0.0), likely=None) -> DrawnEdge:
    """Follow an edge whose silhouette is `outer`, with pen strokes along it and along `lines` (x -> out or nan)."""
    x = stations(LENGTH)

    def ink(at: np.ndarray, out: np.ndarray) -> np.ndarray:
        on = np.zeros(at.shape)
        for line in (outer, *lines):
            z, slope = line(at), (line(at + 0.5) - line(at - 0.5)) / 1.0
            off = np.abs(out - z) / np.sqrt(1.0 + np.nan_to_num(slope) ** 2)
            on = np.maximum(on, np.clip(0.5 + 0.5 * PEN - off, 0.0, 1.0) * np.isfinite(z))
        return np.nan_to_num(on)

    shown = np.where((x > hidden[0]) & (x < hidden[1]), np.nan, outer(x))
    return drawn_edge(
        x, shown, np.full(x.size, -60.0), ink, length=LENGTH, pen_mm=PEN, covers=covers, likely=likely
    )


def test_a_line_drawn_on_under_a_cover_is_the_body() -> None:
    def cover(x):
        return _base(x) + 45.0 * np.sin(np.pi * np.clip((x - 300) / 180, 0, 1)) ** 0.7

    found = _edge(cover, _base)
    assert np.abs(found.out - _base(found.x))[found.x > 5].max() < 1.5
    assert found.seen[found.x > 5].all()


def test_a_cabin_with_a_section_drawn_in_it_is_the_body() -> None:
    def cabin(x):
        return _base(x) + np.interp(x, [270, 320, 400, 520], [0.0, 45.0, 40.0, 0.0])

    def section(x):
        inside = (x > 310) & (x < 490)
        return np.where(
            inside, _base(x) - 14.0 * np.sqrt(np.clip((x - 310) * (490 - x), 0, None)) / 90, np.nan
        )

    found = _edge(cabin, section)
    assert np.abs(found.out - cabin(found.x))[found.x > 5].max() < 4.0


def test_a_section_that_hides_the_body_is_bridged() -> None:
    """A tapered section leaves the body's line at four degrees: a kink no sharper than many a body's own."""

    def section(x):
        return np.where(
            (x > 400) & (x < 700), _base(x) + np.interp(x, [400, 690, 700], [-25.0, 20.0, 20.0]), np.nan
        )

    def silhouette(x):
        return np.fmax(_base(x), section(x))

    x = stations(LENGTH)
    found = _edge(silhouette, covers=((section(x), section(x) - 30.0),))
    out = bridge(found.x, found.out, found.seen)
    assert np.abs(out - _base(x))[x > 5].max() < 2.5


def test_blades_across_a_round_nose_are_not_followed() -> None:
    def blade(x):
        return np.where(x < 18.0, 50.0, np.nan)

    found = _edge(lambda x: np.fmax(_base(x), np.nan_to_num(blade(x), nan=-99.0)), _base)
    assert np.abs(found.out - _base(found.x))[found.x > 3].max() < 2.5


def test_a_hidden_stretch_goes_on_in_the_edges_direction() -> None:
    """Its ends were once averaged across the gap, which made a step at both."""
    x = stations(LENGTH)
    line = 50.0 - 0.1 * x
    seen = (x < 400.0) | (x > 600.0)
    assert np.abs(bridge(x, np.where(seen, line, 0.0), seen) - line).max() < 1e-6


@pytest.mark.parametrize("drop", [0.0, 12.0])
def test_a_tilted_section_is_found(drop: float) -> None:
    t = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 200))
    y = 300.0 * 0.1 * 5.0 * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1036 * t**4)
    up, down = 20.0 - drop * t + y, 20.0 - drop * t - 0.6 * y

    def ink(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        u, d = (np.interp(x, 400.0 + 300.0 * t, v, left=np.nan, right=np.nan) for v in (up, down))
        off = np.minimum(np.abs(z - u), np.abs(z - d))
        body = np.minimum(np.abs(z - 55.0), np.abs(z + 50.0))
        return np.nan_to_num(np.clip(0.5 + 0.5 * PEN - np.fmin(off, body), 0.0, 1.0))

    where = {
        "lead": (390.0, 410.0),
        "trail": (690.0, 710.0),
        "heights": (-100.0, 100.0),
        "span": 1000.0,
        "pen": PEN,
    }
    found = find_cover(ink, **where)
    assert found is not None
    top, bottom = found.lines(np.array([450.0, 550.0, 650.0]))
    assert np.abs(top - np.interp([450, 550, 650], 400 + 300 * t, up)).max() < 5.0
    assert np.abs(bottom - np.interp([450, 550, 650], 400 + 300 * t, down)).max() < 5.0
    assert find_cover(lambda x, z: ink(x + 5000.0, z), **where) is None


@pytest.mark.parametrize("closed", [True, False])
def test_a_plank_is_a_section_where_both_its_ends_are_closed(closed: bool) -> None:
    """Level lines 16 apart from 400 to 700, and a body's edge that crosses them."""

    def ink(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        along = np.where((x > 400.0) & (x < 700.0), np.abs(np.abs(z - 18.0) - 8.0), 99.0)
        ends = np.where(np.abs(z - 18.0) < 8.0, np.minimum(np.abs(x - 400.0), np.abs(x - 700.0)), 99.0)
        body = np.abs(z - 0.09 * (x - 400.0))
        off = np.minimum(np.minimum(along, body), ends if closed else 99.0)
        return np.clip(0.5 + 0.5 * PEN - off, 0.0, 1.0)

    found = find_cover(
        ink, lead=(385.0, 415.0), trail=(685.0, 715.0), heights=(-100.0, 100.0), span=1000.0, pen=PEN
    )
    if not closed:
        assert found is None
        return
    assert found is not None
    assert np.abs(np.array([found.lead, found.trail]) - (400.0, 700.0)).max() < 2.0
    top, bottom = found.lines(np.array([450.0, 650.0]))
    assert np.abs(top - 26.0).max() < 1.5
    assert np.abs(bottom - 10.0).max() < 1.5


@pytest.mark.parametrize(
    ("seed", "kind", "part", "view"),
    [
        (7007, "monoplane", "body", "side"),  # no line under the fin, a tailplane's section close above it
        (7014, "monoplane", "body", "side"),  # a stern post in the body, no hinge above it
        (7021, "delta", "body", "side"),  # a rudder's foot without a post
        (7017, "delta", "body", "side"),  # a trailing edge that pokes out below and hides the body
        (7008, "delta", "body", "side"),  # the same, and a rudder's hinge above a body that goes on
        (7004, "delta", "body", "top"),  # the body drawn across the wing
    ],
)
def test_the_body_is_told_from_what_crosses_it(
    tmp_path: Path, seed: int, kind: str, part: str, view: str
) -> None:
    drawn = C.draw(seed, kind, "clean")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    case = rates.Case(
        image=Image.fromarray(drawn.image),
        span_mm=drawn.span_mm,
        mm_per_px=drawn.scale_mm_per_px,
        truth=tuple(
            (o.part, o.name, o.view, o.points, o.uncounted)
            for o in drawn.outlines
            if (o.part, o.view) == (part, view)
        ),
    )
    fit = next(iter(rates.fits(case, found).values()))
    assert fit is not None
    assert fit.seen[0] < 0.006
    assert fit.seen[1] < 0.015


def test_of_two_inked_ways_the_likelier_is_taken() -> None:
    """Below a tailplane a rib goes straight on from where the body's edge begins to close, both inked all along."""

    def rib(x):
        return np.where(x > 830.0, _base(830.0), np.nan)

    def body(x):
        return np.where(x < 830.0, _base(x), _base(830.0) * np.sqrt(np.clip((1010.0 - x) / 180.0, 0.0, 1.0)))

    x = stations(LENGTH)
    found = _edge(body, rib, hidden=(820.0, 1001.0), likely=np.where(x > 820.0, body(x), np.nan))
    assert np.abs(found.out - body(found.x))[(found.x > 5) & (found.x < 980)].max() < 2.0
    plain = _edge(body, rib, hidden=(820.0, 1001.0))
    assert np.abs(plain.out - body(plain.x))[plain.x > 900].max() > 5.0  # without it the straight way is
