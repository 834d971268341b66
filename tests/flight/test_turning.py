import math

import pytest

from sheetlark.errors import SolveError
from sheetlark.flight import (
    MixChoice,
    least_mix,
    linear_model,
    sideslip_said,
    steady_turn,
    stick_effect,
    tidiest_mix,
    turn_entry,
    turn_radius,
)


def entry(model, mix=0.0, **changes):
    vehicle = model.vehicle(**changes)
    linear = linear_model(model.derivatives(**changes), model.mass, model.reference, model.state)
    effect = stick_effect(vehicle, model.mixer().with_rudder_mix(mix), model.state.speed_ms, 0.0)
    return turn_entry(linear, effect)


def test_sideslip_past_what_a_linear_motion_can_tell_is_said_in_words():
    assert sideslip_said(math.radians(3.84)) == "3.8"
    assert sideslip_said(math.radians(12.3), 0) == "12"
    assert sideslip_said(math.radians(90.0)) == "more than 45"


def test_coordinated_turn(model):
    got = steady_turn(model.derivatives(), model.mass, model.reference, model.state)
    assert got.sideslip_rad == 0.0
    # side force of the rudder and yaw rate shift the radius a little from the textbook's
    assert got.radius_m == pytest.approx(
        turn_radius(model.state.speed_ms, math.radians(30)) * math.cos(math.radians(30)), rel=0.2
    )
    assert got.turn_rate_rad_s > 0.0


def test_forces_and_moments_of_the_turn_balance(model):
    """Put the answer back into the three equations, written out again."""
    d, m, ref, s = (
        model.derivatives(Cn_dr=0.0, CY_dr=0.0, Cl_dr=0.0),
        model.mass,
        model.reference,
        model.state,
    )
    got = steady_turn(d, m, ref, s, bank_rad=0.5)
    rate, sine, cosine = got.turn_rate_rad_s, math.sin(0.5), math.cos(0.5)
    q, r = rate * sine, rate * cosine
    press = 0.5 * s.density_kg_m3 * s.speed_ms**2 * ref.area_m2
    rh = r * ref.span_m / (2 * s.speed_ms)
    side = press * (d.CY_beta * got.sideslip_rad + d.CY_r * rh + d.CY_da * got.aileron_rad)
    roll = press * ref.span_m * (d.Cl_beta * got.sideslip_rad + d.Cl_r * rh + d.Cl_da * got.aileron_rad)
    yaw = press * ref.span_m * (d.Cn_beta * got.sideslip_rad + d.Cn_r * rh + d.Cn_da * got.aileron_rad)
    assert side + m.mass_kg * 9.80665 * sine == pytest.approx(m.mass_kg * s.speed_ms * r, rel=1e-6)
    assert roll == pytest.approx((m.izz_kg_m2 - m.iyy_kg_m2) * q * r, abs=1e-6)
    assert yaw == pytest.approx(m.ixz_kg_m2 * q * r, abs=1e-6)
    assert got.rudder_rad == 0.0
    assert got.sideslip_rad != 0.0


def test_rudder_alone_turns_it_with_sideslip(model):
    got = steady_turn(model.derivatives(Cl_da=0.0, Cn_da=0.0), model.mass, model.reference, model.state)
    assert got.aileron_rad == 0.0
    assert got.rudder_rad != 0.0
    assert got.sideslip_rad != 0.0
    with pytest.raises(SolveError, match="neither aileron nor rudder"):
        steady_turn(
            model.derivatives(Cl_da=0.0, Cn_da=0.0, Cn_dr=0.0), model.mass, model.reference, model.state
        )


def test_adverse_yaw_slips_and_a_rudder_mix_cures_it(model):
    peaks = [entry(model, Cn_da=k).peak_sideslip_rad for k in (-0.005, 0.012, 0.03, 0.05)]
    assert peaks == sorted(peaks)
    assert peaks[-1] > math.radians(5.0)
    choice = least_mix(lambda k: entry(model, k, Cn_da=0.05).peak_sideslip_rad)
    mix = choice.mix
    assert 0.0 < mix < 1.0
    assert choice.peak_sideslip_rad == entry(model, mix, Cn_da=0.05).peak_sideslip_rad
    assert entry(model, mix, Cn_da=0.05).peak_sideslip_rad <= math.radians(5.0)
    assert entry(model, 0.9 * mix, Cn_da=0.05).peak_sideslip_rad > math.radians(5.0)


def test_a_short_fin_arm_slips_more(model):
    """Less weathercock and less yaw damping, as a short tail has."""
    assert entry(model, Cn_beta=0.02, Cn_r=-0.025).peak_sideslip_rad > 1.3 * entry(model).peak_sideslip_rad


def test_no_mix_is_enough_without_a_rudder(model):
    """The best there is comes back, and says by its peak that it does not serve."""
    choice = least_mix(
        lambda k: entry(model, k, Cn_da=0.05, Cn_dr=0.0, Cl_dr=0.0, CY_dr=0.0).peak_sideslip_rad
    )
    assert choice.mix == 0.0  # all alike, so the first
    assert choice.peak_sideslip_rad > math.radians(5.0)
    assert least_mix(lambda _k: 0.0).mix == 0.0


