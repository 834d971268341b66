"""The PDFs read back by other libraries, by qpdf and by poppler."""

import numpy as np
import pdfplumber
import pikepdf
import pytest
from PIL import Image, ImageFilter
from shapely.geometry import LinearRing, box

from sheetlark.sheets import (
    PAPERS,
    Layer,
    draw_nesting,
    nest,
    paper_size,
    read_measured_bar,
    tile_drawing,
    tiled_pdf,
    whole_pdf,
)
from sheetlark.sheets.tiling import BOTTOM_MM, LEFT_MM

from .reading import MM, expected_rings, pdf_rings, run, tool, worst_gap


def test_whole_sheets_hold_every_outline(kit, nesting, plans):
    with pdfplumber.open(plans.whole[0]) as pdf:
        assert len(pdf.pages) == len(nesting.sheets)
        for page, layout in zip(pdf.pages, nesting.sheets, strict=True):
            assert float(page.width) * MM == pytest.approx(layout.width_mm, abs=1e-3)
            assert float(page.height) * MM == pytest.approx(layout.height_mm, abs=1e-3)
            worst, _ = worst_gap(expected_rings(kit, layout), pdf_rings(page))
            assert worst < 0.05


@pytest.mark.parametrize("index", [0, 1])
def test_every_tile_holds_every_outline_in_its_place(kit, nesting, drawings, plans, index):
    paper = paper_size(("a4", "letter")[index])
    with pdfplumber.open(plans.tiled[index]) as pdf:
        pages = iter(pdf.pages)
        for layout, drawing in zip(nesting.sheets, drawings, strict=True):
            next(pages)  # the overview
            tiling = tile_drawing(drawing, paper)
            expected = expected_rings(kit, layout)
            for tile in tiling.printed:
                shift = np.array([tile.x_mm - LEFT_MM, tile.y_mm - BOTTOM_MM])
                found = [ring + shift for ring in pdf_rings(next(pages))]
                worst, _ = worst_gap(expected, found)
                assert worst < 0.05
        assert next(pages, None) is None


def rendered(file, folder, dpi, first=1, last=0):
    pages = ["-f", str(first)] + (["-l", str(last)] if last else [])
    run(tool("pdftoppm"), "-r", str(dpi), "-gray", *pages, str(file), str(folder / "p"), text=False)
    return [Image.open(f) for f in sorted(folder.glob("p-*.pgm"))]


def ink(image, threshold=140):
    return np.asarray(image) < threshold


def grown(mask, by=5):
    return np.asarray(Image.fromarray(mask).convert("L").filter(ImageFilter.MaxFilter(by))) > 0


def test_tiles_joined_again_equal_the_whole_sheet(drawings, plans, tmp_path):
    """Printed by poppler, cut at the frames, laid down by the page map: the same ink as the whole sheet."""
    dpi = 100
    per_mm = dpi / 25.4
    (tmp_path / "whole").mkdir()
    (tmp_path / "tiles").mkdir()
    image = rendered(plans.whole[0], tmp_path / "whole", dpi, 1, 1)[0]
    # Fine lines turn grey where they fall between dots, so dark ink on one side must be at least grey on the other.
    whole, whole_grey = ink(image, 100), ink(image, 215)
    pages = rendered(plans.tiled[0], tmp_path / "tiles", dpi)
    tiling = tile_drawing(drawings[0], paper_size("a4"))
    joined, joined_grey = np.zeros_like(whole), np.zeros_like(whole)
    for tile, page in zip(tiling.printed, pages[1:], strict=False):
        trim = 1.0  # the frame itself is not part of the drawing
        x0, x1 = tile.x_mm + trim, tile.x_mm + tiling.window_width_mm - trim
        y0, y1 = tile.y_mm + trim, tile.y_mm + tiling.window_height_mm - trim
        cx0, cy0 = max(x0, 0.0), max(y0, 0.0)
        cx1, cy1 = min(x1, drawings[0].width_mm), min(y1, drawings[0].height_mm)
        left = round((LEFT_MM + cx0 - tile.x_mm) * per_mm)
        top = round((tiling.page_height_mm - BOTTOM_MM - (cy1 - tile.y_mm)) * per_mm)
        wide, tall = round((cx1 - cx0) * per_mm), round((cy1 - cy0) * per_mm)
        row, column = round((drawings[0].height_mm - cy1) * per_mm), round(cx0 * per_mm)
        for sheet, threshold in ((joined, 100), (joined_grey, 215)):
            piece = ink(page, threshold)[top : top + tall, left : left + wide]
            target = sheet[row : row + piece.shape[0], column : column + piece.shape[1]]
            target |= piece[: target.shape[0], : target.shape[1]]
    marks = np.zeros_like(whole)
    for x, y in tiling.alignment:
        row, column = round((drawings[0].height_mm - y) * per_mm), round(x * per_mm)
        r = round(3.0 * per_mm)
        marks[row - r : row + r, column - r : column + r] = True
    marks[-round(6 * per_mm) :, :] = True  # the whole sheet's own bars and title lie in its lower
    marks[:, : round(5 * per_mm)] = True  # and left margin
    edge = round(1.5 * per_mm)  # pages need not reach the edge of the stock sheet, only every part
    marks[:edge, :] = marks[:, -edge:] = True
    compared = ~marks
    missing = whole & ~grown(joined_grey) & compared
    added = joined & ~grown(whole_grey) & compared
    assert whole[compared].sum() > 10_000
    assert missing.sum() == 0
    assert added.sum() == 0


