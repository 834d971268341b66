"""The assembly drawing: every part once, every figure true, nothing on top of anything else."""

from __future__ import annotations

import functools
import hashlib
import itertools
import math
import re
import runpy
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point

from sheetlark.cli import main
from sheetlark.design import edited, loads, starter
from sheetlark.errors import SheetError
from sheetlark.evaluation import evaluate
from sheetlark.handbook import assembly, assembly_pdf, draw, take_apart, write_assembly
from sheetlark.handbook.balloons import EYE, GAP_MM, RING_MM, _plate
from sheetlark.handbook.board import Board
from sheetlark.handbook.depths import CELLS
from sheetlark.handbook.dimensions import Span, level_dimensions
from sheetlark.handbook.exploded import explode
from sheetlark.handbook.pieces import Item
from sheetlark.handbook.scene import Shown
from sheetlark.parts import Part, Piece
from sheetlark.sheets import Layer, svg_text
from sheetlark.sheets.lettering import letter_box
from sheetlark.units import INCH_M

PLANK = """
[model]
name = "A plank with a name that is far too long for the room"
units = "imperial"
[sheet]
stock = "foam-board-5"
[[wing]]
name = "wing"
at = [0, 0]
span = "30 in"
root_chord = "9 in"
[wing.aileron]
role = "elevon"
"""

STARTERS = ("dunnock", "brambling", "turnstone")
ODD = {**runpy.run_path(str(Path(__file__).parents[1] / "odd_designs.py"))["ODD"], "plank": PLANK}
EVERY = (*STARTERS, "backstagger", "canard", "plank")


@functools.cache
def looked_at(name: str):
    return evaluate(loads(ODD[name] if name in ODD else starter(name)))


@functools.cache
def drawn(name: str):
    return assembly(looked_at(name))


def solid_box_mm(evaluation):
    """Corners of all sheets by their matrices, and of all rods by their middle lines."""
    found = []
    for part in evaluation.kit.parts:
        for piece in itertools.chain.from_iterable(part.copies):
            for w in (-part.thickness_mm / 2, part.thickness_mm / 2):
                flat = np.column_stack(
                    [piece.outline, np.full(len(piece.outline), w), np.ones(len(piece.outline))]
                )
                found.append((piece.matrix @ flat.T)[:3].T)
    found += [np.array(rod.points_mm) for rod in evaluation.kit.rods]
    every = np.concatenate(found)
    return every.min(axis=0), every.max(axis=0)


@pytest.mark.parametrize("name", EVERY)
def test_every_part_number_stands_once_in_the_exploded_view(name) -> None:
    found = drawn(name)
    numbers = [str(part.number) for part in looked_at(name).kit.parts]
    said = [b.text for b in found.exploded.balloons]
    assert sorted(t for t in said if t.isdigit()) == sorted(numbers)
    assert len(said) == len(set(said))
    assert sorted(said) == sorted(row.mark for row in found.rows)
    # and on the paper: the number is written in its balloon
    for balloon in found.exploded.balloons:
        here = [w for w in found.drawing.lettering if math.dist(w.at, balloon.at) < 0.01]
        assert [w.text for w in here] == [balloon.text]


@pytest.mark.parametrize("name", EVERY)
def test_the_list_counts_every_copy_and_every_rod(name) -> None:
    kit = looked_at(name).kit
    rows = drawn(name).rows
    assert {row.mark: row.amount for row in rows if row.mark.isdigit()} == {
        str(p.number): p.count for p in kit.parts
    }
    assert sum(row.amount for row in rows if not row.mark.isdigit()) == len(kit.rods)
    written = {w.text for w in drawn(name).drawing.lettering}
    assert {part.name for part in kit.parts} <= written


@pytest.mark.parametrize("name", EVERY)
def test_balloons_cover_no_line_and_no_other_balloon(name) -> None:
    found = drawn(name)
    balloons = found.exploded.balloons
    for a, b in itertools.combinations(balloons, 2):
        assert math.dist(a.at, b.at) > 2 * RING_MM + 0.4, (a.text, b.text)
    for balloon in balloons:
        inner = Point(balloon.at).buffer(RING_MM - 0.05)
        for line in found.drawing.lines:
            if LineString(line.points).length < 20.0 and line.closed:
                middle = line.points.mean(axis=0)
                if math.dist(middle, balloon.at) < 0.01:
                    continue  # its own ring
            assert not inner.intersects(LineString(line.points)), (balloon.text, line.layer, line.owner)


