"""The whole kit: which part is made first, and what gives way to what."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from sheetlark.airframe import Airframe, BodyShape, LiftingSurface, PlacedStrut
from sheetlark.design import Gear
from sheetlark.errors import GeometryError, StockError
from sheetlark.outline import Floats
from sheetlark.parts import body as box_body
from sheetlark.parts.blank import MITRE, Blank, Facet
from sheetlark.parts.fits import EDGE_FIT_MM, SADDLE_REACH_MM, THINNEST_MM
from sheetlark.parts.panels import Panel, panel
from sheetlark.parts.part import Joint, Kit, RodPiece
from sheetlark.parts.rods import legs, spars
from sheetlark.parts.solids import Solid, polygons, union
from sheetlark.parts.struts import strut_blank, strut_tabs
from sheetlark.parts.tabs import contact, tab_into
from sheetlark.stock import Stock

Points3 = tuple[tuple[float, float, float], ...]


def make_kit(airframe: Airframe, stock: Stock) -> Kit:
    """Every flat part of an airframe, what joins them, and the rods let into them.

    Found once for each set of shapes: a change of battery or receiver does not cut anything anew.

    Raises
    ------
    GeometryError
        If a part cannot be made; the message names it, `where` its place in the design.
    StockError
        If a sheet or a rod is not in stock.
    """
    motors = tuple(e.at_m for e in airframe.equipment if e.kind == "motor")
    keys = tuple(e.key for e in airframe.equipment if e.kind == "motor")
    return _made(
        airframe.name, airframe.surfaces, airframe.body, airframe.struts, airframe.gear, motors, keys, stock
    )


@lru_cache(maxsize=64)
def _made(
    name: str,
    surfaces: tuple[LiftingSurface, ...],
    body: BodyShape | None,
    struts: tuple[PlacedStrut, ...],
    gear: Gear | None,
    motors: tuple[tuple[float, float, float], ...],
    motor_keys: tuple[str, ...],
    stock: Stock,
) -> Kit:
    bench = _Bench(surfaces, body, struts, gear, motors, motor_keys, stock)
    parts = tuple(blank.finished(i + 1) for i, blank in enumerate(bench.blanks()))
    return Kit(
        name=name, parts=parts, joints=tuple(bench.joints), rods=tuple(bench.rods), notes=tuple(bench.notes)
    )


class _Bench:
    """Where the blanks lie while they are cut to one another, in order."""

    def __init__(
        self,
        surfaces: tuple[LiftingSurface, ...],
        body: BodyShape | None,
        struts: tuple[PlacedStrut, ...],
        gear: Gear | None,
        motors: tuple[tuple[float, float, float], ...],
        motor_keys: tuple[str, ...],
        stock: Stock,
    ) -> None:
        self.stock = stock
        self.joints: list[Joint] = []
        self.rods: list[RodPiece] = []
        self.notes: list[str] = []
        self.panels = [panel(s, stock) for s in surfaces]
        self.wings = [p for p in self.panels if p.surface.role == "wing"]
        self.flats = [p for p in self.panels if p.surface.role != "fin"]
        self.fins = [p for p in self.panels if p.surface.role == "fin"]
        self.struts: list[Blank] = []
        self.box: list[Blank] = []
        self.formers: list[Blank] = []
        self.extras: list[Blank] = []
        self.shell = box_body.Shell(body) if body is not None else None
        for p in self.panels:
            rods, joints = spars(p, stock)
            self.rods += rods
            self.joints += joints
            for hinge in p.hinges:
                self._tape(hinge)
        self._stand_struts(struts)
        self._stand_fins()
        if self.shell is not None:
            self._build_box(self.shell, motors, motor_keys)
        if gear is not None:
            self._gear(gear)
        self._glue()

    def blanks(self) -> list[Blank]:
        """All of them, in the order a builder meets them."""
        found: list[Blank] = []
        for p in self.panels:
            found += p.blanks()
        return found + self.struts + self.box + self.formers + self.extras

    def _tape(self, hinge: Any) -> None:
        ends = [(hinge.moving.matrix @ np.array([*p, hinge.w, 1.0]))[:3] for p in (hinge.start, hinge.end)]
        runs = [tuple((float(x), float(y), float(z)) for x, y, z in ends)]
        if hinge.moving.sides == "pair":
            runs.append(tuple((x, -y, z) for x, y, z in runs[0]))
        self.joints.append(
            Joint(
                kind="hinge",
                first=hinge.fixed.name,
                second=hinge.moving.name,
                held="tape",
                runs_mm=tuple(runs),
                fit_mm=0.5,
            )
        )

    def _stand_struts(self, struts: tuple[PlacedStrut, ...]) -> None:
        named = {p.surface.name: p for p in self.wings}
        for strut in struts:
            inner = None
            if "body" in {strut.lower, strut.upper} and self.shell is not None:
                foot = strut.lower_m if strut.lower == "body" else strut.upper_m
                half = 500.0 * strut.chord_m
                inner = self.shell.narrowest(1e3 * foot[0] - half, 1e3 * foot[0] + half)
            blank = strut_blank(strut, named, inner)
            same = sum(b.name.split(" ", 1)[-1] == blank.name or b.name == blank.name for b in self.struts)
            if same:
                blank.name = f"{blank.name} {same + 1}"
            self.joints += strut_tabs(blank, strut, named, self.rods)
            self.struts.append(blank)

    def _stand_fins(self) -> None:
        for fin in self.fins:
            for blank in fin.blanks():
                for flat in self.flats:
                    for leftover in blank.yield_to(flat.whole):
                        _ = leftover
            fin.fixed.drop_slivers(2.0)
            for flat in self.flats:
                run = _standing_run(fin.fixed, flat)
                if run is not None:
                    joint = tab_into(fin.fixed, flat.fixed, run, flat.fixed.thickness)
                    if joint is not None:
                        self.joints.append(joint)
            for hinge in fin.hinges:
                for flat in self.flats:
                    for other in flat.hinges:
                        hinge.moving.yield_to(other.sweep(), 1.2)

    def _build_box(self, shell: box_body.Shell, motors: Any, motor_keys: Any) -> None:
        body = shell.body
        side = box_body.side(shell, self._saddles(shell))
        wholes = [p.whole for p in self.flats]
        sweeps = [h.sweep() for p in self.panels for h in p.hinges]
        rods_free: list[Solid] = []
        for solid in wholes:
            side.yield_to(solid, EDGE_FIT_MM)
        for fin in self.fins:
            if fin.surface.at_m[1] > 0:
                side.yield_to(fin.whole, EDGE_FIT_MM)
        for sweep in sweeps:
            side.yield_to(sweep, 1.2)
        side.drop_slivers(THINNEST_MM)
        decks = []
        for deck, word in ((body.stated.fore_deck, "fore deck"), (body.stated.aft_deck, "aft deck")):
            if deck is not None:
                blank = box_body.deck_blank(shell, deck, word)
                for solid in [*wholes, *(f.whole for f in self.fins), *(s.solid() for s in self.struts)]:
                    blank.yield_to(solid, EDGE_FIT_MM)
                blank.yield_to(side.solid(), 0.0)
                decks.append((deck, blank))
        covers = box_body.covers(shell)
        guests = [*wholes, *(f.whole for f in self.fins), *(s.solid() for s in self.struts), *sweeps]
        kept: list[Blank] = []
        for blank in covers:
            pieces = [blank]
            if blank.name.startswith("top"):
                for deck, _ in decks:
                    pieces = _without_range(pieces, 1e3 * deck.start, 1e3 * deck.end)
            for piece in list(pieces):
                for guest in guests:
                    try:
                        more = piece.yield_to(guest, EDGE_FIT_MM)
                    except GeometryError:
                        pieces.remove(piece)
                        break
                    pieces += [m for m in more if m.shape.area > 400.0]
            kept += _named(pieces, blank.name)
        formers = self._formers(shell, side, [b for _, b in decks], kept, guests)
        for blank in formers:
            self._tab_former(blank, side)
        self.formers = formers
        self.box = [side, *kept, *(b for _, b in decks)]
        for i, (motor, key) in enumerate(zip(motors, motor_keys, strict=True)):
            if i == 0:
                self._firewall(shell, motor, key)
        _ = rods_free

    def _saddles(self, shell: box_body.Shell) -> list[Floats]:
        found = []
        for p in self.wings:
            s = p.surface
            x_front, chord = s.chord_at(0.0)
            x0 = 1e3 * (s.at_m[0] + x_front)
            x1 = x0 + 1e3 * chord * float(np.cos(s.incidence_rad))
            mid = min(max(0.5 * (x0 + x1), shell.nose), shell.tail)
            y = float(np.interp(mid, shell.middle[:, 0], shell.middle[:, 1])) + shell.t / 2
            low, high = shell.heights(mid)
            near_top, near_low = p.underside(mid, y, -1), p.underside(mid, y, 1)
            if near_top > 0.5 * (low + high) and near_top - high < SADDLE_REACH_MM:
                fill = box_body.saddle_fill(
                    shell, lambda x, p=p, y=y: p.underside(x, y, -1), x0, x1, on_top=True
                )
            elif near_low < 0.5 * (low + high) and low - near_low < SADDLE_REACH_MM:
                fill = box_body.saddle_fill(
                    shell, lambda x, p=p, y=y: p.underside(x, y, 1), x0, x1, on_top=False
                )
            else:
                fill = None
            if fill is not None:
                found.append(fill)
        return found

    def _formers(
        self, shell: box_body.Shell, side: Blank, decks: list[Blank], covers: list[Blank], guests: list[Solid]
    ) -> list[Blank]:
        found: list[Blank] = []
        for i, station in enumerate(shell.body.formers):
            try:
                thickness = 1e3 * self.stock.sheet(station.sheet).thickness_m
            except StockError as error:
                raise GeometryError(str(error), ("body", "former", i, "sheet")) from None
            x = 1e3 * station.x_m
            probe = box_body.former(shell, station, thickness, i, None)
            room = None
            for deck in decks:
                arch = box_body.under_deck(deck.solid(), shell, x, probe.matrix, thickness)
                room = arch if arch is not None else room
            blank = probe if room is None else box_body.former(shell, station, thickness, i, room)
            for solid in [side.solid(), *(c.solid() for c in covers), *(d.solid() for d in decks)]:
                blank.yield_to(solid, EDGE_FIT_MM)
            pieces = [blank]
            for guest in guests:
                for piece in list(pieces):
                    pieces += piece.yield_to(guest, EDGE_FIT_MM)
            for piece in pieces:
                piece.drop_slivers(3.0)
                hole = box_body.opening(piece, station.opening)
                if hole is not None:
                    piece.take(hole)
            found += _named(pieces, blank.name)
        return found

    def _tab_former(self, blank: Blank, side: Blank) -> None:
        """A tab each side, a third of the edge long, through the body side."""
        low_u, low_v, high_u, high_v = blank.shape.bounds
        edge = _straight_edge(blank, high_u)
        if edge is None:
            return
        a, b = edge
        if b - a < 15.0:
            return
        length = max(8.0, (b - a) / 3)
        mid = 0.5 * (a + b)
        depth = side.thickness
        before = side.shape
        for u in (low_u, high_u):
            run = (np.array([u, mid - length / 2]), np.array([u, mid + length / 2]))
            if u == high_u:
                joint = tab_into(blank, side, run, depth)
                if joint is not None:
                    mirrored = tuple(tuple((x, -y, z) for x, y, z in r) for r in joint.runs_mm)
                    self.joints.append(replace(joint, runs_mm=(*joint.runs_mm, *mirrored)))
            else:
                from shapely.geometry import box

                tab = box(u - depth, mid - length / 2, u + 3.0, mid + length / 2)
                blank.shape = max(polygons(blank.shape.union(tab)), key=lambda p: p.area)
        _ = before, low_v, high_v

    def _firewall(self, shell: box_body.Shell, motor_m: tuple[float, float, float], key: str) -> None:
        """A plate behind the motor, drilled for it."""
        from shapely.geometry import Point, box

        try:
            motor = self.stock.motor(key)
        except StockError as error:
            raise GeometryError(str(error), ("drive", "motor")) from None
        sheet = self.stock.sheet("ply-2")
        t = 1e3 * sheet.thickness_m
        x, y, z = (1e3 * v for v in motor_m)
        pusher = x > 0.5 * (shell.nose + shell.tail)
        middle = x - t / 2 if pusher else x + t / 2
        at = min(max(middle, shell.nose), shell.tail)
        half, low, high = box_body.former_shape(shell, at, t)
        size = 1e3 * motor.body_diameter_m / 2 + 4.0
        shape = box(
            max(-half, y - size),
            max(low + shell.t, z - size),
            min(half, y + size),
            min(high - shell.t, z + size),
        )
        matrix = np.eye(4)
        matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = box_body.Y, box_body.Z, box_body.X
        matrix[:3, 3] = (middle, 0.0, 0.0)
        if shape.is_empty or shape.area < 100:
            raise GeometryError(
                f"the motor at x {x:.0f}, z {z:.0f} mm has no room for its plate between the sides; move it or widen the body",
                ("drive", "motor_at"),
            )
        blank = Blank(
            name="firewall",
            group="drive",
            sheet="ply-2",
            paper="none",
            thickness=t,
            shape=shape,
            facets=(Facet(None, matrix),),
            face="rear",
            where=("drive", "motor_at"),
        )
        r = 0.5e3 * motor.mount_circle_m
        n = max(2, motor.mount_holes)
        circles = [(y, z, 1e3 * motor.shaft_m + 4.0)]
        for k in range(n):
            a = np.pi / 4 + 2 * np.pi * k / n
            circles.append((y + r * float(np.cos(a)), z + r * float(np.sin(a)), 3.2))
        circles = [c for c in circles if shape.contains(Point(c[0], c[1]).buffer(c[2] / 2 + 0.5))]
        box_body.holes_across(blank, circles)
        blank.mark("thrust", [(y - size, z), (y + size, z)], "thrust line")
        for solid in [p.whole for p in self.flats]:
            blank.yield_to(solid, EDGE_FIT_MM)
        self.extras.append(blank)

    def _gear(self, gear: Gear) -> None:
        half = 20.0
        if self.shell is not None:
            half = max(4.0, float(self.shell.inside(1e3 * gear.at[0])) + self.shell.t)
        self.rods.append(legs(gear, self.stock, half))

    def _glue(self) -> None:
        """The glue lines: what stands against what."""
        flats = [p.fixed for p in self.flats]
        sides = self.box[:1]
        for host, guests in (
            *((s, [*self.formers, *self.box[1:], *flats, *self.struts, *self.extras]) for s in sides),
            *((f, [c for c in self.box[1:]]) for f in self.formers),
            *((f, [fin.fixed for fin in self.fins]) for f in flats),
        ):
            tabbed = {(j.first, j.second) for j in self.joints}
            for guest in guests:
                if (host.name, guest.name) in tabbed and guest.group != "body":
                    pass
                joint = contact(host, guest)
                if joint is not None:
                    self.joints.append(joint)
        for p in self.flats:
            if p.one_piece or not p.surface.mirrored:
                continue
            x0, chord = p.surface.chord_at(0.0)
            ends = [p.surface.matrix() @ np.array([1e3 * u, 0.0, 0.0, 1.0]) for u in (x0, x0 + chord)]
            run: Points3 = tuple((float(e[0]), float(e[1]), float(e[2])) for e in ends)
            self.joints.append(
                Joint(kind="butt", first=p.fixed.name, second=p.fixed.name, held="glue", runs_mm=(run,))
            )


def _standing_run(fin: Blank, flat: Panel) -> tuple[Floats, Floats] | None:
    """The middle third of a fin's edge that stands on a flat's fixed panel, on the fin's sheet."""
    grown = fin.shape.buffer(0.3, join_style=MITRE).difference(fin.shape)
    cover = fin.shadow(flat.fixed.solid())
    if cover is None:
        probe = Blank(**{f: getattr(flat.fixed, f) for f in flat.fixed.__slots__})
        probe.thickness = flat.fixed.thickness + 0.8
        cover = fin.shadow(probe.solid())
        if cover is None:
            return None
    touch = grown.intersection(cover.buffer(0.35))
    pieces = [p for p in polygons(touch) if p.bounds[2] - p.bounds[0] > 20.0]
    if not pieces:
        return None
    piece = max(pieces, key=lambda p: p.bounds[2] - p.bounds[0])
    a, b = piece.bounds[0], piece.bounds[2]
    third = (b - a) / 3
    edge = fin.shape.boundary.intersection(piece.buffer(0.1))
    if edge.is_empty:
        return None
    p = np.concatenate([np.asarray(g.coords) for g in getattr(edge, "geoms", [edge])])
    order = np.argsort(p[:, 0])
    p = p[order]
    at = np.array([a + third, b - third])
    v = np.interp(at, p[:, 0], p[:, 1])
    return np.array([at[0], v[0]]), np.array([at[1], v[1]])


