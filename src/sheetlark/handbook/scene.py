"""Line pictures of sheets in space, hidden lines removed.

Every sheet and rod is drawn into a grid of depths as seen along a fixed direction; then every edge is walked in
steps of a cell, and shown where nothing in the grid lies nearer to the eye. What is left are true lines, sharp at
any size. Millimetres; picture axes x to the right, y up.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.depths import DepthGrid
from sheetlark.handbook.pieces import Floats, Item, Run

Weight = Literal["new", "there", "glue", "tape", "move", "leader"]
CORNER_RAD = math.radians(25.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stroke:
    """A run of straight lines, shape (n, 2) [mm on the model's scale]."""

    weight: Weight
    points: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A number in a ring: where it stands and the spot it points to; the two are equal where it sits on the part.

    room_mm : how far the part reaches round the spot, on the model's scale [mm]
    """

    text: str
    at: tuple[float, float]
    points_to: tuple[float, float]
    room_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """A finished picture.

    box : x and y from, x and y to, of everything but the labels [mm]
    """

    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    box: tuple[float, float, float, float]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height on the model's scale. [mm]."""
        x0, y0, x1, y1 = self.box
        return x1 - x0, y1 - y0


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """Where one looks from: to the side of the nose (positive: starboard) and above the horizon. [rad]."""

    round_rad: float = math.radians(35.0)
    above_rad: float = math.radians(28.0)

    def axes(self) -> Floats:
        """Rows: right, up, and towards the eye, in geometry axes."""
        # the nose points along -x; the eye stands ahead of it, to starboard, above
        towards = np.array(
            [
                -math.cos(self.above_rad) * math.sin(self.round_rad),
                math.cos(self.above_rad) * math.cos(self.round_rad),
                math.sin(self.above_rad),
            ]
        )
        right = np.cross([0.0, 0.0, 1.0], towards)
        right = right / np.linalg.norm(right)
        return np.stack([right, np.cross(towards, right), towards])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """An item in a picture: how it is drawn, and how far it is moved out of its place. [mm]."""

    item: Item
    weight: Literal["new", "there"]
    moved_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    labelled: bool = True


class _Plate:
    """One flat piece in the picture's axes: its two faces and walls."""

    __slots__ = ("faces", "rings", "turn")

    def __init__(self, outline: Floats, holes: tuple[Floats, ...], matrix: Floats, thickness: float) -> None:
        half = 0.5 * thickness
        self.rings = [_slim(outline), *(_slim(h) for h in holes)]
        self.faces = []
        for w in (half, -half):
            place = matrix[:3, 3] + w * matrix[:3, 2]
            self.faces.append([ring @ matrix[:3, :2].T + place for ring in self.rings])
        self.turn = matrix[:3, :3]


def _slim(ring: Floats) -> Floats:
    """A ring with points that hardly bend it left out (0.1 mm)."""
    from shapely.geometry import Polygon

    simple: Any = Polygon(ring).simplify(0.1)
    slim = np.asarray(simple.exterior.coords)[:-1, :2]
    return np.asarray(slim if len(slim) >= 3 else ring, dtype=np.float64)


def bars(item: Item) -> list[tuple[Floats, tuple[Floats, ...], Floats, float]]:
    """A rod as flat bars, one for each straight stretch."""
    assert item.rod is not None
    wide, thick = max(item.rod.width_mm, 0.8), max(item.rod.height_mm, 0.8)
    found: list[tuple[Floats, tuple[Floats, ...], Floats, float]] = []
    for a, b in itertools.pairwise(np.asarray(item.rod.points_mm, dtype=np.float64)):
        length = float(np.linalg.norm(b - a))
        if length < 1e-6:
            continue
        along = (b - a) / length
        side = np.cross([0.0, 0.0, 1.0], along)
        if np.linalg.norm(side) < 1e-6:
            side = np.array([1.0, 0.0, 0.0])
        side = side / np.linalg.norm(side)
        matrix = np.eye(4)
        matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = along, side, np.cross(along, side)
        matrix[:3, 3] = a
        outline = np.array([[0, -wide / 2], [length, -wide / 2], [length, wide / 2], [0, wide / 2]])
        found.append((outline, (), matrix, thick))
    return found


def draw(
    shown: Iterable[Shown],
    *,
    glue: Iterable[tuple[str, Run]] = (),
    moves: Iterable[tuple[tuple[float, float, float], tuple[float, float, float]]] = (),
    eye: Eye | None = None,
    labels: bool = True,
) -> Picture:
    """Draw items as seen from an eye far away.

    Parameters
    ----------
    glue : iterable of (held, run)
        Joint lines, "glue" or "tape", drawn over everything.
    moves : iterable of pairs of points
        Arrows from where something is shown to where it goes, geometry axes. [mm]
    """
    axes = (eye or Eye()).axes()
    items = list(shown)
    plates: list[tuple[int, _Plate]] = []
    for k, one in enumerate(items):
        raw = (
            [(p.outline, p.holes, p.matrix, one.item.thickness_mm) for p in one.item.pieces]
            if one.item.part is not None
            else bars(one.item)
        )
        for outline, holes, matrix, thickness in raw:
            turned = np.eye(4)
            turned[:3, :3] = axes @ matrix[:3, :3]
            turned[:3, 3] = axes @ (matrix[:3, 3] + np.asarray(one.moved_mm))
            plates.append((k, _Plate(outline, holes, turned, thickness)))
    runs = [(held, np.asarray(run, dtype=np.float64) @ axes.T) for held, run in glue]
    arrows = [(np.asarray(a) @ axes.T, np.asarray(b) @ axes.T) for a, b in moves]
    corners = np.concatenate([ring for _, p in plates for face in p.faces for ring in face])
    grid = DepthGrid(corners[:, :2].min(axis=0), corners[:, :2].max(axis=0))
    for k, plate in plates:
        for face in plate.faces:
            grid.fill(face, k)
    grid.walls([(top, low, k) for k, plate in plates for top, low in zip(*plate.faces, strict=True)])
    strokes = _edges(items, plates, grid)
    for held, run in runs:
        strokes.append(Stroke(weight="tape" if held == "tape" else "glue", points=run[:, :2].copy()))
    for a, b in arrows:
        strokes.append(Stroke(weight="move", points=np.stack([a[:2], b[:2]])))
    every = np.concatenate([s.points for s in strokes]) if strokes else corners[:, :2]
    low, high = every.min(axis=0), every.max(axis=0)
    return Picture(
        strokes=tuple(strokes),
        labels=_labels(items, grid) if labels else (),
        box=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
    )


def _edges(items: list[Shown], plates: list[tuple[int, _Plate]], grid: DepthGrid) -> list[Stroke]:
    lowest = grid.lowest()
    shared = _shared_edges(plates)
    found: dict[str, list[Floats]] = {"new": [], "there": []}
    for number, (k, plate) in enumerate(plates):
        segments = _turned_to_the_eye(plate)
        keep = [s for s in segments if (number, _key(s)) not in shared]
        found[items[k].weight] += _seen(keep, grid, lowest)
    strokes = []
    weights: tuple[Weight, ...] = ("there", "new")
    for weight in weights:
        strokes += [Stroke(weight=weight, points=run) for run in _joined(found[weight])]
    return strokes


def _turned_to_the_eye(plate: _Plate) -> list[tuple[Floats, Floats]]:
    """A plate's edges, but those between two faces that both look away: no grid is needed to know these hidden.

    A grid alone cannot tell them: where a wall is seen at a glance, its far edge lies within a cell of the near one.
    """
    kept: list[tuple[Floats, Floats]] = []
    near = (bool(plate.turn[2, 2] > 0.0), bool(plate.turn[2, 2] < 0.0))
    for r, ring in enumerate(plate.rings):
        top, bottom = plate.faces[0][r], plate.faces[1][r]
        walls, upright = walls_seen(ring, plate.turn, hole=r > 0)
        for face, towards in zip((top, bottom), near, strict=True):
            ends = np.roll(face, -1, axis=0)
            kept += [(face[i], ends[i]) for i in range(len(face)) if towards or walls[i]]
        kept += [(top[i], bottom[i]) for i in np.flatnonzero(upright)]
    return kept


def walls_seen(
    ring: Floats, turn: Floats, *, hole: bool
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which walls of a plate look at the eye, and which of its edges across the thickness can be drawn.

    Parameters
    ----------
    ring : array of shape (n, 2)
        A rim of the plate, either way round. [mm]
    turn : array of shape (3, 3)
        From the plate's axes to the picture's; the picture's third axis points at the eye.
    hole : bool
        Solid lies outside the ring.

    Returns
    -------
    walls : array of n bool
        The wall from point i to the next looks at the eye.
    upright : array of n bool
        At point i a corner, or the limit between walls that look at the eye and walls that look away.
    """
    following = np.roll(ring, -1, axis=0)
    area = float((ring[:, 0] * following[:, 1] - ring[:, 1] * following[:, 0]).sum())
    ahead = following - ring
    out = np.column_stack([ahead[:, 1], -ahead[:, 0]]) * (1.0 if (area > 0.0) != hole else -1.0)
    walls = out @ turn[2, :2] > 1e-9
    before = np.roll(walls, 1)
    return walls, ((turns(ring) > CORNER_RAD) & (walls | before)) | (walls != before)


def turns(ring: Floats) -> Floats:
    """How far a ring turns at each of its n points, shape (n,). [rad]."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))


def _key(segment: tuple[Floats, Floats]) -> tuple[float, ...]:
    middle = 0.5 * (segment[0] + segment[1])
    return tuple(np.round(middle / 1.5).tolist())


def _shared_edges(plates: list[tuple[int, _Plate]]) -> set[tuple[int, tuple[float, ...]]]:
    """Edges between two flat stretches of one bent item: no edges at all, but where it bends."""
    where: dict[tuple[int, tuple[float, ...]], set[int]] = {}
    for number, (k, plate) in enumerate(plates):
        segments = [
            segment
            for face in plate.faces
            for segment in zip(face[0], np.roll(face[0], -1, axis=0), strict=True)
        ]
        for segment in (*segments, *zip(plate.faces[0][0], plate.faces[1][0], strict=True)):
            where.setdefault((k, _key(segment)), set()).add(number)
    return {(n, key) for (_, key), numbers in where.items() if len(numbers) > 1 for n in numbers}


def _seen(segments: list[tuple[Floats, Floats]], grid: DepthGrid, lowest: Floats) -> list[Floats]:
    """The stretches of edges that nothing hides, each of shape (2, 2)."""
    if not segments:
        return []
    a, b = np.array([s[0] for s in segments]), np.array([s[1] for s in segments])
    length = np.linalg.norm((b - a)[:, :2], axis=1)
    counts = np.maximum(1, np.ceil(length / grid.cell).astype(int))
    which = np.repeat(np.arange(len(a)), counts)
    share = np.concatenate([(np.arange(n) + 0.5) / n for n in counts])
    p = a[which] + share[:, None] * (b - a)[which]
    cells = np.rint(grid.at(p[:, :2])).astype(int)
    shows = p[:, 2] >= lowest[cells[:, 1], cells[:, 0]] - max(0.9, 1.2 * grid.cell)
    found = []
    start = 0
    for i, n in enumerate(counts):
        row = shows[start : start + n]
        start += n
        if not row.any():
            continue
        change = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8)))
        for first, last in zip(change[::2], change[1::2], strict=True):
            if last - first < 2 and n > 3:
                continue  # a single cell is the grid's grain, not a line
            ends = np.array([first / n, last / n])[:, None]
            found.append((a[i] + ends * (b[i] - a[i]))[:, :2])
    return found


