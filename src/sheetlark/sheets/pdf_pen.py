"""What every PDF shares: a canvas in millimetres, embedded lettering, layers, and printing at 100 %.

ISO 32000-1: optional content (8.11), form XObjects (8.10), viewer preferences (12.2).
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sheetlark.sheets.drawing import STYLES, Drawing, Layer, Lettering, Style
from sheetlark.sheets.lettering import BOLD, CAPITAL, REGULAR, width_mm

Floats = NDArray[np.float64]
POINT_MM = 25.4 / 72.0


class Pen:
    """A reportlab canvas whose unit is the millimetre on every page.

    Lines that carry a meaning are drawn between layer marks; the page's own furniture is not on any layer.
    """

    def __init__(self, title: str) -> None:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
        from reportlab.pdfgen.canvas import Canvas

        for name, file in (("Plan", REGULAR), ("Plan-Bold", BOLD)):
            # Registered anew for each document: a font remembers the signs of the last one.
            pdfmetrics.registerFont(TTFont(name, str(file)))
        self._out = io.BytesIO()
        settings: dict[str, Any] = {"invariant": 1, "initialFontName": "Plan", "pageCompression": 1}
        self.canvas: Any = Canvas(self._out, pagesize=(100, 100), **settings)
        self.canvas.setTitle(title)
        self.canvas.setCreator("Sheetlark")
        self.canvas.setAuthor("Sheetlark")
        self.canvas.setSubject("Full-size cutting plan. Print at 100 %, never fit to page.")

    def begin_page(self, width_mm: float, height_mm: float) -> None:
        """Open a page; everything after is in millimetres from its lower left corner."""
        self.canvas.setPageSize((width_mm / POINT_MM, height_mm / POINT_MM))
        self.canvas.scale(1 / POINT_MM, 1 / POINT_MM)
        self.canvas.setLineJoin(1)

    def end_page(self) -> None:
        """Close the page."""
        self.canvas.showPage()

    def stroke(
        self, points: Floats | Sequence[tuple[float, float]], style: Style, *, closed: bool = False
    ) -> None:
        """Draw a run of lines."""
        c = self.canvas
        c.setLineWidth(style.width_mm)
        c.setStrokeColorRGB(*style.colour)
        c.setDash(list(style.dashes) if style.dashes else [])
        path = c.beginPath()
        run = np.asarray(points, dtype=np.float64).tolist()
        path.moveTo(*run[0])
        for x, y in run[1:]:
            path.lineTo(x, y)
        if closed:
            path.close()
        c.drawPath(path, stroke=1, fill=0)

    def fill_box(
        self, x: float, y: float, width: float, height: float, colour: tuple[float, float, float]
    ) -> None:
        """Fill a rectangle."""
        self.canvas.setFillColorRGB(*colour)
        self.canvas.rect(x, y, width, height, stroke=0, fill=1)

    def write(
        self,
        text: str,
        x: float,
        y: float,
        size_mm: float,
        *,
        bold: bool = False,
        colour: tuple[float, float, float] = (0.08, 0.08, 0.10),
        angle_deg: float = 0.0,
        middle: bool = False,
        most_mm: float = 0.0,
    ) -> float:
        """Write a line of words with its baseline at (x, y); smaller where it would be longer than `most_mm`."""
        long = width_mm(text, size_mm, bold=bold)
        if most_mm and long > most_mm:
            size_mm *= most_mm / long
            long = most_mm
        c = self.canvas
        c.saveState()
        c.setFillColorRGB(*colour)
        c.translate(x, y)
        if angle_deg:
            c.rotate(angle_deg)
        c.setFont("Plan-Bold" if bold else "Plan", size_mm)
        c.drawString(-long / 2 if middle else 0.0, 0.0, text)
        c.restoreState()
        return long

    def lettering(self, words: Lettering) -> None:
        """Write a drawing's words."""
        c = self.canvas
        c.saveState()
        c.setFillColorRGB(*STYLES[words.layer].colour)
        c.translate(*words.at)
        if words.angle_deg:
            c.rotate(words.angle_deg)
        c.setFont("Plan-Bold" if words.bold else "Plan", words.size_mm)
        half = width_mm(words.text, words.size_mm, bold=words.bold) / 2
        c.drawString(-half, -0.5 * CAPITAL * words.size_mm, words.text)
        c.restoreState()

    def form(self, name: str, drawing: Drawing) -> None:
        """Keep a drawing as a form, to be shown on many pages and stored once."""
        c = self.canvas
        c.beginForm(name, -5, -5, drawing.width_mm + 5, drawing.height_mm + 5)
        c.setLineJoin(1)
        for layer in drawing.layers:
            self.open_layer(layer)
            for line in drawing.on(layer):
                self.stroke(line.points, STYLES[layer], closed=line.closed)
            for words in drawing.lettering:
                if words.layer == layer:
                    self.lettering(words)
            self.close_layer()
        c.endForm()

    def open_layer(self, layer: Layer) -> None:
        """What follows belongs to a layer."""
        self.canvas._code.append(f"/OC /L{layer.value} BDC")  # noqa: SLF001 - reportlab has no call for it

    def close_layer(self) -> None:
        """The layer ends."""
        self.canvas._code.append("EMC")  # noqa: SLF001

    def finish(self, layers: Sequence[Layer]) -> bytes:
        """The document, with its layers named and printing set to 100 %; same drawing, same bytes."""
        import pikepdf
        from pikepdf import Array, Dictionary, Name, String

        self.canvas.save()
        out = io.BytesIO()
        with pikepdf.open(io.BytesIO(self._out.getvalue())) as pdf:
            groups = {
                layer: pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String(layer.value)))
                for layer in Layer
                if layer in layers
            }
            names = Dictionary({f"/L{layer.value}": group for layer, group in groups.items()})
            listed = Array(list(groups.values()))
            pdf.Root.OCProperties = Dictionary(
                OCGs=listed, D=Dictionary(Order=listed, ON=listed, BaseState=Name.ON)
            )
            pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"), PickTrayByPDFSize=True)
            for page in pdf.pages:
                page.Resources.Properties = names
                for form in page.Resources.get("/XObject", {}).values():
                    if "/Resources" not in form:
                        form.Resources = Dictionary()
                    form.Resources.Properties = names
            pdf.save(out, deterministic_id=True)
        return out.getvalue()
