"""Cuts made before, found again by what they were made from.

A drag changes one thing; most of a kit is cut from what it was cut from a moment ago. Every step here is a function
of content alone (outlines, places, thicknesses, solids), so the same content gives the same cut to the last bit, and
looking it up is no different from cutting it anew. What is kept is bounded: the least used goes first.

A *stamp* stands for content: sixteen bytes that two different contents do not share.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

T = TypeVar("T")
Stamp = bytes


class Kept(Generic[T]):
    """Results by their key, the least lately used forgotten first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: OrderedDict[Hashable, T] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The result of a key, made where it is not yet."""
        held = self._held
        if key in held:
            try:
                held.move_to_end(key)
                return held[key]
            except KeyError:  # another thread has just let it go
                pass
        made = make()
        held[key] = made
        while len(held) > self._most:
            try:
                held.popitem(last=False)
            except KeyError:
                break
        return made

    def peek(self, key: Hashable) -> T | None:
        """The result of a key where it is held; None where it is not."""
        return self._held.get(key)

    def clear(self) -> None:
        """Forget everything."""
        self._held.clear()

    def __len__(self) -> int:
        return len(self._held)


ALL: list[Kept[Any]] = []


def keep(most: int) -> Kept[Any]:
    """A memory that `forget` empties with the others."""
    made: Kept[Any] = Kept(most)
    ALL.append(made)
    return made


class KeptOf(Generic[T]):
    """Results by the very things they are about, which are held beside them: no other thing gets an id of theirs."""

    def __init__(self, most: int) -> None:
        self._kept: Kept[tuple[tuple[object, ...], T]] = keep(most)

    def get(
        self, about: object, make: Callable[[], T], *, also: tuple[object, ...] = (), by: Hashable = None
    ) -> T:
        """The result of a thing, made where it is not yet.

        Parameters
        ----------
        also : further things it is about, told by identity too.
        by : what else it depends on, told by content.
        """
        things = (about, *also)
        return self._kept.get((*map(id, things), by), lambda: (things, make()))[1]

    def peek(self, about: object) -> T | None:
        """The result of a thing where it is held; None where it is not."""
        held = self._kept.peek((id(about), None))
        return None if held is None else held[1]


def forget() -> None:
    """Empty every memory: the next kit is cut from nothing, as in a fresh process."""
    for each in ALL:
        each.clear()


def digest(*parts: bytes) -> Stamp:
    """One stamp of several pieces of content, each with its length."""
    made = hashlib.blake2b(digest_size=16)
    for part in parts:
        made.update(len(part).to_bytes(4, "little"))
        made.update(part)
    return made.digest()


def shape_stamp(shape: BaseGeometry | None) -> Stamp:
    """The stamp of a flat shape: its rings, point by point."""
    import shapely

    if shape is None:
        return b""

    return _SHAPES.get(shape, lambda: hashlib.blake2b(shapely.to_wkb(shape), digest_size=16).digest())


_SHAPES: KeptOf[Stamp] = KeptOf(800)
