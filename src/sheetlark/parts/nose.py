"""A blunt, round nose: base, bent ring and front piece."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import BodyShape
from sheetlark.errors import GeometryError
from sheetlark.parts.bending import score_note
from sheetlark.parts.blank import Blank, drawn
from sheetlark.parts.body import Shell
from sheetlark.parts.facets import Facet
from sheetlark.parts.firewalls import across

_NOSE_FACETS = 24
_WHERE = ("body", "nose_length")
X, Y, Z = np.eye(3)


def round_nose(shell: Shell, hole_mm: float, length_mm: float, centre_z: float) -> list[Blank]:
    """A blunt round nose ahead of the box: a base disc, a ring rolled from a strip, and the front piece.

    Raises
    ------
    GeometryError
        If the length leaves no ring between base and front piece, or the nose is smaller than the opening.
    """
    t, x = shell.t, shell.nose
    width = 2 * float(shell.inside(x)) + 2 * t
    low, high = shell.heights(x)
    ring = length_mm - 2 * t
    if ring < 3.0:
        raise GeometryError(
            f"a round nose of {length_mm:.1f} mm is too short: base and front piece take {2 * t:.1f} mm and the ring "
            f"between them at least 3 mm",
            _WHERE,
        )
    diameter = min(width, high - low)
    centre = 0.5 * (low + high)
    if diameter < hole_mm + 4 * t:
        raise GeometryError(
            f"a round nose of {diameter:.0f} mm leaves no rim round an opening of {hole_mm:.0f} mm for the motor; "
            f'widen the nose or choose nose = "flat"',
            ("body", "nose"),
        )
    opening = max(hole_mm, diameter - 2 * t - 26.0)

    def base() -> Any:
        """The base closes the whole front of the box, its corners rounded off to the ring."""
        from shapely.geometry import box

        corner = 0.2 * diameter
        inner = box(-width / 2 + corner, low + corner, width / 2 - corner, high - corner)
        return inner.buffer(corner, quad_segs=8).difference(_disc(centre_z, hole_mm, 16))

    def front() -> Any:
        return _disc(centre, diameter, 24).difference(_disc(centre_z, opening, 16))

    body, x_front = shell.body, x - length_mm + t / 2
    cut = (body.sheet, body.paper, t)
    return [
        drawn(
            ("nose base", *cut, x, width, low, high, hole_mm, centre_z),
            lambda: _flat("nose base", body, t, x - t / 2, base()),
        ),
        drawn(
            ("nose ring", *cut, x, diameter, centre, ring), lambda: _ring(body, t, x, diameter, centre, ring)
        ),
        drawn(
            ("nose front", *cut, x_front, diameter, centre, opening, centre_z),
            lambda: _flat("nose front", body, t, x_front, front()),
        ),
    ]


def _disc(z: float, diameter: float, quad_segs: int) -> Any:
    from shapely.geometry import Point

    return Point(0.0, z).buffer(diameter / 2, quad_segs=quad_segs)


def _flat(name: str, body: BodyShape, t: float, x_mid: float, shape: Any) -> Blank:
    return Blank(
        name=name,
        group="body",
        sheet=body.sheet,
        paper=body.paper,
        thickness=t,
        shape=shape,
        facets=(Facet(None, across(x_mid)),),
        face="rear",
        where=_WHERE,
    )


def _ring(body: BodyShape, t: float, x: float, diameter: float, centre: float, ring: float) -> Blank:
    """A strip as long as the ring is round, rolled behind the front piece."""
    from shapely.geometry import Polygon, box

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
        sheet=body.sheet,
        paper=body.paper,
        thickness=t,
        shape=Polygon([(0, 0), (_NOSE_FACETS * reach, 0), (_NOSE_FACETS * reach, ring), (0, ring)]),
        facets=tuple(facets),
        face="inside",
        where=_WHERE,
    )
    for k in range(1, _NOSE_FACETS):
        strip.mark(
            "score",
            [(k * reach, 0.0), (k * reach, ring)],
            "" if k > 1 else score_note(radius, t, paper=strip.paper),
        )
    return strip
