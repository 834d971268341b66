"""The model space of a DXF as a picture: ezdxf draws it as an SVG."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.paper.drawn_svg import Page, draw, plain_text

if TYPE_CHECKING:
    from pathlib import Path

    from PIL import Image

MOST_SHAPES = 60_000
PEN_PX = 2.0  # what line widths a DXF gives seldom show on the screen it was drawn on
MARGIN = 40 / 2200  # of the longer side: what ends at the border has no outside
# lettering, dimensions and hatching are left out: none of them is an outline; INSERT is a block's
KINDS = frozenset({"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "INSERT"})


def draw_dxf(path: Path, side: int) -> Image.Image:
    """The lines and curves of a DXF's model space on the layers that are on, dashed ones too drawn through.

    Parameters
    ----------
    side: pixels along the picture's longer side.

    Raises
    ------
    PictureError: damaged, without a line, too large.
    """
    import ezdxf.lldxf.const
    from ezdxf import recover
    from ezdxf.addons.drawing import config, layout
    from ezdxf.addons.drawing.frontend import Frontend
    from ezdxf.addons.drawing.properties import RenderContext
    from ezdxf.addons.drawing.svg import SVGBackend

    try:
        doc, _ = recover.readfile(path)
    except (OSError, ezdxf.lldxf.const.DXFError) as err:
        raise PictureError(f"it breaks off or is damaged ({type(err).__name__}).") from err

    class Lines(Frontend):
        """Draws lines and curves only, and all of them but those that cannot be made out."""

        shapes = 0

        def draw_entity(self, entity: Any, properties: Any) -> None:
            self.shapes += 1
            if self.shapes > MOST_SHAPES:
                raise PictureError(f"it holds more than {MOST_SHAPES} shapes. Save it as a PNG instead.")
            if entity.dxftype() not in KINDS:
                return
            try:
                if entity.dxftype() != "SPLINE" or _drawable(entity):
                    super().draw_entity(entity, properties)
            except PictureError:
                raise
            except (ArithmeticError, TypeError, ValueError, ezdxf.lldxf.const.DXFError) as err:
                self.skip_entity(entity, str(err))

    lines = SVGBackend()
    how = config.Configuration(
        background_policy=config.BackgroundPolicy.WHITE,
        color_policy=config.ColorPolicy.BLACK,
        line_policy=config.LinePolicy.SOLID,
        lineweight_policy=config.LineweightPolicy.RELATIVE_FIXED,
        proxy_graphic_policy=config.ProxyGraphicPolicy.IGNORE,
    )
    Lines(RenderContext(doc), lines, config=how).draw_layout(doc.modelspace())
    box = lines.player().bbox()
    if not box.has_data:
        raise PictureError("it holds no lines or curves in its model space.")
    size = np.array(box.size)
    if not (np.isfinite([*box.extmin, *box.extmax]).all() and size.max() > 0):
        raise PictureError("it holds no usable coordinates.")
    width, height = np.maximum(
        1000.0 * size / size.max(), 1.0
    )  # mm; the page is as large whatever is drawn on it
    pen = layout.Settings(max_stroke_width=PEN_PX / side, fixed_stroke_width=1.0)
    root = lines.get_xml_root_element(layout.Page(width, height), settings=pen)
    size = np.array([float(v) for v in root.attrib["viewBox"].split()[2:]])
    return draw(plain_text(root), Page(low=np.zeros(2), size=size).grown(MARGIN), side)


def _drawable(spline: Any) -> bool:
    """Whether a curve is defined; none is through a fit point given twice, so that one of both goes."""
    if len(spline.control_points) or not len(spline.fit_points):
        return True
    given = [tuple(float(c) for c in v) for v in spline.fit_points]
    spline.fit_points = [v for v, last in zip(given, [None, *given], strict=False) if v != last]
    return len(spline.fit_points) > 1
