"""What can be bought: sheets, rods, tapes, glues, motors, propellers, packs, servos and the rest.

Words: *stock* is the supplied list of typical things with a person's own files over it; an *entry* is one
thing in a file; its *key* is the name a design uses for it.
"""

from sheetlark.stock.catalogue import Stock
from sheetlark.stock.items import (
    Controller,
    Film,
    Glue,
    Hardware,
    Item,
    Linkage,
    Motor,
    Pack,
    Paper,
    Reading,
    Receiver,
    Rod,
    Servo,
    Sheet,
    StockPropeller,
    Tape,
    Wheel,
)
from sheetlark.stock.keeping import keep_motor, keep_readings
from sheetlark.stock.reading import load_stock, user_folder

__all__ = [
    "Controller",
    "Film",
    "Glue",
    "Hardware",
    "Item",
    "Linkage",
    "Motor",
    "Pack",
    "Paper",
    "Reading",
    "Receiver",
    "Rod",
    "Servo",
    "Sheet",
    "Stock",
    "StockPropeller",
    "Tape",
    "Wheel",
    "keep_motor",
    "keep_readings",
    "load_stock",
    "user_folder",
]
