"""Where x begins: a nose drawn to a point, and one with propeller blades drawn across it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812
import judge as J  # noqa: N812

from sheetlark.trace import trace_picture
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import crossings
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.nose import from_nose, spinner_end
from sheetlark.trace.shapes.point import find_point


@pytest.mark.parametrize(
    ("seed", "nose", "propeller"),
    [(23, "pointed", "none"), (26, "pointed", "blades"), (27, "round", "blades"), (31, "blunt", "blades")],
)
def test_x_begins_at_the_bodys_own_nose(tmp_path: Path, seed: int, nose: str, propeller: str) -> None:
    drawn = C.draw(seed, "monoplane", "clean")
    assert (drawn.traits["nose"], drawn.traits["propeller"]) == (nose, propeller)
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    for view in ("top", "side"):
        axes = next(v.axes for v in found.views if v.kind == view)
        true = drawn.to_px[view][:, 2]
        along = np.asarray(axes.first_px) / np.linalg.norm(axes.first_px)
        off_mm = abs(float((np.asarray(axes.origin_px) - true) @ along)) * drawn.scale_mm_per_px
        assert off_mm < 0.0015 * drawn.span_mm


def test_a_wheel_or_a_strut_is_no_spinner() -> None:
    """The piece followed forward from aft may be a wheel, or a body that struts have joined to a wing."""
    body = np.array([(0.0, -20.0), (300.0, -20.0), (300.0, 20.0), (0.0, 20.0)])
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    wheel = np.c_[85.0 + 25.0 * np.cos(turn), -60.0 + 25.0 * np.sin(turn)]
    assert spinner_end((body, wheel), 1000.0) == 0.0
    wide = np.c_[
        75.0 + 35.0 * np.cos(turn), -70.0 + 35.0 * np.sin(turn)
    ]  # wider than the body, and close behind the nose
    assert spinner_end((body, wide), 1000.0) == 0.0
    joined = np.array(
        [(0, -20), (300, -20), (300, 20), (95, 20), (95, 120), (75, 120), (75, 20), (0, 20)], dtype=float
    )
    assert spinner_end((joined,), 1000.0) == 0.0
    wing = np.r_[np.linspace(0.0, 1.0, 30)]  # begins close behind the nose, elliptical
    lead = np.c_[54.0 + 60.0 * (1.0 - np.sqrt(1.0 - wing**2)), 26.0 + 400.0 * wing]
    half = np.r_[[(0.0, 22.0)], lead, [(300.0, 426.0)]]
    short = np.r_[half, half[::-1] * (1.0, -1.0)]
    assert spinner_end((short,), 1000.0) == 0.0  # the wing begins close behind the nose
    round_ = np.linspace(0.0, 90.0, 90)
    low, high = (side * 60.0 * np.sqrt(1.0 - (1.0 - round_ / 90.0) ** 2) for side in (-1.0, 1.0))
    high[round_ < 16.0] = 4.0  # a break in one edge has let the paper in there
    broken = np.vstack([np.c_[round_, low], [(300.0, -60.0), (300.0, 60.0)], np.c_[round_, high][::-1]])
    assert spinner_end((broken,), 1000.0) == 0.0
    cowl = np.array([(0, -6), (25, -6), (25, -20), (300, -20), (300, 20), (25, 20), (25, 6), (0, 6)], float)
    assert spinner_end((cowl,), 1000.0) == pytest.approx(25.0, abs=1.5)


def half_mm_px(x: float = 0.0) -> Frame:
    """Half a millimetre a pixel, y upward, counted from x mm behind column 100, in the middle of row 180."""
    return Frame(
        origin=np.array([100.0 + x / 0.5, 180.0]),
        first=np.array([1.0, 0.0]),
        second=np.array([0.0, -1.0]),
        mm_per_px=0.5,
    )


def drawn_nose(half_width: Callable[[Floats], Floats], pen: float, *, hatched: bool) -> tuple[Frame, Floats]:
    """Ink of a nose at x = 0 mm, half a millimetre a pixel, with a centre line that runs on ahead of it."""
    x = np.linspace(0.0, 150.0, 600)
    px = 0.5
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)

    def line(xs: Floats, ys: Floats, wide: float) -> None:
        at = np.c_[100.0 + xs / px, 180.0 - ys / px]
        pencil.line([(float(a), float(b)) for a, b in at], fill=255, width=round(wide / px), joint="curve")

    half = half_width(x)
    line(np.r_[x[::-1], x], np.r_[half[::-1], -half], pen)
    line(np.array([-40.0, 20.0]), np.zeros(2), 0.5 * pen)
    for k in range(4, 140, 8) if hatched else ():
        inside = np.array([k, min(k + 2 * np.interp(k, x, half), 150.0)])
        line(inside, np.array([-1.0, 1.0]) * np.interp(inside, x, half), 0.4 * pen)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)
    frame = half_mm_px()
    return frame, dark


def silhouette_from(start: float, half_width: Callable[[Floats], Floats]) -> Floats:
    """What the flooding leaves of a nose whose tip is all pen: cut off square. x counts from where it is cut."""
    x = np.linspace(start, 150.0, 300)
    half = half_width(x)
    return np.r_[np.c_[x - start, half], np.c_[x - start, -half][::-1]]


@pytest.mark.parametrize("hatched", [False, True])
@pytest.mark.parametrize("bulge", [0.0, 0.0006])
def test_a_point_lost_in_a_wide_pen_is_found_where_the_strokes_meet(bulge: float, hatched: bool) -> None:
    def half(x: Floats) -> Floats:
        return np.asarray(0.22 * x - bulge * x**2)

    pen, lost = 6.0, 25.0
    frame, dark = drawn_nose(half, pen, hatched=hatched)
    frame = replace(frame, origin=frame.origin + lost / frame.mm_per_px * frame.first)
    moved, rings = from_nose(frame, (silhouette_from(lost, half),), 1000.0, dark, pen=pen)
    at = (moved.origin[0] - 100.0) * frame.mm_per_px
    assert at == pytest.approx(0.0, abs=2.0)  # 0.2 % of the span
    assert float(rings[0][:, 0].min()) == pytest.approx(0.0, abs=0.1)
    wide = np.ptp(crossings(rings, 15.0, 0)[0])
    assert wide == pytest.approx(2.0 * float(half(np.array(15.0))), abs=2.0)


def test_a_short_straight_sided_spinner_has_a_point_however_slim_the_body() -> None:
    """A cone of 70 degrees, and behind its base the body hardly grows: the tip is as straight as it is steep."""

    def half(x: Floats) -> Floats:
        return np.asarray(np.where(x < 14.0, 0.7 * x, 9.8 + 0.08 * (x - 14.0)))

    lost = 2.5
    frame, dark = drawn_nose(half, 2.0, hatched=False)
    frame = replace(frame, origin=frame.origin + lost / frame.mm_per_px * frame.first)
    point = find_point(frame, (silhouette_from(lost, half),), 1000.0, dark, pen=2.0)
    assert point is not None
    assert point.at + lost == pytest.approx(0.0, abs=1.0)


def test_a_round_nose_has_no_point() -> None:
    def half(x: Floats) -> Floats:
        return np.asarray(np.sqrt(np.maximum(30.0**2 - np.maximum(30.0 - x, 0.0) ** 2, 0.0)))

    frame, dark = drawn_nose(half, 6.0, hatched=False)
    assert find_point(frame, (silhouette_from(0.0, half),), 1000.0, dark, pen=6.0) is None


def test_a_filled_round_nose_is_no_flat_face() -> None:
    """Inside grey filling every line across the nose is inked; only a square beginning makes one a face."""
    rows, columns = np.mgrid[0:360, 0:480]
    x, y = (columns - 100) * 0.5, (180 - rows) * 0.5
    for half, face in ((lambda v: np.sqrt(np.clip(60.0 * v - v**2, 0.0, 900.0)), 0.0), (_cowl, 20.0)):
        wide = np.where(x > 30.0, 30.0, half(np.clip(x, 0.0, 30.0)))
        dark = 0.8 * (np.abs(y) < wide) * (x >= 0.0)
        at = np.linspace(0.0, 150.0, 601)
        edge = np.where(at > 30.0, 30.0, half(np.clip(at, 0.0, 30.0)))
        frame = half_mm_px()
        ring = np.r_[np.c_[at, edge], np.c_[at, -edge][::-1]]
        moved, _ = from_nose(frame, (ring,), 1000.0, dark, pen=5.0)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(face, abs=3.0)


def _cowl(x: Floats) -> Floats:
    """Half width of a spinner ahead of a cowl that begins at 20 mm."""
    return np.where(x < 20.0, np.minimum(12.0, 3.0 * np.sqrt(x)), 30.0)


def _dome(x: Floats) -> Floats:
    """Half width of a round nose of 30 mm radius."""
    return np.asarray(np.sqrt(np.maximum(30.0**2 - np.maximum(30.0 - x, 0.0) ** 2, 0.0)))


def _arrow(x: Floats) -> Floats:
    return np.asarray(0.22 * x)


def with_blades(frame: Frame, dark: Floats, half: float, pen: float, *, within: float) -> Floats:
    """The ink with two lines of propeller blades, `half` mm either side of x = 0, which the nose hides from `within`."""
    rows, columns = np.mgrid[0 : dark.shape[0], 0 : dark.shape[1]]
    x, y = ((columns - frame.origin[0]) * frame.mm_per_px, (frame.origin[1] - rows) * frame.mm_per_px)
    lines = np.minimum(np.abs(x - half), np.abs(x + half)) < 0.5 * pen
    hidden = (x > 0.0) & (np.abs(y) < within)
    drawn = ndimage.gaussian_filter((lines & ~hidden & (np.abs(y) < 80.0)).astype(np.float64), 0.8)
    return np.asarray(np.maximum(dark, drawn))


def silhouette_with_blades(half_width: Callable[[Floats], Floats], half: float, tips: float) -> Floats:
    """A body from 10 mm aft of its nose, blades `half` mm either side of the nose ahead of it; x from their front."""
    x = np.linspace(half, 150.0, 300)
    edge = half_width(x)
    blade = np.array([(0.0, 0.7 * tips), (0.4 * half, tips), (1.6 * half, tips), (2.0 * half, 0.7 * tips)])
    upper = np.r_[blade, np.c_[x + half, edge]]
    return np.r_[upper, upper[::-1] * (1.0, -1.0)]


@pytest.mark.parametrize("blades", [4.0, 7.0])
def test_a_point_is_found_through_the_propeller_drawn_across_it(blades: float) -> None:
    pen, lost = 6.0, 25.0
    frame, dark = drawn_nose(_arrow, pen, hatched=False)
    dark = with_blades(frame, dark, blades, pen, within=0.0)
    begun = replace(frame, origin=frame.origin + lost / frame.mm_per_px * frame.first)
    moved, _ = from_nose(begun, (silhouette_from(lost, _arrow),), 1000.0, dark, pen=pen)
    assert (moved.origin[0] - 100.0) * frame.mm_per_px == pytest.approx(0.0, abs=3.0)


@pytest.mark.parametrize("pen", [3.0, 5.0])
def test_a_round_nose_shows_between_the_edges_of_the_blades(pen: float) -> None:
    """Its stroke may run into the blades' own, and a centre line may run across all three."""
    half = 8.0
    frame, dark = drawn_nose(_dome, pen, hatched=False)
    dark = with_blades(frame, dark, half, pen, within=float(_dome(np.array(half))))
    begun = replace(frame, origin=frame.origin - half / frame.mm_per_px * frame.first)
    ring = silhouette_with_blades(_dome, half, 80.0)
    moved, _ = from_nose(begun, (ring,), 1000.0, dark, pen=pen)
    assert (moved.origin[0] - 100.0) * frame.mm_per_px == pytest.approx(0.0, abs=2.0)


