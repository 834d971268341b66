"""The simulated first flight: what a pilot would see of ordinary and of poor models."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.errors import SolveError
from sheetlark.flight import (
    ControlSurface,
    FlightPlan,
    Mixer,
    Start,
    Throw,
    breeze,
    first_flight,
    fly,
    response,
)
from sheetlark.flight.motion import attitude
from sheetlark.flight.story import standing

PLAN = FlightPlan(stall_ms=6.5, cruise_ms=10.5, glide_ms=9.0)


class Hands:
    finished = False

    def __init__(self, *sticks):
        self.sticks = sticks

    def __call__(self, _view):
        return self.sticks


@pytest.fixture(scope="module")
def ordinary(model):
    return first_flight(model.vehicle(), model.mixer(), PLAN)


def test_an_ordinary_model_flies_its_plan(ordinary):
    assert ordinary.landed_as_planned
    assert ordinary.turns_both_ways
    assert ordinary.launch_height_lost_m < 0.5
    assert ordinary.touch_down_sink_ms < 1.0
    assert ordinary.stall is not None
    assert ordinary.stall.broke
    assert 5.0 < ordinary.stall.speed_ms < 7.5
    assert 2.0 < ordinary.stall.recovery_height_m < 15.0
    assert ordinary.peak_sideslip_rad < math.radians(6)
    says = " / ".join(event.says for event in ordinary.events)
    for words in (
        "leaves the hand",
        "climbs",
        "flies level",
        "to starboard",
        "to port",
        "stall breaks",
        "touches down",
    ):
        assert words in says
    times = [event.time_s for event in ordinary.events]
    assert times == sorted(times)


def test_trim_it_needs_is_what_holds_it_level(model, ordinary):
    from sheetlark.flight import trim_level

    trim = trim_level(model.vehicle(), model.mixer(), PLAN.cruise_ms)
    assert ordinary.pitch_trim == pytest.approx(trim.pitch_stick, abs=0.03)


def test_same_flight_twice(model, ordinary):
    again = first_flight(model.vehicle(), model.mixer(), PLAN)
    assert (again.history.height_m == ordinary.history.height_m).all()


def test_gusts_repeat_with_their_seed_and_move_it_about(model):
    def story(seed):
        wind = breeze(2.5, speed_ms=10.5, span_m=0.85, seed=seed)
        return first_flight(model.vehicle(), model.mixer(), PLAN, wind=wind)

    one, two, three = story(1), story(1), story(2)
    assert (one.history.bank_rad == two.history.bank_rad).all()
    assert one.history.bank_rad.shape != three.history.bank_rad.shape or not np.allclose(
        one.history.bank_rad, three.history.bank_rad
    )
    assert one.turns_both_ways
    assert one.landed_as_planned


def test_linkages_the_wrong_way_round_are_found_out(model):
    """The pilot feels which way the stick acts; the mixer's sign is never assumed."""
    crossed = Mixer(
        surfaces=(
            ControlSurface(name="elevator", pitch_rad=math.radians(15)),
            ControlSurface(name="aileron", roll_rad=math.radians(15)),
            ControlSurface(name="rudder", yaw_rad=math.radians(25)),
        )
    )
    story = first_flight(model.vehicle(), crossed, PLAN)
    assert story.turns_both_ways
    assert story.landed_as_planned


def test_rudder_only_turns_with_more_slip(model, ordinary):
    story = first_flight(model.vehicle(Cl_da=0.0, Cn_da=0.0, Cl_beta=-0.12), model.mixer(), PLAN)
    assert story.turns_both_ways
    assert story.peak_sideslip_rad > ordinary.peak_sideslip_rad


def test_adverse_yaw_without_a_rudder_slips_and_a_rudder_helps(model):
    bare = {"Cn_da": 0.04, "Cn_beta": 0.03, "Cn_dr": 0.0, "Cl_dr": 0.0, "CY_dr": 0.0}
    skids = first_flight(model.vehicle(**bare), model.mixer(), PLAN)
    cured = first_flight(
        model.vehicle(**{**bare, "Cn_dr": -0.055, "CY_dr": 0.14}), model.mixer().with_rudder_mix(0.5), PLAN
    )
    assert skids.peak_sideslip_rad > 1.5 * cured.peak_sideslip_rad


def test_weak_throw_loses_height(model, ordinary):
    story = first_flight(model.vehicle(), model.mixer(), PLAN, throw=Throw(speed_ms=4.0))
    assert story.launch_height_lost_m > ordinary.launch_height_lost_m + 0.2


