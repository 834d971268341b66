"""What is taken off the side view's body, and lines that graze it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage

from sheetlark.trace import trace_picture
from sheetlark.trace.paper.straight import Stroke, rub_out
from sheetlark.trace.shapes.body import Body, borne_out, fill_between, open_width, without_whiskers
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.fin import (
    drawn_root,
    fin_ring,
    find_fin,
    rudder_foot,
    with_dorsal,
    with_lead,
    without_tailplane,
)
from sheetlark.trace.shapes.post import step_up
from sheetlark.trace.shapes.side import _long_fin, find_body_side, top_ahead_of_fin
from sheetlark.trace.shapes.silhouette import over_breaks
from sheetlark.trace.shapes.surface import Surface

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
import drawing_b as B  # noqa: N812
import drawing_c as C  # noqa: N812
import judge as J  # noqa: N812
from made import fin_of, ink_of


def test_a_line_that_grazes_another_leaves_it_whole() -> None:
    """At 4 degrees both are one for some 50 pixels; rubbing one out must not open the other."""
    ink = np.zeros((200, 600), dtype=bool)
    ink[99:102] = True  # an outline's edge
    x = np.arange(20, 580)
    for k in (-1, 0, 1):
        ink[np.round(100 + (x - 300) * np.tan(np.radians(4.0)) + k).astype(int), x] = True
    a, b = ((float(t), 100 + (t - 300) * np.tan(np.radians(4.0))) for t in (20, 579))
    left = rub_out(ink, (Stroke(a=a, b=b, width_px=3.0, free_a=True, free_b=True),), pen_px=3.0)
    assert left[98:103].any(0).all()
    assert not left[:85].any()


def test_a_centre_line_is_rubbed_out_between_lines_it_crosses() -> None:
    """One ends a pixel lower on one side, the other is a pixel askew: they do not come from one side to the other."""
    ink = np.zeros((400, 200), dtype=bool)
    ink[40:120, 92:99] = ink[40:119, 99:108] = True  # a fin seen from above, all pen
    ink[250:256, 20:100] = ink[249:255, 100:180] = True
    ink[10:390, 99:102] = True
    stroke = Stroke(a=(100.0, 10.0), b=(100.0, 389.0), width_px=3.0, free_a=True, free_b=True)
    left = rub_out(ink, (stroke,), pen_px=6.0)
    assert not left[124:245].any()
    assert left[45:115, 92:108].all()
    assert left[250:254, 20:180].all()


@pytest.mark.parametrize("seed", [1, 2])
def test_a_biplanes_struts_are_no_part_of_the_body(tmp_path: Path, seed: int) -> None:
    plane = D.aeroplane(seed, "bi")
    file = tmp_path / "three-view.png"
    D.draw(plane, seed, pen=2.0, style="painter").image.save(file)
    o = trace_picture(file, span_m=0.76).outline("body", "side")
    assert o is not None
    mean, worst = J.apart(J.ring(o.path), plane.side["body"], shift=True)
    assert mean < 0.006 * 760.0
    assert worst < 0.015 * 760.0


@pytest.mark.parametrize("aft_foot", [330.0, 430.0])
def test_a_body_keeps_its_own_line_under_a_long_wing_that_struts_make_one_with_it(aft_foot: float) -> None:
    """A pod 100 deep and a boom 20 deep, 600 long; over two fifths of it stands a wing, all one silhouette.

    aft_foot : where the rear strut stands on the boom; it slants. [mm]
    """
    px, x = 0.5, np.linspace(0.0, 600.0, 601)
    pod = 50.0 * np.sqrt(np.clip(1.0 - ((x - 150.0) / 150.0) ** 2, 0.0, 1.0))
    half = np.maximum(pod, np.where(x > 200.0, 10.0, 0.0))
    picture = Image.new("L", (1320, 660), 0)
    pencil = ImageDraw.Draw(picture)

    def line(*points: tuple[float, float]) -> None:
        pencil.line([(60 + a / px, 440 - z / px) for a, z in points], fill=255, width=5, joint="curve")

    upper = list(zip(x.tolist(), half.tolist(), strict=True))
    line(*[(a, -z) for a, z in upper[::-1]], *upper, (600.0, -10.0))
    wing = [(130.0, 160.0), (160.0, 170.0), (380.0, 162.0), (160.0, 152.0), (130.0, 160.0)]
    line(*wing)
    line((165.0, 152.0), (165.0, 49.0))
    line((345.0, 160.0), (aft_foot, 10.0))
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)

    def ink(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        return np.asarray(ndimage.map_coordinates(dark, [440 - z / px, 60 + at / px], order=1))

    body = shapely.Polygon([(a, -z) for a, z in upper[::-1]] + upper)
    over = shapely.Polygon([(165.0, 0.0), (165.0, 160.0), (345.0, 160.0), (aft_foot, 0.0)])
    solid = shapely.union_all([body.buffer(0), over, shapely.Polygon(wing)])
    ring = np.array(shapely.segmentize(solid, 2.0).exterior.coords)[:-1]
    found = find_body_side(
        (ring,), 600.0, None, ink, pen_mm=2.5, roots=((130.0, 434.0), (500.0, 580.0)), span=1000.0
    )
    assert found is not None
    assert np.interp(x[20:560], found.x, found.high) == pytest.approx(half[20:560], abs=4.0)


def test_a_pen_round_a_grey_filling_does_not_widen_the_scale(tmp_path: Path) -> None:
    m = B.model(1204, "mono")
    how = B.habits(1204, "clean") | {"style": "shaded", "pen": 6.0, "width_px": 1400.0}
    page = B.draw(m, 1204, **how)
    file = tmp_path / "page.png"
    page.image.save(file)
    top = trace_picture(file, span_m=1.0).view("top")
    assert top is not None
    assert top.scale_mm_per_px == pytest.approx(page.mm_per_px, rel=0.005)


def test_a_fins_leading_edge_is_carried_down_to_the_body() -> None:
    """A tailplane's section across its foot hides the lower end; the edge may swerve just above it."""
    z = np.linspace(30.0, 150.0, 60)
    lead = 850.0 + 0.4 * (z - 10.0)
    lead[:2] += (9.0, 4.0)
    fin = fin_of(z, lead, 1000.0)
    x = np.linspace(0.0, 1000.0, 50)
    body = Body(x=x, low=np.full(50, -20.0), high=np.full(50, 10.0), seen=np.ones(50))
    ring = fin_ring(fin, body, 1000.0)
    foot = ring[np.abs(ring[:, 1] - 10.0) < 1e-6]
    assert foot[:, 0].min() == pytest.approx(850.0, abs=2.0)
    assert np.abs(ring[:60, 0] - 850.0 - 0.4 * (ring[:60, 1] - 10.0)).max() < 2.0


