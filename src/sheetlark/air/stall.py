"""Where lattice and sections agree: the loss of incidence each strip needs, through and past the stall.

A strip whose section carries less than the lattice says is given a loss of incidence; the lattice answers a loss on
every strip, so all strips settle together. When both sides of a symmetric layout do the same, one side answers for
both and the balance has half the size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sheetlark.air.motion import smooth
from sheetlark.air.surface import Floats

PASSES, PICARD, RELAX, LEVELS = 120, 5, 0.7, 4
# No step is longer than this share of the air's speed, an angle of about 9 degrees.
LONGEST_STEP = 0.15
# Steps through pretended time: the first, how far it may shrink, and how it grows as the gap closes. Where that has
# not settled after MARCH rounds (two answers lie close together) the step is held. Own choice: it settles the cases
# of tests/air/test_stall.py in the fewest rounds.
STEP, SHORTEST, GROWTH, MARCH, HELD = 1.0, 0.15, 1.1, 30, 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """What the balance came to, arrays of shape (n,).

    lost : loss of each strip. [m/s]
    attached : circulation its section would have attached. [m²/s]
    nose : nose angle. [rad]
    apart : separated share.
    passes : int
        Rounds it took.
    """

    lost: Floats
    attached: Floats
    nose: Floats
    apart: Floats
    passes: int


class StallBalance:
    """The balance of one set of strips.

    Parameters
    ----------
    response : ndarray, shape (n, n)
        Circulation of each strip per unit loss on each. [m]
    unit : ndarray, shape (n,)
        Circulation a section has per unit normal velocity. [m]
    around : ndarray, shape (n, n)
        Weights that average over a strip's neighbours.
    leave, gone : ndarray, shape (n,)
        Nose angles where the flow begins to leave and where it is gone. [rad]
    """

    def __init__(self, response: Floats, unit: Floats, around: Floats, leave: Floats, gone: Floats) -> None:
        self._response, self._unit, self._around = response, unit, around
        self._leave, self._span = leave, 1.0 / (gone - leave)

    def folded(self, own: np.ndarray, twin: np.ndarray) -> StallBalance:
        """The balance of strips `own` alone, each with an image `twin` that does the same."""
        response = self._response[np.ix_(own, own)] + self._response[np.ix_(own, twin)]
        around = self._around[np.ix_(own, own)] + self._around[np.ix_(own, twin)]
        gone = self._leave + 1.0 / self._span
        return StallBalance(response, self._unit[own], around, self._leave[own], gone[own])

    @cached_property
    def _closing(self) -> Floats:
        """Inverses that close the balance at a few shares of separated flow, shape (LEVELS, n, n).

        A frozen share s makes the balance linear in the loss: (s R + (1 - s) U) loss = gap; each strip uses the
        inverses next to its own share.
        """
        shares = np.linspace(0.0, 1.0, LEVELS)[:, None, None]
        return np.asarray(
            np.linalg.inv(shares * self._response + (1.0 - shares) * np.diag(self._unit)), dtype=np.float64
        )

    @cached_property
    def _rise(self) -> Floats:
        """Attached circulation of each section per unit loss on each strip, shape (n, n). [m]."""
        return np.asarray(np.diag(self._unit) - self._response, dtype=np.float64)

    @cached_property
    def _mean_rise(self) -> Floats:
        """Neighbourhood's mean nose angle times air speed, per unit loss on each strip, shape (n, n).

        The speed is taken the same over a neighbourhood: this only steers the steps.
        """
        return np.asarray(self._around @ (self._rise / self._unit[:, None]), dtype=np.float64)

    def settle(
        self, gamma: Floats, broken: Floats, beyond: Floats, unit: Floats, a1: Floats, close: float
    ) -> Settled:
        """Losses that make the lattice and every section agree.

        First rounds hold the separated share of each strip while they close the gap, with shorter steps when it
        widens. Close to the peak of the lift, where a little more loss separates a lot more flow, that creeps, so
        later rounds have the share's own slope in them. They are implicit steps of a pretended motion in which each
        strip's loss follows its gap, long ones (Newton's) as it settles: of several answers, which falling lift
        curves have, that finds one the flow would stay at.

        Parameters
        ----------
        gamma, broken : ndarray, shape (n,)
            Circulation by the lattice without any loss, and with the flow wholly separated. [m²/s]
        beyond : ndarray, shape (n,)
            Least separated share, from the angle to the stream alone.
        unit : ndarray, shape (n,)
            Circulation per radian of nose angle. [m²/s]
        a1 : ndarray, shape (n,)
            Part of the lift that does not load the nose. [rad]
        close : float
            Change of loss at which it stops. [m/s]
        """
        n = gamma.size
        lost, apart, rows = np.zeros(n), beyond, np.arange(n)
        relax, last, before, step = RELAX, math.inf, 0.0, 0.0
        attached, nose = gamma, gamma / unit - a1
        passes = 0
        while passes < PASSES:
            lattice = gamma - self._response @ lost
            attached = lattice + self._unit * lost
            nose = attached / unit - a1
            mean = self._around @ nose
            share = (np.abs(mean) - self._leave) * self._span
            own = smooth(share)
            apart = np.maximum(own, beyond)
            gap = lattice - (1.0 - apart) * attached - apart * broken
            wide = float(np.abs(gap).max())
            passes += 1
            if passes <= PICARD:
                level = apart * (LEVELS - 1)
                below = np.minimum(level.astype(np.intp), LEVELS - 2)
                trial = self._closing @ gap
                change = trial[below, rows] + (level - below) * (trial[below + 1, rows] - trial[below, rows])
            else:
                inner = np.minimum(np.maximum(share, 0.0), 1.0)
                steep = np.where(own > beyond, 6.0 * inner * (1.0 - inner) * self._span * np.sign(mean), 0.0)
                steep *= (attached - broken) * self._unit / unit
                matrix = self._response + (1.0 - apart)[:, None] * self._rise
                matrix -= steep[:, None] * self._mean_rise
                closer = min(max(before / max(wide, 1e-300), 0.3), 4.0)
                step = max(SHORTEST, step * closer * GROWTH) if step else STEP
                step = HELD if passes > MARCH else step
                change = np.linalg.solve(matrix + self._response / step, gap)
                limit = LONGEST_STEP * float((unit / self._unit).mean())
                change *= min(1.0, limit / max(float(np.abs(change).max()), 1e-12))
            before = wide
            size = float(np.abs(change).max())
            if passes <= PICARD and size > last:
                relax *= 0.6
            last = size
            lost = lost + (relax if passes <= PICARD else 1.0) * change
            # A short step is small whether or not the gap has closed.
            if size < close and (passes <= PICARD or step > 1.0 or size < 0.3 * close):
                break
        return Settled(lost=lost, attached=attached, nose=nose, apart=apart, passes=passes)
