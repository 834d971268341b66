"""A third hand's three-view drawings of known geometry, to judge the tracing from outside.

`draw(seed, kind, wear)` is deterministic: the aeroplane hangs on seed and kind alone (see `planes_c`), the page and
its wear on all three. Truth is given in the design's axes in millimetres: x aft from the body's front (a stepped
spinner stands before it), y starboard, z up from the middle of the nose.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import planes_c
import shapely
import shapely.ops
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

Points = np.ndarray
WEARS = ("clean", "mild", "heavy")
LEFT, RIGHT, UP = "left", "right", "up"

# rows of views; nose of the top view, nose of the side view
LAYOUTS: tuple[tuple[tuple[tuple[str, ...], ...], tuple[str, ...], tuple[str, ...]], ...] = (
    ((("top",), ("side",), ("front",)), (LEFT, RIGHT), (LEFT, RIGHT)),
    ((("top",), ("side", "front")), (LEFT, RIGHT), (LEFT, RIGHT)),
    ((("top",), ("front", "side")), (UP,), (LEFT, RIGHT)),
    ((("front",), ("top",), ("side",)), (LEFT, UP), (LEFT,)),
    ((("top", "side", "front"),), (LEFT, RIGHT, UP), (LEFT, RIGHT)),
    ((("top", "side"), ("front",)), (UP,), (UP,)),
    ((("side", "front"), ("top",)), (LEFT, RIGHT, UP), (LEFT, RIGHT)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueOutline:
    """A part's true closed outline. [mm]

    points : (n, 2), top (x, y), side (x, z), front (y, z); not repeated at the end.
    uncounted : region whose stretches do not count: hidden and not drawn, or open to two right readings.
    drawn : (k, 2) points of the outline that are inked with a whole line.
    """

    part: str
    name: str
    view: str
    points: Points
    uncounted: BaseGeometry
    drawn: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueHinge:
    part: str
    view: str
    segment: Points  # (2, 2) mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """to_px : view -> (2, 3) matrix from millimetres of that view to pixels (pixel i covers i to i + 1)."""

    image: np.ndarray  # uint8, (h, w) or (h, w, 3)
    kind: str
    span_mm: float
    length_mm: float
    scale_mm_per_px: float
    turned_deg: float
    outlines: tuple[TrueOutline, ...]
    hinges: tuple[TrueHinge, ...]
    boxes_px: dict[str, tuple[float, float, float, float]]
    noses: dict[str, str]
    to_px: dict[str, Points]
    pen_px: float
    traits: dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a page is drawn and worn."""

    page_px: int
    pen: float
    fine: float
    smooth: bool
    layout: int
    turned_deg: float
    fill: str  # none, parts, all
    tone: int
    ink: int
    centre_lines: bool
    dimensions: int  # 0 none, 1 span, 2 span and length, 3 all
    touching: bool  # extension lines that start on the outline
    title: bool
    frame: bool
    hatching: str
    lettering: int
    gaps: int
    scratches: int
    paper: tuple[int, int, int]
    gradient: float
    noise: float
    specks: int
    blur: float
    jpeg: int
    shadow: bool


