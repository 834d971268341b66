"""Wings joined by struts, as one frame: a half of the model, held at its plane of symmetry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface, PlacedStrut
from sheetlark.evaluation.wing_sections import Stations
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.strength import Joint, Member, solve_frame

_NODES = 9
_ELASTIC_AXIS = 0.40
_REACH_M = 0.02  # a root this near the body rests on it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Braced:
    """One braced half wing at its load: arrays of shape (n,).

    moment_nm : bending, positive lifts the tip. deflection_m : upwards. pulls_n : of every strut by name, negative is a
    push.
    """

    y_m: Floats
    moment_nm: Floats
    deflection_m: Floats
    tip_deflection_m: float
    pulls_n: dict[str, float]


def braced_wings(
    wings: list[tuple[LiftingSurface, Stations, Floats]], airframe: Airframe, stock: Stock
) -> dict[str, Braced]:
    """Moments and deflections of the wings that struts join, by name; empty where none does.

    Parameters
    ----------
    wings : list of (surface, stations, net load per span at the stations [N/m])

    Notes
    -----
    Wings are beams along their elastic axis, struts carry stretch alone. A wing whose root rests on the body is held
    there; another hangs on its struts. Struts to the body end at points that do not move.
    """
    between = [s for s in airframe.struts if "body" not in (s.lower, s.upper)]
    if not between:
        return {}
    joints: list[Joint] = []
    members: list[Member] = []
    nodes: dict[str, tuple[Floats, int, int]] = {}
    for surface, at, load in wings:
        mine = [s for s in airframe.struts if surface.name in (s.lower, s.upper)]
        marks = [abs(_end(s, surface.name)[1]) for s in mine]
        y = np.unique(np.round(np.concatenate([np.linspace(0.0, surface.half_span_m, _NODES), marks]), 6))
        y = y[np.concatenate([[True], np.diff(y) > 2e-3])]
        first, first_member = len(joints), len(members)
        rests = _rests(surface, airframe)
        for k, station in enumerate(y.tolist()):
            front, chord = surface.chord_at(station / surface.half_span_m)
            x, side, z = surface.place(front + _ELASTIC_AXIS * chord, station).tolist()
            held = (True, True, rests, True, True, True) if k == 0 else (False,) * 6
            joints.append(Joint(at_m=(x, side, z), held=held))
        for k in range(y.size - 1):
            middle = 0.5 * (y[k] + y[k + 1])
            members.append(
                Member(
                    start=first + k,
                    end=first + k + 1,
                    stretch_n=float(np.interp(middle, at.y_m, at.stretch_n)),
                    bend_nm2=float(np.interp(middle, at.y_m, at.bending_nm2)),
                    bend_sideways_nm2=float(np.interp(middle, at.y_m, at.sideways_nm2)),
                    twist_nm2=float(np.interp(middle, at.y_m, at.torsion_nm2)),
                    load_n_m=(
                        0.0,
                        0.0,
                        float(np.interp(np.linspace(y[k], y[k + 1], 9), at.y_m, load).mean()),
                    ),
                )
            )
        nodes[surface.name] = (y, first, first_member)
    struts: dict[str, int] = {}
    for strut in airframe.struts:
        ends = []
        for name, point in ((strut.lower, strut.lower_m), (strut.upper, strut.upper_m)):
            if name in nodes:
                y, first, _ = nodes[name]
                ends.append(first + int(np.argmin(np.abs(y - abs(point[1])))))
            else:
                ends.append(len(joints))
                joints.append(Joint(at_m=point, held=(True,) * 6))
        struts[strut.name] = len(members)
        members.append(
            Member(
                start=ends[0], end=ends[1], stretch_n=_stretch(strut, stock), pinned=True, up=(1.0, 0.0, 0.0)
            )
        )
    found = solve_frame(tuple(joints), tuple(members))
    pulls = {name: found.tension_n(member) for name, member in struts.items()}
    made = {}
    for surface, _, _ in wings:
        y, first, first_member = nodes[surface.name]
        rows = found.end_forces[first_member : first_member + y.size - 1]
        moment = np.append(rows[:, 4], 0.0)
        made[surface.name] = Braced(
            y_m=y,
            moment_nm=moment,
            deflection_m=np.array(found.moved_m[first : first + y.size, 2]),
            tip_deflection_m=float(found.moved_m[first + y.size - 1, 2]),
            pulls_n=pulls,
        )
    return made


def _end(strut: PlacedStrut, wing: str) -> tuple[float, float, float]:
    return strut.lower_m if strut.lower == wing else strut.upper_m


def _rests(surface: LiftingSurface, airframe: Airframe) -> bool:
    """Whether the wing's root lies on or in the body."""
    body = airframe.body
    if body is None:
        return surface.at_m[2] == min(w.at_m[2] for w in airframe.wings)
    front, chord = surface.chord_at(0.0)
    x = surface.at_m[0] + front + 0.4 * chord
    if not body.nose_m < x < body.tail_m:
        return False
    low, high = body.heights_m(x)
    return low - _REACH_M <= surface.at_m[2] <= high + _REACH_M


def _stretch(strut: PlacedStrut, stock: Stock) -> float:
    """EA of a flat strut. [N]."""
    sheet = stock.sheet(strut.sheet)
    papers = {"both": 2, "one": 1, "none": 0}[strut.paper] if sheet.paper_modulus_pa > 0 else 0
    through = (
        sheet.core_modulus_pa * sheet.thickness_m + papers * sheet.paper_modulus_pa * sheet.paper_thickness_m
    )
    return through * strut.chord_m
