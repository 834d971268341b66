"""What a logbook holds: weighings, flights, corrections and measurements, as they happened.

Words: a *weighing* puts one or more things on the scales together; a *symptom* is something seen in the air
that the prediction did not promise; a *correction* is what was changed on the model because of it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

Strength = Literal["slightly", "clearly", "strongly"]
STRENGTHS: tuple[Strength, ...] = ("slightly", "clearly", "strongly")

EVERYTHING = "all"  # the finished model, ready to fly


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """Something put on the scales.

    what : names of parts, groups or equipment on the scales together; `EVERYTHING` for the finished model
    mass_kg : as read [kg]
    scale_kg : smallest step the scales show [kg]
    balance_x_m : where it balances, aft of the nose datum, if that was looked for [m]
    balance_spread_m : how well that was found, one standard deviation [m]
    battery_x_m : where the battery's centre lay when it was balanced, if not as designed [m]
    line : in the file; 0 where it comes from no file
    """

    date: dt.date
    what: tuple[str, ...]
    mass_kg: float
    scale_kg: float = 0.0005
    balance_x_m: float | None = None
    balance_spread_m: float = 0.002
    battery_x_m: float | None = None
    note: str = ""
    line: int = 0

    @property
    def is_finished_model(self) -> bool:
        return self.what == (EVERYTHING,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """A symptom and how clearly it showed."""

    symptom: str
    strength: Strength = "clearly"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightEntry:
    """One flight.

    seen : what was seen; empty: it flew as it should
    minutes : in the air; 0 where nobody looked
    charge_c : what the charger put back, in coulomb; 0 where not known
    wind_ms : guessed on the field
    tracks : log files of the flight, beside the logbook
    """

    date: dt.date
    seen: tuple[Sighting, ...] = ()
    minutes: float = 0.0
    charge_c: float = 0.0
    wind_ms: float = 0.0
    tracks: tuple[str, ...] = ()
    note: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionEntry:
    """Something changed on the model between flights.

    cause : the cause it is meant to cure, by its name in the diagnosis
    amount : in the unit of the cause, with its sign [rad or m]
    """

    date: dt.date
    cause: str
    amount: float
    note: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorReading:
    """Constants of a motor as measured; None where one was not.

    spread : relative standard deviation of the readings
    """

    date: dt.date
    motor: str
    kv_rpm_v: float | None = None
    resistance_ohm: float | None = None
    no_load_current_a: float | None = None
    spread: float = 0.02
    note: str = ""
    line: int = 0


Entry = Weighing | FlightEntry | CorrectionEntry | MotorReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A whole logbook, each kind in the order of the file.

    model : name of the model, as the file's heading says
    """

    model: str = ""
    weighings: tuple[Weighing, ...] = ()
    flights: tuple[FlightEntry, ...] = ()
    corrections: tuple[CorrectionEntry, ...] = ()
    motors: tuple[MotorReading, ...] = ()

    @property
    def minutes(self) -> float:
        """Minutes in the air, all flights. [min]."""
        return sum(flight.minutes for flight in self.flights)

    @property
    def story(self) -> tuple[Entry, ...]:
        """Everything in the order it happened; of one day, in the order of the file."""
        every: tuple[Entry, ...] = (*self.weighings, *self.flights, *self.corrections, *self.motors)
        return tuple(sorted(every, key=lambda entry: (entry.date, entry.line)))
