"""A stern drawn round below a fin."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.stern import Stern, round_stern

_END = 980.0  # of the body; the fin's foot hangs over it to 1000
_PEN = 3.0


def _half(x: Floats) -> Floats:
    """Half the depth of a body with a round stern."""
    return np.asarray(
        60.0 * np.clip(1.0 - np.clip((x - 700.0) / (_END - 700.0), 0.0, 1.0) ** 2.5, 0.0, 1.0) ** 0.4
    )


def _found(*, inked: tuple[float, float]) -> tuple[Floats, Stern | None]:
    """What is found where the upper half is drawn between two places, a fin standing from 850 to 940."""
    x = stations(1000.0)
    low = np.where(x < _END, -_half(x), 15.0)
    high = np.full(x.size, 0.0)
    ahead = x < 850.0
    high[ahead] = _half(x)[ahead]
    high[~ahead] = np.interp(850.0, x, _half(x)) - 0.2 * (x[~ahead] - 850.0)
    at = np.linspace(700.0, _END, 4000)
    line = np.c_[at, _half(at)]
    line = np.vstack([line, np.c_[np.full(50, _END), np.linspace(float(_half(at[-1:])[0]), 0.0, 50)]])
    line = line[(line[:, 0] >= inked[0]) & (line[:, 0] <= inked[1])]

    def ink(a: Floats, b: Floats) -> Floats:
        from scipy.spatial import cKDTree

        far = cKDTree(line).query(np.c_[np.ravel(a), np.ravel(b)])[0].reshape(np.shape(a))
        return np.asarray(np.clip(1.5 - far / (0.5 * _PEN), 0.0, 1.0))

    return x, round_stern(x, low, high, ahead, ink, 1000.0, start=850.0, free=940.0, pen_mm=_PEN)


@pytest.mark.parametrize("shows_from", [700.0, 935.0])
def test_a_round_stern_is_followed_below_the_fin_or_behind_it(shows_from: float) -> None:
    x, found = _found(inked=(shows_from, 1000.0))
    assert found is not None
    assert found.end[0] == pytest.approx(_END, abs=3.0)
    shown = (x > 860.0) & (x < _END - 4.0)
    assert np.abs(found.high - _half(x))[shown].max() < 2.0
    assert found.drawn[(x > 945.0) & (x < _END)].all()
    assert found.drawn[(x > 860.0) & (x < 930.0)].any() == (shows_from < 850.0)


def test_a_stern_nobody_drew_is_not_rounded() -> None:
    """The lower edge alone says nothing of the upper one: below a fin that goes on straight."""
    assert _found(inked=(700.0, 850.0))[1] is None