def habit(seed: int, kind: str, wear: str) -> Habit:
    r = np.random.default_rng([730_029, seed, planes_c.KINDS.index(kind)])
    page = int(np.exp(r.uniform(np.log(800), np.log(3000))))
    layout = int(r.integers(len(LAYOUTS)))
    thickest = min(9.0, page / 300)
    pen = round(float(np.exp(r.uniform(0, np.log(max(thickest, 1.6))))), 1)
    smooth = bool(r.random() < 0.75)
    w = np.random.default_rng([730_041, seed, planes_c.KINDS.index(kind), WEARS.index(wear)])
    chance = lambda p: bool(w.random() < p)  # noqa: E731
    if wear == "clean":
        return Habit(
            page_px=page, pen=pen, fine=pen, smooth=smooth, layout=layout, turned_deg=0.0, fill="none", tone=255, ink=0,
            centre_lines=False, dimensions=0, touching=False, title=False, frame=False, hatching="none", lettering=0,
            gaps=0, scratches=0, paper=(255, 255, 255), gradient=0.0, noise=0.0, specks=0, blur=0.0, jpeg=0, shadow=False,
        )  # fmt: skip
    heavy = wear == "heavy"
    turn = float(w.normal(0, 0.7 if not heavy else 2.2))
    if heavy and chance(0.15):
        turn = float(w.choice([-1, 1]) * w.uniform(5, 15))
    tint = w.uniform(0, 1) if heavy else w.uniform(0, 0.35)
    base = w.uniform(185, 250) if heavy else w.uniform(225, 255)
    paper = tuple(int(v) for v in (base, base * (1 - 0.05 * tint), base * (1 - 0.25 * tint)))
    fill = str(w.choice(["none", "parts", "all"], p=[0.7, 0.15, 0.15]))
    if chance(0.3):
        paper = (paper[0],) * 3
    return Habit(
        page_px=page,
        pen=pen,
        fine=max(1.0, round(pen * w.uniform(0.4, 0.8), 1)),
        smooth=smooth,
        layout=layout,
        turned_deg=turn,
        fill=fill,
        tone=int(w.uniform(150, 225)) if fill == "parts" else int(w.uniform(60, 215)),
        ink=int(w.uniform(0, 70)) if heavy else int(w.uniform(0, 35)),
        centre_lines=chance(0.5),
        dimensions=int(w.integers(0, 4)) if heavy else int(w.integers(0, 3)),
        touching=chance(0.3) if heavy else False,
        title=chance(0.6) if heavy else chance(0.35),
        frame=chance(0.5) if heavy else chance(0.3),
        hatching=str(w.choice(["none", "body", "wing", "tail"], p=[0.6, 0.2, 0.1, 0.1] if heavy else [0.85, 0.1, 0, 0.05])),
        lettering=int(w.integers(0, 5)) if heavy else int(w.integers(0, 3)),
        gaps=int(w.integers(0, 6)) if heavy else int(w.integers(0, 2)),
        scratches=int(w.integers(0, 5)) if heavy else 0,
        paper=paper,  # type: ignore[arg-type]
        gradient=float(w.uniform(0, 45)) if heavy else float(w.uniform(0, 15)),
        noise=float(w.uniform(2, 12)) if heavy else float(w.uniform(0, 4)),
        specks=int(w.integers(0, 120)) if heavy else int(w.integers(0, 12)),
        blur=float(w.uniform(0.3, 1.3)) if heavy else float(w.uniform(0, 0.7)),
        jpeg=int(w.integers(35, 75)) if heavy else int(w.choice([0, 80, 90])),
        shadow=chance(0.12) if heavy else False,
    )  # fmt: skip


def _axes(view: str, nose: str) -> Points:
    """(2, 2) matrix from the view's plane to the page: u right, v down."""
    if view == "front":
        return np.array([[1.0, 0.0], [0.0, -1.0]])
    if view == "top":
        return {
            LEFT: np.array([[1.0, 0.0], [0.0, -1.0]]),
            RIGHT: np.array([[-1.0, 0.0], [0.0, 1.0]]),
            UP: np.array([[0.0, 1.0], [1.0, 0.0]]),
        }[nose]
    return {
        LEFT: np.array([[1.0, 0.0], [0.0, -1.0]]),
        RIGHT: np.array([[-1.0, 0.0], [0.0, -1.0]]),
        UP: np.array([[0.0, -1.0], [1.0, 0.0]]),
    }[nose]


