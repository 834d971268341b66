"""An SVG as a picture, drawn by resvg: its page where the drawing fills it, else as much as the drawing takes up."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.paper.ink import Floats

if TYPE_CHECKING:
    from pathlib import Path

    from PIL import Image

MOST_CHARACTERS = 16_000_000
DEEPEST = 60  # groups in groups
SHORTEST_PAGE = 500  # CSS pixels: of a smaller page the drawing's own are told, or its places grow coarse
MARGIN = 0.02  # of the longer side, round a drawing without its page: what ends at the border has no outside
CSS_PX = {"": 1.0, "px": 1.0, "pt": 96 / 72, "pc": 16.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4}
_VIEW = "@view@"  # where the rectangle to be drawn goes in the text
_GLANCE = 500  # pixels along the longer side where only the drawing's place is looked for
_PAPER = 250  # what is lighter is paper
_DARK = 128
_DARK_SHARE = (
    0.25  # a pen a pixel wide or wider leaves more of its ink dark, wherever it falls between the pixels
)
_PEN_PX = 1.5
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_PEN = re.compile(r"""(stroke-width\s*(?:=\s*["']|:)\s*)([\d.]+(?:[eE][-+]?\d+)?)""")
_HOLLOW = re.compile(r"""(\bfill\s*(?:=\s*["']|:)\s*)none""")
_CARRIED = re.compile(r"\s*data:image/(png|jpe?g|webp)[;,]")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Page:
    """A rectangle of the drawing, in its own units: upper left corner (2,), width and height (2,)."""

    low: Floats
    size: Floats

    def grown(self, by: float) -> Page:
        """Wider on each side by `by` times its longer side."""
        more = by * self.size.max()
        return Page(low=self.low - more, size=self.size + 2 * more)


def draw_svg(path: Path, side: int) -> tuple[Image.Image, tuple[int, int] | None]:
    """The lines and areas of an SVG and the pictures it carries; lettering is left out.

    Parameters
    ----------
    side: pixels along the picture's longer side.

    Returns
    -------
    The picture in grey, and the page's width and height in CSS pixels where the picture is the page.

    Raises
    ------
    PictureError: damaged, empty, too large, with scripts or entities.
    """
    text = path.read_text("utf-8", errors="replace")
    if len(text) > MOST_CHARACTERS:
        raise PictureError(
            f"it has {len(text) / 1e6:.0f} million characters; 16 are allowed. Save it as a PNG instead."
        )
    small = text.lower()
    if "<!entity" in small or re.search(r"<!doctype[^>]*\[", small):
        raise PictureError(
            "it declares entities of its own, which can blow up without bound, and is refused."
        )
    if "<script" in small:
        raise PictureError("it carries a script and is refused. Save it as a plain SVG or PNG.")
    try:
        root = ET.fromstring(text)  # noqa: S314 - entities are refused above
    except ET.ParseError as err:
        raise PictureError(f"it breaks off or is not well formed ({err}).") from err
    page, css = _page_of(root)
    plain = plain_text(root)
    box = _drawing(plain, page)
    if page is None or not _fills(box, page):
        return draw(plain, box.grown(MARGIN), side), None
    return draw(plain, page, side), css if max(css) >= SHORTEST_PAGE else None


def draw(plain: str, view: Page, side: int) -> Image.Image:
    """What lies in a rectangle of a drawing, in grey.

    A pen thinner than a pixel leaves a pale trace, or none. Where hardly any ink comes out dark, every pen is widened
    alike; where there is none at all, every pen is set.

    Raises
    ------
    PictureError: nothing lies there.
    """
    image = _rendered(plain, view, side)
    ink, dark, darkest = _levels(image)
    if dark < _DARK_SHARE * ink or not ink:
        pen = _PEN_PX * float(view.size.max()) / side
        by = _PEN_PX * 255 / max(255 - darkest, 1)
        wider = _PEN.sub(lambda m: f"{m[1]}{float(m[2]) * by if ink else pen:g}", plain)
        image = _rendered(wider, view, side)
        ink = _levels(image)[0]
    if not ink:
        raise PictureError("it holds no lines or areas.")
    return image


def _levels(image: Image.Image) -> tuple[int, int, int]:
    """How many pixels are ink, how many dark, and the darkest level."""
    grey = np.asarray(image)
    return int((grey < _PAPER).sum()), int((grey < _DARK).sum()), int(grey.min())


def _rendered(plain: str, view: Page, side: int) -> Image.Image:
    import resvg_py
    from PIL import Image

    text = plain.replace(_VIEW, " ".join(f"{v:.9g}" for v in (*view.low, *view.size)), 1)
    wide = bool(view.size[0] >= view.size[1])
    try:
        png = resvg_py.svg_to_bytes(
            svg_string=text,
            background="white",
            skip_system_fonts=True,
            dpi=96.0,
            width=side if wide else None,
            height=None if wide else side,
            image_rendering="optimize_speed",  # a smoothed scan takes six times as long and is none the better
        )
    except ValueError as err:
        raise PictureError(f"it cannot be drawn ({err}). Save it as a PNG instead.") from err
    return Image.open(io.BytesIO(png)).convert("L")


def plain_text(root: ET.Element) -> str:
    """The text of an SVG, a place left in it for the rectangle to be drawn, without what lies in other files."""
    level = [root]
    for _ in range(DEEPEST):
        level = [e for parent in level for e in parent]
    if level:
        raise PictureError(f"its groups nest more than {DEEPEST} deep.")
    for parent in root.iter():
        for e in [e for e in parent if _name(e) in {"image", "feImage"}]:
            links = [v for k, v in e.attrib.items() if k.rsplit("}", 1)[-1] == "href"]
            if not all(_CARRIED.match(v) for v in links):
                parent.remove(e)
    for key in ("width", "height", "preserveAspectRatio"):
        root.attrib.pop(key, None)
    root.set("viewBox", _VIEW)
    root.attrib.setdefault(
        "stroke-width", "1"
    )  # as it is anyway: so that a pen nobody set is widened with the rest
    return ET.tostring(root, "unicode")


def _name(e: ET.Element) -> str:
    return str(e.tag).rsplit("}", 1)[-1]


def _page_of(root: ET.Element) -> tuple[Page | None, tuple[int, int]]:
    """The page an SVG states, and its width and height in CSS pixels; None where it states none."""
    width, height = _css_px(root.get("width")), _css_px(root.get("height"))
    box = [float(t) for t in _NUMBER.findall(root.get("viewBox") or "")]
    if len(box) != 4:
        box = [0.0, 0.0, width, height]
    low, size = np.array(box[:2]), np.array(box[2:])
    if not np.isfinite(box).all() or not 0.0 < size.min() <= size.max() < 1e6:
        return None, (0, 0)
    f = width / size[0] or height / size[1] or 1.0
    return Page(low=low, size=size), (round(size[0] * f), round(size[1] * f))


def _css_px(length: str | None) -> float:
    """A length with an absolute unit in CSS pixels; 0 for none, or one in per cent."""
    found = re.fullmatch(r"\s*([\d.]+(?:[eE][-+]?\d+)?)\s*([a-z]*)\s*", length or "")
    try:
        return float(found.group(1)) * CSS_PX.get(found.group(2), 0.0) if found else 0.0
    except ValueError:
        return 0.0


def _drawing(plain: str, page: Page | None) -> Page:
    """The rectangle a drawing takes up: looked for round its page, ever wider until all of it is in sight, then nearer.

    Figures are filled for it: lines are too thin to be seen from afar.
    """
    filled = _HOLLOW.sub(r"\1black", plain)
    view = page or Page(low=np.zeros(2), size=np.full(2, 1000.0))
    for _ in range(20):
        view = view.grown(0.5)
        inked = np.asarray(_rendered(filled, view, _GLANCE)) < _PAPER
        rows, columns = np.flatnonzero(inked.any(1)), np.flatnonzero(inked.any(0))
        rim = np.concatenate([inked[0], inked[-1], inked[:, 0], inked[:, -1]])
        if not len(rows) or rim.any():
            view = view.grown(1.0)
            continue
        px = view.size / inked.shape[::-1]
        low, high = px * (columns[0], rows[0]), px * (columns[-1] + 1, rows[-1] + 1)
        seen, view = view, Page(low=view.low + low, size=high - low)
        if view.size.max() > 0.2 * seen.size.max():
            return view
    if page is None:
        raise PictureError("it holds no lines or areas.")
    return page


def _fills(box: Page, page: Page) -> bool:
    """Whether the drawing lies on its page and takes up enough of it, so that the page loses none of its detail."""
    slack = 0.01 * page.size.max()
    inside = (box.low > page.low - slack).all() and (box.low + box.size < page.low + page.size + slack).all()
    return bool(inside and box.size.max() > 0.5 * page.size.max())
