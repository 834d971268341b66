"""Design -> evaluation: every stage in order, each beside its inputs."""

from __future__ import annotations

from dataclasses import dataclass

from sheetlark.airframe import Airframe, airframe
from sheetlark.design import Design
from sheetlark.errors import GeometryError, SolveError, StockError
from sheetlark.evaluation.air_stage import AirFigures, air_figures
from sheetlark.evaluation.drive_stage import DriveFigures, drive_figures
from sheetlark.evaluation.flight_stage import FlightFigures, flight_figures
from sheetlark.parts import Kit, make_kit
from sheetlark.stock import Stock, load_stock
from sheetlark.weights import Weights, weigh


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evaluation:
    """Everything computed from a design.

    drive : None for a glider
    """

    design: Design
    stock: Stock
    airframe: Airframe
    kit: Kit
    weights: Weights
    air: AirFigures
    drive: DriveFigures | None
    flight: FlightFigures


def evaluate(design: Design, stock: Stock | None = None) -> Evaluation:
    """Run every stage on a design.

    Each stage is memoised on the part of the design it reads, so a second call after a small change repeats
    only what that change touches.

    Raises
    ------
    DesignError
        If the design is geometrically impossible or names something the stock does not have; the message
        names file and line.
    """
    stock = stock if stock is not None else load_stock()
    try:
        placed = airframe(design, stock)
        kit = make_kit(placed, stock)
        weights = weigh(design, placed, kit, stock)
        air = air_figures(placed, design, stock, weights)
        drive = drive_figures(design, placed, stock, weights)
        flight = flight_figures(design, placed, weights, air, drive, stock)
    except GeometryError as error:
        raise design.refusal(error.where, str(error)) from error
    except (StockError, SolveError) as error:
        raise design.refusal((), str(error)) from error
    return Evaluation(
        design=design,
        stock=stock,
        airframe=placed,
        kit=kit,
        weights=weights,
        air=air,
        drive=drive,
        flight=flight,
    )