def test_blades_that_the_silhouette_lost_but_for_their_front_edge_are_seen_in_the_ink() -> None:
    """The paper between that edge and a round nose was taken for body: a false tip, no wider than the body."""
    half, pen = 8.0, 3.0
    frame, dark = drawn_nose(_dome, pen, hatched=False)
    dark = with_blades(frame, dark, half, pen, within=float(_dome(np.array(half))))
    begun = replace(frame, origin=frame.origin - half / frame.mm_per_px * frame.first)
    x = np.linspace(half, 150.0, 300)
    upper = np.r_[[(0.0, 12.0)], np.c_[x + half, _dome(x)]]
    moved, _ = from_nose(begun, (np.r_[upper, upper[::-1] * (1.0, -1.0)],), 1000.0, dark, pen=pen)
    assert (moved.origin[0] - 100.0) * frame.mm_per_px == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize(("length_beside", "nose"), [(150.0, 20.0), (141.0, 0.0)])
def test_a_spinner_without_a_line_behind_it_is_cut_off_where_the_other_view_as_long_shows_one(
    length_beside: float, nose: float
) -> None:
    """Twenty millimetres of a spinner, round at its tip, that the body behind it goes on from with a bend."""
    x = np.linspace(0.0, 150.0, 601)
    half = np.where(x < 20.0, 12.0 * np.sqrt(np.clip(1.0 - (1.0 - x / 20.0) ** 2, 0.0, None)), 12.0)
    half = half + np.clip(0.4 * (x - 20.0), 0.0, 20.0)
    ring = np.r_[np.c_[x, half], np.c_[x, -half][::-1]]
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)
    pencil.line([(100 + a / 0.5, 180 - b / 0.5) for a, b in ring], fill=255, width=4)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)
    moved, _ = from_nose(
        half_mm_px(), (ring,), 1000.0, dark, pen=2.0, beside=20.0, length_beside=length_beside
    )
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(nose, abs=1.5)


