"""What changed in a design since the pack it began from, and what the author's own model taught, in words."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from sheetlark.evaluation import Evaluation
from sheetlark.logbook import CorrectionEntry, FlightEntry, Log, Weighing
from sheetlark.logbook.advice import amount_in_words, name_of


def changelog(evaluation: Evaluation, log: Log | None, *, before: str = "", changes: str = "") -> str:
    """What changed in the design, and what the author's own model taught, newest above what was kept."""
    lines = [f"# Changes of {evaluation.design.model.name}", ""]
    if before:
        moved = differences(before, evaluation.design.source.text)
        lines.append(
            "## Changed from the design it began from" if moved else "## As the design it began from"
        )
        lines.append("")
        lines += [f"- {line}" for line in moved]
        lines.append("")
    if log is not None and log.story:
        lines += ["## Built and flown", ""]
        lines += [f"- {_told(entry)}" for entry in log.story]
        lines.append("")
    if changes.strip():
        lines += ["## Before that", "", re.sub(r"^#", "###", changes.strip(), flags=re.MULTILINE), ""]
    if len(lines) == 2:
        lines += ["First pack of this design.", ""]
    return "\n".join(lines)


def _told(entry: Any) -> str:
    if isinstance(entry, Weighing):
        what = "ready to fly" if entry.is_finished_model else " and ".join(entry.what)
        at = f", balancing at {1e3 * entry.balance_x_m:.0f} mm" if entry.balance_x_m is not None else ""
        return f"{entry.date}: weighed {what}, {1e3 * entry.mass_kg:.1f} g{at}"
    if isinstance(entry, FlightEntry):
        seen = ", ".join(s.symptom for s in entry.seen) or "as it should"
        return f"{entry.date}: flew{f' {entry.minutes:g} min' if entry.minutes else ''}: {seen}"
    if isinstance(entry, CorrectionEntry):
        return f"{entry.date}: {name_of(entry.cause)} changed by {amount_in_words(entry.cause, entry.amount)}"
    return f"{entry.date}: measured motor {entry.motor}"


def differences(before: str, after: str) -> tuple[str, ...]:
    """Values that differ between two design texts, one line each: "wing 1, span: 700 became 720"."""
    try:
        old, new = _flat(tomllib.loads(before)), _flat(tomllib.loads(after))
    except tomllib.TOMLDecodeError:
        return ()
    found = []
    for key in sorted(old.keys() | new.keys()):
        if key not in new:
            found.append(f"{key}: {_shown(old[key])} left out")
        elif key not in old:
            found.append(f"{key}: {_shown(new[key])} added")
        elif old[key] != new[key]:
            found.append(f"{key}: {_shown(old[key])} became {_shown(new[key])}")
    return tuple(found)


def _flat(value: Any, where: str = "") -> dict[str, Any]:
    if isinstance(value, dict):
        found: dict[str, Any] = {}
        for key, inner in value.items():
            found.update(_flat(inner, f"{where}, {key}" if where else key))
        return found
    if isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
        found = {}
        for number, inner in enumerate(value, start=1):
            found.update(_flat(inner, f"{where} {number}"))
        return found
    return {where: value}


def _shown(value: Any) -> str:
    text = " ".join(str(value).split())
    return text if len(text) <= 60 else text[:57] + "..."
