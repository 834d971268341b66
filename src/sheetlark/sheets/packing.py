"""Ways to put outlines on sheets. Each takes the same job and is checked by the same judge.

An outline is packed as a slightly larger, simpler shape that holds it, so a packer's work stays small and the
gap between the true outlines is never less than asked.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import IO, TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry import Polygon

Floats = NDArray[np.float64]
ShouldStop = Callable[[], bool]

SIMPLER_MM = 0.2
GAP_TOLERANCE_MM = 1e-3
WELL_FILLED = 0.80  # strip packing closes this in a fraction of a second (measured, docs/sheets.md)
_WORKER = Path(__file__).with_name("strip_worker.py")
_PATIENCE_S = 900.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """One outline to be packed.

    points : shape (n, 2), the larger, simpler shape [mm]
    turns : the turns it may take [deg]
    area_mm2 : area of the packed shape
    """

    points: Floats
    turns: tuple[int, ...]
    area_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a shape lies: turned about the origin by whole degrees, then shifted. [deg, mm]."""

    shape: int
    sheet: int
    turn_deg: int
    dx_mm: float
    dy_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The part of a sheet that may be used, and the gap to keep between parts. [mm]."""

    width_mm: float
    height_mm: float
    gap_mm: float

    @property
    def area_mm2(self) -> float:
        return self.width_mm * self.height_mm


def simpler(outline: Floats) -> Floats:
    """A shape of fewer points that holds the outline, at most 0.4 mm larger. [mm], shape (n, 2)."""
    from shapely.geometry import Polygon

    exact = Polygon(outline)
    if len(outline) <= 8:
        return np.asarray(outline, dtype=np.float64)
    grown = exact.buffer(SIMPLER_MM, join_style="mitre").simplify(0.9 * SIMPLER_MM)
    if not isinstance(grown, Polygon) or not grown.contains(exact):
        return np.asarray(outline, dtype=np.float64)
    return np.asarray(grown.exterior.coords, dtype=np.float64)[:-1]


def turned(points: Floats, turn_deg: float) -> Floats:
    """Points turned anticlockwise about the origin; quarter turns are exact."""
    quarter, rest = divmod(turn_deg, 90.0)
    if rest == 0.0:
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[int(quarter) % 4]
    else:
        c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))  # type: ignore[assignment]
    return points @ np.array([[c, s], [-s, c]], dtype=np.float64)


def fits(shape: Shape, room: Room) -> bool:
    """Whether a shape alone goes onto an empty sheet at one of its turns."""
    for turn in shape.turns:
        size = np.ptp(turned(shape.points, turn), axis=0)
        if size[0] <= room.width_mm + 1e-9 and size[1] <= room.height_mm + 1e-9:
            return True
    return False


def sound(spots: Sequence[Spot] | None, shapes: Sequence[Shape], room: Room) -> bool:
    """Whether every shape is placed once, inside the room, and no two come nearer than the gap."""
    from shapely import STRtree, distance
    from shapely.geometry import Polygon

    if spots is None or sorted(s.shape for s in spots) != list(range(len(shapes))):
        return False
    by_sheet: dict[int, list[Polygon]] = {}
    for spot in spots:
        if spot.turn_deg not in shapes[spot.shape].turns:
            return False
        moved = turned(shapes[spot.shape].points, spot.turn_deg) + np.array([spot.dx_mm, spot.dy_mm])
        low, high = moved.min(axis=0), moved.max(axis=0)
        limit = (room.width_mm + GAP_TOLERANCE_MM, room.height_mm + GAP_TOLERANCE_MM)
        if (low < -GAP_TOLERANCE_MM).any() or (high > limit).any():
            return False
        by_sheet.setdefault(spot.sheet, []).append(Polygon(moved))
    for polygons in by_sheet.values():
        tree = STRtree(polygons)
        a, b = tree.query(polygons, predicate="dwithin", distance=max(room.gap_mm - GAP_TOLERANCE_MM, 0.0))
        for i, j in zip(a, b, strict=True):
            if i < j:
                apart = float(distance(polygons[i], polygons[j]))
                if room.gap_mm > 0 and apart < room.gap_mm - GAP_TOLERANCE_MM:
                    return False
                if apart == 0.0 and polygons[i].intersection(polygons[j]).area > 1e-6:
                    return False
    return True


def shelves(shapes: Sequence[Shape], room: Room) -> list[Spot]:
    """Boxes on shelves, tallest first: the plain way that always has an answer when each shape fits alone."""
    boxes: list[tuple[int, int, Floats, Floats]] = []
    for index, shape in enumerate(shapes):
        choices = []
        for turn in shape.turns:
            points = turned(shape.points, turn)
            low, size = points.min(axis=0), np.ptp(points, axis=0)
            if size[0] <= room.width_mm + 1e-9 and size[1] <= room.height_mm + 1e-9:
                choices.append((float(size[1]), turn, low, size))
        _, turn, low, size = min(choices, key=lambda c: (c[0], c[1]))
        boxes.append((index, turn, low, size))
    boxes.sort(key=lambda b: (-float(b[3][1]), -float(b[3][0]), b[0]))
    open_shelves: list[list[float]] = []  # sheet, y, height, x filled
    tops: list[float] = []
    spots: list[Spot] = []
    for index, turn, low, (width, height) in boxes:
        shelf = next(
            (s for s in open_shelves if s[3] + width <= room.width_mm + 1e-9 and height <= s[2] + 1e-9), None
        )
        if shelf is None:
            sheet = next(
                (i for i, top in enumerate(tops) if top + height <= room.height_mm + 1e-9), len(tops)
            )
            if sheet == len(tops):
                tops.append(0.0)
            shelf = [float(sheet), tops[sheet], float(height), 0.0]
            open_shelves.append(shelf)
            tops[sheet] += float(height) + room.gap_mm
        dx, dy = shelf[3] - float(low[0]), shelf[1] - float(low[1])
        spots.append(Spot(shape=index, sheet=int(shelf[0]), turn_deg=turn, dx_mm=dx, dy_mm=dy))
        shelf[3] += float(width) + room.gap_mm
    return spots


def one_after_another(shapes: Sequence[Shape], room: Room, stop: ShouldStop) -> list[Spot] | None:
    """No-fit polygons, largest part first, sheet after sheet: quick, and leaves the last sheet the emptiest."""
    order = sorted(range(len(shapes)), key=lambda i: (-shapes[i].area_mm2, i))
    (places,) = _children([_job("sheets", [shapes[i] for i in order], room, 0, 0)], stop)
    return None if places is None else [_spot(order[int(p[0])], int(p[4]), p) for p in places]


def squeezed(
    shapes: Sequence[Shape], room: Room, sheets: int, *, seed: int, deals: int, reports: int, stop: ShouldStop
) -> list[Spot] | None:
    """Strip packing of each of a number of sheets: fuller sheets, at the price of a search.

    The parts are dealt out largest first, then every sheet is packed on its own. The first deal fills one sheet
    after another to four fifths, so that the last keeps a piece worth saving; the next gives each part to the
    sheet that is emptiest so far; later ones do so in a slightly different order.

    Returns
    -------
    list of Spot or None
        None when no deal within the work budget closed every sheet.
    """
    random = Random(seed)
    for deal in range(deals):
        weight = [s.area_mm2 * (1.0 if deal < 2 else random.uniform(0.75, 1.25)) for s in shapes]
        order = sorted(range(len(shapes)), key=lambda i: (-weight[i], i))
        hands = _dealt(order, shapes, room, sheets, uneven=deal == 0)
        if hands is None:
            continue
        jobs = [
            _job("strip", [shapes[i] for i in hand], room, seed + 1000 * deal + s, reports)
            for s, hand in enumerate(hands)
            if hand
        ]
        filled = [hand for hand in hands if hand]
        results = _children(jobs, stop, all_or_none=True)
        if all(r is not None for r in results):
            return [
                _spot(hand[int(p[0])], sheet, p)
                for sheet, (hand, places) in enumerate(zip(filled, results, strict=True))
                for p in places or ()
            ]
        if stop():
            return None
    return None


def _dealt(
    order: Sequence[int], shapes: Sequence[Shape], room: Room, sheets: int, *, uneven: bool
) -> list[list[int]] | None:
    """Which shapes go on which sheet; None where one sheet would have to hold more than its area."""
    hands: list[list[int]] = [[] for _ in range(sheets)]
    load = [0.0] * sheets
    for i in order:
        area = shapes[i].area_mm2
        choice = min(range(sheets), key=lambda s: (load[s], s))
        if uneven:
            open_sheets = (s for s in range(sheets - 1) if load[s] + area <= WELL_FILLED * room.area_mm2)
            choice = next(open_sheets, sheets - 1)
        hands[choice].append(i)
        load[choice] += area
    return None if max(load) > room.area_mm2 else hands


def _spot(shape: int, sheet: int, place: Sequence[float]) -> Spot:
    turn = round(place[1]) % 360
    return Spot(shape=shape, sheet=sheet, turn_deg=turn, dx_mm=float(place[2]), dy_mm=float(place[3]))


def _job(method: str, shapes: Sequence[Shape], room: Room, seed: int, reports: int) -> str:
    items = [{"points": s.points.tolist(), "turns": list(s.turns)} for s in shapes]
    return json.dumps(
        {
            "method": method,
            "items": items,
            "width": room.width_mm,
            "height": room.height_mm,
            "gap": room.gap_mm,
            "seed": seed,
            "reports": reports,
        }
    )


def _children(
    jobs: Sequence[str], stop: ShouldStop, *, all_or_none: bool = False, at_once: int = 2
) -> list[list[list[float]] | None]:
    """Run jobs, two at a time, each in a process of its own. A job that crashes or finds nothing gives None.

    With `all_or_none`, the first that finds nothing ends the rest: which one that is depends on the clock,
    but the outcome, nothing, does not.
    """
    answers: list[list[list[float]] | None] = [None] * len(jobs)
    waiting = list(range(len(jobs)))
    running: dict[int, tuple[subprocess.Popen[bytes], IO[bytes]]] = {}
    deadline = time.monotonic() + _PATIENCE_S
    lost = False
    try:
        while waiting or running:
            while waiting and len(running) < at_once:
                i = waiting.pop(0)
                running[i] = _begun(jobs[i])
            for i, (child, told) in list(running.items()):
                if child.poll() is None:
                    continue
                del running[i]
                answers[i] = _answer(child.returncode, told)
                lost = lost or answers[i] is None
            if stop() or time.monotonic() > deadline or (lost and all_or_none):
                return [None] * len(jobs) if all_or_none else answers
            if running:
                time.sleep(0.005)
    finally:
        for child, told in running.values():
            child.kill()
            child.wait()
            told.close()
    return answers


def _begun(job: str) -> tuple[subprocess.Popen[bytes], IO[bytes]]:
    """A child at work, and the file it tells its answer in: without a name, so that nothing stays if all are killed."""
    import tempfile

    told = tempfile.TemporaryFile()  # noqa: SIM115 - closed with its answer, or where the work is stopped
    with tempfile.TemporaryFile() as asked:
        asked.write(job.encode("ascii"))
        asked.seek(0)
        child = subprocess.Popen(
            [sys.executable, "-I", str(_WORKER)], stdin=asked, stdout=told, stderr=subprocess.DEVNULL
        )
    return child, told


def _answer(code: int, told: IO[bytes]) -> list[list[float]] | None:
    with told:
        if code != 0:
            return None
        told.seek(0)
        try:
            read = json.loads(told.read())
        except ValueError:
            return None
    return read if isinstance(read, list) else None