def test_a_nose_lost_in_one_dark_mass_with_the_blades_is_their_middle() -> None:
    half = 8.0
    ring = silhouette_with_blades(_dome, half, 80.0)
    rows, columns = np.mgrid[0:360, 0:480]
    x, y = (columns - 100) * 0.5, (180 - rows) * 0.5
    body = (np.abs(y) < _dome(np.clip(x, 0.0, 30.0))) & (x >= 0.0)
    dark = (body | ((np.abs(x) < half) & (np.abs(y) < 80.0))).astype(np.float64)
    frame = half_mm_px(-half)
    moved, _ = from_nose(frame, (ring,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.5)


def test_a_spinner_ahead_of_the_blades_does_not_make_their_front_the_nose() -> None:
    """The body's face lies at the blades' rear; ahead of their front a spinner sticks out."""
    x = np.array([0.0, 4.0, 6.0, 25.0, 25.0, 150.0])
    half = np.array([5.0, 10.0, 60.0, 60.0, 30.0, 30.0])
    ring = np.r_[np.c_[x, half], np.c_[x, -half][::-1]]
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)
    for here, reach in ((6.0, 60.0), (25.0, 60.0)):
        at = [(100 + here / 0.5, 180 - reach / 0.5), (100 + here / 0.5, 180 + reach / 0.5)]
        pencil.line(at, fill=255, width=4)
    pencil.arc((100, 160, 160, 200), 90, 270, fill=255, width=4)
    pencil.rectangle((150, 120, 400, 240), outline=255, width=4)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)
    frame = half_mm_px()
    moved, _ = from_nose(frame, (ring,), 1000.0, dark, pen=2.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(25.0, abs=1.5)


def test_a_round_nose_under_a_centre_line_has_no_point() -> None:
    """The rims run on into the line, and what closes there fastest is no stray piece to be left out."""
    frame, dark = drawn_nose(_dome, 6.0, hatched=True)
    lost = 2.0
    begun = replace(frame, origin=frame.origin + lost / frame.mm_per_px * frame.first)
    assert find_point(begun, (silhouette_from(lost, _dome),), 1000.0, dark, pen=6.0) is None


def _snub(length: float, half: float) -> list[tuple[float, float]]:
    """A body with a small round nose of that length and half width, which widens by 31 degrees a side behind it for a while."""
    x = np.r_[np.linspace(0.0, length, 60), length + 2.5 * half, 150.0]
    round_part = np.sqrt(np.clip(1.0 - (1.0 - np.minimum(x, length) / length) ** 2, 0.0, 1.0))
    upper = [
        *zip(
            x.tolist(), (half * round_part + 0.6 * np.clip(x - length, 0.0, 2.5 * half)).tolist(), strict=True
        )
    ]
    return [(a, -b) for a, b in upper[::-1]] + upper


@pytest.mark.parametrize(
    ("length", "half", "pen", "line", "span"),
    [
        (5.6, 4.8, 2.0, ((-2.4, -70.0), (-2.4, 70.0)), 400.0),
        (4.2, 3.6, 1.5, ((-1.8, -70.0), (-1.8, 70.0)), 300.0),
        (3.0, 2.6, 1.0, ((-1.3, -70.0), (-1.3, 70.0)), 214.0),
        (2.52, 1.8, 1.5, ((-50.0, 0.0), (0.36, 0.0)), 180.0),
    ],
)
def test_a_line_close_ahead_of_a_small_round_nose_makes_no_point_of_it(
    length: float, half: float, pen: float, line: tuple[tuple[float, float], ...], span: float
) -> None:
    """A propeller's line a few pixels ahead of it, and a centre line on a coarse page."""
    outline = _snub(length, half)
    dark = _drawn((tuple(outline), line), pen)
    assert find_point(half_mm_px(), (np.array(outline),), span, dark, pen=pen) is None


def test_lettering_ahead_of_a_view_is_no_nose() -> None:
    frame, dark = drawn_nose(_dome, 4.0, hatched=False)
    word = np.array([(0.0, 60.0), (6.0, 60.0), (6.0, 70.0), (0.0, 70.0)])
    body = silhouette_from(0.0, _dome) + (40.0, 0.0)
    begun = replace(frame, origin=frame.origin - 40.0 / frame.mm_per_px * frame.first)
    moved, rings = from_nose(begun, (body, word), 1000.0, dark, pen=4.0)
    assert (moved.origin[0] - 100.0) * frame.mm_per_px == pytest.approx(0.0, abs=1.5)
    assert len(rings) == 1


def test_the_grain_of_a_grey_filling_is_no_flat_face() -> None:
    """A cowl's face at 20 mm, filled so grey that what lies across it anywhere is about as dark as a faint line."""
    rows, columns = np.mgrid[0:360, 0:480]
    x, y = (columns - 100) * 0.5, (180 - rows) * 0.5
    wide = _cowl(np.clip(x, 0.0, None))
    body = (np.abs(y) < wide) & (x >= 0.0)
    face = (np.abs(x - 20.0) < 1.5) & (np.abs(y) < 30.0)
    edge = body & (np.abs(y) > wide - 3.0)
    grain = ndimage.gaussian_filter(np.random.default_rng(5).normal(0.0, 0.25, x.shape), 0.8)
    dark = np.where(face | edge, 1.0, np.where(body, 0.5 + grain, 0.0))
    at = np.linspace(0.0, 150.0, 601)
    ring = np.r_[np.c_[at, _cowl(at)], np.c_[at, -_cowl(at)][::-1]]
    frame = half_mm_px()
    moved, _ = from_nose(frame, (ring,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(20.0, abs=2.0)


def test_a_panel_line_behind_a_leg_is_no_flat_face() -> None:
    """A leg reaches as far as a propeller, with a line across the body behind it; but ahead of it the body goes on."""
    above = [(0.0, 22.0), (150.0, 58.0)]
    below = [(150.0, -58.0), (70.0, -39.0), (70.0, -150.0), (58.0, -150.0), (58.0, -36.0), (0.0, -22.0)]
    ring = np.array(above + below)
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)
    at = np.array([[0, -22], [150, -58], [150, 58], [0, 22], [0, -22]], dtype=float) / 0.5 + (100.0, 180.0)
    pencil.line([(float(a), float(b)) for a, b in at], fill=255, width=6)
    pencil.line([(100 + 76 / 0.5, 180 - 40 / 0.5), (100 + 76 / 0.5, 180 + 40 / 0.5)], fill=255, width=6)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)
    frame = half_mm_px()
    moved, _ = from_nose(frame, (ring,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.5)


def _drawn(lines: tuple[tuple[tuple[float, float], ...], ...], pen: float = 3.0) -> Floats:
    """Ink of polylines in mm of `half_mm_px`."""
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)
    for line in lines:
        at = [(100.0 + x / 0.5, 180.0 - y / 0.5) for x, y in line]
        pencil.line(at, fill=255, width=round(pen / 0.5), joint="curve")
    return ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)


