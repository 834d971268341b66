"""The simulated motion against what must hold: energy without losses, Euler's top, and the linear modes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.flight import (
    STEP_S,
    ControlSurface,
    DerivativeForces,
    DownwashLag,
    FlightState,
    MassProperties,
    Mixer,
    Motion,
    Reference,
    StabilityDerivatives,
    Start,
    Vehicle,
    energy,
    fly,
    linear_model,
    linearised,
    named_modes,
)

pytestmark = pytest.mark.published
REFERENCE = Reference(area_m2=0.15, chord_m=0.18, span_m=0.85)
MASS = MassProperties(mass_kg=0.38, ixx_kg_m2=0.0055, iyy_kg_m2=0.0095, izz_kg_m2=0.0140, ixz_kg_m2=0.0006)
STATE = FlightState(speed_ms=math.sqrt(2 * 0.38 * 9.80665 / (1.225 * 0.15 * 0.45)))
DERIVATIVES = StabilityDerivatives(
    CL=0.45, CD=0.06, CL_alpha=4.2, CD_alpha=0.25, Cm_alpha=-0.55, CL_q=4.5, Cm_q=-8.0, CY_beta=-0.35,
    Cl_beta=-0.07, Cn_beta=0.06, Cl_p=-0.42, Cn_p=-0.04, Cl_r=0.12, Cn_r=-0.07, CL_de=0.4, Cm_de=-0.95,
    Cl_da=-0.22, Cn_da=0.012, CY_dr=0.14, Cl_dr=0.005, Cn_dr=-0.055,
)  # fmt: skip


class LiftOnly:
    """Lift and side force across the path, and a moment across the spin: neither does work."""

    surfaces = ()

    def __call__(self, flow):
        V, alpha, _, beta, p, q, r, _ = flow
        u, v, w = (
            V * math.cos(alpha) * math.cos(beta),
            V * math.sin(beta),
            V * math.sin(alpha) * math.cos(beta),
        )
        # path × wing axis and path × upright axis: across the path whatever it is
        lift, side = 0.5 * 1.225 * 0.15 * 0.6 * V, 0.5 * 1.225 * 0.15 * 0.4 * v
        X, Y, Z = lift * w + side * v, -side * u, -lift * u
        bx, by, bz = 0.02, -0.01, 0.015
        return X, Y, Z, q * bz - r * by, r * bx - p * bz, p * by - q * bx


def still(_view):
    return 0.0, 0.0, 0.0, 0.0


def no_thrust(_v, _t):
    return 0.0, 0.0


def test_energy_without_losses(record_error):
    vehicle = Vehicle(mass=MASS, reference=REFERENCE, air=LiftOnly(), propulsion=no_thrust)
    motion = Motion(vehicle)
    state = Start(
        height_m=200.0, speed_ms=11.0, pitch_rad=0.1, bank_rad=0.3, p_rad_s=2.0, q_rad_s=-1.0, r_rad_s=1.5
    ).state()
    before = energy(vehicle, state)
    kinetic = before - vehicle.weight_n * 200.0
    worst = 0.0
    for _ in range(round(60 / STEP_S)):
        state = motion.step(state, STEP_S)
        worst = max(worst, abs(energy(vehicle, state) - before))
    record_error(
        case="energy drift over 60 s without losses, over the kinetic energy at the start",
        got=worst / kinetic,
        published=0.0,
        tolerance=0.001,
        source="conservation of energy",
        relative=False,
    )


def test_free_top(record_error):
    """A body free of moments with two equal inertias nutates at (Izz - Ixx)/Ixx times its spin (Euler)."""
    mass = MassProperties(mass_kg=1.0, ixx_kg_m2=0.02, iyy_kg_m2=0.02, izz_kg_m2=0.03)

    class Nothing:
        surfaces = ()

        def __call__(self, *_):
            return (0.0,) * 6

    motion = Motion(
        Vehicle(mass=mass, reference=REFERENCE, air=Nothing(), propulsion=no_thrust, gravity_ms2=0.0)
    )
    state = Start(height_m=0.0, speed_ms=1.0, p_rad_s=0.4, r_rad_s=6.0).state()
    angle, before = 0.0, 0.0
    for _ in range(500):
        state = motion.step(state, STEP_S)
        now = math.atan2(state[11], state[10])
        angle += math.remainder(now - before, 2 * math.pi)
        before = now
    record_error(
        case="nutation of a free top",
        got=angle / 10.0,
        published=6.0 * 0.5,
        tolerance=1e-4,
        source="Euler's equations",
    )
    assert sum(e * e for e in state[3:7]) == pytest.approx(1.0, abs=1e-6)


# downwash that comes late, and the same as derivatives
LATE = DownwashLag(lift=1.6, pitch=-3.6)
LAGGED = replace(DERIVATIVES, CL_adot=LATE.lift, Cm_adot=LATE.pitch)


def vehicle_in_glide_free_of_thrust():
    air = DerivativeForces(DERIVATIVES, REFERENCE, STATE)
    drag = 0.5 * 1.225 * STATE.speed_ms**2 * REFERENCE.area_m2 * DERIVATIVES.CD
    # constant thrust equal to the drag: level trim at the state, with no thrust derivative
    return (
        Vehicle(mass=MASS, reference=REFERENCE, air=air, propulsion=lambda _v, _t: (drag, 0.0), lag=LATE),
        drag,
    )


def test_jacobian_is_the_linear_model(record_error):
    vehicle, drag = vehicle_in_glide_free_of_thrust()
    state = Start(height_m=50.0, speed_ms=STATE.speed_ms).state()
    got = linearised(vehicle, (0.0, 0.0, 0.0), drag, 0.0, state)
    model = linear_model(LAGGED, MASS, REFERENCE, STATE)
    want = np.linalg.eigvals(model.full())
    found = np.linalg.eigvals(got)
    error = [np.abs(found - root).min() / abs(root) for root in want]
    record_error(
        case="eight roots of the non-linear equations' slopes over the linear model's",
        got=error,
        published=np.zeros(8),
        tolerance=2e-3,
        source="linear model of this room, itself checked against Nelson",
        relative=False,
    )


@pytest.mark.parametrize(
    ("disturbance", "columns", "modes"),
    [
        (
            {"q_rad_s": 0.05},
            ("airspeed_ms", "alpha_rad", "q_rad_s", "pitch_rad"),
            ("short period", "phugoid"),
        ),
        (
            {"p_rad_s": 0.05, "sideslip_ms": 0.1},
            ("beta_rad", "p_rad_s", "r_rad_s", "bank_rad"),
            ("Dutch roll", "roll", "spiral"),
        ),
    ],
)
def test_flown_motion_has_the_linear_modes(record_error, disturbance, columns, modes):
    """Disturb it a little, fly it, and read the roots from the record: x(k+1) = A x(k) by least squares."""
    vehicle, _ = vehicle_in_glide_free_of_thrust()
    mixer = Mixer(
        surfaces=(
            ControlSurface(name="elevator"),
            ControlSurface(name="aileron"),
            ControlSurface(name="rudder"),
        )
    )

    class Hands:
        finished = False

        def __call__(self, _view):
            return 0.0, 0.0, 0.0, 0.5

    step = STEP_S

    def record(start):
        h = fly(vehicle, mixer, start, Hands(), seconds=8.0, log_every=1)
        return np.stack([getattr(h, c) for c in columns])

    base = record(Start(height_m=80.0, speed_ms=STATE.speed_ms))
    rows = [record(Start(height_m=80.0, speed_ms=STATE.speed_ms, **disturbance)) - base]
    # a second disturbance makes the record rich enough for all four roots
    rows.append(record(Start(height_m=80.0, speed_ms=STATE.speed_ms, pitch_rad=0.02, bank_rad=0.03)) - base)
    before = np.concatenate([r[:, :-1] for r in rows], axis=1)
    after = np.concatenate([r[:, 1:] for r in rows], axis=1)
    matrix = after @ before.T @ np.linalg.inv(before @ before.T)
    found = np.log(np.linalg.eigvals(matrix).astype(complex)) / step
    linear = {
        m.name: complex(m.real, m.imag) for m in named_modes(linear_model(LAGGED, MASS, REFERENCE, STATE))
    }
    for name in modes:
        root = linear[name]
        record_error(
            case=f"flown motion, {name}, root read from the record",
            got=np.abs(found - root).min() / abs(root),
            published=0.0,
            tolerance=0.05,
            source="linear model of this room",
            relative=False,
        )
