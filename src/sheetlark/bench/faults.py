"""Faults of a design, each at the control it belongs to."""

from __future__ import annotations

import re
from typing import Any

from sheetlark.design import Where, say
from sheetlark.design.source import key_lines

_LINE = re.compile(
    r"^(?:(?P<file>[^:\n]*):(?P<line>\d+): |(?P<only>[^:\n]*\.toml): )?(?P<words>.*)$", re.DOTALL
)


def placed_faults(text: str, message: str) -> list[dict[str, Any]]:
    """Each line of a refusal with the place in the design it is about, where that is known.

    Returns
    -------
    list of {"where", "line", "says"}
        For the page; `where` is empty for a fault of the whole.
    """
    lines = key_lines(text)
    by_words = {say(where): where for where in sorted(lines, key=len)}
    faults = []
    for row in message.splitlines():
        match = _LINE.match(row)
        assert match is not None
        words, number = match["words"], int(match["line"]) if match["line"] else None
        where: Where = ()
        head = words
        while ":" in head:
            head = head.rpartition(":")[0]
            if head in by_words:
                where = by_words[head]
                words = words[len(head) + 1 :].strip()
                break
        if not where and number is not None:
            here = [w for w, line in lines.items() if line == number]
            where = max(here, key=len, default=())
        faults.append({"where": list(where), "line": number, "says": words})
    return faults
