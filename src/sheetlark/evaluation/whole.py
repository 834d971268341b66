"""Design -> evaluation: every stage in order, each beside its inputs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property

from sheetlark.airframe import Airframe, airframe
from sheetlark.design import Design
from sheetlark.errors import GeometryError, SolveError, StockError
from sheetlark.evaluation.air_stage import AirFigures, air_figures
from sheetlark.evaluation.controls_stage import ControlsFigures, controls_figures
from sheetlark.evaluation.drive_stage import DriveFigures, drive_figures
from sheetlark.evaluation.flight_stage import FlightFigures, flight_figures
from sheetlark.evaluation.serving_spars import ServingRod, serving_spars
from sheetlark.evaluation.spread_stage import SpreadFigures, Spreading
from sheetlark.evaluation.strength_stage import StrengthFigures, strength_figures
from sheetlark.evaluation.thrust_stage import ThrustFigures, thrust_figures
from sheetlark.parts import Kit, make_kit, with_balance
from sheetlark.stock import Stock, load_stock
from sheetlark.weights import Weights, weigh


@dataclass(frozen=True, kw_only=True, eq=False)
class Evaluation:
    """Everything computed from a design, each stage when it is first asked for; a stage raises as `evaluate`."""

    design: Design
    stock: Stock
    airframe: Airframe

    def worked_out(self) -> Evaluation:
        """Itself, with every stage run; raises as `evaluate`."""
        _ = self.strength, self.controls, self.thrust
        with _refusing(self.design):
            _ = self.flight.motion, self.flight.battery, self.air.results.polar
        return self.in_sight()

    def in_sight(self) -> Evaluation:
        """Itself, with what a hand on the drawing wants to see at once: mass, balance, power, speeds; raises as `evaluate`."""
        with _refusing(self.design):
            _ = self.flight.balance, self.flight.cruise_s, self.air.results.curve
            _ = None if self.drive is None else self.drive.full_throttle
        return self

    @cached_property
    def kit(self) -> Kit:
        """Its parts."""
        with _refusing(self.design):
            return make_kit(self.airframe, self.stock)

    @cached_property
    def weights(self) -> Weights:
        """What it weighs and where it balances."""
        with _refusing(self.design):
            return weigh(self.design, self.airframe, self.kit, self.stock)

    @cached_property
    def air(self) -> AirFigures:
        """What the air does to it."""
        with _refusing(self.design):
            return air_figures(self.airframe, self.design, self.stock, self.weights)

    @cached_property
    def drive(self) -> DriveFigures | None:
        """What its drive gives; None for a glider."""
        with _refusing(self.design):
            return drive_figures(self.design, self.airframe, self.stock, self.weights)

    @cached_property
    def flight(self) -> FlightFigures:
        """What it does in the air."""
        with _refusing(self.design):
            return flight_figures(self.design, self.airframe, self.weights, self.air, self.drive, self.stock)

    @cached_property
    def strength(self) -> StrengthFigures:
        """What it bears; worked out when first asked for."""
        with _refusing(self.design):
            return strength_figures(
                self.design, self.airframe, self.weights, self.air, self.flight, self.stock
            )

    @cached_property
    def controls(self) -> ControlsFigures:
        """Throws, servos and mixes; worked out when first asked for."""
        with _refusing(self.design):
            return controls_figures(
                self.design, self.airframe, self.weights, self.air, self.flight, self.stock
            )

    @cached_property
    def thrust(self) -> ThrustFigures | None:
        """The best shaft angles; None for a glider, or where no tilt helps. Worked out when first asked for."""
        with _refusing(self.design):
            return thrust_figures(self.design, self.air, self.drive, self.flight)

    @cached_property
    def spreading(self) -> Spreading:
        """The figures that matter as a function of what is not sure; asks the air a few times when first used."""
        return Spreading(self.airframe, self.weights, self.air, self.drive, self.flight, self.controls)

    @cached_property
    def spread(self) -> SpreadFigures:
        """Standard deviations of the figures that matter, by slopes; computed when first asked for."""
        return self.spreading.linear()

    def serving_spars(self, wing: str, most: int = 1) -> tuple[ServingRod, ...]:
        """The lightest stock rods with which a wing serves, in place of its first spar; empty where none does."""
        return serving_spars(
            self.design, self.airframe, self.weights, self.air, self.flight, self.stock, wing, most
        )

    @property
    def plan_kit(self) -> Kit:
        """The kit as it is printed: the balance point where it is computed to lie, lengths in the design's units."""
        kit = with_balance(self.kit, self.airframe, 1e3 * float(self.weights.balance_m[0]))
        return replace(kit, imperial=self.design.model.imperial)


@contextmanager
def _refusing(design: Design) -> Iterator[None]:
    """Faults of the stages in the words of the design: the file and the line."""
    try:
        yield
    except GeometryError as error:
        raise design.refusal(error.where, str(error)) from error
    except (StockError, SolveError) as error:
        raise design.refusal((), str(error)) from error


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
    return evaluate_first(design, stock).worked_out()


def evaluate_first(design: Design, stock: Stock | None = None) -> Evaluation:
    """As `evaluate`, with every stage after the airframe left until it is asked for.

    Who tries a smaller propeller for its clearance asks neither for parts nor how the model flies.
    """
    stock = stock if stock is not None else load_stock()
    with _refusing(design):
        return Evaluation(design=design, stock=stock, airframe=airframe(design, stock))
