"""Reading a picture file within bounds: raster, PDF page, SVG or DXF, all to grey levels.

Hostile files are refused before they are decoded where their header tells, and vector files and PDF pages are
drawn by a child process with a ceiling on memory and time.
"""

from __future__ import annotations

import io
import os
import re
import stat
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sheetlark.errors import PictureError
from sheetlark.trace.paper.ink import Floats

if TYPE_CHECKING:
    from PIL import Image

LARGEST_FILE = 64 * 2**20
LONGEST_SIDE = 16_000
MOST_PIXELS = 100_000_000
WORKING_SIDE = 2200
CHILD_SECONDS = 25
_MOST_LINES = 0.4  # of a page that lines alone cover; more than that is paper


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """Grey levels (0 black, 255 white), shape (rows, columns), and how many given pixels one of them covers."""

    name: str
    grey: Floats
    size_px: tuple[int, int]  # width, height as given
    px_per_px: float
    page: int = 1
    pages: int = 1

    @property
    def of_pages(self) -> str:
        """Which of several pages this is, in words; empty where there is one alone."""
        return "" if self.pages == 1 else f"This is page {self.page} of {self.pages}."


def read_picture(path: str | os.PathLike[str], *, page: int = 1) -> Picture:
    """Read PNG, JPEG, WebP, a PDF page, SVG or DXF.

    Raises
    ------
    PictureError
        If the file is missing, empty, too large, truncated, of another type, has no such page, or carries scripts.
    """
    p = Path(path)
    data = _bytes(p)
    kind = _kind(data, p)
    pages, size = 1, None
    if kind != "pdf" and page != 1:
        raise PictureError(f"{p.name} has one page; page {page} was asked for.")
    if kind in {"pdf", "svg", "dxf"}:
        data, pages, size = _drawn_by_child(p, kind, page)
    picture = replace(_raster(data, p.name), page=page, pages=pages)
    if size is None:
        return picture
    return replace(picture, size_px=size, px_per_px=size[0] / picture.grey.shape[1])


def _bytes(p: Path) -> bytes:
    try:
        info = p.lstat()
    except OSError as err:
        raise PictureError(f"{p.name}: no such picture. Check the path.") from err
    if stat.S_ISLNK(info.st_mode):
        raise PictureError(f"{p.name} is a link to another file. Give the picture itself.")
    if not stat.S_ISREG(info.st_mode):
        raise PictureError(f"{p.name} is not a file. Give a PNG, JPEG, WebP, PDF, SVG or DXF file.")
    if info.st_size == 0:
        raise PictureError(f"{p.name} is empty (0 bytes). Scan or save it again.")
    if info.st_size > LARGEST_FILE:
        raise PictureError(
            f"{p.name} has {info.st_size / 2**20:.0f} MB; at most {LARGEST_FILE // 2**20} MB are read. "
            "Save it smaller: 2000 to 4000 pixels along the longer side are plenty."
        )
    try:
        return p.read_bytes()
    except OSError as err:
        raise PictureError(f"{p.name} cannot be opened: {err.strerror}.") from err


def _kind(data: bytes, p: Path) -> str:
    head = data[:4096]
    if head.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")):
        return "raster"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "raster"
    if b"%PDF-" in head[:1024]:
        return "pdf"
    text = head.lstrip(b"\xef\xbb\xbf \r\n\t")
    tag = re.compile(rb"<([\w.-]+:)?svg\b")
    if (text.startswith((b"<?xml", b"<!--", b"<!DOCTYPE svg")) and tag.search(data[:65536])) or tag.match(
        text
    ):
        return "svg"
    if b"SECTION" in head and text[:1] in {b"0", b"9"}:
        return "dxf"
    raise PictureError(
        f"{p.name} is not a picture this can read: its first bytes are not those of PNG, JPEG, WebP, PDF, SVG or DXF. "
        "Save it as one of these."
    )


def _sized(name: str, width: int, height: int) -> None:
    """Refuse a raster too large or too small, by its header alone."""
    if max(width, height) > LONGEST_SIDE or width * height > MOST_PIXELS:
        raise PictureError(
            f"{name} measures {width} x {height} pixels; at most {LONGEST_SIDE} a side and "
            f"{MOST_PIXELS // 1_000_000} million in all are read. "
            "Scale it down: 2000 to 4000 pixels along the longer side are plenty."
        )
    if min(width, height) < 60:
        raise PictureError(
            f"{name} measures {width} x {height} pixels; at least 60 are needed each way, 1000 are good. "
            "Scan it at a higher resolution."
        )


