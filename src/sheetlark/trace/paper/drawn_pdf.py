"""A PDF page as a picture, drawn by PDFium; what could run or blow up is refused first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sheetlark.errors import PictureError

if TYPE_CHECKING:
    from pathlib import Path

    from PIL import Image

MOST_OBJECTS = 300_000
MOST_PIXELS = 100_000_000  # of one picture on the page


def draw_pdf(path: Path, page: int, side: int) -> tuple[Image.Image, int]:
    """One page of a PDF without scripts.

    Parameters
    ----------
    page: from 1.
    side: pixels along the page's longer side.

    Returns
    -------
    The page in grey, and how many pages there are.

    Raises
    ------
    PictureError: locked, damaged, too large, with scripts, or without that page.
    """
    import pikepdf
    import pypdfium2

    try:
        with pikepdf.open(path) as pdf:
            for k, thing in enumerate(pdf.objects):
                if k > MOST_OBJECTS:
                    raise PictureError("it holds more than 300 000 objects. Save the page as a PNG instead.")
                _no_scripts(thing)
    except pikepdf.PasswordError as err:
        raise PictureError("it is locked with a password. Save an open copy.") from err
    except pikepdf.PdfError as err:
        raise PictureError("it breaks off or is damaged. Save it again.") from err
    document = pypdfium2.PdfDocument(path)
    pages = len(document)
    if not 1 <= page <= pages:
        raise PictureError(f"it has {pages} page{'s'[: pages > 1]}; page {page} was asked for.")
    sheet = document[page - 1]
    width, height = sheet.get_size()
    if not (1.0 <= width <= 20_000.0 and 1.0 <= height <= 20_000.0):
        raise PictureError(f"its page measures {width:.0f} x {height:.0f} points; 1 to 20 000 are allowed.")
    image: Image.Image = sheet.render(scale=side / max(width, height)).to_pil().convert("L")
    return image, pages


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
        if pixels > MOST_PIXELS:
            raise PictureError(f"it holds a picture of {pixels / 1e6:.0f} million pixels; 100 are allowed.")
