"""Drawings as SVG in millimetres, with a group for each layer. W3C, "Scalable Vector Graphics (SVG) 2"."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from sheetlark.sheets.drawing import STYLES, Drawing, Layer, Lettering
from sheetlark.sheets.lettering import CAPITAL, width_mm

Floats = NDArray[np.float64]
_INKSCAPE = "http://www.inkscape.org/namespaces/inkscape"


def svg_text(drawing: Drawing, *, without: tuple[Layer, ...] = (), sized: bool = True) -> str:
    """The drawing as an SVG document.

    Parameters
    ----------
    without : tuple of Layer
        Layers to leave out.
    sized : bool
        Whether it says its size in millimetres; without, it takes the room a page gives it.

    Notes
    -----
    One group for each layer, named by it, in the order of cutting: what is only marked first, then the cuts,
    each part's holes before its outline. `textLength` holds words to their drawn width in any font.
    """
    ET.register_namespace("inkscape", _INKSCAPE)
    height = drawing.height_mm
    size = {"width": f"{_n(drawing.width_mm)}mm", "height": f"{_n(height)}mm"} if sized else {}
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            **size,
            "viewBox": f"0 0 {_n(drawing.width_mm)} {_n(height)}",
            "fill": "none",
            "stroke-linejoin": "round",
        },
    )
    ET.SubElement(root, "title").text = drawing.name
    for layer in drawing.layers:
        if layer in without:
            continue
        style = STYLES[layer]
        attributes = {
            "id": layer.value,
            f"{{{_INKSCAPE}}}groupmode": "layer",
            f"{{{_INKSCAPE}}}label": layer.value,
            "stroke": _colour(style.colour),
            "stroke-width": _n(style.width_mm),
        }
        if style.dashes:
            attributes["stroke-dasharray"] = " ".join(_n(d) for d in style.dashes)
        group = ET.SubElement(root, "g", attributes)
        for line in drawing.on(layer):
            data = {"d": _path(line.points, height, line.closed)}
            if line.owner:
                data["data-part"] = line.owner
            ET.SubElement(group, "path", data)
        for words in drawing.lettering:
            if words.layer == layer:
                _words(group, words, height)
    ET.indent(root, space=" ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _words(group: ET.Element, words: Lettering, height: float) -> None:
    x, y = words.at[0], height - words.at[1]
    drop = 0.5 * CAPITAL * words.size_mm
    attributes = {
        "x": _n(x),
        "y": _n(y + drop),
        "font-family": "DejaVu Sans Condensed, DejaVu Sans, sans-serif",
        "font-size": _n(words.size_mm),
        "text-anchor": "middle",
        "textLength": _n(width_mm(words.text, words.size_mm, bold=words.bold)),
        "lengthAdjust": "spacingAndGlyphs",
        "fill": _colour(STYLES[words.layer].colour),
        "stroke": "none",
    }
    if words.bold:
        attributes["font-weight"] = "bold"
    if words.angle_deg:
        attributes["transform"] = f"rotate({_n(-words.angle_deg)} {_n(x)} {_n(y)})"
    ET.SubElement(group, "text", attributes).text = words.text


def _path(points: Floats, height: float, closed: bool) -> str:
    runs = " ".join(f"{_n(x)},{_n(height - y)}" for x, y in points.tolist())
    return f"M {runs}" + (" Z" if closed else "")


def _n(value: float) -> str:
    """A number to a thousandth, without idle zeros."""
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def _colour(rgb: tuple[float, float, float]) -> str:
    return "#" + "".join(f"{round(255 * v):02x}" for v in rgb)
