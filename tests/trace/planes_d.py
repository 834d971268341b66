"""A fourth hand's aeroplanes: flat shapes of known geometry, as an outside examiner would make them up.

Two tempers. The *draughtsman's* planes have curved bodies, rounded tips, sections, wheels and hinge lines; the
*quick* ones are a handful of straight-edged polygons. All in mm: x aft of the body's nose, y starboard, z up.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapes_d import Points, band, box, disc, front_wing, lofted, planform, rounded, section, straight, z_at

KINDS = ("mono", "bi+", "bi-", "delta")  # bi+: upper wing ahead; bi-: upper wing behind


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A closed outline in one view. level: the higher is nearer to the eye. judged: the statement names it."""

    part: str
    name: str
    view: str
    points: Points
    level: float
    judged: bool = True

    @property
    def area(self) -> shapely.Polygon:
        return shapely.Polygon(self.points).buffer(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    kind: str
    span_mm: float
    length_mm: float
    shapes: tuple[Shape, ...]
    panels: tuple[tuple[str, Points], ...]  # (view, line): hinges, ribs, formers, windows
    sticks: tuple[tuple[str, Points], ...]  # (view, line): struts, legs, skids, propeller blades

    def of(self, view: str) -> list[Shape]:
        return [s for s in self.shapes if s.view == view]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wing:
    name: str
    span: float
    root: float
    lead: float
    stands: str  # high, mid, low, parasol


@dataclass(slots=True, kw_only=True)
class _Making:
    """A plane being made: measures that later parts need, and what is drawn so far."""

    kind: str
    quick: bool
    rng: np.random.Generator
    span: float
    length: float = 0.0
    breadth: float = 0.0
    depth: float = 0.0
    box: bool = False  # straight-sided body
    at: float = 0.0  # where the body is widest, share of its length
    axis: float = 0.0
    rise: float = 0.0
    half: Points = field(default_factory=lambda: np.zeros((0, 2)))
    top: Points = field(default_factory=lambda: np.zeros((0, 2)))
    low: Points = field(default_factory=lambda: np.zeros((0, 2)))
    form: str = "straight"
    gap: float = 0.0
    wings: list[_Wing] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    panels: list[tuple[str, Points]] = field(default_factory=list)
    sticks: list[tuple[str, Points]] = field(default_factory=list)

    @property
    def delta(self) -> bool:
        return self.kind == "delta"

    def add(
        self, part: str, view: str, points: Points, level: float, *, name: str = "", judged: bool = True
    ) -> None:
        self.shapes.append(
            Shape(
                part=part, name=name, view=view, points=np.asarray(points, float), level=level, judged=judged
            )
        )

    def aside(self, part: str, view: str, points: Points, level: float, name: str = "") -> None:
        """A shape that is drawn, not judged."""
        self.add(part, view, points, level, name=name, judged=False)

    def panel(self, view: str, *points: tuple[float, float]) -> None:
        self.panels.append((view, np.array(points, float)))

    def stick(self, view: str, *points: tuple[float, float]) -> None:
        self.sticks.append((view, np.array(points, float)))


def plane(seed: int, kind: str, *, quick: bool) -> Plane:
    """Any plane of a kind."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 4071, int(quick)])
    m = _Making(kind=kind, quick=quick, rng=rng, span=float(np.round(rng.uniform(500, 1200))))
    _body(m)
    m.form = "straight" if quick else str(rng.choice(["straight", "straight", "broken", "ellipse"]))
    where = str(rng.choice(["high", "mid", "low"]))
    if m.delta:
        _delta_wing(m, where)
    else:
        _straight_wings(m, where)
    _tail_and_fin(m)
    heights, thick, dihedral = _front_and_sections(m)
    if kind.startswith("bi"):
        _struts(m, heights, thick, dihedral)
    _gear(m, heights)
    _inside_the_body(m)
    return Plane(
        kind=kind,
        span_mm=m.span,
        length_mm=m.length,
        shapes=tuple(m.shapes),
        panels=tuple(m.panels),
        sticks=tuple(m.sticks),
    )


def _body(m: _Making) -> None:
    rng = m.rng
    m.length = L = m.span * (rng.uniform(0.8, 1.2) if m.delta else rng.uniform(0.62, 0.88))
    m.breadth = breadth = L * rng.uniform(0.07, 0.13)
    m.depth = depth = L * rng.uniform(0.09, 0.16)
    m.box = m.quick or bool(rng.random() < 0.3)
    nose, stern = breadth * rng.uniform(0.25, 0.6), breadth * rng.uniform(0.08, 0.3)
    m.at = at = rng.uniform(0.15, 0.3)
    if m.box:
        m.half = straight(L, nose / 2, breadth / 2, stern / 2, at, rng)
    else:
        pointed = 0.0 if rng.random() < 0.5 else nose / 2
        m.half = lofted(L, pointed, breadth / 2, stern / 2, at, rng.uniform(1.0, 1.7))
    m.add("body", "top", band(m.half, m.half * [1, -1]), 3.0)

    m.axis = axis = depth * rng.uniform(-0.1, 0.1)
    m.rise = rise = depth * rng.uniform(0.0, 0.25)
    if m.box:
        stations = np.array([0, at, at + 0.25, 1.0])
        m.top = np.c_[stations * L, axis + depth * np.array([0.25, 0.5, 0.5, 0.12]) + [0, 0, 0, rise]]
        stations = np.array([0, at * 0.8, at + 0.2, 1.0])
        m.low = np.c_[stations * L, axis - depth * np.array([0.25, 0.5, 0.5, 0.06]) + [0, 0, 0, rise]]
    else:
        form = lofted(L, rng.uniform(0.1, 0.3) * depth, depth / 2, 0.07 * depth, at, 1.3)
        lift = rise * (form[:, 0] / L) ** 2
        m.top = np.c_[form[:, 0], axis + lift + form[:, 1]]
        m.low = np.c_[form[:, 0], axis + lift - form[:, 1] * 0.95]
        if rng.random() < 0.5:  # a cockpit hump that is part of the body's line
            hump = np.exp(-((((form[:, 0] / L) - at - 0.08) / 0.06) ** 2)) * depth * 0.3
            m.top = m.top + np.c_[0 * hump, hump]
    m.add("body", "side", band(m.top, m.low), 3.0)


def _delta_wing(m: _Making, where: str) -> None:
    rng, L, span = m.rng, m.length, m.span
    root = L * rng.uniform(0.5, 0.72)
    tip = root * rng.uniform(0.08, 0.25)
    lead = L * rng.uniform(0.22, 0.3)
    sweep = root - tip - rng.choice([0.0, 0.0, 0.06]) * root
    radius = 0.0 if m.quick or rng.random() < 0.5 else 0.25 * tip
    ring = planform(span, root, tip, lead, sweep, "straight", radius)
    m.add("wing", "top", ring, 2.0 if where == "low" else 4.0)
    m.wings = [_Wing(name="", span=span, root=root, lead=lead, stands=where)]
    if abs(sweep + tip - root) < 1e-6:
        x = lead + 0.87 * root
        for s in (-1, 1):
            m.panel("top", (x, s * 0.12 * span), (x, s * 0.36 * span))


def _straight_wings(m: _Making, where: str) -> None:
    rng, span = m.rng, m.span
    mean = span / rng.uniform(5.0, 7.5)
    taper = rng.uniform(0.5, 1.0)
    root = mean * (4 / np.pi if m.form == "ellipse" else 2 / (1 + taper))
    tip = taper * root
    if m.form == "broken":
        root, tip = mean * 1.1, mean * 1.1 * max(taper, 0.55)
    lead = m.length * rng.uniform(0.2, 0.27)
    sweep = (root - tip) * rng.uniform(0.1, 0.9) if m.form != "ellipse" else 0.0
    if m.form == "straight" and rng.random() < 0.2:
        sweep += 0.05 * span
    radius = 0.0 if m.quick else float(rng.choice([0.0, 0.12, 0.3, 0.45])) * tip
    if m.form == "ellipse":
        radius = 0.0
    if m.kind == "mono":
        m.wings = [_Wing(name="", span=span, root=root, lead=lead, stands=where)]
    else:
        m.gap = root * rng.uniform(0.8, 1.1)
        stagger = root * rng.uniform(0.2, 0.5) * (1 if m.kind == "bi+" else -1)
        low_span = span * float(rng.choice([1.0, 0.9, 0.8]))
        low_root = root * float(rng.choice([1.0, 0.85]))
        if m.kind == "bi-":
            lead = max(lead, 0.06 * m.length - stagger)
        m.wings = [
            _Wing(name="upper", span=span, root=root, lead=lead, stands="parasol"),
            _Wing(name="lower", span=low_span, root=low_root, lead=lead + stagger, stands="low"),
        ]
    for w in m.wings:
        k = w.root / root
        level = {"parasol": 5.0, "high": 4.0, "mid": 2.0, "low": 2.0}[w.stands]
        ring = planform(w.span, w.root, tip * k, w.lead, sweep * k, m.form, radius * k)
        m.add("wing", "top", ring, level, name=w.name)
        if m.form == "straight" and w.name != "lower":
            _ribs_and_hinges(m, w, tip * k, sweep * k)


def _ribs_and_hinges(m: _Making, w: _Wing, tip: float, sweep: float) -> None:
    for side in (-1, 1):
        ys = np.array([0.55, 0.9])
        lead, chord = w.lead + sweep * ys, w.root + (tip - w.root) * ys
        ys = side * ys * w.span / 2
        hinge = lead + 0.76 * chord
        m.panel("top", (hinge[0], ys[0]), (hinge[1], ys[1]))
        for i in (0, 1):
            m.panel("top", (hinge[i], ys[i]), (lead[i] + chord[i], ys[i]))
        for f in (0.2, 0.35, 0.5, 0.65, 0.8):
            x, c, y = w.lead + sweep * f, w.root + (tip - w.root) * f, side * f * w.span / 2
            m.panel("top", (x + 0.03 * c, y), (x + 0.73 * c, y))


def _tail_and_fin(m: _Making) -> None:
    rng, span, L = m.rng, m.span, m.length
    high = span * rng.uniform(0.11, 0.17)
    if not m.delta:
        wide, root = span * rng.uniform(0.3, 0.42), span * rng.uniform(0.09, 0.12)
        tip = root * rng.uniform(0.6, 1.0)
        over = rng.uniform(-0.2, 0.5) * root * 0.4
        lead = L - root + over
        form = "ellipse" if m.form == "ellipse" and rng.random() < 0.7 else "straight"
        radius = 0.0 if m.quick else float(rng.choice([0.0, 0.15, 0.4])) * tip
        sweep = (root - tip) * rng.uniform(0.3, 1.0)
        above = rng.random() < 0.6
        ring = planform(wide, root, tip, lead, sweep, form, 0.0 if form == "ellipse" else radius)
        m.add("tail", "top", ring, 4.0 if above else 2.0)
        if form == "straight":
            for s in (-1, 1):
                m.panel(
                    "top",
                    (lead + 0.62 * root, s * 0.03 * span),
                    (lead + sweep + 0.62 * tip, s * wide * 0.49),
                )
        z = z_at(m.top, L * 0.97) if above else m.axis + m.rise
        m.aside("tail", "side", box(lead, z - 0.004 * span, lead + root, z + 0.006 * span), 3.5)
        m.aside("tail", "front", front_wing(wide, 0.0, 0.012 * span, z - 0.004 * span), 1.0)
        foot, end = root * rng.uniform(1.0, 1.4), L + max(over, 0.0)
    else:
        foot, end = L * rng.uniform(0.2, 0.3), L
    _fin(m, foot, end, high)


def _fin(m: _Making, foot: float, end: float, high: float) -> None:
    """Its foot is inside the body."""
    rng, span = m.rng, m.span
    start = end - foot
    tip = foot * rng.uniform(0.4, 0.65)
    stern = z_at(m.top, m.length)
    crown = stern + high
    fin = np.array(
        [
            (start, min(z_at(m.top, start), stern) - 0.02 * m.depth),
            (end - tip - (0.05 * foot if rng.random() < 0.5 else 0.0), crown),
            (end - (0.05 * foot if rng.random() < 0.4 else 0.0), crown),
            (end, m.axis + m.rise),
        ]
    )
    if not m.quick:
        fin = rounded(fin, float(rng.choice([0.0, 0.2, 0.4])) * tip)
    m.add("fin", "side", fin, 2.0)
    m.aside("fin", "top", box(start, -0.004 * span, end, 0.004 * span), 4.5 if m.delta else 3.8)
    m.aside("fin", "front", box(-0.006 * span, m.axis, 0.006 * span, crown), 0.5)
    m.panel("side", (end - 0.38 * foot, stern + 0.01 * span), (end - 0.38 * tip, crown - 0.01 * span))


def _front_and_sections(m: _Making) -> tuple[dict[str, float], float, float]:
    """Wings end on in the side view and all in the front view; height of each wing, thickness, dihedral."""
    rng, span = m.rng, m.span
    round_body = disc(0, 0, 0.5) * [m.breadth, m.depth] + [0, m.axis]
    square_body = box(-m.breadth / 2, m.axis - m.depth / 2, m.breadth / 2, m.axis + m.depth / 2)
    m.aside("body", "front", square_body if m.box else round_body, 3.0)
    thick = 0.05 if m.delta else rng.uniform(0.07, 0.12)
    style = "plate" if m.quick else str(rng.choice(["flat", "full"]))
    sections = not m.quick or rng.random() < 0.7 or m.kind.startswith("bi")
    dihedral = rng.uniform(0.0, 0.05)
    heights: dict[str, float] = {}
    for w in m.wings:
        mid, t = w.lead + 0.4 * w.root, thick * w.root
        heights[w.name] = z = {
            "high": z_at(m.top, mid) - 0.25 * t,
            "mid": m.axis - 0.3 * t,
            "low": z_at(m.low, mid) - 0.1 * t,
            "parasol": max(z_at(m.low, mid) + m.gap, z_at(m.top, mid) + 0.25 * m.depth),
        }[w.stands]
        if sections:
            m.aside("wing", "side", section(w.root, w.lead, z, thick, style), 4.0, w.name)
        ring = front_wing(w.span, dihedral * w.span / 2, max(0.05 * w.root, 0.012 * span), z)
        m.aside("wing", "front", ring, 4.0 if w.stands != "mid" else 2.0, w.name)
    return heights, thick, dihedral


def _struts(m: _Making, heights: dict[str, float], thick: float, dihedral: float) -> None:
    up, lo = m.wings
    for f in (0.2, 0.72):
        m.stick(
            "side",
            (lo.lead + f * lo.root, heights["lower"] + thick * lo.root),
            (up.lead + f * up.root, heights["upper"]),
        )
    for s in (-1, 1):
        y = s * 0.33 * m.span
        a, b = (heights[n] + dihedral * abs(y) for n in ("lower", "upper"))
        m.stick("front", (y, a + 0.012 * m.span), (y, b))
        m.stick(
            "front",
            (s * 0.4 * m.breadth, m.axis + 0.4 * m.depth),
            (s * 0.6 * m.breadth, heights["upper"]),
        )


def _gear(m: _Making, heights: dict[str, float]) -> None:
    """Wheels under some planes; a propeller ahead of some noses, as a thin line, with or without a shaft."""
    rng, span = m.rng, m.span
    if rng.random() < (0.35 if m.quick else 0.6):
        r = span * rng.uniform(0.03, 0.045)
        x = m.wings[-1].lead + 0.1 * m.wings[-1].root
        z = min(m.low[:, 1].min(), *heights.values()) - 1.7 * r
        m.aside("gear", "side", disc(x, z, r), 5.0)
        m.stick("side", (x, z + r), (x + 0.4 * r, z_at(m.low, x + 0.4 * r)))
        for s in (-1, 1):
            y = s * 0.11 * span
            m.aside("gear", "front", box(y - 0.25 * r, z - r, y + 0.25 * r, z + r), 5.0)
            m.stick("front", (y, z + r), (s * 0.3 * m.breadth, m.axis - 0.42 * m.depth))
    if not m.quick and rng.random() < 0.4:
        r, x = span * rng.uniform(0.1, 0.14), -0.006 * span
        z = (m.top[0, 1] + m.low[0, 1]) / 2
        m.stick("side", (x, z - r), (x, z + r))
        m.stick("top", (x, -r), (x, r))
        if rng.random() < 0.6:
            m.stick("side", (x, z), (0.0, z))
            m.stick("top", (x, 0.0), (0.0, 0.0))


def _inside_the_body(m: _Making) -> None:
    """Formers, and a window."""
    L, depth = m.length, m.depth
    for f in np.linspace(0.3, 0.75, 4):
        x = f * L
        b = z_at(m.half, x)
        m.panel("top", (x, -0.96 * b), (x, 0.96 * b))
        m.panel("side", (x, z_at(m.low, x) + 0.02 * depth), (x, z_at(m.top, x) - 0.02 * depth))
    x0, x1 = (m.at + 0.02) * L, (m.at + 0.16) * L
    a, b = z_at(m.top, x0), z_at(m.top, x1)
    low, high = 0.3 * depth, 0.08 * depth
    m.panel("side", (x0, a - low), (x0 + 0.03 * L, a - high), (x1, b - high), (x1, b - low), (x0, a - low))
