"""Imagined aeroplanes of known geometry for `drawing_c`: the shapes of each view, lowest layer first."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
import shapely.affinity
from scipy.interpolate import PchipInterpolator
from shapely.geometry import LineString, Polygon

Points = np.ndarray
KINDS = ("monoplane", "biplane", "delta", "canard")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """An open or closed line inside a view. style: hinge, detail, panel, strut, fine."""

    points: Points
    style: str = "detail"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One closed shape of one view.

    part, name : what it is; parts that are judged are wing, tail, fin and body.
    opaque : hides what lies under it.
    hidden_as : how its own stretches under others are drawn: omitted, dashed, solid.
    left_out : where its outline is not drawn though nothing hides it (a fin that flows into the body).
    """

    part: str
    name: str
    poly: Polygon
    opaque: bool = True
    hidden_as: str = "omitted"
    left_out: Polygon = field(default_factory=Polygon)
    strokes: tuple[Stroke, ...] = ()
    judged: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Shapes by view (top: x, y; side: x, z; front: y, z), millimetres; x = 0 at the body's front."""

    kind: str
    span_mm: float
    length_mm: float
    shapes: dict[str, list[Shape]]
    hinges: tuple[tuple[str, str, Points], ...]  # part, view, (2, 2) segment
    doubtful: dict[tuple[str, str], Polygon]  # (part, view) -> region where either reading is right
    traits: dict[str, object]


def mirrored(half: Points) -> Points:
    """Starboard half from centre line to centre line -> closed outline."""
    return np.vstack([half, half[::-1] * (1.0, -1.0)])


def rounded(poly: Polygon, radius: float) -> Polygon:
    """Convex corners rounded."""
    out = poly.buffer(-radius, quad_segs=24).buffer(radius, quad_segs=24)
    return out if out.geom_type == "Polygon" and not out.is_empty else poly


def planform(
    r: np.random.Generator, form: str, semi: float, root: float
) -> tuple[Points, tuple[float, float]]:
    """Half outline (x, y) with the root's leading edge at x = 0, and its leading and trailing edge at 60 %."""
    eta = 1.0 - (1.0 - np.linspace(0, 1, 90)) ** 1.8
    taper, lead, tip = 1.0, 0.0, 0.0  # tip: rounded share of the semi-span
    if form == "rectangular":
        tip = float(r.choice([0.0, 0.0, 0.08, 0.15]))
    elif form == "tapered":
        taper, lead = r.uniform(0.4, 0.8), r.uniform(0.0, 0.6)
        tip = float(r.choice([0.0, 0.1, 0.2]))
    elif form == "swept":
        taper = r.uniform(0.4, 0.75)
        lead = (1 - taper) * 0.5 + semi / root * np.tan(np.radians(r.uniform(12, 30)))
        lead /= max(1 - taper, 1e-6)
        tip = float(r.choice([0.0, 0.06]))
    elif form == "cranked":
        taper, lead = r.uniform(0.5, 0.7), r.uniform(0.1, 0.9)
        tip = float(r.choice([0.0, 0.12]))
    if form == "elliptical":
        chord = root * np.sqrt(np.clip(1 - eta**2, 0, None))
        share = r.uniform(0.25, 0.6)
        le = share * (root - chord)
    else:
        shape = 1 - (1 - taper) * eta
        if form == "cranked":
            k = r.uniform(0.3, 0.5)
            shape = np.where(eta < k, 1.0, 1 - (1 - taper) * (eta - k) / (1 - k))
            eta = np.sort(np.r_[eta, k])
            shape = np.interp(eta, np.r_[0, k, 1], [1, 1, taper])
        le = lead * root * (1 - shape)
        chord = root * shape
        if tip > 0:
            n0 = 1 - tip
            dense = np.r_[eta[eta < n0], n0 + tip * np.sin(np.linspace(0, np.pi / 2, 40))]
            le, chord, eta = np.interp(dense, eta, le), np.interp(dense, eta, chord), dense
            t = np.clip((eta - n0) / tip, 0, 1)
            share = r.uniform(0.3, 0.55)
            less = chord * (1 - np.sqrt(np.clip(1 - t**2, 0, None)))
            le, chord = le + share * less, chord - less
    y = eta * semi
    half = np.vstack([np.c_[le, y], np.c_[le + chord, y][::-1]])
    keep = np.r_[True, np.hypot(*np.diff(half, axis=0).T) > 1e-6]
    return half[keep], (float(np.interp(0.6, eta, le)), float(np.interp(0.6, eta, le + chord)))


