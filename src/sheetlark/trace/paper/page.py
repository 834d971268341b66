"""Draw a PDF page, an SVG or a DXF as a picture. Run as a child process: `python -m sheetlark.trace.paper.page`."""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stdout
from pathlib import Path
from typing import TYPE_CHECKING

from sheetlark.errors import PictureError
from sheetlark.trace.paper.drawn_dxf import draw_dxf
from sheetlark.trace.paper.drawn_pdf import draw_pdf
from sheetlark.trace.paper.drawn_svg import draw_svg

if TYPE_CHECKING:
    from PIL import Image

MEMORY = 3 * 2**30
SECONDS = 20
SIDE = 2200  # as many pixels as the tracing works with


def main(arguments: list[str]) -> int:
    """Draw the file to standard output as PNG; say why not on standard error."""
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    try:
        with redirect_stdout(sys.stderr):  # a library's own words must not get into the picture
            image = _drawn(arguments[0], Path(arguments[1]), int(arguments[2]))
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


def _drawn(kind: str, path: Path, page: int) -> Image.Image:
    """The picture; what else is known of the page is said on standard error."""
    if kind == "pdf":
        image, pages = draw_pdf(path, page, SIDE)
        sys.stderr.write(f"pages: {pages}\n")
        return image
    if kind == "dxf":
        return draw_dxf(path, SIDE)
    image, size = draw_svg(path, SIDE)
    if size is not None:
        sys.stderr.write(f"size: {size[0]} {size[1]}\n")
    return image


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
