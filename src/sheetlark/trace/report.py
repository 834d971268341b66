"""What the command line says of a traced picture."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

from sheetlark.beside import Helpers
from sheetlark.errors import NothingFoundError, PictureError, SheetlarkError
from sheetlark.trace.model import Corrections, Outline, Tracing
from sheetlark.trace.notes import with_length_note
from sheetlark.trace.starting.design_from import design_from
from sheetlark.trace.starting.sizing import FIRST_SPAN_M, SizedDesign, sizing_steps
from sheetlark.trace.tracing import open_picture, trace_with
from sheetlark.units import in_units, is_imperial, marked_quantities, show_length
from sheetlark.writing import there_already

_WIDTH = 96
_BY_HAND = "The Picture room of `sheetlark bench` is where both are done."
_SMALL_M = 0.2  # a span below this in a number alone was most likely meant in other units


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
    turned_deg: float | None,
    force: bool,
    helpers: Helpers | None = None,
    review: Callable[[Path], str] | None = None,
) -> Iterator[str]:
    """Trace, and yield the lines to print: the document, or words; write the starting design if asked.

    review : gives a review of the design written, which stands last; it is worked out beside the worth of simplifications,
        where there are helpers.
    """
    from sheetlark.units import LENGTH, MASS, read_span

    if out is not None and out.exists() and not force:
        raise PictureError(there_already(out))
    if span is None and mass is None:
        raise PictureError(
            'nothing sets the size of the model: give --span "760 mm", or --mass "300 g" to have it sized by mass'
        )
    imperial = is_imperial(span or mass or "")
    mass_kg = None if mass is None else MASS.read(mass)
    length_m = None if length is None else LENGTH.read(length)
    span_m = FIRST_SPAN_M if span is None else read_span(span)
    name = "Traced" if out is None else out.stem.replace("-", " ").replace("_", " ").strip().capitalize()
    with _told(imperial):
        opened = open_picture(
            picture, page=page, turned_deg=turned_deg, span_m=span_m, helpers=helpers, meanwhile=_ready
        )
        if helpers is not None:
            helpers.begin(_ready)
        tracing = trace_with(picture, Corrections(), span_m=span_m, length_m=length_m, opened=opened)
    made = None
    if span is None:
        assert mass_kg is not None
        steps = sizing_steps(tracing, mass_kg, name=name, refuse=without)
        sized = yield from _sized(steps, imperial=imperial, quiet=as_json)
        made, tracing = sized.design, with_length_note(sized.tracing, length_m)
    with _told(imperial):
        found = tracing.to_json() if as_json else "\n".join(words(tracing))
    yield in_units(found, imperial)
    if span is not None and LENGTH.bare(span) and span_m < _SMALL_M and not as_json:
        yield f'  note: {span} without a unit is read in mm; write "{span} in" or "{span} cm" if that is meant'
    if out is None:
        return
    from sheetlark.design import edited, write_text

    with _told(imperial):
        made = made or design_from(
            tracing, name=name, target_mass_kg=mass_kg, refuse=without, helpers=helpers
        )
    text = edited(made.toml, {("model", "units"): "imperial"}) if imperial else made.toml
    write_text(out, text, new=not force)
    if as_json:
        return
    said, refused = "", None
    try:
        said = "" if review is None else review(out)
    except SheetlarkError as error:
        refused = error
    yield "Simplified; --refuse ID leaves one as drawn:"
    for p in made.proposals:
        worth = in_units(f"{p.id}, {'taken' if p.taken else 'left'}: {p.says} {p.worth}", imperial)
        yield from textwrap.wrap(worth, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    if made.says:
        yield from textwrap.wrap(f"It cannot be evaluated as it is: {in_units(made.says, imperial)}", _WIDTH)
    yield f"wrote {out}"
    if refused is not None:
        raise refused
    if said:
        yield ""
        yield said


def _ready() -> None:
    """Import what a starting design and its review take, which is a good part of a second."""
    for taken in ("sheetlark.review", "manifold3d", "svg.path"):
        import_module(taken)
    from sheetlark.stock import load_stock

    load_stock()


def _sized(
    steps: Generator[str, None, SizedDesign], *, imperial: bool, quiet: bool
) -> Generator[str, None, SizedDesign]:
    """Find the span that gives the mass, and say each span tried."""
    while True:
        try:
            with _told(imperial):
                said = next(steps)
        except StopIteration as done:
            sized: SizedDesign = done.value
            return sized
        if not quiet:
            yield in_units(f"  {said}", imperial)


@contextmanager
def _told(imperial: bool) -> Iterator[None]:
    """While it lasts, quantities are marked, to be told in the units the size was given in; so are those of a refusal."""
    try:
        with marked_quantities():
            yield
    except NothingFoundError as error:
        raise PictureError(f"{error} {_BY_HAND}") from error
    except PictureError as error:
        raise PictureError(in_units(str(error), imperial)) from error


def words(tracing: Tracing) -> list[str]:
    """The tracing in plain lines."""
    out = [
        (
            f"{tracing.picture}: {tracing.size_px[0]} x {tracing.size_px[1]} px, turned {tracing.turned_deg:+z.1f} deg, "
            f"read with {100 * tracing.confidence:.0f} % confidence"
        ),
        f"  span of the model {show_length(1e-3 * tracing.span_mm)}",
    ]
    for v in tracing.views:
        x0, y0, x1, y1 = v.box_px
        out.append(
            f"  {v.kind:5s} view at {x0:.0f},{y0:.0f} to {x1:.0f},{y1:.0f} px, "
            f"{'seen from ahead' if v.nose == 'toward' else f'nose {v.nose}'}, {v.scale_mm_per_px:.4f} mm per px"
        )
    out += [f"  {_outline(o)}" for o in tracing.outlines]
    out += [f"  note: {n.says}" for n in tracing.notes]
    missing = [k for k in ("top", "side", "front") if tracing.view(k) is None]
    if missing:
        out.append(f"  not found: {', '.join(missing)} view")
    return out


def _outline(o: Outline) -> str:
    """One outline: where it was seen, how closely its curve follows it, how sure it is."""
    if o.part in {"hinge", "strut", "gear"}:  # straight lines, bars and circles, as they were found
        fitted = ""
    else:
        fitted = f"{o.nodes} nodes, fitted within {show_length(1e-3 * o.worst_mm)}, "
    return f"{o.name}: {o.view} view, {fitted}{100 * o.confidence:.0f} % sure"