class _Sheet:
    """Ink and fill, drawn several times too large and then taken down."""

    def __init__(self, size: tuple[int, int], over: int) -> None:
        self.size, self.over = size, over
        big = (size[0] * over, size[1] * over)
        self.ink = Image.new("L", big, 0)
        self.fill = Image.new("L", big, 255)
        self._ink, self._fill = ImageDraw.Draw(self.ink), ImageDraw.Draw(self.fill)

    def _at(self, pts: Points) -> list[tuple[float, float]]:
        """Whole pixels, which lines are cut down to anyway."""
        return [(float(x), float(y)) for x, y in np.floor(np.asarray(pts) * self.over)]

    def paint(self, pts: Points, tone: int | None) -> None:
        """Cover a polygon: what lies under it goes."""
        self._ink.polygon(self._at(pts), fill=0)
        if tone is not None:
            self._fill.polygon(self._at(pts), fill=tone)

    def erase(self, pts: Points, pen: float) -> None:
        self._stroke(self._at(pts), pen, 0)

    def line(self, pts: Points, pen: float) -> None:
        self._stroke(self._at(pts), pen, 255)

    def _stroke(self, at: list[tuple[float, float]], pen: float, value: int) -> None:
        w = max(1, round(pen * self.over))
        self._ink.line(at, fill=value, width=w, joint="curve")
        if w > 2:
            for x, y in (at[0], at[-1]):
                self._ink.ellipse((x - w / 2, y - w / 2, x + w / 2, y + w / 2), fill=value)

    def dashed(self, pts: Points, pen: float, pattern: tuple[float, ...]) -> None:
        """Dashes and gaps in turn, in pixels."""
        line = LineString(pts)
        at, k = 0.0, 0
        while at < line.length:
            step = pattern[k % len(pattern)]
            if k % 2 == 0:
                piece = shapely.ops.substring(line, at, min(at + step, line.length))
                if piece.geom_type == "LineString":
                    self.line(np.array(piece.coords), pen)
            at += step
            k += 1

    def text(self, where: Points, words: str, height: float, turn_deg: float) -> None:
        font = ImageFont.load_default(size=max(6.0, height * self.over))
        box = font.getbbox(words)
        scrap = Image.new("L", (int(box[2]) + 4, int(box[3]) + 4), 0)
        ImageDraw.Draw(scrap).text((2, 2), words, fill=255, font=font)
        scrap = scrap.rotate(-turn_deg, expand=True, resample=Image.Resampling.BILINEAR)
        x, y = (np.asarray(where) * self.over).astype(int)
        self.ink.paste(255, (int(x - scrap.width / 2), int(y - scrap.height / 2)), scrap)

    def done(self, smooth: bool, least: float) -> tuple[np.ndarray, np.ndarray]:
        """Ink cover and fill tone, each 0 to 1, at the page's own size."""
        ink = np.asarray(self.ink.resize(self.size, Image.Resampling.BOX), np.float32) / 255
        fill = np.asarray(self.fill.resize(self.size, Image.Resampling.BOX), np.float32) / 255
        if not smooth:
            ink = (ink >= least).astype(np.float32)
        return ink, fill


def _rings(g: BaseGeometry) -> list[Points]:
    if g.is_empty:
        return []
    parts = g.geoms if isinstance(g, MultiPolygon) else [g]
    return [np.array(p.exterior.coords) for p in parts if isinstance(p, Polygon)]


def _lines(g: BaseGeometry) -> list[Points]:
    if g.is_empty:
        return []
    g = shapely.line_merge(g) if g.geom_type == "MultiLineString" else g
    return [
        np.array(p.coords) for p in getattr(g, "geoms", [g]) if p.geom_type in {"LineString", "LinearRing"}
    ]


def _over(shapes: list[planes_c.Shape], k: int) -> BaseGeometry:
    """What hides shape k."""
    return shapely.union_all([s.poly for s in shapes[k + 1 :] if s.opaque] or [Polygon()])


