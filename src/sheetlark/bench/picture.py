"""A three-view picture for the page: shown as it is read, traced with what was set right by hand, made a design."""

from __future__ import annotations

import base64
import io
import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sheetlark.bench.marks import Marks
from sheetlark.errors import PictureError
from sheetlark.units import LENGTH, MASS, is_imperial, marked_quantities, read_span

if TYPE_CHECKING:
    from sheetlark.trace import OpenPicture, Tracing, View

Plain = dict[str, Any]


@contextmanager
def lying_in(folder: Path, name: str, raw: bytes) -> Iterator[Path]:
    """A file of the project folder that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix=".picture-", dir=folder) as beside:
        file = Path(beside, name)
        file.write_bytes(raw)
        yield file


def seen_picture(file: Path, page: int) -> Plain:
    """The picture as the tracing sees it, grey, as a PNG to lay marks over.

    Raises
    ------
    PictureError
        If it is refused.
    """
    import numpy as np
    from PIL import Image

    from sheetlark.trace.paper.read import read_picture

    picture = read_picture(file, page=page)
    out = io.BytesIO()
    Image.fromarray(np.clip(picture.grey, 0, 255).astype(np.uint8)).save(out, "PNG", compress_level=3)
    return {
        "size": list(picture.size_px),
        "pages": picture.pages,
        "png": base64.b64encode(out.getvalue()).decode(),
    }


def opened(file: Path, marks: Marks) -> OpenPicture:
    """A picture opened at the span its marks say.

    Raises
    ------
    PictureError
        If it cannot be read.
    UnitError
        If the span cannot be read.
    """
    from sheetlark.trace import open_picture

    return open_picture(file, page=marks.page, turned_deg=marks.turned_deg, span_m=_span_m(marks))


def _span_m(marks: Marks) -> float:
    """The model's span; where it is left out the first one tried for a mass. [m]"""
    from sheetlark.trace import FIRST_SPAN_M

    return read_span(marks.span) if marks.span.strip() else FIRST_SPAN_M


def traced(file: Path, marks: Marks, opened: OpenPicture) -> Tracing:
    """Trace a picture with its marks.

    Raises
    ------
    PictureError
        If it cannot be read, or nothing was found or drawn.
    UnitError
        If a length cannot be read.
    """
    from sheetlark.trace import trace_with

    return trace_with(
        file,
        marks.corrections(),
        span_m=_span_m(marks),
        length_m=LENGTH.read(marks.length) if marks.length.strip() else None,
        page=marks.page,
        opened=opened,
    )


def made_of(tracing: Tracing, marks: Marks, tell: Any) -> Plain:
    """A design of a tracing, where there is enough to make one of; with the tracing, as the page needs both.

    tell : told (share, words) of how far it is, first with the tracing alone
    """
    from sheetlark.design import edited
    from sheetlark.trace import design_from, design_of_mass, noted, scaled

    left_out = set(marks.left_out)
    wanted = noted(
        replace(
            tracing,
            outlines=tuple(o for o in tracing.outlines if f"{o.part}/{o.view}/{o.name}" not in left_out),
        )
    )
    tracing = replace(tracing, notes=wanted.notes)
    made: Plain = {"tracing": _told(tracing), "design": None, "proposals": [], "lacks": ""}
    tell(0.5, "making a design of it", {"tracing": made["tracing"]})
    mass = MASS.read(marks.mass) if marks.mass.strip() else None
    try:
        with marked_quantities():
            if mass is not None and not marks.span.strip():
                sized = design_of_mass(
                    wanted, mass, name=marks.title, refuse=marks.refused, tell=lambda words: tell(0.8, words)
                )
                begun = sized.design
                made["tracing"] = _told(scaled(tracing, sized.tracing.span_mm))
            else:
                begun = design_from(wanted, name=marks.title, target_mass_kg=mass, refuse=marks.refused)
    except PictureError as error:
        made["lacks"] = str(error)
        return made
    # Who gave the size in inches or ounces builds in them.
    imperial = is_imperial(marks.span.strip() or marks.mass)
    made["design"] = edited(begun.toml, {("model", "units"): "imperial"}) if imperial else begun.toml
    made["lacks"] = f"It cannot be evaluated as it is: {begun.says}" if begun.says else ""
    made["proposals"] = [
        {"id": p.id, "says": p.says, "worth": p.worth, "taken": p.taken} for p in begun.proposals
    ]
    return made


def _told(tracing: Tracing) -> Plain:
    plain: Plain = json.loads(tracing.to_json())
    for row, view in zip(plain["views"], tracing.views, strict=True):
        row["axes"] = _axes(view)
    return plain


def _axes(view: View) -> Plain | None:
    if view.axes is None:
        return None
    return {
        "origin": list(view.axes.origin_px),
        "first": list(view.axes.first_px),
        "second": list(view.axes.second_px),
    }
