"""Three views of the finished model, hidden lines removed, with what a builder measures.

As on any third-angle drawing: seen from above over what is seen from ahead, what is seen from port beside it.
The nose points down the sheet, towards the eye, and to the left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.evaluation import Evaluation
from sheetlark.handbook.board import XY, Board, Box
from sheetlark.handbook.dimensions import SIZE_MM, Span, level_dimensions, upright_dimension
from sheetlark.handbook.measures import Measures, root_edge
from sheetlark.handbook.pieces import Floats, Model
from sheetlark.handbook.scene import Eye, Shown, draw
from sheetlark.parts.bays import PROPELLER_AHEAD_MM, bays, drive_axes
from sheetlark.sheets import Layer
from sheetlark.units import INCH_M

CAPTION_MM = 3.6
_BALANCE_MM = 2.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One view on the sheet.

    axes : shape (2, 3), rows right and up on the geometry axes
    origin : where the origin of the geometry axes lies on the sheet [mm]
    scale : sheet over model
    """

    eye: Eye
    axes: Floats
    origin: XY
    scale: float

    def at(self, points_mm: Floats) -> Floats:
        """Points of the model on the sheet, shape (..., 2). [mm]."""
        return np.asarray(np.asarray(points_mm) @ self.axes.T * self.scale + self.origin)

    def spot(self, x_mm: float, y_mm: float, z_mm: float) -> XY:
        """One point of the model on the sheet."""
        p = self.at(np.array([x_mm, y_mm, z_mm]))
        return float(p[0]), float(p[1])


def from_above(origin: XY, scale: float) -> View:
    """Nose down the sheet, starboard to the left."""
    axes = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0]])
    return View(eye=Eye(round_rad=math.pi / 2, above_rad=math.pi / 2), axes=axes, origin=origin, scale=scale)


def from_ahead(origin: XY, scale: float) -> View:
    """Starboard to the left."""
    axes = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
    return View(eye=Eye(round_rad=math.pi / 2, above_rad=0.0), axes=axes, origin=origin, scale=scale)


def from_port(origin: XY, scale: float) -> View:
    """Nose to the left."""
    axes = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    return View(eye=Eye(round_rad=math.pi, above_rad=0.0), axes=axes, origin=origin, scale=scale)


def figure(metres: float, *, imperial: bool) -> str:
    """A length without its unit: tenths of a millimetre, or hundredths of an inch; idle zeros left out."""
    shown = f"{metres / INCH_M:.2f}" if imperial else f"{1e3 * metres:.1f}"
    shown = shown.rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown.replace("-", "−")


def degrees(radians: float, *, signed: bool = False) -> str:
    """An angle to a tenth of a degree, idle zeros left out."""
    shown = f"{math.degrees(radians):{'+' if signed else ''}.1f}".replace("-0.0", "0.0").replace(
        "+0.0", "0.0"
    )
    return f"{shown.removesuffix('.0')}°".replace("-", "−")


