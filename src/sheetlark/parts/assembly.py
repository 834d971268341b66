"""Which part is made first, and what gives way to what.

Surfaces are drawn whole. Bought items, struts and fins are let into them; the body is fitted round them; covers
fit between its sides, formers between everything. Each cut is made from the solid of what is let in, so that
two parts agree because one made the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sheetlark.airframe import BodyShape, Equipment, LiftingSurface, PlacedStrut
from sheetlark.design import Deck, Gear
from sheetlark.errors import GeometryError, StockError
from sheetlark.outline import Floats
from sheetlark.parts import body as box_body
from sheetlark.parts import fittings
from sheetlark.parts.bays import size_mm
from sheetlark.parts.blank import MITRE, Blank
from sheetlark.parts.cutting import (
    named,
    relieve,
    straight_edge,
    way_clear,
    without_range,
    yielding,
)
from sheetlark.parts.fits import EDGE_FIT_MM, SADDLE_REACH_MM, SWEEP_MM, THINNEST_MM
from sheetlark.parts.joiner import joiner, split_elevator, swept
from sheetlark.parts.laps import half_lap, runs_through
from sheetlark.parts.lines import draw_lines
from sheetlark.parts.linkages import exits, rods_and_horns, sided
from sheetlark.parts.panels import Hinge, Panel, panel
from sheetlark.parts.part import Joint, Point3, Removal, RodPiece, Swing
from sheetlark.parts.rods import legs, spars
from sheetlark.parts.solids import PORT, Solid, apart, box, plate, polygons, rod_solid, union
from sheetlark.parts.struts import strut_blank, strut_tabs
from sheetlark.parts.tabs import contact, standing_run, tab_into
from sheetlark.stock import Stock

_PASSAGE_MM = 2.0  # free round what passes through a former
_MOTOR_FREE_MM = 2.0
_SERVO_FIT_MM = 0.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What a kit is made for.

    motors : each with the unit vector from its mounting face to its propeller
    cases : the motors' cases as solids
    passing : what goes through which former: (former, (y0, z0, y1, z1) in mm)
    plate : key of the sheet of firewall, braces and doublers
    """

    surfaces: tuple[LiftingSurface, ...]
    body: BodyShape | None
    struts: tuple[PlacedStrut, ...]
    gear: Gear | None
    motors: tuple[tuple[Equipment, tuple[float, float, float]], ...]
    cases: tuple[Solid, ...]
    pusher: bool
    servos: tuple[Equipment, ...]
    passing: tuple[tuple[int, tuple[float, ...]], ...]
    plate: str


@dataclass(frozen=True, slots=True, eq=False)
class _Seat:
    """A wing that lies on the body, or under it, over a stretch of its length. [mm]."""

    panel: Panel
    x0: float
    x1: float
    on_top: bool