def edge_at(poly: Polygon, y: float) -> tuple[float, float]:
    """Leading and trailing edge of a planform at y."""
    cut = poly.intersection(LineString([(-1e5, y), (1e5, y)]))
    return cut.bounds[0], cut.bounds[2]


def width(r: np.random.Generator, length: float, top: float, nose: str, tail: float, style: str) -> Points:
    """Half-width (or half-depth) along a body, (n, 2)."""
    tm = r.uniform(0.25, 0.4)
    w0 = {"blunt": r.uniform(0.5, 0.85), "round": r.uniform(0.8, 0.95), "pointed": 0.0}[nose] * top
    late = r.uniform(0.45, 0.65)
    knots = np.array([0.0, tm * 0.5, tm, (1 + tm) / 2, 1.0])
    vals = np.array(
        [
            w0,
            w0 + (top - w0) * (0.8 if nose != "pointed" else 0.68),
            top,
            late * top + (1 - late) * tail,
            tail,
        ]
    )
    if style == "straight":
        knots, vals = knots[[0, 2, 4]], vals[[0, 2, 4]]
    x = np.unique(np.r_[np.linspace(0, 1, 180), 0.12 * (1 - np.cos(np.linspace(0, np.pi / 2, 40))), knots])
    w = np.interp(x, knots, vals) if style == "straight" else PchipInterpolator(knots, vals)(x)
    if nose == "round":
        a = r.uniform(0.06, 0.12)
        w = w * np.sqrt(np.clip(1 - (1 - np.clip(x / a, 0, 1)) ** 2, 0, None))
    return np.c_[x * length, w]


def aerofoil(x: float, chord: float, z: float, thick: float, tilt: float = 0.0) -> Polygon:
    """A section outline; NACA four-digit thickness law, slightly cambered."""
    t = (1 - np.cos(np.linspace(0, np.pi, 50))) / 2
    y = 5 * thick * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1036 * t**4)
    camber = 0.08 * t * (1 - t)
    pts = np.vstack([np.c_[t, camber + y], np.c_[t, camber - y][::-1][1:-1]]) * chord
    c, s = np.cos(tilt), np.sin(tilt)
    return Polygon(pts @ np.array([[c, -s], [s, c]]) + (x, z))


def disc(x: float, z: float, radius: float, squash: float = 1.0) -> Polygon:
    a = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    return Polygon(np.c_[x + radius * squash * np.cos(a), z + radius * np.sin(a)])


def bar(a: tuple[float, float], b: tuple[float, float], thick: float) -> Polygon:
    return LineString([a, b]).buffer(thick / 2, cap_style="flat")


def _surface_hinge(poly: Polygon, y0: float, y1: float, share: float, straight: bool) -> Points:
    """Starboard hinge segment between y0 and y1."""
    (a0, b0), (a1, b1) = edge_at(poly, y0), edge_at(poly, y1)
    h0, h1 = b0 - share * (b0 - a0), b1 - share * (b1 - a1)
    if straight:
        h0 = h1 = min(h0, h1)
    return np.array([[h0, y0], [h1, y1]])


def _ailerons(poly: Polygon, semi: float, inner: float, outer: float, share: float) -> list[Points]:
    seg = _surface_hinge(poly, inner * semi, outer * semi, share, straight=False)
    ends = [np.array([p, (edge_at(poly, p[1])[1], p[1])]) for p in seg]
    lines = [seg, *ends]
    return lines + [line * (1, -1) for line in lines]


