"""What is fitted to panels and body: firewall, nose, servo trays, braces, dowels, bolts, wire legs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank, Facet, flat_at
from sheetlark.parts.body import Shell, former_shape
from sheetlark.parts.fits import EDGE_FIT_MM
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Joint, Point3, RodPiece
from sheetlark.parts.solids import polygons
from sheetlark.stock import Stock

_PLATE_ROUND_MOTOR_MM = 4.0  # of the firewall beyond the motor's case; common practice, no source
_BOLT_MM = 3.2  # hole for an M3 screw
_WING_BOLT_MM = 4.2  # hole for a nylon M4
_DOWEL = "bamboo-4"
_NOSE_FACETS = 24
X, Y, Z = np.eye(3)


def across(x_mm: float) -> Floats:
    """The plane of a former: u to starboard, v up, seen from the rear."""
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = Y, Z, X, (x_mm, 0.0, 0.0)
    return m


def firewall(
    shell: Shell | None,
    motor: Equipment,
    axis: tuple[float, float, float],
    plate: str,
    stock: Stock,
    *,
    pusher: bool,
) -> Blank:
    """The plate behind a motor, tilted to its thrust line and drilled for it.

    Raises
    ------
    GeometryError
        If there is no room for it between the sides.
    """
    from shapely.geometry import Point, box

    item = stock.motor(motor.key)
    t = 1e3 * stock.sheet(plate).thickness_m
    face = 1e3 * np.asarray(motor.at_m)
    aft = np.asarray(axis) if pusher else -np.asarray(axis)
    size = 500.0 * item.body_diameter_m + _PLATE_ROUND_MOTOR_MM
    matrix = flat_at(face + aft * (-t / 2 if pusher else t / 2), Y - (Y @ aft) * aft, np.cross(aft, Y))
    room: Any = box(-size, -size, size, size)
    if shell is not None and abs(face[1]) < 1e-6:
        outside = face[0] - t < shell.nose - 0.01 or face[0] + t > shell.tail + 0.01
        at = min(max(float(matrix[0, 3]), shell.nose), shell.tail)
        half, low, high = former_shape(shell, at, t)
        rim = (
            shell.t if outside else -0.7
        )  # outside it covers the ends of the box; inside it stands clear of them
        inset = 0.0 if outside else shell.t + 0.7
        room = room.intersection(
            box(-half - rim - face[1], low + inset - face[2], half + rim - face[1], high - inset - face[2])
        )
    if room.is_empty or room.area < 200.0:
        raise GeometryError(
            f"the motor at x {face[0]:.0f}, z {face[2]:.0f} mm has no room for its plate between the sides; move it "
            f"or widen the body",
            ("drive", "motor_at"),
        )
    blank = Blank(
        name="firewall" if abs(face[1]) < 1e-6 else "motor plate",
        group="drive",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=room,
        facets=(Facet(None, matrix),),
        sides="one" if abs(face[1]) < 1e-6 else "pair",
        face="rear",
        where=("drive", "motor_at"),
    )
    r, n = 500.0 * item.mount_circle_m, max(2, item.mount_holes)
    angles = [math.pi / 4 + 2 * math.pi * k / n for k in range(n)]
    holes = [(0.0, 0.0, 1e3 * item.shaft_m + 4.0)]
    holes += [(r * math.cos(a), r * math.sin(a), _BOLT_MM) for a in angles]
    drill(blank, [h for h in holes if room.contains(Point(h[0], h[1]).buffer(h[2] / 2 + 0.5))])
    blank.mark("thrust", [(-size, 0.0), (size, 0.0)], "thrust line")
    return blank


def drill(blank: Blank, circles: list[tuple[float, float, float]]) -> None:
    """Round holes (u, v, diameter) through a blank."""
    from shapely.geometry import Point
    from shapely.ops import unary_union

    if circles:
        blank.take(unary_union([Point(u, v).buffer(d / 2, quad_segs=8) for u, v, d in circles]))


def doubler(former: Blank, plate: Blank, stock: Stock) -> Blank | None:
    """A frame glued behind the firewall's former, round the former's own opening; None where it has no room."""
    from shapely.geometry import Polygon, box

    t = 1e3 * stock.sheet(plate.sheet).thickness_m
    low_u, low_v, high_u, high_v = plate.shape.bounds
    mid = plate.matrix[:3, 3]
    frame: Any = box(mid[1] + low_u - 6, mid[2] + low_v - 6, mid[1] + high_u + 6, mid[2] + high_v + 6)
    frame = frame.intersection(former.shape.buffer(-8.0))
    for ring in former.shape.interiors:
        frame = frame.difference(Polygon(ring))
    frames = polygons(frame)
    if not frames or max(f.area for f in frames) < 300.0:
        return None
    return Blank(
        name="firewall doubler",
        group="drive",
        sheet=plate.sheet,
        paper="none",
        thickness=t,
        shape=max(frames, key=lambda p: p.area),
        facets=(Facet(None, across(float(former.matrix[0, 3]) + former.thickness / 2 + t / 2)),),
        face="rear",
        where=("drive", "motor_at"),
    )


def round_nose(shell: Shell, hole_mm: float, length_mm: float, centre_z: float) -> list[Blank]:
    """A blunt round nose ahead of the box: a base disc, a ring rolled from a strip, and the front piece.

    Raises
    ------
    GeometryError
        If the length leaves no ring between base and front piece, or the nose is smaller than the opening.
    """
    from shapely.geometry import Point, Polygon, box

    t, x = shell.t, shell.nose
    width = 2 * float(shell.inside(x)) + 2 * t
    low, high = shell.heights(x)
    ring = length_mm - 2 * t
    where = ("body", "nose_length")
    if ring < 3.0:
        raise GeometryError(
            f"a round nose of {length_mm:.1f} mm is too short: base and front piece take {2 * t:.1f} mm and the ring "
            f"between them at least 3 mm",
            where,
        )
    diameter = min(width, high - low)
    centre = 0.5 * (low + high)
    if diameter < hole_mm + 4 * t:
        raise GeometryError(
            f"a round nose of {diameter:.0f} mm leaves no rim round an opening of {hole_mm:.0f} mm for the motor; "
            f'widen the nose or choose nose = "flat"',
            ("body", "nose"),
        )

    def disc(name: str, x_mid: float, inner: float) -> Blank:
        shape = Point(0.0, centre).buffer(diameter / 2, quad_segs=24)
        hole = Point(0.0, centre_z).buffer(inner / 2, quad_segs=16)
        return Blank(
            name=name,
            group="body",
            sheet=shell.body.sheet,
            paper=shell.body.paper,
            thickness=t,
            shape=shape.difference(hole),
            facets=(Facet(None, across(x_mid)),),
            face="rear",
            where=where,
        )

    base = disc("nose base", x - t / 2, hole_mm)
    # The base closes the whole front of the box, its corners rounded off to the ring.
    corner = 0.2 * diameter
    front_of_box = box(-width / 2 + corner, low + corner, width / 2 - corner, high - corner).buffer(
        corner, quad_segs=8
    )
    base.shape = front_of_box.difference(Point(0.0, centre_z).buffer(hole_mm / 2, quad_segs=16))
    front = disc("nose front", x - length_mm + t / 2, max(hole_mm, diameter - 2 * t - 26.0))
    radius = diameter / 2 - t / 2
    step = 2 * math.pi / _NOSE_FACETS
    outer = radius * (step / 2) / math.sin(step / 2)
    facets = []
    reach = radius * step
    for k in range(_NOSE_FACETS):
        a = -math.pi + (k + 0.5) * step
        tangent = np.array([0.0, math.cos(a), -math.sin(a)])
        normal = np.array([0.0, math.sin(a), math.cos(a)])
        middle = np.array([x - t, 0.0, centre]) + normal * outer * math.cos(step / 2)
        u = (k + 0.5) * reach
        # Along the strip u runs round, v forward; w looks inwards, where it is scored.
        m = np.eye(4)
        m[:3, 0], m[:3, 1], m[:3, 2] = tangent, -X, np.cross(tangent, -X)
        m[:3, 3] = middle - tangent * u
        facets.append(Facet(box(k * reach - 1e-7, -1.0, (k + 1) * reach + 1e-7, ring + 1.0), m))
    strip = Blank(
        name="nose ring",
        group="body",
        sheet=shell.body.sheet,
        paper=shell.body.paper,
        thickness=t,
        shape=Polygon([(0, 0), (_NOSE_FACETS * reach, 0), (_NOSE_FACETS * reach, ring), (0, ring)]),
        facets=tuple(facets),
        face="inside",
        where=where,
    )
    for k in range(1, _NOSE_FACETS):
        strip.mark("score", [(k * reach, 0.0), (k * reach, ring)], "" if k > 1 else score_note(radius, t))
    return [base, strip, front]


def score_note(radius_mm: float, thickness_mm: float) -> str:
    """How to cut the scores of a bend: common practice, no source."""
    return (
        f"score to {thickness_mm / 2:.1f} mm deep through the inner paper; bends to {radius_mm:.0f} mm radius"
    )


def servo_tray(shell: Shell, servos: list[tuple[Equipment, Floats]]) -> Blank | None:
    """A plate between the sides that holds the servos of the body.

    servos : each with its (length, width, height) in mm
    """
    from shapely.geometry import Polygon

    if not servos:
        return None
    at = np.array([1e3 * np.asarray(s.at_m) for s, _ in servos])
    size = np.array([z for _, z in servos])
    x0 = float((at[:, 0] - size[:, 0] / 2).min()) - 10.0
    x1 = float((at[:, 0] + size[:, 0] / 2).max()) + 10.0
    z = float((at[:, 2] + size[:, 2] / 6).mean())
    x0, x1 = max(x0, shell.nose + 1), min(x1, shell.tail - 1)
    kinks = [float(x) for x in shell.inner[:, 0] if x0 < x < x1]
    x = np.array([x0, *kinks, x1])
    half = shell.inside(x) - EDGE_FIT_MM
    if float(half.min()) < 4.0:
        return None
    matrix = np.eye(4)
    matrix[:3, 3] = (0.0, 0.0, z)
    blank = Blank(
        name="servo tray",
        group="body",
        sheet=shell.body.sheet,
        paper=shell.body.paper,
        thickness=shell.t,
        shape=Polygon(np.concatenate([np.column_stack([x, half]), np.column_stack([x, -half])[::-1]])),
        facets=(Facet(None, matrix),),
        face="top",
        where=("radio", "servo"),
    )
    blank.mark("grain", [(x0 + 3, 0.0), (x1 - 3, 0.0)], "fore and aft")
    return blank


def brace(
    panel: Panel, shell: Shell | None, taken: list[tuple[float, float]], plate: str, stock: Stock
) -> Blank | None:
    """A cross-piece glued to both panels where they meet, which holds their dihedral.

    taken : stretches along x that formers and the like already fill [mm]
    """
    from shapely.geometry import Polygon

    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    x0, length = 1e3 * (surface.at_m[0] + front), 1e3 * chord
    t = 1e3 * stock.sheet(plate).thickness_m
    below = True
    half = 0.2 * 1e3 * surface.half_span_m
    for share in (0.4, 0.36, 0.44, 0.48, 0.52, 0.32, 0.56, 0.28, 0.6, 0.64, 0.68):
        x = x0 + share * length
        if any(a - 0.5 < x + t / 2 and b + 0.5 > x - t / 2 for a, b in taken):
            continue
        if shell is not None and shell.nose < x < shell.tail:
            low, high = shell.heights(x)
            below = panel.underside(x, 0.0, 1) > 0.5 * (low + high)
            half = min(half, shell.narrowest(x - t / 2, x + t / 2) - 1.0)
        if half < 12.0:
            return None
        depth = min(14.0, 0.35 * half)
        side = -1 if below else 1
        at = [panel.underside(x, y, side) for y in (half, 0.0)]  # type: ignore[arg-type]
        slack = EDGE_FIT_MM + abs(t * math.tan(surface.incidence_rad))
        edge = at[1] + side * slack
        tip = at[0] + side * slack
        flat = min(edge, tip) - depth if below else max(edge, tip) + depth
        shape = Polygon([(-half, flat), (half, flat), (half, tip), (0.0, edge), (-half, tip)])
        return Blank(
            name=f"{surface.name} brace",
            group="wing" if surface.role == "wing" else "tail",
            sheet=plate,
            paper="none",
            thickness=t,
            shape=shape.buffer(0),
            facets=(Facet(None, across(x)),),
            face="rear",
            where=(*surface.where, "dihedral"),
        )
    return None


def dowels(
    panel: Panel, shell: Shell, taken: list[tuple[float, float]], stock: Stock
) -> list[tuple[str, float, float, float]]:
    """Places of the two dowels for a banded wing: (name, x, z, diameter); ahead of and behind the wing."""
    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    x0 = 1e3 * (surface.at_m[0] + front)
    x1 = x0 + 1e3 * chord
    d = 1e3 * stock.rod(_DOWEL).outer_diameter_m
    on_top = (
        panel.underside(0.5 * (x0 + x1), 0.0, 1)
        > sum(shell.heights(min(max(0.5 * (x0 + x1), shell.nose), shell.tail))) / 2
    )
    found = []
    for name, start, step in (("front", x0 - 10.0, -2.0), ("rear", x1 + 10.0, 2.0)):
        x = start
        for _ in range(16):
            if all(not (a - d < x < b + d) for a, b in taken):
                break
            x += step
        if not shell.nose + 8.0 < x < shell.tail - 8.0:
            raise GeometryError(
                f"there is no body {'ahead of' if name == 'front' else 'behind'} {surface.name!r} for its dowel at "
                f"x {x:.0f} mm; move the wing, or hold it with bolts",
                (*surface.where, "held"),
            )
        low, high = shell.heights(x)
        z = high - shell.t - 8.0 if on_top else low + shell.t + 8.0
        found.append((name, x, z, d))
    return found


def dowel_parts(
    panel: Panel, shell: Shell, side: Blank, place: tuple[str, float, float, float], plate: str, stock: Stock
) -> tuple[RodPiece, Blank, Joint]:
    """A dowel through both sides, the holes for it, and the doubler inside each side."""
    from shapely.geometry import Point, box

    name, x, z, d = place
    t = 1e3 * stock.sheet(plate).thickness_m
    outer = float(shell.inside(x)) + shell.t
    tip = outer + 9.0
    rod = RodPiece(
        name=f"{panel.surface.name} dowel, {name}",
        key=_DOWEL,
        group="wing",
        points_mm=((x, -tip, z), (x, tip, z)),
        width_mm=d,
        height_mm=d,
    )
    facet = min(
        side.facets,
        key=lambda f: (
            0.0
            if f.region is None
            else f.region.distance(Point(float(shell.bend.develop(np.array([x]))[0]), z))
        ),
    )
    u = float(shell.bend.develop(np.array([x]))[0])
    drill(side, [(u, z, d + 0.3)])
    inner = facet.matrix.copy()
    inner[:3, 3] = facet.matrix[:3, 3] + facet.matrix[:3, 2] * (shell.t / 2 + t / 2 + EDGE_FIT_MM)
    blank = Blank(
        name=f"dowel doubler, {name}",
        group="body",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=box(u - 9.0, z - 7.0, u + 9.0, z + 7.0),
        facets=(Facet(None, inner),),
        sides="pair",
        face="inside",
        where=(*panel.surface.where, "held"),
    )
    drill(blank, [(u, z, d + 0.3)])
    ends: tuple[Point3, ...] = ((x, -outer, z), (x, outer, z))
    return (
        rod,
        blank,
        Joint(kind="dowel", first=side.name, second=rod.name, held="loose", runs_mm=(ends,), fit_mm=0.3),
    )


def bolt_plate(
    panel: Panel,
    shell: Shell,
    share: float,
    name: str,
    taken: list[tuple[float, float]],
    plate: str,
    stock: Stock,
) -> Blank | None:
    """A plate across the body under a bolted wing, with two bolt holes; the wing gets the same holes."""
    from shapely.geometry import box

    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    u = 1e3 * (front + share * chord)
    t = 1e3 * stock.sheet(plate).thickness_m
    m = surface.matrix()
    root = np.eye(4)
    i = surface.incidence_rad
    root[:3, 0], root[:3, 1], root[:3, 2] = (math.cos(i), 0, -math.sin(i)), Y, (math.sin(i), 0, math.cos(i))
    root[:3, 3] = m[:3, 3]
    x = float((root @ np.array([u, 0, 0, 1.0]))[0])
    for _ in range(20):
        if all(not (a - 10.5 < x < b + 10.5) for a, b in taken):
            break
        x, u = x + (2.0 if share < 0.5 else -2.0), u + (2.0 if share < 0.5 else -2.0)
    low, high = shell.heights(min(max(x, shell.nose), shell.tail))
    below = panel.underside(x, 0.0, 1) > 0.5 * (low + high)
    half = shell.narrowest(x - 10, x + 10) - EDGE_FIT_MM
    if half < 12.0:
        return None
    w = (t / 2 + panel.fixed.thickness / 2 + 0.2) / max(math.cos(surface.dihedral_rad), 0.5)
    root[:3, 3] = root[:3, 3] + root[:3, 2] * (-w if below else w)
    blank = Blank(
        name=f"{surface.name} bolt plate, {name}",
        group="body",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=box(u - 10.0, -half, u + 10.0, half),
        facets=(Facet(None, root),),
        face="top",
        where=(*surface.where, "held"),
    )
    y = min(12.0, half / 2)
    drill(blank, [(u, y, _WING_BOLT_MM), (u, -y, _WING_BOLT_MM)])
    drill(
        panel.fixed,
        [(u, y, _WING_BOLT_MM + 0.4), *([(u, -y, _WING_BOLT_MM + 0.4)] if panel.one_piece else [])],
    )
    return blank


def tail_skid(shell: Shell, plate: str, stock: Stock) -> tuple[Blank, tuple[Floats, Floats]] | None:
    """A skid under the tail, and the run of its upper edge that becomes a tab; None where the tail is too short.

    It slopes back from the body's underside, 40 mm long and 14 mm deep: common practice, no source.
    """
    from shapely.geometry import Polygon

    x1 = shell.tail - 0.12 * (shell.tail - shell.nose)
    x0 = x1 - 40.0
    if x0 < 0.5 * (shell.nose + shell.tail):
        return None
    (z0, _), (z1, _) = shell.heights(x0), shell.heights(x1)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = X, Z, -Y
    blank = Blank(
        name="tail skid",
        group="gear",
        sheet=plate,
        paper="none",
        thickness=1e3 * stock.sheet(plate).thickness_m,
        shape=Polygon([(x0, z0 + 3), (x1, z1 + 3), (x1 + 4, z1 - 14), (x1 - 6, z1 - 14)]),
        facets=(Facet(None, matrix),),
        face="port side",
        where=("gear", "skid"),
    )
    share = 0.3
    a, b = np.array([x0, z0]), np.array([x1, z1])
    return blank, (a + share * (b - a), b - share * (b - a))
