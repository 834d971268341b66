"""The exploded view set on a sheet: every item's lines, the way it was pulled off, and its number in a balloon."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from sheetlark.handbook.board import XY, Board, Box
from sheetlark.handbook.exploded import Moved, explode
from sheetlark.handbook.pieces import Floats, Item, Model
from sheetlark.handbook.scene import Eye, Shown, bars, draw, walls_seen
from sheetlark.sheets import Layer, width_mm

EYE = Eye(round_rad=math.radians(135.0), above_rad=math.radians(15.0))
RING_MM = 2.8
NUMBER_MM = 3.4
GAP_MM = 8.0
EDGE_MM = 2.0 * RING_MM + 2.0  # room for balloons about the outermost pieces
REACH_MM = 34.0
_AWAY_MM = 1.6  # between a balloon's rim and anything it does not name


@dataclass(frozen=True, slots=True, kw_only=True)
class Balloon:
    """A number in a ring, and the spot it points to. [mm on the sheet]."""

    text: str
    at: XY
    points_to: XY


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplodedView:
    """What was set: one balloon for each number or letter, and the scale, paper over model."""

    balloons: tuple[Balloon, ...]
    scale: float


class Pieces:
    """A model taken to pieces, ready to be set into any box."""

    def __init__(self, model: Model) -> None:
        self.moved = explode(model, EYE, GAP_MM)
        bounds = np.array([m.shadow.bounds for m in self.moved])
        self.low, self.high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)

    @property
    def size_mm(self) -> XY:
        """Width and height on the model's scale. [mm]."""
        return float(self.high[0] - self.low[0]), float(self.high[1] - self.low[1])

    def set_on(self, board: Board, names: dict[int, str], box: Box) -> ExplodedView:
        """Draw them into a box of a board, numbered.

        Parameters
        ----------
        names : dict of int to str
            For each item what its balloon says; several copies share one, and one of them gets it.
        """
        import shapely

        size = self.size_mm
        scale = min((box[2] - box[0] - 2 * EDGE_MM) / size[0], (box[3] - box[1] - 2 * EDGE_MM) / size[1])
        middle = np.array([0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])])
        shift = middle - scale * 0.5 * (self.low + self.high)
        shapes: list[Any] = [shapely.transform(m.shadow, lambda p: p * scale + shift) for m in self.moved]
        axes = EYE.axes()
        for m, shape in zip(self.moved, shapes, strict=True):
            at = (axes @ m.offset_mm)[:2]
            for run in _lines(m.item, axes):
                board.line(Layer.NOTE, (run + at) * scale + shift, owner=names[m.item.index])
            for ring in getattr(shape, "geoms", [shape]):
                board.block(np.asarray(ring.exterior.coords))
        balloons = _balloons(board, self.moved, shapes, names, box)
        for run in _ways(self.moved, [*shapes, *(_rim(b) for b in balloons)], axes, scale, shift):
            board.line(Layer.ALIGN, run)
        return ExplodedView(balloons=balloons, scale=scale)


def _rim(balloon: Balloon) -> Any:
    from shapely.geometry import LineString, Point

    ring = Point(balloon.at).buffer(RING_MM)
    return (
        ring
        if balloon.at == balloon.points_to
        else ring | LineString([balloon.at, balloon.points_to]).buffer(0.1)
    )


def _lines(item: Item, axes: Floats) -> list[Floats]:
    """An item alone, hidden lines removed, picture axes. [mm]."""
    if item.part is not None and len(item.pieces) == 1:
        piece = item.pieces[0]
        return _plate((piece.outline, *piece.holes), piece.matrix, item.thickness_mm, axes)
    if item.rod is not None and len(item.rod.points_mm) == 2:
        outline, _, matrix, thickness = bars(item)[0]
        return _plate((outline,), matrix, thickness, axes)
    return [s.points for s in draw([Shown(item=item, weight="new")], eye=_Turned(axes), labels=False).strokes]


@dataclass(frozen=True, slots=True)
class _Turned(Eye):
    """An eye given by its axes."""

    own: Any = None

    def __init__(self, own: Floats) -> None:
        object.__setattr__(self, "own", own)

    def axes(self) -> Floats:
        return np.asarray(self.own)


def _plate(rings: tuple[Floats, ...], matrix: Floats, thickness: float, axes: Floats) -> list[Floats]:
    """A flat plate, exactly: the near face whole; of the far face and the walls what the near face leaves open.

    An edge of the far face shows only where its wall faces the eye, and there only outside the near face.
    """
    import shapely
    from shapely.geometry import LineString, MultiLineString, Polygon

    turn = axes @ matrix[:3, :3]
    near = 0.5 * thickness if turn[2, 2] >= 0 else -0.5 * thickness
    place = axes @ matrix[:3, 3]

    def at(ring: Floats, w: float) -> Floats:
        return np.asarray(ring @ turn[:2, :2].T + place[:2] + w * turn[:2, 2])

    thin: list[Any] = [Polygon(r).simplify(0.1) for r in rings]
    slim = [np.asarray(t.exterior.coords)[:-1, :2] for t in thin]
    front = [at(r, near) for r in slim]
    back = [at(r, -near) for r in slim]
    face: Any = Polygon(front[0], front[1:]).buffer(0)
    walls: list[LineString] = []
    for number, (ring, top, low) in enumerate(zip(slim, front, back, strict=True)):
        seen, upright = walls_seen(ring, turn, hole=number > 0)
        walls += [LineString([low[i], low[(i + 1) % len(low)]]) for i in np.flatnonzero(seen)]
        walls += [LineString([top[i], low[i]]) for i in np.flatnonzero(upright)]
    runs = [np.vstack([ring, ring[:1]]) for ring in front]
    if walls:
        left = MultiLineString(walls).difference(face.buffer(0.02))
        merged = shapely.line_merge(left) if left.geom_type == "MultiLineString" else left
        runs += [np.asarray(g.coords) for g in getattr(merged, "geoms", [merged]) if g.length > 0.4]
    return runs


