"""A tailplane that the fin carries, told by the front view: a design cannot hold it there, and says so."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.shapes.front import FrontWing, front_wings
from sheetlark.trace.shapes.inkgrid import Ink

_TRUSTED = 0.6  # of the body's upper and lower line, the least that is inked where the heights are right
CLEAR = 0.02  # of the span, the least a tailplane stands above the body to be the fin's


def tail_on_fin(
    ink: Ink,
    *,
    semi: float,
    span: float,
    body: tuple[float, float],
    body_top: float,
    fin_top: float,
    wings: tuple[FrontWing, ...],
) -> float | None:
    """Height of a tailplane that stands clear above the body, z in the front view; None where there is none. [mm]

    Parameters
    ----------
    ink : callable (y, z) -> ink strength, millimetres, centre line at y = 0.
    semi : float
        Half span of the tailplane in the top view.
    body : (float, float)
        Lowest and highest z of the body. Where the front view has no ink there, its heights are not to be trusted, as where
        a propeller's disc is drawn larger than all else.
    body_top : float
        Upper line of the body at the tail.
    fin_top : float
        The highest ink there.
    wings : tuple
        Of the front view; a line that goes on with one of them is none.
    """
    low, high = body_top + CLEAR * span, fin_top + CLEAR * span
    if fin_top < low or _drawn_at(ink, body, span) < _TRUSTED:
        return None
    # no half span is asked of these lines, so the pen does not matter
    for line in reversed(front_wings(ink, semi=semi, low=low, high=high, pen=0.0)):
        across, beyond = (
            _inked(ink, line, (0.2 * semi, 0.95 * semi)),
            _inked(ink, line, (1.04 * semi, 1.3 * semi)),
        )
        if across > 0.85 and beyond < 0.4 and not _near(line, wings, span, semi):
            return line.z_mm
    return None


def _drawn_at(ink: Ink, body: tuple[float, float], span: float) -> float:
    """How much of a body's lowest and highest line is inked near the middle of the front view."""
    beside = np.linspace(0.12, 0.2, 7) * (body[1] - body[0])  # of the fin
    y = np.r_[-beside, beside]
    off = np.linspace(-0.006, 0.006, 9)[:, None] * span
    return float(np.mean([(ink(y + 0.0 * off, z + off).max(0) > 0.45).mean() for z in body]))


def _inked(ink: Ink, line: FrontWing, reach: tuple[float, float]) -> float:
    """How much of a line is inked between two distances from the centre line, on the better side of each."""
    y = np.linspace(*reach, 60)
    z = line.z_mm + np.tan(np.radians(line.dihedral_deg)) * y
    off = np.linspace(-0.05, 0.05, 25)[:, None] * reach[1]  # a thick tailplane is two lines
    on = np.maximum(ink(y + 0.0 * off, z + off), ink(-y + 0.0 * off, z + off)).max(0) > 0.45
    return float(on.mean())


def _near(line: FrontWing, wings: tuple[FrontWing, ...], span: float, semi: float) -> bool:
    at = (0.3 * semi, 0.9 * semi)
    rise = np.tan(np.radians(line.dihedral_deg))
    for wing in wings:
        slope = np.tan(np.radians(wing.dihedral_deg))
        if min(abs(line.z_mm + rise * y - wing.z_mm - slope * y) for y in at) < CLEAR * span:
            return True
    return False
