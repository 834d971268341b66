"""Reading what a caller states: a number is a number, a place is three of them, and both are finite."""

from __future__ import annotations

import math
import operator
from collections.abc import Mapping, Sequence

from sheetlark.errors import GeometryError

# Above this the largest matrix alone takes 200 MB and a minute (own limit).
MOST_PANELS = 5000


def number(
    what: str, value: object, *, at_most: float | None = None, positive: bool = False, unit: str = ""
) -> float:
    """Read one finite number.

    Parameters
    ----------
    what : str
        What it is, as the message names it.
    value : object
    at_most : float, optional
        Largest size allowed, either sign.
    positive : bool
        Whether 0 and below are refused.
    unit : str
        What to write behind it in the message.

    Raises
    ------
    GeometryError
    """
    try:
        own = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError) as trouble:
        raise GeometryError(f"{what} must be one number, got {value!r}") from trouble
    tail = f" {unit}" if unit else ""
    if positive and not (math.isfinite(own) and own > 0.0):
        raise GeometryError(f"{what} must be positive and finite, got {own:g}{tail}")
    if not math.isfinite(own):
        raise GeometryError(f"{what} must be finite, got {own:g}{tail}")
    if at_most is not None and abs(own) > at_most + 1e-12:
        raise GeometryError(f"{what} must stay within {at_most:.4g} either way, got {own:g}{tail}")
    return own


def triple(what: str, value: object) -> tuple[float, float, float]:
    """Read three finite numbers.

    Raises
    ------
    GeometryError
    """
    try:
        parts = list(value)  # type: ignore[call-overload]
    except TypeError as trouble:
        raise GeometryError(f"{what} must be three numbers, got {value!r}") from trouble
    if len(parts) != 3:
        raise GeometryError(f"{what} must be three numbers, got {len(parts)}")
    x, y, z = (number(what, part) for part in parts)
    return x, y, z


def count(what: str, value: object) -> int:
    """Read a whole number.

    Raises
    ------
    GeometryError
    """
    try:
        return operator.index(value)  # type: ignore[arg-type]
    except TypeError as trouble:
        raise GeometryError(f"{what} must be a whole number, got {value!r}") from trouble


def one_of(what: str, value: str, allowed: Sequence[str]) -> None:
    """Refuse a word that is not among those allowed.

    Raises
    ------
    GeometryError
    """
    if value not in allowed:
        raise GeometryError(f"{what} must be one of {', '.join(allowed)}, got {value!r}")


def angles(what: str, value: object, at_most: float) -> dict[str, float]:
    """Read angles by name. [rad].

    Raises
    ------
    GeometryError
    """
    if not isinstance(value, Mapping):
        raise GeometryError(f"{what} must be given by name, got {value!r}")
    return {str(k): number(f"{what} of {k!r}", v, at_most=at_most) for k, v in value.items()}
