"""The door of the room: a picture in, views and outlines out."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from importlib import import_module

import numpy as np

from sheetlark.beside import Helpers
from sheetlark.errors import PictureError
from sheetlark.trace.model import Corrections, Note, Tracing
from sheetlark.trace.notes import noted, with_length_note
from sheetlark.trace.paper.read import Picture, read_picture
from sheetlark.trace.paper.search import Sheet, read_sheet
from sheetlark.trace.paper.views import Reading
from sheetlark.trace.paper.way_up import as_given, as_upright, set_upright
from sheetlark.trace.shapes.three_views import Drawing, traced_views
from sheetlark.units import SPANS_M

# what outlines are found with
_TAKEN = ("scipy.ndimage", "scipy.fft", "scipy.spatial", "contourpy", "shapely")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenPicture:
    """A picture read and looked through for views; the costly half of tracing, which most corrections leave as it is.

    traced : what was traced to tell which way up the sheet lies; None where nothing had to be.
    span : of the model in it. [mm]
    """

    picture: Picture
    sheet: Sheet
    reading: Reading
    traced: Tracing | None
    span: float


def open_picture(
    path: str | os.PathLike[str],
    *,
    page: int = 1,
    turned_deg: float | None = None,
    span_m: float = 1.0,
    helpers: Helpers | None = None,
    meanwhile: Callable[[], None] | None = None,
) -> OpenPicture:
    """Read a picture and find its views.

    Parameters
    ----------
    turned_deg : float, optional
        The sheet's turn, anticlockwise to set it upright; without it, it is found, a quarter or a half turn included.
    span_m : float
        The span it is likely to be traced at: what is traced to tell which way up it lies is then not traced again. [m]
    helpers : Helpers, optional
        Processes that take a share of the tracing.
    meanwhile : callable, optional
        What there is to do here while a helper looks for the views; without helpers it is not called.

    Raises
    ------
    PictureError
        If the picture is refused.
    """
    if helpers is not None:
        helpers.begin(import_module, "scipy.ndimage")
    picture = read_picture(path, page=page)
    turned = None if turned_deg is None else float(np.radians(turned_deg))
    read = partial(read_sheet, turned_rad=turned)
    if helpers is None:
        sheet, reading = read(picture.grey)
    else:
        views = helpers.meanwhile(partial(read, picture.grey), read, picture.grey)
        for library in _TAKEN:
            import_module(library)
        if meanwhile is not None:
            meanwhile()
        sheet, reading = views()
    span, found = 1000.0 * span_m, None
    if turned is None:

        def traced(sheet: Sheet, reading: Reading) -> Tracing | None:
            drawing = Drawing(picture=picture, sheet=sheet, reading=reading, span=span, helpers=helpers)
            try:
                return traced_views(drawing, None, Corrections())
            except PictureError:
                return None

        sheet, reading, found = set_upright(picture.grey, sheet, reading, traced)
    return OpenPicture(picture=picture, sheet=sheet, reading=reading, traced=found, span=span)


def trace_picture(
    path: str | os.PathLike[str], *, span_m: float, length_m: float | None = None, page: int = 1
) -> Tracing:
    """Read a three-view picture into outlines at model size.

    Parameters
    ----------
    path : path
        PNG, JPEG, WebP, PDF, SVG or DXF.
    span_m : float
        Span of the model, tip to tip, which sets the scale. [m]
    length_m : float, optional
        A second known dimension, nose to tail, to check the scale against. [m]
    page : int
        Page of a PDF, from 1.

    Raises
    ------
    PictureError
        If the picture is refused, or no view of an aeroplane is found in it.
    """
    return trace_with(path, Corrections(), span_m=span_m, length_m=length_m, page=page)


def trace_with(
    path: str | os.PathLike[str],
    corrections: Corrections,
    *,
    span_m: float,
    length_m: float | None = None,
    page: int = 1,
    opened: OpenPicture | None = None,
) -> Tracing:
    """As `trace_picture`, with what the user set right by hand; works with hand-drawn outlines alone.

    With `opened`, from :func:`open_picture` of the same page and turn, the picture is not read again.
    """
    from sheetlark.trace.byhand import apply_outlines, reading_from_boxes, scale_from_line

    least, most = SPANS_M
    if not (np.isfinite(span_m) and least <= span_m <= most):
        raise PictureError(f"span must lie between {least:g} and {most:g} m, got {span_m:g} m.")
    if opened is None:
        opened = open_picture(path, page=page, turned_deg=corrections.turned_deg, span_m=span_m)
    picture, sheet, reading = opened.picture, opened.sheet, opened.reading
    corrections = as_upright(corrections, sheet)
    if corrections.boxes:
        reading = reading_from_boxes(sheet, reading, corrections, picture.px_per_px)
    line_mm_per_px = scale_from_line(corrections)
    found: Tracing | None = None
    as_found = not corrections.boxes and line_mm_per_px is None
    if as_found and opened.traced is not None and opened.span == span_m * 1000.0:
        found = opened.traced
    elif reading.top is not None:
        drawing = Drawing(picture=picture, sheet=sheet, reading=reading, span=span_m * 1000.0)
        found = traced_views(drawing, line_mm_per_px, corrections)
    if found is not None:
        found = with_length_note(found, length_m)
    if corrections.outlines or found is None:
        found = apply_outlines(found, picture, sheet, corrections, span_m * 1000.0, line_mm_per_px)
    found = as_given(found, sheet)
    if picture.of_pages:
        found = replace(found, notes=(*found.notes, Note(id="page", says=picture.of_pages)))
    return noted(found)
