"""The stock as a whole: find a thing by its key, or go through all of a kind."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeVar

from sheetlark.errors import StockError
from sheetlark.stock.items import (
    Controller,
    Film,
    Glue,
    Hardware,
    Item,
    Linkage,
    Motor,
    Pack,
    Receiver,
    Rod,
    Servo,
    Sheet,
    StockPropeller,
    Tape,
    Wheel,
)

T = TypeVar("T", bound=Item)


def _find(kind: str, key: str, items: tuple[T, ...]) -> T:
    for item in items:
        if item.key == key:
            return item
    keys = [item.key for item in items]
    near = get_close_matches(key, keys, n=1, cutoff=0.3)
    hint = f"the nearest is {near[0]!r}" if near else f"known are {', '.join(sorted(keys))}"
    raise StockError(f"no {kind} {key!r} in stock; {hint}. Add your own to a file in your stock folder.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)  # hashed by identity: it is large and read once
class Stock:
    """Everything in stock, each kind in the order its files name it.

    Each lookup raises `StockError` with the nearest known key.
    """

    sheets: tuple[Sheet, ...]
    rods: tuple[Rod, ...]
    tapes: tuple[Tape, ...]
    coverings: tuple[Film, ...]
    glues: tuple[Glue, ...]
    motors: tuple[Motor, ...]
    propellers: tuple[StockPropeller, ...]
    packs: tuple[Pack, ...]
    controllers: tuple[Controller, ...]
    servos: tuple[Servo, ...]
    receivers: tuple[Receiver, ...]
    wheels: tuple[Wheel, ...]
    linkages: tuple[Linkage, ...]
    hardware_items: tuple[Hardware, ...]

    def sheet(self, key: str) -> Sheet:
        """A flat sheet."""
        return _find("sheet", key, self.sheets)

    def rod(self, key: str) -> Rod:
        """A rod, tube, strip or wire."""
        return _find("rod", key, self.rods)

    def tape(self, key: str) -> Tape:
        """A tape."""
        return _find("tape", key, self.tapes)

    def covering(self, key: str) -> Film:
        """A covering."""
        return _find("covering", key, self.coverings)

    def glue(self, key: str) -> Glue:
        """A glue."""
        return _find("glue", key, self.glues)

    def motor(self, key: str) -> Motor:
        """A motor."""
        return _find("motor", key, self.motors)

    def propeller(self, key: str) -> StockPropeller:
        """A propeller."""
        return _find("propeller", key, self.propellers)

    def pack(self, key: str) -> Pack:
        """A pack of cells."""
        return _find("pack", key, self.packs)

    def controller(self, key: str) -> Controller:
        """A speed controller."""
        return _find("controller", key, self.controllers)

    def servo(self, key: str) -> Servo:
        """A servo."""
        return _find("servo", key, self.servos)

    def receiver(self, key: str) -> Receiver:
        """A receiver."""
        return _find("receiver", key, self.receivers)

    def wheel(self, key: str) -> Wheel:
        """A wheel."""
        return _find("wheel", key, self.wheels)

    def linkage(self, key: str) -> Linkage:
        """A push rod or the like."""
        return _find("linkage", key, self.linkages)

    def hardware(self, key: str) -> Hardware:
        """A small part."""
        return _find("hardware", key, self.hardware_items)
