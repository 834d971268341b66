"""Items in words: names, numbers and sides, as a builder says them."""

from __future__ import annotations

import numpy as np

from sheetlark.handbook.pieces import Floats, Item


def counted(items: list[Item]) -> tuple[tuple[int, str, int], ...]:
    """(number, name, how many) of each part among items, in order of number; rods last."""
    found: dict[tuple[int, str], int] = {}
    for item in items:
        key = (item.number, item.name)
        found[key] = found.get(key, 0) + 1
    ordered = sorted(found.items(), key=lambda pair: (pair[0][0] == 0, pair[0]))
    return tuple((number, name, count) for (number, name), count in ordered)


def listed(words: list[str]) -> str:
    """Words as a list in a sentence."""
    unique = list(dict.fromkeys(words))
    if len(unique) <= 1:
        return "".join(unique)
    return f"{', '.join(unique[:-1])} and {unique[-1]}"


def whence(way: Floats) -> str:
    """Where a unit comes from, by the way it would leave again."""
    words = (("behind", "ahead"), ("starboard", "port"), ("above", "below"))
    axis = int(np.argmax(np.abs(way)))
    main = words[axis][0 if way[axis] > 0 else 1]
    others = [words[k][0 if way[k] > 0 else 1] for k in range(3) if k != axis and abs(float(way[k])) > 0.35]
    return " and ".join([main, *others])


def plural(name: str) -> str:
    """A name for two of it."""
    head, comma, rest = name.partition(",")
    if head.endswith("s"):
        return name
    head = head[:-1] + "ies" if head.endswith("y") and head[-2:-1] not in "aeiou" else f"{head}s"
    return f"{head}{comma}{rest}"


def stem_of(name: str) -> str:
    """A name without its last number or side: what several of a kind share."""
    return name.split(",", maxsplit=1)[0].rstrip("0123456789 ")


def numbered(items: list[Item]) -> str:
    """Items as a phrase with their numbers: "both struts (9)"."""
    numbers = list(dict.fromkeys(str(i.number) for i in items if i.number))
    shown = f" ({', '.join(numbers)})" if numbers else ""
    if len(items) == 1:
        item = items[0]
        return f"the {side_of(item)}{item.name.replace(',', '')}{shown}"
    return f"{names_of(items)}{shown}"


def side_of(item: Item) -> str:
    """The side of one of a pair that lies off the middle, with a space behind; else nothing."""
    if item.part is None or item.part.count != 2:
        return ""
    y = float(item.centre[1])
    return "starboard " if y > 1.0 else "port " if y < -1.0 else ""


def names_of(items: list[Item]) -> str:
    """Items as a phrase without numbers: "formers 1 and 2"."""
    names = [i.name for i in items]
    if len(items) == 1:
        return f"the {side_of(items[0])}{names[0].replace(',', '')}"
    stems = {stem_of(name) for name in names}
    if len(stems) > 1:
        return listed([f"the {name}" for name in names])
    stem = stems.pop()
    tails = list(dict.fromkeys(name[len(stem) :].strip(" ,").replace(",", "") for name in names))
    if tails == [""]:
        return f"both {plural(stem)}" if len(items) == 2 else f"{len(items)} {plural(stem)}"
    return f"{plural(stem)} {listed(tails)}"
