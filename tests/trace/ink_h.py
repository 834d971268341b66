"""A sheet of hand h as pixels, SVG, PDF and DXF."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFont
from shapely.ops import substring
from sheet_h import Sheet, Stroke, Text

Points = np.ndarray
Pens = dict[str, float]  # px of each weight


def dashes(stroke: Stroke, pen: float) -> list[Points]:
    """A stroke cut into its dashes."""
    if not stroke.dash:
        return [stroke.points]
    # strokes and gaps in pen widths, as the drawing standards' ratios
    pattern = {"dashed": [9.0, 4.5], "chain": [20.0, 4.0, 2.0, 4.0]}[stroke.dash]
    line, unit, out, at, k = shapely.LineString(stroke.points), max(pen, 1.2), [], 0.0, 0
    while at < line.length:
        step = pattern[k % len(pattern)] * unit
        if k % 2 == 0:
            piece = substring(line, at, min(at + step, line.length))
            if piece.length > 0:
                out.append(np.array(piece.coords))
        at, k = at + step, k + 1
    return out


# ---- pixels ---------------------------------------------------------------------------------------------------------
def raster(sheet: Sheet, pens: Pens, *, hard: bool) -> Image.Image:
    """The sheet in grey, drawn large and shrunk; `hard`: then black and white."""
    f = 4 if max(sheet.size) <= 1700 else 3 if max(sheet.size) <= 2800 else 2
    img = Image.new("L", (sheet.size[0] * f, sheet.size[1] * f), 255)
    pen = ImageDraw.Draw(img)
    for ring, grey in sheet.fills:
        pen.polygon([tuple(q) for q in ring * f], fill=grey)
    for s in sheet.strokes:
        width = pens[s.weight]
        for piece in dashes(s, width):
            _line(pen, piece * f, max(1, round(width * f)), ends=not s.dash)
    for t in sheet.texts:
        _write(img, t, f)
    img = img.resize(sheet.size, Image.Resampling.BOX)
    return img.point(lambda v: 0 if v < 140 else 255) if hard else img


def _line(pen: ImageDraw.ImageDraw, p: Points, width: int, *, ends: bool) -> None:
    pen.line([tuple(q) for q in p], fill=0, width=width, joint="curve")
    if ends and width > 2:
        r = width / 2 - 0.5
        for x, y in (p[0], p[-1]):
            pen.ellipse([x - r, y - r, x + r, y + r], fill=0)


def _write(img: Image.Image, t: Text, f: int) -> None:
    font = ImageFont.load_default(size=1.35 * t.height * f)  # capitals are about 0.74 of a font's size
    box = font.getbbox(t.says)
    patch = Image.new("L", (int(box[2]) + 4, int(box[3]) + 4), 0)
    ImageDraw.Draw(patch).text((2, 2), t.says, font=font, fill=255)
    patch = patch.crop(patch.getbbox())
    if t.upright:
        patch = patch.rotate(90, expand=True)
    at = (int(t.at[0] * f - patch.width / 2), int(t.at[1] * f - patch.height / 2))
    img.paste(0, at, patch)


# ---- files ----------------------------------------------------------------------------------------------------------
def write_svg(sheet: Sheet, pens: Pens, path: Path) -> None:
    """Layers as groups; every other layer under a transform, as drawing programs leave them."""
    w, h = sheet.size
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}">',
        f'<rect width="{w}" height="{h}" fill="white"/>',
    ]
    for ring, grey in sheet.fills:
        d = "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in ring) + " Z"
        out.append(f'<path d="{d}" fill="#{grey:02x}{grey:02x}{grey:02x}" stroke="none"/>')
    for i, layer in enumerate(sorted({s.layer for s in sheet.strokes})):
        move = np.array([0.25 * w, 0.1 * h]) if i % 2 else np.zeros(2)
        out.append(
            f'<g id="{layer}" fill="none" stroke="black" transform="translate({move[0]:.2f} {move[1]:.2f})">'
        )
        for s in (s for s in sheet.strokes if s.layer == layer):
            unit = max(pens[s.weight], 1.2)
            dash = {"": "", "dashed": (9, 4.5), "chain": (20, 4, 2, 4)}[s.dash]
            extra = f' stroke-dasharray="{" ".join(f"{v * unit:.1f}" for v in dash)}"' if dash else ""
            d = "M" + " ".join(f"{x:.2f},{y:.2f}" for x, y in s.points - move)
            out.append(f'<path d="{d}" stroke-width="{pens[s.weight]:.2f}" stroke-linejoin="round"{extra}/>')
        out.append("</g>")
    for t in sheet.texts:
        turn = f' transform="rotate(-90 {t.at[0]:.1f} {t.at[1]:.1f})"' if t.upright else ""
        out.append(
            f'<text x="{t.at[0]:.1f}" y="{t.at[1]:.1f}" font-family="sans-serif" font-size="{1.35 * t.height:.1f}" '
            f'text-anchor="middle" dominant-baseline="central"{turn}>{t.says}</text>'
        )
    path.write_text("\n".join([*out, "</svg>"]), "utf-8")


def write_pdf(sheet: Sheet, pens: Pens, path: Path) -> None:
    """One page, its longer side as of A3."""
    from reportlab.pdfgen import canvas

    w, h = sheet.size
    k = 1190.0 / max(w, h)
    page = canvas.Canvas(str(path), pagesize=(w * k, h * k), invariant=1)
    page.transform(k, 0, 0, -k, 0, h * k)
    page.setLineJoin(1)
    for ring, grey in sheet.fills:
        page.setFillGray(grey / 255)
        _path(page, ring, fill=1, stroke=0)
    for s in sheet.strokes:
        unit = max(pens[s.weight], 1.2)
        page.setLineWidth(pens[s.weight])
        page.setDash(
            {"": [], "dashed": [9 * unit, 4.5 * unit], "chain": [20 * unit, 4 * unit, 2 * unit, 4 * unit]}[
                s.dash
            ]
        )
        _path(page, s.points, fill=0, stroke=1)
    page.setFillGray(0)
    for t in sheet.texts:
        page.saveState()
        page.translate(*t.at)
        page.transform(1, 0, 0, -1, 0, 0)
        if t.upright:
            page.rotate(90)
        page.setFont("Helvetica", 1.35 * t.height)
        page.drawCentredString(0, -0.45 * t.height, t.says)
        page.restoreState()
    page.save()


def _path(page, points: Points, *, fill: int, stroke: int) -> None:
    p = page.beginPath()
    p.moveTo(*points[0])
    for q in points[1:]:
        p.lineTo(*q)
    if fill:
        p.close()
    page.drawPath(p, fill=fill, stroke=stroke)


def write_dxf(sheet: Sheet, pens: Pens, path: Path) -> None:
    """Polylines on layers, y up, a pixel a unit; line weights from a plotter's row of pens."""
    import ezdxf
    from ezdxf.lldxf.const import VALID_DXF_LINEWEIGHTS

    doc = ezdxf.new("R2010", setup=True)
    space = doc.modelspace()
    flip, lift = np.array([1, -1]), np.array([0, sheet.size[1]])
    for layer in sorted({s.layer for s in sheet.strokes}):
        doc.layers.add(layer)
    for ring, grey in sheet.fills:
        area = space.add_hatch(dxfattribs={"layer": "0"})
        area.set_solid_fill(color=250, rgb=(grey, grey, grey))
        area.paths.add_polyline_path([tuple(q) for q in ring * flip + lift], is_closed=True)
    for s in sheet.strokes:
        weight = min(VALID_DXF_LINEWEIGHTS, key=lambda v: abs(v - 18 * pens[s.weight]))
        look = {"": "Continuous", "dashed": "DASHED", "chain": "CENTER"}[s.dash]
        attribs = {
            "layer": s.layer,
            "lineweight": weight,
            "linetype": look,
            "ltscale": 14 * max(pens[s.weight], 1.2),
        }
        space.add_lwpolyline([tuple(q) for q in s.points * flip + lift], dxfattribs=attribs)
    for t in sheet.texts:
        at = np.array(t.at) * flip + lift
        text = space.add_text(t.says, height=t.height, rotation=90.0 if t.upright else 0.0)
        text.set_placement(tuple(at), align=ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER)
    doc.saveas(path)