@pytest.mark.parametrize("crossing", [0.0123, 0.05, 0.3, 0.77, 0.95])
def test_the_least_mix_is_the_least_to_a_thousandth_of_a_per_cent(crossing):
    """Of a straight, a bent and a stepped fall through the limit; each in fewer questions than halving would ask."""
    for fall in (
        lambda x: 1.0 + crossing - x,
        lambda x: (1.0 + crossing - x) ** 9,
        lambda x: 1.5 if x < crossing else 0.5,
    ):
        asked = []
        choice = least_mix(lambda x, fall=fall, asked=asked: asked.append(x) or fall(x), limit_rad=1.0)
        assert fall(choice.mix) <= 1.0
        assert crossing - 1e-12 <= choice.mix <= crossing + 2e-5
        assert len(asked) <= math.ceil(crossing * 20) + 1 + 25
    best = least_mix(lambda x: 2.0 + abs(x - 0.4), limit_rad=1.0)
    assert (best.mix, best.peak_sideslip_rad) == (0.4, 2.0)


def test_the_tidiest_mix_is_at_the_first_dip_from_where_it_starts():
    start = MixChoice(mix=0.12, peak_sideslip_rad=1.0)
    assert tidiest_mix(lambda x: abs(x - 0.5), start).mix == 0.5
    assert tidiest_mix(lambda x: 2.0 + x, start) == start


def test_rudder_banks_through_the_dihedral(model):
    flat = {"Cl_da": 0.0, "Cn_da": 0.0, "Cl_beta": -0.03}
    bent = {"Cl_da": 0.0, "Cn_da": 0.0, "Cl_beta": -0.14}
    # little dihedral must slip a long way for the same bank
    assert entry(model, **bent).peak_sideslip_rad < 0.5 * entry(model, **flat).peak_sideslip_rad
    assert entry(model, **bent).time_to_bank_s < 3.0
    with pytest.raises(SolveError, match="neither stick banks"):
        entry(model, Cl_da=0.0, Cn_da=0.0, Cn_dr=0.0, Cl_dr=0.0, CY_dr=0.0)


def test_both_ways_are_alike(model):
    vehicle = model.vehicle()
    linear = linear_model(model.derivatives(), model.mass, model.reference, model.state)
    effect = stick_effect(vehicle, model.mixer(), model.state.speed_ms, 0.0)
    right = turn_entry(linear, effect)
    left = turn_entry(linear, effect, bank_rad=-math.radians(30))
    assert left.peak_sideslip_rad == pytest.approx(right.peak_sideslip_rad, rel=1e-6)


def test_least_mixes_through_the_vehicle(model):
    from sheetlark.flight import differential_for, rudder_mix_for

    changes = {"Cn_da": 0.05}
    vehicle = model.vehicle(**changes)
    linear = linear_model(model.derivatives(**changes), model.mass, model.reference, model.state)
    mix = rudder_mix_for(vehicle, model.mixer(), linear, 0.0)
    assert entry(model, mix.mix, **changes).peak_sideslip_rad == pytest.approx(math.radians(5.0), rel=1e-3)
    with pytest.raises(SolveError, match="differential needs two rolling surfaces; the model has 1"):
        differential_for(vehicle, model.mixer(), linear, 0.0)


def test_differential_cures_the_adverse_yaw_of_the_falling_aileron(model):
    """Halves known apart, where the falling one drags more: less of it, less sideslip."""
    from dataclasses import replace

    from sheetlark.flight import Mixer, ailerons, differential_for, elevator, rudder

    whole = model.vehicle()

    class Halves:
        surfaces = ("aileron_port", "aileron_starboard", "elevator", "rudder")

        def __call__(self, flow):
            port, starboard, pitch, yaw = flow.deflections_rad
            # full aileron of the derivatives for both halves apart; sign: port down rolls to starboard
            X, Y, Z, L, M, N = whole.air(flow._replace(deflections_rad=(pitch, -(port - starboard) / 2, yaw)))
            drag = 0.5 * 1.225 * flow.airspeed_ms**2 * 0.15 * 0.85
            # the half that goes down drags with the square of its travel, on an arm of a third of the span
            N += drag * 0.4 * (max(starboard, 0.0) ** 2 - max(port, 0.0) ** 2) / 3.0
            return X, Y, Z, L, M, N

    vehicle = replace(whole, air=Halves())
    mixer = Mixer(surfaces=(*ailerons(0.3), elevator(0.25), rudder(0.4)))
    linear = linear_model(model.derivatives(), model.mass, model.reference, model.state)

    def peak(part):
        effect = stick_effect(vehicle, mixer.with_differential(part), model.state.speed_ms, 0.0)
        return turn_entry(linear, effect).peak_sideslip_rad

    limit = 0.5 * (peak(0.0) + peak(0.6))
    assert peak(0.6) < peak(0.0)
    part = differential_for(vehicle, mixer, linear, 0.0, limit_rad=limit).mix
    assert 0.0 < part < 0.6
    assert peak(part) == pytest.approx(limit, rel=1e-3)
