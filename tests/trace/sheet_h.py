"""The sheets of hand h: views laid out, lines that show, dimensions, lettering and the rest, all in pixels of the sheet."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from planes_h import Plane, Shape
from shapely.ops import unary_union

Points = np.ndarray
THROUGH = frozenset({"wing", "tail", "body"})  # what a drawing draws through, if it does

# Where a view's axes go on the sheet (right, down) for a nose that points this way.
TOP = {
    "up": np.array([[0, 1], [1, 0]]),
    "down": np.array([[0, -1], [-1, 0]]),
    "left": np.array([[1, 0], [0, -1]]),
    "right": np.array([[-1, 0], [0, 1]]),
}
SIDE = {"left": np.array([[1, 0], [0, -1]]), "right": np.array([[-1, 0], [0, -1]])}
FRONT = np.array([[1, 0], [0, -1]])
LAYOUTS = ("column", "third", "third right", "plan left", "plan right", "first", "side over plan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line of the sheet. weight: "outline", "inner" or "thin"; dash: "", "dashed" or "chain". points in px."""

    points: Points
    weight: str = "outline"
    dash: str = ""
    layer: str = "sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    says: str
    at: tuple[float, float]  # the middle of the lettering [px]
    height: float
    upright: bool = False  # reads from below to above


@dataclass(slots=True, kw_only=True)
class Sheet:
    """A sheet of `size` px. to_px: each view's map from mm."""

    size: tuple[int, int]
    px_per_mm: float
    to_px: dict[str, Points]
    strokes: list[Stroke] = field(default_factory=list)
    fills: list[tuple[Points, int]] = field(default_factory=list)  # with their grey
    texts: list[Text] = field(default_factory=list)

    def place(self, view: str, points: Points) -> Points:
        m = self.to_px[view]
        return points @ m[:, :2].T + m[:, 2]


# ---- layout ---------------------------------------------------------------------------------------------------------
def axes_of(layout: str, rng: np.random.Generator) -> dict[str, Points]:
    """Each view's turn on the sheet."""
    nose = str(rng.choice(["left", "right"]))
    top = {"third": "left", "third right": "right", "first": "down", "side over plan": nose}.get(layout, "up")
    side = {"third": "left", "third right": "right", "side over plan": nose}.get(layout, nose)
    if layout == "plan right" and rng.random() < 0.3:
        top = "down"
    return {"top": TOP[top], "side": SIDE[side], "front": FRONT}


def lay_out(p: Plane, rng: np.random.Generator, layout: str, long_px: int, gap: float) -> Sheet:
    """Views placed on a sheet whose longer side is `long_px`; `gap` between views, in spans."""
    axes = axes_of(layout, rng)
    spans: dict[str, Points] = {}
    for view, shapes in p.views.items():
        b = np.array(unary_union([s.outline for s in shapes]).bounds).reshape(2, 2)
        corners = np.array([[b[i, 0], b[j, 1]] for i in (0, 1) for j in (0, 1)]) @ axes[view].T
        spans[view] = np.array([corners.min(0), corners.max(0)])
    size = {v: s[1] - s[0] for v, s in spans.items()}
    g = gap * p.span_mm
    jog = rng.uniform(0, 0.05, 3) * p.span_mm * (layout in {"column", "plan left", "plan right"})
    t, s, f = size["top"], size["side"], size["front"]
    at: dict[str, Points] = {"top": np.zeros(2)}
    own = {v: -spans[v][0] for v in spans}  # the views' origins from their corners
    if layout in {"third", "third right", "side over plan"}:
        line = own["top"][0] - own["side"][0]  # noses of plan and side on one line
        over = layout == "side over plan"
        at["side"] = np.array([line, -g - s[1] if over else t[1] + g])
        level = at["side"][1] + own["side"][1] - own["front"][1]
        at["front"] = np.array([-g - f[0] if layout == "third right" else max(t[0], line + s[0]) + g, level])
    elif layout == "column":
        middle = [(t[0] - v[0]) / 2 for v in (f, s)]
        at["front"] = np.array([middle[0], t[1] + g])
        at["side"] = np.array([middle[1] + jog[0], t[1] + f[1] + 2 * g])
    elif layout == "first":
        at["front"] = np.array([own["top"][0] - own["front"][0], -g - f[1]])
        level = at["front"][1] + own["front"][1] - own["side"][1]
        at["side"] = np.array([max(t[0], f[0]) + g, level])
    else:
        x = t[0] + g if layout == "plan left" else -g - max(s[0], f[0])
        at["side"] = np.array([x + jog[0], jog[1]])
        at["front"] = np.array(
            [x + jog[2], jog[1] + s[1] + 1.2 * g + max(0.0, t[1] - s[1] - f[1] - 2 * g) * rng.uniform(0, 1)]
        )
    lo = np.min([at[v] for v in at], axis=0)
    hi = np.max([at[v] + size[v] for v in at], axis=0)
    margin = np.array([rng.uniform(0.09, 0.16), rng.uniform(0.1, 0.16)]) * p.span_mm
    whole = hi - lo + 2 * margin
    k = long_px / whole.max()
    to_px = {v: np.c_[axes[v] * k, (at[v] - lo + margin + own[v]) * k] for v in at}
    return Sheet(size=(int(np.ceil(whole[0] * k)), int(np.ceil(whole[1] * k))), px_per_mm=k, to_px=to_px)


