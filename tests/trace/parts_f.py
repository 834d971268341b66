"""A sixth hand's aeroplanes, bare and plain as a short programme draws them.

Wings of any taper are drawn whole over or under the body. All in mm: x aft of the body's front, y starboard, z up.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapes_f import Body, ellipse, lifting

TIPS = ("square", "round", "long", "ellipse", "slant")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A figure or a line of one view. pen: share of the sheet's pen; covers: hides what was drawn before it."""

    geometry: shapely.Geometry
    name: str
    pen: float = 1.0
    covers: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Wing:
    name: str  # upper, lower, or empty
    area: Polygon
    z: float
    lead: float  # of the root


@dataclass(slots=True, kw_only=True)
class Plane:
    """An aeroplane, and while it is being made the measures that later parts need. Each view's shapes lie in order, the
    lowest first; `order` tells that of the top view's parts. spinner: outlines from above and from the side, length, radius."""

    kind: str
    span_mm: float
    bare: bool
    wire: bool
    length: float = 0.0
    width: float = 0.0
    height: float = 0.0
    body: Body = field(init=False)
    chord: float = 0.0
    lead: float = 0.0
    stands: str = ""
    wings: list[Wing] = field(default_factory=list)
    lower_share: float = 1.0
    tail: Polygon | None = None
    tail_z: float = 0.0
    order: list[str] = field(default_factory=list)
    spinner: tuple[Polygon, Polygon, float, float] | None = None
    propeller: float = 0.0  # radius, 0 none
    canopy: Polygon | None = None
    fin: Polygon = field(default_factory=Polygon)
    fin_edge: list[tuple[float, float]] = field(default_factory=list)  # of what stands above the body
    fin_chord: float = 0.0
    fin_ends: tuple[float, float] = (0.0, 0.0)
    fin_height: float = 0.0
    fin_joint: str = ""  # closed, merged, sunk
    dorsal: bool = False
    section: str = ""
    gear: tuple[float, float, float] | None = None  # x, z and radius of the wheels
    struts: bool = False
    top: list[Shape] = field(default_factory=list)
    side: list[Shape] = field(default_factory=list)
    front: list[Shape] = field(default_factory=list)

    @property
    def nose_z(self) -> float:
        return (self.body.crown(0) + self.body.keel(0)) / 2

    @property
    def parasol_struts(self) -> bool:
        return self.stands == "parasol" and not self.bare

    def crown(self, x: float) -> float:
        """The body's upper edge, carried on level behind the stern."""
        return self.body.crown(min(x, self.length))

    def readings(self, view: str) -> list[Polygon]:
        """The body's outlines in the top or the side view that are all right: without and with canopy and spinner."""
        out = [self.body.top] if view == "top" else [self.body.side]
        if view == "side" and self.canopy is not None:
            out.append(shapely.union_all([self.body.side, self.canopy]))
        if self.spinner is not None:
            out += [shapely.union_all([b, self.spinner[0 if view == "top" else 1]]) for b in out]
        return [b for b in out if b.geom_type == "Polygon"]

    def shapes(self, view: str) -> list[Shape]:
        return {"top": self.top, "side": self.side, "front": self.front}[view]


def line(*points: tuple[float, float]) -> LineString:
    return LineString(points)


# ---- wings and tail -------------------------------------------------------------------------------------------------
def delta_wing(rng: np.random.Generator, p: Plane) -> None:
    p.stands = "mid"
    p.chord = p.length * rng.uniform(0.45, 0.7)
    taper = rng.choice([0.02, 0.1, 0.2])
    behind = rng.choice([0, -0.1, 0.1])  # slope of the trailing edge
    sweep = (p.chord * (1 - taper)) / (p.span_mm / 2) + behind
    p.lead = p.length * rng.uniform(0.9, 0.98) - p.chord
    tip = str(rng.choice(["square", "round"], p=[0.7, 0.3])) if taper > 0.05 else "square"
    area = lifting(rng, p.span_mm, p.chord, taper, sweep, tip, p.lead)
    p.wings = [Wing(name="", area=area, z=rng.uniform(-0.3, 0.2) * p.height, lead=p.lead)]


def _any_wing(rng: np.random.Generator, span: float, lead: float, chord: float) -> Polygon:
    tip = str(rng.choice(TIPS, p=[0.3, 0.35, 0.1, 0.1, 0.15]))
    taper = 1.0 if rng.random() < 0.35 else rng.uniform(0.45, 0.95)
    sweep = 0.0
    if tip != "ellipse":
        sweep = rng.choice([0, 0.5 * (1 - taper) * chord / (span / 2), rng.uniform(0, 0.25)])
    return lifting(rng, span, chord, taper, sweep, tip, lead)


