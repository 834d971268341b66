"""Choosing a remedy by name and writing it: what `review --apply` does."""

from __future__ import annotations

import difflib

from sheetlark.errors import DesignError
from sheetlark.evaluation import Evaluation
from sheetlark.review.finding import Remedy
from sheetlark.review.remedies import applied, remedies_for
from sheetlark.review.reviewing import findings


def chosen_remedy(evaluation: Evaluation, wanted: str) -> Remedy:
    """The remedy meant by ``margin`` (the first of that finding) or ``margin:2`` (the second).

    Raises
    ------
    DesignError
        If there is no such finding, it has no such remedy, or the number cannot be read; the message says what there is.
    """
    name, _, number = wanted.partition(":")
    found = findings(evaluation)
    finding = next((f for f in found if f.id == name.strip()), None)
    if finding is None:
        there = ", ".join(f.id for f in found) or "none at all"
        raise DesignError(f"this design has no finding {name.strip()!r}; its findings are: {there}")
    if number.strip() and not number.strip().isdigit():
        raise DesignError(f"expected a remedy such as {name}:2, read {wanted!r}; the number counts from 1")
    remedies = remedies_for(evaluation, finding)
    if not remedies:
        raise DesignError(f"no single change that was tried clears {finding.id!r}: {finding.says}")
    place = int(number) if number.strip() else 1
    if not 1 <= place <= len(remedies):
        raise DesignError(
            f"the finding {finding.id!r} has {len(remedies)} remedies, numbered from 1; read {place}"
        )
    return remedies[place - 1]


def with_remedy(evaluation: Evaluation, remedy: Remedy) -> str:
    """The design file's text with the remedy in it; comments stay."""
    return applied(evaluation, remedy)


def line_changes(before: str, after: str) -> list[str]:
    """Each line that changed, as it was and as it is, with its number in the new text."""
    old, new = before.splitlines(), after.splitlines()
    said: list[str] = []
    for tag, a, b, c, d in difflib.SequenceMatcher(a=old, b=new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        said += [f"  - {line.strip()}" for line in old[a:b] if line.strip()]
        said += [
            f"  + {line.strip()}   (line {c + k + 1})" for k, line in enumerate(new[c:d]) if line.strip()
        ]
    return said