@pytest.mark.parametrize("name", EVERY)
def test_a_leader_ends_on_the_part_it_numbers_and_crosses_no_other_leader(name) -> None:
    found = drawn(name)
    ink: dict[str, MultiLineString] = {}
    for line in found.drawing.lines:
        if line.owner:
            ink.setdefault(line.owner, []).append(LineString(line.points))
    ink = {owner: MultiLineString(runs) for owner, runs in ink.items()}
    for balloon in found.exploded.balloons:
        near = {owner: runs.distance(Point(balloon.points_to)) for owner, runs in ink.items()}
        assert near[balloon.text] < 1.2, balloon.text
        assert min(near, key=near.__getitem__) == balloon.text
    leaders = [LineString([b.at, b.points_to]) for b in found.exploded.balloons]
    assert not any(a.intersects(b) for a, b in itertools.combinations(leaders, 2))


@pytest.mark.parametrize("name", EVERY)
def test_no_piece_covers_another(name) -> None:
    moved = explode(take_apart(looked_at(name).kit), EYE, GAP_MM)
    for a, b in itertools.combinations(moved, 2):
        assert a.shadow.distance(b.shadow) > 0.8 * GAP_MM, (a.item.name, b.item.name)


@pytest.mark.parametrize("name", EVERY)
def test_all_lettering_is_large_enough_and_apart(name) -> None:
    drawing = drawn(name).drawing
    words = drawing.lettering
    # 2.5 mm on A3 is 1.77 mm, 5 points, when the page is printed on A4
    assert min(w.size_mm for w in words) >= 2.5 - 1e-9
    boxes = [letter_box(w).buffer(-0.35) for w in words]
    for (a, box), (b, other) in itertools.combinations(zip(words, boxes, strict=True), 2):
        assert not box.intersects(other), (a.text, b.text)
    for line in drawing.lines:
        assert line.points.min() > 4.0
        assert (line.points < [416.0, 293.0]).all()
    for word, box in zip(words, boxes, strict=True):
        x0, y0, x1, y1 = box.bounds
        assert min(x0, y0, 420.0 - x1, 297.0 - y1) > 4.0, word.text


@pytest.mark.parametrize("name", EVERY)
def test_figures_are_the_computed_ones(name) -> None:
    e, m = looked_at(name), drawn(name).measures
    low, high = solid_box_mm(e)
    assert 1e3 * m.length_m == pytest.approx(high[0] - low[0], abs=1.5)  # rods have a thickness too
    wheels = [i for i in e.airframe.equipment if i.kind == "wheel"]
    foot = min([low[2], *(1e3 * i.at_m[2] - 500 * e.stock.wheel(i.key).diameter_m for i in wheels)])
    assert 1e3 * m.height_m == pytest.approx(high[2] - foot, abs=0.7)
    assert m.span_m == pytest.approx(max(r.span_m for r in m.surfaces if not r.upright))
    widest = max(row.span_m for row in m.surfaces if not row.upright)
    # the sheet's thickness leans out at the tip of a wing with dihedral
    assert 1e3 * widest == pytest.approx(high[1] - low[1], abs=1.2)


@pytest.mark.parametrize("name", EVERY)
def test_every_dimension_is_as_long_as_it_says(name) -> None:
    found = drawn(name)
    unit = 1e3 * INCH_M if looked_at(name).design.model.units == "imperial" else 1.0
    runs = [
        float(np.ptp(line.points, axis=0).max()) * found.one_to
        for line in found.drawing.on(Layer.DIMENSION)
        if len(line.points) == 2 and min(np.ptp(line.points, axis=0)) < 1e-6
    ]
    tried = 0
    for words in found.drawing.lettering:
        read = re.match(
            r".*?(?:wing|tailplane|foreplane|chord|stagger|gap|balance|arm|length|height|track) (−?[\d.]+)",
            words.text,
        )
        if words.layer != Layer.DIMENSION or read is None or "°" in words.text:
            continue
        tried += 1
        said = abs(float(read.group(1).replace("−", "-"))) * unit
        # half of the last figure, and the cosine of an incidence of 2 degrees over the chord
        assert min(abs(run - said) for run in runs) < 0.006 * unit + 0.12, words.text
    assert tried >= 4


