"""Which silhouette is which, on sheets where every view is what it is and says where its nose is."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812

from sheetlark.trace import trace_picture
from sheetlark.trace.paper.regions import Solid
from sheetlark.trace.paper.search import Sheet, shows_more, straighten
from sheetlark.trace.paper.straight import straight_strokes
from sheetlark.trace.paper.views import Candidate, Reading, candidates, read_views
from sheetlark.trace.shapes.contour import Rings
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.in_picture import view_in_picture


@pytest.mark.parametrize(("kind", "seed"), [("monoplane", 10), ("biplane", 13), ("delta", 2)])
def test_a_side_view_may_stand_on_its_tail_beside_the_top_view(tmp_path: Path, kind: str, seed: int) -> None:
    drawn = C.draw(seed, kind, "clean")
    assert drawn.noses["top"] == drawn.noses["side"] == "up"
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert {v.kind: v.nose for v in found.views} == drawn.noses
    for view in found.views:
        x0, y0, x1, y1 = view.box_px
        u0, v0, u1, v1 = drawn.boxes_px[view.kind]
        assert u0 < 0.5 * (x0 + x1) < u1
        assert v0 < 0.5 * (y0 + y1) < v1


def test_a_plank_wing_ahead_of_another_is_no_dimension_line(tmp_path: Path) -> None:
    """Its leading edge runs right across, as a dimension line does; but the nose stands ahead of it."""
    drawn = C.draw(26, "biplane", "clean")
    assert drawn.traits["form"] == "rectangular"
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert {v.kind for v in found.views} == {"top", "side", "front"}
    wings = [o for o in found.outlines if o.part == "wing"]
    assert len(wings) == 2


def test_a_dimension_line_under_the_front_view_is_no_second_wing(tmp_path: Path) -> None:
    drawn = C.draw(19, "monoplane", "heavy")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert [o.name for o in found.outlines if o.part == "wing"] == ["wing"]


# a border turned by 12 degrees; a dimension line from tip to tip of a plank wing; a fin and a nose let open by breaks
@pytest.mark.parametrize(("kind", "seed"), [("delta", 7000), ("monoplane", 7016), ("delta", 7022)])
def test_worn_sheets_show_all_views_where_they_are(tmp_path: Path, kind: str, seed: int) -> None:
    drawn = C.draw(seed, kind, "heavy")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert {v.kind for v in found.views} == {"top", "side", "front"}
    for view in found.views:
        x0, y0, x1, y1 = view.box_px
        u0, v0, u1, v1 = drawn.boxes_px[view.kind]
        both = (min(x1, u1) - max(x0, u0)) * (min(y1, v1) - max(y0, v0))
        assert both > 0.5 * ((x1 - x0) * (y1 - y0) + (u1 - u0) * (v1 - v0) - both), view.kind
    top = found.view("top")
    assert top is not None
    assert top.scale_mm_per_px == pytest.approx(drawn.scale_mm_per_px, rel=0.005)


def test_a_part_let_open_by_a_break_is_not_left_out(tmp_path: Path) -> None:
    """Without its tail this top view is as well mirrored as with it; the tail's lines hang on to it."""
    drawn = C.draw(7010, "monoplane", "heavy")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert found.outline("tail", "top") is not None