class Assembly:
    """All blanks of a model, cut to one another in order.

    Raises
    ------
    GeometryError
        If a part cannot be made.
    """

    def __init__(self, fitted: Fitted, stock: Stock) -> None:
        self.fitted = fitted
        self.stock = stock
        self.joints: list[Joint] = []
        self.rods: list[RodPiece] = []
        self.swings: list[Swing] = []
        self.removals: list[Removal] = []
        self.notes: list[str] = []
        self.joiners: list[str] = []  # rods that move: what they need is cut from their sweep
        self.panels = [panel(s, stock) for s in fitted.surfaces]
        self.wings = [p for p in self.panels if p.surface.role == "wing"]
        self.flats = [p for p in self.panels if p.surface.role != "fin"]
        self.fins = [p for p in self.panels if p.surface.role == "fin"]
        self.shell = box_body.Shell(fitted.body) if fitted.body is not None else None
        self.plates = self._motor_plates()
        self.struts: list[Blank] = []
        self.sides: list[Blank] = []
        self.covers: list[Blank] = []
        self.decks: list[Blank] = []
        self.formers: list[Blank] = []
        self.tray: list[Blank] = []
        self.nose: list[Blank] = []
        self.braces: list[Blank] = []
        self.mounts: list[Blank] = []
        self._let_into_surfaces()
        self._stand_struts()
        self._stand_fins()
        self._fit_layers()
        self.wire = self._wire()
        if self.shell is not None:
            self._box(self.shell)
        else:
            self._braces([])
        self._glue()
        self._lead_push_rods()

    def blanks(self) -> list[Blank]:
        """All of them, in the order a builder meets them."""
        found: list[Blank] = []
        for p in self.panels:
            found += p.blanks()
        return [
            *found,
            *self.braces,
            *self.struts,
            *self.sides,
            *self.formers,
            *self.covers,
            *self.decks,
            *self.nose,
            *self.tray,
            *self.plates,
            *self.mounts,
        ]

    # Surfaces -------------------------------------------------------------------------------------------------

    def _motor_plates(self) -> list[Blank]:
        found = []
        for motor, axis in self.fitted.motors:
            if motor.at_m[1] < 0:
                continue
            found.append(
                fittings.firewall(
                    self.shell, motor, axis, self.fitted.plate, self.stock, pusher=self.fitted.pusher
                )
            )
        return found

    def _let_into_surfaces(self) -> None:
        for p in self.flats:
            for case in self.fitted.cases:
                p.fixed.yield_to(case, _MOTOR_FREE_MM)
            for mount in self.plates:
                p.fixed.yield_to(mount.solid(), EDGE_FIT_MM)
        for servo in self.fitted.servos:
            size = size_mm(servo, self.stock)
            if size is None:
                continue
            middle, half = 1e3 * np.asarray(servo.at_m), 0.5 * np.asarray(size)
            solid = box(middle - half, middle + half)
            for p in self.flats:
                cover = p.fixed.shadow(solid, _SERVO_FIT_MM)
                if cover is None or not cover.intersects(p.fixed.shape):
                    continue
                p.fixed.take(cover)
                u, v, u1, v1 = cover.bounds
                p.fixed.mark("place", [(u, v), (u1, v), (u1, v1), (u, v1), (u, v)], servo.name.split(",")[0])
        for p in self.panels:
            rods, joints = spars(p, self.stock)
            self.rods += rods
            self.joints += joints
            for hinge in p.hinges:
                self._tape(hinge)
            self._join_halves(p)

    def _join_halves(self, p: Panel) -> None:
        """A rod through both halves of an elevator; what lies between them gives way to it."""
        made = joiner(p, self.stock)
        hinge = split_elevator(p)
        if made is None or hinge is None:
            return
        if isinstance(made, str):
            self.notes.append(made)
            return
        rod, joint = made
        hinge.joiner = swept(hinge, rod)
        hinge.fixed.yield_to(hinge.joiner, SWEEP_MM)
        hinge.fixed.drop_slivers(2.0)
        self.rods.append(rod)
        self.joints.append(joint)
        self.joiners.append(rod.name)

    def _fit_layers(self) -> None:
        """Skins, webs and ribs give way to what goes through the panel they are glued to."""
        for p in self.flats:
            for layer in p.layers:
                for other in (*self.struts, *self.fins_fixed(), *self.plates):
                    layer.yield_to(other.solid(), EDGE_FIT_MM)
                for case in self.fitted.cases:
                    layer.yield_to(case, _MOTOR_FREE_MM)
                for rod in self.rods:
                    layer.yield_to(rod_solid(rod), 0.2)
                for servo in self.fitted.servos:
                    size = size_mm(servo, self.stock)
                    if size is not None:
                        middle, half = 1e3 * np.asarray(servo.at_m), 0.5 * np.asarray(size)
                        layer.yield_to(box(middle - half, middle + half), _SERVO_FIT_MM)

    def _tape(self, hinge: Hinge) -> None:
        start, end = (
            _point3((hinge.frame @ np.array([*p, hinge.w, 1.0]))[:3]) for p in (hinge.start, hinge.end)
        )
        self.swings.append(
            Swing(
                moving=hinge.moving.name,
                fixed=hinge.fixed.name,
                start_mm=start,
                end_mm=end,
                up_rad=hinge.up_rad,
                down_rad=hinge.down_rad,
            )
        )
        runs = [(start, end)]
        if hinge.moving.sides == "pair":
            runs.append((_port(start), _port(end)))
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

    def _stand_struts(self) -> None:
        named = {p.surface.name: p for p in self.wings}
        for strut in self.fitted.struts:
            inner = None
            if "body" in {strut.lower, strut.upper} and self.shell is not None:
                foot = strut.lower_m if strut.lower == "body" else strut.upper_m
                half = 500.0 * strut.chord_m
                inner = self.shell.narrowest(1e3 * foot[0] - half, 1e3 * foot[0] + half) - EDGE_FIT_MM
            blank = strut_blank(strut, named, inner)
            same = sum(b.name.startswith(blank.name) for b in self.struts)
            if same:
                blank.name = f"{blank.name} {same + 1}"
            self.joints += strut_tabs(blank, strut, named, self.rods)
            self.struts.append(blank)

    def _stand_fins(self) -> None:
        for fin in self.fins:
            lapped = self._lap(fin)
            for flat in self.flats:
                if flat is not lapped:
                    fin.fixed.yield_to(flat.whole)
                for other in flat.hinges:
                    cover = way_clear(fin.fixed, other.sweep())
                    if cover is not None:
                        fin.fixed.take(cover)
            fin.fixed.drop_slivers(2.0)
            stands = lapped is not None
            for flat in self.flats:
                if flat is lapped:
                    continue
                run = standing_run(fin.fixed, flat.fixed)
                if run is not None:
                    stands = True
                    if fin.surface.at_m[1] == 0 and not flat.one_piece:
                        continue  # it stands on the joint of two panels: glue alone
                    run = self._clear_of_rods(fin.fixed, run, flat.fixed.thickness)
                    joint = tab_into(fin.fixed, flat.fixed, run, flat.fixed.thickness)
                    if joint is not None:
                        self.joints.append(joint)
            if fin.surface.at_m[1] > 0 and not stands:
                raise GeometryError(
                    f"{fin.surface.name!r} stands on a moving surface, or on nothing fixed, at "
                    f"y {1e3 * fin.surface.at_m[1]:.0f} mm; move it forward of the hinge line or beyond the end of "
                    f"the moving surface",
                    (*fin.surface.where, "y"),
                )
            for hinge in fin.hinges:
                for flat in self.flats:
                    relieve(hinge, flat.whole)
                    for other in flat.hinges:
                        relieve(hinge, other.sweep())
                hinge.moving.drop_slivers(THINNEST_MM)
                hinge.trim()

    def _lap(self, fin: Panel) -> Panel | None:
        """The tailplane a fin runs through, where both run on: they are slotted half and half."""
        for flat in self.flats:
            once = flat.one_piece and fin.fixed.sides == "one" and flat.curve is None
            if flat.surface.role != "wing" and once and runs_through(fin.fixed, flat.fixed):
                joint = half_lap(fin.fixed, flat.fixed)
                if joint is not None:
                    self.joints.append(joint)
                    return flat
        return None

    def _clear_of_rods(self, fin: Blank, run: tuple[Floats, Floats], depth: float) -> tuple[Floats, Floats]:
        """A tab's run moved along its edge, where a spar would cross the tab."""
        from shapely.geometry import LineString

        rods = [rod_solid(r) for r in self.rods]
        step = run[1] - run[0]
        for share in (0.0, -0.35, 0.35, -0.7, 0.7):
            a, b = run[0] + share * step, run[1] + share * step
            tongue = plate(
                LineString([a, b]).buffer(depth + 1.0, cap_style="flat"), fin.thickness, fin.matrix
            )
            if all(apart(tongue, rod) or (tongue ^ rod).volume() < 1e-3 for rod in rods):
                return a, b
        return run

    # Body -----------------------------------------------------------------------------------------------------

    def _box(self, shell: box_body.Shell) -> None:
        seats = self._seats(shell)
        saddles = [s for seat in seats if (s := _saddle(shell, seat)) is not None]
        side = box_body.side(shell, saddles)
        self.sides = [side]
        wholes = [p.whole for p in self.flats] + [
            _way_out(seat) for seat in seats if seat.panel.surface.held != "glued"
        ]
        off_centre = [f.whole for f in self.fins if f.surface.at_m[1] > 0]
        upright = [f.whole for f in self.fins if f.surface.at_m[1] == 0]
        sweeps = [h.sweep() for p in self.panels for h in p.hinges]
        cases = list(self.fitted.cases)
        spars_in = [rod_solid(r) for r in self.rods if r is not self.wire and r.name not in self.joiners]
        for solid in [*wholes, *off_centre, *spars_in, *[p.solid() for p in self.plates]]:
            side.yield_to(solid, EDGE_FIT_MM)
        for sweep in sweeps:
            side.yield_to(sweep, SWEEP_MM)
        if self.wire is not None:
            side.yield_to(rod_solid(self.wire), 0.3)
        side.drop_slivers(THINNEST_MM)
        struts = [s.solid() for s in self.struts]
        let_in = [*wholes, *off_centre, *upright, *struts, *[p.solid() for p in self.plates]]
        decks = self._decks(shell, [*let_in, side.solid()])
        self.decks = [b for _, b in decks]
        self._covers(shell, seats, decks, let_in, sweeps, side)
        self._formers(shell, seats, side, let_in, sweeps, cases)
        for blank in self.formers:
            self._tab_former(blank, side)
        if shell.body.stated.nose == "round":
            self._round_nose(shell)
        self._tray(shell)
        self._mounts(shell, side, seats)
        taken = [_stretch(b) for b in (*self.formers, *self.mounts)]
        self._braces(taken)
        self._take_off(seats)
        draw_lines(shell, side, self.covers, self.fitted.motors)
        self._groove_for_wire()

    def _groove_for_wire(self) -> None:
        """The wire across the body lies let into the cover, or the wing, it crosses."""
        if self.wire is None:
            return
        solid = rod_solid(self.wire)
        for blank in (*self.covers, *(p.fixed for p in self.flats), *self.formers):
            cover = blank.shadow(solid)
            if cover is None or not cover.intersects(blank.shape):
                continue
            for patch in polygons(cover.intersection(blank.shape)):
                u, v, u1, v1 = patch.bounds
                ring = [(u, v), (u1, v), (u1, v1), (u, v1), (u, v)]
                blank.mark("slot-edge", ring, f"groove {self.wire.width_mm:.1f} mm for the wire")
                ends = blank.to_space(np.array([[u, 0.5 * (v + v1)], [u1, 0.5 * (v + v1)]]))
                if v1 - v > u1 - u:
                    ends = blank.to_space(np.array([[0.5 * (u + u1), v], [0.5 * (u + u1), v1]]))
                run = (_point3(ends[0]), _point3(ends[1]))
                self.joints.append(
                    Joint(kind="groove", first=blank.name, second=self.wire.name, held="glue", runs_mm=(run,))
                )

    def _seats(self, shell: box_body.Shell) -> list[_Seat]:
        found = []
        for p in self.wings:
            s = p.surface
            front, chord = s.chord_at(0.0)
            x0 = 1e3 * (s.at_m[0] + front)
            x1 = x0 + 1e3 * chord * float(np.cos(s.incidence_rad))
            if min(x1, shell.tail) - max(x0, shell.nose) < 10.0:
                continue
            mid = min(max(0.5 * (x0 + x1), shell.nose), shell.tail)
            y = float(np.interp(mid, shell.middle[:, 0], shell.middle[:, 1])) + shell.t / 2
            low, high = shell.heights(mid)
            under, over = p.underside(mid, y, -1), p.underside(mid, y, 1)
            if 0.5 * (low + high) < under < high + SADDLE_REACH_MM and over > high - THINNEST_MM:
                found.append(_Seat(p, x0, x1, on_top=True))
            elif 0.5 * (low + high) > over > low - SADDLE_REACH_MM and under < low + THINNEST_MM:
                found.append(_Seat(p, x0, x1, on_top=False))
        return found

    def _decks(self, shell: box_body.Shell, guests: list[Solid]) -> list[tuple[Deck, Blank]]:
        decks = []
        stated = shell.body.stated
        for deck, word in ((stated.fore_deck, "fore deck"), (stated.aft_deck, "aft deck")):
            if deck is None:
                continue
            blank = box_body.deck_blank(shell, deck, word)
            for solid in guests:
                blank.yield_to(solid, EDGE_FIT_MM)
            for hinge in (h for p in self.panels for h in p.hinges):
                blank.yield_to(hinge.sweep(), SWEEP_MM)
            decks.append((deck, blank))
        return decks

    def _covers(
        self,
        shell: box_body.Shell,
        seats: list[_Seat],
        decks: list[tuple[Deck, Blank]],
        let_in: list[Solid],
        sweeps: list[Solid],
        side: Blank,
    ) -> None:
        for blank in box_body.covers(shell):
            name, pieces = blank.name, [blank]
            top = name.startswith("top")
            for deck, _ in decks if top else []:
                pieces = without_range(pieces, *self._deck_range(shell, deck))
            for seat in seats:
                if seat.on_top == top:
                    pieces = without_range(pieces, seat.x0, seat.x1)
            for guests, free in (([*let_in, side.solid()], EDGE_FIT_MM), (sweeps, SWEEP_MM)):
                for guest in guests:
                    pieces = yielding(pieces, guest, free)
            for _, arch in decks:
                pieces = yielding(pieces, arch.solid(), EDGE_FIT_MM)
            self.covers += named(pieces, name)

    def _deck_range(self, shell: box_body.Shell, deck: Deck) -> tuple[float, float]:
        """The stretch of the top that a deck and the formers at its ends take up. [mm]."""
        x0, x1 = 1e3 * deck.start, 1e3 * deck.end
        for station in shell.body.formers:
            half = 500.0 * self.stock.sheet(station.sheet).thickness_m
            x = 1e3 * station.x_m
            if abs(x - x0) <= half:
                x0 = min(x0, x - half - 1.2)  # a cover that slopes ends aslant
            if abs(x - x1) <= half:
                x1 = max(x1, x + half + 1.2)
        return x0, x1

    def _formers(
        self,
        shell: box_body.Shell,
        seats: list[_Seat],
        side: Blank,
        let_in: list[Solid],
        sweeps: list[Solid],
        cases: list[Solid],
    ) -> None:
        from shapely.geometry import box as rectangle

        for i, station in enumerate(shell.body.formers):
            try:
                thickness = 1e3 * self.stock.sheet(station.sheet).thickness_m
            except StockError as error:
                raise GeometryError(str(error), ("body", "former", i, "sheet")) from None
            x = 1e3 * station.x_m
            blank = box_body.former(shell, station, thickness, i, None)
            for deck in self.decks:
                arch = box_body.under_deck(deck.solid(), shell, x, blank.matrix, thickness)
                if arch is not None:
                    blank = box_body.former(shell, station, thickness, i, arch)
            for seat in seats:
                if seat.x0 < x < seat.x1:
                    low_u, low_v, high_u, high_v = blank.shape.bounds
                    reach = (
                        (low_v, high_v + SADDLE_REACH_MM)
                        if seat.on_top
                        else (low_v - SADDLE_REACH_MM, high_v)
                    )
                    blank.shape = rectangle(low_u, reach[0], high_u, reach[1])
                    blank.yield_to(seat.panel.whole, EDGE_FIT_MM)
            solids = [side.solid(), *(c.solid() for c in self.covers), *(d.solid() for d in self.decks)]
            for solid in [*solids, *[p.solid() for p in self.plates]]:
                blank.yield_to(solid, EDGE_FIT_MM)
            pieces = [blank]
            for guests, free in ((let_in, EDGE_FIT_MM), (sweeps, SWEEP_MM), (cases, _MOTOR_FREE_MM)):
                for guest in guests:
                    pieces = yielding(pieces, guest, free)
            if self.wire is not None:
                pieces = yielding(pieces, rod_solid(self.wire), 0.3)
            for piece in pieces:
                piece.drop_slivers(3.0)
                self._open(piece, station.opening, i)
            self.formers += named(pieces, blank.name)

    def _open(self, blank: Blank, share: float, index: int) -> None:
        """A former's opening, joined with the passages of what goes through it."""
        from shapely.geometry import box as rectangle
        from shapely.ops import unary_union

        holes = [h for h in [box_body.opening(blank, share)] if h is not None]
        room = blank.shape.buffer(-4.0, join_style=MITRE)
        for former, (y0, z0, y1, z1) in self.fitted.passing:
            if former == index:
                hole = rectangle(y0 - _PASSAGE_MM, z0 - _PASSAGE_MM, y1 + _PASSAGE_MM, z1 + _PASSAGE_MM)
                if room.contains(hole):
                    holes.append(hole)
        if holes:
            merged = unary_union(holes).buffer(3.0).buffer(-3.0)
            blank.take(merged.intersection(blank.shape.buffer(-3.9, join_style=MITRE)))

    def _tab_former(self, blank: Blank, side: Blank) -> None:
        """A tab each side, a third of the edge long, through the body side."""
        from shapely.geometry import box as rectangle

        low_u, _, high_u, _ = blank.shape.bounds
        edge = straight_edge(blank, high_u)
        if edge is None or edge[1] - edge[0] < 15.0:
            return
        a, b = edge
        length, mid = max(8.0, (b - a) / 3), 0.5 * (a + b)
        joint = tab_into(
            blank,
            side,
            (np.array([high_u, mid - length / 2]), np.array([high_u, mid + length / 2])),
            side.thickness,
        )
        tab = rectangle(low_u - side.thickness, mid - length / 2, low_u + 3.0, mid + length / 2)
        blank.shape = max(polygons(blank.shape.union(tab)), key=lambda p: p.area)
        if joint is not None:
            mirrored = tuple(tuple(_port(p) for p in run) for run in joint.runs_mm)
            self.joints.append(replace(joint, runs_mm=(*joint.runs_mm, *mirrored)))

    def _round_nose(self, shell: box_body.Shell) -> None:
        hole, z = 30.0, 0.0
        for motor, _ in self.fitted.motors[:1]:
            hole = 1e3 * self.stock.motor(motor.key).body_diameter_m + 2 * _MOTOR_FREE_MM
            z = 1e3 * motor.at_m[2]
        length = 1e3 * shell.body.stated.nose_length
        self.nose = fittings.round_nose(shell, hole, length, z)
        for blank in self.nose:
            for mount in self.plates:
                blank.yield_to(mount.solid(), EDGE_FIT_MM)

    def _tray(self, shell: box_body.Shell) -> None:
        inside = []
        for servo in self.fitted.servos:
            size = size_mm(servo, self.stock)
            x, y, z = (1e3 * v for v in servo.at_m)
            if size is None or not shell.nose < x < shell.tail:
                continue
            low, high = shell.heights(x)
            if low < z < high and abs(y) < float(shell.inside(x)):
                inside.append((servo, np.asarray(size)))
        tray = fittings.servo_tray(shell, inside)
        if tray is None:
            return
        for blank in (*self.formers, *self.sides, *self.struts, *self.covers):
            tray.yield_to(blank.solid(), EDGE_FIT_MM)
        for p in self.flats:
            tray.yield_to(p.whole, EDGE_FIT_MM)
        for servo, case in inside:
            middle = 1e3 * np.asarray(servo.at_m)
            tray.yield_to(box(middle - case / 2, middle + case / 2), _SERVO_FIT_MM)
        self.tray = [tray]

    def _mounts(self, shell: box_body.Shell, side: Blank, seats: list[_Seat]) -> None:
        """Firewall doubler; dowels or bolts of wings that come off."""
        for wall in self.plates:
            if wall.name != "firewall":
                continue
            behind = [f for f in self.formers if abs(f.matrix[0, 3] - wall.matrix[0, 3]) < 20.0]
            if not behind and self.formers and not self.fitted.pusher and not self.nose:
                self.notes.append(
                    "The firewall has no former behind it: put one within 10 mm of the motor's plate."
                )
            for former in behind[:1]:
                extra = fittings.doubler(former, wall, self.stock)
                if extra is not None and not self.fitted.pusher:
                    for other in (*self.covers, *self.decks, *self.sides, *self.tray):
                        extra.yield_to(other.solid(), EDGE_FIT_MM)
                    self.mounts.append(extra)
        gear = self.fitted.gear
        skid = (
            fittings.tail_skid(shell, self.fitted.plate, self.stock)
            if gear is not None and gear.skid
            else None
        )
        if skid is not None:
            self._skid(*skid)
        for seat in seats:
            taken = [_stretch(b) for b in (*self.formers, *self.mounts)]
            held = seat.panel.surface.held
            if held == "bands":
                for place in fittings.dowels(seat.panel, shell, taken, self.stock):
                    rod, blank, joint = fittings.dowel_parts(
                        seat.panel, shell, side, place, self.fitted.plate, self.stock
                    )
                    for other in (*self.covers, *self.formers, *self.decks, *self.tray):
                        blank.yield_to(other.solid(), EDGE_FIT_MM)
                    blank.yield_to(side.solid())
                    self.rods.append(rod)
                    self.mounts.append(blank)
                    self.joints += [joint, replace(joint, first=blank.name)]
            elif held == "bolts":
                for share, word in ((0.2, "front"), (0.8, "rear")):
                    bolted = fittings.bolt_plate(
                        seat.panel, shell, share, word, taken, self.fitted.plate, self.stock
                    )
                    if bolted is None:
                        continue
                    for solid in [
                        seat.panel.whole,
                        *[f.solid() for f in (*self.formers, *self.sides, *self.struts)],
                    ]:
                        bolted.yield_to(solid, EDGE_FIT_MM)
                    self.mounts.append(bolted)

    def _skid(self, skid: Blank, run: tuple[Floats, Floats]) -> None:
        """The skid under the tail, its tab through the bottom cover where there is one."""
        under = [c for c in self.covers if c.name.startswith("bottom")]
        for blank in (*under, *self.sides, *self.formers):
            skid.yield_to(blank.solid(), EDGE_FIT_MM)
        skid.drop_slivers(2.0)
        for cover in under:
            if skid.shadow(cover.solid(), 1.0) is not None:
                joint = tab_into(skid, cover, run, cover.thickness)
                if joint is not None:
                    self.joints.append(joint)
        self.mounts.append(skid)

    def _braces(self, taken: list[tuple[float, float]]) -> None:
        for p in self.flats:
            if p.one_piece or not p.surface.mirrored or abs(p.surface.dihedral_rad) < 1e-4:
                continue
            blank = fittings.brace(p, self.shell, taken, self.fitted.plate, self.stock)
            if blank is None:
                self.notes.append(
                    f"No room for a brace under {p.surface.name}: glue and tape the joint on both faces."
                )
                continue
            for q in self.flats:
                blank.yield_to(q.whole, EDGE_FIT_MM)
            for other in (*self.struts, *self.tray, *self.covers, *self.fins_fixed(), *self.mounts):
                blank.yield_to(other.solid(), EDGE_FIT_MM)
            self.braces.append(blank)

    def fins_fixed(self) -> list[Blank]:
        """The fixed panels of the fins."""
        return [f.fixed for f in self.fins]

    def _take_off(self, seats: list[_Seat]) -> None:
        strutted = {n for s in self.fitted.struts for n in (s.lower, s.upper)}
        for seat in seats:
            surface = seat.panel.surface
            if surface.held == "glued":
                continue
            if surface.name in strutted:
                self.notes.append(
                    f"{surface.name} is held by {surface.held} but struts are glued to it: it does not come off."
                )
                continue
            names = [*(b.name for b in seat.panel.blanks()), f"{surface.name} brace"]
            rods = tuple(r.name for r in self.rods if r.name.startswith(f"{surface.name} spar"))
            far = _WAY_OUT_MM if seat.on_top else -_WAY_OUT_MM
            have = {b.name for b in self.blanks()}
            self.removals.append(
                Removal(
                    name=surface.name,
                    parts=tuple(n for n in names if n in have),
                    rods=rods,
                    path_mm=(0.0, 0.0, far),
                )
            )

    def _lead_push_rods(self) -> None:
        """Horns' slots, and the push-rods' ways out of the body; last, since nothing else gives way to them."""
        skins = [*self.covers, *self.decks]
        rods = rods_and_horns(self.panels, self.fitted.servos, self.shell, self.stock, [*self.sides, *skins])
        if self.shell is None or not rods:
            return
        self.sides = exits(rods, self.shell, self.sides[0], skins, self.formers)
        if len(self.sides) == 2:
            self.joints = sided(self.joints, self.sides[0].name.rsplit(",", 1)[0])

    # Glue -------------------------------------------------------------------------------------------

    def _glue(self) -> None:
        """The glue lines: what stands against what."""
        flats = [p.fixed for p in self.flats]
        boxed = [*self.formers, *self.covers, *self.decks, *self.tray]
        loose = {r.name for r in self.removals}
        stays = [p.fixed for p in self.flats if p.surface.name not in loose]
        for hosts, guests in (
            (self.sides, [*boxed, *stays, *self.struts, *self.plates, *self.mounts, *self.nose[:1]]),
            (self.formers, [*self.covers, *self.decks, *self.tray, *self.mounts]),
            (
                flats,
                [*self.fins_fixed(), *self.struts, *self.braces, *(b for p in self.flats for b in p.layers)],
            ),
            (self.nose[:1], [*self.nose[1:2], *self.plates]),
            (self.nose[2:], self.nose[1:2]),
            (
                [c for c in self.covers if c.name.startswith("bottom")],
                [m for m in self.mounts if m.name == "tail skid"],
            ),
        ):
            for host in hosts:
                for guest in guests:
                    if guest.name.startswith("dowel doubler") or guest.name.endswith("upper layer"):
                        continue
                    joint = contact(host, guest)
                    if joint is not None:
                        self.joints.append(joint)
        for mount in [*self.plates, *[m for m in self.mounts if "doubler" in m.name]]:
            self._laminate(mount)
        for p in self.flats:
            for layer in p.layers:
                if layer.name.endswith("upper layer"):
                    self._bead(p.fixed, layer)
            if p.one_piece or not p.surface.mirrored:
                continue
            front, chord = p.surface.chord_at(0.0)
            ends = [p.surface.matrix() @ np.array([1e3 * u, 0.0, 0.0, 1.0]) for u in (front, front + chord)]
            run = (_point3(ends[0]), _point3(ends[1]))
            self.joints.append(
                Joint(kind="butt", first=p.fixed.name, second=p.fixed.name, held="glue", runs_mm=(run,))
            )

    def _laminate(self, plate: Blank) -> None:
        """A plate glued face to face: a bead round its edge."""
        host = next((f for f in self.formers if abs(f.matrix[0, 3] - plate.matrix[0, 3]) < 20.0), None)
        if plate.name.startswith("dowel"):
            host = self.sides[0]
        if host is not None:
            self._bead(host, plate)

    def _bead(self, host: Blank, plate: Blank) -> None:
        """A bead of glue round a plate's edge."""
        ring = np.asarray(plate.shape.exterior.coords)
        points = plate.to_space(ring)
        runs = [tuple(_point3(p) for p in points)]
        if plate.sides == "pair":
            runs.append(tuple(_port(p) for p in runs[0]))
        self.joints.append(
            Joint(kind="doubler", first=host.name, second=plate.name, held="glue", runs_mm=tuple(runs))
        )

    def _wire(self) -> RodPiece | None:
        gear = self.fitted.gear
        if gear is None:
            return None
        half = 20.0
        if self.shell is not None:
            half = max(4.0, float(self.shell.inside(1e3 * gear.at[0])) + self.shell.t)
        wire = legs(gear, self.stock, half)
        self.rods.append(wire)
        return wire