def one_wing(rng: np.random.Generator, p: Plane) -> None:
    p.chord = p.span_mm * rng.uniform(0.14, 0.22)
    p.lead = p.length * rng.uniform(0.2, 0.32)
    area = _any_wing(rng, p.span_mm, p.lead, p.chord)
    p.stands = str(rng.choice(["high", "mid", "low", "parasol"], p=[0.4, 0.2, 0.3, 0.1]))
    x = p.lead + 0.4 * p.chord
    z = {
        "high": p.body.crown(x),
        "mid": 0.0,
        "low": p.body.keel(x) + 0.05 * p.height,
        "parasol": p.body.crown(x) + 0.35 * p.height,
    }[p.stands]
    p.wings = [Wing(name="", area=area, z=z, lead=p.lead)]


def two_wings(rng: np.random.Generator, p: Plane) -> None:
    p.stands = "bi"
    p.chord = p.span_mm * rng.uniform(0.12, 0.18)
    p.lead = p.length * rng.uniform(0.2, 0.32)
    upper = _any_wing(rng, p.span_mm, p.lead, p.chord)
    stagger = rng.choice([0, 1, -1], p=[0.2, 0.55, 0.25]) * rng.uniform(0.15, 0.6) * p.chord
    p.lower_share = ratio = 1.0 if rng.random() < 0.5 else rng.uniform(0.75, 0.97)
    lead = p.lead + stagger
    if rng.random() < 0.6:
        chords = 1 if ratio == 1 else rng.choice([1, 0.9])
        lower = affinity.translate(affinity.scale(upper, chords, ratio, origin=(p.lead, 0)), stagger, 0)
    else:
        lower = _any_wing(rng, p.span_mm * ratio, lead, p.chord * rng.uniform(0.8, 1))
    gap = p.chord * rng.uniform(0.9, 1.2)
    z = p.body.keel(lead + 0.4 * p.chord) + 0.05 * p.height
    p.wings = [
        Wing(name="upper", area=upper, z=z + gap, lead=p.lead),
        Wing(name="lower", area=lower, z=z, lead=lead),
    ]


def tailplane(rng: np.random.Generator, p: Plane) -> None:
    chord = p.span_mm * rng.uniform(0.09, 0.13)
    tip = str(rng.choice(["square", "round", "slant", "ellipse"], p=[0.35, 0.35, 0.2, 0.1]))
    taper = rng.uniform(0.5, 1)
    wide = p.span_mm * rng.uniform(0.28, 0.4)
    sweep = rng.choice([0, (1 - taper) * chord / (wide / 2), 0.2]) if tip != "ellipse" else 0.0
    lead = p.length * rng.uniform(0.96, 1.02) - chord
    p.tail = lifting(rng, wide, chord, taper, sweep, tip, lead)
    x = p.length * 0.95
    deep = p.body.crown(x) - p.body.keel(x)
    p.tail_z = p.body.crown(x) - (0 if rng.random() < 0.5 else 0.3 * deep)


def from_above(rng: np.random.Generator, p: Plane) -> None:
    if p.stands == "low" or p.kind == "delta":
        p.order = ["wing", "tail", "body"] if rng.random() < 0.85 else ["body", "wing", "tail"]
    elif p.stands == "mid":
        p.order = ["wing", "tail", "body"]
    elif p.stands == "bi":
        few = rng.random() < 0.6
        p.order = ["lower", "tail", "body", "upper"] if few else ["lower", "body", "tail", "upper"]
    else:
        p.order = ["tail", "body", "wing"] if rng.random() < 0.5 else ["body", "tail", "wing"]
    areas = {w.name or "wing": w.area for w in p.wings} | {"body": p.body.top, "tail": p.tail}
    p.order = [name for name in p.order if areas[name] is not None]
    p.top += [Shape(geometry=areas[name], name=name) for name in p.order]