def test_pieces_of_one_figure_are_not_taken_for_two_views() -> None:
    """A filled top view opened so wide that its tail cone goes: its tail is as wide as no front view of the same ink."""

    def piece(x: int, y: int, width: int, height: int, reach: tuple[int, int, int, int]) -> Solid:
        mask = np.ones((height, width), dtype=bool)
        mask[: height // 3, : width // 3] = mask[: height // 3, -(width // 3) :] = False
        return Solid(mask=mask, at=(y, x), box=(x, y, x + width, y + height), reach=reach)

    whole = (100, 100, 400, 400)
    wing, tail = piece(100, 100, 300, 130, whole), piece(200, 340, 110, 50, whole)
    assert read_views(candidates((wing, tail))).front is None
    alone = piece(500, 340, 300, 50, (500, 340, 800, 390))
    found = read_views(candidates((wing, tail, alone)))
    assert found.front is not None
    assert found.front.solid is alone


def test_a_stroke_from_rim_to_rim_ends_free_at_both() -> None:
    ink = np.zeros((300, 400), dtype=bool)
    for x in range(400):
        ink[100 + x // 4 : 103 + x // 4, x] = True
    (stroke,) = straight_strokes(ink, pen_px=3.0, shortest_px=60.0)
    assert stroke.free_a
    assert stroke.free_b


@pytest.mark.parametrize(("kind", "seed"), [("monoplane", 4), ("monoplane", 6), ("delta", 2)])
def test_lines_right_across_the_sheet_say_nothing_about_its_turn(kind: str, seed: int) -> None:
    """Two stray lines close in paper between the figures and make one lopsided figure of them."""
    picture = Image.fromarray(C.draw(seed, kind, "clean").image).convert("L")
    pencil = ImageDraw.Draw(picture)
    for a, b in (((0.10, 0.0), (0.23, 1.0)), ((0.36, 0.0), (0.85, 1.0)), ((0.34, 0.25), (0.73, 0.75))):
        ends = [(x * picture.width, y * (picture.height - 1)) for x, y in (a, b)]
        pencil.line(ends, fill=0, width=2)
    assert abs(straighten(np.asarray(picture, dtype=np.float64)).turned_rad) < np.radians(0.2)


def test_a_front_view_may_be_low_where_its_fin_is_a_line() -> None:
    """The silhouette of a thin delta from ahead is a strip; the ink that hangs on to it is as high as the side view."""

    def solid(mask: np.ndarray, x: int, y: int, reach: tuple[int, int, int, int]) -> Solid:
        rows, columns = mask.shape
        return Solid(mask=mask, at=(y, x), box=(x, y, x + columns, y + rows), reach=reach)

    rows, columns = np.mgrid[0:350, 0:200]
    top = solid(np.abs(rows - 175) < 0.85 * (200 - columns), 300, 50, (300, 50, 500, 400))
    rows, columns = np.mgrid[0:76, 0:208]  # a little longer, by a centre line's dash at its nose
    side = solid((rows > 60) | (columns < 70 - 0.5 * rows), 100, 430, (100, 430, 308, 506))
    for highest, seen in ((430, True), (490, False)):
        strip = solid(np.ones((16, 350), dtype=bool), 350, 490, (350, highest, 700, 506))
        found = read_views(candidates((top, side, strip)))
        assert (found.side is not None and found.front is not None) == seen


def test_a_pointed_nose_and_stern_whose_edges_end_free_are_not_rubbed_out_of_both_views_alike() -> None:
    """Cut down as much, both views are as long as each other again: the whole ones have the right of way."""

    def read(length: int, from_: int, more: str = "") -> Reading:
        """A delta, nose to the right, from a column of the sheet to one."""
        rows, columns = np.mgrid[0:391, 0:460]
        inside = (np.abs(rows - 195) < np.clip(0.6 * (360 - columns), 14, 195)) & (columns < length)
        inside |= (more == "lopsided") & (rows < 100) & (columns < 250)
        columns_ = int(np.flatnonzero(inside.any(0))[-1]) + 1
        top = Solid(
            mask=inside[:, :columns_],
            at=(300, 100),
            box=(100, 300, 100 + columns_, 691),
            reach=(100, 300, 560, 691),
        )
        rows, columns = np.mgrid[0:120, 0:460]
        inside = (np.abs(rows - 90) < 5 + 0.06 * columns) | (columns < 80)
        inside = inside[:, from_ : 460 - 25 * (more == "shorter")]
        box = (100 + from_, 100, 100 + from_ + inside.shape[1], 220)
        side = Solid(mask=inside, at=(100, 100 + from_), box=box, reach=box)
        rows, columns = np.mgrid[0:95, 0:391]
        inside = (np.abs(rows - 75) < 12) | (np.abs(columns - 195) < 12)
        front = Solid(mask=inside, at=(100, 700), box=(700, 100, 1091, 195), reach=(700, 100, 1091, 195))
        found = read_views(candidates((top, side, front)))
        assert found.complete
        assert found.top_axis == "level"
        return found

    cut = read(350, 105)
    assert shows_more(read(460, 0), cut)
    assert not shows_more(cut, cut)
    assert not shows_more(cut, read(460, 0))
    assert not shows_more(read(460, 0, "lopsided"), cut)  # closed in by a stray line
    assert not shows_more(read(460, 0, "shorter"), cut)


def test_a_circle_in_the_front_view_is_not_all_of_it() -> None:
    """A propeller's circle is mirrored better than the wings breaks have opened, and as high as the side view."""

    def solid(mask: np.ndarray, x: int, y: int, reach: tuple[int, int, int, int]) -> Solid:
        rows, columns = mask.shape
        return Solid(mask=mask, at=(y, x), box=(x, y, x + columns, y + rows), reach=reach)

    rows, columns = np.mgrid[0:350, 0:400]
    wing, body = np.abs(rows - 120) < 40, np.abs(columns - 200) < 20
    top = solid(wing | body | ((rows > 300) & (np.abs(columns - 200) < 80)), 50, 50, (50, 50, 450, 400))
    rows, columns = np.mgrid[0:80, 0:350]
    side = solid((rows > 40) | (columns > 300), 500, 50, (500, 50, 850, 130))
    figure = (50, 500, 450, 620)
    rows, columns = np.mgrid[0:80, 0:100]
    circle = solid((rows / 40.0 - 1.0) ** 2 + (columns / 50.0 - 1.0) ** 2 < 1.0, 200, 530, figure)
    alone = read_views(candidates((top, side, circle)))
    assert alone.front is not None
    assert alone.front.solid is circle  # all that was found of it
    rows, columns = np.mgrid[0:120, 0:400]
    wings = ((rows < 14) & (columns > 40)) | ((rows > 90) & (rows < 105)) | (np.abs(columns - 200) < 30)
    whole = solid(wings, 50, 500, figure)
    found = read_views(candidates((top, side, circle, whole)))
    assert found.front is not None
    assert found.front.solid is whole


@pytest.mark.parametrize("tips", ["on a line", "not drawn"])
def test_a_side_view_is_on_the_others_scale_though_swept_tips_lie_behind_its_body(
    tmp_path: Path, tips: str
) -> None:
    """Of a tailless aeroplane, whose wing's tips reach 160 mm behind the body's end."""
    span, wing = 1000.0, np.array([(200.0, 0.0), (560.0, 500.0), (680.0, 500.0), (520.0, 0.0)])
    ends = 40.0 * np.sin(np.pi * np.linspace(0.0, 1.0, 60) ** 0.7)
    body = np.c_[520.0 * np.linspace(0.0, 1.0, 60), ends]
    image = Image.new("L", (1500, 2000), 255)
    pen = ImageDraw.Draw(image)

    def draw(points: np.ndarray, at: tuple[float, float]) -> None:
        pen.polygon([(float(x + at[0]), float(y + at[1])) for x, y in points], outline=0, fill=255, width=3)

    for half in (wing, wing * [1, -1]):
        draw(half, (100.0, 600.0))
    draw(np.r_[body, body[::-1] * [1, -1]], (100.0, 600.0))
    side = (100.0, 1400.0)
    draw(np.array([(400.0, 0.0), (450.0, -150.0), (500.0, -150.0), (515.0, 0.0)]), side)
    draw(np.r_[body, body[::-1] * [1, -1]], side)
    if tips == "on a line":
        pen.line([(side[0] + 200, side[1]), (side[0] + 562, side[1] - 40)], fill=0, width=3)
        x = np.linspace(0.0, 1.0, 40)
        thick = 8.0 * np.sin(np.pi * x**0.6)
        draw(np.r_[np.c_[560 + 120 * x, -40 - thick], np.c_[560 + 120 * x, -40 + thick][::-1]], side)
    front = (700.0, 1750.0)
    pen.rectangle((front[0] - 2, front[1] - 150, front[0] + 2, front[1]), outline=0, fill=255, width=2)
    draw(
        np.array([(-500.0, -3.0), (0.0, -12.0), (500.0, -3.0), (500.0, 3.0), (0.0, 12.0), (-500.0, 3.0)]),
        front,
    )
    pen.ellipse((front[0] - 40, front[1] - 40, front[0] + 40, front[1] + 40), outline=0, fill=255, width=3)
    image.save(tmp_path / "tailless.png")
    t = trace_picture(tmp_path / "tailless.png", span_m=span / 1000)
    assert sorted(v.kind for v in t.views) == ["front", "side", "top"]
    assert np.ptp([v.scale_mm_per_px for v in t.views]) < 0.005
    assert not any(n.id == "side-scale" for n in t.notes)


def test_a_front_view_of_which_one_wing_alone_holds_paper_is_as_wide_as_its_ink() -> None:
    def solid(mask: np.ndarray, x: int, y: int, reach: tuple[int, int, int, int]) -> Solid:
        rows, columns = mask.shape
        return Solid(mask=mask, at=(y, x), box=(x, y, x + columns, y + rows), reach=reach)

    rows, columns = np.mgrid[0:200, 0:280]
    top = solid((np.abs(rows - 60) < 20) | (np.abs(columns - 140) < 12), 30, 30, (30, 30, 310, 230))
    rows, columns = np.mgrid[0:52, 0:200]
    side = solid((rows > 30) | (columns > 180), 340, 100, (340, 100, 540, 152))
    rows, columns = np.mgrid[0:30, 0:152]
    half = (columns < 20) | (np.abs(rows - 8 + 0.04 * columns) < 3)
    for reach, seen in (((560, 100, 840, 152), True), ((620, 100, 840, 152), False)):
        found = read_views(candidates((top, side, solid(half, 688, 122, reach))))
        assert found.side is not None
        assert (found.front is not None) == seen


@pytest.mark.parametrize(
    ("highest", "upper"), [(36, 36), (20, 60)], ids=["a propeller's circle", "a dimension far above"]
)
def test_a_front_view_whose_thin_wings_hold_no_paper_reaches_from_tip_to_tip(
    highest: int, upper: int
) -> None:
    """The body alone is a silhouette; the ink joined to it is as wide as the span."""
    box, reach = (80, 60, 120, 90), (0, highest, 200, 90)
    alone = Candidate(
        solid=Solid(mask=np.ones((30, 40), dtype=bool), at=(60, 80), box=box, reach=reach),
        upright=1.0,
        level=1.0,
    )
    ring = np.array([(80.0, 60.0), (120.0, 60.0), (120.0, 90.0), (80.0, 90.0)])
    sheet = Sheet(
        dark=np.zeros((200, 200)),
        ink=np.zeros((200, 200), dtype=bool),
        pen_px=2.0,
        turned_rad=0.0,
        given_shape=(200, 200),
        pool=1,
    )
    frame = Frame(
        origin=np.array([100.0, 90.0]),
        first=np.array([1.0, 0.0]),
        second=np.array([0.0, -1.0]),
        mm_per_px=1.0,
    )
    view = view_in_picture(
        "front",
        sheet,
        alone,
        Rings(rings=(ring,), pen_px=2.0),
        frame,
        px_per_px=1.0,
        nose="toward",
        confidence=0.9,
        most_px=(200.0, 50.0),
    )
    x0, y0, x1, _ = view.box_px
    assert (x0, x1) == pytest.approx((0.5, 200.5))
    assert y0 == pytest.approx(upper + 0.5)
