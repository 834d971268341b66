"""What is put wrong in the simulator comes back from the words a flier would write.

What is wrong is put in whole, where the diagnosis goes by slopes: half a wing is twisted in the lattice by its full degree, a
thrust line is turned by its full two, and for another balance point the air's model is built anew. Each flight's measures
get a wobble for gusts and a coarse pilot, some things are not looked at, and what is left turns into words.
"""

from __future__ import annotations

import datetime as dt
import functools
import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.air import AirModel, Control
from sheetlark.design import loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.flight import AirModelForces, ControlSurface, FlightPlan, Flow
from sheetlark.logbook import (
    CorrectionEntry,
    FlightEntry,
    Log,
    Sighting,
    check_corrections,
    diagnose,
    diagnosis,
    read_sighting,
    signatures_of,
    told,
)
from sheetlark.logbook.causes import Afflicted, OffsetAir, ShiftedAir, WarpedAir, afflicted
from sheetlark.logbook.signature import deviations
from sheetlark.logbook.symptoms import MEASURES, SYMPTOMS, in_words, observed

DAY = dt.date(2026, 5, 17)
SEED = 20260517


@functools.cache
def flier(name: str):
    e = evaluate(loads(starter(name)))
    f = e.flight
    vehicle = replace(f.vehicle, wheels=())  # thrown by hand, as most are
    plan = FlightPlan(stall_ms=f.stall_ms, cruise_ms=f.cruise_ms, glide_ms=f.cruise_ms)
    return e, vehicle, f.mixer, plan, signatures_of(e, by_hand=True), f.cruise.pitch_stick


def warped(name: str, degrees: float, side: str) -> Afflicted:
    """One half of the largest wing set at more incidence, in the lattice."""
    e, vehicle, mixer, *_ = flier(name)
    layout = e.air.model.layout
    wing = max((s for s in layout.surfaces if s.role == "wing" and not s.controls), key=lambda s: s.area_m2)
    twist = Control(name="warp", kind="elevon", hinge_fraction=0.0)
    surfaces = tuple(replace(s, controls=(twist,)) if s is wing else s for s in layout.surfaces)
    model = AirModel(replace(layout, surfaces=surfaces), e.air.results.condition)
    forces = AirModelForces(model, vehicle.density_kg_m3, torque_per_thrust_m=vehicle.air._torque)
    at = {s.name: s for s in mixer.surfaces}
    names = forces.surfaces
    both = tuple(at.get(n, ControlSurface(name=n)) for n in names)
    offset = tuple(math.radians(degrees) if n == f"warp_{side}" else 0.0 for n in names)
    return Afflicted(
        vehicle=replace(vehicle, air=OffsetAir(forces, offset)), mixer=replace(mixer, surfaces=both)
    )


def balanced(name: str, aft_m: float) -> Afflicted:
    """The air's model built anew about a balance point further aft."""
    e, vehicle, mixer, *_ = flier(name)
    layout = e.air.model.layout
    x, y, z = layout.about_m
    model = AirModel(layout.balanced_at((x + aft_m, y, z)), e.air.results.condition)
    forces = AirModelForces(model, vehicle.density_kg_m3, torque_per_thrust_m=vehicle.air._torque)
    line = replace(vehicle.thrust_line, x_m=vehicle.thrust_line.x_m + aft_m)
    return Afflicted(vehicle=replace(vehicle, air=forces, thrust_line=line), mixer=mixer)


def injected(name: str, cause: str, amount: float) -> Afflicted:
    _, vehicle, mixer, *_ = flier(name)
    if cause.endswith("-warp"):
        return warped(name, amount, cause.removesuffix("-warp"))
    if cause == "balance":
        return balanced(name, 1e-3 * amount)
    return afflicted(vehicle, mixer, cause, math.radians(amount))


@functools.cache
def flown(name: str, cause: str, amount: float) -> tuple[tuple[str, float], ...]:
    """What the simulator shows of a model with something wrong, against the prediction."""
    _, _, _, plan, known, stick = flier(name)
    return tuple(deviations(injected(name, cause, amount), known, plan, pitch_trim=stick).items())