@pytest.mark.parametrize(
    ("foot", "low"),
    [
        ([(1060.0, 45.0), (1000.0, 8.0)], 8.0),
        ([(1060.0, 30.0), (1035.0, -20.0), (1000.0, -20.0)], -20.0),
        ([(1050.0, -45.0), (1000.0, -45.0)], -45.0),
    ],
    ids=["slanted up to the body's top", "cut away behind", "below the body"],
)
def test_a_rudders_lower_edge_is_as_drawn(foot: list[tuple[float, float]], low: float) -> None:
    """Behind the body, which ends in a post 30 mm high."""
    ahead = [(0.0, -60.0), (0.0, 60.0), (850.0, 10.0), (890.0, 150.0), (1060.0, 150.0)]
    ring = np.array([*ahead, *foot, (1000.0, -20.0)])
    z = np.linspace(30.0, 150.0, 60)
    found = find_fin((ring,), 1060.0, 40.0)
    assert found is not None
    x = np.linspace(0.0, 1000.0, 50)
    body = Body(x=x, low=np.full(50, -20.0), high=np.linspace(60.0, 8.0, 50), seen=np.ones(50))
    lower = rudder_foot((ring,), found, body, span=1000.0)
    drawn = shapely.LineString([(1060.0, 150.0), *foot])
    traced = shapely.LinearRing(fin_ring(found, body, 1000.0, foot=lower))
    along = [drawn.interpolate(d) for d in np.linspace(0.0, drawn.length, 60)]
    assert max(p.distance(traced) for p in along) < 4.0
    assert shapely.get_coordinates(traced)[:, 1].min() == pytest.approx(low, abs=2.0)
    whole = fin_of(z, 850.0, 1000.0)
    assert rudder_foot((ring,), whole, body, span=1000.0) is None  # it ends where the body does


