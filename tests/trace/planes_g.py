"""A seventh hand's aeroplanes: few parameters, drawn over each other, as wires or as one silhouette.

All in mm: x aft of the spinner's tip, or of the body's front where there is none; y starboard, z up.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace

import numpy as np
from shapely.geometry import Polygon

Points = np.ndarray
KINDS = ("monoplane", "biplane", "delta", "monoplane", "biplane")  # of drawings in turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A closed outline or a line of one view. outlined: a disc that is drawn all round and hides nothing."""

    part: str
    points: Points
    closed: bool = True
    outlined: bool = False

    @property
    def area(self) -> Polygon:
        return Polygon(self.points).buffer(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wing:
    """Chords, and how far the tip's leading edge lies aft of the root's. dihedral_deg; thick: a share of the chord."""

    span: float
    root: float
    tip: float
    sweep: float
    lead: float
    tips: str
    thick: float
    dihedral_deg: float = 0.0
    z: float = 0.0

    @property
    def rise(self) -> float:
        """Of a metre of half span. [1]"""
        return float(np.tan(np.radians(self.dihedral_deg)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fin:
    height: float
    root: float
    tip: float
    sweep: float
    x: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheels:
    radius: float
    x: float
    track: float


@dataclass(slots=True, kw_only=True)
class Plane:
    """wings: the highest first. body: its form, or none. front: x of the body's front. rise: of the tail cone's end."""

    kind: str
    style: str  # over, wire, union
    body: str
    length: float
    width: float
    height: float
    wings: list[Wing] = field(default_factory=list)
    front: float = 0.0
    tail: Wing | None = None
    fin: Fin | None = None
    wheels: Wheels | None = None
    struts: bool = False
    propeller: float = 0.0  # diameter; 0 none
    section: str = "ellipse"  # of the wing in the side view
    rise: float = 0.0

    @property
    def span(self) -> float:
        return max(w.span for w in self.wings)


# ---- shapes ---------------------------------------------------------------------------------------------------------
def planform(w: Wing) -> Points:
    """Both halves from above."""
    half = w.span / 2
    if w.tips == "round":
        r = min(0.45 * w.tip, 0.2 * half)
        t = np.linspace(0, np.pi / 2, 16)
        y = np.r_[0, half - r + r * np.sin(t)]
        in_ = np.r_[0, r * (1 - np.cos(t))]
        chord = w.root + (w.tip - w.root) * y / half
        lead = w.lead + w.sweep * y / half
        lead, trail = lead + in_, lead + chord - in_
    elif w.tips == "elliptic":  # a straight inner half, then a quarter ellipse each
        y = np.r_[0, 0.5 * half + 0.5 * half * np.sin(np.linspace(0, np.pi / 2, 40))]
        full = w.root + (w.tip - w.root) * y / half
        out = (y - 0.5 * half) / (0.5 * half)
        chord = np.where(y <= 0.5 * half, full, full * np.sqrt(np.clip(1 - out**2, 0, 1)))
        lead = w.lead + w.sweep * y / half + (full - chord) * 0.4
        trail = lead + chord
    elif w.tips == "ellipse":
        y = half * np.sin(np.linspace(0, np.pi / 2, 60))
        chord = w.root * np.sqrt(np.clip(1 - (y / half) ** 2, 0, 1))
        lead = w.lead + (w.root - chord) * 0.35
        trail = lead + chord
    else:
        y = np.array([0, half])
        lead = np.array([w.lead, w.lead + w.sweep])
        trail = lead + np.array([w.root, w.tip])
    starboard = np.r_[np.c_[lead, y], np.c_[trail, y][::-1]]
    return np.r_[starboard, (starboard * [1, -1])[::-1]]


def _bow(form: str) -> tuple[Points, Points]:
    """A body's stations, shares of its length, and half its size there, shares of the greatest."""
    t = np.linspace(0, 1, 121)
    if form == "poly":
        return np.array([0, 0.08, 0.3, 0.5, 1.0]), np.array([0.45, 0.8, 1, 1, 0.16])
    if form == "spindle":
        fore = np.sqrt(np.clip(1 - ((0.35 - t) / 0.35) ** 2, 0, 1))
        return t, np.where(t < 0.35, fore, 1 - 0.92 * ((t - 0.35) / 0.65) ** 2)
    if form == "super":  # an ellipse of exponent 2.6
        return t, np.clip(1 - np.abs(2 * t - 1) ** 2.6, 0, 1) ** (1 / 2.6)
    return t, np.clip(1 - np.abs(2 * t - 1) ** 14, 0, 1) ** (1 / 7)  # a rounded box


def body(p: Plane, view: str) -> Points:
    t, size = _bow(p.body)
    x = p.front + (p.length - p.front) * t
    half = (p.width if view == "top" else p.height) / 2 * size
    lift = p.rise * np.clip((x - 0.4 * p.length) / (0.6 * p.length), 0, 1) if view == "side" else 0 * x
    return np.r_[np.c_[x, half + lift], np.c_[x, -half + lift][::-1]]


def ellipse(x: float, y: float, rx: float, ry: float) -> Points:
    t = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    return np.c_[x + rx * np.cos(t), y + ry * np.sin(t)]


def box(x0: float, y0: float, x1: float, y1: float) -> Points:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float)


def line(part: str, *points: tuple[float, float]) -> Shape:
    return Shape(part=part, points=np.array(points, float), closed=False)


def section(w: Wing, form: str) -> Points:
    """A wing end on."""
    deep = w.thick * w.root
    if form == "ellipse":
        return ellipse(w.lead + w.root / 2, w.z, w.root / 2, deep / 2)
    if form == "rect":
        return box(w.lead, w.z - deep / 2, w.lead + w.root, w.z + deep / 2)
    t = np.linspace(0, 1, 40)
    # four-digit thickness form (Jacobs, Ward, Pinkerton, NACA report 460, 1933), its trailing edge closed
    out = 5 * deep * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1036 * t**4)
    x = w.lead + w.root * t
    return np.r_[np.c_[x, w.z + out], np.c_[x, w.z - out * 0.6][::-1]]


def strip(w: Wing) -> Points:
    """A wing from ahead."""
    half, root = w.span / 2, w.thick * w.root / 2
    tip, high = max(w.thick * w.tip / 2, root * 0.35), half * w.rise
    starboard = [(0, w.z + root), (half, w.z + high + tip), (half, w.z + high - tip)]
    return np.array([*starboard, (0, w.z - root), (-half, w.z + high - tip), (-half, w.z + high + tip)])


# ---- views: shapes in drawing order, the lowest first ------------------------------------------------------------------
def _spinner(p: Plane, view: str) -> list[Shape]:
    if p.front <= 0:
        return []
    r, x = 0.22 * (p.width if view == "top" else p.height), p.front * 1.15
    ring = np.array([(x, r), (0.3 * x, 0.6 * r), (0, 0), (0.3 * x, -0.6 * r), (x, -r)])
    blades = line("propeller", (0.5 * p.front, -p.propeller / 2), (0.5 * p.front, p.propeller / 2))
    return [*([blades] if p.propeller else []), Shape(part="spinner", points=ring)]


def top(p: Plane) -> list[Shape]:
    over = p.kind == "biplane"  # the wing over the body
    upper = Shape(part="wing", points=planform(p.wings[0]))
    out = [Shape(part="tail", points=planform(p.tail))] if p.tail is not None else []
    out += [Shape(part="lower wing", points=planform(w)) for w in p.wings[1:]]
    out += ([] if over else [upper]) + _spinner(p, "top")
    out += [Shape(part="body", points=body(p, "top"))] if p.body != "none" else []
    out += [upper] if over else []
    if p.fin is not None:
        thick = max(0.012 * p.length, 4)
        ring = box(p.fin.x, -thick / 2, p.fin.x + p.fin.root, thick / 2)
        out.append(Shape(part="fin", points=ring))
    return out


def side(p: Plane) -> list[Shape]:
    out = []
    if p.wheels is not None:
        z = _axle(p, p.wheels)
        out.append(line("leg", (p.wheels.x + 0.02 * p.length, 0), (p.wheels.x, z)))
        out.append(Shape(part="wheel", points=ellipse(p.wheels.x, z, p.wheels.radius, p.wheels.radius)))
    if p.struts:
        up, low = p.wings
        for f in (0.2, 0.75):
            foot, head = (w.lead + w.sweep * 0.7 + f * w.root for w in (low, up))
            out.append(line("strut", (foot, low.z), (head, up.z)))
    if p.fin is not None:
        f, z = p.fin, p.rise * 0.9
        crown = [(f.x + f.sweep, z + f.height), (f.x + f.sweep + f.tip, z + f.height)]
        out.append(Shape(part="fin", points=np.array([(f.x, z), *crown, (f.x + f.root, z)])))
    out += _spinner(p, "side")
    out += [Shape(part="body", points=body(p, "side"))] if p.body != "none" else []
    out += [Shape(part="wing", points=section(w, p.section)) for w in p.wings]
    if p.tail is not None:
        out.append(line("tail", (p.tail.lead, p.tail.z), (p.tail.lead + p.tail.root, p.tail.z)))
    return out


def _axle(p: Plane, wheels: Wheels) -> float:
    return -p.height / 2 - wheels.radius * 1.3


def front(p: Plane) -> list[Shape]:
    out = []
    if p.wheels is not None:
        z, r = _axle(p, p.wheels), p.wheels.radius
        for s in (-1, 1):
            y = s * p.wheels.track / 2
            out.append(line("leg", (0, 0), (y, z)))
            out.append(Shape(part="wheel", points=box(y - r * 0.25, z - r, y + r * 0.25, z + r)))
    if p.tail is not None:
        half = p.tail.span / 2
        out.append(line("tail", (-half, p.tail.z), (half, p.tail.z)))
    if p.fin is not None:
        out.append(line("fin", (0, p.rise * 0.9), (0, p.rise * 0.9 + p.fin.height)))
    if p.struts:
        y = 0.7 * min(w.span for w in p.wings) / 2
        head, foot = (w.z + y * w.rise for w in p.wings)
        out += [line("strut", (s * y, foot), (s * y, head)) for s in (-1, 1)]
    out += [Shape(part="wing", points=strip(w)) for w in p.wings]
    if p.body != "none":
        half, deep = p.width / 2, p.height / 2
        round_ = p.body != "box"
        ring = ellipse(0, 0, half, deep) if round_ else box(-half, -deep, half, deep)
        out.append(Shape(part="body", points=ring))
    if p.propeller:
        r = p.propeller / 2
        out.append(Shape(part="propeller", points=ellipse(0, 0, r, r), closed=False, outlined=True))
    return out


VIEWS = {"top": top, "side": side, "front": front}


# ---- any plane of a kind ----------------------------------------------------------------------------------------------
def plane(rng: random.Random, kind: str) -> Plane:
    span = rng.uniform(500, 1400)
    style = rng.choices(["over", "wire", "union"], [5, 2, 2])[0]
    form = rng.choice(["box", "spindle", "super", "poly"])
    if kind == "delta":
        return _delta(rng, span, style, form)
    return _tailed(rng, kind, span, style, form)


def _delta(rng: random.Random, span: float, style: str, form: str) -> Plane:
    U = rng.uniform
    length = span * U(0.75, 1.2)
    cropped = rng.random() < 0.6
    root = span * U(0.5, 0.8) if rng.random() < 0.7 else length * U(0.85, 0.98)
    root = min(root, length * 0.97)
    tip = span * U(0.04, 0.15) if cropped else 0.0
    lead = length - root - U(0, 0.03) * length
    sweep = (root - tip) * U(0.85, 1.0)
    w = Wing(span=span, root=root, tip=tip, sweep=sweep, lead=lead, tips="square", thick=U(0.04, 0.07))
    wide, high = span * U(0.09, 0.16), span * U(0.08, 0.15)
    p = Plane(kind="delta", style=style, body=form, length=length, width=wide, height=high)
    fin_root = root * U(0.25, 0.4)
    fin_tip = fin_root * U(0.3, 0.7)
    fin_height = span * U(0.14, 0.22)
    fin_x = length - fin_root - U(0, 0.02) * length
    fin_sweep = fin_root - fin_tip * U(0.6, 1)
    p.fin = Fin(height=fin_height, root=fin_root, tip=fin_tip, sweep=fin_sweep, x=fin_x)
    w = replace(w, z=U(-0.3, 0.3) * high * 0.5)
    p.section = rng.choice(["ellipse", "foil"])
    if rng.random() < 0.1:  # a wing alone
        p.body = "none"
        p.length -= w.lead
        p.fin = replace(p.fin, x=fin_x - w.lead)
        w = replace(w, lead=0.0)
    p.wings = [w]
    return p


def _tailed(rng: random.Random, kind: str, span: float, style: str, form: str) -> Plane:
    U = rng.uniform
    length = span * U(0.62, 0.9)
    chord = span * U(0.13, 0.24)
    tips = rng.choices(["square", "round", "elliptic", "ellipse"], [4, 3, 2, 1])[0]
    tip = chord * U(0.5, 1) if rng.random() < 0.7 else chord
    lead = length * U(0.16, 0.28)
    sweep = (chord - tip) * U(0, 1)
    sweep += span * U(0, 0.08) if rng.random() < 0.3 else 0
    dihedral, thick = U(0, 6), U(0.09, 0.14)
    wide, high = span * U(0.07, 0.13), span * U(0.09, 0.16)
    p = Plane(kind=kind, style=style, body=form, length=length, width=wide, height=high)
    p.rise = high * U(0, 0.2)
    z = high * rng.choice([-0.42, -0.3, 0, 0.3, 0.45])
    w = Wing(
        span=span,
        root=chord,
        tip=tip,
        sweep=sweep,
        lead=lead,
        z=z,
        dihedral_deg=dihedral,
        tips=tips,
        thick=thick,
    )
    _tail_and_fin(rng, p, w)
    p.section = rng.choice(["ellipse", "rect", "foil"])
    p.wings = _two_wings(rng, p, w) if kind == "biplane" else [w]
    if rng.random() < 0.55:
        radius, x = span * U(0.022, 0.04), length * U(0.14, 0.24)
        p.wheels = Wheels(radius=radius, x=x, track=wide * U(1.4, 2.6))
    if rng.random() < 0.45:
        p.front = length * U(0.05, 0.08)
        if rng.random() < 0.6:
            p.propeller = span * U(0.2, 0.3)
    return p


def _tail_and_fin(rng: random.Random, p: Plane, wing: Wing) -> None:
    U, span = rng.uniform, wing.span
    root = wing.root * U(0.5, 0.75)
    tip = root * U(0.5, 1)
    wide, sweep = span * U(0.28, 0.42), (root - tip) * U(0.3, 1)
    tips = rng.choice(["square", "round", "ellipse" if wing.tips == "ellipse" else "square"])
    lead = p.length - root - U(0.0, 0.06) * p.length
    z = p.rise + p.height * U(0, 0.05)
    p.tail = Wing(span=wide, root=root, tip=tip, sweep=sweep, lead=lead, z=z, tips=tips, thick=0.06)
    fin_root = root * U(0.8, 1.2)
    fin_tip = fin_root * U(0.4, 0.8)
    high = span * U(0.1, 0.16)
    x = p.length - fin_root - U(-0.02, 0.05) * p.length
    sweep = (fin_root - fin_tip) * U(0.5, 1.1)
    p.fin = Fin(height=high, root=fin_root, tip=fin_tip, sweep=sweep, x=x)


def _two_wings(rng: random.Random, p: Plane, upper: Wing) -> list[Wing]:
    U = rng.uniform
    if p.style == "union":
        p.style = "over"  # two wings in one silhouette: nobody could part them
    gap = upper.root * U(0.85, 1.2)
    stagger = upper.root * U(-0.35, 0.45)
    equal = rng.random() < 0.5
    spans = 1 if equal else U(0.75, 0.92)
    chords = 1 if equal else U(0.75, 0.95)
    z = p.height * 0.5 + gap * 0.45
    upper_dihedral = rng.choice([0, U(0, 4)])
    lead = max(upper.lead, 0.06 * p.length)
    lower = Wing(
        span=upper.span * spans,
        root=upper.root * chords,
        tip=upper.tip * chords,
        sweep=upper.sweep * spans,
        lead=max(lead - stagger, 0.05 * p.length),
        z=min(z - gap, -p.height * 0.25),
        dihedral_deg=U(0, 4),
        tips=upper.tips,
        thick=upper.thick,
    )
    p.struts = rng.random() < 0.8
    return [replace(upper, z=z, lead=lead, dihedral_deg=upper_dihedral), lower]
