import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import SolveError
from sheetlark.flight import LinearModel, Mode, linear_model, named_modes


def sideways_with(roots):
    """Any real matrix with these roots: a companion block form."""
    return model_with(np.diag([-1.0, -2.0, -3.0, -4.0]), block(roots))


def lengthwise_with(roots):
    return model_with(block(roots), np.diag([-1.0, -2.0, -3.0, -4.0]))


def block(roots):
    matrix = np.zeros((4, 4))
    place = 0
    for root in roots:
        if isinstance(root, complex):
            matrix[place : place + 2, place : place + 2] = [[root.real, root.imag], [-root.imag, root.real]]
            place += 2
        else:
            matrix[place, place] = root
            place += 1
    assert place == 4
    return matrix


def model_with(lengthwise, sideways):
    zero = np.zeros(4)
    return LinearModel(
        speed_ms=10.0, lengthwise=lengthwise, elevator=zero, sideways=sideways, aileron=zero, rudder=zero
    )


def names(model, first):
    modes = named_modes(model)
    return [(m.name, round(m.real, 6)) for m in modes if any(m.name.startswith(f) for f in first)]


LENGTHWISE = ("short", "phugoid", "pitch")
SIDEWAYS = ("Dutch", "roll", "spiral", "yaw")


@pytest.mark.parametrize(
    ("roots", "expected"),
    [
        ([-5 + 6j, -0.1 + 0.8j], ["short period", "phugoid"]),
        ([-12.0, -4.0, -0.1 + 0.8j], ["short period, fast part", "short period, slow part", "phugoid"]),
        ([-5 + 6j, -0.5, -0.02], ["short period", "phugoid, fast part", "phugoid, slow part"]),
        ([-9.0, 1.2, -0.3 + 0.4j], ["short period, fast part", "pitch divergence", "phugoid"]),
        (
            [-9.0, -3.0, 1.2, -0.3],
            ["short period, fast part", "short period, slow part", "pitch divergence", "phugoid, slow part"],
        ),
    ],
)
def test_lengthwise_names(roots, expected):
    assert [name for name, _ in names(lengthwise_with(roots), LENGTHWISE)] == expected


@pytest.mark.parametrize(
    ("roots", "expected"),
    [
        ([-0.5 + 5j, -20.0, 0.05], ["Dutch roll", "roll", "spiral"]),
        ([-0.5 + 5j, -1.0 + 0.9j], ["Dutch roll", "roll and spiral together"]),
        (
            [-20.0, -6.0, -0.5 + 0.4j],
            ["Dutch roll, fast part", "Dutch roll, slow part", "roll and spiral together"],
        ),
        ([-20.0, -6.0, 3.0, -0.1], ["yaw divergence", "roll", "Dutch roll, fast part", "spiral"]),
        ([-20.0, -6.0, -3.0, -0.1], ["roll", "Dutch roll, fast part", "Dutch roll, slow part", "spiral"]),
    ],
)
def test_sideways_names(roots, expected):
    assert [name for name, _ in names(sideways_with(roots), SIDEWAYS)] == expected


@given(
    lengthwise=st.lists(st.floats(-30, 30), min_size=16, max_size=16),
    sideways=st.lists(st.floats(-30, 30), min_size=16, max_size=16),
)
def test_every_root_is_in_one_mode(lengthwise, sideways):
    model = model_with(np.reshape(lengthwise, (4, 4)), np.reshape(sideways, (4, 4)))
    modes = named_modes(model)
    assert sum(2 if m.imag > 0 else 1 for m in modes) == 8
    assert len({m.name for m in modes}) == len(modes)
    trace = sum(m.real * (2 if m.imag > 0 else 1) for m in modes)
    assert trace == pytest.approx(np.trace(model.full()), abs=1e-6)
    assert all(m.words for m in modes)


def test_figures_of_a_swing():
    mode = Mode(name="phugoid", real=-0.1, imag=1.0)
    assert mode.period_s == pytest.approx(2 * math.pi)
    assert mode.time_to_half_s == pytest.approx(math.log(2) / 0.1)
    assert mode.damping_ratio == pytest.approx(0.1 / math.hypot(0.1, 1.0))
    assert math.isinf(mode.time_to_double_s)
    assert "halves in 6.9 s" in mode.words


def test_figures_of_a_growing_bank():
    mode = Mode(name="spiral", real=0.05, imag=0.0)
    assert not mode.stable
    assert mode.time_to_double_s == pytest.approx(13.863, rel=1e-4)
    assert "doubles in 14 s; slow enough" in mode.words
    assert "slow enough" not in Mode(name="spiral", real=0.5, imag=0.0).words
    assert math.isinf(Mode(name="spiral", real=0.0, imag=0.0).time_constant_s)


def test_behind_the_neutral_point_the_nose_runs_away(model):
    good = linear_model(model.derivatives(), model.mass, model.reference, model.state)
    bad = linear_model(model.derivatives(Cm_alpha=0.6), model.mass, model.reference, model.state)
    assert all(
        m.stable for m in named_modes(good) if m.name in {"short period", "phugoid", "Dutch roll", "roll"}
    )
    assert any(m.name == "pitch divergence" and m.real > 0 for m in named_modes(bad))


def test_more_dihedral_steadies_the_spiral_and_loosens_the_dutch_roll(model):
    def modes(cl_beta):
        found = named_modes(
            linear_model(model.derivatives(Cl_beta=cl_beta), model.mass, model.reference, model.state)
        )
        return {m.name: m for m in found}

    flat, bent = modes(-0.02), modes(-0.12)
    assert bent["spiral"].real < flat["spiral"].real
    assert bent["Dutch roll"].damping_ratio < flat["Dutch roll"].damping_ratio


def test_roots_scale_with_speed_where_they_should(model):
    """Double speed, same derivatives: roll damping doubles (it is rho V S b²/ ... )."""
    slow = linear_model(model.derivatives(), model.mass, model.reference, model.state)
    fast = linear_model(
        model.derivatives(),
        model.mass,
        model.reference,
        replace(model.state, speed_ms=2 * model.state.speed_ms),
    )
    assert fast.sideways[1, 1] == pytest.approx(2 * slow.sideways[1, 1], rel=1e-9)
    assert fast.lengthwise[2, 2] == pytest.approx(2 * slow.lengthwise[2, 2], rel=1e-9)


def test_refusals(model):
    with pytest.raises(SolveError, match="Cm_alpha is nan"):
        model.derivatives(Cm_alpha=math.nan)
    with pytest.raises(SolveError, match="mass_kg must be positive"):
        replace(model.mass, mass_kg=0.0)
    with pytest.raises(SolveError, match=r"ixz .* is too large"):
        replace(model.mass, ixz_kg_m2=1.0)
    with pytest.raises(SolveError, match="within ±90°"):
        replace(model.state, climb_rad=2.0)
    broken = model_with(np.full((4, 4), math.nan), np.eye(4))
    with pytest.raises(SolveError, match="not finite"):
        named_modes(broken)
