"""A fourth hand's three-view drawings, made from the statement of what tracing must stand, without knowing how it works.

`draw(seed, kind, quick=..., wear=(...), file=...)` lays out the views, strokes them and spoils the sheet by the named
disturbances only. Truth is kept beside the picture: outlines in mm, what of each the drawing hides, boxes and scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import planes_d
import shapely
import sheet_d
import wear_d
from examiner import Truth, turned
from PIL import Image
from planes_d import Plane, Shape
from sheet_d import Pens, Points, Sheet, dashes, on_page, pieces
from wear_d import box_of

WEARS = (
    "rotated",
    "grey",
    "noisy",
    "yellowed",
    "title",
    "dimensions",
    "hatching",
    "centres",
    "lettering",
    "panels",
    "gaps",
    "crossings",
)
FILES = ("png", "jpg", "pdf", "svg", "dxf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    plane: Plane
    quick: bool
    style: str
    layout: str
    nose: str
    wear: tuple[str, ...]
    file: str
    pen_px: float
    mm_per_px: float
    sheet: Sheet
    image: Image.Image
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]  # (2, 3) from mm in the view's plane to pixels of the picture
    truth: tuple[Truth, ...]
    quality: int = 80

    @property
    def span_mm(self) -> float:
        return self.plane.span_mm

    @property
    def starts_mm(self) -> tuple[float, ...]:
        return (0.0,)

    @property
    def told(self) -> dict[str, object]:
        return {
            "kind": self.plane.kind,
            "temper": "quick" if self.quick else "draughtsman",
            "style": self.style,
            "layout": self.layout,
            "nose": self.nose,
            "pen_px": self.pen_px,
        }

    def save(self, folder: Path) -> Path:
        """The picture as a file of its kind."""
        path = folder / f"three-view.{self.file}"
        if self.file == "png":
            self.image.save(path)
        elif self.file == "jpg":
            self.image.save(path, quality=self.quality)
        else:
            {"pdf": sheet_d.write_pdf, "svg": sheet_d.write_svg, "dxf": sheet_d.write_dxf}[self.file](
                self.sheet, path
            )
        return path


# ---- layout ---------------------------------------------------------------------------------------------------------
LAYOUTS: dict[str, tuple] = {
    "column": ("v", "top", "side", "front"),
    "column, side first": ("v", "side", "top", "front"),
    "column, front first": ("v", "front", "top", "side"),
    "row below": ("v", "top", ("h", "side", "front")),
    "row above": ("v", ("h", "side", "front"), "top"),
    "row above, front left": ("v", ("h", "front", "side"), "top"),
    "right column": ("h", "top", ("v", "side", "front")),
    "left column": ("h", ("v", "front", "side"), "top"),
}
LAYOUTS_UP: dict[str, tuple] = {
    "up, side stands": ("h", ("v", "top", "front"), "side"),
    "up, front first": ("v", "front", ("h", "top", "side")),
    "up, side lies below": ("v", "top", ("h", "lying", "front")),
    "up, side lies above": ("v", ("h", "lying", "front"), "top"),
    "up, column": ("v", "lying", "top", "front"),
}


def _turn(view: str, nose: str, lying: bool) -> Points:
    """(2, 2): from the view's plane to page directions, y down."""
    if view == "front":
        return np.array([[-1.0, 0], [0, -1]])
    if nose == "up" and not lying:
        return np.array([[0.0, 1], [1, 0]])
    s = -1.0 if nose == "right" else 1.0
    return np.array([[s, 0], [0, -1.0]])


