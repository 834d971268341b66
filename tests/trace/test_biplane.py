"""Both wings of a biplane from all three views, where the top view alone hides an edge of one of them."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from sheetlark.trace import trace_picture
from sheetlark.trace.shapes.biplane import Both, split_pair, whole_outline
from sheetlark.trace.shapes.inkgrid import InkGrid
from sheetlark.trace.shapes.planform import find_wing
from sheetlark.trace.shapes.section_figures import Shape, Tip, thickness
from sheetlark.trace.shapes.sections import Section, _searched, drawn_sections
from sheetlark.trace.shapes.stretch import Trial, shared_edges
from sheetlark.trace.shapes.strokes import drawn_lines
from sheetlark.trace.shapes.surface import Surface

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
import drawing_b as B  # noqa: N812
import drawing_c as C  # noqa: N812
import judge as J  # noqa: N812
from made import ink_of


# 10: the upper wing covers the lower one's shorter leading edge; 1: stagger the other way; 1109: a plank inside a plank
@pytest.mark.parametrize(("seed", "level"), [(10, "clean"), (1, "clean"), (10, "mild"), (1109, "mild")])
def test_the_hidden_edge_comes_from_the_section_in_the_side_view(
    tmp_path: Path, seed: int, level: str
) -> None:
    m = B.model(seed, "bi", plain=level == "clean")
    page = B.draw(m, seed, **B.habits(seed, level))
    file = tmp_path / "page.png"
    page.image.save(file)
    t = trace_picture(file, span_m=m.span_mm / 1000.0)
    for part in ("upper", "lower"):
        o = t.outline("wing", "top", f"{part} wing")
        assert o is not None
        mean, worst = J.apart(J.ring(o.path), m.truth[f"{part}-wing", "top"])
        assert mean < 0.006 * m.span_mm, part
        assert worst < 0.015 * m.span_mm, part


def test_which_of_two_like_wings_is_ahead_is_told_by_the_sections(tmp_path: Path) -> None:
    plane = D.aeroplane(6, "bi")  # equal wings, the lower one ahead, every line drawn through
    file = tmp_path / "page.png"
    D.draw(plane, 6, **D.disturbances(6)).image.save(file)
    t = trace_picture(file, span_m=plane.span_mm / 1000.0)
    true = plane.top["wing-lower"][:, 0].min() - plane.top["wing-upper"][:, 0].min()
    assert true < 0.0
    assert t.proportions.stagger_mm == pytest.approx(true, abs=0.006 * plane.span_mm)


def test_a_section_drawn_across_other_lines_is_found() -> None:
    thick, chord = 0.1, 180.0

    def curve(lead: float, z: float, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        t = np.clip((x - lead) / chord, 0.0, 1.0)
        y = (
            5
            * thick
            * chord
            * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1015 * t**4)
        )
        return z + y, z - 0.6 * y

    def ink(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        out = np.zeros(np.broadcast(x, z).shape)
        for lead, at in ((200.0, 160.0), (230.0, -20.0)):
            up, down = curve(lead, at, np.asarray(x))
            within = (x > lead - 1.5) & (x < lead + chord + 1.5)
            out = np.maximum(out, (np.minimum(np.abs(z - up), np.abs(z - down)) < 1.5) & within)
        # a body's line, a centre line and a strut across them
        out = np.maximum(out, np.abs(z - 60.0 + 0.1 * x) < 1.5)
        out = np.maximum(out, np.abs(z) < 1.0)
        return np.maximum(out, np.abs(x - 300.0 + 0.15 * z) < 1.5).astype(float)

    level = Tip(lead=0.0, trail=0.0, rise=0.0)
    uppers, lowers = drawn_sections(
        ink,
        root=(200.0, 410.0),
        heights=(-80.0, 170.0),
        gap=180.0,
        tips=(level, level),
        span=1000.0,
        pen=3.0,
    )
    assert (uppers[0].lead, uppers[0].trail) == pytest.approx((200.0, 380.0), abs=5.0)
    assert (lowers[0].lead, lowers[0].trail) == pytest.approx((230.0, 410.0), abs=5.0)
    assert uppers[0].z - lowers[0].z == pytest.approx(180.0, abs=3.0)


@pytest.mark.parametrize(
    ("pen", "lead", "chord"), [(3.0, 230.0, 130.0), (0.7, 230.0, 130.0), (0.7, 180.0, 160.0)]
)
def test_sections_at_an_incidence_are_found_to_the_ends_of_their_thin_tails(
    pen: float, lead: float, chord: float
) -> None:
    """Hollow below, over a body's lower line; toward the trailing edge both lines are one stroke, or a hairline each."""
    t = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 60))
    mean, half = 0.04 * np.sin(np.pi * t) - 0.035 * t, 0.1 * thickness(t)

    def section(lead: float, chord: float, z: float) -> np.ndarray:
        x = lead + chord * t
        return np.r_[
            np.c_[x, z + chord * (mean + half)], np.c_[x, z + chord * (mean - 0.7 * half)][::-1][:-1]
        ]

    lower, upper = section(lead, chord, -20.0), section(180.0, 160.0, 160.0)
    body = [(100.0, -42.0), (300.0, -45.0), (700.0, -10.0)]
    strokes = [*(np.r_[s, s[:1]] for s in (lower, upper)), body, [(250.0, -12.0), (220.0, 165.0)]]
    uppers, lowers = drawn_sections(
        ink_of(strokes, pen),
        root=(180.0, max(340.0, lead + chord)),
        heights=(-80.0, 170.0),
        gap=180.0,
        tips=(Tip(lead=0.0, trail=0.0, rise=0.0),) * 2,
        span=1000.0,
        pen=pen,
    )
    assert (uppers[0].lead, uppers[0].trail) == pytest.approx((180.0, 340.0), abs=4.0)
    assert (lowers[0].lead, lowers[0].trail) == pytest.approx((lead, lead + chord), abs=5.0)


