"""Hand h: aeroplanes in plain three-view drawings, as ordinary draughtsmen make them, a third clean, the others worn.

Four in ten monoplanes, three biplanes of either stagger, two deltas or tailless ones, one canard, twin-finned or with
a T-tail. Lines that other parts hide are left out, dashed, or every outline is drawn through.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import ink_h
import marks_h
import numpy as np
import sheet_h
import wear_h
from examiner import Truth, turned
from PIL import Image
from planes_h import Plane, plane
from shapely.ops import unary_union

Points = np.ndarray
JUDGED = {
    ("wing", "top"),
    ("tail", "top"),
    ("body", "top"),
    ("body", "side"),
    ("fin", "side"),
    ("tip fin", "side"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingH:
    """A drawing of hand h; see examiner.Drawing."""

    image: Image.Image
    plane: Plane
    sheet: sheet_h.Sheet
    pens: dict[str, float]
    truth: tuple[Truth, ...]
    wear: tuple[str, ...]
    file: str
    mm_per_px: float
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]
    style: str
    layout: str

    @property
    def span_mm(self) -> float:
        return self.plane.span_mm

    @property
    def starts_mm(self) -> tuple[float, ...]:
        return tuple(self.plane.starts)

    @property
    def told(self) -> dict[str, object]:
        return {
            "kind": self.plane.kind,
            "variant": self.plane.variant,
            "style": self.style,
            "layout": self.layout,
            "nose": self.plane.nose,
            "pen_px": self.pens["outline"],
        }

    def save(self, folder: Path) -> Path:
        path = folder / f"{self.plane.variant.replace(' ', '-')}.{self.file}"
        if self.file in wear_h.VECTOR:
            write = {"svg": ink_h.write_svg, "pdf": ink_h.write_pdf, "dxf": ink_h.write_dxf}[self.file]
            write(self.sheet, self.pens, path)
        elif self.file == "jpg":
            self.image.save(path, quality=92)
        elif self.file == "webp":
            self.image.save(path, quality=75)
        else:
            self.image.save(path)
        return path


def truths(p: Plane, style: str) -> tuple[Truth, ...]:
    """The outlines judged, with what hides them."""
    out = []
    for view in ("top", "side"):
        seen: set[tuple[str, str]] = set()
        for k, s in enumerate(p.views[view]):
            if (s.part, view) not in JUDGED or (s.part, s.name) in seen:
                continue
            seen.add((s.part, s.name))
            others = [np.array(o.exterior.coords)[:-1] for o in p.others.get((s.part, view), [])]
            out.append(
                Truth(
                    part=s.part.removeprefix("tip "),
                    name=s.name,
                    view=view,
                    points=np.array(s.outline.exterior.coords)[:-1],
                    hidden=sheet_h.before(p.views[view], k, style),
                    others=tuple(others),
                )
            )
    return tuple(out)


def draw(seed: int) -> DrawingH:
    """The drawing of a seed."""
    rng = np.random.default_rng([seed, 8])
    p = plane(rng, seed)
    wear, file = wear_h.choose(rng, seed)
    style = str(rng.choice(["hidden", "dashed", "through"], p=[0.6, 0.15, 0.25]))
    solid = bool({"filled", "hatched"} & set(wear)) and rng.random() < 0.5
    style = "solid" if solid else style
    layout = sheet_h.LAYOUTS[int(rng.integers(len(sheet_h.LAYOUTS)))]
    long_px = int(900 * (5000 / 900) ** rng.random())
    beside = [w in wear for w in ("dimensions", "lettering")]
    gap = rng.uniform(0.07, 0.12) + 0.07 * any(beside) + 0.04 * all(beside)
    sheet = sheet_h.lay_out(p, rng, layout, long_px, gap)
    # a pale tint has no hard pixels; a hard line is a pixel wide at least
    hard = bool(rng.random() < 0.4) and ("filled" not in wear or solid)
    least = 1.0 if hard else 0.8
    outline = max(1.0, long_px / 1000 * rng.uniform(0.8, 2.2))
    pens = {"outline": outline, "inner": max(least, 0.6 * outline), "thin": max(least, 0.4 * outline)}
    letter = max(9.0, 0.013 * long_px)
    _views(sheet, p, rng, style, wear)
    _marks(sheet, p, rng, style, wear, letter)
    img = ink_h.raster(sheet, pens, hard=hard)
    to_px = dict(sheet.to_px)
    if file not in wear_h.VECTOR:
        img, to_px = _scan(img, sheet, rng, wear, outline, to_px)
    boxes = {}
    for view, shapes in p.views.items():
        pts = np.vstack([np.array(s.outline.exterior.coords) for s in shapes])
        pts = pts @ to_px[view][:, :2].T + to_px[view][:, 2]
        boxes[view] = tuple(float(v) for v in (*pts.min(0), *pts.max(0)))
    return DrawingH(
        image=img,
        plane=p,
        sheet=sheet,
        pens=pens,
        truth=truths(p, style),
        wear=wear,
        file=file,
        mm_per_px=1 / sheet.px_per_mm,
        boxes_px=boxes,
        to_px=to_px,
        style=style,
        layout=layout,
    )


def _views(
    sheet: sheet_h.Sheet, p: Plane, rng: np.random.Generator, style: str, wear: tuple[str, ...]
) -> None:
    shade = 0 if style == "solid" else int(rng.integers(150, 225))
    angle = np.radians(rng.choice([45, -45, 60]))
    step = p.span_mm * rng.uniform(0.012, 0.02)
    for view, shapes in p.views.items():
        if "filled" in wear:
            sheet_h.fill_view(sheet, view, shapes, shade)
        if "hatched" in wear:
            sheet_h.hatch(sheet, view, unary_union([s.outline for s in shapes]), step, angle)
        sheet_h.draw_view(sheet, view, shapes, style, inner=True)


def _marks(
    sheet: sheet_h.Sheet, p: Plane, rng: np.random.Generator, style: str, wear: tuple[str, ...], letter: float
) -> None:
    shown = {}
    for view in ("top", "side"):
        for k, s in enumerate(p.views[view]):
            if s.part in {"wing", "tail", "body", "fin"} and (view, s.part) not in shown:
                near = "hidden" if style != "solid" else style
                shown[view, s.part] = s.outline.difference(sheet_h.before(p.views[view], k, near))
    if "panel lines" in wear:
        marks_h.panel_lines(sheet, rng, shown)
    if "hatching" in wear:
        marks_h.hatched_parts(sheet, p, rng, shown)
    if "centre lines" in wear:
        marks_h.centre_lines(sheet, p)
    if "dimensions" in wear:
        marks_h.dimensions(sheet, p, rng, letter, 2.2 * letter if "lettering" in wear else 0.0)
    if "lettering" in wear:
        marks_h.lettering(sheet, p, rng, letter)
    if "title block" in wear:
        marks_h.title_block(sheet, rng, letter)
    if "crossing lines" in wear:
        marks_h.crossing(sheet, rng)


def _scan(
    img: Image.Image,
    sheet: sheet_h.Sheet,
    rng: np.random.Generator,
    wear: tuple[str, ...],
    pen: float,
    to_px: dict[str, Points],
) -> tuple[Image.Image, dict[str, Points]]:
    """The picture as scanned, and the maps after the sheet's turn."""
    if "gaps" in wear:
        img = wear_h.gaps(img, sheet, pen, rng)
    if "turned" in wear:
        was = img.size
        img, angle = wear_h.turn(img, rng)
        to_px = {v: turned(m, angle, was, img.size) for v, m in to_px.items()}
    for name, how in (
        ("grey", wear_h.grey),
        ("yellowed", wear_h.yellowed),
        ("noisy", wear_h.noisy),
        ("jpeg", wear_h.jpeg),
    ):
        if name in wear:
            img = how(img, rng)
    return img, to_px
