"""The span at which a traced aeroplane, made as its starting design, has the mass asked for."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.errors import PictureError, SheetlarkError
from sheetlark.trace.model import Axes, Tracing
from sheetlark.trace.starting.design_from import LOADING_G_DM2, StartingDesign, design_from
from sheetlark.trace.starting.design_parts import area_of, half_of
from sheetlark.trace.starting.draft import Structure
from sheetlark.units import show_length, show_mass

SMALLEST_MM, LARGEST_MM = (
    150.0,
    4000.0,
)  # spans looked at; a starting design must also be one that can be made
MIDDLING_MM = 900.0  # a first try that cannot be made is too large beyond this span, too small below it
# Shares of the mass: within the first the search ends, within the second the best try still counts. Finishing the design may
# add or take a gram.
CLOSE, IN_STEPS = 0.005, 0.03
TIGHT = 1.02  # how close two spans are between which a leap is taken for one that the structure makes
MOST_TRIES = 12
FIRST_SPAN_M = 0.76  # a picture is traced at this span before it is sized by mass
EQUIPMENT = ("drive", "radio", "gear", "ballast")

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedDesign:
    """A tracing at the span that gives the mass asked for, and its starting design.

    mass_kg : what the starting design weighs, ready to fly. [kg]
    """

    tracing: Tracing
    design: StartingDesign
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    span_mm: float
    design: StartingDesign
    mass_g: float
    equipment_g: float


def scaled(tracing: Tracing, span_mm: float) -> Tracing:
    """The same tracing at another span. [mm]"""
    k = span_mm / tracing.span_mm

    def grown(path: str) -> str:
        return re.sub(r"-?\d+\.?\d*", lambda m: f"{float(m.group()) * k:.2f}", path)

    def axes(a: Axes) -> Axes:
        first, second = ((v[0] / k, v[1] / k) for v in (a.first_px, a.second_px))
        return replace(a, first_px=first, second_px=second)

    p = tracing.proportions
    return replace(
        tracing,
        span_mm=span_mm,
        views=tuple(
            replace(v, scale_mm_per_px=v.scale_mm_per_px * k, axes=axes(v.axes) if v.axes else None)
            for v in tracing.views
        ),
        outlines=tuple(
            replace(
                o,
                path=grown(o.path),
                half_path=grown(o.half_path),
                filled_path=grown(o.filled_path),
                error_mm=o.error_mm * k,
                worst_mm=o.worst_mm * k,
            )
            for o in tracing.outlines
        ),
        proportions=replace(
            p,
            span_mm=p.span_mm * k,
            length_mm=None if p.length_mm is None else p.length_mm * k,
            wing_height_mm=tuple(h * k for h in p.wing_height_mm),
            stagger_mm=None if p.stagger_mm is None else p.stagger_mm * k,
            gap_mm=None if p.gap_mm is None else p.gap_mm * k,
        ),
        notes=tuple(n for n in tracing.notes if n.id != "length-check"),
    )


def design_of_mass(
    tracing: Tracing,
    mass_kg: float,
    *,
    name: str = "Traced",
    refuse: tuple[str, ...] = (),
    tell: Tell | None = None,
) -> SizedDesign:
    """Size a tracing so that its starting design weighs what is asked for.

    Parameters
    ----------
    tracing : Tracing
        At any span.
    mass_kg : float
        All-up mass, ready to fly. [kg]
    name, refuse : as of :func:`sheetlark.trace.design_from`.
    tell : callable, optional
        Told in words of each span tried.

    Raises
    ------
    PictureError
        If no wing was found, or no span gives that mass; it says which mass comes nearest.

    Notes
    -----
    The equipment is chosen by the mass asked for, so it is much the same at every span, and the sheet grows with the
    span squared: the mass rises steadily with the span, but for leaps where a stronger structure or a heavier battery
    is needed. The next span comes from that law. Over a leap of the structure the stronger one is kept for smaller spans, so that a mass between
    is met too. Each try makes and weighs the whole starting design.
    """
    steps = sizing_steps(tracing, mass_kg, name=name, refuse=refuse)
    while True:
        try:
            said = next(steps)
        except StopIteration as done:
            sized: SizedDesign = done.value
            return sized
        if tell is not None:
            tell(said)


def sizing_steps(
    tracing: Tracing, mass_kg: float, *, name: str, refuse: tuple[str, ...]
) -> Generator[str, None, SizedDesign]:
    """As `design_of_mass`, yielding words on each span tried."""
    if not (np.isfinite(mass_kg) and 0.01 <= mass_kg <= 50.0):
        raise PictureError(f"the mass must lie between 10 g and 50 kg, got {1000 * mass_kg:g} g.")
    wanted = 1000.0 * mass_kg
    wings = tracing.wings
    if not wings:
        raise PictureError("no wing was found in the top view, so nothing can be sized. Draw it by hand.")
    area_dm2 = sum(2.0 * area_of(half_of(w)) for w in wings) / 1e4
    span = tracing.span_mm * float(np.sqrt(wanted / (LOADING_G_DM2 * area_dm2)))
    span = float(np.clip(span, SMALLEST_MM, LARGEST_MM))
    tries: list[_Try] = []
    low, high = SMALLEST_MM, LARGEST_MM  # below the one and above the other the right span does not lie
    said = ""
    task = _Task(tracing=tracing, mass_kg=mass_kg, name=name, refuse=refuse)
    for _ in range(MOST_TRIES):
        made = task.tried(span)
        if isinstance(made, str):
            said = made
            too_large = span > max((t.span_mm for t in tries), default=MIDDLING_MM)
            low, high = (low, min(high, span)) if too_large else (max(low, span), high)
            yield f"{show_length(1e-3 * span)} span: cannot be made"
        else:
            tries.append(made)
            yield f"{show_length(1e-3 * span)} span: {show_mass(1e-3 * made.mass_g)}"
            if abs(made.mass_g / wanted - 1.0) < CLOSE:
                return task.finished(made)
            low, high = (max(low, span), high) if made.mass_g < wanted else (low, min(high, span))
        below, above = _nearest(tries, wanted)
        leap = high / low < TIGHT and _at_a_step(below, above, wanted)
        if leap and above is not None and task.structure is None:
            # No span gives that mass with what is lightest at each: the stronger one's structure serves below its span too.
            task = replace(task, structure=above.design.structure)
            tries, below, low = [above], None, SMALLEST_MM
        elif leap and any(abs(t.mass_g / wanted - 1.0) < IN_STEPS for t in tries):
            break  # a heavier battery, that balances the larger model
        if high / low < (1.002 if below and above else 1.03):
            break
        span = _next(tries, wanted, low, high, span)
    best = min(tries, key=lambda t: abs(t.mass_g - wanted), default=None)
    if best is not None and abs(best.mass_g / wanted - 1.0) < IN_STEPS:
        return task.finished(best)
    raise PictureError(_impossible(wanted, tries, said))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """What is sized, and how it shall be made.

    structure : what its wings are made of, once that is settled; else the lightest that serves at each span
    """

    tracing: Tracing
    mass_kg: float
    name: str
    refuse: tuple[str, ...]
    structure: Structure | None = None

    def finished(self, t: _Try) -> SizedDesign:
        """The span found, its starting design finished, and weighed as it then is."""
        done = self.tried(t.span_mm, rough=False)
        if isinstance(done, str):
            raise PictureError(done)
        return SizedDesign(
            tracing=scaled(self.tracing, t.span_mm), design=done.design, mass_kg=done.mass_g / 1000.0
        )

    def tried(self, span_mm: float, *, rough: bool = True) -> _Try | str:
        """The starting design at a span, weighed; or why there is none."""
        from sheetlark.design import loads
        from sheetlark.evaluation import evaluate_first

        try:
            made = design_from(
                scaled(self.tracing, span_mm),
                name=self.name,
                target_mass_kg=self.mass_kg,
                refuse=self.refuse,
                rough=rough,
                structure=self.structure,
            )
            lines = evaluate_first(loads(made.toml)).weights.lines
        except PictureError:
            raise
        except SheetlarkError as error:
            return str(error)
        return _Try(
            span_mm=span_mm,
            design=made,
            mass_g=1000.0 * sum(line.mass_kg for line in lines),
            equipment_g=1000.0 * sum(line.mass_kg for line in lines if line.group in EQUIPMENT),
        )


def _nearest(tries: list[_Try], wanted: float) -> tuple[_Try | None, _Try | None]:
    """The largest try that is too light and the smallest that is not."""
    below = max((t for t in tries if t.mass_g < wanted), key=lambda t: t.span_mm, default=None)
    above = min((t for t in tries if t.mass_g >= wanted), key=lambda t: t.span_mm, default=None)
    return below, above


def _at_a_step(below: _Try | None, above: _Try | None, wanted: float) -> bool:
    """Whether the mass leaps between two tries, so that what the lighter one is made of does not reach what is wanted.

    A leap is the stronger spar, heavier board or heavier battery of the larger model. Without one the mass
    grows as the sheet's area does, and so at most to what the lighter model would weigh at the larger span.
    """
    if below is None or above is None:
        return False
    growth = (above.span_mm / below.span_mm) ** 2 - 1.0
    return below.mass_g + growth * (below.mass_g - below.equipment_g) < (1.0 - CLOSE) * wanted


def _next(tries: list[_Try], wanted: float, low: float, high: float, last: float) -> float:
    """The next span to try, within the bounds found so far: by the sheet's growth from the try that comes nearest."""
    t = min(tries, key=lambda t: abs(t.mass_g - wanted), default=None)
    if t is None:
        guess = last * (0.8 if last >= high else 1.25)
    else:
        sheet = max(t.mass_g - t.equipment_g, 1.0)
        ratio = float(np.clip((wanted - t.equipment_g) / sheet, 0.45, 2.2))
        guess = t.span_mm * float(np.sqrt(ratio)) * (0.999 if t.mass_g > wanted else 1.001)
    below, above = _nearest(tries, wanted)
    edge = min((high / low) ** 0.04, 1.01)
    inside = low * edge <= guess <= high / edge if below and above else low <= guess <= high
    if not inside:  # the law leads beyond a span that cannot be made, or that is known to be wrong
        return float(np.sqrt(low * high))
    return float(np.clip(guess, low * edge, high / edge))