def _ways(
    moved: tuple[Moved, ...], shapes: list[Any], axes: Floats, scale: float, shift: Floats
) -> list[Floats]:
    """For each item the line along which it was pulled off, where nothing stands on it."""
    from shapely import unary_union
    from shapely.geometry import LineString

    everything = unary_union(shapes).buffer(0.8)
    runs = []
    for m in moved:
        ends = [(axes @ (m.item.centre + o))[:2] * scale + shift for o in (m.base_mm, m.offset_mm)]
        if float(np.hypot(*(ends[1] - ends[0]))) < 3.0:
            continue
        left = LineString(ends).difference(everything)
        runs += [np.asarray(g.coords) for g in getattr(left, "geoms", [left]) if g.length > 1.5]
    return runs


def _balloons(
    board: Board, moved: tuple[Moved, ...], shapes: list[Any], names: dict[int, str], box: Box
) -> tuple[Balloon, ...]:
    """One balloon for each name: where it is free, near what it names, its leader across nothing else."""
    import shapely
    from shapely.geometry import LineString, Point

    tree = shapely.STRtree(shapes)
    drawn: list[Any] = []
    made: list[Balloon] = []
    choices: dict[str, list[int]] = {}
    for k, m in enumerate(moved):
        choices.setdefault(names[m.item.index], []).append(k)
    choice = [len(_spots(board, k, shapes, tree, [], box, over=False)[0]) for k in range(len(shapes))]
    # What has fewest places about it first.
    for name in sorted(choices, key=lambda n: (max(choice[k] for k in choices[n]), n)):
        best: tuple[float, Floats, Floats] | None = None
        for over in (False, True):
            for k in choices[name]:
                found = _spot(board, k, shapes, tree, drawn, box, over=over)
                if found is not None and (best is None or found[0] < best[0] - 1.0):
                    best = found
            if best is not None:
                break
        if best is None:
            k = choices[name][0]
            spot = np.asarray(shapes[k].representative_point().coords[0])
            best = (0.0, spot, spot)
        _, at, to = best
        along = to - at
        far = float(np.hypot(*along))
        if far > RING_MM:
            start = at + along / far * RING_MM
            board.line(Layer.DIMENSION, [tuple(start), tuple(to)], clear_mm=0.9)
            board.line(Layer.NOTE, _circle(to, 0.2), closed=True)
            drawn.append(LineString([start, to]).buffer(0.5))
        board.line(Layer.NOTE, _circle(at, RING_MM), closed=True)
        size = min(NUMBER_MM, NUMBER_MM * 1.45 * RING_MM / width_mm(name, NUMBER_MM, bold=True))
        board.write(name, (float(at[0]), float(at[1])), size, bold=True)
        board.block(_circle(at, RING_MM + _AWAY_MM))
        drawn.append(Point(at).buffer(RING_MM + 0.5))
        made.append(
            Balloon(text=name, at=(float(at[0]), float(at[1])), points_to=(float(to[0]), float(to[1])))
        )
    return tuple(sorted(made, key=lambda b: (len(b.text), b.text)))


def _spot(
    board: Board, k: int, shapes: list[Any], tree: Any, drawn: list[Any], box: Box, *, over: bool
) -> tuple[float, Floats, Floats] | None:
    """The best free place for a balloon of one shape: (how bad, middle, the spot in the shape)."""
    import shapely

    cost, ends = _spots(board, k, shapes, tree, drawn, box, over=over)
    if not len(cost):
        return None
    at, rim = ends[0]
    along = (rim - at) / float(np.hypot(*(rim - at)))
    inner = rim + 0.8 * along
    held = bool(shapes[k].buffer(0.05).contains(shapely.points(inner)))
    return float(cost[0]), at, inner if held else rim


def _spots(
    board: Board, k: int, shapes: list[Any], tree: Any, drawn: list[Any], box: Box, *, over: bool
) -> tuple[Floats, Floats]:
    """Every free place for a balloon of one shape, best first: how bad, shape (n,), and leaders, shape (n, 2, 2).

    over : whether the leader may run over another shape, as a last resort
    """
    import shapely

    shape = shapes[k]
    x0, y0, x1, y1 = shape.bounds
    side = 2.0 * (RING_MM + 0.5)
    about = (
        max(box[0], x0 - REACH_MM),
        max(box[1], y0 - REACH_MM),
        min(box[2], x1 + REACH_MM),
        min(box[3], y1 + REACH_MM),
    )
    found = board.places((side, side), about, step=3)
    if not len(found):
        return np.empty(0), np.empty((0, 2, 2))
    away = shapely.distance(shapely.points(found), shape)
    # A leader of some length reads best; ties go to the first found, row by row.
    cost = np.abs(away - (RING_MM + 2.6))
    order = np.argsort(cost, kind="stable")[:500]
    lines = shapely.shortest_line(shapely.points(found[order]), shape)
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    bad = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < RING_MM + 0.6
    grown = shapely.buffer(lines, 0.6, quad_segs=2)
    if not over:
        hits = tree.query(grown, predicate="intersects")
        bad[hits[0][hits[1] != k]] = True
    if drawn:
        bad[shapely.STRtree(drawn).query(grown, predicate="intersects")[0]] = True
    return cost[order][~bad], ends[~bad]


def _circle(at: Floats, radius: float) -> Floats:
    turn = np.linspace(0.0, 2.0 * np.pi, 36 if radius > 1.0 else 8, endpoint=False)
    return np.asarray(at) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
