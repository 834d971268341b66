"""A three-view picture traced for the page: its views, its outlines, and a starting design."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from sheetlark.units import LENGTH

Plain = dict[str, Any]


def traced_picture(raw: bytes, folder: Path, span: str, title: str) -> Plain:
    """Trace an uploaded picture.

    The picture lies in the project folder while it is read, under a name of its own, and is gone afterwards.

    Raises
    ------
    PictureError
        If it cannot be read, or holds no view of an aeroplane.
    UnitError
        If the span cannot be read.
    """
    import json

    from sheetlark.trace import design_from, trace_picture

    span_m = LENGTH.read(span)
    with tempfile.TemporaryDirectory(prefix=".picture-", dir=folder) as beside:
        file = Path(beside, "picture")
        file.write_bytes(raw)
        tracing = trace_picture(file, span_m=span_m)
    begun = design_from(tracing, name=title)
    return {
        "tracing": json.loads(tracing.to_json()),
        "design": begun.toml,
        "proposals": [{"says": p.says, "worth": p.worth, "taken": p.taken} for p in begun.proposals],
    }
