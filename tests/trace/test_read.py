"""Hostile and ordinary files: refused in plain words, or read to the same shape."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest

from sheetlark.errors import PictureError
from sheetlark.trace.paper.drawn_dxf import draw_dxf
from sheetlark.trace.paper.drawn_pdf import draw_pdf
from sheetlark.trace.paper.drawn_svg import draw_svg
from sheetlark.trace.paper.read import read_picture


def _png_header(width: int, height: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


def test_twenty_thousand_pixels_a_side_is_refused_by_its_header(tmp_path: Path) -> None:
    f = tmp_path / "big.png"
    f.write_bytes(_png_header(20_000, 20_000))
    with pytest.raises(PictureError, match="far too many pixels; at most 16000 a side"):
        read_picture(f)


def test_too_long_a_side_is_refused(tmp_path: Path) -> None:
    f = tmp_path / "bomb.png"
    f.write_bytes(_png_header(17_000, 400))
    with pytest.raises(PictureError, match="measures 17000 x 400 pixels"):
        read_picture(f)


def test_empty_missing_link_and_wrong_type(tmp_path: Path) -> None:
    f = tmp_path / "empty.png"
    f.write_bytes(b"")
    with pytest.raises(PictureError, match="is empty"):
        read_picture(f)
    with pytest.raises(PictureError, match="no such picture"):
        read_picture(tmp_path / "none.png")
    real = tmp_path / "real.png"
    real.write_bytes(_png_header(100, 100))
    link = tmp_path / "link.png"
    link.symlink_to(real)
    with pytest.raises(PictureError, match="is a link"):
        read_picture(link)
    exe = tmp_path / "x.png"
    exe.write_bytes(b"MZ\x90\0" * 50)
    with pytest.raises(PictureError, match="not a picture this can read"):
        read_picture(exe)
    with pytest.raises(PictureError, match="is not a file"):
        read_picture(tmp_path)


def test_truncated_png_and_jpeg(tmp_path: Path) -> None:
    from PIL import Image

    rng = np.random.default_rng(0)
    image = Image.fromarray(rng.integers(0, 255, (300, 300), dtype=np.uint8))
    for name in ("a.png", "a.jpg", "a.webp"):
        f = tmp_path / name
        image.save(f)
        f.write_bytes(f.read_bytes()[: f.stat().st_size // 2])
        with pytest.raises(PictureError, match="breaks off or is damaged"):
            read_picture(f)


def test_svg_entities_and_scripts(tmp_path: Path) -> None:
    f = tmp_path / "a.svg"
    f.write_text('<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><svg>&b;</svg>')
    with pytest.raises(PictureError, match="declares entities"):
        read_picture(f)
    f.write_text('<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>')
    with pytest.raises(PictureError, match="carries a script"):
        read_picture(f)
    f.write_text('<svg xmlns="http://www.w3.org/2000/svg"><g><path d="M0 0</g></svg>')
    with pytest.raises(PictureError, match="breaks off or is not well formed"):
        read_picture(f)


def test_pdf_with_script_is_refused_and_a_plain_page_is_read(tmp_path: Path) -> None:
    import pikepdf
    from reportlab.pdfgen import canvas

    plain = tmp_path / "plain.pdf"
    c = canvas.Canvas(str(plain), pagesize=(400, 300))
    c.rect(50, 50, 300, 200)
    c.save()
    picture = read_picture(plain)
    assert picture.grey.min() < 120
    with pytest.raises(PictureError, match="has 1 page; page 3"):
        read_picture(plain, page=3)
    bad = tmp_path / "bad.pdf"
    with pikepdf.open(plain) as pdf:
        pdf.Root.OpenAction = pdf.make_indirect(
            pikepdf.Dictionary(S=pikepdf.Name("/JavaScript"), JS=pikepdf.String("app.alert(1)"))
        )
        pdf.save(bad)
    with pytest.raises(PictureError, match="carries a script"):
        read_picture(bad)
    with pikepdf.open(plain) as pdf:
        pdf.Root.OpenAction = pdf.make_indirect(pikepdf.Dictionary(S=pikepdf.Name("/Launch")))
        pdf.save(bad)
    with pytest.raises(PictureError, match="starts a program"):
        read_picture(bad)


def test_a_font_with_a_glyph_named_s_is_no_script(tmp_path: Path) -> None:
    """Fonts of lines and areas list their glyphs by name; that of S holds a stream, no name of an action."""
    import pikepdf
    from reportlab.pdfgen import canvas

    plain, file = tmp_path / "plain.pdf", tmp_path / "font.pdf"
    c = canvas.Canvas(str(plain), pagesize=(400, 300))
    c.rect(50, 50, 300, 200)
    c.save()
    with pikepdf.open(plain) as pdf:
        glyph = pdf.make_stream(b"500 0 0 0 400 700 d1 0 0 400 700 re f")
        pdf.Root.Glyphs = pdf.make_indirect(pikepdf.Dictionary(S=glyph))
        pdf.save(file)
    assert np.asarray(draw_pdf(file, 1, 2200)[0]).min() < 120


def test_svg_and_dxf_lines_come_out_where_they_were_drawn(tmp_path: Path) -> None:
    import ezdxf

    svg = tmp_path / "a.svg"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100">'
        '<g transform="translate(10 10)"><path d="M0 0 L100 0 L100 50 L0 50 Z" fill="none" stroke="black"/></g></svg>'
    )
    dxf = tmp_path / "a.dxf"
    doc = ezdxf.new()
    doc.modelspace().add_lwpolyline([(0, 0), (100, 0), (100, 50), (0, 50)], close=True)
    doc.saveas(dxf)
    for file in (svg, dxf):
        grey = read_picture(file).grey
        rows, columns = np.nonzero(grey < 128)
        assert np.ptp(columns) / np.ptp(rows) == pytest.approx(2.0, abs=0.02)


def test_a_dxf_with_a_curve_that_cannot_be_made_out_is_drawn_without_it(tmp_path: Path) -> None:
    """A fit point given twice is dropped; a spline of a single place goes, the rest is drawn."""
    import ezdxf

    def columns(*fits: list[tuple[float, float]]) -> int:
        doc = ezdxf.new()
        doc.modelspace().add_line((0, 0), (100, 0))
        for points in fits:
            doc.modelspace().add_spline(points)
        doc.saveas(tmp_path / "a.dxf")
        drawn = np.asarray(draw_dxf(tmp_path / "a.dxf", 2200))
        return int(np.ptp(np.nonzero(drawn < 128)[0]))

    arch = [(0.0, 0.0), (50.0, 40.0), (100.0, 0.0)]
    once = columns(arch)
    assert columns([arch[0], arch[0], arch[1], arch[1], arch[2]]) == pytest.approx(once, abs=2)
    assert columns(arch, [(30.0, 10.0)] * 3) == pytest.approx(once, abs=2)


def test_a_filling_is_as_dark_as_it_is_drawn(tmp_path: Path) -> None:
    """A figure filled light grey with nothing round it would be lost on white."""
    svg = tmp_path / "a.svg"

    def darkest_inside(stroke: str) -> int:
        svg.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><line x2="200" y2="100" stroke="black"/>'
            f'<rect x="20" y="60" width="60" height="30" fill="#aaa" stroke="{stroke}"/></svg>'
        )
        drawn = np.asarray(draw_svg(svg, 2200)[0])
        rows, columns = drawn.shape
        return int(drawn[rows * 7 // 10 : rows * 8 // 10, columns // 6 : columns // 4].min())

    assert darkest_inside("none") == 0xAA
    assert darkest_inside("black") == 0xAA


def test_an_svg_is_read_on_its_page_and_told_in_its_own_pixels(tmp_path: Path) -> None:
    svg = tmp_path / "a.svg"

    def written(head: str) -> tuple[tuple[int, int], float, float, float]:
        svg.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" {head}>'
            '<rect x="200" y="150" width="600" height="300" fill="none" stroke="black" stroke-width="2"/></svg>'
        )
        picture = read_picture(svg)
        rows, columns = np.nonzero(picture.grey < 128)
        k = picture.px_per_px
        return picture.size_px, columns.min() * k, rows.min() * k, np.ptp(columns) * k

    size, left, top, wide = written('width="1000" height="700"')
    assert size == (1000, 700)
    assert (left, top, wide) == pytest.approx((200, 150, 600), abs=2)
    size, left, top, wide = written('width="15in" height="10.5in" viewBox="0 0 1000 700"')
    assert size == (1440, 1008)
    assert (left, top, wide) == pytest.approx((288, 216, 864), abs=3)
    assert written('width="100%" viewBox="0 0 1000 700"')[0] == (1000, 700)
    # a page that the drawing leaves nearly empty, or leaves: as large a picture of the drawing as can be worked with
    assert written('viewBox="0 0 4000 4000"')[3] > 2000
    assert written('viewBox="0 0 500 400"')[3] > 2000


def test_transparent_and_turned_photographs(tmp_path: Path) -> None:
    from PIL import Image

    rgba = Image.new("RGBA", (200, 100), (0, 0, 0, 0))
    f = tmp_path / "clear.png"
    rgba.save(f)
    assert read_picture(f).grey.min() > 250  # clear is paper


FIGURE = '<path d="M200 150h600v300h-600z"'


def _seen(svg: Path, inside: str, head: str = 'viewBox="0 0 1000 700"') -> np.ndarray:
    """The levels an SVG comes out with; a pixel of the page is 2.2 of them."""
    svg.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{inside}</svg>')
    return read_picture(svg).grey


def test_an_svg_is_styled_as_its_sheet_says(tmp_path: Path) -> None:
    """Exporters give one class in several rules; what is hidden is not drawn, and pale lines stay pale."""
    sheet = "<style>.a,.b{fill:none}.a{stroke:#000;stroke-width:2px}.b{stroke:#ddd;stroke-width:4px}</style>"
    grey = _seen(
        tmp_path / "a.svg",
        f'{sheet}{FIGURE} class="a"/><path class="b" d="M0 600h1000"/>'
        '<g visibility="hidden"><path d="M0 0L1000 700" stroke="black"/></g>'
        '<path d="M0 700L1000 0" stroke="black" opacity="0"/>',
    )
    assert grey[400:900, 500:1700].min() == 255  # not filled, nothing across
    assert grey[1320, 1000] == 0xDD
    assert grey[320:340, 1000].min() == 0


@pytest.mark.parametrize("pen", ["0.02", "0.00001", "0"])
def test_a_hairline_is_drawn_wide_enough_to_be_read(tmp_path: Path, pen: str) -> None:
    """What a cutter or a plotter is given has pens of no width to speak of."""
    grey = _seen(tmp_path / "a.svg", f'{FIGURE} style="fill:none;stroke:#000;stroke-width:{pen}"/>')
    rows, columns = np.nonzero(grey < 128)
    assert (columns.min() / 2.2, rows.min() / 2.2) == pytest.approx((200, 150), abs=1)
    assert (columns.max() / 2.2, rows.max() / 2.2) == pytest.approx((800, 450), abs=1)


@pytest.mark.parametrize(
    "moved", ["translate(123456 -98765)", "scale(1e5)", "translate(-700 -500)", "rotate(90)"]
)
def test_an_svg_that_states_no_page_is_found_wherever_it_lies(tmp_path: Path, moved: str) -> None:
    grey = _seen(tmp_path / "a.svg", f'<g transform="{moved}">{FIGURE} fill="none" stroke="black"/></g>', "")
    rows, columns = np.nonzero(grey < 128)
    wide, high = sorted((np.ptp(columns), np.ptp(rows)), reverse=True)
    assert wide > 2000
    assert wide / high == pytest.approx(2.0, abs=0.02)
    assert min(columns.min(), rows.min()) > 10  # paper all round


def test_an_svg_with_a_scan_in_it_is_read_and_one_that_points_elsewhere_is_not(tmp_path: Path) -> None:
    import base64
    import io

    from PIL import Image, ImageDraw

    scan = Image.new("L", (1000, 700), 255)
    ImageDraw.Draw(scan).rectangle((200, 150, 800, 450), outline=0, width=3)
    png = io.BytesIO()
    scan.save(png, "PNG")
    (tmp_path / "scan.png").write_bytes(png.getvalue())
    carried = "data:image/png;base64," + base64.b64encode(png.getvalue()).decode()
    columns = np.nonzero(
        _seen(tmp_path / "a.svg", f'<image width="1000" height="700" href="{carried}"/>') < 128
    )[1]
    assert (columns.min() / 2.2, columns.max() / 2.2) == pytest.approx((200, 800), abs=2)
    for link in ("scan.png", f"file://{tmp_path}/scan.png", "http://127.0.0.1:9/scan.png"):
        with pytest.raises(PictureError, match="holds no lines or areas"):
            _seen(tmp_path / "a.svg", f'<image width="1000" height="700" href="{link}"/>')
    carried = "data:image/png;base64," + base64.b64encode(_png_header(60_000, 60_000)).decode()
    with pytest.raises(PictureError, match=r"holds no lines or areas|needs more memory than is allowed"):
        _seen(tmp_path / "a.svg", f'<image width="1000" height="700" href="{carried}"/>')


@pytest.mark.parametrize(
    ("inside", "said"),
    [
        ('<text x="50" y="60">dunnock</text>', "no lines or areas"),
        ('<path d="M0 0L NaN 3" stroke="black"/>', "no lines or areas"),
        ("<g>" * 5000 + "</g>" * 5000, "nest more than 60 deep"),
        (
            '<g id="a0"><path d="M0 0h9" stroke="black"/></g>'
            + "".join(f'<g id="a{k}">' + f'<use href="#a{k - 1}"/>' * 10 + "</g>" for k in range(1, 10)),
            "cannot be drawn",
        ),
    ],
)
def test_an_svg_without_a_line_or_without_end_is_refused(tmp_path: Path, inside: str, said: str) -> None:
    with pytest.raises(PictureError, match=said):
        _seen(tmp_path / "a.svg", inside)


def test_an_svg_is_known_by_its_outermost_element_whatever_its_prefix(tmp_path: Path) -> None:
    svg = tmp_path / "a.svg"
    svg.write_text(
        '<s:svg xmlns:s="http://www.w3.org/2000/svg" viewBox="0 0 1000 700">'
        '<s:path d="M200 150h600v300h-600z" style="fill:none;stroke:#000"/></s:svg>'
    )
    assert read_picture(svg).grey.min() < 128


def test_a_dxf_is_drawn_without_what_its_layers_hide_and_lettering(tmp_path: Path) -> None:
    import ezdxf

    doc = ezdxf.new(setup=True)
    space, block = doc.modelspace(), doc.blocks.new("B")
    block.add_lwpolyline([(0, 0), (100, 0), (100, 50), (0, 50)], close=True)
    block.add_text("dunnock", height=500)
    space.add_blockref("B", (10, 10))
    doc.layers.add("X").off()
    space.add_line((-500, -500), (2000, 2000), dxfattribs={"layer": "X"})
    space.add_linear_dim(base=(0, -100), p1=(0, 0), p2=(100, 0)).render()
    space.add_line((0, 0), (float("nan"), 3))
    doc.saveas(tmp_path / "a.dxf")
    rows, columns = np.nonzero(read_picture(tmp_path / "a.dxf").grey < 128)
    assert np.ptp(columns) / np.ptp(rows) == pytest.approx(2.0, abs=0.02)


def test_a_dxf_whose_blocks_hold_one_another_without_end_is_refused(tmp_path: Path) -> None:
    import ezdxf

    doc = ezdxf.new()
    doc.blocks.new("B0").add_line((0, 0), (9, 9))
    for k in range(1, 9):
        block = doc.blocks.new(f"B{k}")
        for j in range(10):
            block.add_blockref(f"B{k - 1}", (j, j))
    doc.modelspace().add_blockref("B8", (0, 0))
    doc.saveas(tmp_path / "a.dxf")
    with pytest.raises(PictureError, match="more than 60000 shapes"):
        read_picture(tmp_path / "a.dxf")


def test_a_dxf_no_larger_than_a_grain_is_drawn(tmp_path: Path) -> None:
    import ezdxf

    doc = ezdxf.new()
    doc.modelspace().add_lwpolyline([(0, 0), (1e-3, 0), (1e-3, 5e-4), (0, 5e-4)], close=True)
    doc.saveas(tmp_path / "a.dxf")
    rows, columns = np.nonzero(read_picture(tmp_path / "a.dxf").grey < 128)
    assert np.ptp(columns) / np.ptp(rows) == pytest.approx(2.0, abs=0.02)


def test_a_web_page_with_a_drawing_in_it_is_no_svg(tmp_path: Path) -> None:
    page = tmp_path / "a.svg"
    page.write_text('<html><body><svg viewBox="0 0 9 9"></svg><br></body></html>')
    with pytest.raises(PictureError, match="not a picture this can read"):
        read_picture(page)