def draw(seed: int, kind: str, wear: str) -> Drawing:
    """Draw one page."""
    m, h = planes_c.plane(seed, kind), habit(seed, kind, wear)
    r = np.random.default_rng([730_057, seed, planes_c.KINDS.index(kind), WEARS.index(wear)])
    lay = np.random.default_rng([730_063, seed, planes_c.KINDS.index(kind)])
    rows, top_noses, side_noses = LAYOUTS[h.layout]
    noses = {"top": str(lay.choice(top_noses)), "side": str(lay.choice(side_noses)), "front": "toward"}

    # place the views on a page of millimetres at model size
    axes = {v: _axes(v, noses[v]) for v in ("top", "side", "front")}
    flat = {
        v: np.vstack([np.array(s.poly.exterior.coords) for s in m.shapes[v]]) @ axes[v].T
        for v in ("top", "side", "front")
    }
    lo, hi = {v: p.min(0) for v, p in flat.items()}, {v: p.max(0) for v, p in flat.items()}
    gap = m.span_mm * lay.uniform(0.1, 0.16)
    widths = [sum(hi[v][0] - lo[v][0] for v in row) + gap * (len(row) - 1) for row in rows]
    page_w = max(widths)
    origin: dict[str, Points] = {}
    y = 0.0
    same = len(rows) > 1 and all(len(row) == 1 for row in rows) and noses["top"] == noses["side"]
    for row, wide in zip(rows, widths, strict=True):
        tall = max(hi[v][1] - lo[v][1] for v in row)
        x = (page_w - wide) / 2
        for v in row:
            origin[v] = np.array([x, y + (tall - (hi[v][1] - lo[v][1])) / 2]) - lo[v]
            x += hi[v][0] - lo[v][0] + gap
        y += tall + gap
    if same:  # noses in line, one under another
        origin["side"][0] = origin["top"][0]
    ends = np.vstack([flat[v] + origin[v] for v in flat])
    edge = m.span_mm * lay.uniform(0.09, 0.15)
    x0, y0 = ends.min(0) - edge
    x1, y1 = ends.max(0) + edge
    if h.title:
        y1 += m.span_mm * 0.16
    a = np.radians(h.turned_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) @ turn.T
    scale = h.page_px / np.ptp(corners[:, 0])  # px per mm
    size = (h.page_px, int(np.ptp(corners[:, 1]) * scale))
    shift = -corners.min(0)

    def put(page: Points) -> Points:
        return (np.atleast_2d(page) @ turn.T + shift) * scale

    to_px = {v: np.c_[scale * turn @ axes[v], scale * (turn @ origin[v] + shift)] for v in axes}

    def on(v: str, pts: Points) -> Points:
        return np.atleast_2d(pts) @ to_px[v][:, :2].T + to_px[v][:, 2]

    px = 1 / scale
    over = 4 if size[0] * size[1] < 1.5e6 else 3 if size[0] * size[1] < 4e6 else 2
    sheet = _Sheet(size, over)
    gaps_at = []
    hatched = {"body": ("body",), "wing": ("wing",), "tail": ("tail", "fin")}.get(h.hatching, ())
    outlines: list[TrueOutline] = []
    for v, shapes in m.shapes.items():
        for k, s in enumerate(shapes):
            edge_line = s.poly.exterior
            if s.opaque:
                tone = {
                    "none": 255,
                    "all": h.tone,
                    "parts": h.tone if s.judged and s.part in {"wing", "tail"} else 255,
                }
                if wear == "heavy" and h.fill == "all" and h.tone < 110:
                    tone["all"] = h.tone + (18 * k) % 50
                sheet.paint(on(v, np.array(edge_line.coords)), tone[h.fill])
            if s.part in hatched and v != "front" and s.judged:
                _hatch(sheet, lambda p, v=v: on(v, p), s.poly, m.span_mm, h.fine)
            for stroke in s.strokes:
                pen = h.pen if stroke.style == "hinge" else h.fine
                sheet.line(on(v, stroke.points), pen)
            for line in _lines(edge_line.difference(s.left_out)):
                sheet.line(on(v, line), h.pen)
        for k, s in enumerate(shapes):  # what is hidden, once all is painted
            above = _over(shapes, k)
            hidden = s.poly.exterior.intersection(above.buffer(-px * h.pen))
            if s.hidden_as != "omitted":
                for line in _lines(hidden):
                    if s.hidden_as == "solid":
                        sheet.line(on(v, line), h.pen)
                    else:
                        sheet.dashed(on(v, line), h.fine, (5 * h.pen + 4, 3 * h.pen + 3))
            if s.judged and s.part in {"wing", "tail", "fin", "body"}:
                pts = np.array(s.poly.exterior.coords)[:-1]
                blind = s.left_out
                if s.hidden_as == "omitted":
                    blind = shapely.union(blind, above.buffer(px * h.pen))
                if (s.part, v) in m.doubtful:
                    blind = shapely.union(blind, m.doubtful[s.part, v])
                seen = s.poly.exterior.difference(shapely.union(s.left_out, above))
                marks = [p for line in _lines(seen) for p in _spaced(line, m.span_mm / 400)]
                if h.gaps and v != "front" and marks:
                    gaps_at += [
                        (v, marks[i])
                        for i in r.choice(len(marks), min(h.gaps, len(marks)))
                        if r.random() < 0.4
                    ]
                keep = v != "front" and not (v == "side" and s.part in {"wing", "tail"})
                if keep:
                    outlines.append(
                        TrueOutline(
                            part=s.part,
                            name=s.name,
                            view=v,
                            points=pts,
                            uncounted=blind,
                            drawn=np.array(marks).reshape(-1, 2),
                        )
                    )
    for v, p in gaps_at:
        c = on(v, p)[0]
        half = r.uniform(0.5, 2.0) * h.pen + 1
        sheet.erase(np.array([c, c + 0.1]), 2 * half)
    _annotate(sheet, m, h, r, put, on, origin, lo, hi, (x0, y0, x1, y1), noses)
    ink, fill = sheet.done(
        h.smooth, 0.5 if h.fine >= 2 else 0.34 if h.fine > 1.3 else 0.2
    )  # no hairline breaks up
    boxes = {}
    for v in axes:
        p = np.vstack([on(v, np.array(s.poly.exterior.coords)) for s in m.shapes[v] if s.part != "propeller"])
        boxes[v] = (*p.min(0).tolist(), *p.max(0).tolist())
    return Drawing(
        image=_worn(ink, fill, h, r),
        kind=kind,
        span_mm=m.span_mm,
        length_mm=m.length_mm,
        scale_mm_per_px=float(px),
        turned_deg=h.turned_deg,
        outlines=tuple(outlines),
        hinges=tuple(TrueHinge(part=p, view=v, segment=s) for p, v, s in m.hinges),
        boxes_px=boxes,
        noses=noses,
        to_px=to_px,
        pen_px=h.pen,
        traits=m.traits | {"layout": h.layout, "page": size, "pen": h.pen, "turned": round(h.turned_deg, 2)},
    )