def _port(p: Point3) -> Point3:
    return (p[0], -p[1], p[2])


def _point3(p: Floats) -> Point3:
    return (float(p[0]), float(p[1]), float(p[2]))


def _stretch(blank: Blank) -> tuple[float, float]:
    b = blank.half().bounding_box()
    return (float(b[0]), float(b[3]))


_WAY_OUT_MM = 40.0


def _way_out(seat: _Seat) -> Solid:
    """All a wing passes through as it is lifted off, or dropped: of each half the hull, so that the V stays open."""
    import manifold3d as m3

    half = seat.panel.fixed.half()
    far = _WAY_OUT_MM if seat.on_top else -_WAY_OUT_MM
    way = m3.Manifold.batch_hull([half, half.translate((0.0, 0.0, far))])
    return union([way, way.transform(PORT[:3])])


def _saddle(shell: box_body.Shell, seat: _Seat) -> Floats | None:
    p = seat.panel
    mid = min(max(0.5 * (seat.x0 + seat.x1), shell.nose), shell.tail)
    y = float(np.interp(mid, shell.middle[:, 0], shell.middle[:, 1])) + shell.t / 2
    face: Literal[-1, 1] = -1 if seat.on_top else 1
    return box_body.saddle_fill(
        shell,
        lambda x: p.underside(x, y, face),
        seat.x0,
        seat.x1,
        on_top=seat.on_top,
    )
