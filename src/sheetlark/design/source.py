"""Where in the text of a design file each key stands, so that a message can name the line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

Where = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(
    r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*="""
)


def key_lines(text: str) -> dict[Where, int]:
    """Map each key and table of a TOML text to its line, counted from 1. Multi-line strings are skipped."""
    lines: dict[Where, int] = {}
    counts: dict[Where, int] = {}
    table: Where = ()
    fence = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if fence:
            if fence in line:
                fence = ""
            continue
        header = _HEADER.match(line)
        if header and not _KEY.match(line):
            table = _resolve(_split(header[2]), counts, is_array=header[1] == "[[")
            lines.setdefault(table, number)
            continue
        key = _KEY.match(line)
        if key:
            path = table + _split(key[1])
            for end in range(len(table) + 1, len(path) + 1):
                lines.setdefault(path[:end], number)
            rest = line[key.end() :]
            for quote in ('"""', "'''"):
                if rest.count(quote) == 1:
                    fence = quote
            # Keys of an inline table stand on the same line as the table.
            for inner in re.findall(r"[{,]\s*([A-Za-z0-9_-]+)\s*=", rest):
                lines.setdefault((*path, inner), number)
    return lines


def _split(dotted: str) -> Where:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _resolve(names: Where, counts: dict[Where, int], *, is_array: bool) -> Where:
    """Turn the names of a header into a path with array indices, counting arrays of tables."""
    path: Where = ()
    for i, name in enumerate(names):
        path = (*path, name)
        last = i == len(names) - 1
        if last and is_array:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


@dataclass(frozen=True, slots=True)
class Source:
    """The file a design was read from, and its text."""

    name: str = ""
    text: str = field(default="", repr=False)

    def line(self, where: Where) -> int | None:
        """Line of the key, or of the nearest table that holds it."""
        if not self.text:
            return None
        lines = key_lines(self.text)
        for end in range(len(where), 0, -1):
            if where[:end] in lines:
                return lines[where[:end]]
        return None

    def at(self, where: Where) -> str:
        """``mine.toml:15: wing 1, span: `` - a prefix for a message."""
        line = self.line(where)
        file = f"{self.name}:{line}: " if line else (f"{self.name}: " if self.name else "")
        spoken = say(where)
        return f"{file}{spoken}: " if spoken else file


def say(where: Where) -> str:
    """A path as a person says it: ``wing 2, aileron, chord``."""
    words: list[str] = []
    for part in where:
        if isinstance(part, int):
            words[-1] = f"{words[-1]} {part + 1}" if words else str(part + 1)
        else:
            words.append(part)
    return ", ".join(words)