def _led(*, higher: float, dark: float = 1.0, head: bool = True) -> float:
    """Leading edge at z = 80 of a fin found from its hinge aft, an edge drawn ahead of it as high as `higher`.

    head: the fin's upper edge is drawn from there to the hinge.
    """
    z = np.linspace(12.0, 150.0, 60)
    at = np.full(60, 950.0)
    fin = fin_of(z, at, at + 50.0)

    def ink(x: np.ndarray, up: np.ndarray) -> np.ndarray:
        broken = (up > 60.0) & (up < 72.0)
        edge = (np.abs(x - 850.0 - 0.3 * up) < 1.5) & (up < higher) & ~broken
        top = head & (np.abs(up - 150.0) < 1.5) & (x > 895.0)
        return np.where(edge, dark, (np.abs(x - 950.0) < 1.5) | top)

    found = with_lead(fin, ink, 1000.0, pen_mm=3.0)
    return float(np.interp(80.0, found.station, found.lead))


def test_a_fins_leading_edge_is_found_ahead_of_its_hinge() -> None:
    """A break in it opens the face between both, so that the silhouette begins at the hinge."""
    assert _led(higher=150.0) == pytest.approx(874.0, abs=2.0)
    assert _led(higher=260.0) == 950.0  # an extension line goes on above the fin
    assert _led(higher=150.0, dark=0.3) == 950.0  # a fold in the paper is fainter than what the pen drew
    assert _led(higher=150.0, head=False) == 950.0  # a strut ends at a wing, not at the fin's head