def test_a_line_just_behind_a_round_tip_is_no_flat_face() -> None:
    """Hatching on a coarse page: a stroke across the nose a pen's width behind its tip, with next to nothing ahead of it."""

    def half(x: Floats) -> Floats:
        return np.asarray(30.0 * np.sqrt(1.0 - (1.0 - np.minimum(x, 12.0) / 12.0) ** 2))

    upper = [(float(x), float(half(x))) for x in np.linspace(0.0, 150.0, 600)]
    lower = [(x, -y) for x, y in upper]
    dark = _drawn((tuple(upper), tuple(lower), ((2.9, -18.0), (2.9, 18.0))), pen=1.5)
    moved, _ = from_nose(half_mm_px(), (silhouette_from(0.0, half),), 1000.0, dark, pen=2.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.5)


def test_blades_clear_of_a_nose_are_no_part_of_it() -> None:
    """Two closed blades right and left of a round nose, a pen's width ahead of it, touch nothing."""
    frame, dark = drawn_nose(_dome, 3.0, hatched=False)
    turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    blades = tuple(np.c_[7.0 + 5.0 * np.cos(turn), s * 45.0 + 25.0 * np.sin(turn)] for s in (-1.0, 1.0))
    body = silhouette_from(0.0, _dome) + (14.0, 0.0)
    begun = replace(frame, origin=frame.origin - 14.0 / frame.mm_per_px * frame.first)
    moved, rings = from_nose(begun, (body, *blades), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * frame.mm_per_px == pytest.approx(0.0, abs=1.5)
    assert len(rings) == 1


def _spun(spinner: float, pointed: bool) -> tuple[tuple[Floats, ...], Floats]:
    """Ring and ink of a body whose face lies at 40 mm, 50 mm wide there, with a spinner of that width ahead of it.

    A propeller's line runs across the spinner at 22 mm.
    """
    x = np.linspace(0.0, 40.0, 41)
    half = 0.5 * spinner * (x / 40.0 if pointed else np.sqrt(1.0 - (1.0 - x / 40.0) ** 2))
    upper = [*zip(x.tolist(), half.tolist(), strict=True), (40.0, 25.0), (150.0, 36.0)]
    lower = [(a, -b) for a, b in upper]
    ring = np.array(upper + lower[::-1])
    dark = _drawn((tuple(upper), tuple(lower), ((40.0, -25.0), (40.0, 25.0)), ((22.0, -80.0), (22.0, 80.0))))
    return (ring,), dark


def test_blades_across_a_spinner_do_not_hide_the_face_another_view_shows() -> None:
    """The silhouette has a spike where the blades are; the face behind is hardly wider than the spinner."""
    (ring,), dark = _spun(50.0, False)
    blades = np.array([(20.5, -80.0), (23.5, -80.0), (23.5, 80.0), (20.5, 80.0)])
    before, after = ring[ring[:, 0] < 20.5], ring[ring[:, 0] > 23.5]
    upper, lower = (part[part[:, 1] >= 0.0] for part in (before, after))
    half = np.vstack([upper, blades[blades[:, 1] > 0.0][::-1], lower])
    spiked = np.vstack([half, half[::-1] * (1.0, -1.0)])
    for beside, at in ((40.0, 40.0), (0.0, 23.5)):
        moved, _ = from_nose(half_mm_px(), (spiked,), 1000.0, dark, pen=3.0, beside=beside)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(at, abs=2.5)


@pytest.mark.parametrize(("faced", "at"), [(True, 40.0), (False, 25.0)])
def test_a_spinner_does_not_end_at_blades_that_it_goes_on_through(faced: bool, at: float) -> None:
    """Two blades beside a spinner as wide as the body behind it, which ends at a line where no step shows."""
    (ring,), _ = _spun(50.0, False)
    edge = ring[ring[:, 1] >= 0.0]
    edge = edge[np.argsort(edge[:, 0], kind="stable")]
    root = np.interp([19.0, 25.0], *edge.T)
    blade = [(19.0, float(root[0])), (20.0, 80.0), (24.0, 80.0), (25.0, float(root[1]))]
    half = np.vstack([edge[edge[:, 0] < 19.0], blade, edge[edge[:, 0] > 25.0]])
    spiked = np.vstack([half, half[::-1] * (1.0, -1.0)])
    lines = [edge, edge * (1.0, -1.0), blade, np.array(blade) * (1.0, -1.0)]
    if faced:
        lines.append([(40.0, -25.0), (40.0, 25.0)])
    dark = _drawn(tuple(tuple(map(tuple, line)) for line in lines))
    moved, _ = from_nose(half_mm_px(), (spiked,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(at, abs=2.0)


@pytest.mark.parametrize("faced", [True, False])
def test_a_spinner_does_not_end_at_a_propeller_s_line_half_way_along_it(faced: bool) -> None:
    """The silhouette is thrown aside beside the line; the spinner goes on to the face, where the cowl begins to widen."""
    x = np.linspace(0.0, 40.0, 41)
    spinner = 12.0 * np.sqrt(1.0 - (1.0 - x / 40.0) ** 2)
    edge = np.r_[np.c_[x, spinner], [(75.0, 22.0), (150.0, 24.0)]]
    across = np.array([(17.0, 10.0), (21.0, 17.0), (22.0, 17.0), (23.0, 10.8)])
    half = np.vstack([edge[edge[:, 0] < 17.0], across, edge[edge[:, 0] > 23.0]])
    ring = np.vstack([half, half[::-1] * (1.0, -1.0)])
    lines = [edge, edge * (1.0, -1.0), np.array([(22.0, -80.0), (22.0, 80.0)])]
    if faced:
        lines.append(np.array([(40.0, -12.0), (40.0, 12.0)]))
    dark = _drawn(tuple(tuple(map(tuple, line)) for line in lines), pen=1.5)
    moved, _ = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=1.5)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(40.0 if faced else 20.0, abs=2.5)


def test_a_face_close_behind_blades_is_found_where_closing_made_both_one() -> None:
    """From the blades' rear edge to the face the silhouette is as wide as that, but nothing is drawn along its sides."""
    turn = np.linspace(0.0, np.pi, 40)
    spinner = tuple((22.0 - 22.0 * float(np.sin(t)), 16.0 * float(np.cos(t))) for t in turn)
    blades = tuple(
        tuple((18.0 + 5.0 * float(np.cos(t)), sign * 48.0 + 32.0 * float(np.sin(t))) for t in 2.0 * turn)
        for sign in (-1.0, 1.0)
    )
    body = ((150.0, 36.0), (34.0, 25.0), (34.0, -25.0), (150.0, -36.0))
    dark = _drawn((spinner, *blades, ((22.0, 16.0), (34.0, 16.0)), ((22.0, -16.0), (34.0, -16.0)), body))
    half = np.array(
        [(0.0, 0.0), (3.0, 11.0), (13.0, 15.0), (13.0, 48.0), (18.0, 80.0), (23.0, 48.0), (24.0, 26.0)]
    )
    half = np.vstack([half, [(34.0, 25.0), (150.0, 36.0)]])
    ring = np.vstack([half, half[::-1] * (1.0, -1.0)])
    moved, _ = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(34.0, abs=1.5)


@pytest.mark.parametrize("at", [38.0, 43.0, 50.0])
def test_a_panel_line_behind_a_round_nose_is_no_flat_face_under_a_wide_pen(at: float) -> None:
    """The nose rounds on across it, where a spinner would end."""

    def half(x: Floats) -> Floats:
        return np.asarray(40.0 * np.sqrt(1.0 - (1.0 - np.minimum(x, 110.0) / 110.0) ** 2))

    upper = [(float(x), float(half(x))) for x in np.linspace(0.0, 200.0, 800)]
    lower = [(x, -y) for x, y in upper]
    line = ((at, -float(half(at))), (at, float(half(at))))
    dark = _drawn((tuple(upper), tuple(lower), line), pen=4.5)
    moved, _ = from_nose(half_mm_px(), (silhouette_from(0.0, half),), 1000.0, dark, pen=4.5)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.5)


@pytest.mark.parametrize("pointed", [False, True])
def test_a_spinner_nearly_as_wide_as_the_face_behind_it_is_cut_off(pointed: bool) -> None:
    rings, dark = _spun(43.0, pointed)
    moved, _ = from_nose(half_mm_px(), rings, 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(40.0, abs=2.0)


def test_a_spinner_as_wide_as_the_face_is_cut_off_where_another_view_shows_it() -> None:
    rings, dark = _spun(50.0, False)
    moved, _ = from_nose(half_mm_px(), rings, 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=2.0)
    for beside in (38.0, 42.0):
        moved, _ = from_nose(half_mm_px(), rings, 1000.0, dark, pen=3.0, beside=beside)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(40.0, abs=2.0)
    moved, _ = from_nose(half_mm_px(), rings, 1000.0, dark, pen=3.0, beside=60.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=2.0)  # nothing is drawn there
    for broken, at in ((34, 40.0), (80, 0.0)):  # by a break a third of it long, or all but gone
        less = dark.copy()
        less[180 - broken // 2 : 180 + broken // 2, 160:200] = 0.0
        moved, _ = from_nose(half_mm_px(), rings, 1000.0, less, pen=3.0, beside=40.0)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(at, abs=2.0)


def test_a_silhouette_that_lost_the_spinner_begins_at_the_face_another_view_shows() -> None:
    """The spinner's strokes are still followed to their point ahead of it; without the other view that is the nose."""
    upper = ((0.0, 0.0), (30.0, 21.0), (30.0, 25.0), (150.0, 36.0))
    lower = tuple((x, -y) for x, y in upper)
    dark = _drawn((upper, lower, ((30.0, -25.0), (30.0, 25.0))), pen=4.0)
    lost = np.array([(0.0, 25.0), (120.0, 36.0), (120.0, -36.0), (0.0, -25.0)])
    for beside, at in ((28.0, 30.0), (0.0, 0.0)):
        moved, _ = from_nose(half_mm_px(30.0), (lost,), 1000.0, dark, pen=4.0, beside=beside)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(at, abs=2.0)


def test_a_silhouette_that_begins_at_the_face_is_not_cut_off_again_though_it_is_as_long_as_the_other_view() -> (
    None
):
    """A rudder behind the body makes up for the round spinner that it lost, and hatching hides that it was lost."""
    x = np.linspace(0.0, 30.0, 31)
    half = 14.0 * np.sqrt(1.0 - (1.0 - x / 30.0) ** 2)
    upper = (*zip(x.tolist(), half.tolist(), strict=True), (30.0, 15.0), (150.0, 36.0))
    lower = tuple((a, -b) for a, b in upper)
    hatching = tuple(((20.0 + k, -14.0), (48.0 + k, 14.0)) for k in range(0, 90, 12))
    dark = _drawn((upper, lower, ((30.0, -15.0), (30.0, 15.0)), *hatching), pen=2.0)
    lost = np.array([(0.0, 15.0), (120.0, 36.0), (120.0, -36.0), (0.0, -15.0)])
    moved, _ = from_nose(half_mm_px(30.0), (lost,), 1000.0, dark, pen=2.0, beside=30.0, length_beside=120.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(30.0, abs=2.0)


@pytest.mark.parametrize("beside", [True, False])
def test_a_flat_nose_close_behind_a_propeller_is_found_where_closing_made_both_one(beside: bool) -> None:
    """The silhouette begins at the propeller's line, as wide as the face 5 mm behind it; without a propeller it is right."""
    picture = Image.new("L", (480, 360), 0)
    pencil = ImageDraw.Draw(picture)
    pencil.line([(400, 140), (110, 140), (110, 220), (400, 220)], fill=255, width=3)
    if beside:
        pencil.line([(100, 60), (100, 300)], fill=255, width=3)
    else:
        pencil.line([(100, 140), (100, 220)], fill=255, width=3)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.8)
    ring = np.array([(0, -20), (150, -20), (150, 20), (0, 20)], dtype=float)
    moved, _ = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=1.5)
    at = float((moved.origin - half_mm_px().origin) @ moved.first) * moved.mm_per_px
    assert at == pytest.approx(5.0 if beside else 0.0, abs=0.6)


@pytest.mark.parametrize("shaft", [True, False])
def test_a_flat_nose_behind_a_propeller_on_its_shaft_has_no_point(shaft: bool) -> None:
    """The sides, carried on past the face, would meet ahead of the propeller; what is inked on the way lies on the middle."""
    face, pen = 9.0, 3.0
    side = [(face, 14.0), (60.0, 62.0), (150.0, 66.0)]
    lines = [
        [(a, -b) for a, b in side[::-1]] + side,
        [(0.0, -90.0), (0.0, 90.0)],
        [(-25.0, 0.0), (40.0, 0.0)],
    ]
    lines += [[(0.0, 0.0), (face, 0.0)]] if shaft else []
    dark = _drawn(tuple(tuple(line) for line in lines), pen)
    upper = np.array([(0.0, 10.0), *side])
    ring = np.r_[upper, upper[::-1] * (1.0, -1.0)]
    assert find_point(half_mm_px(), (ring,), 760.0, dark, pen=pen) is None


@pytest.mark.parametrize("round_", [20.0, 32.0])
def test_a_round_nose_close_behind_a_propellers_line_has_no_point(round_: float) -> None:
    """Its rims, followed forward, would meet in the line, 0.35 pens of paper ahead of the nose."""
    pen, lost = 4.0, 2.0

    def half(x: Floats) -> Floats:
        return np.asarray(round_ * np.sqrt(1.0 - (1.0 - x / 150.0) ** 2))

    x = np.linspace(0.0, 150.0, 400)
    outline = tuple((float(a), float(b)) for a, b in np.r_[np.c_[x, half(x)][::-1], np.c_[x, -half(x)]])
    line = (-1.35 * pen, -90.0), (-1.35 * pen, 90.0)
    dark = np.maximum(_drawn((line,), pen), _drawn((outline,), pen))
    ring = silhouette_from(lost, half)
    assert find_point(half_mm_px(lost), (ring,), 400.0, dark, pen=pen) is None


@pytest.mark.parametrize("propeller", [True, False])
def test_a_round_nose_is_found_behind_a_gap_closed_between_it_and_a_propeller(propeller: bool) -> None:
    """The gap's filling flares forward to the propeller's line, 6 mm ahead of the nose, or to where a worn one was."""
    frame, dark = half_mm_px(), _drawn((((-6.0, -90.0), (-6.0, 90.0)),) if propeller else ())
    x = np.linspace(0.0, 150.0, 400)
    half = 40.0 * np.sqrt(1.0 - (1.0 - x / 150.0) ** 2)
    outline = tuple((float(a), float(b)) for a, b in np.r_[np.c_[x, half][::-1], np.c_[x, -half]])
    dark = np.maximum(dark, _drawn((outline,)))
    filled = np.maximum(half, np.interp(x, [0.0, 3.0], [10.0, 9.0], right=0.0))
    ahead = np.c_[[-6.0, -4.0], [16.0, 11.0]]
    edge = np.r_[ahead, np.c_[x, filled]] + (6.0, 0.0)
    ring = np.r_[edge, edge[::-1] * (1.0, -1.0)]
    moved, rings = from_nose(frame.moved(-6.0), (ring,), 1000.0, dark, pen=1.5)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.0)
    wide = np.ptp(crossings(rings, 4.0, 0)[0])
    assert wide == pytest.approx(2.0 * float(np.interp(4.0, x, half)), abs=3.0)


@pytest.mark.parametrize("pen", [1.5, 2.5])
def test_a_round_nose_close_behind_a_propeller_is_found_where_closing_made_both_one(pen: float) -> None:
    """The silhouette begins at the propeller's line and runs 13 mm wide on either side to the nose 6 mm behind it."""
    outline = [(a + 6.0, b) for a, b in _snub(14.0, 20.0)]
    dark = _drawn((tuple(outline), ((0.0, -80.0), (0.0, 80.0))), pen)
    below, above = ([p for p in outline if sign * p[1] > 13.0] for sign in (-1.0, 1.0))
    ring = np.array([*below, (0.0, -13.0), (0.0, 13.0), *above])
    moved, rings = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=pen)
    at = float((moved.origin - half_mm_px().origin) @ moved.first) * moved.mm_per_px
    assert at == pytest.approx(6.0, abs=0.6)
    assert np.ptp(crossings(rings, 20.0, 0)[0]) == pytest.approx(47.0, abs=2.0)


