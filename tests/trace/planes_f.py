"""Any aeroplane of the sixth hand, made part by part and drawn from the side and from ahead."""

from __future__ import annotations

import numpy as np
import shapely
from parts_f import (
    Plane,
    Shape,
    cockpit,
    delta_wing,
    fin,
    from_above,
    line,
    nose,
    one_wing,
    tailplane,
    two_wings,
)
from shapely.geometry import LineString, Polygon
from shapes_f import body, ellipse, oval, section, strip

KINDS = ("monoplane", "biplane", "delta")


def plane(rng: np.random.Generator, kind: str) -> Plane:
    span = float(rng.choice([400, 600, 760, 900, 1200]))
    p = Plane(kind=kind, span_mm=span, bare=bool(rng.random() < 0.3), wire=bool(rng.random() < 0.4))
    p.length = span * (rng.uniform(0.6, 0.9) if kind != "delta" else rng.uniform(0.85, 1.3))
    p.width = span * rng.uniform(0.06, 0.12) * (0.9 if kind == "delta" else 1.0)
    p.height = span * rng.uniform(0.08, 0.14)
    p.body = body(rng, p.length, p.width, p.height)
    {"delta": delta_wing, "monoplane": one_wing, "biplane": two_wings}[kind](rng, p)
    p.fin_chord = span * rng.uniform(0.09, 0.15)
    if kind != "delta":
        tailplane(rng, p)
    from_above(rng, p)
    nose(rng, p)
    cockpit(rng, p)
    fin(rng, p)
    _body_and_fin(rng, p)
    _sections(rng, p)
    _standing(rng, p)
    _from_ahead(rng, p)
    _controls(rng, p)
    return p


# ---- the other views ------------------------------------------------------------------------------------------------
def _sunk(p: Plane) -> Polygon:
    """The fin carried on below the body's back; where that line crosses itself, the fin as it is."""
    start, end = p.fin_ends
    deep = 0.2 * (p.body.crown(start) - p.body.keel(start))
    x = p.fin_edge[0][0]
    below = [(min(end, p.length), p.crown(end) - deep * 0.5), (x, p.crown(x) - deep)]
    area = Polygon([*p.fin_edge, *below]).buffer(0)
    return area if area.geom_type == "Polygon" else p.fin


def _body_and_fin(rng: np.random.Generator, p: Plane) -> None:
    body, fin = Shape(geometry=p.body.side, name="body"), Shape(geometry=p.fin, name="fin")
    canopy = [Shape(geometry=p.canopy, name="canopy", pen=0.8)] if p.canopy is not None else []
    if p.fin_joint == "merged":
        whole = shapely.union_all([p.body.side, p.fin.buffer(p.span_mm * 0.0005)])
        if canopy and rng.random() < 0.5:
            whole, canopy = shapely.union_all([whole, p.canopy]), []
        one = whole.geom_type == "Polygon"
        p.side += [Shape(geometry=Polygon(whole.exterior), name="body and fin")] if one else [body, fin]
        p.side[:0] = canopy
        return
    p.side += canopy
    if p.fin_joint == "sunk":
        fin = Shape(geometry=_sunk(p), name="fin")
    before = p.fin_joint == "sunk" and rng.random() < 0.5
    p.side += [body, fin] if before else [fin, body]


def _sections(rng: np.random.Generator, p: Plane) -> None:
    for w in p.wings if p.section != "none" else []:
        end_on = section(w.lead, w.z, p.chord, p.section, rng.uniform(0.08, 0.13))
        p.side.append(Shape(geometry=end_on, name="section", pen=0.8))
    if p.tail is not None and rng.random() < 0.6:
        x0, _, x1, _ = p.tail.bounds
        end_on = section(x0, p.tail_z, x1 - x0, str(rng.choice(["line", "rect", "lens"])), 0.07)
        p.side.append(Shape(geometry=end_on, name="section", pen=0.8))


def _standing(rng: np.random.Generator, p: Plane) -> None:
    """Gear and struts in the side view."""
    span, keel = p.span_mm, p.body.keel

    def bar(a: tuple[float, float], b: tuple[float, float], pen: float) -> None:
        p.side.append(Shape(geometry=line(a, b), name="bar", pen=pen))

    if not p.bare and rng.random() < 0.55:
        x, r = p.length * rng.uniform(0.15, 0.3), span * rng.uniform(0.025, 0.045)
        z = keel(x) - span * rng.uniform(0.06, 0.1)
        p.gear = x, z, r
        bar((x - span * 0.01, keel(x)), (x, z), 0.8)
        if rng.random() < 0.5:
            bar((x + span * 0.04, keel(x + span * 0.04)), (x, z), 0.8)
        p.side.append(Shape(geometry=ellipse(x, z, r, r, 50), name="wheel", pen=0.9))
        if rng.random() < 0.5:
            x = p.length * 0.94
            bar((x, keel(x)), (x + span * 0.02, keel(x) - span * 0.03), 0.8)
    if p.kind == "biplane":
        p.struts = not p.bare or rng.random() < 0.3
    for f in (0.2, 0.7):
        if p.struts:
            up, low = p.wings
            bar((low.lead + f * p.chord, low.z), (up.lead + f * p.chord, up.z), 0.7)
        elif p.parasol_struts:
            x = p.lead + f * p.chord
            bar((x, p.body.crown(x)), (x, p.wings[0].z), 0.7)