@pytest.mark.parametrize("datum", [0.0, 7.0, -7.0])
def test_a_datum_line_drawn_right_through_is_not_the_bodys_edge(datum: float) -> None:
    """It runs straight from nose to tail, where the body's own edge turns at a cowl's corners and hides under a wing."""
    x = np.array([0.0, 120.0, 121.0, 500.0, 1000.0])
    half = np.array([60.0, 60.0, 48.0, 48.0, 12.0])
    ring = np.vstack([np.c_[x, half], np.c_[x, -half][::-1]])

    def ink(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        edge = np.abs(np.abs(z) - np.interp(at, x, half)) < 1.5
        step = (np.abs(at - 120.5) < 1.5) & (np.abs(z) > 47.0) & (np.abs(z) < 61.0)
        hidden = (at > 220.0) & (at < 420.0) & (np.abs(z) > 30.0)
        line = (np.abs(z - datum) < 1.5) & (at > -40.0) & (at < 1040.0)
        return np.asarray((((edge & (at >= 0.0) & (at <= 1000.0)) | step) & ~hidden | line).astype(float))

    body = find_body_side((ring,), 1000.0, None, ink, pen_mm=3.0, span=1000.0)
    assert body is not None
    at = np.linspace(200.0, 950.0, 40)
    for edge, sign in ((body.high, 1.0), (body.low, -1.0)):
        assert np.abs(np.interp(at, body.x, edge) - sign * np.interp(at, x, half)).max() < 4.0


@pytest.mark.parametrize("filling", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("rooted", "plank"), [(True, 5.0), (False, 5.0), (False, 31.5)])
def test_a_fins_root_drawn_inside_the_body_is_its_own(rooted: bool, plank: float, filling: float) -> None:
    """A wire drawing's fin goes on 25 below the body's upper line; without its root a plank's upper side is none.

    Nor is one close below the body's upper line. Filling is none either: a clear tint shows the root's line, black
    hides it.
    """
    z = np.linspace(45.0, 150.0, 60)
    lead, trail = 820.0 + 0.5 * z, 960.0 + 0.1 * z
    fin = fin_of(z, lead, trail)
    x = np.linspace(0.0, 1000.0, 50)
    body = Body(x=x, low=np.full(50, -40.0), high=np.full(50, 40.0), seen=np.ones(50))
    drawn = [
        [(0, 40), (1000, 40)],
        [(0, -40), (1000, -40)],
        [(780, plank), (990, plank), (990, plank - 10), (780, plank - 10), (780, plank)],
    ]
    ends = [(820.0 + 0.5 * 15.0, 15.0), (960.0 + 0.1 * 15.0, 15.0)]
    if rooted:
        drawn.append([(895, 150), ends[0], ends[1], (975, 150)])
    else:
        drawn += [[(895, 150), (840, 40)], [(964, 40), (975, 150)]]
    lines = shapely.MultiLineString(drawn)
    solid = shapely.union(
        shapely.box(0.0, -40.0, 1000.0, 40.0), shapely.Polygon([(840, 40), (895, 150), (975, 150), (964, 40)])
    )

    def ink(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        places = shapely.points(a, b)
        line = np.clip(2.0 - shapely.distance(lines, places), 0.0, 1.0)
        return np.maximum(line, filling * shapely.intersects(solid, places))

    rooted = rooted and filling < 1.0
    root = drawn_root(fin, body, ink, span=900.0, pen_mm=3.0)
    low = fin_ring(fin, body, 900.0, root)[:, 1].min()
    assert low == pytest.approx(15.0 if rooted else 40.0, abs=2.0)
    if rooted:
        assert root is not None
        assert np.abs(root - np.array(ends)).max() < 3.0


def test_a_side_view_all_of_whose_length_stands_high_has_no_body() -> None:
    """Read the wrong way up, what lies aft of the fin's foot may be all there is at the body's height."""
    fin = fin_of(np.linspace(10.0, 60.0, 20), 5.0, 900.0)
    ring = np.array([[0.0, -40.0], [1000.0, -40.0], [1000.0, 40.0], [0.0, 40.0]])
    assert find_body_side((ring,), 1000.0, fin, lambda a, _: 0.0 * a, pen_mm=3.0, span=1000.0) is None


def _headed(section: bool, *, taper: float) -> Surface:
    """A fin 140 high with or without a tailplane's section, 10 thick and longer than the fin's head, across its head."""
    z = np.linspace(10.0, 150.0, 120)
    lead, trail = 850.0 + taper * z, np.full(120, 1000.0)
    if section:
        lead[z > 140.0] = 880.0
        trail[z > 140.0] = 1010.0
    return fin_of(z, lead, trail)


def test_a_tailplanes_section_on_a_fins_head_is_no_part_of_the_fin() -> None:
    fin = without_tailplane(_headed(True, taper=0.6), 1000.0)
    assert fin.station[-1] == pytest.approx(145.0, abs=1.5)
    assert fin.lead[-1] == pytest.approx(850.0 + 0.6 * 145.0, abs=2.0)
    assert fin.trail.max() == pytest.approx(1000.0, abs=0.5)


@pytest.mark.parametrize("taper", [0.0, 0.6])
def test_a_fin_without_a_tailplane_keeps_its_head(taper: float) -> None:
    plain = _headed(False, taper=taper)
    assert without_tailplane(plain, 1000.0) is plain
    round_ = np.sqrt(np.clip(1.0 - ((plain.station - 90.0) / 60.0).clip(0.0) ** 2, 0.0, None))
    rounded = fin_of(plain.station, 970.0 + (plain.lead - 970.0) * round_, 970.0 + 30.0 * round_)
    assert without_tailplane(rounded, 1000.0) is rounded


def test_a_line_beside_a_hidden_edge_is_not_the_edge() -> None:
    """A rib of the wing runs as the body does, but a sharp step joins it to the body's free edges."""
    x = stations(1000.0)
    free = (x < 300.0) | (x > 500.0)
    own = 50.0 + 8.0 * np.sin(np.pi * x / 1000.0)
    rib = np.where(free, own, 70.0)
    drawn = np.ones(x.size, dtype=bool)
    assert borne_out(free, drawn, x, own).all()
    assert not borne_out(free, drawn, x, rib)[(x > 310.0) & (x < 490.0)].any()
    stern = own * np.sqrt(np.clip(1.0 - np.clip((x - 900.0) / 100.0, 0.0, 1.0) ** 2, 0.0, 1.0))
    assert borne_out(
        (x < 500.0) | (x > 990.0), drawn, x, stern
    ).all()  # closes as steeply where it stands free


def test_hidden_width_is_never_blown_up() -> None:
    """A depth that is next to nothing where the width is last seen once gave widths of kilometres."""
    x = np.linspace(0.0, 800.0, 60)
    seen = np.asarray(x < 600.0, dtype=float)
    depth = np.c_[[0.0, 590.0, 591.0, 610.0, 800.0], [60.0, 50.0, 0.0, 0.0, 80.0]]
    got = fill_between(x, np.full(60, 30.0), seen, depth)
    assert got.max() < 40.0


def test_a_fin_s_strip_at_a_stern_s_shallow_end_tells_no_shape() -> None:
    """Below a tailplane the width narrows as the depth does; behind it a strip is seen where the depth has ended."""
    x = np.linspace(0.0, 800.0, 400)
    true = np.interp(x, [0.0, 500.0, 800.0], [30.0, 30.0, 2.0])
    depth = np.c_[[0.0, 500.0, 785.0, 800.0], [60.0, 60.0, 4.0, 0.0]]
    seen = (x < 600.0) | (x > 790.0)
    got = fill_between(x, np.where(x > 790.0, 5.0, true), np.asarray(seen, dtype=float), depth)
    hidden = ~seen
    assert np.abs(got - true)[hidden].max() < 4.0


def test_behind_the_silhouettes_end_no_width_is_seen() -> None:
    """The side view shows the body longer; the silhouette's own width at its end was seen all the way there."""
    ring = np.array([(0.0, -8.0), (250.0, -8.0), (250.0, 8.0), (0.0, 8.0)])
    x = np.linspace(0.0, 270.0, 541)
    _, seen = open_width((ring,), x, 400.0, None, None)
    assert seen[(x > 1.0) & (x < 249.0)].all()
    assert not seen[x > 251.0].any()


def test_a_line_that_touches_a_body_s_end_makes_no_whisker() -> None:
    """A propeller blade's rim at the nose, a fin's edge at the stern: less than a pen's width along the body."""
    x = np.linspace(0.0, 500.0, 2001)
    edge = np.where(x < 2.0, 60.0, np.where(x > 498.0, 90.0, 25.0 - 0.02 * x))
    got = without_whiskers(x, edge, 3.0)
    assert np.abs(got - (25.0 - 0.02 * x)).max() < 0.2
    cone = np.minimum(0.5 * x, 25.0)
    assert np.allclose(without_whiskers(x, cone, 3.0), cone)  # what narrows to an end stays


@pytest.mark.parametrize(("seed", "wear"), [(11, "clean"), (14, "mild")])
def test_x_begins_at_a_pointed_nose_and_behind_a_spinner(tmp_path: Path, seed: int, wear: str) -> None:
    d = C.draw(seed, "monoplane", wear)
    file = tmp_path / "page.png"
    Image.fromarray(d.image).save(file)
    o = trace_picture(file, span_m=d.span_mm / 1000.0).outline("wing", "top")
    assert o is not None
    true = next(t for t in d.outlines if t.part == "wing" and t.view == "top").points
    assert J.ring(o.path)[:, 0].max() == pytest.approx(float(true[:, 0].max()), abs=0.004 * d.span_mm)


def test_a_body_ends_where_the_silhouette_steps_up_to_a_tailplane():
    x = np.linspace(0.0, 500.0, 800)
    high = np.full_like(x, 12.0)
    tapered = np.interp(x, [0.0, 500.0], [-40.0, 0.0])
    assert step_up(x, tapered, high, 500.0) == 500.0
    stepped = np.where(x > 480.0, 9.0, tapered)
    assert step_up(x, stepped, high, 500.0) == pytest.approx(480.0, abs=1.0)
    head = np.where(x > 496.5, 90.0 + 10.0 * (x - 496.5), tapered)  # a fin's head overhangs a thin stern
    assert step_up(x, head, high, 500.0) == pytest.approx(496.5, abs=1.0)
    round_ = np.where(
        x > 480.0, tapered + 3.0 * (x - 480.0), tapered
    )  # a round stern, the fin's edge goes on from it
    assert step_up(x, round_, high, 500.0, overhung=True) == pytest.approx(484.7, abs=1.0)
    blunt = np.where(x > 496.0, -3.0 + 2.0 * (x - 496.0), tapered)  # rises fast, but not above the body
    assert step_up(x, blunt, high, 500.0) == 500.0
    dent = np.where((x > 440.0) & (x < 450.0), 9.0, tapered)  # what comes down again is no end
    assert step_up(x, dent, high, 500.0) == 500.0


def test_lettering_that_stands_clear_above_a_fin_is_no_part_of_it() -> None:
    """The side view is 1000 mm long, its fin 120 mm high; a word 40 mm above that is a ring of its own."""
    view = np.array(
        [(0, 0), (200, 60), (860, 20), (900, 120), (970, 120), (1000, -10), (200, -60)], dtype=np.float64
    )
    word = np.array([(900, 160), (990, 160), (990, 185), (900, 185)], dtype=np.float64)
    fin = find_fin((view, word), 1000.0, 40.0)
    alone = find_fin((view,), 1000.0, 40.0)
    assert fin is not None
    assert alone is not None
    assert fin.station[-1] == alone.station[-1] == 120.0


@pytest.mark.parametrize("rise", [0.0, 0.2])
def test_a_straight_strip_ahead_of_a_fin_is_the_fins(rise: float) -> None:
    """A body 1000 mm long with a straight back; the strip begins 700 mm aft, the fin's own edge at 850 mm."""
    foot = 40.0 + 150.0 * rise
    view = np.array(
        [(0, 0), (200, 40), (700, 40), (850, foot), (900, 150), (980, 150), (1000, 0), (200, -60)], float
    )
    z = np.linspace(foot, 150.0, 60)
    lead = np.interp(z, [foot, 150.0], [850.0, 900.0])
    fin = fin_of(z, lead, 985.0)
    found = with_dorsal(fin, (view,), 1000.0)
    if rise == 0.0:
        assert found is fin
        return
    assert found.lead[0] == pytest.approx(700.0, abs=4.0)
    x = np.linspace(0.0, 1000.0, 50)
    body = Body(x=x, low=np.full(50, -20.0), high=np.full(50, 40.0), seen=np.ones(50))
    ring = fin_ring(found, body, 1000.0)
    strip = (ring[:, 0] > 705.0) & (ring[:, 0] < 845.0) & (ring[:, 1] > 40.5)
    assert strip.sum() > 15
    assert ring[strip, 1] == pytest.approx(np.interp(ring[strip, 0], [700.0, 850.0], [40.0, foot]), abs=1.0)


def test_struts_that_join_body_and_wing_do_not_lift_the_body_below_the_fin() -> None:
    """A body 100 deep, an upper wing 300 above it, from 0.4 to 0.6 of the length joined by struts."""
    ring = [(0, 0), (1000, 0), (1000, 250), (900, 250), (800, 100), (600, 100), (600, 400), (400, 400)]
    ring += [(400, 100), (0, 100)]
    assert top_ahead_of_fin((np.array(ring, dtype=np.float64),), 1000.0) == pytest.approx(100.0)


def test_a_post_whose_head_a_tailplanes_section_hides_ends_the_body() -> None:
    """A body 1000 long; its post stands at 960, a plank lies over its head from 850 to 1000, the rudder's foot behind it."""
    low = [(0, -40), (400, -50), (960, 0)]
    high = [(0, 40), (500, 50), (830, 38)]
    plank = [(850, 20), (850, 38), (1000, 38), (1000, 20), (850, 20)]
    strokes = [low, high + [(850, 37)], plank, [(960, 0), (960, 20)], [(960, 8), (1000, 8), (1000, 20)]]
    strokes += [[(0, -40), (0, 40)], [(830, 38), (900, 180), (1000, 180), (1000, 38)]]
    ink = ink_of(strokes, 1.5)

    ring = np.array(
        [*low, (960, 8), (1000, 8), (1000, 180), (900, 180), (830, 38), *high[1::-1]], dtype=np.float64
    )
    z = np.linspace(45.0, 180.0, 40)
    lead = np.interp(z, [38, 180], [830, 900])
    fin = fin_of(z, lead, 1000.0)
    roots = ((200.0, 400.0), (850.0, 1000.0))
    found = find_body_side((ring,), 1000.0, fin, ink, pen_mm=1.5, roots=roots, span=1000.0)
    assert found is not None
    assert float(found.x[-1]) == pytest.approx(960.0, abs=5.0)


def test_a_wire_drawings_body_ends_at_its_own_stern_within_fin_and_tailplane() -> None:
    """All lines are drawn: the body is closed at 960; fin, its root inside the body, and a plank for the tail reach to 1000."""
    low, high = [(0, -40), (400, -50), (960, 4)], [(0, 40), (500, 50), (960, 26)]
    plank = [(850, 8), (850, 20), (1000, 20), (1000, 8), (850, 8)]
    fin_line = [(830, 24), (900, 180), (1000, 180), (1000, 11), (830, 24)]
    ink = ink_of([low, high, [low[-1], high[-1]], plank, fin_line, [low[0], high[0]]], 1.5)

    ring = [*low, (960, 8), (1000, 8), (1000, 180), (900, 180), (834, 33), *high[1::-1]]
    z = np.linspace(36.0, 180.0, 40)
    lead = np.interp(z, [24, 180], [830, 900])
    fin = fin_of(z, lead, 1000.0)
    roots = ((200.0, 400.0), (850.0, 1000.0))
    found = find_body_side(
        (np.array(ring, dtype=np.float64),), 1000.0, fin, ink, pen_mm=1.5, roots=roots, span=1000.0
    )
    assert found is not None
    assert float(found.x[-1]) == pytest.approx(960.0, abs=3.0)


def test_a_body_goes_on_behind_the_end_of_a_planks_section() -> None:
    """A body drawn to a point at 1000, its silhouette to 985; a delta's root is a plank that hides its lower edge to 970."""
    x = np.linspace(0.0, 1000.0, 400)
    half = 48.0 * (1.0 - ((x - 400.0) / np.where(x < 400.0, 400.0, 600.0)) ** 2) ** np.where(
        x < 400.0, 0.5, 1.0
    )
    mid = np.interp(x, [400.0, 1000.0], [0.0, 7.0])
    top, low = np.c_[x, mid + half], np.c_[x, mid - half]
    under = (x > 480.0) & (x < 970.0)
    plank = [(480, 0), (480, -44), (970, -44), (970, 0), (480, 0)]
    fin_line = [(830, 26), (900, 180), (970, 180), (970, 11)]
    ink = ink_of([top, low[x <= 480.0], low[x >= 970.0], plank, fin_line], 1.5)

    lowest = np.c_[x, np.where(under, np.minimum(low[:, 1], -44.0), low[:, 1])]
    behind = top[(x > 970.0) & (x < 985.0)][::-1]
    ring = np.vstack([lowest[x < 985.0], behind, [(970, 180), (900, 180)], top[x <= 830.0][::-1]])
    z = np.linspace(33.0, 180.0, 40)
    lead = np.interp(z, [26, 180], [830, 900])
    fin = fin_of(z, lead, 970.0)
    found = find_body_side((ring,), 985.0, fin, ink, pen_mm=1.5, roots=((480.0, 970.0),), span=900.0)
    assert found is not None
    assert float(found.x[-1]) == pytest.approx(1000.0, abs=3.0)


@pytest.mark.parametrize("drawn", [True, False])
def test_a_wide_pocket_is_closed_where_the_edge_is_drawn_over_it(drawn: bool) -> None:
    """Between two frames a break has let the paper in as far as the wing's section, 120 of 1000 long and 20 deep."""
    x = stations(1000.0)
    edge = 50.0 - 4e-5 * (x - 350.0) ** 2
    pocket = (x > 300.0) & (x < 420.0)
    broken = (x > 340.0) & (x < 360.0)

    def ink(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        off = np.abs(z - np.interp(at, x, np.where(broken, 1e3, edge)))
        return np.clip(2.0 - off, 0.0, 1.0) * drawn

    out = over_breaks(x, np.where(pocket, edge - 20.0, edge), ink, 1000.0)
    off = np.abs(out - edge)[pocket].max()
    assert off < 1.0 if drawn else off > 15.0


@pytest.mark.parametrize("stern", ["square", "round"])
def test_a_stern_that_stands_free_behind_a_fin_drawn_over_it_is_the_bodys(stern: str) -> None:
    """The fin's own foot, drawn deep in the body, leads down from the edge; behind its trailing edge the edge is seen."""
    high, low = [(0, 40), (400, 50), (830, 32), (1000, 20)], [(0, -40), (400, -50), (830, -22), (1000, 2)]
    closed = [(1000, 20), (1000, 2)]
    if stern == "round":
        turn = np.linspace(0.5 * np.pi, -0.5 * np.pi, 24)
        closed = [(991 + 9 * np.cos(t), 11.4 + 9 * np.sin(t)) for t in turn]
        high[-1], low[-1] = closed[0], closed[-1]
    fin_line = [(700, 37.4), (800, 180), (930, 180), (930, 6), (700, 37.4)]
    ahead = [p for p in high if p[0] < 700] + [(700, 37.4)]
    z930 = float(np.interp(930, *np.transpose(high)))
    ink = ink_of([low, ahead, [(930, z930), high[-1]], closed, fin_line, [high[0], low[0]]], 1.5)

    ring = np.array(
        [*low, *closed[::-1], (930, z930), (930, 180), (800, 180), *ahead[::-1]], dtype=np.float64
    )
    z = np.linspace(37.4, 180.0, 40)
    lead = np.interp(z, [37.4, 180], [700, 800])
    fin = fin_of(z, lead, 930.0)
    found = find_body_side((ring,), 1000.0, fin, ink, pen_mm=1.5, roots=((300.0, 700.0),), span=1000.0)
    assert found is not None
    at = np.linspace(600.0, 985.0, 60)
    assert np.abs(np.interp(at, found.x, found.high) - np.interp(at, *np.transpose(high))).max() < 5.0


def test_a_body_keeps_its_lower_edge_to_a_stern_under_a_fin_that_leans_out() -> None:
    """A flat stern at 940, 25 deep, the fin's trailing edge drawn aft from its head: no way up cuts the stern's corner off."""
    high, low = [(0, 40), (400, 50), (940, 15)], [(0, -40), (400, -50), (940, -10)]
    fin_line = [(750, 27.3), (880, 180), (1000, 180), (935, 15.3)]
    ink = ink_of([high, low, [high[0], low[0]], [high[-1], low[-1]], fin_line], 1.5)
    leaves = (940.0, 15.3 + 5.0 * 164.7 / 65.0)  # the trailing edge right above the stern
    ring = np.array([*low, leaves, (1000, 180), (880, 180), (750, 27.3), *high[1::-1]], dtype=np.float64)
    z = np.linspace(30.0, 180.0, 40)
    lead, trail = np.interp(z, [27.3, 180], [750, 880]), np.interp(z, [15.3, 180], [935, 1000])
    found = find_body_side(
        (ring,), 1000.0, fin_of(z, lead, trail), ink, pen_mm=1.5, roots=((300.0, 500.0),), span=1000.0
    )
    assert found is not None
    assert float(found.x[-1]) == pytest.approx(940.0, abs=3.0)
    at = np.linspace(880.0, 936.0, 40)
    assert np.abs(np.interp(at, found.x, found.low) - np.interp(at, *np.transpose(low))).max() < 2.0


def test_a_body_drawn_to_a_point_ends_there_behind_a_rudders_hinge() -> None:
    """The hinge stands in a fin that leans out over the stern; the edges run straight on below it to their point at 960."""
    high, low = [(0, 40), (400, 50), (960, 0)], [(0, -40), (400, -50), (960, 0)]
    fin_line = [(750, 18.75), (880, 180), (1000, 180), (940, 1.8)]
    hinge = [(930, 2.7), (930, 180)]
    ink = ink_of([high, low, [high[0], low[0]], fin_line, hinge], 2.0)
    ring = np.array(
        [*low[:2], (952, -0.8), (952, 37), (1000, 180), (880, 180), (750, 18.75), *high[1::-1]],
        dtype=np.float64,
    )
    z = np.linspace(20.0, 180.0, 40)
    lead, trail = np.interp(z, [18.75, 180], [750, 880]), np.interp(z, [1.8, 180], [940, 1000])
    found = find_body_side(
        (ring,), 1000.0, fin_of(z, lead, trail), ink, pen_mm=2.0, roots=((300.0, 500.0),), span=1000.0
    )
    assert found is not None
    assert float(found.x[-1]) == pytest.approx(960.0, abs=3.0)


def test_a_body_does_not_swell_where_a_tailplane_hides_it() -> None:
    """Last seen 4 mm wide, as a fin is from above, at a side view's end that is next to nothing."""
    x = np.linspace(0.0, 800.0, 200)
    seen = (x < 700.0) | (x > 795.0)
    depth = np.c_[[0.0, 700.0, 780.0, 796.0, 800.0], [80.0, 40.0, 30.0, 1.0, 1.0]]
    width = np.interp(x, [300.0, 700.0, 795.0, 796.0], [45.0, 12.0, 12.0, 4.0])
    got = fill_between(x, width, np.asarray(seen, dtype=float), depth)
    assert got[~seen].max() < 1.3 * 12.0


def test_a_fin_that_begins_amidships_is_found() -> None:
    """On a short body without a tailplane its root is as long as half of that."""
    ring = [
        (0, -40),
        (0, 30),
        (200, 60),
        (460, 50),
        (520, 260),
        (850, 260),
        (930, 20),
        (1000, 0),
        (1000, -20),
    ]
    rings = (np.array(ring, dtype=np.float64),)
    assert find_fin(rings, 1000.0, top_ahead_of_fin(rings, 1000.0)) is None
    fin = _long_fin(rings, 1000.0)
    assert fin is not None
    assert fin.station[-1] == pytest.approx(260.0, abs=2.0)
    assert fin.lead_root == pytest.approx(50.0, abs=12.0)
    bare = (np.array([(0, -40), (0, 30), (200, 60), (460, 50), (1000, 130), (1000, -20)], dtype=np.float64),)
    assert _long_fin(bare, 1000.0) is None