def test_a_fainter_section_right_over_another_is_found() -> None:
    """Both at the same x, as wings without stagger have them: each level is looked at for itself."""
    t = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 40))
    half = 0.15 * 160.0 * thickness(t)
    lens = np.r_[np.c_[180.0 + 160.0 * t, half], np.c_[180.0 + 160.0 * t, -0.2 * half][::-1]]
    lower, upper = (ink_of([lens + (0.0, z)], 3.0) for z in (-20.0, 160.0))
    grid = InkGrid.of(
        lambda a, b: np.maximum(lower(a, b), 0.9 * upper(a, b)), (150.0, -60.0), (370.0, 200.0), 1.0
    )
    ends = np.array([-5.0, 0.0, 5.0])
    found = _searched(
        grid,
        180.0 + ends,
        340.0 + ends,
        np.arange(-40.0, 181.0, 5.0),
        (Shape(thick=0.15, under=0.2),),
        least=80.0,
        step=5.0,
        pen=3.0,
        most=2,
    )
    assert sorted(round(s.z, -1) for s in found) == [-20.0, 160.0]


def test_a_half_wing_seen_from_the_side_tells_its_root_section() -> None:
    """The lower wing has dihedral and sweep: its figure goes from the root's section to the tip's, 45 mm aft and 35 mm up."""
    chord = 180.0
    t = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 60))
    y = thickness(t) * 0.1 * chord

    def section(lead: float, z: float) -> shapely.Polygon:
        x = lead + chord * t
        return shapely.Polygon(np.r_[np.c_[x, z + y], np.c_[x, z - 0.6 * y][::-1]])

    figures = [section(200.0, 160.0), section(230.0, -20.0).union(section(275.0, 15.0)).convex_hull]

    def ink(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        at = shapely.points(x, z)
        return np.asarray(
            np.min([shapely.distance(f.exterior, at) for f in figures], axis=0) < 1.5, dtype=float
        )

    uppers, lowers = drawn_sections(
        ink,
        root=(200.0, 410.0),
        heights=(-80.0, 170.0),
        gap=180.0,
        tips=(Tip(lead=0.0, trail=0.0, rise=0.0), Tip(lead=45.0, trail=45.0, rise=35.0)),
        span=1000.0,
        pen=3.0,
    )
    assert (uppers[0].lead, uppers[0].trail) == pytest.approx((200.0, 380.0), abs=5.0)
    assert lowers[0].shape.tip is not None
    assert (lowers[0].lead, lowers[0].trail) == pytest.approx((230.0, 410.0), abs=6.0)


def test_parted_tips_are_followed_to_their_ends() -> None:
    """Two elliptic wings, one 60 mm behind the other, part near the tips, on one half a station before the other."""
    semi, chord, stagger = 500.0, 120.0, 60.0
    turn = np.linspace(0.0, 2.0 * np.pi, 800, endpoint=False)
    ellipse = np.c_[0.5 * chord * np.cos(turn), semi * np.sin(turn)]
    lobes = [shapely.Polygon(ellipse + (x, 0.0)) for x in (0.0, stagger)]
    joint = shapely.union_all(lobes)
    # port side: both tips grown together for another few millimetres
    bridge = shapely.box(-30.0, -440.0, stagger + 30.0, -432.0)
    ring = np.array(joint.union(bridge.intersection(joint.convex_hull)).exterior.coords)[:-1]
    y = semi * np.sin(np.linspace(0.0, np.pi / 2, 220))
    half = 0.5 * chord * np.sqrt(np.clip(1.0 - (y / semi) ** 2, 0.0, 1.0))
    one = Surface(
        station=y,
        lead=np.where(
            half < 0.5 * stagger, stagger - half, -half
        ),  # beyond where they part only one is followed
        trail=stagger + half,
        lead_root=0.0,
        trail_root=0.0,
        asymmetry=0.0,
    )
    both = whole_outline((ring,), one, 2.0 * semi)
    outer = (y > 0.6 * semi) & (y < 0.998 * semi)
    assert np.abs(both.lead + half)[outer].max() < 1.0
    assert np.abs(both.trail - stagger - half)[outer].max() < 1.0


def test_the_outline_of_wings_that_lie_apart_but_for_their_roots_is_that_of_both() -> None:
    """The forward one is the narrower, so that the other is taken for the wing; span 1000 mm, body 60 mm wide."""
    ahead = shapely.Polygon(
        [(150.0, -500.0), (100.0, 0.0), (150.0, 500.0), (210.0, 500.0), (230.0, 0.0), (210.0, -500.0)]
    )
    behind = shapely.Polygon(
        [(290.0, -500.0), (200.0, 0.0), (290.0, 500.0), (400.0, 500.0), (330.0, 0.0), (400.0, -500.0)]
    )
    joint = shapely.union_all([ahead, behind, shapely.box(-100.0, -30.0, 700.0, 30.0)])
    rings = tuple(np.array(r.coords) for r in (joint.exterior, *joint.interiors))
    wing = find_wing(rings, 1000.0)
    assert wing is not None
    both = whole_outline(rings, wing, 1000.0)
    y = both.station
    inner = y < 495.0
    assert np.abs(both.lead - 100.0 - 0.1 * y)[inner].max() < 4.0
    assert np.abs(both.trail - 330.0 - 0.14 * y)[inner].max() < 4.0


def test_close_beyond_the_shorter_wings_tip_the_outline_is_not_yet_the_longer_ones() -> None:
    """The shorter wing stands 60 mm ahead; its tip's edge, a pen wide, lies over the longer one up to y = 403 mm."""
    y = np.linspace(0.0, 500.0, 501)
    lead = np.where(y <= 403.0, 0.0, 60.0)
    both = Surface(
        station=y, lead=lead, trail=np.full(501, 210.0), lead_root=0.0, trail_root=0.0, asymmetry=0.0
    )
    chord = np.array(150.0)
    got = shared_edges(both, y, Trial(lead_of="b", trail_of="a"), chord, chord, np.array(0.0), 0.8)
    assert np.abs(got.a_lead - 60.0).max() < 1.0


def test_a_shorter_wing_of_the_same_chord_straight_below_is_found_for_one(tmp_path: Path) -> None:
    """Nothing of it shows in the top view; on a worn sheet its section in the side view may be read as a shorter one."""
    drawn = C.draw(9400, "biplane", "heavy")
    Image.fromarray(drawn.image).save(tmp_path / "page.png")
    t = trace_picture(tmp_path / "page.png", span_m=drawn.span_mm / 1000.0)
    got = t.outline("wing", "top", "lower wing")
    assert got is not None
    true = next(o for o in drawn.outlines if (o.part, o.name) == ("wing", "lower"))
    mean, worst = J.apart(J.ring(got.path), true.points)
    assert mean < 0.006 * drawn.span_mm
    assert worst < 0.015 * drawn.span_mm


@pytest.mark.parametrize("chord", [None, 205.0])
def test_a_wing_drawn_within_the_other_is_found_though_their_leading_edges_nearly_touch(
    chord: float | None,
) -> None:
    """Only its trailing edge stands clear. The larger one's section is not found, or found too short."""
    semi, span = 600.0, 1200.0
    y = np.linspace(0.0, semi, 200)

    def edges(of: float, lead: float, chord: float) -> tuple[np.ndarray, np.ndarray]:
        tip = np.sqrt(np.clip(1.0 - (np.clip(y, 0.0, of) / of) ** 4, 0.0, 1.0))
        middle = lead + 0.4 * chord
        return middle - 0.4 * chord * tip, middle + 0.6 * chord * tip

    larger, smaller = edges(semi, 200.0, 225.0), edges(0.83 * semi, 207.0, 172.0)

    def ink(x: np.ndarray, at: np.ndarray) -> np.ndarray:
        out = np.zeros(np.broadcast(x, at).shape)
        for half, both in ((semi, larger), (0.83 * semi, smaller)):
            for e in both:
                out = np.maximum(out, (np.abs(x - np.interp(np.abs(at), y, e)) < 3.0) & (np.abs(at) < half))
        return out

    wing = Surface(station=y, lead=larger[0], trail=larger[1], lead_root=60.0, trail_root=60.0, asymmetry=0.0)
    half_ring = np.vstack([np.c_[larger[0], y], np.c_[larger[1], y][::-1]])
    ring = np.vstack([half_ring, (half_ring * (1.0, -1.0))[::-1]])

    def section(lead: float, deep: float, z: float) -> Section:
        return Section(lead=lead, trail=lead + deep, z=z, shape=(0.1, 1.0), strength=0.9)

    both = Both.of((ring,), wing, span=span, ink=ink, pen=6.0)
    pair = split_pair(
        both,
        lambda: drawn_lines(both.halves),
        semi_upper=semi,
        semi_lower=0.83 * semi,
        uppers=() if chord is None else (section(200.0, chord, 150.0),),
        lowers=(section(207.0, 172.0, -40.0),),
    )
    assert pair is not None
    assert (pair.upper.lead[0], pair.upper.trail[0]) == pytest.approx((200.0, 425.0), abs=3.0)
    assert (pair.lower.lead[0], pair.lower.trail[0]) == pytest.approx((207.0, 379.0), abs=4.0)


def test_the_outline_of_wings_whose_edges_part_far_out_is_that_of_both_to_the_tip() -> None:
    """The shorter one, swept back behind the other's elliptic trailing edge, is the one that is followed."""
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 200)
    front, rear = (np.c_[180.0 + a * np.cos(turn), 500.0 * np.sin(turn)] for a in (-50.0, 60.0))
    ahead = shapely.Polygon(np.r_[front, rear[::-1]])
    behind = shapely.Polygon(
        [(240.0, -400.0), (150.0, 0.0), (240.0, 400.0), (340.0, 400.0), (270.0, 0.0), (340.0, -400.0)]
    )
    joint = shapely.union_all([ahead, behind, shapely.box(-100.0, -40.0, 700.0, 40.0)])
    rings = tuple(np.array(r.coords) for r in (joint.exterior, *joint.interiors))
    wing = find_wing(rings, 1000.0)
    assert wing is not None
    both = whole_outline(rings, wing, 1000.0)
    y = both.station
    round_ = np.sqrt(np.clip(1.0 - (y / 500.0) ** 2, 0.0, 1.0))
    lead, edge = 180.0 - 50.0 * round_, 180.0 + 60.0 * round_
    trail = np.where(y < 400.0, np.maximum(270.0 + 0.175 * y, edge), edge)
    known = (y > 45.0) & (y < 492.0) & (np.abs(y - 400.0) > 6.0)
    assert np.abs(both.lead - lead)[known].max() < 3.0
    assert np.abs(both.trail - trail)[known].max() < 3.0