def test_two_wings_state_stagger_and_gap_with_their_sense() -> None:
    (pair,) = drawn("backstagger").measures.pairs
    assert (pair.lower, pair.upper) == ("lower wing", "upper wing")
    assert 1e3 * pair.stagger_m == pytest.approx(-26.0)
    assert 1e3 * pair.gap_m == pytest.approx(129.0)
    (ahead,) = drawn("brambling").measures.pairs
    assert 1e3 * ahead.stagger_m == pytest.approx(26.0)
    assert 1e3 * ahead.gap_m == pytest.approx(132.0)
    words = {w.text for w in drawn("backstagger").drawing.lettering}
    assert {"stagger −26", "gap 129", "upper wing +1°", "lower wing 0°"} <= words


def test_a_foreplane_has_an_arm_ahead_and_a_tailless_model_none() -> None:
    assert drawn("canard").measures.arm_m < 0
    assert any(w.text.startswith("foreplane arm ") for w in drawn("canard").drawing.lettering)
    assert drawn("turnstone").measures.arm_m is None
    assert not any("arm" in w.text.split() for w in drawn("turnstone").drawing.lettering)


def test_the_balance_mark_stands_at_its_figure() -> None:
    """The ringed cross of the side view against the nose datum, both read off the drawing."""
    found = drawn("dunnock")
    rings = [line.points.mean(axis=0) for line in found.drawing.on(Layer.BALANCE) if line.closed]
    side = max(rings, key=lambda p: float(p[0]))
    said = next(w for w in found.drawing.lettering if re.fullmatch(r"balance [\d.]+", w.text))
    feet = [
        line.points
        for line in found.drawing.on(Layer.DIMENSION)
        if len(line.points) == 2 and abs(line.points[:, 0] - side[0]).max() < 1e-6
    ]
    assert feet, "a dimension starts under the mark"
    assert float(said.text.split()[1]) == pytest.approx(1e3 * found.measures.balance_m, abs=0.06)


def test_imperial_models_are_told_in_inches() -> None:
    e = evaluate(loads(edited(starter("turnstone"), {("model", "units"): "imperial"})))
    words = {w.text for w in assembly(e).drawing.lettering}
    assert "wing 23.62" in words
    assert any(w.startswith("Lengths in inches") for w in words)
    assert any(w.endswith(" in on the model") for w in words)


def test_too_large_a_model_is_refused_with_its_size() -> None:
    from sheetlark.handbook.assembly import _Layout

    class Views:
        rows_ahead = rows_behind = rows_below = rows_over = 1

        def reach_mm(self):
            return np.zeros(3), np.array([14_000.0, 16_000.0, 5.0])

    with pytest.raises(SheetError, match=r"too large for an assembly drawing at 1:50 on A3"):
        _Layout(Views(), drawn("plank").measures, 4, (9e3, 9e3))


@pytest.mark.parametrize("name", EVERY)
def test_pdf_is_sound_one_page_of_a3_and_brings_its_fonts(name, tmp_path) -> None:
    import io

    import pikepdf

    content = assembly_pdf(drawn(name).drawing)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert not pdf.check_pdf_syntax()
        (page,) = pdf.pages
        assert [float(v) * 25.4 / 72 for v in page.MediaBox] == pytest.approx([0, 0, 420, 297], abs=0.01)
        assert "/ViewerPreferences" not in pdf.Root  # it may be printed to fit
        fonts = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/Font"]
        assert fonts
        assert all("/FontFile2" in font.FontDescriptor for font in fonts if "/FontDescriptor" in font)
        assert any("/FontDescriptor" in font for font in fonts)
    if shutil.which("qpdf"):
        file = tmp_path / "a.pdf"
        file.write_bytes(content)
        done = subprocess.run(["qpdf", "--check", str(file)], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("name", EVERY)
def test_svg_reads_back_with_every_part_named(name) -> None:
    root = ET.fromstring(svg_text(drawn(name).drawing))
    owners = {p.get("data-part") for p in root.iter("{http://www.w3.org/2000/svg}path")} - {None}
    assert owners == {row.mark for row in drawn(name).rows}
    assert root.get("width") == "420mm"


def test_same_model_same_bytes_in_another_process() -> None:
    program = (
        "import hashlib\n"
        "from sheetlark.design import loads, starter\n"
        "from sheetlark.evaluation import evaluate\n"
        "from sheetlark.handbook import assembly_drawing, assembly_pdf\n"
        "print(hashlib.sha256(assembly_pdf(assembly_drawing(evaluate(loads(starter('turnstone')))))).hexdigest())\n"
    )
    theirs = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONHASHSEED": "77", "TZ": "Pacific/Auckland", "PATH": "/usr/bin:/bin"},
    ).stdout
    ours = assembly_pdf(drawn("turnstone").drawing)
    assert theirs.strip() == hashlib.sha256(ours).hexdigest()


