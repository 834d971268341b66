"""What the command line says of a traced picture."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sheetlark.errors import PictureError
from sheetlark.trace.design_from import design_from
from sheetlark.trace.model import Tracing
from sheetlark.trace.tracing import trace_picture


def run(
    picture: Path,
    *,
    span: str,
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
    tracing = trace_picture(
        picture, span_m=LENGTH.read(span), length_m=None if length is None else LENGTH.read(length), page=page
    )
    yield tracing.to_json() if as_json else "\n".join(words(tracing))
    if out is None:
        return
    from sheetlark.design import write_text

    made = design_from(
        tracing,
        name=out.stem.replace("-", " ").replace("_", " ").strip().capitalize(),
        target_mass_kg=None if mass is None else MASS.read(mass),
        refuse=without,
    )
    write_text(out, made.toml)
    if as_json:
        return
    for p in made.proposals:
        yield f"  {'taken' if p.taken else 'left'}: {p.says} {p.worth} ({p.id})"
    yield f"wrote {out}. Next: sheetlark review {out}"


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
