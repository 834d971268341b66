"""A small model with made-up but ordinary derivatives, for tests of the flight room."""

from __future__ import annotations

import math

import pytest

from sheetlark.flight.derivatives import FlightState, MassProperties, Reference, StabilityDerivatives
from sheetlark.flight.forces import DerivativeForces, ThrustLine, Vehicle
from sheetlark.flight.mixing import ControlSurface, Mixer


def ordinary_derivatives(**changes: float) -> StabilityDerivatives:
    values = {
        "CL": 0.45, "CD": 0.06, "CL_alpha": 4.2, "CD_alpha": 0.25, "Cm_alpha": -0.55,
        "CL_q": 4.5, "Cm_q": -8.0, "CY_beta": -0.35, "Cl_beta": -0.07, "Cn_beta": 0.06,
        "Cl_p": -0.42, "Cn_p": -0.04, "Cl_r": 0.12, "Cn_r": -0.07, "CL_de": 0.4, "Cm_de": -0.95,
        "Cl_da": -0.22, "Cn_da": 0.012, "CY_dr": 0.14, "Cl_dr": 0.005, "Cn_dr": -0.055,
    }  # fmt: skip
    return StabilityDerivatives(**{**values, **changes})


REFERENCE = Reference(area_m2=0.15, chord_m=0.18, span_m=0.85)
MASS = MassProperties(mass_kg=0.38, ixx_kg_m2=0.0055, iyy_kg_m2=0.0095, izz_kg_m2=0.0140, ixz_kg_m2=0.0003)
# speed at which CL 0.45 carries the weight
STATE = FlightState(speed_ms=math.sqrt(2 * 0.38 * 9.80665 / (1.225 * 0.15 * 0.45)))


def motor(airspeed_ms: float, throttle: float) -> tuple[float, float]:
    """Three newtons standing still, none left at 19 m/s; torque in proportion."""
    thrust = max(0.0, 3.0 * throttle * (1.0 - airspeed_ms / 19.0))
    return thrust, 0.02 * thrust


def mixer(*, pitch: float = 15.0, roll: float = 15.0, yaw: float = 25.0) -> Mixer:
    return Mixer(
        surfaces=(
            ControlSurface(name="elevator", pitch_rad=-math.radians(pitch)),
            ControlSurface(name="aileron", roll_rad=-math.radians(roll)),
            ControlSurface(name="rudder", yaw_rad=-math.radians(yaw)),
        )
    )


def vehicle(*, stall_deg: float | None = 13.0, **changes: float) -> Vehicle:
    air = DerivativeForces(
        ordinary_derivatives(**changes),
        REFERENCE,
        STATE,
        stall_rad=None if stall_deg is None else math.radians(stall_deg),
    )
    return Vehicle(
        mass=MASS,
        reference=REFERENCE,
        air=air,
        propulsion=motor,
        thrust_line=ThrustLine(x_m=0.2, down_rad=math.radians(2.0), right_rad=math.radians(2.0)),
    )


class Model:
    derivatives = staticmethod(ordinary_derivatives)
    reference = REFERENCE
    mass = MASS
    state = STATE
    motor = staticmethod(motor)
    mixer = staticmethod(mixer)
    vehicle = staticmethod(vehicle)


@pytest.fixture(scope="session")
def model() -> type[Model]:
    return Model