def _spaced(line: Points, step: float) -> Points:
    s = LineString(line)
    return shapely.get_coordinates(shapely.line_interpolate_point(s, np.arange(step, s.length - step, step)))


def _hatch(sheet: _Sheet, on, poly: Polygon, span: float, pen: float) -> None:
    x0, y0, x1, y1 = poly.bounds
    step = span * 0.018
    for c in np.arange(x0 - (y1 - y0), x1, step):
        cut = poly.intersection(LineString([(c, y0), (c + (y1 - y0), y1)]))
        for line in _lines(cut):
            sheet.line(on(line), pen)


def _annotate(sheet, m, h, r, put, on, origin, lo, hi, page, noses) -> None:
    """Centre lines, dimensions, lettering, frame and title."""
    span = m.span_mm
    letter = span * 0.022 * sheet.size[0] / (page[2] - page[0])
    letter = max(letter, 9.0)
    fine = h.fine

    def arrow(tip: Points, back: Points) -> None:
        d = (back - tip) / np.hypot(*(back - tip))
        n = np.array([-d[1], d[0]])
        ln = span * 0.014
        sheet.line(put(np.array([tip + d * ln + n * ln * 0.3, tip, tip + d * ln - n * ln * 0.3])), fine)

    def dimension(a: Points, b: Points, away: Points, words: str) -> None:
        a2, b2 = a + away, b + away
        n = away / np.hypot(*away)
        for p, q in ((a, a2), (b, b2)):
            start = p + n * (0.0 if h.touching else span * 0.012)
            sheet.line(put(np.array([start, q + n * span * 0.01])), fine)
        sheet.line(put(np.array([a2, b2])), fine)
        arrow(a2, b2)
        arrow(b2, a2)
        up = b2[0] == a2[0]
        mid = (a2 + b2) / 2 + (np.array([-span * 0.02, 0]) if up else np.array([0, -span * 0.02]))
        sheet.text(put(mid)[0], words, letter, h.turned_deg + (-90 if up else 0))

    box = {v: (origin[v] + lo[v], origin[v] + hi[v]) for v in origin}
    if h.centre_lines:
        long = span * 0.03
        dash = (4 * h.pen + 18, 3 * h.pen + 3, h.pen + 2, 3 * h.pen + 3)
        v0, v1 = box["top"]
        c = origin["top"]
        ends = (
            [(c[0], v0[1] - long), (c[0], v1[1] + long)]
            if noses["top"] == "up"
            else [(v0[0] - long, c[1]), (v1[0] + long, c[1])]
        )
        sheet.dashed(put(np.array(ends)), fine, dash)
        v0, v1 = box["front"]
        c = origin["front"]
        sheet.dashed(put(np.array([(c[0], v0[1] - long), (c[0], v1[1] + long)])), fine, dash)
        if r.random() < 0.4:
            ends = [(-0.05 * m.length_mm, 0), (1.1 * m.length_mm, 0)]
            sheet.dashed(on("side", np.array(ends)), fine, dash)
    if h.dimensions >= 1:
        v = str(r.choice(["top", "front"]))
        v0, v1 = box[v]
        if v == "front" or noses["top"] == "up":
            w = span / 2
            c = origin[v]
            y = v1[1] if v == "front" or r.random() < 0.5 else v0[1]
            s = 1 if y == v1[1] else -1
            from_y = y if not h.touching else c[1]
            z = _tip_v(m, v)
            start = c[1] + z if v == "top" else from_y
            dimension(
                np.array([c[0] - w, start]),
                np.array([c[0] + w, start]),
                np.array([0, y - start + s * span * 0.05]),
                f"{span:.0f}",
            )
        else:
            c = origin[v]
            x = c[0] + _tip_v(m, v) * (1 if noses["top"] == "left" else -1)
            far = v1[0] + span * 0.05
            dimension(
                np.array([x, c[1] - span / 2]),
                np.array([x, c[1] + span / 2]),
                np.array([far - x, 0]),
                f"{span:.0f}",
            )
    if h.dimensions >= 2:
        v0, v1 = box["side"]
        if noses["side"] == "up":
            dimension(
                np.array([v1[0], v0[1]]),
                np.array([v1[0], v1[1]]),
                np.array([span * 0.05, 0]),
                f"{v1[1] - v0[1]:.0f}",
            )
        else:
            dimension(
                np.array([v0[0], v1[1]]),
                np.array([v1[0], v1[1]]),
                np.array([0, span * 0.05]),
                f"{v1[0] - v0[0]:.0f}",
            )
    if h.dimensions >= 3:
        v0, v1 = box["front"]
        dimension(
            np.array([v0[0], v0[1]]),
            np.array([v0[0], v1[1]]),
            np.array([-span * 0.05, 0]),
            f"{v1[1] - v0[1]:.0f}",
        )
    words = (
        ("PLAN", "TOP VIEW"),
        ("SIDE ELEVATION", "SIDE VIEW"),
        ("FRONT", "FRONT VIEW"),
        ("SCALE 1:8", "SECTION A-A"),
    )
    for k in range(h.lettering):
        v = ("top", "side", "front")[k % 3]
        v0, v1 = box[v]
        where = (
            np.array([v0[0] + 0.12 * span, v0[1] - span * 0.035])
            if v != "front"
            else np.array([v0[0] + 0.1 * span, v1[1] + span * 0.025])
        )
        if k >= 3:
            where = np.array([page[0] + span * 0.15, page[1] + span * (0.03 + 0.03 * (k - 3))])
        sheet.text(put(where)[0], words[k][int(r.integers(2))], letter, h.turned_deg)
    if h.frame:
        i = span * 0.025
        sheet.line(
            put(
                np.array(
                    [
                        [page[0] + i, page[1] + i],
                        [page[2] - i, page[1] + i],
                        [page[2] - i, page[3] - i],
                        [page[0] + i, page[3] - i],
                        [page[0] + i, page[1] + i],
                    ]
                )
            ),
            h.pen,
        )
    if h.title:
        w, t = span * 0.45, span * 0.12
        bx, by = page[2] - span * 0.025 - w, page[3] - span * 0.025 - t
        sheet.line(put(np.array([[bx, by], [bx + w, by], [bx + w, by + t], [bx, by + t], [bx, by]])), fine)
        sheet.line(put(np.array([[bx, by + t / 2], [bx + w, by + t / 2]])), fine)
        sheet.line(put(np.array([[bx + w / 2, by + t / 2], [bx + w / 2, by + t]])), fine)
        sheet.text(
            put(np.array([bx + w / 2, by + t / 4]))[0], "THREE VIEW DRAWING", letter * 1.2, h.turned_deg
        )
        sheet.text(put(np.array([bx + w / 4, by + 0.75 * t]))[0], "SHEET 1", letter, h.turned_deg)
        sheet.text(put(np.array([bx + 0.75 * w, by + 0.75 * t]))[0], "1936", letter, h.turned_deg)