def _pack(
    tree: object, sizes: dict[str, Points], gap: float, centred: bool
) -> tuple[Points, dict[str, Points]]:
    """Size of a packed tree and each view's upper left corner. [mm]"""
    if isinstance(tree, str):
        key = "side" if tree == "lying" else tree
        return sizes[key], {key: np.zeros(2)}
    way, *cells = tree  # type: ignore[misc]
    run, across = (1, 0) if way == "v" else (0, 1)
    packed = [_pack(c, sizes, gap, centred) for c in cells]
    wide = max(s[across] for s, _ in packed)
    at: dict[str, Points] = {}
    done = 0.0
    for size, inner in packed:
        move = np.zeros(2)
        move[run] = done
        move[across] = (wide - size[across]) / 2 if centred else 0.0
        at |= {k: v + move for k, v in inner.items()}
        done += size[run] + gap
    total = np.zeros(2)
    total[run], total[across] = done - gap, wide
    return total, at


def _level(s: Shape, style: str) -> float:
    return s.level + (10 if style == "wing over" and s.view == "top" and s.part in {"wing", "tail"} else 0)


JOINED = frozenset({"wing", "tail", "body", "fin"})  # what a silhouette is made of


def _drawn(s: Shape, style: str) -> bool:
    """A silhouette shows no wing or tail end on, and no fin from above."""
    return style != "merged" or s.view == "front" or s.judged or s.part not in JOINED


def _covers(plane: Plane, s: Shape, style: str) -> shapely.Geometry:
    """What lies over a shape, or for a silhouette all that is joined with it."""
    others = [o for o in plane.of(s.view) if o is not s and _drawn(o, style)]
    if style == "overlay":
        return shapely.Polygon()
    if style == "merged":
        return shapely.union_all([o.area for o in others if s.part not in JOINED or o.part in JOINED])
    return shapely.union_all([o.area for o in others if _level(o, style) > _level(s, style)])


def _with_gaps(p: Points, rng: np.random.Generator, gaps: int, long: float) -> list[Points]:
    line = shapely.LineString(p)
    if line.length < 4 * long:
        return [p]
    cut = shapely.MultiPoint([line.interpolate(d) for d in rng.uniform(0, line.length, gaps)]).buffer(
        long / 2
    )
    return pieces(line.difference(cut))


def _outlines(
    sheet: Sheet,
    plane: Plane,
    to: dict[str, Points],
    style: str,
    pens: Pens,
    gaps: bool,
    rng: np.random.Generator,
) -> None:
    for s in plane.shapes:
        if not _drawn(s, style):
            continue
        ring = shapely.LinearRing(s.points)
        cover = _covers(plane, s, style)
        seen = pieces(shapely.LineString(ring.coords).difference(cover.buffer(-1e-6)))
        for p in seen:
            px = on_page(to[s.view], p)
            many = max(1, round(shapely.LineString(px).length / pens.mm / plane.span_mm * 1.6))
            cut = (
                _with_gaps(px, rng, many, plane.span_mm * pens.mm * rng.uniform(0.005, 0.011))
                if gaps
                else [px]
            )
            sheet.lines += [(q, pens.main) for q in cut]
        if style == "dashed" and s.judged:
            for p in pieces(shapely.LineString(ring.coords).intersection(cover)):
                dash = max(4.0, 0.012 * plane.span_mm * pens.mm)
                sheet.lines += [(q, pens.thin) for q in dashes(on_page(to[s.view], p), (dash, 0.6 * dash))]
    for view, p in plane.sticks:
        sheet.lines.append((on_page(to[view], p), pens.thin))


