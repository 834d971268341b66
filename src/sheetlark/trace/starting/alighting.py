"""Undercarriage and struts of a starting design, from those that were read off the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Outline, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.design_parts import edges_at, points_of

TRACK_SHARE = 0.22  # of the span, where no front view shows the wheels; common practice, no source
LEAST_LEG_MM = 12.0  # between body and axle, for a wire to be bent in


@dataclass(frozen=True, slots=True, kw_only=True)
class GearPlace:
    """Two main wheels as they were drawn. All millimetres.

    wheel : key of the wheel in the stock nearest to the drawn one in size.
    at : x and z of the axle.
    mount_z : where the legs leave the body.
    """

    wheel: str
    at: tuple[float, float]
    track: float
    mount_z: float
    skid: bool


def gear_place(tracing: Tracing, ring: Floats) -> GearPlace | None:
    """The main wheels that were read; None where none was, or they lie too close to the body for legs of wire.

    A nose wheel that was drawn is left out: a design has two main wheels, and a skid where no wheel stands ahead.

    Parameters
    ----------
    ring : ndarray, shape (n, 2)
        The body's side outline. [mm]
    """
    from sheetlark.stock import load_stock

    wheel = tracing.outline("gear", "side", "wheel")
    if wheel is None:
        return None
    p = points_of(wheel.path)
    (x0, z0), (x1, z1) = p.min(0), p.max(0)
    x, z, diameter = 0.5 * float(x0 + x1), 0.5 * float(z0 + z1), 0.5 * float(x1 - x0 + z1 - z0)
    mount = edges_at(ring, x)[0]
    if mount - z < LEAST_LEG_MM:
        return None
    front = tracing.outline("gear", "front", "wheel")
    track = 0.0
    if front is not None:
        y = points_of(front.path)[:, 0]
        track = abs(float(y.min() + y.max()))
    nosed = any(o.part == "gear" and o.name == "nose wheel" for o in tracing.outlines)
    return GearPlace(
        wheel=min(load_stock().wheels, key=lambda w: abs(1e3 * w.diameter_m - diameter)).key,
        at=(x, z),
        track=track if track > 0.0 else TRACK_SHARE * tracing.span_mm,
        mount_z=mount,
        skid=not nosed,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StrutPlace:
    """Where a biplane's struts stand: distance from the centre line [mm], and middle as a share of the chord.

    y, place : None where they were not read.
    """

    y: float | None
    place: float | None


def strut_place(tracing: Tracing, name: str, upper: Floats) -> StrutPlace:
    """Where the struts of a name, "interplane strut" or "cabane strut", were read.

    Of several beside each other the outermost counts, of several behind each other their middle.

    Parameters
    ----------
    upper : ndarray, shape (n, 2)
        The upper wing's half outline. [mm]
    """
    mine = [o for o in tracing.outlines if o.part == "strut" and o.name.startswith(name)]
    ahead = [_middle(o)[0] for o in mine if o.view == "front"]
    beside = [_head(o) for o in mine if o.view == "side"]
    lead, trail = float(upper[0, 0]), float(upper[-1, 0])
    place = (float(np.mean(beside)) - lead) / max(trail - lead, 1e-9) if beside else None
    return StrutPlace(y=max(ahead) if ahead else None, place=place)


def _middle(o: Outline) -> tuple[float, float]:
    p = points_of(o.path)[:4]
    return float(p[:, 0].mean()), float(p[:, 1].mean())


def _head(o: Outline) -> float:
    """Where a strut's upper end lies along the first axis. [mm]"""
    p = points_of(o.path)
    return float(p[p[:, 1] > p[:, 1].mean(), 0].mean())
