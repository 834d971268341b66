"""Stock rods with which a wing that is too weak or too soft serves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sheetlark.airframe import Airframe
from sheetlark.design import Design, Spar
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.evaluation.strength_stage import SOFT, strength_figures
from sheetlark.stock import Rod, Stock
from sheetlark.weights import Weights


@dataclass(frozen=True, slots=True, kw_only=True)
class ServingRod:
    """A rod of the stock with which a wing serves. at, span_m : where it lies. mass_kg : of all of it."""

    rod: Rod
    at: float
    span_m: float
    margin: float
    soft: float
    mass_kg: float


# Where an added spar lies: the thickest of the load is ahead of a third of the chord (common practice).
_SPAR_AT, _SPAR_SHARE = 0.3, 0.8
_LEAST_ROD_M = 1.9e-3  # thinner ones bend under the thumb that glues them (common practice)


def serving_spars(
    design: Design,
    airframe: Airframe,
    weights: Weights,
    air: AirFigures,
    flight: FlightFigures,
    stock: Stock,
    wing: str,
    most: int = 1,
) -> tuple[ServingRod, ...]:
    """The lightest stock rods, in place of the wing's first spar, with which it bears its load and bends little enough.

    Rods that the sheet has no room for, and rods too thin to glue in straight, are left out. Empty where none serves.
    """
    surface = next(s for s in airframe.wings if s.name == wing)
    sheet = stock.sheet(surface.sheet)
    span = surface.spars[0].span if surface.spars else round(2.0 * _SPAR_SHARE * surface.half_span_m, 3)
    place = surface.spars[0].at if surface.spars else _SPAR_AT
    serving: list[ServingRod] = []
    for item in sorted(stock.rods, key=lambda r: r.linear_density_kg_m):
        depth = item.outer_diameter_m or min(item.width_m, item.thickness_m)
        if depth > sheet.thickness_m - 1e-3 + 1e-9:
            continue
        if item.key.startswith("wire-") or (item.outer_diameter_m or item.width_m) < _LEAST_ROD_M:
            continue
        spar = Spar(rod=item.key, at=place, span=1e3 * span)
        tried = replace(
            airframe,
            surfaces=tuple(
                replace(s, spars=(spar, *surface.spars[1:])) if s.name == wing else s
                for s in airframe.surfaces
            ),
        )
        found = strength_figures(design, tried, weights, air, flight, stock)
        figures = next(w for w in found.wings if w.name == wing)
        if figures.margin >= 1.0 and figures.soft <= SOFT:
            serving.append(
                ServingRod(
                    rod=item,
                    at=place,
                    span_m=span,
                    margin=figures.margin,
                    soft=figures.soft,
                    mass_kg=item.linear_density_kg_m * span,
                )
            )
            if len(serving) == most:
                break
    return tuple(serving)
