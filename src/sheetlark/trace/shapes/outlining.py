"""The parts that were found, as closed outlines with a confidence each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.model import Outline
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.biplane import Pair
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.fin import fin_ring
from sheetlark.trace.shapes.fit import fit_path
from sheetlark.trace.shapes.surface import Surface

TOLERANCE = 0.0012  # of the span, that curves may be off the traced points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """What was found of an aeroplane; None where it was not. All millimetres.

    wing : the wing, or both wings' joint outline where `pair` parts them.
    tail_name : tailplane or foreplane.
    uncut : the wing, or the upper one, with the cut-out in its trailing edge filled; None where there is none.
    width, side : the body from above and from the side.
    fin_root : both ends of the fin's root where it is drawn inside the body, shape (2, 2).
    fin_foot : the rudder's outline behind the body, shape (n, 2).
    """

    wing: Surface | None
    pair: Pair | None
    tail: Surface | None
    tail_name: str
    width: Body | None
    side: Body | None
    uncut: Surface | None
    fin: Surface | None
    fin_root: Floats | None
    fin_foot: Floats | None

    @property
    def wings(self) -> tuple[Surface, ...]:
        """The wing, or the upper and the lower one."""
        if self.pair is not None:
            return (self.pair.upper, self.pair.lower)
        return () if self.wing is None else (self.wing,)


def part_outlines(parts: Parts, *, span: float, trust: float) -> list[Outline]:
    """Outlines of wings, tail, body and fin.

    Parameters
    ----------
    span : the model's span, which sets the curves' tolerance. [mm]
    trust : how sure the reading of the picture is, 0 to 1.
    """
    tol = TOLERANCE * span
    out: list[Outline] = []

    def even(surface: Surface) -> float:
        """How far both halves of a surface bear each other out."""
        return trust * float(np.exp(-((surface.asymmetry / (0.01 * span)) ** 2)))

    def mirrored(part: str, name: str, half: Floats, confidence: float, uncut: Surface | None = None) -> None:
        ring = np.vstack([half, half[::-1] * (1.0, -1.0)])
        half_path = fit_path(half, tolerance_mm=tol, closed=False).path
        filled_path = "" if uncut is None else fit_path(uncut.half(), tolerance_mm=tol, closed=False).path
        made = _closed(part, name, "top", ring, tol=tol, confidence=confidence, half_path=half_path)
        out.append(replace(made, filled_path=filled_path))

    if parts.pair is not None and parts.wing is not None:
        pair, sure = parts.pair, even(parts.wing)
        mirrored("wing", "upper wing", pair.upper.half(), sure * (0.7 + 0.3 * pair.seen_upper), parts.uncut)
        mirrored("wing", "lower wing", pair.lower.half(), sure * (0.4 + 0.55 * pair.seen_lower))
    elif parts.wing is not None:
        mirrored("wing", "wing", parts.wing.half(), even(parts.wing), parts.uncut)
    if parts.tail is not None:
        mirrored("tail", parts.tail_name, parts.tail.half(), even(parts.tail))
    if parts.width is not None:
        half = np.c_[parts.width.x, parts.width.high]
        half = np.vstack([[half[0, 0], 0.0], half, [half[-1, 0], 0.0]])
        mirrored("body", "body width", half, trust * (0.45 + 0.5 * float(parts.width.seen.mean())))
    if parts.side is not None:
        sure = trust * (0.5 + 0.45 * float(parts.side.seen.mean()))
        out.append(_closed("body", "body side", "side", parts.side.ring(), tol=tol, confidence=sure))
    if parts.fin is not None:
        ring = fin_ring(parts.fin, parts.side, span, parts.fin_root, parts.fin_foot)
        out.append(_closed("fin", "fin", "side", ring, tol=tol, confidence=0.85 * trust))
    return out


def _closed(
    part: str, name: str, view: str, ring: Floats, *, tol: float, confidence: float, half_path: str = ""
) -> Outline:
    fit = fit_path(ring, tolerance_mm=tol, closed=True)
    return Outline(
        part=part,
        name=name,
        view=view,
        path=fit.path,
        half_path=half_path,
        confidence=float(np.clip(confidence, 0.02, 0.99)),
        error_mm=fit.rms_mm,
        worst_mm=fit.worst_mm,
        nodes=fit.nodes,
    )
