"""Mass elements: plates, rods and boxes with their centres and second moments.

Each element keeps the second-moment matrix S = ∫ r rᵀ dm about its own centre. S turns with any rotation or
reflection as R S Rᵀ and adds by the parallel-axis theorem; the inertia tensor is tr(S) 1 - S.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.outline import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Element:
    """One mass.

    mass_kg : float
    at_m : shape (3,), its centre on the geometry axes [m]
    second_moment : shape (3, 3), ∫ r rᵀ dm about its centre [kg m²]
    """

    mass_kg: float
    at_m: Floats
    second_moment: Floats


def plane_moments(points: Floats) -> tuple[float, Floats, Floats]:
    """Area, first and second moments of a polygon about the origin, signed by its winding.

    Parameters
    ----------
    points : shape (n, 2), closed

    Returns
    -------
    area, first (2,) = ∫ r dA, second (2, 2) = ∫ r rᵀ dA

    Notes
    -----
    Green's theorem over the edges; exact for straight edges. E.g. C. Steger, "On the calculation of arbitrary
    moments of polygons", TU München FGBV-96-05, 1996.
    """
    p = np.asarray(points, dtype=np.float64)
    q = np.concatenate([p[1:], p[:1]])
    x, y, u, v = p[:, 0], p[:, 1], q[:, 0], q[:, 1]
    a = x * v - u * y
    area = 0.5 * float(a.sum())
    first = np.array([(a * (x + u)).sum(), (a * (y + v)).sum()]) / 6.0
    sxx = (a * (x * x + x * u + u * u)).sum() / 12.0
    syy = (a * (y * y + y * v + v * v)).sum() / 12.0
    sxy = (a * (x * v + 2 * x * y + 2 * u * v + u * y)).sum() / 24.0
    return area, first, np.array([[sxx, sxy], [sxy, syy]])


def plate(
    outline_mm: Floats,
    holes_mm: tuple[Floats, ...],
    matrix_mm: Floats,
    *,
    areal_kg_m2: float,
    thickness_m: float,
) -> Element:
    """A flat plate in place, exact for its polygon.

    Parameters
    ----------
    outline_mm, holes_mm : shapes (n, 2); winding does not matter. [mm]
    matrix_mm : shape (4, 4), plane to geometry axes. [mm]
    """
    area, first, second = plane_moments(outline_mm)
    if area < 0:
        area, first, second = -area, -first, -second
    for hole in holes_mm:
        h_area, h_first, h_second = plane_moments(hole)
        sign = -1.0 if h_area > 0 else 1.0
        area, first, second = area + sign * h_area, first + sign * h_first, second + sign * h_second
    centre = first / area
    about = second / area - np.outer(centre, centre)
    mass = areal_kg_m2 * area * 1e-6
    local = np.zeros((3, 3))
    local[:2, :2] = about * 1e-6
    local[2, 2] = thickness_m**2 / 12.0
    turn = matrix_mm[:3, :3]
    at = turn @ np.array([centre[0], centre[1], 0.0]) + matrix_mm[:3, 3]
    return Element(mass_kg=mass, at_m=at * 1e-3, second_moment=mass * (turn @ local @ turn.T))


def rod(start_m: Floats, end_m: Floats, mass_kg: float) -> Element:
    """A thin straight rod from start to end, each of shape (3,). [m]."""
    a, b = np.asarray(start_m, dtype=np.float64), np.asarray(end_m, dtype=np.float64)
    along = b - a
    return Element(mass_kg=mass_kg, at_m=0.5 * (a + b), second_moment=mass_kg / 12.0 * np.outer(along, along))


def line_of_rods(starts_m: Floats, ends_m: Floats, linear_density_kg_m: float) -> Element:
    """Many thin straight rods of one kind as one, ends each of shape (n, 3). [m]."""
    along = ends_m - starts_m
    masses = linear_density_kg_m * np.linalg.norm(along, axis=1)
    mass = float(masses.sum())
    if mass <= 0:
        return Element(mass_kg=0.0, at_m=np.zeros(3), second_moment=np.zeros((3, 3)))
    middles = 0.5 * (starts_m + ends_m)
    centre = masses @ middles / mass
    off = middles - centre
    own = (along * (masses / 12.0)[:, None]).T @ along
    return Element(mass_kg=mass, at_m=centre, second_moment=own + (off * masses[:, None]).T @ off)


def box(at_m: Floats, size_m: tuple[float, float, float], mass_kg: float) -> Element:
    """A uniform box along the axes; a point where its size is zero. [m]."""
    s = np.asarray(size_m, dtype=np.float64)
    return Element(
        mass_kg=mass_kg,
        at_m=np.asarray(at_m, dtype=np.float64),
        second_moment=mass_kg / 12.0 * np.diag(s * s),
    )


def together(elements: list[Element] | tuple[Element, ...]) -> Element:
    """Several elements as one: total mass, common centre, second moment about it.

    Elements without mass are left out; nothing at all is an element of no mass at the origin.
    """
    mass = sum(e.mass_kg for e in elements)
    if mass <= 0:
        return Element(mass_kg=0.0, at_m=np.zeros(3), second_moment=np.zeros((3, 3)))
    masses = np.array([e.mass_kg for e in elements])
    places = np.array([e.at_m for e in elements])
    centre = masses @ places / mass
    off = places - centre
    second = np.sum([e.second_moment for e in elements], axis=0) + (off * masses[:, None]).T @ off
    return Element(mass_kg=float(mass), at_m=centre, second_moment=second)