# ---- what shows -----------------------------------------------------------------------------------------------------
def before(shapes: list[Shape], k: int, style: str) -> shapely.Geometry:
    """What lies before a shape and hides it. style: "hidden", "dashed", "through" or "solid" (one silhouette)."""
    one = shapes[k]
    if style == "solid":
        return unary_union([s.outline for i, s in enumerate(shapes) if i != k])
    near = shapes[:k]
    if style == "through" and one.part in THROUGH:
        near = [s for s in near if s.part not in THROUGH]
    return unary_union([s.outline for s in near])


def _lines(g: shapely.Geometry) -> list[Points]:
    merged = shapely.line_merge(g) if g.geom_type == "MultiLineString" else g
    parts = getattr(merged, "geoms", [merged])
    return [np.array(q.coords) for q in parts if q.geom_type == "LineString" and q.length > 0]


def draw_view(sheet: Sheet, view: str, shapes: list[Shape], style: str, *, inner: bool) -> None:
    """The lines of a view that show."""
    if style == "solid":
        whole = unary_union([s.outline for s in shapes])
        for ring in getattr(whole, "geoms", [whole]):
            sheet.strokes.append(Stroke(points=sheet.place(view, np.array(ring.exterior.coords)), layer=view))
            sheet.strokes += [
                Stroke(points=sheet.place(view, np.array(h.coords)), layer=view) for h in ring.interiors
            ]
        return
    for k, s in enumerate(shapes):
        cover = before(shapes, k, style)
        edge = s.outline.exterior
        for line in _lines(edge.difference(cover)):
            sheet.strokes.append(Stroke(points=sheet.place(view, line), layer=view))
        if style == "dashed" and s.part in THROUGH:
            for line in _lines(edge.intersection(cover)):
                sheet.strokes.append(
                    Stroke(points=sheet.place(view, line), weight="inner", dash="dashed", layer=view)
                )
        if inner:
            for line in s.inner:
                shown = shapely.LineString(line).intersection(s.outline).difference(cover)
                sheet.strokes += [
                    Stroke(points=sheet.place(view, q), weight="inner", layer=view) for q in _lines(shown)
                ]


def fill_view(sheet: Sheet, view: str, shapes: list[Shape], grey: int) -> None:
    whole = unary_union([s.outline for s in shapes])
    for ring in getattr(whole, "geoms", [whole]):
        sheet.fills.append((sheet.place(view, np.array(ring.exterior.coords)), grey))
        sheet.fills += [(sheet.place(view, np.array(h.coords)), 255) for h in ring.interiors]


def hatch(sheet: Sheet, view: str, area: shapely.Geometry, step: float, angle: float) -> None:
    """Thin parallel lines over an area in mm; step in mm."""
    c = np.array(area.centroid.coords[0])
    d, n = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    reach = 0.75 * float(np.hypot(area.bounds[2] - area.bounds[0], area.bounds[3] - area.bounds[1]))
    for v in np.arange(-reach, reach, step):
        line = shapely.LineString([c + v * n - reach * d, c + v * n + reach * d]).intersection(area)
        sheet.strokes += [
            Stroke(points=sheet.place(view, q), weight="thin", layer="hatch") for q in _lines(line)
        ]