def _from_ahead(rng: np.random.Generator, p: Plane) -> None:
    span, half, deep = p.span_mm, p.width / 2, p.height / 2
    square = p.body.style == "box"
    around = shapely.box(-half, -deep, half, deep) if square else ellipse(0, 0, half, deep, 60)
    body = Shape(geometry=around, name="body")
    dihedral = np.radians(rng.choice([0, 2, 4, 6]))
    dihedral = 0.0 if p.kind == "delta" else dihedral
    thick = rng.uniform(0.08, 0.13)
    start, end = p.fin_ends
    foot = p.body.crown(start) - 0.1 * p.height
    fin = shapely.box(-span * 0.005, foot, span * 0.005, p.crown(end) + p.fin_height)
    p.front.append(Shape(geometry=fin, name="fin"))
    if p.tail is not None:
        wide = p.tail.bounds[3] * 2
        p.front.append(Shape(geometry=strip(rng, wide, p.tail_z, span * 0.1, 0.08, 0), name="tail"))
    if p.stands == "bi":
        up, low = p.wings
        wide = low.area.bounds[3] * 2
        below = strip(rng, wide, low.z, p.chord, thick, dihedral)
        above = strip(rng, span, up.z, p.chord, thick, dihedral * rng.choice([0, 1]))
        p.front += [Shape(geometry=below, name="lower"), body, Shape(geometry=above, name="upper")]
        if p.struts:
            _bays(rng, p, dihedral)
    else:
        over = p.stands in {"high", "parasol"}
        chord = p.chord if over else min(p.chord, span * 0.3)
        wing = Shape(geometry=strip(rng, span, p.wings[0].z, chord, thick, dihedral), name="wing")
        p.front += [body, wing] if over else [wing, body]
    if p.parasol_struts:
        for y in (0.03 * span, -0.03 * span):
            p.front.append(Shape(geometry=line((y, p.height * 0.45), (y, p.wings[0].z)), name="bar", pen=0.7))
    _nose_and_gear_from_ahead(rng, p)


def _bays(rng: np.random.Generator, p: Plane, dihedral: float) -> None:
    """Struts between two wings from ahead, with or without a wire."""
    span, (up, low) = p.span_mm, p.wings

    def bars(pairs: list[tuple[tuple[float, float], tuple[float, float]]], pen: float) -> None:
        p.front.extend(Shape(geometry=line(*ends), name="bar", pen=pen) for ends in pairs)

    rise, out = 0.35 * span * np.tan(dihedral), 0.35 * span * p.lower_share
    bars([((s * out, low.z + rise), (s * 0.35 * span, up.z)) for s in (1, -1)], 0.7)
    bars([((s * 0.04 * span, p.height * 0.4), (s * 0.04 * span, up.z)) for s in (1, -1)], 0.7)
    if rng.random() < 0.3:
        bars([((s * out, low.z), (s * 0.04 * span, up.z)) for s in (1, -1)], 0.4)


def _nose_and_gear_from_ahead(rng: np.random.Generator, p: Plane) -> None:
    span, z, r = p.span_mm, p.nose_z, p.propeller
    if p.canopy is not None:
        t = np.linspace(0, np.pi, 20)
        bow = Polygon(np.c_[p.width * 0.28 * np.cos(t), p.height * 0.42 + p.height * 0.3 * np.sin(t)])
        p.front.insert(0, Shape(geometry=bow, name="canopy", pen=0.7))
    if p.spinner is not None:
        round_ = ellipse(0, z, p.spinner[3], p.spinner[3], 60)
        p.front.append(Shape(geometry=round_, name="spinner", pen=0.8))
    if r > 0:
        if rng.random() < 0.5:
            disc = LineString(oval(0, z, r, r, 60))
            p.front.append(Shape(geometry=disc, name="propeller", pen=0.5))
        else:
            blades = line((-r, z), (r, z)) if rng.random() < 0.5 else line((0, z - r), (0, z + r))
            p.front.append(Shape(geometry=blades, name="propeller", pen=0.8))
    if p.gear is not None:
        x, z, r = p.gear
        out = span * rng.uniform(0.08, 0.13)
        for s in (1, -1):
            leg = line((s * p.width / 2 * 0.7, p.body.keel(x)), (s * out, z))
            wheel = shapely.box(s * out - span * 0.008, z - r, s * out + span * 0.008, z + r)
            p.front += [
                Shape(geometry=leg, name="bar", pen=0.8),
                Shape(geometry=wheel, name="wheel", pen=0.9),
            ]


def _controls(rng: np.random.Generator, p: Plane) -> None:
    """Hinge lines of ailerons, elevator and rudder."""
    if p.bare or rng.random() >= 0.5:
        return

    def hinge(view: str, ends: LineString, inside: Polygon) -> None:
        seen = ends.intersection(inside)
        if seen.geom_type == "LineString" and not seen.is_empty:
            p.shapes(view).append(Shape(geometry=seen, name="hinge", pen=0.5, covers=False))

    if p.tail is not None:
        for area, inner, outer in ((p.wings[0].area, 0.55, 0.9), (p.tail, 0.12, 0.95)):
            x0, _, x1, half = area.bounds
            x = x1 - 0.28 * (x1 - x0)
            for s in (1, -1):
                hinge(
                    "top",
                    line((x, s * inner * half), (x, s * outer * half)),
                    area.buffer(-p.span_mm * 0.002),
                )
    end = p.fin_ends[1]
    x, foot = end - 0.4 * p.fin_chord, p.crown(end)
    hinge("side", line((x, foot), (x, foot + p.fin_height * 0.95)), p.fin)
