"""What a new wing, former, servo and so on begins as: something that fits the design it joins.

Places are in millimetres, as a person would write them; the person then moves them.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

from sheetlark.airframe import airframe
from sheetlark.design import Design, Where
from sheetlark.errors import DesignError, SheetlarkError
from sheetlark.stock import Stock

Changes = dict[Where, object]


def addition(design: Design, where: Where, stock: Stock) -> Changes:
    """The changes that add one thing to a list, or a table that is missing.

    Raises
    ------
    DesignError
        If nothing can be added there.
    """
    keys = tuple(p for p in where if isinstance(p, str))
    maker = _MAKERS.get(keys)
    if maker is None:
        raise DesignError(f"nothing can be added at {'.'.join(keys)}")
    holder = _held(design, where)
    values = maker(design, where, stock)
    if isinstance(holder, tuple):
        return {(*where, len(holder), key): value for key, value in values.items()}
    return {(*where, key): value for key, value in values.items()}


def _held(design: Design, where: Where) -> Any:
    here: Any = design
    for part in where:
        here = here[part] if isinstance(part, int) else getattr(here, part)
    return here


def _mm(metres: float) -> float | int:
    value = round(1e3 * metres, 1)
    return int(value) if value == int(value) else value


def _unique(base: str, taken: list[str]) -> str:
    name, count = base, 2
    while name in taken:
        name, count = f"{base} {count}", count + 1
    return name


def _body_at(design: Design, stock: Stock, x: float) -> tuple[float, float]:
    """Lowest and highest of the body at a station, or 0 without a body. [m]."""
    try:
        body = airframe(design, stock).body
        return (0.0, 0.0) if body is None else body.heights_m(min(max(x, body.nose_m), body.tail_m))
    except SheetlarkError:
        return (0.0, 0.0)


def _length(design: Design, stock: Stock) -> tuple[float, float]:
    try:
        body = airframe(design, stock).body
    except SheetlarkError:
        body = None
    return (0.0, 0.4) if body is None else (body.nose_m, body.tail_m)


def _wing(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    first = design.wing[0]
    root = first.root_chord or 0.15
    x = first.at[0] + 0.02
    bottom, top = _body_at(design, stock, x + 0.5 * root)
    below = any(w.at[1] < 0.5 * (bottom + top) for w in design.wing)
    return {
        "name": _unique("upper wing" if below else "lower wing", [w.name for w in design.wing]),
        "at": [_mm(x), _mm(top if below else bottom)],
        "span": _mm(first.span or 0.6),
        "root_chord": _mm(root),
        "tip_chord": _mm(first.tip_chord or root),
        "tip_roundness": round(first.tip_roundness, 3),
    }


def _tailplane(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    _, tail = _length(design, stock)
    x = tail - 0.12
    return {
        "at": [_mm(x), _mm(_body_at(design, stock, x + 0.05)[1])],
        "span": 280,
        "root_chord": 110,
        "tip_chord": 90,
    }


def _fin(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    _, tail = _length(design, stock)
    x = tail - 0.12
    return {
        "name": _unique("fin", [f.name for f in design.fin]),
        "at": [_mm(x), _mm(_body_at(design, stock, x + 0.05)[1])],
        "height": 100,
        "root_chord": 110,
        "tip_chord": 70,
        "sweep": 20,
    }


def _body(design: Design, _where: Where, _stock: Stock) -> dict[str, Any]:
    z = _mm(design.wing[0].at[1])
    return {
        "profile": f"M 0 {z + 5} L 120 {z + 20} L 500 {z + 5} L 500 {z - 10} L 150 {z - 40} L 0 {z - 25} Z",
        "width": [[0, 46], [150, 56], [500, 16]],
    }


def _former(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    """In the middle of the longest bay without one."""
    nose, tail = _length(design, stock)
    assert design.body is not None
    places = sorted([nose, *(f.at for f in design.body.former), nose + 0.8 * (tail - nose)])
    a, b = max(itertools.pairwise(places), key=lambda pair: pair[1] - pair[0])
    return {"at": _mm(round(0.5 * (a + b), 3)), "opening": 0.5}


def _deck(start: float, end: float) -> Callable[[Design, Where, Stock], dict[str, Any]]:
    def make(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
        nose, tail = _length(design, stock)
        return {
            "start": _mm(round(nose + start * (tail - nose), 3)),
            "end": _mm(round(nose + end * (tail - nose), 3)),
            "height": 12,
        }

    return make


def _strut(design: Design, _where: Where, _stock: Stock) -> dict[str, Any]:
    names = [w.name for w in sorted(design.wing, key=lambda w: w.at[1])]
    if len(names) < 2 and design.body is None:
        raise DesignError("a strut joins two wings, or the body and a wing; add one of them first")
    joins = [names[0], names[-1]] if len(names) > 1 else ["body", names[0]]
    half = 0.5 * min(w.span or 0.6 for w in design.wing)
    return {"joins": joins, "y": _mm(round(0.7 * half, 3)), "place": 0.45, "chord": 40}


def _gear(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    wing = design.wing[0]
    x = wing.at[0]
    bottom, _ = _body_at(design, stock, x)
    return {"at": [_mm(x), _mm(bottom - 0.06)], "track": 170, "mount_z": _mm(bottom)}


def _drive(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    nose, _ = _length(design, stock)
    return {
        "motor": stock.motors[0].key,
        "propeller": stock.propellers[0].key,
        "pack": stock.packs[0].key,
        "controller": stock.controllers[0].key,
        "motor_at": [_mm(nose + 0.004), 0, 0],
        "pack_at": [_mm(nose + 0.065), 0, 0],
        "pack_travel": 30,
        "controller_at": [_mm(nose + 0.04), 0, 0],
    }


def _radio(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    nose, tail = _length(design, stock)
    return {
        "receiver": stock.receivers[0].key,
        "receiver_at": [_mm(round(nose + 0.3 * (tail - nose), 3)), 0, 0],
    }


def _servo(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    nose, tail = _length(design, stock)
    moved = {s.moves for s in design.radio.servo} if design.radio else set()
    wanted = [
        *(["elevator"] if design.tailplane and design.tailplane.elevator else []),
        *(["rudder"] if any(f.rudder for f in design.fin) else []),
        *(w.aileron.role for w in design.wing if w.aileron),
    ]
    moves = next((w for w in wanted if w not in moved), "elevator")
    x = round(nose + 0.42 * (tail - nose), 3)
    return {"stock": stock.servos[0].key, "moves": moves, "at": [_mm(x), 12, 0], "push_rod_length": 200}


def _ballast(design: Design, _where: Where, stock: Stock) -> dict[str, Any]:
    nose, _ = _length(design, stock)
    return {
        "name": _unique("ballast", [b.name for b in design.ballast]),
        "mass": "10 g",
        "at": [_mm(nose + 0.01), 0, 0],
    }


def _decal(design: Design, _where: Where, _stock: Stock) -> dict[str, Any]:
    wing = design.wing[0]
    half = 0.5 * (wing.span or 0.6)
    return {
        "name": _unique("decal", [d.name for d in design.decal]),
        "on": wing.name,
        "at": [_mm(wing.at[0] + 0.05), _mm(round(0.6 * half, 3))],
        "size": [40, 60],
    }


def _spar(design: Design, where: Where, stock: Stock) -> dict[str, Any]:
    holder = _held(design, where[:-1])
    span = holder.span or 0.4
    strip = next((r.key for r in stock.rods if "strip" in r.key), stock.rods[0].key)
    return {"rod": strip, "at": 0.3, "span": _mm(round(0.8 * span, 3))}


def _hinged(**stated: Any) -> Callable[[Design, Where, Stock], dict[str, Any]]:
    return lambda _design, _where, _stock: dict(stated)


_MAKERS: dict[tuple[str, ...], Callable[[Design, Where, Stock], dict[str, Any]]] = {
    ("wing",): _wing,
    ("wing", "spar"): _spar,
    ("wing", "aileron"): _hinged(chord=0.25, start=0.45, end=0.95, up=20, down=15),
    ("tailplane",): _tailplane,
    ("tailplane", "elevator"): _hinged(chord=0.35, up=18, down=18),
    ("tailplane", "spar"): _spar,
    ("fin",): _fin,
    ("fin", "rudder"): _hinged(chord=0.4, up=25, down=25),
    ("body",): _body,
    ("body", "former"): _former,
    ("body", "fore_deck"): _deck(0.03, 0.18),
    ("body", "aft_deck"): _deck(0.4, 0.75),
    ("strut",): _strut,
    ("gear",): _gear,
    ("drive",): _drive,
    ("radio",): _radio,
    ("radio", "servo"): _servo,
    ("ballast",): _ballast,
    ("decal",): _decal,
}
