"""Struts: each carries stagger, gap and the incidence of both wings in its own outline."""

from __future__ import annotations

import numpy as np

from sheetlark.airframe import PlacedStrut
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import Facet, flat_at
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Joint, RodPiece
from sheetlark.parts.tabs import tab_into

_FOOT_MM = 28.0  # how far a cabane strut is glued down inside the body's side; common practice, no source
_TAB_SHARE = 0.5


def strut_blank(strut: PlacedStrut, panels: dict[str, Panel], inner_face_y_mm: float | None) -> Blank:
    """Cut a strut to sit between two wings, or between the body's side and a wing.

    inner_face_y_mm : where the body's side has its inner face at the strut's foot; None between wings

    Raises
    ------
    GeometryError
        If the wings leave nothing between them.
    """
    from shapely.geometry import Polygon

    low, high = 1e3 * np.asarray(strut.lower_m), 1e3 * np.asarray(strut.upper_m)
    t, chord = 1e3 * strut.thickness_m, 1e3 * strut.chord_m
    if inner_face_y_mm is not None:
        beside = inner_face_y_mm - t / 2
        if abs(beside - low[1]) < 6.0:
            low[1] = high[1] = beside
    up = high - low
    at_datum = low[1] - low[2] * up[1] / up[2]  # where its plane, which may lean, meets z = 0
    matrix = flat_at(np.array([0.0, at_datum, 0.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, up[1], up[2]]))
    low2, high2 = ((p - matrix[:3, 3]) @ matrix[:3, :2] for p in (low, high))
    lean = (high2[0] - low2[0]) / (high2[1] - low2[1])

    def corner(v: float, share: float) -> tuple[float, float]:
        return (low2[0] + lean * (v - low2[1]) + share * chord, v)

    foot = _FOOT_MM if strut.lower == "body" else 1.5 * t
    head = _FOOT_MM if strut.upper == "body" else 1.5 * t
    shape = Polygon(
        [
            corner(low2[1] - foot, -0.5),
            corner(low2[1] - foot, 0.5),
            corner(high2[1] + head, 0.5),
            corner(high2[1] + head, -0.5),
        ]
    )
    blank = Blank(
        name=_name(strut),
        group="strut",
        sheet=strut.sheet,
        paper=strut.paper,
        thickness=t,
        shape=shape,
        facets=(Facet(None, matrix),),
        sides="pair" if low[1] > t / 2 else "one",
        face="inside",
        where=strut.where,
    )
    middle = 0.5 * (low2 + high2)
    for name in (strut.lower, strut.upper):
        if name != "body":
            _trim(blank, panels[name], middle)
    return blank


def _name(strut: PlacedStrut) -> str:
    if "body" in (strut.lower, strut.upper):
        return "cabane strut" if strut.lower == "body" else f"{strut.name} to body"
    return f"cross brace, {strut.name.rsplit(', ', 1)[1]}" if strut.crossed else "interplane strut"


def _trim(blank: Blank, panel: Panel, middle: Floats) -> None:
    """Cut a strut off at a wing's face: keep what lies on the side of its middle."""
    from shapely.geometry import Point

    cover = blank.shadow(panel.whole)
    if cover is None:
        raise GeometryError(f"{blank.name!r} does not reach {panel.surface.name!r}", blank.where)
    pieces = list(getattr(blank.shape.difference(cover), "geoms", [blank.shape.difference(cover)]))
    at = Point(float(middle[0]), float(middle[1]))
    keep = min(pieces, key=lambda p: p.distance(at), default=None)
    if keep is None or keep.distance(at) > 1.0:
        raise GeometryError(
            f"{panel.surface.name!r} leaves no room for {blank.name!r}: the wings lie too close together there",
            blank.where,
        )
    blank.shape = keep


def strut_tabs(
    blank: Blank, strut: PlacedStrut, panels: dict[str, Panel], rods: list[RodPiece]
) -> list[Joint]:
    """Tabs at each wing end of a strut, and the slots for them in the wings."""
    joints = []
    low, high = 1e3 * np.asarray(strut.lower_m), 1e3 * np.asarray(strut.upper_m)
    for name, end, sign in ((strut.lower, low, -1), (strut.upper, high, 1)):
        if name == "body":
            continue
        panel = panels[name]
        edge = _end_edge(blank, sign)
        run = edge[1] - edge[0]
        length = float(np.linalg.norm(run))
        share = min(_TAB_SHARE, max(0.3, 1 - 16.0 / length))
        centre = 0.5
        for rod in rods:
            if rod.name.startswith(panel.surface.name):
                centre = _clear_of(rod, blank, edge, share)
        a, b = edge[0] + (centre - share / 2) * run, edge[0] + (centre + share / 2) * run
        joint = tab_into(blank, panel.fixed, (a, b), panel.fixed.thickness)
        _ = end
        if joint is not None:
            joints.append(joint)
    return joints


def _end_edge(blank: Blank, sign: int) -> Floats:
    """The lower (-1) or upper (+1) edge of a strut, fore end first, shape (2, 2)."""
    p = np.asarray(blank.shape.exterior.coords)[:-1]
    order = np.argsort(sign * p[:, 1])[-2:]
    edge = p[order]
    return edge[np.argsort(edge[:, 0])]


def _clear_of(rod: RodPiece, blank: Blank, edge: Floats, share: float) -> float:
    """Where along an edge a tab lies clear of a spar that runs across it."""
    a, b = (np.asarray(p) for p in (rod.start_mm, rod.end_mm))
    y = float(blank.to_space(edge)[0, 1])
    if abs(b[1] - a[1]) < 1e-6 or not min(a[1], b[1]) - 2 <= y <= max(a[1], b[1]) + 2:
        return 0.5
    x = float(a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]))
    half = 0.5 * rod.width_mm + 1.5
    front, back = (float(v) for v in blank.to_space(edge)[:, 0])
    length = back - front
    low, high = (x - half - front) / length, (x + half - front) / length
    if high < 0.5 - share / 2 or low > 0.5 + share / 2:
        return 0.5
    behind, ahead = 1.0 - high, low
    if behind >= ahead:
        return max(0.5, min(1 - share / 2 - 0.04, high + share / 2))
    return min(0.5, max(share / 2 + 0.04, low - share / 2))