# ---- nose, cockpit and fin ------------------------------------------------------------------------------------------
def nose(rng: np.random.Generator, p: Plane) -> None:
    span = p.span_mm
    has_propeller = not p.bare and rng.random() < 0.6
    deep = p.body.crown(0) - p.body.keel(0)
    if p.body.blunt and deep > 0.3 * p.height and rng.random() < (0.15 if p.bare else 0.55):
        long = span * rng.uniform(0.03, 0.06)
        t = np.linspace(-np.pi / 2, np.pi / 2, 30)
        radius = min(deep, 2 * p.body.half_width[0]) / 2 * rng.uniform(0.5, 0.95)
        ring = np.c_[-long * np.cos(t), radius * np.sin(t)]
        if rng.random() >= 0.7:
            ring = np.array([(0, -radius), (-long, 0), (0, radius)])
        p.spinner = (Polygon(ring), Polygon(ring + [0, p.nose_z]), long, radius)
        p.top.append(Shape(geometry=p.spinner[0], name="spinner"))
        p.side.append(Shape(geometry=p.spinner[1], name="spinner"))
    radius = span * rng.uniform(0.1, 0.15)
    if not has_propeller:
        return
    p.propeller = radius
    x = -(p.spinner[2] * 0.4 if p.spinner else span * 0.008)
    form = rng.choice(["line", "blade"])
    for shapes, z in ((p.top, 0), (p.side, p.nose_z)):
        if form == "line":
            shapes.append(Shape(geometry=line((x, z - radius), (x, z + radius)), name="propeller", pen=0.7))
            continue
        for way in (1, -1):
            blade = ellipse(x, z + way * radius * 0.55, span * 0.006, radius * 0.45, 30)
            shapes.insert(0, Shape(geometry=blade, name="propeller", pen=0.8))


def cockpit(rng: np.random.Generator, p: Plane) -> None:
    if p.bare or rng.random() >= 0.5:
        return
    x, long, w = p.length * rng.uniform(0.36, 0.42), p.length * rng.uniform(0.1, 0.16), p.width
    if p.stands in {"high", "parasol", "bi"}:  # under a wing: its front edge alone
        p.top.append(Shape(geometry=line((x, -w * 0.2), (x, w * 0.2)), name="canopy", pen=0.7))
        return
    rim = ellipse(x + long / 2, 0.0, long / 2, w * 0.28, 40).intersection(p.body.top.buffer(-w * 0.02))
    p.top.append(Shape(geometry=rim, name="canopy", pen=0.7))
    if rng.random() < 0.7:
        xs = np.linspace(x, x + long, 20)
        z = np.array([p.body.crown(q) for q in xs])
        bow = p.height * 0.28 * np.sin(np.linspace(0, np.pi, 20))
        p.canopy = Polygon(np.r_[np.c_[xs, z + bow], np.c_[xs, z - p.height * 0.02][::-1]])


def _largest(g: shapely.Geometry) -> Polygon:
    return max(shapely.get_parts(g), key=lambda q: q.area)


def fin(rng: np.random.Generator, p: Plane) -> None:
    end = p.length * rng.uniform(0.97, 1.01)
    p.fin_height = high = p.span_mm * rng.uniform(0.09, 0.15)
    start = end - p.fin_chord
    p.fin_ends = start, end
    form = str(rng.choice(["square", "round", "swept"]))
    back = rng.uniform(0.3, 0.6) * p.fin_chord
    foot, crown = p.crown(start), p.crown(end)
    if form == "round":
        t = np.linspace(0, np.pi / 2, 20)
        bow = np.c_[
            start + back + (end - start - back) * np.sin(t), crown + high * 0.55 + high * 0.45 * np.cos(t)
        ]
        ring = [(start, foot), *map(tuple, bow), (end, crown)]
    elif form == "square":
        ring = [(start, foot), (start + back * 0.6, crown + high), (end, crown + high), (end, crown)]
    else:
        over = end + 0.15 * p.fin_chord
        ring = [(start, foot), (start + back * 1.3, crown + high), (over, crown + high), (end, crown)]
    if rng.random() < 0.25 and not p.bare:
        p.dorsal = True
        x = start - p.fin_chord * rng.uniform(0.5, 1)
        ring = [(x, p.crown(x)), (start + back * 0.25, foot + high * 0.22), *ring[1:]]
    x = np.linspace(min(end, p.length), ring[0][0], 12)[1:-1]
    along = [(min(q, p.length * 0.999), p.crown(q)) for q in x]
    p.fin_edge = ring
    p.fin = _largest(Polygon([*ring, *along]).buffer(0))
    p.fin_joint = str(rng.choice(["closed", "merged", "sunk"], p=[0.5, 0.3, 0.2]))
    p.section = str(rng.choice(["none", "line", "rect", "lens", "foil"], p=[0.15, 0.1, 0.15, 0.3, 0.3]))
    if p.kind == "biplane" and p.section == "none":
        p.section = "lens"