def words_of_a_flight(name: str, cause: str, amount: float, seed: int) -> tuple[Sighting, ...]:
    """Fly it, let gusts and a coarse eye blur what is seen, and write it down; some things are not looked at."""
    rng = np.random.default_rng((SEED, seed))
    off = dict(flown(name, cause, amount))
    for measure in off:
        off[measure] += 0.35 * MEASURES[measure].noticeable * rng.normal()
        if MEASURES[measure].unlooked >= 1.5 and rng.random() < 0.4:
            off[measure] = 0.0  # no dive, no stall that day
    return in_words(off)


CASES = [
    (name, cause, amount)
    for name in ("dunnock", "brambling")
    for cause, amount in (
        ("down-thrust", 2.0),
        ("down-thrust", -2.0),
        ("side-thrust", 2.0),
        ("side-thrust", -2.0),
        ("balance", 5.0),
        ("starboard-warp", 1.0),
        ("starboard-warp", -1.0),
        ("port-warp", 1.0),
    )
]


def test_what_was_put_wrong_comes_back_first_or_second_in_nine_of_ten():
    places = []
    for name, cause, amount in CASES:
        for seed in range(5):
            seen = words_of_a_flight(name, cause, amount, seed)
            ranked = diagnose(flier(name)[4], Log(flights=(FlightEntry(date=DAY, seen=seen),)))
            order = list(dict.fromkeys(r.cause.name for r in ranked))
            place = order.index(cause)
            right_way = next(r for r in ranked if r.cause.name == cause).amount * amount > 0
            places.append((name, cause, amount, place + 1, right_way, [s.symptom for s in seen]))
    good = [p for p in places if p[3] <= 2 and p[4]]
    share = len(good) / len(places)
    missed = [p for p in places if p not in good]
    print(f"\n    first {sum(p[3] == 1 for p in places)}, first or second {len(good)} of {len(places)}")
    assert share >= 0.9, "\n".join(map(str, missed))


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_two_flights_say_more_than_one(name):
    known = flier(name)[4]
    flights = tuple(
        FlightEntry(date=DAY, seen=words_of_a_flight(name, "balance", 5.0, seed)) for seed in range(4)
    )
    one = next(r for r in diagnose(known, Log(flights=flights[:1])) if r.cause.name == "balance")
    four = next(r for r in diagnose(known, Log(flights=flights)) if r.cause.name == "balance")
    assert four.spread < one.spread
    assert four.probability > 0.5
    assert four.amount == pytest.approx(0.005, abs=0.003)


def test_a_made_correction_is_taken_into_account_and_checked():
    e, _, _, _, known, _ = flier("dunnock")
    bad = FlightEntry(date=DAY, seen=words_of_a_flight("dunnock", "balance", 6.0, 1), line=1)
    moved = CorrectionEntry(date=DAY, cause="balance", amount=-0.006, line=2)
    good = FlightEntry(date=DAY, seen=(), line=3)
    log = Log(flights=(bad,), corrections=(moved,))
    assert check_corrections(known, log)[0].verdict == "not flown yet"
    whole = Log(flights=(bad, good), corrections=(moved,))
    check = check_corrections(known, whole)[0]
    assert check.verdict == "cured"
    assert check.before > 0.002
    assert abs(check.after) < 0.001
    left = next(r for r in diagnose(known, whole) if r.cause.name == "balance")
    assert abs(left.amount) < 0.002
    useless = check_corrections(known, Log(flights=(bad, replace(bad, line=3)), corrections=(moved,)))[0]
    assert useless.verdict == "no change"
    text = told(
        diagnose(known, whole), e.design, all_up_kg=e.weights.all_up_kg, battery_kg=0.06, half_span_m=0.35,
        checks=(check,),
    )  # fmt: skip
    assert "cured" in text


