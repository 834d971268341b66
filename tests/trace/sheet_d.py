"""The fourth hand's sheet of paper: strokes and words, painted, spoilt as a scanner does, or written as a vector file."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
import shapely.ops
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont

Points = np.ndarray
FONT = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf"


@dataclass(slots=True, kw_only=True)
class Sheet:
    """Strokes and words in pixels of the flat page, y down."""

    size: tuple[int, int]
    lines: list[tuple[Points, float]] = field(default_factory=list)  # (points, pen)
    words: list[tuple[tuple[float, float], str, float, int]] = field(
        default_factory=list
    )  # middle, text, height, turn
    arrows: list[Points] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pens:
    main: float
    thin: float
    text: float  # height of letters, px
    mm: float  # px per mm


def on_page(to: Points, p: Points) -> Points:
    return np.asarray(p, float) @ to[:, :2].T + to[:, 2]


def pieces(g: shapely.Geometry) -> list[Points]:
    lines = shapely.line_merge(g) if g.geom_type == "MultiLineString" else g
    return [
        np.asarray(p.coords)
        for p in shapely.get_parts(lines)
        if p.geom_type in {"LineString", "LinearRing"} and p.length > 0
    ]


def dashes(p: Points, on: tuple[float, ...]) -> list[Points]:
    """Stretches of a line by turns drawn and left out. [same unit]"""
    line = shapely.LineString(p)
    out, at, i = [], 0.0, 0
    while at < line.length:
        if i % 2 == 0:
            out.append(
                np.asarray(shapely.ops.substring(line, at, min(at + on[i % len(on)], line.length)).coords)
            )
        at += on[i % len(on)]
        i += 1
    return [q for q in out if len(q) > 1]


def paint(sheet: Sheet, fine: int) -> Image.Image:
    """Black on white, drawn `fine` times larger and shrunk."""
    w, h = sheet.size
    img = Image.new("L", (w * fine, h * fine), 255)
    d = ImageDraw.Draw(img)
    for p, pen in sheet.lines:
        if len(p) < 2:
            continue  # a break has taken all of it
        wide = max(1, round(pen * fine))
        d.line([tuple(q) for q in p * fine], fill=0, width=wide, joint="curve" if wide > 2 else None)
    for p in sheet.arrows:
        d.polygon([tuple(q) for q in p * fine], fill=0)
    for (x, y), said, high, turn in sheet.words:
        font = ImageFont.truetype(FONT, max(6, round(high * fine * 1.35)))
        left, upper, right, lower = font.getbbox(said)
        tile = Image.new("L", (int(right - left) + 4, int(lower - upper) + 4), 255)
        ImageDraw.Draw(tile).text((2 - left, 2 - upper), said, fill=0, font=font)
        if turn:
            tile = tile.rotate(turn, expand=True, fillcolor=255)
        at = (round(x * fine - tile.width / 2), round(y * fine - tile.height / 2))
        under = img.crop((*at, at[0] + tile.width, at[1] + tile.height))
        img.paste(ImageChops.darker(under, tile), at)
    return img.resize((w, h), Image.Resampling.BOX) if fine > 1 else img


def spoil(img: Image.Image, wear: tuple[str, ...], rng: np.random.Generator) -> tuple[Image.Image, float]:
    """What the scanner does; the turn it gave, degrees counter-clockwise."""
    a = np.asarray(img, float) / 255
    angle = 0.0
    if "rotated" in wear:
        angle = float(rng.uniform(0.4, 4.0) * rng.choice([-1, 1]))
        turned = img.rotate(angle, expand=True, fillcolor=255, resample=Image.Resampling.BICUBIC)
        a = np.asarray(turned, float) / 255
    h, w = a.shape
    paper, ink = np.array([255.0] * 3), np.array([0.0] * 3)
    yy, xx = np.mgrid[0:h, 0:w]
    shade = np.zeros((h, w, 1))
    if "grey" in wear:
        paper[:] = rng.uniform(185, 225)
        ink[:] = rng.uniform(50, 110)
        way = rng.uniform(0, 2 * np.pi)
        slope = (xx / w - 0.5) * np.cos(way) + (yy / h - 0.5) * np.sin(way)
        shade = shade + (slope * rng.uniform(20, 50))[..., None]
        a = (
            np.asarray(
                Image.fromarray((a * 255).astype(np.uint8)).filter(
                    ImageFilter.GaussianBlur(rng.uniform(0.4, 0.9))
                ),
                float,
            )
            / 255
        )
    if "yellowed" in wear:
        paper = np.array([rng.uniform(225, 245), rng.uniform(205, 225), rng.uniform(150, 190)])
        ink = np.array([55.0, 45.0, 35.0])
        blots = np.zeros((h, w))
        for _ in range(6):
            cx, cy, r = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(0.05, 0.2) * max(w, h)
            blots -= rng.uniform(6, 18) * np.exp(-((xx - cx) ** 2 + (yy - cy) ** 2) / r**2)
        shade = shade + blots[..., None] * np.array([0.6, 0.9, 1.2])
    out = ink + (paper - ink) * a[..., None] + shade * a[..., None]
    if "noisy" in wear:
        out = out + rng.normal(0, rng.uniform(8, 18), (h, w, 1))
        specks = rng.random((h, w)) < 2e-4
        specks |= np.roll(specks, 1, 0) & (rng.random((h, w)) < 0.6)
        out[specks] = 30
        out[rng.random((h, w)) < 2e-4] = 250
    out = np.clip(out, 0, 255).astype(np.uint8)
    coloured = "yellowed" in wear
    return (Image.fromarray(out) if coloured else Image.fromarray(out[..., 0])), angle


def write_svg(sheet: Sheet, path: Path) -> None:
    w, h = sheet.size
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w / 8:.1f}mm" height="{h / 8:.1f}mm" viewBox="0 0 {w} {h}">'
    ]
    for p, pen in sheet.lines:
        pts = " ".join(f"{x:.2f},{y:.2f}" for x, y in p)
        rows.append(f'<polyline points="{pts}" fill="none" stroke="black" stroke-width="{pen:.2f}"/>')
    rows += ['<polygon points="' + " ".join(f"{x:.2f},{y:.2f}" for x, y in p) + '"/>' for p in sheet.arrows]
    for (x, y), said, high, turn in sheet.words:
        rows.append(
            f'<text x="{x:.1f}" y="{y + high / 2:.1f}" font-size="{high * 1.35:.1f}" text-anchor="middle" '
            f'transform="rotate({-turn} {x:.1f} {y:.1f})">{said}</text>'
        )
    path.write_text("\n".join([*rows, "</svg>"]), "utf-8")


def write_pdf(sheet: Sheet, path: Path) -> None:
    from reportlab.pdfgen.canvas import Canvas

    w, h = sheet.size
    k = 842 / max(w, h)  # A4's long side, points
    c = Canvas(str(path), pagesize=(w * k, h * k), invariant=1)
    for p, pen in sheet.lines:
        c.setLineWidth(pen * k)
        line = c.beginPath()
        line.moveTo(p[0][0] * k, (h - p[0][1]) * k)
        for x, y in p[1:]:
            line.lineTo(x * k, (h - y) * k)
        c.drawPath(line)
    for p in sheet.arrows:
        line = c.beginPath()
        line.moveTo(p[0][0] * k, (h - p[0][1]) * k)
        for x, y in p[1:]:
            line.lineTo(x * k, (h - y) * k)
        line.close()
        c.drawPath(line, fill=1)
    for (x, y), said, high, turn in sheet.words:
        c.saveState()
        c.translate(x * k, (h - y) * k)
        c.rotate(turn)
        c.setFont("Helvetica", high * 1.35 * k)
        c.drawCentredString(0, -high * k / 2, said)
        c.restoreState()
    c.showPage()
    c.save()


def write_dxf(sheet: Sheet, path: Path) -> None:
    import ezdxf

    doc = ezdxf.new(units=4)  # 4: millimetres
    space = doc.modelspace()
    h = sheet.size[1]
    for p, _ in sheet.lines:
        space.add_lwpolyline([(x / 4, (h - y) / 4) for x, y in p])
    for p in sheet.arrows:
        space.add_lwpolyline([(x / 4, (h - y) / 4) for x, y in p], close=True)
    for (x, y), said, high, turn in sheet.words:
        space.add_text(said, height=high / 4, rotation=turn).set_placement(
            (x / 4, (h - y) / 4), align=ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER
        )
    doc.saveas(path)