class ThreeView:
    """Sets the three views of one model on a board."""

    def __init__(self, board: Board, evaluation: Evaluation, model: Model, measured: Measures) -> None:
        self.board = board
        self.e = evaluation
        self.model = model
        self.m = measured
        self.imperial = evaluation.design.model.imperial
        frame = evaluation.airframe
        flat = [s for s in frame.surfaces if s.role != "fin"]
        # Rows of dimensions there may be: the cells are laid out for them.
        self.rows_behind = sum(s.role == "tailplane" for s in flat)
        self.rows_ahead = len(flat) - self.rows_behind
        self.rows_below = 1 + (len(frame.wings) > 1) + 2 * (frame.tail is not None)
        self.rows_over = 2 + len(measured.pairs)

    def length(self, metres: float) -> str:
        return figure(metres, imperial=self.imperial)

    def above(self, view: View, cell: Box) -> None:
        """From above: spans, centre line, balance mark."""
        self._caption("From above", cell)
        self._lines(view)
        low, high = 1e3 * self.m.low_m, 1e3 * self.m.high_m
        self._centre_line(view, low[0], high[0], upright=True)
        self._shafts(view, long=False)
        self._boxes(view)
        self._wheels(view)
        self._balance(view, self.m.balance_m * 1e3, 0.0)
        top, foot = view.spot(high[0], 0, 0)[1], view.spot(self._foremost(), 0, 0)[1]
        ahead: list[Span] = []
        behind: list[Span] = []
        for surface in self.e.airframe.surfaces:
            if surface.role == "fin":
                continue
            row = next(r for r in self.m.surfaces if r.name == surface.name)
            tip = surface.place(
                sum(surface.chord_at(0.98)) - 0.5 * surface.chord_at(0.98)[1], surface.half_span_m
            )
            a, b = (view.spot(1e3 * tip[0], sign * 500.0 * row.span_m, 0.0) for sign in (1.0, -1.0))
            words = f"{surface.name} {self.length(row.span_m)}"
            front = surface.role != "tailplane"
            (ahead if front else behind).append(Span(start=a, end=b, text=words))
        level_dimensions(self.board, ahead, foot - 4.5, up=False)
        level_dimensions(self.board, behind, top + 4.5, up=True)

    def ahead(self, view: View, cell: Box) -> None:
        """From ahead: propeller, track, dihedral."""
        self._caption("From ahead", cell)
        self._lines(view)
        low, high = 1e3 * self.m.low_m, 1e3 * self.m.high_m
        self._centre_line(view, min(low[2], self._lowest()), high[2], upright=True)
        drive = self.e.design.drive
        if drive is not None:
            radius = 0.5e3 * self.e.stock.propeller(drive.propeller).diameter_m
            for hub, _ in self._hubs():
                turn = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
                ring = np.column_stack([np.zeros(72), np.cos(turn), np.sin(turn)]) * radius + hub
                self.board.line(Layer.PLACE, view.at(ring), closed=True, clear_mm=0.3)
        self._wheels(view)
        gear = self.e.design.gear
        if gear is not None:
            foot = view.spot(0, 0, self._lowest())[1]
            a, b = (view.spot(0, sign * 500.0 * gear.track, 1e3 * gear.at[1]) for sign in (1.0, -1.0))
            level_dimensions(
                self.board,
                [Span(start=(a[0], foot), end=(b[0], foot), text=f"track {self.length(gear.track)}")],
                foot - 4.0,
                up=False,
            )
        for surface in self.e.airframe.surfaces:
            if surface.role == "fin" or abs(surface.dihedral_rad) < 1e-4:
                continue
            p = 1e3 * surface.place(0.0, 0.8 * surface.half_span_m)
            spot = view.spot(0.0, -float(p[1]), float(p[2]))
            self.board.label(
                f"dihedral {degrees(surface.dihedral_rad)}",
                (spot[0], spot[1] - 6.0),
                SIZE_MM,
                cell,
                layer=Layer.DIMENSION,
                points_to=spot,
            )
        if drive is not None:
            hub = self._hubs()[0][0]
            radius = 0.5 * self.e.stock.propeller(drive.propeller).diameter_m
            spot = view.spot(0.0, hub[1] + 707.0 * radius, hub[2] - 707.0 * radius)
            self.board.label(
                f"propeller ⌀{self.length(2 * radius)}",
                (spot[0] - 18.0, spot[1] - 4.0),
                SIZE_MM,
                cell,
                layer=Layer.DIMENSION,
                points_to=spot,
            )

    def port(self, view: View, cell: Box) -> None:
        """From port: length, height, chords, stagger and gap, incidences, balance, battery, shaft."""
        self._caption("From port", cell)
        self._lines(view)
        m, frame = self.m, self.e.airframe
        low, high = 1e3 * m.low_m, 1e3 * m.high_m
        ends = self._ends()
        a, b = view.spot(low[0] - 12.0, 0, 0), view.spot(high[0] + 10.0, 0, 0)
        self.board.line(Layer.DATUM, [a, b], clear_mm=0.2)
        self._shafts(view, long=True)
        self._boxes(view)
        self._wheels(view)
        balance_z = 1e3 * float(self.e.weights.balance_m[2])
        mark = view.spot(1e3 * m.balance_m, 0.0, balance_z)
        self._balance(view, 1e3 * m.balance_m, balance_z)
        below = [
            Span(
                start=view.spot(ends[0], 0, 0),
                end=view.spot(ends[1], 0, 0),
                text=f"length {self.length(m.length_m)}",
            ),
            Span(start=view.spot(0, 0, 0), end=mark, text=f"balance {self.length(m.balance_m)}"),
        ]
        above: list[Span] = []
        wings = sorted(frame.wings, key=lambda s: float(root_edge(s)[2]))
        for wing in wings:
            lead = 1e3 * root_edge(wing)
            front, chord = wing.chord_at(0.0)
            trail = 1e3 * wing.place(front + chord, float(wing.stations[0][0]))
            p, q = view.spot(*lead), view.spot(*trail)
            under = len(wings) > 1 and wing is wings[0]
            (below if under else above).append(Span(start=p, end=q, text=f"root chord {self.length(chord)}"))
        for pair in m.pairs:
            lower, upper = (
                1e3 * root_edge(next(w for w in wings if w.name == n)) for n in (pair.lower, pair.upper)
            )
            if abs(pair.stagger_m) > 5e-5:
                above.append(
                    Span(
                        start=view.spot(*upper),
                        end=view.spot(*lower),
                        text=f"stagger {self.length(pair.stagger_m)}",
                    )
                )
        wing_front = view.spot(
            1e3 * float(root_edge(m.balance_wing)[0]), 0.0, 1e3 * float(root_edge(m.balance_wing)[2])
        )
        if abs(m.balance_behind_m) > 5e-4:
            where = "behind" if m.balance_behind_m > 0 else "ahead of"
            words = f"balance {self.length(abs(m.balance_behind_m))} {where} {m.balance_wing.name}"
            above.append(Span(start=wing_front, end=mark, text=words))
        if m.arm_m is not None:
            a, b = (view.spot(1e3 * x, 0.0, 1e3 * z) for x, z in (m.arm_from_m, m.arm_to_m))
            name = "tail arm" if m.arm_m > 0 else "foreplane arm"
            below.append(Span(start=a, end=b, text=f"{name} {self.length(abs(m.arm_m))}"))
            for spot in (a, b):
                self._tick(spot)
        foot = view.spot(0, 0, min(low[2], self._lowest()))[1]
        top = view.spot(0, 0, high[2])[1]
        level_dimensions(self.board, below, foot - 5.0, up=False)
        level_dimensions(self.board, above, top + 5.0, up=True)
        self._heights(view, ends, cell)
        self._incidences(view, cell)

    def _heights(self, view: View, ends: tuple[float, float], cell: Box) -> None:
        m = self.m
        low, high = 1e3 * m.low_m, 1e3 * m.high_m
        right = view.spot(max(float(self.reach_mm()[1][0]), ends[1]), 0, 0)[0] + 8.0
        upright_dimension(
            self.board,
            Span(
                start=view.spot(ends[1], 0, low[2]),
                end=view.spot(ends[1], 0, high[2]),
                text=f"height {self.length(m.height_m)}",
            ),
            right,
        )
        x = min(view.spot(self._foremost(), 0, 0)[0], view.spot(ends[0], 0, 0)[0]) - 5.5
        for pair in m.pairs:
            if abs(pair.gap_m) < 5e-4:
                continue
            lower, upper = (
                1e3 * root_edge(next(w for w in self.e.airframe.wings if w.name == n))
                for n in (pair.lower, pair.upper)
            )
            upright_dimension(
                self.board,
                Span(start=view.spot(*lower), end=view.spot(*upper), text=f"gap {self.length(pair.gap_m)}"),
                max(x, cell[0] + 4.0),
            )
            x -= 6.0

    def _incidences(self, view: View, cell: Box) -> None:
        """Incidences, battery, shaft and datum, each named at a free place near it."""
        middle = 0.5 * (cell[1] + cell[3])
        for surface in self.e.airframe.surfaces:
            if surface.role == "fin":
                continue
            front, chord = surface.chord_at(0.0)
            p = 1e3 * surface.place(front + 0.8 * chord, float(surface.stations[0][0]))
            spot = view.spot(*p)
            up = 1.0 if spot[1] > middle or surface.role != "wing" else -1.0
            self.board.label(
                f"{surface.name} {degrees(surface.incidence_rad, signed=True)}",
                (spot[0], spot[1] + 3.5 * up),
                SIZE_MM,
                cell,
                points_to=spot,
            )
        drive = self.e.design.drive
        if drive is not None:
            hub = self._hubs()[0][0]
            spot = view.spot(*hub)
            spot = view.spot(*(hub + 14.0 * self._hubs()[0][1]))
            self.board.label("thrust line", (spot[0] - 4.0, spot[1] - 5.0), SIZE_MM, cell, points_to=spot)
        for bay in bays(self.e.airframe, self.e.stock):
            if bay.item.kind == "pack" and drive is not None:
                spot = view.spot(1e3 * bay.item.at_m[0], 0.0, float(bay.low_mm[2]))
                self.board.label("battery", (spot[0], spot[1] - 8.0), SIZE_MM, cell, points_to=spot)

    def _caption(self, text: str, cell: Box) -> None:
        self.board.write(text, (cell[0] + 1.0, cell[3] - 2.4), CAPTION_MM, bold=True, start=True)

    def _lines(self, view: View) -> None:
        picture = draw(
            [Shown(item=i, weight="new", labelled=False) for i in self.model.items],
            eye=view.eye,
            labels=False,
        )
        for stroke in picture.strokes:
            self.board.line(Layer.NOTE, stroke.points * view.scale + view.origin)

    def _centre_line(self, view: View, low: float, high: float, *, upright: bool) -> None:
        at = (0.0, 0.0)
        ends = [view.at(np.array([v, 0.0, v])) for v in (low - 8.0, high + 8.0)] if upright else [at, at]
        self.board.line(Layer.DATUM, np.asarray(ends), clear_mm=0.2)

    def _hubs(self) -> list[tuple[Floats, Floats]]:
        """Of each motor the middle of its propeller, and the way the shaft points. [mm]."""
        found = []
        for motor, along in drive_axes(self.e.airframe):
            case = 1e3 * self.e.stock.motor(motor.key).body_length_m
            found.append((1e3 * np.asarray(motor.at_m) + along * (case + PROPELLER_AHEAD_MM), along))
        return found

    def _shafts(self, view: View, *, long: bool) -> None:
        """Motor case, propeller edge on, thrust line."""
        for (hub, along), (motor, _) in zip(self._hubs(), drive_axes(self.e.airframe), strict=True):
            stock = self.e.stock.motor(motor.key)
            base = 1e3 * np.asarray(motor.at_m)
            nose = base + along * 1e3 * stock.body_length_m
            across = np.array([0.0, 0.0, 1.0]) if long else np.array([0.0, 1.0, 0.0])
            across = across - along * float(across @ along)
            r = 0.5e3 * stock.body_diameter_m
            case = np.array([base - r * across, nose - r * across, nose + r * across, base + r * across])
            self.board.line(Layer.PLACE, view.at(case), closed=True, clear_mm=0.2)
            drive = self.e.design.drive
            assert drive is not None
            tip = 0.5e3 * self.e.stock.propeller(drive.propeller).diameter_m * across
            self.board.line(Layer.PLACE, view.at(np.array([hub - tip, hub + tip])), clear_mm=0.3)
            back = 0.42e3 * self.m.length_m
            self.board.line(
                Layer.THRUST, view.at(np.array([hub + 22.0 * along, hub - back * along])), clear_mm=0.2
            )

    def _boxes(self, view: View) -> None:
        for bay in bays(self.e.airframe, self.e.stock):
            if bay.item.kind != "pack":
                continue
            middle, half = 1e3 * np.asarray(bay.item.at_m), 0.5 * (bay.high_mm - bay.low_mm)
            drive = self.e.design.drive
            half = half - np.array([1e3 * drive.pack_travel if drive is not None else 0.0, 0.0, 0.0])
            a, b = view.at(middle - half), view.at(middle + half)
            box = np.array([a, (b[0], a[1]), b, (a[0], b[1])])
            self.board.line(Layer.PLACE, box, closed=True, clear_mm=0.2)

    def _wheels(self, view: View) -> None:
        for item in self.e.airframe.equipment:
            if item.kind != "wheel":
                continue
            wheel = self.e.stock.wheel(item.key)
            r, half = 500.0 * wheel.diameter_m, 500.0 * wheel.width_m
            at = 1e3 * np.asarray(item.at_m)
            if view.eye.round_rad > 3.0:
                turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
                ring = np.column_stack([np.cos(turn), np.zeros(40), np.sin(turn)]) * r + at
                self.board.line(Layer.PLACE, view.at(ring), closed=True, clear_mm=0.3)
                continue
            up = np.array([1.0, 0.0, 1.0]) * r
            side = np.array([0.0, half, 0.0])
            box = np.array([at - up - side, at + up - side, at + up + side, at - up + side])
            self.board.line(Layer.PLACE, view.at(box), closed=True, clear_mm=0.3)

    def _balance(self, view: View, x_mm: float, z_mm: float) -> None:
        """A ringed cross."""
        at = np.asarray(view.spot(x_mm, 0.0, z_mm))
        turn = np.linspace(0.0, 2.0 * np.pi, 36, endpoint=False)
        ring = at + _BALANCE_MM * np.column_stack([np.cos(turn), np.sin(turn)])
        self.board.line(Layer.BALANCE, ring, closed=True)
        for way in ((1.0, 0.0), (0.0, 1.0)):
            reach = 1.5 * _BALANCE_MM * np.asarray(way)
            self.board.line(Layer.BALANCE, np.array([at - reach, at + reach]))

    def _tick(self, spot: XY) -> None:
        x, y = spot
        self.board.line(Layer.DIMENSION, [(x, y - 1.6), (x, y + 1.6)], clear_mm=0.1)
        self.board.line(Layer.DIMENSION, [(x - 1.0, y), (x + 1.0, y)], clear_mm=0.1)

    def _ends(self) -> tuple[float, float]:
        """Foremost and rearmost of parts and rods along x. [mm]."""
        from sheetlark.handbook.measures import parts_box_mm

        low, high = parts_box_mm(self.model)
        return float(low[0]), float(high[0])

    def _foremost(self) -> float:
        """Foremost of all, propeller too, along x. [mm]."""
        return min([1e3 * float(self.m.low_m[0]), *(float(hub[0]) for hub, _ in self._hubs())])

    def _lowest(self) -> float:
        """Lowest of all, propeller too, along z. [mm]."""
        drive = self.e.design.drive
        radius = 0.5e3 * self.e.stock.propeller(drive.propeller).diameter_m if drive is not None else 0.0
        return min([1e3 * float(self.m.low_m[2]), *(float(hub[2]) - radius for hub, _ in self._hubs())])

    def reach_mm(self) -> tuple[Floats, Floats]:
        """Two corners of the box about everything drawn, bought things too. [mm]."""
        drive = self.e.design.drive
        low, high = 1e3 * self.m.low_m, 1e3 * self.m.high_m
        for hub, along in self._hubs():
            assert drive is not None
            radius = 0.5e3 * self.e.stock.propeller(drive.propeller).diameter_m
            off = np.array([0.0, radius, radius])
            ends = np.stack([hub - off, hub + off, hub + 12.0 * along])
            low, high = np.minimum(low, ends.min(axis=0)), np.maximum(high, ends.max(axis=0))
        return low, high