def test_from_wheels(model):
    wheels = ((0.05, -0.1, 0.1), (0.05, 0.1, 0.1), (-0.35, 0.0, 0.04))
    vehicle = replace(model.vehicle(), wheels=wheels)
    story = first_flight(vehicle, model.mixer(), replace(PLAN, from_wheels=True))
    assert story.events[0].says.startswith("starts to roll")
    assert story.turns_both_ways
    assert story.landed_as_planned
    assert story.history.height_m.min() > 0.05


def test_standing_on_wheels_it_stays_there(model):
    from sheetlark.flight.story import standing

    wheels = ((0.05, -0.1, 0.1), (0.05, 0.1, 0.1), (-0.35, 0.0, 0.04))
    vehicle = replace(model.vehicle(), wheels=wheels)
    history = fly(vehicle, model.mixer(), standing(vehicle), Hands(0.0, 0.0, 0.0, 0.0), seconds=5.0)
    assert history.airspeed_ms[-1] < 0.02
    assert np.ptp(history.height_m[40:]) < 1e-3
    assert not history.landed


def test_falls_like_a_stone_without_air(model):
    class Nothing:
        surfaces = ("elevator", "aileron", "rudder")

        def __call__(self, *_):
            return (0.0,) * 6

    vehicle = replace(model.vehicle(), air=Nothing())
    history = fly(vehicle, model.mixer(), Start(height_m=30.0, speed_ms=5.0), Hands(0, 0, 0, 0), seconds=2.0)
    fall = 30.0 - 0.5 * 9.80665 * history.time_s**2
    assert history.height_m == pytest.approx(fall, abs=1e-9)
    assert history.north_m == pytest.approx(5.0 * history.time_s, abs=1e-9)


def test_start_has_the_attitude_and_path_asked_for(model):
    start = Start(height_m=50.0, speed_ms=10.0, heading_rad=1.0, pitch_rad=0.2, bank_rad=-0.4, path_rad=0.1)
    history = fly(model.vehicle(), model.mixer(), start, Hands(0, 0, 0, 0), seconds=0.1, log_every=1)
    assert history.bank_rad[0] == pytest.approx(-0.4)
    assert history.pitch_rad[0] == pytest.approx(0.2)
    assert history.heading_rad[0] == pytest.approx(1.0)
    assert history.climb_ms[0] == pytest.approx(10.0 * math.sin(0.1))
    assert sum(e * e for e in attitude(0.3, -0.2, 2.0)) == pytest.approx(1.0)


def test_refusals(model):
    with pytest.raises(SolveError, match="the mixer moves elevator, the air knows elevator, aileron, rudder"):
        fly(
            model.vehicle(),
            Mixer(surfaces=(ControlSurface(name="elevator"),)),
            Start(height_m=5.0, speed_ms=9.0),
            Hands(0, 0, 0, 0),
        )
    with pytest.raises(SolveError, match="needs an elevator"):
        first_flight(model.vehicle(), model.mixer(pitch=0.0), PLAN)
    with pytest.raises(SolveError, match=r"roll damping .* must be negative"):
        response(model.vehicle(Cl_p=0.1), model.mixer(), 10.0, 0.0)
    with pytest.raises(SolveError, match="give them as the vehicle's lag"):
        model.vehicle(Cm_adot=-3.0)


def test_too_long_a_step_is_noticed(model):
    with pytest.raises((SolveError, OverflowError), match=r"shorter than|range"):
        fly(
            model.vehicle(Cl_p=-40.0, Cm_q=-2000.0),
            model.mixer(),
            Start(height_m=500.0, speed_ms=12.0, p_rad_s=0.5),
            Hands(0, 0, 0, 0),
            step_s=0.05,
            seconds=20.0,
        )


def test_a_tail_dragger_stands_on_its_skid_and_takes_off(model):
    """Main wheels ahead of the balance point, a skid far behind: it stands nose up, and does not tip over."""
    vehicle = replace(model.vehicle(), wheels=((0.04, 0.09, 0.13), (0.04, -0.09, 0.13), (-0.38, 0.0, 0.02)))
    start = standing(vehicle)
    assert start.pitch_rad == pytest.approx(math.atan2(0.11, 0.42), rel=1e-6)
    lowest = [math.cos(start.pitch_rad) * z - math.sin(start.pitch_rad) * x for x, _, z in vehicle.wheels]
    assert min(lowest) == pytest.approx(max(lowest), abs=1e-9)

    class Still:
        finished = False

        def __call__(self, view):
            return 0.0, 0.0, 0.0, 0.0

    stood = fly(vehicle, model.mixer(), start, Still(), seconds=3.0)
    assert stood.pitch_rad[-1] == pytest.approx(start.pitch_rad, abs=0.02)
    assert abs(stood.climb_ms[-1]) < 0.01
