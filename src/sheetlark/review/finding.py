"""What a review says: findings, each with its figures, and the remedies that clear it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sheetlark.design import Where

Severity = Literal["fault", "caution", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One value of the design file to set; None removes it."""

    where: Where
    value: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """The smallest change found, by solving the model again, that clears a finding.

    says : what to do, in one sentence
    changes : what it writes into the design file
    moves : what else it moves, in words, with figures
    brings : cautions it raises that were not there before, by their ids; a fault it never brings
    """

    says: str
    changes: tuple[Change, ...]
    moves: str = ""
    brings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing a builder should know.

    id : stable name
    severity : a fault will not fly or cannot be built; a caution is risky; a note is worth knowing
    says : one sentence
    because : the reason with its figures
    value, limit : the figure found and the figure it is held against, in `unit`
    probability : that it is so, given the spreads; None where no spread is known
    likelihood : the same in words, may be empty
    """

    id: str
    severity: Severity
    says: str
    because: str
    value: float
    limit: float
    unit: str
    probability: float | None = None
    likelihood: str = ""
    remedies: tuple[Remedy, ...] = ()
