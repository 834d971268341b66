"""Which controls the drawn hinge lines are of, as outlines, and in words which were not found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.model import Note, Outline, exact_outline
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.hinges import Hinge, find_hinge
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

WELL_OUT = 0.25  # share of the half span beyond which an aileron drawn without cuts begins


def control_outlines(
    wings: tuple[tuple[str, Surface], ...],
    tail: Surface | None,
    fin: Surface | None,
    top: Ink,
    side: Ink | None,
    *,
    pen: float,
    post: tuple[float, float] | None,
    trust: float,
) -> list[Outline]:
    """The hinge lines drawn in wings, tail and fin, as open outlines of the part "hinge".

    Parameters
    ----------
    wings : name and surface of each wing, the upper one first.
    post : (x, lowest z) of the body's end in the side view; a rudder hung on it reaches down to there.
    trust : how sure the reading of the picture is, 0 to 1.
    """
    out = []
    mine: list[Hinge] = []  # a wing under another shows the other's hinge in its own outline
    surfaces = [s for _, s in wings]
    for k, (name, wing) in enumerate(wings):
        hinge = find_hinge(
            wing,
            top,
            pen=pen,
            root=max(wing.lead_root, wing.trail_root),
            least=0.14,
            others=tuple(surfaces[:k] + surfaces[k + 1 :]),
        )
        if hinge is not None and not any(hinge.cut) and hinge.inner[1] < WELL_OUT * wing.station[-1]:
            hinge = None  # a spar or a hidden edge runs so, from the body out
        if hinge is not None and not any(
            _beside(hinge, h, 4.0 * pen + 0.02 * wing.station[-1]) for h in mine
        ):
            mine.append(hinge)
            what = "elevon" if tail is None else "aileron"
            words = what if len(wings) == 1 else f"{name} {what}"
            out.append(_outlined(words, "top", hinge, trust))
    if tail is not None:
        root = max(tail.lead_root, tail.trail_root)
        hinge = find_hinge(tail, top, pen=pen, root=root, least=0.4, others=tuple(surfaces))
        if hinge is not None:
            out.append(_outlined("elevator", "top", hinge, trust))
    if fin is not None and side is not None:
        root = float(fin.station[0])
        hinge = find_hinge(fin, side, pen=pen, root=root, least=0.45, mirrored=False)
        if hinge is not None:
            if post is not None and abs(hinge.inner[0] - post[0]) < 3.0 * pen + 0.02 * post[0]:
                hinge = replace(hinge, inner=(hinge.inner[0], min(hinge.inner[1], post[1])))
            out.append(_outlined("rudder", "side", hinge, trust))
    return out


def hinge_note(outlines: list[Outline], *, tailed: bool, finned: bool) -> Note:
    """Which hinge lines were read, and which a starting design must assume."""
    read = [o.name for o in outlines if o.part == "hinge"]
    wanted = ["aileron" if tailed else "elevon"] + ["elevator"] * tailed + ["rudder"] * finned
    missing = [w for w in wanted if not any(w in name for name in read)]
    says = f"Hinge lines read from the picture: {', '.join(read)}." if read else "No hinge line was read."
    if missing:
        says += f" Assumed in a starting design: {', '.join(missing)}."
    return Note(id="hinges", says=says)


def _beside(one: Hinge, other: Hinge, near: float) -> bool:
    """Whether two hinge lines are one drawn line."""
    s = 0.5 * (one.inner[1] + one.outer[1])
    x = [float(np.interp(s, (h.inner[1], h.outer[1]), (h.inner[0], h.outer[0]))) for h in (one, other)]
    return other.inner[1] - near < s < other.outer[1] + near and abs(x[0] - x[1]) < near


def hinge_outline(name: str, view: str, inner: Floats, outer: Floats, confidence: float) -> Outline:
    """A hinge line as an open outline: of the top view's two alike, both in `path`, the starboard one in `half_path`.

    Parameters
    ----------
    inner, outer : its ends (x, station), shape (2,). [mm]
    """
    ends = np.array([inner, outer], dtype=np.float64)
    if view == "top":
        ends[:, 1] = np.abs(ends[:, 1])
    (x0, s0), (x1, s1) = ends[np.argsort(ends[:, 1])].tolist()
    half = f"M {x0:.2f},{s0:.2f} L {x1:.2f},{s1:.2f}"
    other = f" M {x0:.2f},{-s0:.2f} L {x1:.2f},{-s1:.2f}" if view == "top" else ""
    return exact_outline(
        "hinge", name, view, half + other, half if view == "top" else "", nodes=2, confidence=confidence
    )


def _outlined(name: str, view: str, hinge: Hinge, trust: float) -> Outline:
    return hinge_outline(name, view, np.array(hinge.inner), np.array(hinge.outer), trust * hinge.confidence)
