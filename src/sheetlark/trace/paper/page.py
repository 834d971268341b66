"""Draw a PDF page, an SVG or a DXF as a picture. Run as a child process: `python -m sheetlark.trace.paper.page`."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.paper.ink import Floats

if TYPE_CHECKING:
    from PIL import Image

MEMORY = 3 * 2**30
SECONDS = 20
SIDE = 2200  # as many pixels as the tracing works with
SHORTEST_PAGE = (
    500  # CSS pixels: a smaller page is told in the pixels it is drawn with, or its places grow coarse
)
CSS_PX = {"": 1.0, "px": 1.0, "pt": 96 / 72, "pc": 16.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4}
MOST_SHAPES = 60_000
MOST_POINTS = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A polyline in drawing units: stroke width (0 for none), filled or not, with which grey level."""

    points: Floats
    width: float
    filled: bool
    grey: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Page:
    """The page a drawing lies on, in drawing units: its upper left corner and its width and height."""

    low: Floats
    size: Floats


def draw_pdf(path: Path, page: int) -> Image.Image:
    """One page of a PDF without scripts."""
    import pikepdf
    import pypdfium2

    try:
        with pikepdf.open(path) as pdf:
            for k, thing in enumerate(pdf.objects):
                if k > 300_000:
                    raise PictureError("it holds more than 300 000 objects. Save the page as a PNG instead.")
                _no_scripts(thing)
    except pikepdf.PasswordError as err:
        raise PictureError("it is locked with a password. Save an open copy.") from err
    except pikepdf.PdfError as err:
        raise PictureError("it breaks off or is damaged. Save it again.") from err
    document = pypdfium2.PdfDocument(path)
    pages = len(document)
    sys.stderr.write(f"pages: {pages}\n")
    if not 1 <= page <= pages:
        raise PictureError(f"it has {pages} page{'s'[: pages > 1]}; page {page} was asked for.")
    sheet = document[page - 1]
    width, height = sheet.get_size()
    if not (1.0 <= width <= 20_000.0 and 1.0 <= height <= 20_000.0):
        raise PictureError(f"its page measures {width:.0f} x {height:.0f} points; 1 to 20 000 are allowed.")
    image: Image.Image = sheet.render(scale=SIDE / max(width, height)).to_pil().convert("L")
    return image


def _no_scripts(thing: Any) -> None:
    import pikepdf

    if not isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        return
    action = thing.get("/S")  # a font may have a glyph of that name, which is no action
    if "/JS" in thing or (isinstance(action, pikepdf.Name) and action in {"/JavaScript", "/Launch"}):
        raise PictureError(
            "it carries a script or starts a program, and is refused. Print it to a plain PDF or PNG."
        )
    if thing.get("/Subtype") == pikepdf.Name("/Image"):
        pixels = int(thing.get("/Width", 0)) * int(thing.get("/Height", 0))
        if pixels > 100_000_000:
            raise PictureError(f"it holds a picture of {pixels / 1e6:.0f} million pixels; 100 are allowed.")


# -- SVG -------------------------------------------------------------------------------------------------

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def draw_svg(path: Path) -> Image.Image:
    """The lines and areas of an SVG on its page; lettering and embedded pictures are left out."""
    text = path.read_text("utf-8", errors="replace")
    if len(text) > 16_000_000:
        raise PictureError(
            f"it has {len(text) / 1e6:.0f} million characters; 16 are allowed. Save it as a PNG instead."
        )
    low = text.lower()
    if "<!entity" in low or re.search(r"<!doctype[^>]*\[", low):
        raise PictureError(
            "it declares entities of its own, which can blow up without bound, and is refused."
        )
    if "<script" in low:
        raise PictureError("it carries a script and is refused. Save it as a plain SVG or PNG.")
    try:
        root = ET.fromstring(text)  # noqa: S314 - entities are refused above
    except ET.ParseError as err:
        raise PictureError(f"it breaks off or is not well formed ({err}).") from err
    styles = {
        m.group(1): m.group(2) for m in re.finditer(r"\.([\w-]+)\s*\{([^}]*)\}", "".join(_style_text(root)))
    }
    shapes: list[Shape] = []
    named = {e.get("id"): e for e in root.iter() if e.get("id")}
    _walk(root, np.eye(3), {"fill": "black", "stroke": "none", "stroke-width": "1"}, styles, named, shapes, 0)
    page, css = _page_of(root)
    if page is None or not _fills(shapes, page):
        return _render(shapes)
    if max(css) >= SHORTEST_PAGE:
        sys.stderr.write(f"size: {css[0]} {css[1]}\n")
    return _render(shapes, page=page)


