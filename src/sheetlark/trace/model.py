"""What a traced picture tells: views, outlines, and how sure each of them is."""

from __future__ import annotations

import json
from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axes:
    """A view's plane drawn in the picture: (a, b) in mm lies at origin + a * first + b * second.

    origin_px : where both are 0, in the picture as it was given.
    first_px, second_px : pixels a millimetre along the first and the second axis of the view's plane.
    """

    origin_px: Point
    first_px: Point
    second_px: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view found in the picture.

    kind : top, side or front.
    box_px : left, top, right, bottom in the picture as it was given.
    scale_mm_per_px : model millimetres per picture pixel.
    nose : where the nose points in the straightened picture: up, down, left, right; toward in a front view.
    axes : where the view's plane lies in the picture; None where it is not known.
    """

    kind: str
    box_px: tuple[float, float, float, float]
    scale_mm_per_px: float
    nose: str
    confidence: float
    axes: Axes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One part's closed outline in one view.

    path : SVG path data, mm, in the view's plane: top (x, y), side (x, z), front (y, z).
    half_path : for a part symmetric about y = 0, its starboard half from centre line to centre line; else "".
    filled_path : the same with a cut-out in the wing's trailing edge filled; "" where there is none.
    nodes : curve nodes of `path`.
    error_mm : root mean square distance of the traced points from the curve.
    worst_mm : largest such distance.
    """

    part: str
    name: str
    view: str
    path: str
    half_path: str
    confidence: float
    error_mm: float
    worst_mm: float
    nodes: int
    filled_path: str = ""


def exact_outline(
    part: str, name: str, view: str, path: str, half_path: str = "", *, nodes: int, confidence: float
) -> Outline:
    """An outline of lines that were found as such, so that nothing was fitted and nothing is off."""
    return Outline(
        part=part,
        name=name,
        view=view,
        path=path,
        half_path=half_path,
        confidence=min(max(confidence, 0.02), 0.95),
        error_mm=0.0,
        worst_mm=0.0,
        nodes=nodes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something the builder should know about the reading of the picture."""

    id: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proportions:
    """Figures read off the outlines, for a starting design. All millimetres and degrees; None where not seen."""

    span_mm: float
    length_mm: float | None
    dihedral_deg: float | None
    wing_height_mm: tuple[float, ...]
    stagger_mm: float | None
    gap_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracing:
    """A picture read: size, turn, views, outlines."""

    picture: str
    size_px: tuple[int, int]
    turned_deg: float
    span_mm: float
    views: tuple[View, ...]
    outlines: tuple[Outline, ...]
    proportions: Proportions
    notes: tuple[Note, ...]
    confidence: float

    def view(self, kind: str) -> View | None:
        return next((v for v in self.views if v.kind == kind), None)

    @property
    def wings(self) -> tuple[Outline, ...]:
        """The wings of the top view of which a half is known, as a design needs them."""
        return tuple(o for o in self.outlines if o.part == "wing" and o.view == "top" and o.half_path)

    def outline(self, part: str, view: str, name: str = "") -> Outline | None:
        """The outline of a part in a view; of several, the named one or the first."""
        fits = [
            o for o in self.outlines if o.part == part and o.view == view and (not name or o.name == name)
        ]
        return fits[0] if fits else None

    def to_json(self) -> str:
        """The stable document `sheetlark trace --json` prints."""
        doc = {
            "picture": self.picture,
            "size_px": list(self.size_px),
            "turned_deg": round(self.turned_deg, 3),
            "span_mm": round(self.span_mm, 3),
            "confidence": round(self.confidence, 3),
            "views": [
                {
                    "kind": v.kind,
                    "box_px": [round(b, 1) for b in v.box_px],
                    "scale_mm_per_px": round(v.scale_mm_per_px, 6),
                    "nose": v.nose,
                    "confidence": round(v.confidence, 3),
                }
                for v in self.views
            ],
            "outlines": [
                {
                    "part": o.part,
                    "name": o.name,
                    "view": o.view,
                    "path": o.path,
                    "half_path": o.half_path,
                    "confidence": round(o.confidence, 3),
                    "nodes": o.nodes,
                    "fit_error_mm": {"rms": round(o.error_mm, 3), "worst": round(o.worst_mm, 3)},
                }
                for o in self.outlines
            ],
            "proportions": {
                "span_mm": round(self.proportions.span_mm, 2),
                "length_mm": _round(self.proportions.length_mm),
                "dihedral_deg": _round(self.proportions.dihedral_deg),
                "wing_height_mm": [round(h, 2) for h in self.proportions.wing_height_mm],
                "stagger_mm": _round(self.proportions.stagger_mm),
                "gap_mm": _round(self.proportions.gap_mm),
            },
            "notes": [{"id": n.id, "says": n.says} for n in self.notes],
        }
        return json.dumps(doc, indent=2, ensure_ascii=False)


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewBox:
    """A view the user boxed in: its kind, its box in the picture, and where its nose points ("" to find out)."""

    kind: str
    box_px: tuple[float, float, float, float]
    nose: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnOutline:
    """An outline the user drew or corrected: points in picture pixels, in order, not repeated at the end.

    half : the points are one half of a part symmetric about the top view's centre line, from the line back to it.
    smooth : fit curves through the points; else each point is a node.
    """

    part: str
    view: str
    points_px: tuple[Point, ...]
    name: str = ""
    smooth: bool = True
    half: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrections:
    """What the user set right. Anything left empty is found as usual.

    scale_line_px, scale_line_mm : two points of the picture and the model distance between them.
    turned_deg : the sheet's turn, if the found one is wrong.
    boxes : views boxed in by hand; kinds not named are not looked for.
    centre_line_px : the mirror line of the top view, two points, nose end first.
    outlines : outlines drawn by hand; they replace found ones of the same part, view and name.
    """

    scale_line_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    scale_line_mm: float | None = None
    turned_deg: float | None = None
    boxes: tuple[ViewBox, ...] = ()
    centre_line_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    outlines: tuple[DrawnOutline, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One simplification: what it changes, why, and whether it is in the design written.

    worth : what it is worth in the figure it is about, as a sentence.
    """

    id: str
    says: str
    worth: str
    taken: bool
