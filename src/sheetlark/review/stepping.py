"""The fewest steps of a lever that clear a check, in few questions: each is an aeroplane evaluated."""

from __future__ import annotations

from collections.abc import Callable, Collection

_FLAT = 1e-3  # how much smaller the shortfall is at the end that clears it, where it does not tell how far that is


def fewest_clear(shortfall: Callable[[int], float], last: int, known: Collection[int] = ()) -> int:
    """The least number of steps at which a shortfall is no longer above 0, as if it only ever fell between them.

    Parameters
    ----------
    shortfall : callable
        Of a number of steps from 0 to `last`: above 0 at 0 and not at `last`. It is asked each number once at most.
    last : int
        The steps to the end that clears it.
    known : collection of int
        Numbers between that cost nothing to ask.

    Returns
    -------
    int
        A number at which it is not above 0, and is at the one before. Of several such numbers any may come back.

    Notes
    -----
    Inverse quadratic interpolation through both ends of the bracket and the point last left, rounded towards the end
    that clears it; halving where that neither halves the bracket nor the shortfall at the end it moves, or moves it by
    a single step: for longer, the oftener that happens, and to the end where the shortfall there is flat.
    (R. P. Brent, Algorithms for Minimization without Derivatives, 1973, ch. 4, has the same two means; from memory. His
    test of when to halve is for a continuous variable.)
    """
    asked: dict[int, float] = {}

    def at(k: int) -> float:
        if k not in asked:
            asked[k] = shortfall(k)
        return asked[k]

    good = min((k for k in known if at(k) <= 0.0), default=last)
    bad = max((k for k in known if k < good), default=0)
    left: int | None = None
    halvings, more = 0, 1
    while good - bad > 1:
        halve = halvings > 0
        k = (bad + good) // 2 if halve else _guess(bad, good, left, at)
        width, clears = good - bad, at(k) <= 0.0
        left = good if clears else bad
        bad, good = (bad, k) if clears else (k, good)
        if halve:
            halvings -= 1
        elif 2 * (good - bad) > width and (abs(k - left) == 1 or 2.0 * abs(at(k)) > abs(at(left))):
            flat = abs(at(good)) < _FLAT * at(bad)
            halvings, more = last if flat else more, 2 * more
    return good


def _guess(bad: int, good: int, left: int | None, at: Callable[[int], float]) -> int:
    """A number strictly between two, near where the shortfall passes through 0."""
    fa, fb = at(bad), at(good)
    place = bad + (good - bad) * (fa / (fa - fb) if fa > fb else 0.5)
    if left is not None:
        fc = at(left)
        if fc not in (fa, fb):
            bent = (
                bad * fb * fc / ((fa - fb) * (fa - fc))
                + good * fa * fc / ((fb - fa) * (fb - fc))
                + left * fa * fb / ((fc - fa) * (fc - fb))
            )
            place = bent if bad < bent < good else place
    up = -int(-place // 1)  # the whole number at or above it
    return min(max(up, bad + 1), good - 1)