@pytest.mark.parametrize("line", [2.5, 3.5])
def test_a_round_nose_that_reaches_through_a_propellers_line_begins_at_its_tip(line: float) -> None:
    """The propeller's own line, a stroke's width behind the tip, is no face."""
    x = np.linspace(0.0, 150.0, 600)
    half = 22.0 * (1.0 - (1.0 - x / 190.0) ** 2) ** 0.35
    outline = tuple((float(a), float(b)) for a, b in np.r_[np.c_[x, half][::-1], np.c_[x, -half]])
    dark = _drawn((outline, ((line, -90.0), (line, 90.0))), 3.0)
    ring = np.r_[np.c_[x, half], np.c_[x, -half][::-1]]
    moved, _ = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=3.0)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=1.0)


def test_a_spinner_only_the_side_view_tells_is_cut_off_in_both(tmp_path: Path) -> None:
    """From above a cone as wide as the face behind it, drawn across; from the side it is half as deep as the body.

    In mm: span 760, spinner 30 ahead of the face, wing 150 to 270 and stern 560 aft of it.
    """
    page = Image.new("L", (1800, 1300), 255)
    pencil = ImageDraw.Draw(page)

    def line(at: tuple[float, float], *points: tuple[float, float]) -> None:
        pencil.line([(at[0] + x, at[1] - y) for x, y in points], fill=0, width=3, joint="curve")

    top, side, front = (120.0, 500.0), (120.0, 1150.0), (1300.0, 1150.0)
    for sign in (1.0, -1.0):
        line(top, (-30, 0), (0, sign * 22), (90, sign * 35), (150, sign * 35))
        line(top, (150, sign * 35), (150, sign * 380), (270, sign * 380), (270, sign * 34), (480, sign * 15))
        line(top, (480, sign * 15), (480, sign * 120), (560, sign * 120), (560, 0))
        line(side, (-30, 0), (0, sign * 22))
        line(front, (sign * 35, -8), (sign * 380, -8), (sign * 380, 8), (sign * 35, 8))
        line(front, (sign * 35, -45), (sign * 35, 45), (sign * 4, 45), (sign * 4, 130), (0, 130))
    line(top, (0, -22), (0, 22))
    line(side, (0, -45), (0, 45), (430, 30), (460, 130), (560, 130), (560, 10), (0, -45))
    line(front, (-35, -45), (35, -45))
    page.save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=0.76)
    wing, body = found.outline("wing", "top"), found.outline("body", "side")
    assert wing is not None
    assert body is not None
    wing_x, body_x = (J.ring(o.path)[:, 0] for o in (wing, body))
    assert (wing_x.min(), wing_x.max()) == pytest.approx((150.0, 270.0), abs=2.0)
    assert (body_x.min(), body_x.max()) == pytest.approx((0.0, 560.0), abs=3.0)


