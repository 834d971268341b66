"""Bodies and slipstreams against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.air import (
    AirModel,
    Body,
    Condition,
    Disc,
    Layout,
    Surface,
    apparent_mass_factor,
    neutral_point,
)
from sheetlark.air.slipstream import slipstream

pytestmark = pytest.mark.published


def test_apparent_mass(record_error):
    """Munk, NACA TR-184, 1924: k2 - k1 of prolate spheroids; table from memory."""
    record_error(
        case="apparent-mass factors, fineness 2 to 10",
        got=[apparent_mass_factor(f) for f in (2, 3, 4, 5, 6, 8, 10)],
        published=np.array([0.493, 0.681, 0.778, 0.836, 0.873, 0.916, 0.939]),
        tolerance=0.002,
        relative=False,
        source="Munk, NACA TR-184, 1924, after Lamb (table from memory)",
    )


def box() -> tuple[Layout, Layout]:
    wing = Surface.trapezoid(0.8, 0.1875, 0.1875, name="wing", spanwise=12, chordwise=4)
    # 0.06 x 0.06 x 0.60 m with a fifth of its volume lost to tapers: 0.00173 m3
    x = np.linspace(-0.2, 0.4, 121)
    taper = np.clip(np.minimum((x + 0.2) / 0.1, (0.4 - x) / 0.1), 0.0, 1.0)
    side = 0.06 * np.sqrt(np.clip(taper * 0.8 / np.mean(taper), 0.0, 1.0))
    body = Body(name="body", x_m=x, width_m=side, height_m=side, middle_z_m=0.0 * x)
    return Layout(surfaces=(wing,)), Layout(surfaces=(wing,), bodies=(body,))


def test_body_moment(record_error):
    """Worked by hand: dCm/dalpha = 2 volume (k2 - k1)/(S c) for the volume this body really has."""
    bare, full = box()
    body = full.bodies[0]
    at = Condition(alpha_rad=0.0)
    step = 0.002

    def slope(layout: Layout) -> float:
        model = AirModel(layout, at)
        up, down = (model.at(Condition(alpha_rad=s))[4] for s in (step, -step))
        return (up - down) / (2 * step) / (0.5 * 1.225 * 100.0)

    fineness = 0.6 / math.sqrt(4 / math.pi * float((body.width_m**2).max()))
    record_error(
        case="box body: moment slope by Munk's formula",
        got=slope(full) - slope(bare),
        published=2.0 * body.volume_m3 * apparent_mass_factor(fineness),
        tolerance=0.02,
        source="Munk, NACA TR-184, 1924, worked",
    )


def test_body_moment_in_yaw(record_error):
    """The same couple sideways: it turns the nose away from the wind, -2 volume (k2 - k1) per radian of sideslip."""
    bare, full = box()
    body = full.bodies[0]
    step = 0.002

    def slope(layout: Layout) -> float:
        model = AirModel(layout)
        up, down = (model.at(Condition(beta_rad=s))[5] for s in (step, -step))
        return (up - down) / (2 * step) / (0.5 * 1.225 * 100.0)

    fineness = 0.6 / math.sqrt(4 / math.pi * float((body.width_m**2).max()))
    record_error(
        case="box body: yaw slope by Munk's formula",
        got=slope(full) - slope(bare),
        published=-2.0 * body.volume_m3 * apparent_mass_factor(fineness),
        tolerance=0.02,
        source="Munk, NACA TR-184, 1924, worked",
    )


def test_body_moves_the_neutral_point_forward():
    bare, full = box()
    moved = neutral_point(bare) - neutral_point(full)
    assert 0.01 < moved / 0.1875 < 0.06


def test_slipstream_speed(record_error):
    """Momentum theory at rest: thrust 4 N on an 8 in disc gives a far slipstream of sqrt(2 T / (rho A))."""
    disc = Disc(at_m=(0.0, 0.0, 0.0), radius_m=0.1016)
    jet = slipstream(disc, 0.0, 4.0, 0.05, 1.225)
    record_error(
        case="static slipstream speed",
        got=jet.extra_ms,
        published=math.sqrt(2 * 4.0 / (1.225 * math.pi * 0.1016**2)),
        tolerance=1e-9,
        source="Glauert, Elements of Aerofoil and Airscrew Theory, momentum theory",
    )
    record_error(
        case="static slipstream radius over the disc's",
        got=jet.radius_m / disc.radius_m,
        published=math.sqrt(0.5),
        tolerance=1e-9,
        source="Glauert, Elements of Aerofoil and Airscrew Theory, momentum theory",
    )
    flow = 1.225 * math.pi * jet.radius_m**2 * jet.extra_ms
    record_error(
        case="swirl carries the torque",
        got=flow * jet.swirl_rad_s * jet.radius_m**2 / 2.0,
        published=0.05,
        tolerance=1e-9,
        source="angular momentum of a turning tube",
    )
