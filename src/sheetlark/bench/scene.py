"""What the three views and the 3-D model draw: lines and plates in millimetres, as plain values for the page.

The views draw the airframe as stated; the 3-D model draws the parts as they will be cut, or, while a finger
still drags, the plates they will be cut from.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface
from sheetlark.design import Design
from sheetlark.outline import Cubic, Floats, Path, read_path
from sheetlark.parts import Kit
from sheetlark.stock import Stock

Plain = dict[str, Any]


def scene(design: Design, airframe: Airframe, stock: Stock) -> Plain:
    """Everything the three views draw."""
    body = airframe.body
    return {
        "surfaces": [_surface(s) for s in airframe.surfaces],
        "body": None
        if body is None
        else {
            "profile": _rounded(_thinned(body.profile_mm)),
            "nodes": nodes_of(read_path(body.stated.profile)),
            "width": [[_mm(x), _mm(w)] for x, w in body.stated.width],
            "length": [_mm(body.nose_m), _mm(body.tail_m)],
            "formers": _formers(design, airframe),
            "decks": [
                {
                    "start": _mm(d.start),
                    "end": _mm(d.end),
                    "height": _mm(d.height),
                    "foot": [_mm(body.heights_m(v)[1]) for v in (d.start, d.end)],
                }
                for d in body.decks
            ],
        },
        "struts": [
            {
                "lower": [_mm(v) for v in s.lower_m],
                "upper": [_mm(v) for v in s.upper_m],
                "chord": _mm(s.chord_m),
            }
            for s in airframe.struts
        ],
        "items": _items(design, stock),
        "reference": {
            "chord": _mm(airframe.reference.chord_m),
            "x": _mm(airframe.reference.leading_edge_m[0]),
            "z": _mm(airframe.reference.leading_edge_m[1]),
        },
    }


def _mm(metres: float) -> float:
    return round(1e3 * float(metres), 2)


def _rounded(points: Floats) -> list[list[float]]:
    made: list[list[float]] = np.round(points, 2).tolist()
    return made


def _thinned(points: Floats) -> Floats:
    """Curve points to a tenth of a millimetre are more than a screen shows; keep about 120."""
    step = max(1, len(points) // 120)
    return points if step == 1 else points[::step]


def nodes_of(path: Path) -> list[Plain]:
    """A path as nodes with handles: {x, y, out, in}; a handle is absent beside a straight line."""
    nodes: list[Plain] = [{"x": path.start[0], "y": path.start[1]}]
    for segment in path.segments:
        if isinstance(segment, Cubic):
            nodes[-1]["out"] = list(segment.handle_out)
            nodes.append({"x": segment.end[0], "y": segment.end[1], "in": list(segment.handle_in)})
        else:
            nodes.append({"x": segment.end[0], "y": segment.end[1]})
    first, last = nodes[0], nodes[-1]
    if path.closed and len(nodes) > 2 and abs(first["x"] - last["x"]) + abs(first["y"] - last["y"]) < 1e-6:
        if "in" in last:
            first["in"] = last["in"]
        nodes.pop()
    return nodes


def _surface(s: LiftingSurface) -> Plain:
    outline = s.points_mm
    if len(outline) > 160:
        outline = outline[:: len(outline) // 80]
    hinge = s.hinge_line()
    return {
        "name": s.name,
        "role": s.role,
        "where": list(s.where),
        "mirrored": s.mirrored,
        "line": _rounded(_placed(s, outline)),
        "hinge": None if hinge is None else _rounded(_placed(s, 1e3 * np.array(hinge))),
        "spars": [_spar_line(s, spar.at, spar.span) for spar in s.spars],
        "axes": np.round(s.axes, 6).tolist(),
        "at": [_mm(v) for v in s.at_m],
        "nodes": nodes_of(s.outline),
    }


def _placed(s: LiftingSurface, points_mm: Floats) -> Floats:
    flat = np.column_stack([points_mm, np.zeros(len(points_mm))])
    placed: Floats = 1e3 * np.asarray(s.at_m) + flat @ s.axes.T
    return placed


def _spar_line(s: LiftingSurface, at: float, span_m: float) -> list[list[float]]:
    share = min(1.0, 0.5 * span_m / s.half_span_m)
    ends = []
    for eta in (0.0, share):
        front, chord = s.chord_at(eta)
        ends.append([1e3 * (front + at * chord), 1e3 * eta * s.half_span_m])
    return _rounded(_placed(s, np.array(ends)))


def _formers(design: Design, airframe: Airframe) -> list[Plain]:
    assert design.body is not None
    assert airframe.body is not None
    found = []
    for i, former in enumerate(design.body.former):
        bottom, top = airframe.body.heights_m(former.at)
        found.append(
            {
                "where": ["body", "former", i],
                "x": _mm(former.at),
                "bottom": _mm(bottom),
                "top": _mm(top),
                "width": _mm(float(airframe.body.width_m(former.at))),
                "opening": former.opening,
            }
        )
    return found


def _items(design: Design, stock: Stock) -> list[Plain]:
    """Everything bought, with the key that places it and its size from the stock."""
    items: list[Plain] = []

    def add(
        kind: str,
        name: str,
        where: tuple[str | int, ...],
        at: Iterable[float],
        size: Iterable[float],
        *,
        pair: bool,
    ) -> None:
        items.append(
            {
                "kind": kind,
                "name": name,
                "where": list(where),
                "at": [_mm(v) for v in at],
                "size": [_mm(v) for v in size],
                "pair": pair,
            }
        )

    drive, radio, gear = design.drive, design.radio, design.gear
    if drive is not None:
        motor, propeller = stock.motor(drive.motor), stock.propeller(drive.propeller)
        round_size = (motor.body_length_m, motor.body_diameter_m, motor.body_diameter_m)
        add("motor", "motor", ("drive", "motor_at"), drive.motor_at, round_size, pair=drive.twin)
        items[-1]["disc"] = _mm(propeller.diameter_m)
        items[-1]["pusher"] = drive.pusher
        pack = stock.pack(drive.pack)
        add("pack", "battery", ("drive", "pack_at"), drive.pack_at, _box(pack), pair=False)
        items[-1]["travel"] = _mm(drive.pack_travel)
        add(
            "controller",
            "speed controller",
            ("drive", "controller_at"),
            drive.controller_at,
            _box(stock.controller(drive.controller)),
            pair=drive.twin,
        )
    if radio is not None:
        add(
            "receiver",
            "receiver",
            ("radio", "receiver_at"),
            radio.receiver_at,
            _box(stock.receiver(radio.receiver)),
            pair=False,
        )
        for i, servo in enumerate(radio.servo):
            add(
                "servo",
                f"{servo.moves} servo",
                ("radio", "servo", i, "at"),
                servo.at,
                _box(stock.servo(servo.stock)),
                pair=servo.pair,
            )
    if gear is not None:
        wheel = stock.wheel(gear.wheel)
        at = (gear.at[0], gear.track / 2, gear.at[1])
        add(
            "wheel",
            "wheels",
            ("gear", "at"),
            at,
            (wheel.diameter_m, wheel.width_m, wheel.diameter_m),
            pair=True,
        )
        items[-1]["mount_z"] = _mm(gear.mount_z)
    for i, lead in enumerate(design.ballast):
        add("ballast", lead.name, ("ballast", i, "at"), lead.at, (0.012, 0.012, 0.012), pair=False)
    return items


def _box(item: Any) -> tuple[float, float, float]:
    return (item.length_m, item.width_m, item.height_m)


# The 3-D model -----------------------------------------------------------------------------------------


class Meshes:
    """Flat plates cut into triangles, each made once and known by a short name."""

    def __init__(self, most: int = 600) -> None:
        self._made: dict[str, str] = {}
        self._most = most

    def name(self, outline: Floats, holes: tuple[Floats, ...], thickness: float) -> str:
        """The name of a plate's mesh, made where it is new."""
        mark = hashlib.blake2b(digest_size=8)
        for ring in (outline, *holes):
            mark.update(np.round(ring, 2).tobytes())
        mark.update(str(round(thickness, 3)).encode())
        name = mark.hexdigest()
        if name not in self._made:
            while len(self._made) >= self._most:
                self._made.pop(next(iter(self._made)))
            self._made[name] = json.dumps(_plate(outline, holes, thickness), separators=(",", ":"))
        return name

    def text(self, name: str) -> str | None:
        """Its mesh as JSON, or None where it has been forgotten."""
        return self._made.get(name)


