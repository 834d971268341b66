"""Cut-outs in the middle of a wing's trailing edge, and what is none."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.stock import load_stock
from sheetlark.trace import design_from, trace_picture
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.cutout import with_cutout
from sheetlark.trace.shapes.surface import Surface
from sheetlark.trace.starting.design_parts import points_of

sys.path.insert(0, str(Path(__file__).parent))
from made import ink_of

SPAN, CHORD, PEN = 1000.0, 160.0, 2.0
LEAD, TRAIL = 200.0, 360.0
BODY = Body(
    x=np.linspace(0.0, 700.0, 141), low=np.full(141, -45.0), high=np.full(141, 45.0), seen=np.ones(141)
)


def _wing() -> Surface:
    y = np.linspace(0.0, 500.0, 220)
    return Surface(
        station=y,
        lead=np.full(220, LEAD),
        trail=np.full(220, TRAIL),
        lead_root=0.0,
        trail_root=0.0,
        asymmetry=0.0,
    )


def _round(wide: float, deep: float) -> list[tuple[float, float]]:
    turn = np.linspace(0.0, np.pi / 2, 40)
    return [(TRAIL - deep * np.sin(a), wide * np.cos(a)) for a in turn]


SIDES = [(0.0, 45.0), (700.0, 45.0)]


@pytest.mark.parametrize(
    "cut",
    [
        _round(70.0, 50.0),
        _round(30.0, 45.0),
        _round(50.0, 38.0),
        [(TRAIL, 60.0), (TRAIL - 50, 60.0), (TRAIL - 50, 0.0)],
        [(TRAIL, 80.0), (TRAIL - 40, 50.0), (TRAIL - 40, 0.0)],
        [(TRAIL, 56.0), (TRAIL - 50, 56.0), (TRAIL - 50, 0.0)],
    ],
    ids=["round", "narrower than the body", "hardly wider", "square", "slanted", "close to the body's side"],
)
@pytest.mark.parametrize("above", [True, False], ids=["over the body", "body's lines through"])
def test_a_drawn_cutout_is_the_wings_edge(cut: list[tuple[float, float]], above: bool) -> None:
    sides = [[(0.0, 45.0), (LEAD, 45.0)], [(TRAIL, 45.0), (700.0, 45.0)]] if above else [SIDES]
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, cut[0][1]), (TRAIL, 500.0)]]
    got = with_cutout(_wing(), BODY, ink_of([*edges, cut, *sides], PEN, mirrored=True), span=SPAN, pen_mm=PEN)
    true = shapely.LineString(cut)
    middle = got.station < cut[0][1] - PEN
    places = shapely.points(np.c_[got.trail[middle], got.station[middle]])
    # hardly wider than the body, its wall and the body's side are one blot
    most = 6.0 if cut[0][1] == 50.0 else 3.0
    assert shapely.distance(places, true).max() < most
    along = true.interpolate(np.linspace(0.0, true.length, 50))
    found = shapely.LineString(np.c_[got.trail, got.station])
    assert max(p.distance(found) for p in along) < most
    assert got.trail[got.station > cut[0][1] + PEN] == pytest.approx(TRAIL)


def test_a_cutout_begins_where_the_wings_edge_stops_not_at_a_cockpit_seen_through_it() -> None:
    cut = [(TRAIL, 76.0), (TRAIL - 59.0, 76.0), (TRAIL - 59.0, 0.0)]
    turn = np.linspace(0.0, 2.0 * np.pi, 90)
    cockpit = np.c_[TRAIL - 11.0 + 23.0 * np.cos(turn), 23.0 * np.sin(turn)]
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, 76.0), (TRAIL, 500.0)]]
    ink = ink_of([*edges, cut, SIDES, cockpit], 0.5 * PEN, mirrored=True)
    got = with_cutout(_wing(), BODY, ink, span=SPAN, pen_mm=0.5 * PEN)
    assert got.trail[got.station < 74.0] == pytest.approx(TRAIL - 59.0, abs=3.0)
    assert got.trail[got.station > 77.0] == pytest.approx(TRAIL)


def test_of_a_wall_and_the_bodys_side_within_it_the_wall_is_the_cutouts() -> None:
    """Both drawn with a wide pen, ribs on the wing beside them."""
    pen, wall = 3.0 * PEN, 44.0
    cut = [(TRAIL, wall), (TRAIL - 42.0, wall), (TRAIL - 42.0, 0.0)]
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, wall), (TRAIL, 500.0)]]
    ribs = [[(LEAD, y), (TRAIL, y)] for y in (90.0, 130.0)]
    sides = [(0.0, 28.0), (700.0, 28.0)]
    body = replace(BODY, low=np.full(141, -28.0), high=np.full(141, 28.0))
    ink = ink_of([*edges, cut, sides, *ribs], pen, mirrored=True)
    got = with_cutout(_wing(), body, ink, span=SPAN, pen_mm=pen)
    assert got.trail[got.station < 24.0] == pytest.approx(TRAIL - 42.0, abs=4.0)
    assert got.trail[got.station > wall + pen] == pytest.approx(TRAIL)


def _cockpit(at: float, long: float, wide: float) -> np.ndarray:
    turn = np.linspace(0.0, 2.0 * np.pi, 90)
    return np.c_[at + long * np.cos(turn), wide * np.sin(turn)]


@pytest.mark.parametrize(
    "through",
    [
        [[(TRAIL - 35.0, 0.0), (TRAIL - 35.0, 500.0)]],
        [_cockpit(TRAIL - 55.0, 30.0, 20.0)],
        [[(TRAIL - 35.0, 0.0), (TRAIL - 35.0, 500.0)], _cockpit(TRAIL - 38.0, 28.0, 22.0)],
    ],
    ids=["the lower wing's edge", "a cockpit's rim", "both"],
)
def test_a_round_cutouts_line_goes_straight_on_where_others_drawn_through_cross_it(
    through: list[list[tuple[float, float]]],
) -> None:
    cut = _round(60.0, 50.0)
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, 60.0), (TRAIL, 500.0)]]
    ink = ink_of([*edges, cut, SIDES, *through], PEN, mirrored=True)
    got = with_cutout(_wing(), BODY, ink, span=SPAN, pen_mm=PEN)
    middle = got.station < 58.0
    places = shapely.points(np.c_[got.trail[middle], got.station[middle]])
    assert shapely.distance(places, shapely.LineString(cut)).max() < 3.0
    assert got.trail[0] == pytest.approx(TRAIL - 50.0, abs=3.0)


def test_a_cutouts_line_may_be_bare_for_a_little_where_a_hatching_runs_into_it() -> None:
    turn = np.radians(np.arange(0.0, 90.1, 0.25))
    drawn = (np.degrees(turn) % 18.0 < 4.0) | (np.degrees(turn) % 18.0 > 7.8)  # bare a fifth of the way
    arc = np.c_[TRAIL - 50.0 * np.sin(turn), 70.0 * np.cos(turn)]
    pieces = [
        arc[s] for s in np.split(np.arange(turn.size), np.flatnonzero(np.diff(drawn)) + 1) if drawn[s[0]]
    ]
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, 70.0), (TRAIL, 500.0)]]
    ink = ink_of([*edges, *pieces, SIDES], 0.5 * PEN, mirrored=True)
    got = with_cutout(_wing(), BODY, ink, span=SPAN, pen_mm=0.5 * PEN)
    assert got.trail[0] == pytest.approx(TRAIL - 50.0, abs=3.0)
    assert got.trail[got.station > 72.0] == pytest.approx(TRAIL)


@pytest.mark.parametrize(
    ("wide", "deep", "half", "further", "pen", "cockpit"),
    [
        (51.0, 37.0, (50.0, 54.0), 105.0, 4.0, None),
        (58.0, 41.0, (50.0, 51.0), 105.0, 3.0, None),
        (53.0, 36.0, (47.0, 48.0), 75.0, 4.0, (3.0, 22.0, 14.0)),
        (46.0, 35.0, (33.0, 36.0), 105.0, 5.0, (0.0, 35.0, 25.0)),
    ],
)
def test_a_round_cutout_goes_on_across_the_body_not_along_its_side_to_a_line_further_forward(
    wide: float,
    deep: float,
    half: tuple[float, float],
    further: float,
    pen: float,
    cockpit: tuple[float, float, float] | None,
) -> None:
    """half : the body's half width at the wing's edge and 120 mm ahead; further : how far ahead an edge below lies."""
    x = np.linspace(0.0, 700.0, 141)
    side = np.interp(x, [TRAIL - 120.0, TRAIL], half[::-1])
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, wide), (TRAIL, 500.0)]]
    through: list[list[tuple[float, float]] | np.ndarray] = [
        [(TRAIL - further, 0.0), (TRAIL - further, 500.0)]
    ]
    if cockpit is not None:
        through.append(_cockpit(TRAIL - cockpit[0], *cockpit[1:]))
    ink = ink_of([*edges, _round(wide, deep), np.c_[x, side], *through], pen, mirrored=True)
    got = with_cutout(_wing(), replace(BODY, low=-side, high=side), ink, span=SPAN, pen_mm=pen)
    assert got.trail[0] == pytest.approx(TRAIL - deep, abs=3.0)


def test_a_cutouts_line_may_be_bare_as_far_as_lines_that_slant_through_it_hide_it() -> None:
    turn = np.radians(np.arange(0.0, 90.1, 0.25))
    bare = np.any([(turn > np.radians(a)) & (turn < np.radians(b)) for a, b in ((25, 32.5), (36, 43.5))], 0)
    arc = np.c_[TRAIL - 54.0 * np.sin(turn), 70.0 * np.cos(turn)]
    runs = np.split(np.arange(turn.size), np.flatnonzero(np.diff(bare)) + 1)
    edges = [[(LEAD, 0.0), (LEAD, 500.0)], [(TRAIL, 70.0), (TRAIL, 500.0)]]
    pieces = [arc[run] for run in runs if not bare[run[0]]]
    got = with_cutout(
        _wing(), BODY, ink_of([*edges, *pieces, SIDES], PEN, mirrored=True), span=SPAN, pen_mm=PEN
    )
    assert got.trail[0] == pytest.approx(TRAIL - 54.0, abs=3.0)


@pytest.mark.parametrize(
    "lines",
    [
        [[(TRAIL, 0.0), (TRAIL, 500.0)], SIDES],
        [[(TRAIL, 45.0), (TRAIL, 500.0)], SIDES, [(TRAIL - 60, 45.0), (TRAIL - 60, 0.0)]],
        [[(TRAIL, 45.0), (TRAIL, 500.0)], SIDES, _round(22.0, 60.0)],
        [[(TRAIL, 45.0), (TRAIL, 500.0)], SIDES, [(TRAIL, 22.0), (TRAIL - 60, 18.0), (TRAIL - 70, 0.0)]],
        [[(TRAIL, 70.0), (TRAIL, 500.0)], SIDES],
        [[(TRAIL, 0.0), (TRAIL, 500.0)], _round(70.0, 50.0)],
        [
            [
                (TRAIL, 500.0),
                (TRAIL, 95.0),
                *((TRAIL - 20 * (1 - y / 95) ** 2, y) for y in np.arange(90.0, -1.0, -5.0)),
            ]
        ],
        [
            [(TRAIL, 62.0), (TRAIL, 500.0)],
            [(TRAIL, 62.0), (TRAIL - 6.0, 60.0), (TRAIL - 8.0, 0.0)],
            [(TRAIL - 8.0, 20.0), (TRAIL - 60.0, 60.0), (TRAIL - 60.0, 0.0)],
        ],
    ],
    ids=[
        "edge through",
        "a low wing, a line across the body",
        "a low wing, a round canopy on the body",
        "a low wing, a square one",
        "a gap in the edge",
        "a line inside the wing",
        "a curved edge",
        "lines that go inward and out again",
    ],
)
def test_what_is_no_cutout_leaves_the_wing(lines: list[list[tuple[float, float]]]) -> None:
    wing = _wing()
    assert with_cutout(wing, BODY, ink_of(lines, PEN, mirrored=True), span=SPAN, pen_mm=PEN) is wing


def _parasol(path: Path, *, hatched: bool = False) -> None:
    """A wing on struts with a round cut-out, drawn over the body; side and front view beneath.

    hatched : with finer lines close together all over the wing, which then are most of the sheet's ink.
    """
    sheet = Image.new("L", (1150, 1500), 255)
    pen = ImageDraw.Draw(sheet)

    def draw(points: np.ndarray, x: float, y: float) -> None:
        pen.polygon([(float(a + x), float(b + y)) for a, b in points], outline=0, fill=255, width=3)

    def mirrored(half: np.ndarray) -> np.ndarray:
        return np.vstack([half, half[::-1] * (-1.0, 1.0)])

    body = np.array([(30.0, 0.0), (45.0, 150.0), (35.0, 350.0), (6.0, 690.0)])
    tail = np.array([(0.0, 600.0), (170.0, 615.0), (170.0, 690.0), (0.0, 690.0)])
    turn = np.linspace(np.pi / 2, 0.0, 30)
    cut = np.c_[75.0 * np.cos(turn), 310.0 - 55.0 * np.sin(turn)]
    wing = np.vstack([[(0.0, 150.0), (500.0, 150.0), (500.0, 310.0)], cut[::-1]])
    for half in (body, tail, wing):
        draw(mirrored(half), 560.0, 40.0)
    for k in range(-150, 940, 9) if hatched else ():
        (line,) = shapely.get_parts(
            shapely.intersection(
                shapely.LineString([(k - 500.0, 150.0), (k - 340.0, 310.0)]),
                shapely.Polygon(mirrored(wing)).buffer(-3.0),
            )
        )[:1] or (shapely.LineString(),)
        if not line.is_empty:
            pen.line([(x + 560.0, y + 40.0) for x, y in line.coords], fill=0, width=1)
    side = np.array(
        [
            (0.0, -25.0),
            (150.0, -45.0),
            (350.0, -40.0),
            (690.0, -12.0),
            (690.0, 8.0),
            (200.0, 45.0),
            (0.0, 30.0),
        ]
    )
    draw(np.array([(570.0, -20.0), (610.0, -120.0), (680.0, -120.0), (690.0, -10.0)]), 200.0, 1000.0)
    draw(side, 200.0, 1000.0)
    section = np.c_[150.0 + 160.0 * np.linspace(0, 1, 30), 9.0 * np.sin(np.pi * np.linspace(0, 1, 30) ** 0.6)]
    draw(np.vstack([section * (1, -1), section[::-1]]) + (0.0, -100.0), 200.0, 1000.0)
    for x in (190.0, 260.0):
        pen.line((200 + x, 1000 - 92, 200 + x, 1000 - 42), fill=0, width=3)
    pen.rectangle((557, 1350 - 120, 563, 1350), outline=0, fill=255, width=2)
    pen.ellipse((560 - 45, 1350 - 45, 560 + 45, 1350 + 45), outline=0, fill=255, width=3)
    pen.rectangle((60, 1350 - 107, 1060, 1350 - 93), outline=0, fill=255, width=3)
    for x in (-25, 25):
        pen.line((560 + x, 1350 - 92, 560 + x, 1350 - 36), fill=0, width=3)
    sheet.save(path)


def test_a_cutout_under_hatching_is_as_wide_a_stroke_as_the_outlines(tmp_path: Path) -> None:
    _parasol(tmp_path / "parasol.png", hatched=True)
    wing = trace_picture(tmp_path / "parasol.png", span_m=1.0).outline("wing", "top")
    assert wing is not None
    assert wing.filled_path
    depth = [points_of(path)[-1, 0] for path in (wing.filled_path, wing.half_path)]
    assert depth[0] - depth[1] == pytest.approx(55.0, abs=2.0)


def test_a_starting_design_fills_the_cutout_unless_that_is_refused(tmp_path: Path) -> None:
    _parasol(tmp_path / "parasol.png")
    tracing = trace_picture(tmp_path / "parasol.png", span_m=1.0)
    wing = tracing.outline("wing", "top")
    assert wing is not None
    assert wing.filled_path
    depth = [points_of(path)[-1, 0] for path in (wing.filled_path, wing.half_path)]
    assert depth[0] - depth[1] == pytest.approx(55.0, abs=2.0)

    taken, refused = (design_from(tracing, refuse=r) for r in ((), ("filled-cut-out",)))
    said = [next(p for p in d.proposals if p.id == "filled-cut-out") for d in (taken, refused)]
    assert [p.taken for p in said] == [True, False]
    more = 0.25 * np.pi * 2 * 75.0 * 55.0 / (1000.0 * 160.0 - 0.5 * np.pi * 75.0 * 55.0)
    told = re.search(r"(\d+\.\d) % more wing", said[0].worth)
    assert told is not None
    assert float(told.group(1)) == pytest.approx(100 * more, abs=0.4)
    areas = [airframe(loads(d.toml), load_stock()).reference.area_m2 for d in (taken, refused)]
    assert areas[0] / areas[1] - 1.0 == pytest.approx(more, abs=0.004)
