import numpy as np
import pytest

from sheetlark.errors import SolveError
from sheetlark.flight import STILL, Wind, breeze, gusts, low_altitude


def made(seed=5, **changes):
    values = {"speed_ms": 10.0, "span_m": 0.9, "seconds": 60.0, "step_s": 1 / 80, "seed": seed, **changes}
    return gusts(low_altitude(3.0, 20.0), **values)


def test_same_seed_same_gusts_other_seed_others():
    a, b, c = made(), made(), made(seed=6)
    for name in ("u_ms", "v_ms", "w_ms", "p_rad_s", "q_rad_s", "r_rad_s"):
        assert (getattr(a, name) == getattr(b, name)).all()
        assert not (getattr(a, name)[1:] == getattr(c, name)[1:]).any()


@pytest.mark.parametrize("step", [0.2, 0.02])
def test_strength_does_not_depend_on_the_step(step):
    turbulence = low_altitude(3.0, 20.0)
    record = made(seconds=30_000.0 if step > 0.1 else 6_000.0, step_s=step)
    assert record.w_ms.std() == pytest.approx(turbulence.sigma_w_ms, rel=0.05)
    assert abs(np.corrcoef(record.u_ms, record.w_ms)[0, 1]) < 0.12


def test_wind_grows_with_height_and_comes_from_ahead():
    wind = Wind(4.0)
    (north, east, down), gust = wind.at(0.0, 20 * 0.3048)
    assert (north, down) == (pytest.approx(-4.0), 0.0)
    assert east == pytest.approx(0.0)
    assert gust == (0.0,) * 6
    assert -4.0 < wind.at(0.0, 1.0)[0][0] < 0.0
    assert wind.at(0.0, 40.0)[0][0] < -4.0
    assert STILL.at(3.0, 10.0) == ((0.0, 0.0, 0.0), (0.0,) * 6)
    assert breeze(0.0, speed_ms=10.0, span_m=0.9) is STILL


def test_record_is_read_by_time_and_holds_its_end():
    record = made(seconds=1.0)
    wind = Wind(2.0, record=record)
    assert wind.at(0.5, 10.0)[1][2] == record.w_ms[40]
    assert wind.at(99.0, 10.0)[1][0] == record.u_ms[-1]


def test_refusals():
    with pytest.raises(SolveError, match="between 0 and 30 m/s, got 40"):
        low_altitude(40.0, 10.0)
    with pytest.raises(SolveError, match="positive speed"):
        made(speed_ms=0.0)
