"""Areas and mean aerodynamic chords against closed forms."""

import math

import pytest

from sheetlark.outline import chord_stations, half_planform, mean_chord, polygon, read_path

TRAPEZOID = "Trapezoidal wing: c = 2/3 Cr (1 + t + t²)/(1 + t), y = b/6 (1 + 2t)/(1 + t); D. P. Raymer, Aircraft Design, ch. 4"
ELLIPSE = "Ellipse: area pi a b, mean aerodynamic chord 8 c0 / (3 pi); any geometry handbook"


@pytest.mark.published
@pytest.mark.parametrize(
    ("root", "tip", "span", "sweep"),
    [(150, 150, 760, 0), (380, 120, 600, 40), (180, 60, 900, -10), (200, 2, 500, 55)],
)
def test_trapezoid(record_error, root, tip, span, sweep):
    half = half_planform(
        half_span_mm=span / 2, root_chord_mm=root, tip_chord_mm=tip, sweep_rad=math.radians(sweep)
    )
    points = half.sample()
    m = mean_chord(*chord_stations(points, "wing"))
    t = tip / root
    chord = 2 / 3 * root * (1 + t + t * t) / (1 + t)
    y = span / 6 * (1 + 2 * t) / (1 + t)
    exact = (0.25 * span * (root + tip), 0.25 * span * (root + tip), chord, y)
    got = (polygon(points, "wing").area, m.area, m.chord, m.station_y)
    name = f"trapezoid {root}/{tip} mm, {sweep} deg"
    record_error(
        case=f"{name}: area, chord, station", got=got, published=exact, tolerance=1e-6, source=TRAPEZOID
    )
    record_error(
        case=f"{name}: leading edge of the mean chord",
        got=m.leading_edge_x,
        published=y * math.tan(math.radians(sweep)),
        tolerance=1e-3,
        relative=False,
        source=TRAPEZOID,
    )


@pytest.mark.published
def test_ellipse(record_error):
    c0, b = 200.0, 800.0
    half = read_path(
        f"M 0 0 A {c0 / 2} {b / 2} 0 0 1 {c0 / 2} {b / 2} A {c0 / 2} {b / 2} 0 0 1 {c0} 0".replace(
            "0 0 1", "0 0 0"
        )
    )
    points = half.sample()
    area = polygon(points, "ellipse").area
    record_error(
        case="half ellipse: area",
        got=area,
        published=math.pi * c0 / 2 * b / 2 / 2,
        tolerance=5e-4,
        source=ELLIPSE,
    )
    m = mean_chord(*chord_stations(points, "ellipse"))
    record_error(
        case="half ellipse: mean chord",
        got=m.chord,
        published=8 * c0 / (3 * math.pi),
        tolerance=1e-3,
        source=ELLIPSE,
    )
    y = 4 * (b / 2) / (3 * math.pi)
    record_error(
        case="half ellipse: station of the mean chord (elliptic chord law)",
        got=m.station_y,
        published=y,
        tolerance=1e-3,
        source=ELLIPSE,
    )