def _page_of(root: ET.Element) -> tuple[Page | None, tuple[int, int]]:
    """The page an SVG states, and its width and height in CSS pixels; None where it states none."""
    width, height = _css_px(root.get("width")), _css_px(root.get("height"))
    box = [float(t) for t in _NUMBER.findall(root.get("viewBox") or "")]
    if len(box) != 4:
        box = [0.0, 0.0, width, height]
    low, size = np.array(box[:2]), np.array(box[2:])
    if not np.isfinite(box).all() or not 0.1 < size.min() <= size.max() < 1e6:
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


def _fills(shapes: list[Shape], page: Page) -> bool:
    """Whether the drawing lies on its page and takes up enough of it, so that the page loses none of its detail."""
    if not shapes:
        return False
    every = np.vstack([s.points for s in shapes]) - page.low
    slack = 0.01 * page.size.max()
    inside = (every.min(0) > -slack).all() and (every.max(0) < page.size + slack).all()
    return bool(inside and np.ptp(every, axis=0).max() > 0.5 * page.size.max())


def _style_text(root: ET.Element) -> list[str]:
    return [e.text or "" for e in root.iter() if e.tag.rsplit("}", 1)[-1] == "style"]


def _walk(
    e: ET.Element,
    m: Floats,
    look: dict[str, str],
    styles: dict[str, str],
    named: dict[Any, ET.Element],
    shapes: list[Shape],
    depth: int,
) -> None:
    if depth > 60:
        raise PictureError("its groups nest more than 60 deep.")
    if len(shapes) > MOST_SHAPES:
        raise PictureError(f"it holds more than {MOST_SHAPES} shapes. Save it as a PNG instead.")
    tag = str(e.tag).rsplit("}", 1)[-1]
    if tag in {
        "defs",
        "clipPath",
        "mask",
        "symbol",
        "marker",
        "pattern",
        "style",
        "metadata",
        "text",
        "image",
    }:
        return
    look = dict(look)
    rules = ";".join([styles.get(c, "") for c in (e.get("class") or "").split()] + [e.get("style") or ""])
    for key in ("fill", "stroke", "stroke-width", "display", "visibility", "opacity"):
        if e.get(key):
            look[key] = str(e.get(key))
    for rule in rules.split(";"):
        name, _, value = rule.partition(":")
        if value.strip():
            look[name.strip()] = value.strip()
    if look.get("display") == "none":
        return
    m = m @ _transform(e.get("transform") or "")
    for points, closed in _figures(e, tag):
        if len(points) < 2:
            continue
        p = np.c_[points, np.ones(len(points))] @ m.T
        if not np.isfinite(p).all():
            raise PictureError("it holds a coordinate that is not a number.")
        q = p[:, :2]
        if closed:
            q = np.vstack([q, q[:1]])
        size = float(np.sqrt(abs(np.linalg.det(m[:2, :2]))))
        numbers = _NUMBER.findall(look.get("stroke-width", "1"))
        stroke = look.get("stroke", "none") != "none"
        dark = look.get("fill", "black")
        shapes.append(
            Shape(
                points=q,
                width=(float(numbers[0]) if numbers else 1.0) * size if stroke else 0.0,
                filled=dark != "none" and tag != "line",
                grey=_grey(dark, stroke),
            )
        )
    if tag == "use":
        ref = e.get("href") or e.get("{http://www.w3.org/1999/xlink}href") or ""
        target = named.get(ref[1:]) if ref.startswith("#") else None
        if target is not None:
            shift = np.array([[1, 0, float(e.get("x") or 0)], [0, 1, float(e.get("y") or 0)], [0, 0, 1.0]])
            _walk(target, m @ shift, look, styles, named, shapes, depth + 8)
    for child in e:
        _walk(child, m, look, styles, named, shapes, depth + 1)