def _straight_edge(blank: Blank, u: float) -> tuple[float, float] | None:
    """The longest run of a blank's outline along u = const."""
    p = np.asarray(blank.shape.exterior.coords)
    best = None
    for a, b in zip(p[:-1], p[1:], strict=True):
        if abs(a[0] - u) < 0.05 and abs(b[0] - u) < 0.05:
            low, high = sorted((float(a[1]), float(b[1])))
            if best is None or high - low > best[1] - best[0]:
                best = (low, high)
    return best


def _without_range(pieces: list[Blank], x0: float, x1: float) -> list[Blank]:
    """Covers with the stretch from x0 to x1 of the body taken out."""
    from shapely.geometry import box

    found = []
    for blank in pieces:
        s = _developed_at(blank, np.array([x0, x1]))
        try:
            rest = blank.take(box(s[0], -1e4, s[1], 1e4))
        except GeometryError:
            continue
        found += [blank, *rest]
    return found


def _developed_at(blank: Blank, x: Floats) -> Floats:
    """Where stations of the body lie along a bent cover's sheet."""
    found = []
    for value in x:
        best = None
        for facet in blank.facets:
            m = facet.matrix
            u = (value - m[0, 3]) / m[0, 0]
            low, high = (
                (-1e9, 1e9) if facet.region is None else (facet.region.bounds[0], facet.region.bounds[2])
            )
            miss = max(low - u, u - high, 0.0)
            if best is None or miss < best[0]:
                best = (miss, u)
        assert best is not None
        found.append(best[1])
    return np.array(found)


def _named(pieces: list[Blank], name: str) -> list[Blank]:
    """Pieces of one blank with names that tell them apart, fore to aft, or low to high."""
    pieces = [p for p in pieces if p.shape.area > 200.0]
    pieces.sort(key=lambda p: (round(p.shape.bounds[0], 1), p.shape.bounds[1]))
    if len(pieces) == 1:
        pieces[0].name = name
        return pieces
    if name.startswith("former"):
        words = ["lower", "upper"] if len(pieces) == 2 else [str(i + 1) for i in range(len(pieces))]
        pieces.sort(key=lambda p: p.shape.bounds[1])
    else:
        words = ["front", "rear"] if len(pieces) == 2 else [str(i + 1) for i in range(len(pieces))]
    for piece, word in zip(pieces, words, strict=True):
        piece.name = f"{name}, {word}"
    return pieces


_ = union