def _plate(outline: Floats, holes: tuple[Floats, ...], thickness: float) -> Plain:
    """Rings of a plate and the triangles of its face."""
    rings = [_spare(outline), *(_spare(h) for h in holes)]
    return {
        "t": round(thickness, 3),
        "rings": [np.round(r, 2).ravel().tolist() for r in rings],
        "tri": np.round(_triangles(rings), 2).ravel().tolist(),
    }


def _triangles(rings: list[Floats]) -> Floats:
    """A face cut into triangles, shape (n, 3, 2); none where it crosses itself. A bent part's are mostly plain quads."""
    from shapely import constrained_delaunay_triangles, get_coordinates
    from shapely.geometry import Polygon

    if len(rings) == 1 and len(rings[0]) == 4:
        ring = rings[0]
        run = np.roll(ring, -1, axis=0) - ring
        after = np.roll(run, -1, axis=0)
        turn = run[:, 0] * after[:, 1] - run[:, 1] * after[:, 0]
        if (turn > 0).all() or (turn < 0).all():
            return ring[[[0, 1, 2], [0, 2, 3]]]
    shape = Polygon(rings[0], rings[1:])
    if not shape.is_valid:
        return np.empty((0, 3, 2))
    found = get_coordinates(constrained_delaunay_triangles(shape))
    return np.asarray(found.reshape(-1, 4, 2)[:, :3], dtype=np.float64)