def test_a_nose_behind_blades_that_a_closed_gap_has_joined_to_it_is_its_own_line() -> None:
    """Two blades 5 mm deep, paper between them at the hub, their rear edge 3 mm ahead of a round nose."""
    x = np.linspace(0.0, 150.0, 400)
    half = 40.0 * np.sqrt(1.0 - (1.0 - x / 150.0) ** 2)
    outline = tuple((float(a), float(b)) for a, b in np.r_[np.c_[x, half][::-1], np.c_[x, -half]])
    blades = tuple(
        ((-8.0, s * 4.0), (-8.0, s * 70.0), (-3.0, s * 70.0), (-3.0, s * 4.0), (-8.0, s * 4.0))
        for s in (-1.0, 1.0)
    )
    dark = _drawn((outline, *blades), 1.5)
    edge = np.r_[[(-8.0, 6.0), (-3.0, 7.0)], np.c_[x, np.maximum(half, 7.0)]] + (8.0, 0.0)
    ring = np.r_[edge, edge[::-1] * (1.0, -1.0)]
    moved, rings = from_nose(half_mm_px().moved(-8.0), (ring,), 1000.0, dark, pen=1.5)
    assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(0.0, abs=0.8)
    assert np.ptp(crossings(rings, 10.0, 0)[0]) == pytest.approx(
        2.0 * float(np.interp(10.0, x, half)), abs=3.0
    )