def bars(page):
    """Lengths of the level and upright lines of a page that are as long as a bar or so. [mm]."""
    level = [float(x["x1"] - x["x0"]) * MM for x in page.lines if abs(x["top"] - x["bottom"]) < 1e-6]
    upright = [float(x["bottom"] - x["top"]) * MM for x in page.lines if abs(x["x1"] - x["x0"]) < 1e-6]
    return level, upright


@pytest.mark.parametrize("which", ["a4", "letter", "whole", "patterns"])
def test_check_bars_on_every_page(plans, which):
    file = {
        "a4": plans.tiled[0],
        "letter": plans.tiled[1],
        "whole": plans.whole[0],
        "patterns": plans.patterns[0],
    }[which]
    with pdfplumber.open(file) as pdf:
        for page in pdf.pages:
            for lengths in bars(page):
                assert min(abs(v - 100.0) for v in lengths) < 1e-3
                assert min(abs(v - 101.6) for v in lengths) < 1e-3
            words = page.extract_text()
            assert "100 mm" in words
            assert "4 in" in words
            assert "100 %" in words


def test_bar_measured_on_the_print_itself(plans, tmp_path):
    """Poppler prints the page at 600 dots an inch; the bar's ink is measured in dots."""
    dpi = 600
    (page,) = rendered(plans.tiled[0], tmp_path, dpi, 2, 2)
    dark = ink(page, 128)
    per_mm = dpi / 25.4
    row = dark.shape[0] - round(12.8 * per_mm)
    band = dark[row - 3 : row + 4, : round(125 * per_mm)].any(axis=0)
    runs = np.flatnonzero(np.diff(np.concatenate([[0], band.astype(int), [0]])))
    longest = max(runs[1::2] - runs[::2])
    assert longest / per_mm == pytest.approx(100.0 + 0.2, abs=0.1)  # the end ticks are 0.2 mm wide


@pytest.mark.parametrize(("text", "x", "y"), [("98.6mm", 0.986, 0.986), ("98.6mm x 99.1mm", 0.986, 0.991)])
def test_a_printer_that_lies_is_corrected_apart_in_x_and_y(kit, nesting, drawings, text, x, y, tmp_path):
    scale = read_measured_bar(text)
    for content, tiled in (
        (tiled_pdf(drawings, paper_size("a4"), title="t", scale=scale)[0], True),
        (whole_pdf(drawings, title="t", scale=scale), False),
    ):
        file = tmp_path / "scaled.pdf"
        file.write_bytes(content)
        with pdfplumber.open(file) as pdf:
            for page in pdf.pages:
                level, upright = bars(page)
                assert min(abs(v * x - 100.0) for v in level) < 1e-3
                assert min(abs(v * y - 100.0) for v in upright) < 1e-3
            page = pdf.pages[1 if tiled else 0]
            factor = np.array([x, y])
            tiling = tile_drawing(drawings[0], paper_size("a4"), scale=scale)
            tile = tiling.printed[0]
            shift = (
                np.array([tile.x_mm - LEFT_MM * x, tile.y_mm - BOTTOM_MM * y])
                if tiled
                else np.array([0.0, 0.0])
            )
            found = [ring * factor + shift for ring in pdf_rings(page)]
            worst, _ = worst_gap(expected_rings(kit, nesting.sheets[0]), found)
            assert worst < 0.05


def test_qpdf_finds_nothing_to_say(plans):
    for file in (*plans.tiled, *plans.whole, plans.patterns[0]):
        assert "No syntax or stream encoding errors found" in run(tool("qpdf"), "--check", str(file))


def test_fonts_are_embedded(plans):
    for file in (*plans.tiled, *plans.whole, plans.patterns[0]):
        rows = [row.split() for row in run(tool("pdffonts"), str(file)).splitlines()[2:]]
        assert {row[0].split("+")[1] for row in rows} == {"DejaVuSansCondensed", "DejaVuSansCondensed-Bold"}
        assert all(row[-5] == "yes" for row in rows)


