"""Drawings as DXF (R2010) in millimetres, with named layers, for cutting machines and other programs."""

from __future__ import annotations

import io
from typing import Any

from sheetlark.errors import SheetError
from sheetlark.sheets.drawing import STYLES, Drawing, Layer
from sheetlark.sheets.lettering import CAPITAL


def dxf_text(drawing: Drawing) -> str:
    r"""The drawing as a DXF document, the same text for the same drawing.

    Notes
    -----
    Lines are LWPOLYLINE entities in cutting order. Signs beyond ASCII are written ``\U+XXXX``, which old and
    new readers agree on. Line types carry their lengths in millimetres.

    Raises
    ------
    SheetError
        If the document does not pass its audit.
    """
    from ezdxf import options  # type: ignore[attr-defined]
    from ezdxf.filemanagement import new

    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # no clock, no random ids: same drawing, same file
    try:
        return _written(new("R2010", setup=False), drawing)
    finally:
        options.write_fixed_meta_data_for_testing = fixed


def _written(doc: Any, drawing: Drawing) -> str:
    from ezdxf import units
    from ezdxf.enums import TextEntityAlignment

    doc.units = units.MM
    doc.header["$MEASUREMENT"] = 1
    doc.header["$LTSCALE"] = 1.0
    doc.header["$LUNITS"] = 2
    doc.styles.add("PLAN", font="DejaVuSansCondensed.ttf")
    doc.styles.add("PLAN-BOLD", font="DejaVuSansCondensed-Bold.ttf")
    space = doc.modelspace()
    for layer in drawing.layers:
        _add_layer(doc, layer)
    for line in drawing.lines:
        space.add_lwpolyline(
            [(float(x), float(y)) for x, y in line.points],
            close=line.closed,
            dxfattribs={"layer": line.layer.value},
        )
    for words in drawing.lettering:
        entity = space.add_text(
            _ascii(words.text),
            height=words.size_mm * CAPITAL,
            rotation=words.angle_deg,
            dxfattribs={"layer": words.layer.value, "style": "PLAN-BOLD" if words.bold else "PLAN"},
        )
        entity.set_placement(words.at, align=TextEntityAlignment.MIDDLE_CENTER)
    doc.header["$EXTMIN"], doc.header["$EXTMAX"] = (0, 0, 0), (drawing.width_mm, drawing.height_mm, 0)
    audit = doc.audit()
    if audit.has_errors:
        raise SheetError(f"the DXF of {drawing.name} fails its audit: {audit.errors[0].message}")
    # The library lists its classes in the order of a set, which changes from run to run.
    doc.classes.add_required_classes(doc.dxfversion)
    ordered = sorted(doc.classes.classes.items())
    doc.classes.classes.clear()
    doc.classes.classes.update(ordered)
    out = io.StringIO()
    doc.write(out)
    return out.getvalue()


def _add_layer(doc: Any, layer: Layer) -> None:
    style = STYLES[layer]
    line_type = "CONTINUOUS"
    if style.dashes:
        line_type = f"{layer.value}_LINE"
        pattern = [d if i % 2 == 0 else -d for i, d in enumerate(style.dashes)]
        doc.linetypes.add(line_type, pattern=[sum(style.dashes), *pattern], description=style.says)
    doc.layers.add(
        layer.value, color=style.cad_colour, linetype=line_type, lineweight=round(100 * style.width_mm)
    )


# Not every reader knows the escape, so the labels' own signs are put plainly.
_PLAIN = str.maketrans({"·": "-", "×": "x"})


def _ascii(text: str) -> str:
    text = text.translate(_PLAIN).replace("\\", "/").replace("%%", "% %")  # both start codes of the format
    return "".join(c if ord(c) < 128 else "".join(f"\\U+{u:04X}" for u in _utf16(c)) for c in text)


def _utf16(sign: str) -> list[int]:
    """A sign's UTF-16 units: the escape has four digits, so rare signs take two of them."""
    raw = sign.encode("utf-16-be")
    return [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