def test_plans_come_with_the_assembly_drawing_and_say_so(tmp_path) -> None:
    design = tmp_path / "little.toml"
    design.write_text(starter("dunnock"), encoding="utf-8")
    done = CliRunner().invoke(main, ["plans", str(design), "-o", str(tmp_path / "out"), "--paper", "a3"])
    assert done.exit_code == 0, done.output
    for kind in ("assembly.pdf", "assembly.svg", "patterns.pdf", "patterns.svg"):
        assert f"dunnock-{kind}" in done.output
        assert (tmp_path / "out" / f"dunnock-{kind}").stat().st_size > 1000


def test_a_folder_that_cannot_be_written_is_named(tmp_path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("x")
    with pytest.raises(SheetError, match=r"cannot be written to .*file"):
        write_assembly(looked_at("plank"), Path(blocked))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(40, 330), st.floats(1, 90), st.floats(60, 70), st.integers(0, 4000)),
        min_size=1,
        max_size=6,
        unique_by=lambda t: round(t[0]),
    )
)
def test_stacked_dimensions_keep_their_figures_apart(found) -> None:
    board = Board("b", 420.0, 297.0)
    spans = [
        Span(start=(x, y), end=(x + long, y), text=f"length {figure / 10:g}") for x, long, y, figure in found
    ]
    level_dimensions(board, spans, 80.0, up=True)
    boxes = [letter_box(w).buffer(-0.4) for w in board.words]
    assert len(boxes) == len(spans)
    assert not any(a.intersects(b) for a, b in itertools.combinations(boxes, 2))


@settings(max_examples=25, deadline=None)
@given(
    st.floats(40, 300),
    st.floats(40, 300),
    st.floats(0.1, 0.8),
    st.floats(-1.0, 1.0),
    st.floats(-3, 3),
    st.floats(4, 8),
)
def test_a_plate_drawn_exactly_agrees_with_the_depth_grid(wide, tall, share, lean, turn, thick) -> None:
    """Two ways to take hidden lines away, one by reasoning and one by looking, draw the same ink."""
    outline = np.array([(0, 0), (wide, 0), (wide, tall), (0.4 * wide, tall), (0, 0.6 * tall)])
    low, high = (
        np.array([0.3, 0.2]) * (wide, tall),
        np.array([0.3 + 0.4 * share, 0.2 + 0.5 * share]) * (wide, tall),
    )
    assume((high - low).min() > 1.5 * thick)  # deep in a narrow hole the grid sees its own grain
    hole = np.array([low, (low[0], high[1]), high, (high[0], low[1])])
    c, s = math.cos(lean), math.sin(lean)
    tilt = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.eye(4)
    matrix[:3, :3] = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ tilt
    if abs((EYE.axes() @ matrix[:3, :3])[2, 2]) < 0.35:
        return  # nearly edge on: what the grid sees there is its own grain
    piece = Piece(outline, (hole,), matrix)
    part = Part(
        number=1, name="p", group="body", sheet="s", paper="both", thickness_mm=thick, outline=outline, holes=(hole,),
        copies=((piece,),), mirrored=(False,),
    )  # fmt: skip
    exact = MultiLineString([LineString(run) for run in _plate((outline, hole), matrix, thick, EYE.axes())])
    picture = draw(
        [Shown(item=Item(index=0, name="p", part=part, rod=None), weight="new")], eye=EYE, labels=False
    )
    looked = MultiLineString([LineString(s.points) for s in picture.strokes])
    # Each lies on the other, within two cells of the grid ...
    cell = max(picture.size_mm) / CELLS
    assert looked.difference(exact.buffer(2.0 * cell)).length < 0.01 * exact.length
    assert exact.difference(looked.buffer(2.0 * cell)).length < 0.01 * exact.length + thick
    # ... and nothing is drawn twice, but walls so thin in the picture that the grid shows both their rims, and a
    # hole's far rim where it falls on the near one.
    spine = (EYE.axes() @ matrix[:3, 2])[:2]
    sides = (EYE.axes() @ matrix[:3, :3])[:2, :2] @ np.diff(outline, axis=0, append=outline[:1]).T
    across = thick * np.abs(sides[0] * spine[1] - sides[1] * spine[0]) / np.linalg.norm(sides, axis=0)
    if across.min() > 1.5:
        hole_rim = float(np.linalg.norm(high - low))
        assert exact.length == pytest.approx(looked.length, rel=0.01, abs=hole_rim + 2.0)