def test_words_can_be_found(plans):
    text = run(tool("pdftotext"), str(plans.tiled[0]), "-")
    assert "1 · upper wing panel" in text
    assert "330.0 × 125.0 mm" in text
    assert "Map of 9 pages of A4, 3 by 3; overlap 10.0 mm beside and 10.0 mm above" in text
    for page in ("1-A1", "1-B2", "1-C3", "2-A1"):
        assert page in text
    assert "to B2" in text


def test_pages_ask_to_be_printed_at_full_size_and_layers_have_names(plans, drawings):
    for file in (*plans.tiled, *plans.whole):
        with pikepdf.open(file) as pdf:
            assert pdf.Root.ViewerPreferences.PrintScaling == pikepdf.Name("/None")
            names = {str(g.Name) for g in pdf.Root.OCProperties.OCGs}
            wanted = {layer.value for d in drawings for layer in d.layers}
            assert wanted <= names
            for page in pdf.pages:
                used = page.Resources.Properties
                assert "/LCUT" in used


def test_a_layer_can_be_turned_off(plans, tmp_path):
    """With CUT off a viewer shows less ink, and the words stay."""
    (tmp_path / "on").mkdir()
    (tmp_path / "off").mkdir()
    before = ink(rendered(plans.whole[0], tmp_path / "on", 50, 1, 1)[0]).sum()
    with pikepdf.open(plans.whole[0]) as pdf:
        settings = pdf.Root.OCProperties.D
        cut = next(g for g in pdf.Root.OCProperties.OCGs if str(g.Name) == "CUT")
        settings.OFF = pikepdf.Array([cut])
        settings.ON = pikepdf.Array([g for g in pdf.Root.OCProperties.OCGs if str(g.Name) != "CUT"])
        pdf.save(tmp_path / "off.pdf")
    after = ink(rendered(tmp_path / "off.pdf", tmp_path / "off", 50, 1, 1)[0]).sum()
    assert 0.05 * before < after < 0.8 * before
    assert "upper wing panel" in run(tool("pdftotext"), str(tmp_path / "off.pdf"), "-")


def test_printed_letters_keep_off_the_cuts(plans):
    """By the real glyph widths a reader finds: no level word of the whole sheet meets a cut."""
    with pdfplumber.open(plans.whole[0]) as pdf:
        page = pdf.pages[0]
        rings = [LinearRing(r) for r in pdf_rings(page) if len(r) > 4 or np.ptp(r, axis=0).min() > 5]
        height = float(page.height)
        crossed = []
        for c in page.chars:
            if not c["upright"] or not c["text"].strip() or abs(c["matrix"][1]) > 1e-6:
                continue
            base = c["matrix"][5] * MM
            size = c["size"] * MM
            frame = box(c["x0"] * MM, base - 0.2 * size, c["x1"] * MM, base + 0.75 * size)
            assert 0 < frame.bounds[1] < height * MM
            crossed += [c["text"] for ring in rings if ring.intersects(frame)]
        assert crossed == []
        assert len(page.chars) > 500


@pytest.mark.parametrize("paper", PAPERS, ids=lambda p: p.key)
def test_each_paper_has_its_page_size(drawings, paper, tmp_path):
    content, count = tiled_pdf(drawings, paper, title="t")
    file = tmp_path / "t.pdf"
    file.write_bytes(content)
    with pikepdf.open(file) as pdf:
        assert len(pdf.pages) == count
        for page in pdf.pages:
            w, h = float(page.MediaBox[2]) * MM, float(page.MediaBox[3]) * MM
            if paper.height_mm:
                assert sorted((w, h)) == pytest.approx(sorted((paper.width_mm, paper.height_mm)), abs=1e-3)
            else:
                assert min(abs(w - paper.width_mm), abs(h - paper.width_mm)) < 1e-3


def test_a_narrow_margin_gives_the_whole_sheet_a_strip_for_its_bars(kit, stock, tmp_path):
    nesting = nest(kit, stock, margin_mm=0.0, gap_mm=1.0, effort="quick")
    file = tmp_path / "w.pdf"
    file.write_bytes(whole_pdf(draw_nesting(nesting, kit), title="t"))
    with pdfplumber.open(file) as pdf:
        page = pdf.pages[0]
        assert float(page.width) * MM == pytest.approx(762.0 + 4.6, abs=1e-3)
        found = [ring - 4.6 for ring in pdf_rings(page)]
        worst, _ = worst_gap(expected_rings(kit, nesting.sheets[0]), found)
        assert worst < 0.05


def test_overview_lists_the_parts_and_explains_the_lines(plans, drawings):
    with pdfplumber.open(plans.tiled[0]) as pdf:
        text = pdf.pages[0].extract_text()
    for words in (
        "cut through",
        "score: cut one face only",
        "fold along here",
        "hinge line",
        "16 doubler: 8",
    ):
        assert words in text
    assert "peel one paper off 3; peel both papers off 10, 11" in text
    assert "Cut away from your" in text
    assert Layer.CUT in drawings[0].layers