def _slab(semi: float, z: float, thick: float, rise: float) -> Polygon:
    """A wing seen from the front: thick at the root, half of it at the tip, tips `rise` higher."""
    half = np.array(
        [[0, z + thick / 2], [semi, z + rise + thick / 5], [semi, z + rise - thick / 5], [0, z - thick / 2]]
    )
    return Polygon(mirrored(half[:, ::-1])[:, ::-1])


def plane(seed: int, kind: str) -> Plane:
    """An aeroplane; the same seed and kind always give the same one."""
    r = np.random.default_rng([730_011, seed, KINDS.index(kind)])
    coin = lambda p: bool(r.random() < p)  # noqa: E731
    span = round(float(r.uniform(320, 1400)), 1)
    semi = span / 2
    traits: dict[str, object] = {}
    doubtful: dict[tuple[str, str], Polygon] = {}
    hinges: list[tuple[str, str, Points]] = []
    tops: list[Shape] = []
    sides: list[Shape] = []
    fronts: list[Shape] = []

    # proportions
    length = (
        span
        * {
            "monoplane": r.uniform(0.62, 0.9),
            "biplane": r.uniform(0.68, 0.9),
            "delta": r.uniform(0.95, 1.5),
            "canard": r.uniform(0.6, 0.85),
        }[kind]
    )
    nose = str(
        r.choice(["blunt", "round", "pointed"], p=[0.4, 0.35, 0.25] if kind != "delta" else [0.15, 0.25, 0.6])
    )
    if kind == "biplane" and nose == "pointed":
        nose = "blunt"
    style = "straight" if coin(0.2) else "smooth"
    mono = kind in {"monoplane", "canard"}
    root = span / r.uniform(4.6, 7.5) if kind != "delta" else length * r.uniform(0.55, 0.75)
    half_w = length * r.uniform(0.045, 0.07)
    up, down = length * r.uniform(0.05, 0.075), length * r.uniform(0.045, 0.07)
    w_tail = float(r.choice([0.002, 0.012])) * length
    form = str(
        r.choice(["rectangular", "tapered", "elliptical", "swept", "cranked"], p=[0.22, 0.3, 0.2, 0.14, 0.14])
    )
    if kind == "biplane":
        form = str(r.choice(["rectangular", "tapered", "elliptical", "swept"], p=[0.6, 0.15, 0.1, 0.15]))
        root = span / r.uniform(5.4, 7.5)
    high = coin(0.4) if kind != "delta" else coin(0.2)
    if kind == "biplane":
        high = True
    traits |= {"nose": nose, "form": form, "body": style, "high wing": high}

    # the body in both views
    plan = width(r, length, half_w, nose, w_tail, style)
    body_top = Polygon(mirrored(plan))
    upper, lower = (width(r, length, d, nose, length * 0.01, style) for d in (up, down))
    lift = r.uniform(0.0, 0.035) * length
    xs = np.unique(np.r_[upper[:, 0], lower[:, 0]])
    camber = lift * np.clip(xs / length - 0.3, 0, None) ** 1.5 / 0.7**1.5
    zu = np.interp(xs, *upper.T) + camber
    zl = -np.interp(xs, *lower.T) + camber
    if nose == "blunt":  # both lines of a flat cowl start at the same half-depth
        d = (zu[0] - zl[0]) / 2
        fade = np.exp(-xs / (0.08 * length))
        zu, zl = zu + (d - zu[0]) * fade, zl + (-d - zl[0]) * fade
    body_line_up, body_line_down = np.c_[xs, zu], np.c_[xs, zl]
    at_up = lambda x: float(np.interp(x, xs, zu))  # noqa: E731
    at_down = lambda x: float(np.interp(x, xs, zl))  # noqa: E731
    body_side = Polygon(np.vstack([body_line_up, body_line_down[::-1]])).buffer(0)

    # where the wing sits
    wing_x = length * r.uniform(0.2, 0.3)
    if kind == "delta":
        wing_x = length * r.uniform(0.96, 1.0) - root
    elif kind == "canard":
        wing_x = length * r.uniform(0.55, 0.68)
    elif form == "swept":
        wing_x = length * r.uniform(0.14, 0.2)

    # cabin or canopy
    canopy = str(r.choice(["none", "bubble", "cabin", "open"], p=[0.15, 0.4, 0.25, 0.2]))
    if high:
        canopy = str(r.choice(["none", "open"]))
    if kind == "biplane":
        canopy = "open"
    c0 = wing_x + root * (0.15 if kind != "biplane" else 0.75)
    if kind == "delta":
        c0 = length * r.uniform(0.18, 0.28)
    elif kind == "canard":
        c0 = length * r.uniform(0.25, 0.35)
    c1 = c0 + length * r.uniform(0.13, 0.2)
    body_details: list[Stroke] = []
    top_details: list[Stroke] = []
    side_extra: list[Shape] = []
    if canopy in {"bubble", "cabin"}:
        h = length * r.uniform(0.035, 0.055)
        t = np.linspace(0, 1, 50)
        x = c0 + (c1 - c0) * t
        bump = (
            np.sin(np.pi * t**0.8) ** 0.7
            if canopy == "bubble"
            else np.interp(t, [0, 0.25, 0.7, 1], [0, 1, 0.9, 0])
        )
        line = np.array([at_up(v) for v in x])
        bulge = Polygon(np.vstack([np.c_[x, line + h * bump], np.c_[x, line - 0.2 * h][::-1]])).buffer(0)
        if coin(0.5):  # the body's own line is drawn under it: counted in or out, both are right
            side_extra.append(
                Shape(part="canopy", name="", poly=bulge.difference(body_side).buffer(0), judged=False)
            )
            doubtful["body", "side"] = bulge.buffer(span * 0.004)
            traits["canopy"] = canopy + " on a line"
        else:
            body_side = body_side.union(bulge)
            traits["canopy"] = canopy + " in the body"
        mid = np.c_[x, half_w * 0.62 * np.sin(np.pi * t) ** 0.5]
        top_details.append(Stroke(points=mirrored(mid)))
        body_details.append(Stroke(points=np.array([[x[18], line[18]], [x[18], line[18] + h * bump[18]]])))
    elif canopy == "open":
        top_details.append(Stroke(points=np.array(disc((c0 + c1) / 2, 0, half_w * 0.5, 1.2).exterior.coords)))
        if coin(0.4):
            body_details.append(
                Stroke(points=np.array([[c0, at_up(c0) * 0.98], [c0 + 0.03 * length, at_up(c0) * 0.55]]))
            )

    # spinner: flush ones belong to the body, stepped ones stand before it
    prop_x, spinner = 0.0, "none"
    spin_top = spin_side = None
    engine = kind in {"monoplane", "biplane"} and coin(0.8)
    prop_r = float(min(length * r.uniform(0.13, 0.18), semi * 0.33))
    if engine and nose == "blunt" and coin(0.6):
        spinner = "stepped"
        rad = min(plan[0, 1], zu[0]) * r.uniform(0.4, 0.65)
        ls = rad * r.uniform(1.0, 1.7)
        t = np.linspace(0, 1, 24)
        cone = np.c_[-ls * (1 - t), rad * np.sqrt(1 - (1 - t) ** 2)]
        spin_top = spin_side = Polygon(mirrored(cone))
        prop_x = -ls * 0.35
    traits["spinner"] = spinner
    prop_style = str(r.choice(["disc", "blades", "none"])) if engine else "none"
    traits["propeller"] = prop_style

    # wings
    see = str(r.choice(["painter", "painter", "painter", "see-through"]))
    traits["overlaps"] = see
    hidden = "omitted" if see == "painter" else "solid"
    hidden_lower = str(r.choice(["omitted", "dashed", "solid"]))
    section = r.uniform(0.09, 0.13)
    dihedral = np.radians(r.uniform(0, 6)) if kind != "delta" else 0.0
    rise = semi * np.tan(dihedral)

    def wing_poly(half: Points, x: float) -> Polygon:
        return Polygon(mirrored(half + (x, 0)))

    if kind == "delta":
        tip = root * float(r.choice([0.0, 0.06, 0.15]))
        back = root * r.uniform(-0.06, 0.06)
        half = np.array([[0, 0], [root + back - tip, semi], [root + back, semi], [root, 0]])
        if tip == 0:
            half = half[[0, 1, 3]]
        wing = wing_poly(half, wing_x)
        if coin(0.3) and tip > 0:
            outer = rounded(wing, tip * 0.25)
            inner = wing.intersection(shapely.box(-1e5, -semi * 0.7, 1e5, semi * 0.7))
            wing = outer.union(inner).buffer(0)
            wing = Polygon(wing.exterior)
        traits["form"] = "delta"
    else:
        half, _ = planform(r, form, semi, root)
        wing = wing_poly(half, wing_x)
    wing_strokes: list[Stroke] = []
    if coin(0.75):
        share = r.uniform(0.2, 0.3) if kind != "delta" else r.uniform(0.1, 0.16)
        inner, outer = (r.uniform(0.45, 0.6), r.uniform(0.86, 0.93)) if kind != "delta" else (0.18, 0.8)
        lines = _ailerons(wing, semi, inner, outer, share)
        wing_strokes += [Stroke(points=p, style="hinge") for p in lines]
        hinges += [("wing", "top", lines[0]), ("wing", "top", lines[3])]
    if coin(0.3):
        for y in np.linspace(0.25, 0.92, int(r.integers(4, 8))) * semi:
            a, b = edge_at(wing, y)
            wing_strokes += [
                Stroke(points=np.array([[a, s * y], [b, s * y]]), style="panel") for s in (1, -1)
            ]
    name = "upper" if kind == "biplane" else "main"
    wing_shape = Shape(part="wing", name=name, poly=wing, strokes=tuple(wing_strokes), hidden_as=hidden)

    root_le, root_te = edge_at(wing, 1e-3)
    chord = root_te - root_le
    z_low = at_down(root_le + 0.3 * chord)
    z_high = at_up(root_le + 0.3 * chord)
    gap = chord * r.uniform(0.85, 1.15)
    inc = np.radians(r.uniform(0, 2.5))
    z_wing = (
        (z_high + section * chord * 0.3) if high else z_low + (section * chord * 0.4 if coin(0.6) else up)
    )
    if kind == "delta":
        section *= 0.4
        z_wing = r.uniform(-0.3, 0.3) * down
    body_shape = Shape(part="body", name="", poly=body_top, strokes=tuple(top_details), hidden_as=hidden)
    lower_shape = None
    if kind == "biplane":
        stagger = chord * float(r.choice([0.0, 1.0, 1.0, -1.0])) * r.uniform(0.15, 0.4)
        equal = coin(0.4)
        low_semi = semi if equal else semi * r.uniform(0.72, 0.93)
        low_chord = 1.0 if equal or coin(0.5) else r.uniform(0.75, 0.9)
        low = half.copy() * (low_chord, low_semi / semi)
        low_poly = wing_poly(low, wing_x + stagger)
        lower_shape = Shape(
            part="wing", name="lower", poly=low_poly, hidden_as="solid" if see != "painter" else hidden_lower
        )
        z_wing = z_low + gap + section * chord * 0.5
        z_wing = max(z_wing, z_high + 0.25 * chord)
        traits |= {
            "stagger": round(float(stagger / chord), 2),
            "equal spans": equal,
            "lower hidden": hidden_lower,
        }

    # tail surfaces
    tail = None
    if kind in {"monoplane", "biplane", "canard"}:
        t_semi = semi * r.uniform(0.32, 0.4) if kind != "canard" else semi * r.uniform(0.3, 0.45)
        t_root = t_semi * r.uniform(0.6, 0.85)
        t_form = str(r.choice(["rectangular", "tapered", "elliptical", "tapered"]))
        th, _ = planform(r, t_form, t_semi, t_root)
        t_x = length * r.uniform(0.985, 1.03) - t_root if kind != "canard" else length * r.uniform(0.06, 0.14)
        tail = Polygon(mirrored(th + (t_x, 0)))
        strokes: list[Stroke] = []
        if coin(0.85):
            y1 = t_semi * r.uniform(0.8, 0.9)
            seg = _surface_hinge(
                tail, max(half_w * 0.5, 0.08 * t_semi), y1, r.uniform(0.35, 0.45), straight=coin(0.6)
            )
            if seg[1, 0] < edge_at(tail, y1)[1] - 0.1 * t_root:
                ends = np.array([seg[1], (edge_at(tail, y1)[1], y1)])
                for s in (1, -1):
                    strokes += [
                        Stroke(points=seg * (1, s), style="hinge"),
                        Stroke(points=ends * (1, s), style="hinge"),
                    ]
                    hinges.append(("tail", "top", seg * (1, s)))
        tops.append(
            Shape(
                part="tail",
                name="foreplane" if kind == "canard" else "main",
                poly=tail,
                strokes=tuple(strokes),
                hidden_as=hidden,
            )
        )

    # top view, lowest layer first
    if lower_shape is not None:
        tops.append(lower_shape)
    tops += [body_shape, wing_shape] if high else [wing_shape, body_shape]
    if kind == "biplane" and coin(0.3):  # a tail carried on top of the body is drawn over it
        tops.append(tops.pop(0))

    # fin and rudder
    f_h = length * r.uniform(0.11, 0.15) if kind != "delta" else length * r.uniform(0.13, 0.2)
    f_c = f_h * r.uniform(0.85, 1.25)
    rudder_c = f_c * r.uniform(0.3, 0.42)
    hangs = coin(0.5) and kind != "canard"
    post = length
    x1 = post + (rudder_c if hangs else 0.0)
    x0 = x1 - f_c
    base, top_z = at_up(x0) - 0.02 * length, at_up(post) + f_h
    rake, tip_c = r.uniform(0.15, 0.5) * f_c, r.uniform(0.35, 0.7) * f_c
    foot = at_down(post) if hangs else at_up(post) - 0.015 * length
    raw = Polygon(
        [
            (x0, base),
            (x0 + rake, top_z),
            (min(x0 + rake + tip_c, x1), top_z),
            (x1, base + 0.3 * f_h),
            (x1, foot),
        ]
        + ([(post, foot)] if hangs else [])
    )
    fin_form = str(r.choice(["square", "rounded", "oval"]))
    if fin_form == "rounded":
        keep = raw.intersection(shapely.box(-1e5, -1e5, 1e5, base + 0.35 * f_h))
        raw = Polygon(rounded(raw, 0.18 * tip_c).union(keep).buffer(0.01).exterior)
    elif fin_form == "oval":
        a = np.linspace(0, np.pi, 60)
        mid, semi_c = (x0 + x1) / 2, f_c / 2
        arch = np.c_[
            mid - semi_c * np.cos(a) + 0.12 * f_c * np.sin(a) * np.sin(a), base + (top_z - base) * np.sin(a)
        ]
        raw = Polygon(np.vstack([arch, [[x1, foot]], *([[[post, foot]]] if hangs else [])])).buffer(0)
    fin = raw.difference(body_side).buffer(0)
    if fin.geom_type != "Polygon":
        fin = max(fin.geoms, key=lambda g: g.area)
    fin = Polygon(fin.exterior)
    hinge_x = post if hangs else x1 - rudder_c
    cut = fin.intersection(LineString([(hinge_x, -1e5), (hinge_x, 1e5)]))
    fin_strokes: list[Stroke] = []
    if coin(0.85) and not cut.is_empty:
        seg = np.array([[hinge_x, cut.bounds[1]], [hinge_x, cut.bounds[3]]])
        fin_strokes.append(Stroke(points=seg, style="hinge"))
        hinges.append(("fin", "side", seg))
    flows = coin(0.3)  # no line drawn where the fin meets the body
    seam = fin.buffer(span * 1e-3).intersection(body_side.buffer(span * 1e-3)) if flows else Polygon()
    if hangs:  # the rudder post itself is always drawn: it is the hinge
        seam = seam.difference(shapely.box(post - span * 2e-3, -1e5, 1e5, 1e5))
    if coin(0.7):  # seen from above, the fin is a sliver; behind the body it may be counted in or out
        thick = f_c * r.uniform(0.05, 0.08)
        sliver = shapely.box(x0, -thick / 2, x1, thick / 2)
        tops.append(Shape(part="fin", name="", poly=sliver, opaque=see == "painter", judged=False))
        behind = shapely.box(length - span * 0.006, -1.5 * thick, x1 + span * 0.01, 1.5 * thick)
        if hangs:
            doubtful["body", "top"] = behind
    traits |= {"fin": fin_form, "rudder": "hangs" if hangs else "on top", "fin root drawn": not flows}

    # gear
    gear = str(r.choice(["none", "two wheels", "two wheels"])) if kind != "delta" else "none"
    if kind == "biplane":
        gear = "two wheels"
    traits["gear"] = gear
    wheel = length * r.uniform(0.028, 0.045)
    gx = wing_x + 0.1 * chord if kind != "canard" else wing_x + 0.3 * chord
    gz = min(at_down(gx), z_low if high else z_wing) - wheel * r.uniform(1.8, 2.8)
    leg = wheel * 0.28
    if prop_style != "none" and gear != "none":
        gz = min(gz, -prop_r * 1.0)

    # side view, lowest layer first
    if prop_style == "disc":
        sides.append(
            Shape(
                part="propeller",
                name="",
                poly=bar((prop_x, -prop_r), (prop_x, prop_r), span * 0.004),
                judged=False,
            )
        )
    elif prop_style == "blades":
        blade = disc(prop_x, 0, prop_r, 0.07)
        sides.append(Shape(part="propeller", name="", poly=blade, judged=False))
        tops.insert(0, Shape(part="propeller", name="", poly=blade, judged=False))
    if spin_side is not None and spin_top is not None:
        sides.append(Shape(part="spinner", name="", poly=spin_side, judged=False))
        tops.insert(0, Shape(part="spinner", name="", poly=spin_top, judged=False))
    if gear != "none":
        foot = (gx + chord * 0.06, gz)
        sides += [
            Shape(part="strut", name="gear", poly=bar((gx + dx, at_down(gx) + leg), foot, leg), judged=False)
            for dx in (0.0, chord * 0.18)
        ]
    sides.append(Shape(part="fin", name="", poly=fin, strokes=tuple(fin_strokes), left_out=seam))
    if coin(0.25):
        body_details += [
            Stroke(points=np.array([[x, at_down(x)], [x, at_up(x)]]), style="panel")
            for x in np.linspace(0.12, 0.88, int(r.integers(4, 8))) * length
        ]
    sides.append(
        Shape(
            part="body", name="", poly=body_side, strokes=tuple(body_details), hidden_as=hidden, left_out=seam
        )
    )
    sides += side_extra
    over = coin(0.7)  # is the section drawn over the body, hiding it?
    sec = aerofoil(root_le, chord, z_wing, section, inc)
    if kind == "biplane":
        low_le, low_te = edge_at(lower_shape.poly, 1e-3)
        zl_wing = z_low + section * (low_te - low_le) * 0.2
        sec_low = aerofoil(low_le, low_te - low_le, zl_wing, section, inc)
        sides.append(Shape(part="wing", name="lower", poly=sec_low, opaque=over))
        for share in (0.18, 0.62):
            p = (low_le + share * (low_te - low_le), zl_wing)
            q = (root_le + share * chord, z_wing)
            sides.append(Shape(part="strut", name="interplane", poly=bar(p, q, chord * 0.035), judged=False))
    sides.append(Shape(part="wing", name=name, poly=sec, opaque=over))
    if tail is not None:
        a, b = edge_at(tail, 1e-3)
        zt = at_up(0.97 * length) + (f_h * r.uniform(0.0, 0.25) if coin(0.4) else 0.0)
        if kind == "canard":
            zt = (at_up((a + b) / 2) + at_down((a + b) / 2)) / 2
        sides.append(Shape(part="tail", name="main", poly=aerofoil(a, b - a, zt, 0.06), opaque=over))
    else:
        zt = 0.0
    if gear != "none":
        sides.append(Shape(part="wheel", name="", poly=disc(gx + chord * 0.06, gz, wheel), judged=False))
        sides.append(
            Shape(part="wheel", name="hub", poly=disc(gx + chord * 0.06, gz, wheel * 0.3), judged=False)
        )

    # front view, from behind forward
    fronts.append(
        Shape(part="fin", name="", poly=bar((0, at_up(0.9 * length)), (0, fin.bounds[3]), f_c * 0.07))
    )
    if tail is not None:
        fronts.append(Shape(part="tail", name="main", poly=_slab(tail.bounds[3], zt, 0.07 * (b - a), 0.0)))
    height = (float(np.max(zu)) - float(np.min(zl))) / 2
    middle = (float(np.max(zu)) + float(np.min(zl))) / 2
    if style == "straight":
        cross = rounded(shapely.box(-half_w, middle - height, half_w, middle + height), 0.25 * half_w)
    else:
        cross = Polygon([(x * half_w, y * height + middle) for x, y in disc(0, 0, 1.0).exterior.coords])
    slab = Shape(part="wing", name=name, poly=_slab(semi, z_wing, section * chord, rise))
    body_front = Shape(part="body", name="", poly=cross)
    if kind == "biplane":
        low_slab = _slab(low_semi, zl_wing, section * (low_te - low_le), low_semi * np.tan(dihedral))
        fronts.append(Shape(part="wing", name="lower", poly=low_slab))
        for s in (1, -1):
            y = s * low_semi * 0.68
            lift_at = abs(y) * np.tan(dihedral)
            fronts.append(
                Shape(
                    part="strut",
                    name="interplane",
                    poly=bar((y, zl_wing + lift_at), (y, z_wing + lift_at), chord * 0.035),
                    judged=False,
                )
            )
            fronts.append(
                Shape(
                    part="strut",
                    name="cabane",
                    poly=bar((s * half_w * 0.6, middle), (s * half_w * 0.9, z_wing), chord * 0.03),
                    judged=False,
                )
            )
    if gear != "none":
        for s in (1, -1):
            track = s * semi * 0.2
            fronts.append(
                Shape(
                    part="strut",
                    name="gear",
                    poly=bar((s * half_w * 0.5, middle - height * 0.6), (track, gz), leg),
                    judged=False,
                )
            )
            tyre = rounded(
                shapely.box(track - wheel * 0.3, gz - wheel, track + wheel * 0.3, gz + wheel), wheel * 0.2
            )
            fronts.append(Shape(part="wheel", name="", poly=tyre, judged=False))
    fronts += [body_front, slab] if high and kind != "biplane" else [slab, body_front]
    if canopy in {"bubble", "cabin"}:
        hump = disc(0, middle + height, half_w * 0.6).intersection(
            shapely.box(-1e4, middle + height * 0.7, 1e4, 1e4)
        )
        fronts.insert(len(fronts) - 1, Shape(part="canopy", name="", poly=hump, judged=False))
    if spin_side is not None:
        fronts.append(Shape(part="spinner", name="", poly=disc(0, 0, spin_side.bounds[3]), judged=False))
    if prop_style == "disc":
        fronts.append(Shape(part="propeller", name="", poly=disc(0, 0, prop_r), opaque=False, judged=False))
    elif prop_style == "blades":
        turn = r.uniform(0, np.pi)
        blade = shapely.affinity.rotate(disc(0, 0, prop_r, 0.09), turn, origin=(0, 0), use_radians=True)
        fronts.append(Shape(part="propeller", name="", poly=blade, judged=False))

    if see == "see-through":
        tops = [_clear(s) for s in tops]
    traits["mono"] = mono
    return Plane(
        kind=kind,
        span_mm=span,
        length_mm=float(length),
        shapes={"top": tops, "side": sides, "front": fronts},
        hinges=tuple(hinges),
        doubtful=doubtful,
        traits=traits,
    )


def _clear(s: Shape) -> Shape:
    """The same shape, hiding nothing."""
    return Shape(
        part=s.part,
        name=s.name,
        poly=s.poly,
        opaque=False,
        hidden_as=s.hidden_as,
        strokes=s.strokes,
        judged=s.judged,
    )