def _tip_v(m: planes_c.Plane, view: str) -> float:
    """Where along x the widest wing's tip is (top), or its height (front)."""
    part = max(
        (s for s in m.shapes[view] if s.part == "wing"), key=lambda s: s.poly.bounds[3] - s.poly.bounds[1]
    )
    pts = np.array(part.poly.exterior.coords)
    return float(pts[np.abs(pts[:, 1]) > 0.999 * np.abs(pts[:, 1]).max(), 0].mean()) if view == "top" else 0.0


def _worn(ink: np.ndarray, fill: np.ndarray, h: Habit, r: np.random.Generator) -> np.ndarray:
    """Paper, ink and age."""
    tall, wide = ink.shape
    ys, xs = np.mgrid[0:tall, 0:wide].astype(np.float32)
    if h.scratches or h.specks:
        more = Image.fromarray(np.zeros((tall, wide), np.uint8))
        pen = ImageDraw.Draw(more)
        less = Image.fromarray(np.zeros((tall, wide), np.uint8))
        rub = ImageDraw.Draw(less)
        for _ in range(h.scratches):
            p = r.uniform(0, 1, 2) * (wide, tall)
            d = r.normal(0, 0.18, 2) * wide
            bent = p + d / 2 + r.normal(0, 0.01, 2) * wide
            (pen if r.random() < 0.6 else rub).line(
                [*map(tuple, (p, bent, p + d))], fill=int(r.integers(110, 230)), width=1
            )
        for _ in range(h.specks):
            x, y = r.uniform(0, 1, 2) * (wide, tall)
            s = r.uniform(0.3, 1.6) * wide / 1500
            pen.ellipse((x - s, y - s, x + s, y + s), fill=int(r.integers(90, 230)))
        ink = np.maximum(ink * (1 - np.asarray(less, np.float32) / 255), np.asarray(more, np.float32) / 255)
    shade = np.ones_like(ink)
    if h.gradient:
        a = r.uniform(0, 2 * np.pi)
        ramp = (xs / wide - 0.5) * np.cos(a) + (ys / tall - 0.5) * np.sin(a)
        spot = np.exp(-((xs / wide - r.random()) ** 2 + (ys / tall - r.random()) ** 2) / 0.15)
        shade -= h.gradient / 255 * (ramp + 0.5 + 0.5 * spot) / 1.5
    if h.shadow:
        shade *= 1 - 0.45 * np.exp(-xs / (0.02 * wide))
    grey = fill * shade
    page = np.stack([grey * p for p in h.paper], -1)
    dark = np.array([h.ink, h.ink * 0.95, h.ink * 0.9])
    out = page * (1 - ink[..., None]) + dark * ink[..., None]
    if h.blur:
        out = ndimage.gaussian_filter(out, (h.blur, h.blur, 0))
    if h.noise:
        out = out + r.normal(0, h.noise, out.shape[:2])[..., None]
    got = np.clip(np.rint(out), 0, 255).astype(np.uint8)
    if h.paper[0] == h.paper[2]:
        got = got[..., 0]
    if h.jpeg:
        box = io.BytesIO()
        Image.fromarray(got).save(box, "JPEG", quality=h.jpeg)
        got = np.asarray(Image.open(box))
    return np.ascontiguousarray(got)