def _joined(runs: list[Floats]) -> list[Floats]:
    """Stretches that meet end to end, as long runs; doubles dropped."""
    if not runs:
        return []
    import shapely
    from shapely.geometry import LineString, MultiLineString

    lines = [LineString(np.round(run, 2)) for run in runs]
    merged = shapely.line_merge(
        shapely.unary_union(MultiLineString([line for line in lines if line.length > 0.05]))
    )
    parts = list(getattr(merged, "geoms", [merged]))
    return [
        np.asarray(part.simplify(0.03).coords)[:, :2]
        for part in parts
        if not part.is_empty and part.length > 0.3
    ]


def _labels(items: list[Shown], grid: DepthGrid) -> tuple[Label, ...]:
    """A number on every numbered item, where most of it can be seen."""
    from scipy.ndimage import distance_transform_edt

    made = []
    for k, one in enumerate(items):
        number = one.item.number
        if not number or not one.labelled:
            continue
        mask = grid.owner == k
        if mask.sum() < 12:
            continue
        rows, columns = np.nonzero(mask)
        r0, c0 = int(rows.min()), int(columns.min())
        step = 3 if mask.sum() > 6000 else 1
        room = distance_transform_edt(
            np.pad(mask[r0 : rows.max() + 1 : step, c0 : columns.max() + 1 : step], 1)
        )
        row, column = np.unravel_index(int(np.argmax(room)), room.shape)
        at = (
            float(grid.low[0] + grid.cell * (c0 + step * (int(column) - 1))),
            float(grid.low[1] + grid.cell * (r0 + step * (int(row) - 1))),
        )
        made.append(
            Label(text=str(number), at=at, points_to=at, room_mm=float(room[row, column]) * step * grid.cell)
        )
    return tuple(made)