def _grey(colour: str, stroked: bool) -> int:
    """The grey level of a filling: dark ones are black, light ones white where a stroke bounds them."""
    from PIL import ImageColor

    try:
        rgb = ImageColor.getrgb(colour)[:3]
    except ValueError:
        return 0
    if sum(rgb) <= 380:
        return 0
    return 255 if stroked else round(sum(rgb) / 3)


def _figures(e: ET.Element, tag: str) -> list[tuple[Floats, bool]]:
    def f(key: str) -> float:
        got = _NUMBER.findall(e.get(key) or "0")
        return float(got[0]) if got else 0.0

    if tag == "line":
        return [(np.array([[f("x1"), f("y1")], [f("x2"), f("y2")]]), False)]
    if tag in {"polyline", "polygon"}:
        v = [float(t) for t in _NUMBER.findall(e.get("points") or "")]
        return [(np.array(v[: len(v) // 2 * 2]).reshape(-1, 2), tag == "polygon")]
    if tag == "rect":
        x, y, w, h = f("x"), f("y"), f("width"), f("height")
        return [(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]), True)]
    if tag in {"circle", "ellipse"}:
        rx, ry = (f("r"), f("r")) if tag == "circle" else (f("rx"), f("ry"))
        t = np.linspace(0, 2 * np.pi, 96, endpoint=False)
        return [(np.c_[f("cx") + rx * np.cos(t), f("cy") + ry * np.sin(t)], True)]
    if tag == "path":
        return _path_figures(e.get("d") or "")
    return []


def _path_figures(d: str) -> list[tuple[Floats, bool]]:
    import svg.path

    if len(d) > 4_000_000:
        raise PictureError("one of its paths is longer than 4 million characters.")
    try:
        segments = svg.path.parse_path(d)
    except Exception as err:
        raise PictureError(f"it holds a path that cannot be read ({type(err).__name__}).") from err
    out: list[tuple[Floats, bool]] = []
    now: list[complex] = []
    for s in segments:
        if isinstance(s, svg.path.Move):
            if len(now) > 1:
                out.append((np.array([[p.real, p.imag] for p in now]), False))
            now = [s.end]
        elif isinstance(s, svg.path.Line):  # Close is a Line too
            now.append(s.end)
        else:
            now.extend(s.point(t) for t in np.linspace(0, 1, 25)[1:])
    if len(now) > 1:
        out.append((np.array([[p.real, p.imag] for p in now]), False))
    return out


def _transform(text: str) -> Floats:
    m = np.eye(3)
    for name, args in re.findall(r"(\w+)\s*\(([^)]*)\)", text):
        v = [float(t) for t in _NUMBER.findall(args)]
        t = np.eye(3)
        if name == "matrix" and len(v) == 6:
            t = np.array([[v[0], v[2], v[4]], [v[1], v[3], v[5]], [0, 0, 1]])
        elif name == "translate" and v:
            t[0, 2], t[1, 2] = v[0], v[1] if len(v) > 1 else 0.0
        elif name == "scale" and v:
            t[0, 0], t[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
        elif name == "rotate" and v:
            c, s = np.cos(np.radians(v[0])), np.sin(np.radians(v[0]))
            r = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
            if len(v) == 3:
                a, b = np.eye(3), np.eye(3)
                a[:2, 2], b[:2, 2] = v[1:], [-v[1], -v[2]]
                r = a @ r @ b
            t = r
        elif name in {"skewX", "skewY"} and v:
            t[(0, 1) if name == "skewX" else (1, 0)] = np.tan(np.radians(v[0]))
        m = m @ t
    return np.asarray(m)


# -- DXF -------------------------------------------------------------------------------------------------


def draw_dxf(path: Path) -> Image.Image:
    """The lines and curves of a DXF's model space; lettering, dimensions and hatching are left out."""
    import ezdxf.lldxf.const
    import ezdxf.path
    from ezdxf import recover

    try:
        doc, _ = recover.readfile(path)
    except (OSError, ezdxf.lldxf.const.DXFError) as err:
        raise PictureError(f"it breaks off or is damaged ({type(err).__name__}).") from err
    kinds = {"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"}
    shapes: list[Shape] = []
    paths: list[Any] = []

    def take(entities: Any, depth: int) -> None:
        for e in entities:
            if len(paths) > MOST_SHAPES:
                raise PictureError(f"it holds more than {MOST_SHAPES} shapes. Save it as a PNG instead.")
            if e.dxftype() == "INSERT" and depth < 6:
                take(e.virtual_entities(), depth + 1)
            elif e.dxftype() in kinds:
                paths.extend(_dxf_path(e))

    take(doc.modelspace(), 0)
    if not paths:
        raise PictureError("it holds no lines or curves in its model space.")
    ends = np.array([[v.x, v.y] for p in paths for v in p.control_vertices()])
    if not len(ends) or not np.isfinite(ends).all():
        raise PictureError("it holds no usable coordinates.")
    size = float(np.ptp(ends, axis=0).max()) or 1.0
    for p in paths:
        flat = np.array([[v.x, -v.y] for v in p.flattening(size / 4000.0, segments=8)])
        if len(flat) > 1:
            shapes.append(Shape(points=flat, width=0.0, filled=False))
    return _render(shapes, hairline=True)


def _dxf_path(e: Any) -> list[Any]:
    """The curve of a DXF entity; none where it has no length or cannot be made out, so that the rest is drawn."""
    import ezdxf.lldxf.const
    import ezdxf.path

    if e.dxftype() == "SPLINE" and len(e.fit_points) and not len(e.control_points):
        # no curve is defined through a fit point given twice
        given = [tuple(float(c) for c in v) for v in e.fit_points]
        e.fit_points = [v for v, last in zip(given, [None, *given], strict=False) if v != last]
        if len(e.fit_points) < 3:
            return [ezdxf.path.from_vertices(e.fit_points)] if len(e.fit_points) == 2 else []
    try:
        return [ezdxf.path.make_path(e)]
    except (ArithmeticError, TypeError, ValueError, ezdxf.lldxf.const.DXFError):
        return []


def _render(shapes: list[Shape], *, page: Page | None = None, hairline: bool = False) -> Image.Image:
    """The shapes on their page; without one, in as small a picture as holds them."""
    from PIL import Image, ImageDraw

    if not shapes:
        raise PictureError("it holds no lines or areas.")
    if sum(len(s.points) for s in shapes) > MOST_POINTS:
        raise PictureError(f"it holds more than {MOST_POINTS} points. Save it as a PNG instead.")
    every = np.vstack([s.points for s in shapes])
    low, size = every.min(0), np.ptp(every, axis=0)
    if not np.isfinite(size).all() or size.max() <= 0:
        raise PictureError("its extent is not a usable size.")
    over = 2
    margin = 40.0
    f = (SIDE - 2 * margin) / float(size.max())
    if page is not None:
        margin, f = 0.0, SIDE / float(page.size.max())
    first, extent = (low, size) if page is None else (page.low, page.size)
    canvas = np.maximum((extent * f + 2 * margin) * over, 200).astype(int)
    image = Image.new("L", (int(canvas[0]), int(canvas[1])), 255)
    pen = ImageDraw.Draw(image)
    for s in shapes:
        q = [(float(a), float(b)) for a, b in ((s.points - first) * f + margin) * over]
        if s.filled and len(q) > 2 and not hairline:
            big = np.prod(np.ptp(s.points, axis=0)) > 0.9 * np.prod(size) and len(q) <= 6
            pen.polygon(q, fill=255 if big else s.grey)
        if s.width > 0 or hairline:
            width = 2.0 if hairline else min(max(1.5, s.width * f), 12.0)
            pen.line(q, fill=0, width=round(width * over), joint="curve")
    return image.resize((image.width // over, image.height // over), Image.Resampling.LANCZOS)


def main(arguments: list[str]) -> int:
    """Draw the file to standard output as PNG; say why not on standard error."""
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    kind, path, page = arguments[0], Path(arguments[1]), int(arguments[2])
    try:
        image = draw_pdf(path, page) if kind == "pdf" else draw_svg(path) if kind == "svg" else draw_dxf(path)
    except PictureError as err:
        sys.stderr.write(f"refused: {err}\n")
        return 2
    except RecursionError:
        sys.stderr.write("refused: it nests too deep.\n")
        return 2
    out = io.BytesIO()
    image.save(out, "PNG")
    sys.stdout.buffer.write(out.getvalue())
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