def test_the_correction_is_in_the_units_a_builder_moves():
    e, _, _, _, known, _ = flier("dunnock")
    seen = words_of_a_flight("dunnock", "balance", 6.0, 1)
    ranked = diagnose(known, Log(flights=(FlightEntry(date=DAY, seen=seen),)))
    first = ranked[0]
    assert first.cause.name == "balance"
    text = told(ranked, e.design, all_up_kg=0.25, battery_kg=0.05, half_span_m=0.35)
    assert f"battery {1e3 * first.amount * 0.25 / 0.05:.0f} mm forward" in text


def test_nothing_seen_means_nothing_sure():
    known = flier("dunnock")[4]
    assert diagnose(known, Log()) == ()
    ranked = diagnose(known, Log(flights=(FlightEntry(date=DAY),)))
    assert all(abs(r.amount) < 0.3 * r.cause.usual for r in ranked)
    assert sum(r.probability for r in ranked) == pytest.approx(1.0)


def test_opposite_errors_show_opposite_signs():
    known = flier("dunnock")[4]
    row = known.slope("starboard-warp") * math.radians(1.0)
    _, vehicle, mixer, plan, _, stick = flier("dunnock")
    high = deviations(
        afflicted(vehicle, mixer, "starboard-warp", math.radians(1.0)), known, plan, pitch_trim=stick
    )
    low = deviations(
        afflicted(vehicle, mixer, "starboard-warp", -math.radians(1.0)), known, plan, pitch_trim=stick
    )
    for k, measure in enumerate(known.measures):
        if measure in high and abs(row[k]) > MEASURES[measure].noticeable:
            assert high[measure] * low[measure] < 0


def test_moments_about_another_point_follow_statics():
    air = flier("dunnock")[1].air
    there = ShiftedAir(air, 0.01, 0.004)
    flow = Flow(9.0, 0.05, (0.0,) * len(air.surfaces), 0.02, 0.1, 0.05, -0.05, 0.5)
    X, Y, Z, L, M, N = air(flow)
    force = np.array([X, Y, Z])
    moment = np.array([L, M, N]) + np.cross([0.01, -0.004, 0.0], force)
    assert np.array(there(flow)) == pytest.approx(np.concatenate([force, moment]))


def test_strip_theory_stands_for_a_warp_where_the_lattice_is_not_asked():
    """Rolling moment of a half wing set one degree steeper: the lattice's against 1.5 d V/b of roll, to a fifth."""
    _, vehicle, *_ = flier("dunnock")
    model = warped("dunnock", 1.0, "starboard").vehicle.air
    strip = WarpedAir(vehicle.air, math.radians(1.0), vehicle.reference.span_m, 1.0)
    still = (0.0,) * len(vehicle.air.surfaces)
    base = vehicle.air(Flow(10.0, 0.06, still))[3]
    lattice = model(Flow(10.0, 0.06, (0.0,) * len(model.surfaces)))[3] - base
    theory = strip(Flow(10.0, 0.06, still))[3] - base
    assert lattice < 0  # more incidence to starboard rolls to port
    assert theory == pytest.approx(lattice, rel=0.2)


def test_words_and_numbers_agree():
    for symptom, (measure, sign) in SYMPTOMS.items():
        value, spread = observed((Sighting(symptom=symptom),))[measure]
        assert value * sign > 2 * MEASURES[measure].noticeable
        assert spread > 0
        back = in_words({measure: value})
        assert back == (Sighting(symptom=symptom, strength="clearly"),) or (
            len(back) == 0 and measure == "turn-slip"
        )


def test_what_the_model_has_no_figure_of_is_said_so():
    e = flier("dunnock")[0]
    text = diagnosis(e, Log(flights=(FlightEntry(date=DAY, seen=(read_sighting("needs right aileron"),)),)))
    assert "“needs right aileron”: the flight model of this aeroplane has no figure for that" in text
    assert "leave it alone" not in text


def test_a_model_with_wheels_may_be_thrown():
    """Who writes of the launch threw it: the causes of a bad throw are looked at, wheels or not."""
    e = flier("dunnock")[0]
    assert e.design.gear is not None
    text = diagnosis(
        e, Log(flights=(FlightEntry(date=DAY, seen=(read_sighting("strongly dips on launch"),)),))
    )
    assert "no figure for that" not in text
    assert "speed of the throw" in text
