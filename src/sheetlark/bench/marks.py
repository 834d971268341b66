"""What a person has drawn over a picture: scale and centre line, view boxes, outlines, and what was refused.

All places are pixels of the picture as it was given. The page sends the marks whole; they are checked here, kept
as one line of JSON, and turned into the picture room's corrections.
"""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from sheetlark.errors import DesignError
from sheetlark.units import LENGTH, MASS, read_span

if TYPE_CHECKING:
    from sheetlark.trace import Corrections

Plain = dict[str, Any]
Point = tuple[float, float]
PARTS = ("wing", "tail", "body", "fin", "hinge", "strut", "gear", "canopy")
VIEWS = ("top", "side", "front")
NOSES = ("", "up", "down", "left", "right", "toward")
_MOST_OUTLINES = 40
_MOST_NODES = 600
_FAR = 40_000.0
_ARC = 12  # points laid along each curve between two nodes


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkNode:
    """A node of a drawn outline; its handles bend the line before and after it."""

    x: float
    y: float
    before: Point | None = None
    after: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkOutline:
    """A drawn outline, whole or one half of a part that is alike on both sides."""

    part: str
    view: str
    name: str
    half: bool
    nodes: tuple[MarkNode, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkBox:
    """A boxed view."""

    kind: str
    box: tuple[float, float, float, float]
    nose: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Everything set right by hand in one picture.

    span, length, scale_length, mass : as written, with their units; empty where not given. With a mass and no span the
        model is sized to weigh that.
    scale_line, centre_line : two ends each; the centre line's nose end first
    turned_deg : the sheet's turn, None to find it
    left_out : outlines that were found and are not wanted, as "part/view/name"
    refused : simplifications refused, by id
    draft : an outline begun and not yet closed; nothing is traced with it
    """

    span: str = "760 mm"
    length: str = ""
    mass: str = ""
    title: str = "traced"
    page: int = 1
    scale_line: tuple[Point, Point] | None = None
    scale_length: str = ""
    centre_line: tuple[Point, Point] | None = None
    turned_deg: float | None = None
    boxes: tuple[MarkBox, ...] = ()
    outlines: tuple[MarkOutline, ...] = ()
    left_out: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    draft: MarkOutline | None = None

    def text(self) -> str:
        """One line of JSON."""
        return json.dumps(asdict(self), separators=(",", ":"), ensure_ascii=False)

    def plain(self) -> Plain:
        """Plain values for the page."""
        made: Plain = json.loads(self.text())
        return made

    def looked_at(self) -> Marks:
        """What of them the tracing hangs on: the rest only changes the design made of it."""
        return replace(self, mass="", title="", left_out=(), refused=(), draft=None)

    def corrections(self) -> Corrections:
        """The same as the picture room takes it.

        Raises
        ------
        UnitError
            If the scale line's length cannot be read.
        """
        from sheetlark.trace import Corrections, DrawnOutline, ViewBox

        known = self.scale_line is not None and bool(self.scale_length.strip())
        return Corrections(
            scale_line_px=self.scale_line if known else None,
            scale_line_mm=1e3 * LENGTH.read(self.scale_length) if known else None,
            turned_deg=self.turned_deg,
            boxes=tuple(ViewBox(kind=b.kind, box_px=b.box, nose=b.nose) for b in self.boxes),
            centre_line_px=self.centre_line,
            outlines=tuple(
                DrawnOutline(part=o.part, view=o.view, points_px=_points(o), name=o.name, half=o.half)
                for o in self.outlines
            ),
        )


def read_marks(given: object) -> Marks:
    """Check what a page sent, or what the journal kept.

    Raises
    ------
    DesignError
        If it is no such thing, or has more in it than is taken.
    """
    if not isinstance(given, dict):
        raise DesignError("marks are a table of values")
    unknown = set(given) - {f.name for f in fields(Marks)}
    if unknown:
        raise DesignError(f"marks have no {min(map(str, unknown))!r}")
    boxes, outlines = given.get("boxes", ()), given.get("outlines", ())
    if not isinstance(boxes, list | tuple) or len(boxes) > len(VIEWS):
        raise DesignError("at most three views can be boxed, one of each kind")
    if not isinstance(outlines, list | tuple) or len(outlines) > _MOST_OUTLINES:
        raise DesignError(f"at most {_MOST_OUTLINES} outlines can be drawn over one picture")
    turned = given.get("turned_deg")
    marks = Marks(
        span=_words(given.get("span", "760 mm")),
        length=_words(given.get("length", "")),
        mass=_words(given.get("mass", "")),
        title=_words(given.get("title", "traced")),
        page=max(1, min(999, int(given.get("page") or 1))),
        scale_line=_line(given.get("scale_line")),
        scale_length=_words(given.get("scale_length", "")),
        centre_line=_line(given.get("centre_line")),
        turned_deg=None if turned is None else _number(turned),
        boxes=tuple(_box(b) for b in boxes),
        outlines=tuple(_outline(o) for o in outlines),
        left_out=tuple(_words(k, 120) for k in list(given.get("left_out", ()))[:_MOST_OUTLINES]),
        refused=tuple(_words(k) for k in list(given.get("refused", ()))[:20]),
        draft=None if given.get("draft") is None else _outline(given["draft"], least=1),
    )
    if marks.span.strip() or not marks.mass.strip():
        read_span(marks.span)
    for words, kind in ((marks.length, LENGTH), (marks.scale_length, LENGTH), (marks.mass, MASS)):
        if words.strip():
            kind.read(words)
    if marks.turned_deg is not None and abs(marks.turned_deg) > 180.0:
        raise DesignError(f"a sheet is turned by at most 180°, not {marks.turned_deg:g}°")
    return marks


def _words(value: object, most: int = 60) -> str:
    return str(value or "")[:most]


def _number(value: object) -> float:
    number = float(value) if isinstance(value, int | float) else math.nan
    if not math.isfinite(number) or abs(number) > _FAR:
        raise DesignError(f"a place in the picture is a number up to {_FAR:.0f}, not {value!r}")
    return round(number, 3)


def _point(value: object) -> Point:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise DesignError("a point of the picture is two numbers")
    return _number(value[0]), _number(value[1])


def _line(value: object) -> tuple[Point, Point] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise DesignError("a line over the picture has two ends")
    a, b = _point(value[0]), _point(value[1])
    if math.dist(a, b) < 5.0:
        raise DesignError(f"this line is {math.dist(a, b):.1f} px long; draw it at least 5 px long")
    return a, b


def _box(value: Plain) -> MarkBox:
    kind, nose, box = str(value["kind"]), str(value.get("nose") or ""), value["box"]
    if kind not in VIEWS or nose not in NOSES:
        raise DesignError(
            f"a view is top, side or front with its nose up, down, left or right, not {kind!r}, {nose!r}"
        )
    if not isinstance(box, list | tuple) or len(box) != 4:
        raise DesignError("a box has a left, top, right and bottom")
    x0, y0, x1, y1 = (_number(v) for v in box)
    x0, x1, y0, y1 = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
    if min(x1 - x0, y1 - y0) < 5.0:
        raise DesignError("this box is less than 5 px wide or high; draw it round the whole view")
    return MarkBox(kind=kind, box=(x0, y0, x1, y1), nose="" if nose == "toward" else nose)


def _outline(value: Plain, least: int = 3) -> MarkOutline:
    part, view = str(value["part"]), str(value["view"])
    if part not in PARTS or view not in VIEWS:
        raise DesignError(
            f"an outline is of {', '.join(PARTS)} in a top, side or front view, not {part!r}, {view!r}"
        )
    nodes = value["nodes"]
    least = min(least, 2) if part == "hinge" else least
    if not isinstance(nodes, list | tuple) or not least <= len(nodes) <= _MOST_NODES:
        raise DesignError(f"an outline has {least} to {_MOST_NODES} nodes; draw on, or begin again")
    return MarkOutline(
        part=part,
        view=view,
        name=_words(value.get("name") or part, 40),
        half=bool(value.get("half")),
        nodes=tuple(
            MarkNode(
                x=_number(n["x"]),
                y=_number(n["y"]),
                before=None if n.get("before") is None else _point(n["before"]),
                after=None if n.get("after") is None else _point(n["after"]),
            )
            for n in nodes
        ),
    )


def _points(o: MarkOutline) -> tuple[Point, ...]:
    """The outline as points close enough to carry its curves; a half is left open."""
    out: list[Point] = []
    following = [*o.nodes[1:], None if o.half else o.nodes[0]]
    for a, b in zip(o.nodes, following, strict=True):
        out.append((a.x, a.y))
        if b is None or (a.after is None and b.before is None):
            continue
        c, d = a.after or (a.x, a.y), b.before or (b.x, b.y)
        for k in range(1, _ARC):
            t = k / _ARC
            w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
            out.append(
                (
                    w[0] * a.x + w[1] * c[0] + w[2] * d[0] + w[3] * b.x,
                    w[0] * a.y + w[1] * c[1] + w[2] * d[1] + w[3] * b.y,
                )
            )
    return tuple(out)
