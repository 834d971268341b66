"""A sixth hand's three-view drawings: `draw(seed)` lays any plane out on a sheet and spoils it; truth is kept beside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import planes_f
import shapely
import sheet_f
import wear_f
from drawing_d import WEARS
from examiner import Truth, turned
from parts_f import Plane
from PIL import Image
from shapely.geometry import LineString, Polygon
from sheet_d import Points, on_page
from sheet_f import SCANNED, VIEWS, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    plane: Plane
    wear: tuple[str, ...]
    file: str
    layout: str
    smooth: bool
    mm_per_px: float
    sheet: Sheet
    image: Image.Image
    pixels: bool  # a picture of pixels, also within a PDF page
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]
    truth: tuple[Truth, ...]
    quality: int

    @property
    def span_mm(self) -> float:
        return self.plane.span_mm

    @property
    def starts_mm(self) -> tuple[float, ...]:
        """Where a tracing may put x = 0: the front of the body or of its spinner."""
        return (0.0, -self.plane.spinner[2]) if self.plane.spinner else (0.0,)

    @property
    def told(self) -> dict[str, object]:
        return {
            "kind": self.plane.kind,
            "style": "wires" if self.plane.wire else "covered",
            "layout": self.layout,
            "nose": self.sheet.noses["top"],
            "pen_px": self.sheet.pen,
        }

    def save(self, folder: Path) -> Path:
        """The picture as a file of its kind."""
        path = folder / f"three-view.{self.file}"
        if self.file == "svg":
            sheet_f.write_svg(self.sheet, path)
        elif self.file == "dxf":
            sheet_f.write_dxf(self.sheet, path, self.mm_per_px)
        elif self.file == "pdf" and not self.pixels:
            sheet_f.write_pdf(self.sheet, path)
        elif self.file == "pdf":
            self.image.convert("RGB").save(path, resolution=150)
        elif self.file == "png":
            self.image.save(path)
        else:
            self.image.convert("RGB").save(path, quality=self.quality)
        return path


def draw(seed: int) -> Drawing:
    """Drawing `seed`: two in five are monoplanes, two biplanes, one a delta. Same seed, same drawing."""
    rng = np.random.default_rng([77, seed])
    plane = planes_f.plane(rng, planes_f.KINDS[(0, 1, 0, 2, 1)[seed % 5]])
    many = (0, 1, 1, 1, 2)[int(rng.integers(5))]
    many = int(rng.integers(2, 4)) if many == 2 else many
    wear = tuple(str(w) for w in rng.choice(WEARS, many, replace=False)) if many else ()
    file = str(rng.choice(sheet_f.FILES, p=[0.5, 0.14, 0.1, 0.1, 0.09, 0.07]))
    if SCANNED & set(wear) and file in {"svg", "dxf"}:
        file = "png"
    sheet, layout, lines = sheet_f.laid_out(rng, plane, wear)
    boxes, on = {}, {}
    for v in VIEWS:
        every = np.vstack([p for p, _ in lines[v]])
        boxes[v] = every.min(0), every.max(0)
        every = on_page(sheet.to[v], every)
        on[v] = every.min(0), every.max(0)
    if "gaps" in wear:
        wear_f.gaps(rng, sheet)
    if "hatching" in wear:
        wear_f.hatching(rng, sheet, plane)
    if "panels" in wear:
        wear_f.panels(rng, sheet, plane)
    if "centres" in wear:
        wear_f.centres(rng, sheet, plane, boxes)
    if "dimensions" in wear:
        wear_f.dimensions(rng, sheet, plane, on)
    if "lettering" in wear:
        wear_f.lettering(rng, sheet, plane, on)
    if "crossings" in wear:
        wear_f.crossings(rng, sheet)
    if "title" in wear:
        wear_f.title(rng, sheet)
    smooth = bool(rng.random() < 0.75)
    pixels = file in {"png", "jpg", "webp"} or (
        file == "pdf" and bool(SCANNED & set(wear) or rng.random() < 0.5)
    )
    image, angle, quality = sheet_f.paint(sheet, smooth or not pixels), 0.0, 0
    if pixels:
        image, angle = sheet_f.spoil(image, wear, rng, smooth, file)
    if file in {"jpg", "webp"}:
        quality = int(rng.integers(*{"jpg": (40, 92), "webp": (50, 95)}[file]))
    to = {v: turned(m, angle, sheet.size, image.size) for v, m in sheet.to.items()}
    return Drawing(
        plane=plane,
        wear=wear,
        file=file,
        layout=layout,
        smooth=smooth,
        mm_per_px=plane.span_mm / sheet.span_px,
        sheet=sheet,
        image=image,
        pixels=pixels,
        boxes_px={v: _box(on_page(to[v], np.vstack([p for p, _ in lines[v]]))) for v in VIEWS},
        to_px=to,
        truth=tuple(_truth(plane)),
        quality=quality,
    )


def _box(p: Points) -> tuple[float, float, float, float]:
    return (*p.min(0), *p.max(0))  # type: ignore[return-value]


# ---- truth ----------------------------------------------------------------------------------------------------------
def _ring(p: Polygon) -> Points:
    return np.array(p.exterior.coords)[:-1]


def _truth(plane: Plane) -> list[Truth]:
    out = []
    areas = {w.name or "wing": w.area for w in plane.wings} | {"body": plane.body.top}
    areas |= {"tail": plane.tail} if plane.tail is not None else {}
    for i, name in enumerate(plane.order):
        over = [] if plane.wire else [areas[o] for o in plane.order[i + 1 :]]
        hidden = shapely.union_all(over).buffer(0.002 * plane.span_mm) if over else Polygon()
        wing = name in {"upper", "lower"}
        out.append(
            Truth(
                part="wing" if wing else name,
                name=name if wing else "",
                view="top",
                points=_ring(areas[name]),
                hidden=hidden,
                others=tuple(_ring(b) for b in plane.readings("top")[1:]) if name == "body" else (),
            )
        )
    body, *others = plane.readings("side")
    out.append(
        Truth(
            part="body",
            name="",
            view="side",
            points=_ring(body),
            hidden=_hidden_from_the_side(plane),
            others=tuple(_ring(b) for b in others),
        )
    )
    x0, z0, x1, _ = plane.fin.bounds
    foot = LineString([(x0, z0), (x1, z0)]).buffer(0.016 * plane.span_mm)
    out.append(Truth(part="fin", name="", view="side", points=_ring(plane.fin), hidden=foot))
    return out


def _hidden_from_the_side(plane: Plane) -> shapely.Geometry:
    """What sections, wheels and fin cover of the body, and the fin's foot where no line closes it."""
    span, body, fin = plane.span_mm, plane.body.side, plane.fin
    covers = [
        s.geometry
        for s in plane.side
        if s.name in {"section", "wheel", "fin"} and s.geometry.geom_type == "Polygon" and not plane.wire
    ]
    hidden = shapely.union_all(covers).buffer(0.002 * span).difference(fin)
    if plane.fin_joint == "closed":
        return hidden
    foot = fin.boundary.intersection(body.buffer(0.003 * span)).buffer(0.004 * span)
    if (
        plane.fin_joint == "merged" and plane.dorsal
    ):  # a dorsal strip in one with the body: either reading is right
        foot = foot.union(fin.buffer(0.012 * span).intersection(body.buffer(0.09 * span)))
    return hidden.union(foot)