def _impossible(wanted: float, tries: list[_Try], said: str) -> str:
    if not tries:
        return f"no model of this drawing that weighs {show_mass(1e-3 * wanted)} can be made: {said}"
    below, above = _nearest(tries, wanted)
    if below is not None and above is not None:
        return (
            f"no span gives a model of this drawing that weighs {show_mass(1e-3 * wanted)}: at {show_length(1e-3 * below.span_mm)} it "
            f"weighs {show_mass(1e-3 * below.mass_g)}, at {show_length(1e-3 * above.span_mm)} already {show_mass(1e-3 * above.mass_g)}. "
            "Ask for one of these, or say the span."
        )
    t = min(tries, key=lambda t: abs(t.mass_g - wanted))
    size = "smallest" if t.mass_g > wanted else "largest"
    why = (
        f", of which {show_mass(1e-3 * t.equipment_g)} is motor, battery and radio"
        if t.mass_g > wanted
        else ""
    )
    advice = "Ask for more" if t.mass_g > wanted else "Ask for less"
    return (
        f"a model of this drawing cannot weigh {show_mass(1e-3 * wanted)}: at {show_length(1e-3 * t.span_mm)} span, the {size} that can be made, "
        f"it weighs {show_mass(1e-3 * t.mass_g)}{why}. {advice}, or say the span."
    )