def _spare(ring: Floats) -> Floats:
    """A ring without points that a screen cannot tell from their neighbours."""
    keep, (u, v) = [0], ring[0].tolist()
    for i, (x, y) in enumerate(ring.tolist()):
        if abs(x - u) > 0.15 or abs(y - v) > 0.15:
            keep.append(i)
            u, v = x, y
    return ring[keep] if len(keep) > 2 else ring


def kit_model(kit: Kit, meshes: Meshes) -> Plain:
    """The 3-D model of real parts: which mesh stands where, and the rods."""
    return _kit_model(kit, meshes)


@lru_cache(maxsize=16)
def _kit_model(kit: Kit, meshes: Meshes) -> Plain:
    # Copies share their outlines, so each is named once.
    flats = {
        id(piece.outline): (piece, part.thickness_mm)
        for part in kit.parts
        for copy in part.copies
        for piece in copy
    }
    names = {key: meshes.name(piece.outline, piece.holes, thick) for key, (piece, thick) in flats.items()}
    parts = [
        {
            "name": part.name,
            "group": part.group,
            "number": part.number,
            "mesh": names[id(piece.outline)],
            "at": np.round(piece.matrix[:3], 4).ravel().tolist(),
        }
        for part in kit.parts
        for copy in part.copies
        for piece in copy
    ]
    rods = [
        {
            "group": rod.group,
            "points": [[round(v, 1) for v in p] for p in rod.points_mm],
            "across": round(max(rod.width_mm, rod.height_mm), 1),
        }
        for rod in kit.rods
    ]
    return {"parts": parts, "rods": rods, "real": True}


def plate_model(airframe: Airframe, meshes: Meshes) -> Plain:
    """The lifting surfaces as whole plates, for the moments before their parts are made."""
    parts: list[Plain] = []
    group = {"wing": "wing", "tailplane": "tail", "foreplane": "tail", "fin": "fin"}
    for s in airframe.surfaces:
        outline = s.points_mm[:: max(1, len(s.points_mm) // 60)]
        mesh = meshes.name(outline, (), 1e3 * s.thickness_m)
        parts.extend(
            {
                "name": s.name,
                "group": group[s.role],
                "number": 0,
                "mesh": mesh,
                "at": np.round(s.matrix(port=port)[:3], 4).ravel().tolist(),
            }
            for port in ((False, True) if s.mirrored else (False,))
        )
    return {"parts": parts, "rods": [], "real": False}
