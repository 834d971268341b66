"""Hostile and ordinary files: refused in plain words, or read to the same shape."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest

from sheetlark.errors import PictureError
from sheetlark.trace.paper.page import draw_dxf, draw_pdf, draw_svg
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
    assert np.asarray(draw_pdf(file, 1)).min() < 120


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
        drawn = np.asarray(draw_dxf(tmp_path / "a.dxf"))
        return int(np.ptp(np.nonzero(drawn < 128)[0]))

    arch = [(0.0, 0.0), (50.0, 40.0), (100.0, 0.0)]
    once = columns(arch)
    assert columns([arch[0], arch[0], arch[1], arch[1], arch[2]]) == pytest.approx(once, abs=2)
    assert columns(arch, [(30.0, 10.0)] * 3) == pytest.approx(once, abs=2)


def test_a_light_filling_without_a_stroke_is_drawn(tmp_path: Path) -> None:
    """A figure filled light grey with nothing round it would be lost on white; behind a stroke it is paper."""
    svg = tmp_path / "a.svg"

    def darkest_inside(stroke: str) -> int:
        svg.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><line x2="200" y2="100" stroke="black"/>'
            f'<rect x="20" y="60" width="60" height="30" fill="#aaa" stroke="{stroke}"/></svg>'
        )
        drawn = np.asarray(draw_svg(svg))
        rows, columns = drawn.shape
        return int(drawn[rows * 7 // 10 : rows * 8 // 10, columns // 6 : columns // 4].min())

    assert darkest_inside("none") == 0xAA
    assert darkest_inside("black") == 255


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
