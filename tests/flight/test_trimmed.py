import math

import numpy as np
import pytest

from sheetlark.errors import SolveError
from sheetlark.flight import performance, stall_speed, trim_with_throttle, trimmed_polar
from sheetlark.flight.trim import lengthwise_forces


def test_every_state_is_in_trim(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    got = trimmed_polar(vehicle, mixer)
    for alpha, stick in zip(got.alpha_rad, got.pitch_stick, strict=True):
        moment = lengthwise_forces(vehicle, mixer, 10.0, float(alpha), float(stick), 0.0)[2]
        assert abs(moment) < 2e-4 * vehicle.weight_n * 0.18
    assert (np.diff(got.lift) > 0.0).all()
    assert not got.ends_by_elevator


def test_slope_is_the_trimmed_one(model):
    """CL_alpha less what the elevator takes back: CL_alpha - CL_de Cm_alpha/Cm_de."""
    got = trimmed_polar(model.vehicle(), model.mixer())
    assert got.lift_slope_per_rad == pytest.approx(4.2 - 0.4 * 0.55 / 0.95, rel=0.05)


def test_stall_speed_is_where_the_glide_ends(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    got = trimmed_polar(vehicle, mixer)
    stall = stall_speed(vehicle.mass.mass_kg, 0.15, float(got.lift[-1]))
    trim_with_throttle(vehicle, mixer, 1.03 * stall, 0.0)
    with pytest.raises(SolveError):
        trim_with_throttle(vehicle, mixer, 0.93 * stall, 0.0)


def test_best_glide_agrees_with_trimmed_glides(model):
    vehicle, mixer = model.vehicle(CD=0.032), model.mixer()
    got = trimmed_polar(vehicle, mixer)
    figures = performance(
        got.polar,
        lambda v, t: model.motor(v, t)[0],
        mass_kg=0.38,
        area_m2=0.15,
        lift_slope_per_rad=got.lift_slope_per_rad,
    )
    speed = figures.best_glide.airspeed_ms
    paths = [trim_with_throttle(vehicle, mixer, speed * k, 0.0).climb_rad for k in (0.93, 1.0, 1.07)]
    assert paths[1] == max(paths)
    assert -paths[1] == pytest.approx(figures.best_glide.path_rad, rel=0.02)


def test_a_weak_elevator_ends_it_first(model):
    weak = trimmed_polar(model.vehicle(), model.mixer(pitch=1.5))
    full = trimmed_polar(model.vehicle(), model.mixer())
    assert weak.ends_by_elevator
    assert weak.stall_alpha_rad < full.stall_alpha_rad
    with pytest.raises(SolveError, match="move the balance point or give the elevator more throw"):
        trimmed_polar(model.vehicle(), model.mixer(pitch=0.05))
    assert math.isfinite(weak.lift_slope_per_rad)
