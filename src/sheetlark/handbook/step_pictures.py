"""The picture of one building step: exactly the parts in play, and where one looks from."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.handbook.order import Stage
from sheetlark.handbook.pieces import Contact, Floats, Model
from sheetlark.handbook.scene import Eye, Picture, Shown, draw


def step_picture(model: Model, stage: Stage, contacts: list[Contact]) -> Picture:
    """What is new in a step, shown off what it joins, with its glue and the ways it goes."""
    there = [Shown(item=model.items[i], weight="there") for i in stage.onto]
    shown: list[Shown] = list(there)
    moves = []
    names_done: set[int] = set()
    low, high = _box(model, [*stage.items, *stage.onto])
    size = float(np.linalg.norm(high - low))
    for unit, way in zip(stage.units, stage.ways, strict=True):
        shift = np.zeros(3)
        if stage.onto and way is not None and not any(c.kind == "hinge" for c in contacts):
            shift = way * _apart(model, unit, stage.onto, way, size)
        for i in unit:
            item = model.items[i]
            show = item.number not in names_done or item.copy == 0
            names_done.add(item.number)
            shown.append(
                Shown(
                    item=item,
                    weight="new",
                    moved_mm=(float(shift[0]), float(shift[1]), float(shift[2])),
                    labelled=show,
                )
            )
        if float(np.linalg.norm(shift)) > 1.0:
            for c in contacts:
                if (c.host in unit or c.guest in unit) and c.runs_mm:
                    for run in (c.runs_mm[0], c.runs_mm[-1])[: 1 if len(c.runs_mm) == 1 else 2]:
                        end = 0.5 * (np.asarray(run[0]) + np.asarray(run[-1]))
                        moves.append((tuple((end + shift).tolist()), tuple(end.tolist())))
    glue = [(c.held, run) for c in contacts if c.held != "loose" for run in c.runs_mm]
    if len(moves) > 6:
        moves = moves[:: math.ceil(len(moves) / 6)]
    return draw(shown, glue=glue, moves=moves, eye=_eye(model, stage))


def _box(model: Model, indices: list[int]) -> tuple[Floats, Floats]:
    points = np.concatenate([model.items[i].points for i in indices])
    return points.min(axis=0), points.max(axis=0)


def _apart(model: Model, unit: tuple[int, ...], onto: tuple[int, ...], way: Floats, size: float) -> float:
    """How far a unit is shown off: a hand's breadth, more where it would still cover what it goes on."""
    mine = np.concatenate([model.items[i].points for i in unit]) @ way
    theirs = np.concatenate([model.items[i].points for i in onto]) @ way
    depth = float(min(np.ptp(mine), np.ptp(theirs)))
    return min(max(0.12 * size, 25.0) + 0.6 * depth, 0.45 * size)


def _eye(model: Model, stage: Stage) -> Eye:
    """From ahead, starboard and above; from below where what is new goes on from below; from port for a side."""
    ways = [w for w in stage.ways if w is not None]
    above = math.radians(30.0)
    if stage.onto and ways and all(w[2] < -0.6 for w in ways):
        above = -above
    flat = [abs(float(model.items[i].normal[2])) > 0.9 for i in (*stage.items, *stage.onto)]
    if stage.bench and all(flat):
        above = math.copysign(math.radians(50.0), above)
    around = math.radians(35.0)
    if stage.onto and ways and all(w[1] < -0.6 for w in ways):
        around = -around
    return Eye(round_rad=around, above_rad=above)