def draw(
    seed: int,
    kind: str,
    *,
    quick: bool = False,
    wear: tuple[str, ...] = (),
    file: str = "png",
    longest_px: int = 0,
) -> Drawing:
    """A drawing, spoilt by the named disturbances only. Same arguments, same drawing; longest_px: 0 is any."""
    rng = np.random.default_rng([seed, planes_d.KINDS.index(kind), 977, int(quick)])
    plane = planes_d.plane(seed, kind, quick=quick)
    single = not kind.startswith("bi")
    styles = ["overlay", "wing over", "hidden"] if quick else ["hidden", "hidden", "dashed", "wing over"]
    style = str(rng.choice([*styles, "merged"] if single else styles))
    nose = str(rng.choice(["left", "left", "right", "up"]))
    layouts = LAYOUTS_UP if nose == "up" else LAYOUTS
    layout = str(rng.choice(list(layouts)))
    lying = "lying" in str(layouts[layout])
    turns = {v: _turn(v, nose, lying and v == "side") for v in ("top", "side", "front")}

    span = plane.span_mm
    flat = {v: np.array(box_of(plane, v, np.c_[turns[v], [0, 0]])) for v in turns}
    gap = span * rng.uniform(0.07, 0.13) * (1.7 if {"dimensions", "lettering"} & set(wear) else 1.0)
    size, at = _pack(
        layouts[layout], {v: b[2:] - b[:2] for v, b in flat.items()}, gap, bool(rng.random() < 0.7)
    )
    margin = np.array([1.0, 1.0]) * span * rng.uniform(0.08, 0.14)
    strip = span * 0.16 if "title" in wear else 0.0
    head = span * 0.05 if "lettering" in wear else 0.0  # room for a name
    foot = span * 0.05 if "lettering" in wear else 0.0
    page = size + 2 * margin + [0, head + foot + strip]
    longest = float(rng.choice([1000, 1400, 1800, 2200, 2600, 3000]))
    longest = longest_px or longest
    mm = longest / page.max()
    to = {v: np.c_[turns[v] * mm, (at[v] - flat[v][:2] + margin + [0, head]) * mm] for v in turns}
    most = 0.007 * span * mm
    pens = [p for p in (1, 1.5, 2, 2.5, 3, 4, 5, 6) if p <= most] or [1]
    main = float(rng.choice(pens))
    main = float(np.ceil(main)) if quick else main
    k = Pens(main=main, thin=max(1.0, 0.45 * main), text=max(11.0, 0.022 * span * mm), mm=mm)
    sheet = Sheet(size=(int(np.ceil(page[0] * mm)), int(np.ceil(page[1] * mm))))

    spoil = np.random.default_rng([seed, 31, len(wear)])
    _outlines(sheet, plane, to, style, k, "gaps" in wear, spoil)
    if "panels" in wear:
        # lines drawn on what lies under something else do not show
        for view, p in plane.panels:
            if style == "merged" and view == "side":
                continue
            sheet.lines.append((on_page(to[view], p), k.thin))
    if "dimensions" in wear:
        wear_d.dimensions(sheet, plane, to, k, spoil)
    if "hatching" in wear:
        wear_d.hatching(sheet, plane, to, k, spoil)
    if "centres" in wear:
        wear_d.centres(sheet, plane, to, k)
    if "lettering" in wear:
        under = 1.3 * k.text + (0.05 * span * mm + 0.8 * k.text if "dimensions" in wear else 0.0)
        wear_d.lettering(sheet, plane, to, k, nose, under, spoil)
    if "title" in wear:
        wear_d.title(sheet, k, (0.42 * span * mm, 0.13 * span * mm))
    if "crossings" in wear:
        wear_d.crossings(sheet, plane, to, spoil)
    big = max(sheet.size) > 2300
    clean = sheet_d.paint(sheet, 1 if quick else 2 if big else 3)
    image, angle = sheet_d.spoil(clean, wear, spoil) if file in {"png", "jpg"} else (clean, 0.0)
    if angle:
        to = {v: turned(m, angle, sheet.size, image.size) for v, m in to.items()}

    truth = tuple(
        Truth(part=s.part, name=s.name, view=s.view, points=s.points, hidden=_covers(plane, s, style))
        for s in plane.shapes
        if s.judged
    )
    return Drawing(
        plane=plane,
        quick=quick,
        style=style,
        layout=layout,
        nose=nose,
        wear=wear,
        file=file,
        pen_px=main,
        mm_per_px=1 / mm,
        sheet=sheet,
        image=image,
        boxes_px={v: box_of(plane, v, m) for v, m in to.items()},
        to_px=to,
        truth=truth,
        quality=int(rng.integers(45, 90)),
    )