def test_a_line_of_hatching_between_blades_is_no_nose() -> None:
    """It slants on through the spinner's middle; the face lies behind the blades."""
    x = np.linspace(0.0, 36.0, 37)
    spinner = np.c_[x, 22.0 * np.sqrt(1.0 - (1.0 - x / 36.0) ** 2)]
    edge = np.vstack([spinner, [(36.0, 50.0), (150.0, 56.0)]])
    root = np.interp([14.0, 28.0], *spinner.T)
    blade = np.array([(14.0, root[0]), (17.0, 85.0), (25.0, 85.0), (28.0, root[1])])
    half = np.vstack([spinner[spinner[:, 0] < 14.0], blade, edge[edge[:, 0] > 28.0]])
    ring = np.vstack([half, half[::-1] * (1.0, -1.0)])
    face = np.array([(36.0, -50.0), (36.0, 50.0)])
    lines = [edge, edge * (1.0, -1.0), blade, blade * (1.0, -1.0), face]
    drawn = _drawn(tuple(tuple(map(tuple, line)) for line in lines), pen=2.0)
    hatched = np.maximum(drawn, _drawn((((10.0, -12.0), (34.0, 12.0)),), pen=1.0))
    for dark in (drawn, hatched):
        moved, _ = from_nose(half_mm_px(), (ring,), 1000.0, dark, pen=2.0)
        assert (moved.origin[0] - 100.0) * 0.5 == pytest.approx(36.0, abs=2.0)
