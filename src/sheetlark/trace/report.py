"""What the command line says of a traced picture."""

from __future__ import annotations

import textwrap
from collections.abc import Generator, Iterator
from dataclasses import replace
from pathlib import Path

from sheetlark.errors import PictureError
from sheetlark.trace.design_from import StartingDesign, design_from
from sheetlark.trace.model import Tracing
from sheetlark.trace.sizing import SizedDesign, sizing_steps
from sheetlark.trace.tracing import length_note, trace_picture

FIRST_SPAN_M = 0.76  # a picture is traced at this span before it is sized by mass

_WIDTH = 96


def run(
    picture: Path,
    *,
    span: str | None,
    length: str | None,
    as_json: bool,
    out: Path | None,
    mass: str | None,
    without: tuple[str, ...],
    page: int,
    force: bool,
) -> Iterator[str]:
    """Trace, and yield the lines to print: the document, or words; write the starting design if asked."""
    from sheetlark.units import LENGTH, MASS

    if out is not None and out.exists() and not force:
        raise PictureError(f"{out} is there already; choose another name, or add --force to write over it")
    if span is None and mass is None:
        raise PictureError(
            'nothing sets the size of the model: give --span "760 mm", or --mass "300 g" to have it sized by mass'
        )
    mass_kg = None if mass is None else MASS.read(mass)
    length_m = None if length is None else LENGTH.read(length)
    name = "Traced" if out is None else out.stem.replace("-", " ").replace("_", " ").strip().capitalize()
    if span is None:
        assert mass_kg is not None
        tracing, made = yield from _sized(picture, mass_kg, length_m, name, without, page, quiet=as_json)
    else:
        tracing = trace_picture(picture, span_m=LENGTH.read(span), length_m=length_m, page=page)
        made = None
    yield tracing.to_json() if as_json else "\n".join(words(tracing))
    if out is None:
        return
    from sheetlark.design import write_text

    made = made or design_from(tracing, name=name, target_mass_kg=mass_kg, refuse=without)
    write_text(out, made.toml)
    if as_json:
        return
    yield "Simplified; --refuse ID leaves one as drawn:"
    for p in made.proposals:
        words_of = f"{p.id}, {'taken' if p.taken else 'left'}: {p.says} {p.worth}"
        yield from textwrap.wrap(words_of, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    if made.says:
        yield from textwrap.wrap(f"It cannot be evaluated as it is: {made.says}", _WIDTH)
    yield f"wrote {out}. Next: sheetlark review {out}"


def _sized(
    picture: Path,
    mass_kg: float,
    length_m: float | None,
    name: str,
    without: tuple[str, ...],
    page: int,
    *,
    quiet: bool,
) -> Generator[str, None, tuple[Tracing, StartingDesign]]:
    """Trace, find the span that gives the mass, and say each span tried."""
    steps = sizing_steps(
        trace_picture(picture, span_m=FIRST_SPAN_M, page=page), mass_kg, name=name, refuse=without
    )
    sized: SizedDesign | None = None
    while sized is None:
        try:
            said = next(steps)
        except StopIteration as done:
            sized = done.value
        else:
            if not quiet:
                yield f"  {said}"
    tracing = sized.tracing
    if length_m is not None and tracing.proportions.length_mm is not None:
        note = length_note(tracing.proportions.length_mm, length_m)
        tracing = replace(tracing, notes=(*tracing.notes, note))
    return tracing, sized.design


def words(tracing: Tracing) -> list[str]:
    """The tracing in plain lines."""
    out = [
        (
            f"{tracing.picture}: {tracing.size_px[0]} x {tracing.size_px[1]} px, turned {tracing.turned_deg:+.1f} deg, "
            f"read with {100 * tracing.confidence:.0f} % confidence"
        )
    ]
    for v in tracing.views:
        x0, y0, x1, y1 = v.box_px
        out.append(
            f"  {v.kind:5s} view at {x0:.0f},{y0:.0f} to {x1:.0f},{y1:.0f} px, nose {v.nose}, "
            f"{v.scale_mm_per_px:.4f} mm per px"
        )
    out += [
        f"  {o.name}: {o.view} view, {o.nodes} nodes, fitted within {o.worst_mm:.2f} mm, "
        f"{100 * o.confidence:.0f} % sure"
        for o in tracing.outlines
    ]
    out += [f"  note: {n.says}" for n in tracing.notes]
    missing = [k for k in ("top", "side", "front") if tracing.view(k) is None]
    if missing:
        out.append(f"  not found: {', '.join(missing)} view")
    return out
