"""Sheets put down sideways, white lines on nothing, several pages; and what is said of what a sheet lacks."""

from __future__ import annotations

import contextlib
import json
import re
import sys
import threading
import time
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image, ImageDraw

from sheetlark.cli import main
from sheetlark.design import write_text
from sheetlark.errors import DesignError, PictureError
from sheetlark.trace import Corrections, Tracing, ViewBox, open_picture, trace_picture, trace_with
from sheetlark.trace.model import exact_outline
from sheetlark.trace.notes import noted
from sheetlark.trace.paper import way_up
from sheetlark.trace.paper.read import read_picture
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.paper.views import Reading

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812

pytestmark = pytest.mark.xdist_group("odd sheets")  # they share a sheet and its tracing


@lru_cache(maxsize=1)
def sheet() -> Image.Image:
    image = Image.fromarray(C.draw(9600, "monoplane", "clean").image).convert("L")
    return image.resize((image.width // 3, image.height // 3), Image.Resampling.LANCZOS)


def without_front(image: Image.Image) -> Image.Image:
    """The sheet without its lower left view."""
    left = image.copy()
    left.paste(255, (0, int(0.7 * image.height), image.width // 2, image.height))
    return left


@pytest.fixture(scope="module")
def upright(tmp_path_factory: pytest.TempPathFactory) -> Tracing:
    file = tmp_path_factory.mktemp("upright") / "upright.png"
    sheet().save(file)
    return trace_picture(file, span_m=0.76)


@pytest.mark.parametrize(("quarter", "top", "side"), [(1, "left", "up"), (3, "right", "down")])
def test_a_sheet_on_its_side_is_set_upright(
    tmp_path: Path, upright: Tracing, quarter: int, top: str, side: str
) -> None:
    file = tmp_path / "turned.png"
    sheet().rotate(90 * quarter, expand=True).save(file)
    opened = open_picture(file, span_m=0.76)
    found = trace_with(file, Corrections(), span_m=0.76, opened=opened)
    assert [v.kind for v in found.views] == ["top", "side", "front"]
    assert [v.nose for v in found.views] == [top, side, "toward"]  # as they lie in the picture
    assert abs(found.turned_deg) == pytest.approx(90.0, abs=0.5)
    assert {(o.name, o.view) for o in found.outlines} == {(o.name, o.view) for o in upright.outlines}
    assert opened.traced is not None
    if quarter == 1:  # what was traced to tell the way up is not traced again
        assert found == trace_with(file, Corrections(), span_m=0.76, opened=replace(opened, traced=None))
        return
    # boxed by hand with the same noses it is the same
    boxes = tuple(
        ViewBox(kind=v.kind, box_px=v.box_px, nose="" if v.nose == "toward" else v.nose) for v in found.views
    )
    again = trace_with(file, Corrections(boxes=boxes), span_m=0.76, opened=opened)
    assert [v.nose for v in again.views] == [v.nose for v in found.views]


def test_a_sheet_upside_down_is_set_upright_or_turned_as_is_said(tmp_path: Path, upright: Tracing) -> None:
    file = tmp_path / "down.png"
    sheet().rotate(180).save(file)
    names = {(o.name, o.view) for o in upright.outlines}
    found = trace_picture(file, span_m=0.76)
    assert abs(found.turned_deg) == pytest.approx(180.0, abs=0.5)
    assert [v.nose for v in found.views] == ["down", "left", "toward"]
    assert {(o.name, o.view) for o in found.outlines} == names
    ran = CliRunner().invoke(main, ["trace", str(file), "--span", "760 mm", "--turned", "180", "--json"])
    assert ran.exit_code == 0, ran.output
    assert {(o["name"], o["view"]) for o in json.loads(ran.output)["outlines"]} == names
    as_it_lies = trace_with(
        file, Corrections(turned_deg=0.0), span_m=0.76
    )  # and what is said is not gone back on
    assert as_it_lies.turned_deg == pytest.approx(0.0, abs=0.5)


def test_a_sheet_with_its_fin_up_and_its_wheels_down_is_not_looked_at_again(
    tmp_path: Path, upright: Tracing, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "upright.png"
    sheet().save(file)
    opened = open_picture(file)
    looked: list[float] = []

    def read(_: object, *, turned_rad: float) -> tuple[Sheet, Reading]:
        looked.append(turned_rad)
        return opened.sheet, opened.reading

    monkeypatch.setattr(way_up, "read_sheet", read)
    monkeypatch.setattr(way_up, "_hangs_head_down", lambda _: True)  # as a wheel below the nose makes it
    wheel = exact_outline("gear", "wheel", "side", "M 0,0 L 9,0 L 9,9 Z", nodes=3, confidence=0.9)
    standing = replace(upright, outlines=(*(o for o in upright.outlines if o.part != "gear"), wheel))
    floating = replace(upright, outlines=standing.outlines[:-1])
    fin = exact_outline("fin", "fin", "side", "M 0,20 L 9,20 L 9,-90 Z", nodes=3, confidence=0.9)
    hanging = replace(standing, outlines=(*(o for o in standing.outlines if o.part != "fin"), fin))
    for tracing, looks in ((standing, 0), (floating, 1), (hanging, 1)):
        looked.clear()
        kept = way_up.set_upright(opened.picture.grey, opened.sheet, opened.reading, lambda *_, t=tracing: t)
        assert kept == (opened.sheet, opened.reading, tracing)
        assert len(looked) == looks


def test_white_lines_on_nothing_are_seen(tmp_path: Path) -> None:
    lines = Image.new("RGBA", (400, 300), (255, 255, 255, 0))
    ImageDraw.Draw(lines).rectangle((50, 50, 350, 250), outline=(255, 255, 255, 255), width=3)
    file = tmp_path / "white.png"
    lines.save(file)
    grey = read_picture(file).grey
    assert grey.max() - grey.min() > 250
    # a white page inside a clear margin stays a white page
    page = Image.new("RGBA", (400, 300), (0, 0, 0, 0))
    page.paste((255, 255, 255, 255), (40, 40, 360, 260))
    page.save(file)
    assert read_picture(file).grey.min() > 250


def test_pages_are_counted(tmp_path: Path) -> None:
    import pikepdf

    file = tmp_path / "two.pdf"
    with pikepdf.new() as pdf:
        pdf.add_blank_page(page_size=(300, 200))
        pdf.add_blank_page(page_size=(300, 200))
        pdf.save(file)
    assert (read_picture(file, page=2).page, read_picture(file, page=2).pages) == (2, 2)
    with pytest.raises(PictureError, match="has 2 pages; page 3 was asked for"):
        read_picture(file, page=3)
    with pytest.raises(PictureError, match=r"by hand\. This is page 1 of 2\."):
        trace_picture(file, span_m=0.76)
    picture = tmp_path / "one.png"
    Image.new("L", (200, 200), 255).save(picture)
    with pytest.raises(PictureError, match="one page; page 2 was asked for"):
        read_picture(picture, page=2)


def test_what_a_sheet_lacks_is_said(tmp_path: Path, upright: Tracing) -> None:
    assert {n.id for n in upright.notes} == {"hinges"}
    file = tmp_path / "two.png"
    without_front(sheet()).save(file)
    found = trace_picture(file, span_m=0.76)
    assert {n.id for n in found.notes} == {"hinges", "no-front"}
    top = Image.new("L", sheet().size, 255)
    top.paste(sheet().crop((0, 0, sheet().width, int(0.69 * sheet().height))), (0, 0))
    top.save(file)
    alone = trace_picture(file, span_m=0.76)
    assert {n.id for n in alone.notes} == {"hinges", "no-body-side", "no-fin", "no-front"}
    strut = exact_outline("strut", "wing strut", "front", "M 0,0 L 9,9", nodes=2, confidence=0.5)
    held = noted(replace(upright, outlines=(*upright.outlines, strut)))
    assert {n.id for n in held.notes} == {"hinges", "wing-struts"}
    assert (
        noted(replace(held, outlines=upright.outlines)).notes == upright.notes
    )  # gone with what it is about


@pytest.mark.parametrize(
    ("how", "says"),
    [
        (["--span", "30"], r"'30' is 30 mm\. A number alone is in mm"),
        (["--span", "100 m"], r"a span lies between 50 mm and 20 m; '100 m' is 100000 mm\.$"),
        ([], r"nothing sets the size of the model: give --span"),
        (["--span", "760 mm", "--page", "2"], r"blank\.png has one page; page 2 was asked for\."),
        (["--span", "760 mm"], r"by hand\. The Picture room of `sheetlark bench` is where both are done\.$"),
    ],
)
def test_the_command_line_refuses_in_words(tmp_path: Path, how: list[str], says: str) -> None:
    file = tmp_path / "blank.png"
    Image.new("L", (400, 300), 255).save(file)
    ran = CliRunner().invoke(main, ["trace", str(file), *how])
    assert ran.exit_code == 2
    assert re.search(says, ran.output.strip()), ran.output


def test_a_small_number_alone_is_asked_about(tmp_path: Path) -> None:
    file = tmp_path / "upright.png"
    sheet().save(file)
    ran = CliRunner().invoke(main, ["trace", str(file), "--span", "76"])
    assert "span of the model 76.0 mm" in ran.output
    assert 'write "76 in" or "76 cm" if that is meant' in ran.output
    plain = CliRunner().invoke(main, ["trace", str(file), "--span", "76 mm"])
    assert "if that is meant" not in plain.output


def test_of_two_that_write_the_same_new_file_one_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    texts = [f"# {k}\n" * 200 for k in range(8)]
    refused: list[str] = []
    start = threading.Barrier(len(texts))

    def write(text: str) -> None:
        start.wait()
        try:
            write_text(file, text, new=True)
        except DesignError as error:
            refused.append(str(error))

    threads = [threading.Thread(target=write, args=(text,)) for text in texts]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(refused) == len(texts) - 1
    assert all("is there already" in says for says in refused)
    assert file.read_text() in texts
    assert [f.name for f in tmp_path.iterdir()] == ["mine.toml"]


def _shapes(seed: int) -> Image.Image:
    """Anything but an aeroplane: rings at random, some of them their own mirror images."""
    import numpy as np

    r = np.random.default_rng(seed)
    wide, high = (int(v) for v in r.integers(30, 500, 2))
    image = Image.new("L", (wide, high), 255)
    pen = ImageDraw.Draw(image)
    for _ in range(int(r.integers(1, 9))):
        ring = [
            (float(u) * wide, float(v) * high) for u, v in r.uniform(-0.1, 1.1, (int(r.integers(3, 7)), 2))
        ]
        if r.random() < 0.6:
            ring += [(wide - u, v) for u, v in ring[::-1]]
        pen.polygon(ring, outline=0, fill=None if r.random() < 0.7 else 128)
    return image


@pytest.mark.parametrize("seed", range(7))
def test_what_is_no_three_view_is_refused_or_traced_but_never_falls_over(tmp_path: Path, seed: int) -> None:
    """A thumbnail, and shapes at random: whatever is made of them, it is no fault of the program's."""
    file = tmp_path / "odd.png"
    if seed % 4 == 0:
        small = sheet()
        small.thumbnail((40 + 8 * seed, 40 + 8 * seed))
        small.save(file)
    else:
        _shapes(seed).save(file)
    begun = time.process_time()
    with contextlib.suppress(PictureError):
        found = trace_picture(file, span_m=0.76)
        assert found.outlines
        assert all(0.0 <= o.confidence <= 1.0 for o in found.outlines)
    assert time.process_time() - begun < 30.0  # 13 s at the most on a busy machine


def test_a_section_longer_than_the_span_is_sought_in_bounded_time() -> None:
    """Steps follow the chord where that is the longer; an upper line that is not inked spares the search for the lower."""
    import numpy as np

    from sheetlark.trace.shapes.covers import find_cover

    begun = time.process_time()
    noise = np.random.default_rng(3).random((400, 400)) < 0.5

    def ink(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        return noise[np.asarray(x).astype(int) % 400, np.asarray(z).astype(int) % 400].astype(float)

    find_cover(ink, lead=(0.0, 20.0), trail=(1280.0, 1300.0), heights=(-200.0, 200.0), span=760.0, pen=2.0)
    assert time.process_time() - begun < 15.0