def _raster(data: bytes, name: str) -> Picture:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data), formats=("PNG", "JPEG", "WEBP")) as im:
            width, height = im.size
            _sized(name, width, height)
            im.draft("L", (WORKING_SIDE, WORKING_SIDE))
            turn = ImageOps.exif_transpose(im)
            picture = turn if turn is not None else im
            swapped = (picture.width > picture.height) != (width > height) and width != height
            size = (height, width) if swapped else (width, height)
            if picture.mode in {"I;16", "I", "F"}:
                a = np.asarray(picture, dtype=np.float64)
                top = float(a.max()) or 1.0
                grey = Image.fromarray((a * (255.0 / top)).astype(np.uint8))
            else:
                if picture.mode in {"P", "PA", "LA", "RGBA"} or "transparency" in picture.info:
                    rgba = picture.convert("RGBA")
                    paper = Image.new("RGBA", rgba.size, _paper_under(rgba))
                    picture = Image.alpha_composite(paper, rgba)
                grey = picture.convert("L")
            longest = max(grey.size)
            if longest > WORKING_SIDE:
                f = WORKING_SIDE / longest
                grey = grey.resize(
                    (max(1, round(grey.width * f)), max(1, round(grey.height * f))),
                    Image.Resampling.BOX if f < 0.5 else Image.Resampling.LANCZOS,
                )
            a = np.asarray(grey, dtype=np.float64)
    except PictureError:
        raise
    except Image.DecompressionBombError as err:
        raise PictureError(
            f"{name} holds far too many pixels; at most {LONGEST_SIDE} a side and {MOST_PIXELS // 1_000_000} million "
            "in all are read. Scale it down: 2000 to 4000 pixels along the longer side are plenty."
        ) from err
    except (
        UnidentifiedImageError,
        OSError,
        SyntaxError,
        ValueError,
        EOFError,
    ) as err:
        raise PictureError(
            f"{name} breaks off or is damaged and cannot be decoded ({type(err).__name__}). Save or scan it again."
        ) from err
    return Picture(name=name, grey=a, size_px=size, px_per_px=size[0] / a.shape[1])


def _paper_under(rgba: Image.Image) -> str:
    """The paper to lay under a drawing that lets it through: black under thin light lines, else white."""
    opaque = np.asarray(rgba.getchannel("A"), dtype=np.float64) / 255.0
    share = float(opaque.mean())
    if not 0.0 < share < _MOST_LINES:
        return "white"
    lightness = float((np.asarray(rgba.convert("L"), dtype=np.float64) * opaque).mean()) / share
    return "black" if lightness > 128.0 else "white"


def _drawn_by_child(p: Path, kind: str, page: int) -> tuple[bytes, int, tuple[int, int] | None]:
    """Have a PDF page, SVG or DXF drawn by a child with ceilings on memory and time.

    Returns
    -------
    PNG bytes, the pages there are, and the page's own width and height in pixels where it states them.
    """
    command = [sys.executable, "-I", "-m", "sheetlark.trace.paper.page", kind, str(p.resolve()), str(page)]
    try:
        done = subprocess.run(command, capture_output=True, timeout=CHILD_SECONDS, check=False)
    except subprocess.TimeoutExpired as err:
        raise PictureError(
            f"{p.name} takes more than {CHILD_SECONDS} s to draw and is refused. Save it as a PNG instead."
        ) from err
    words = done.stderr.decode("utf-8", "replace").strip().splitlines()
    if done.returncode == 0 and done.stdout.startswith(b"\x89PNG"):
        pages = next((w.removeprefix("pages: ") for w in words if w.startswith("pages: ")), "1")
        sizes = (w.removeprefix("size: ").split() for w in words if w.startswith("size: "))
        size = next(((int(w), int(h)) for w, h in sizes), None)
        return done.stdout, int(pages), size
    said = next((w.removeprefix("refused: ") for w in reversed(words) if w.startswith("refused: ")), "")
    if said:
        raise PictureError(f"{p.name}: {said}")
    raise PictureError(
        f"{p.name} cannot be drawn as {kind.upper()}: it is damaged, or needs more memory than is allowed. "
        "Save it as a PNG instead."
    )
