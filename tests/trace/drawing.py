"""Synthetic three-view drawings of known geometry, with everything a scanner and a draughtsman can do to them.

Lengths are millimetres at the model's span. Axes: x aft from the nose, y to starboard, z up.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont
from scipy.interpolate import PchipInterpolator

Points = np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Aeroplane:
    """True outlines: part name -> closed polygon in the plane of its view."""

    kind: str
    span_mm: float
    length_mm: float
    top: dict[str, Points]
    side: dict[str, Points]
    front: dict[str, Points]
    details: dict[str, list[Points]]  # open lines inside a view: panel lines, cockpit, hinge lines
    elevator_hinge_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    image: Image.Image
    mm_per_px: float
    boxes_px: dict[str, tuple[float, float, float, float]]  # kind -> x0, y0, x1, y1 on the finished picture
    rotation_deg: float
    notes: dict[str, object] = field(default_factory=dict)


def _mirror(half: Points) -> Points:
    """Half outline from centre line to centre line (y >= 0) -> closed full outline."""
    other = half[::-1] * (1.0, -1.0)
    return np.vstack([half, other])


def _planform(rng: np.random.Generator, style: str, semi: float, root: float, le_x: float) -> Points:
    """A lifting surface's half outline, (n, 2) of (x, y), leading edge out, trailing edge back."""
    if style == "elliptic":
        t = np.linspace(0, np.pi / 2, 60)
        y = semi * np.sin(t)
        c = root * np.cos(t)
        a = rng.uniform(0.25, 0.55)
        le = le_x + a * (root - c)
        te = le + c
        return np.vstack([np.c_[le, y], np.c_[te, y][::-1]])
    taper = {
        "rectangular": 1.0,
        "tapered": rng.uniform(0.4, 0.8),
        "swept": rng.uniform(0.35, 0.8),
        "rounded": rng.uniform(0.7, 1.0),
        "centre": rng.uniform(0.5, 0.8),
    }[style]
    tip = root * taper
    sweep = {"rectangular": 0.0, "swept": semi * np.tan(np.radians(rng.uniform(12, 28)))}.get(
        style, rng.uniform(0.1, 0.9) * (root - tip)
    )
    if style == "centre":
        knee = semi * rng.uniform(0.25, 0.45)
        return np.array(
            [
                [le_x, 0],
                [le_x, knee],
                [le_x + sweep, semi],
                [le_x + sweep + tip, semi],
                [le_x + root, knee],
                [le_x + root, 0],
            ],
            float,
        )
    if style == "rounded":
        r = rng.uniform(0.5, 1.0) * tip
        ys = semi - r
        f = ys / semi
        le0, te0 = le_x + sweep * f, le_x + root + (sweep + tip - root) * f
        t = np.linspace(-np.pi / 2, np.pi / 2, 40)
        mid, hc = (le0 + te0) / 2, (te0 - le0) / 2
        arc = np.c_[mid + hc * np.sin(t), ys + r * np.cos(t)]
        return np.vstack([[le_x, 0], arc, [le_x + root, 0]])
    return np.array([[le_x, 0], [le_x + sweep, semi], [le_x + sweep + tip, semi], [le_x + root, 0]], float)


def _section(x0: float, chord: float, z: float, thick: float) -> Points:
    t = np.linspace(0, 1, 40)
    half = (
        5 * thick * chord * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1036 * t**4)
    )
    return np.vstack([np.c_[x0 + chord * t, z + half], np.c_[x0 + chord * t, z - 0.5 * half][::-1]])


def _disc(x: float, z: float, r: float) -> Points:
    t = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    return np.c_[x + r * np.cos(t), z + r * np.sin(t)]


def aeroplane(seed: int, kind: str | None = None) -> Aeroplane:
    """One aeroplane of the kind mono, bi or delta."""
    rng = np.random.default_rng(seed)
    kind = kind or str(rng.choice(["mono", "mono", "bi", "delta"]))
    span = 760.0
    semi = span / 2
    delta = kind == "delta"
    length = span * (rng.uniform(0.8, 1.3) if delta else rng.uniform(0.62, 0.92))
    half_w = span * rng.uniform(0.03, 0.065)
    top: dict[str, Points] = {}
    side: dict[str, Points] = {}
    front: dict[str, Points] = {}
    details: dict[str, list[Points]] = {"top": [], "side": [], "front": []}
    # body: half width, upper and lower lines over x
    blunt = rng.uniform(0.0, 0.6) if rng.random() < 0.6 else 0.0
    tail_w = half_w * rng.uniform(0.05, 0.4)
    if rng.random() < 0.25 and not delta:  # flat-sided body: straight taper aft
        xs = np.array([0, 0.03, 0.12, 0.4, 1.0]) * length
        bw = half_w * np.array([0.6, 0.8, 1, 1, 0.0]) + tail_w * np.array([0, 0, 0, 0, 1])
    else:
        xs = np.array([0, 0.02, 0.08, 0.22, 0.4, 0.7, 1.0]) * length
        bw = np.array([blunt, max(blunt, 0.35), max(blunt, 0.7), 0.95, 1.0, 0.62, 0]) * half_w
        bw[-1] = tail_w
    x = np.linspace(0, 1, 160) ** 1.3 * length
    b = PchipInterpolator(xs, bw)(x)
    deep = rng.uniform(1.0, 1.6)
    zt = PchipInterpolator(xs, bw)(x) * deep * rng.uniform(0.9, 1.1)
    zb = -PchipInterpolator(xs, bw)(x) * deep * rng.uniform(0.8, 1.1)
    lift = rng.uniform(0, 0.6) * half_w
    axis = np.interp(x, [0, 0.4 * length, length], [0, 0, lift])
    zt, zb = zt + axis, zb + axis
    top["body"] = _mirror(np.c_[x, b]) if b[0] > 0 else _mirror(np.vstack([[0, 0], np.c_[x, b]]))
    side["body"] = np.vstack([np.c_[x, zt], np.c_[x, zb][::-1]])
    deepest = float((zt - zb).max()) / 2
    front["body"] = _disc(0, 0, 1) * (half_w, deepest)
    # wings
    thick = rng.uniform(0.09, 0.14)
    dihedral = np.tan(np.radians(rng.uniform(0, 7)))
    wings: list[tuple[str, Points, float]] = []
    if delta:
        root = length * rng.uniform(0.6, 0.8)
        tip = root * rng.choice([0.0, rng.uniform(0.08, 0.25)])
        le_x = length * rng.uniform(0.96, 0.99) - root
        te_sweep = rng.choice([0.0, rng.uniform(-0.1, 0.05) * root])
        half = np.array(
            [
                [le_x, 0],
                [le_x + root + te_sweep - tip, semi],
                [le_x + root + te_sweep, semi],
                [le_x + root, 0],
            ]
        )
        if tip == 0.0:
            half = np.delete(half, 2, 0)
        wings.append(("wing", half, 0.0))
    else:
        style = str(rng.choice(["rectangular", "tapered", "swept", "rounded", "elliptic", "centre"]))
        root = span * rng.uniform(0.15, 0.24)
        le_x = length * rng.uniform(0.17, 0.28)
        if kind == "bi":
            style = str(rng.choice(["rectangular", "tapered", "rounded", "rounded"]))
            gap = root * rng.uniform(0.8, 1.1)
            stagger = rng.choice([-1, 1, 1]) * root * rng.uniform(0.05, 0.35)
            upper = _planform(rng, style, semi, root, le_x)
            ratio = rng.choice([1.0, rng.uniform(0.8, 0.95)])
            chord_ratio = rng.choice([1.0, rng.uniform(0.85, 1.0)])
            lower = (upper - (le_x, 0)) * (chord_ratio, ratio) + (le_x + stagger, 0)
            wings += [("lower", lower, -0.7 * deepest), ("upper", upper, -0.7 * deepest + gap)]
        else:
            z = deepest * rng.choice([-0.75, 0.0, 0.95])
            wings.append(("wing", _planform(rng, style, semi, root, le_x), z))
    for name, half, z in wings:
        key = "wing" if name == "wing" else f"wing-{name}"
        top[key] = _mirror(half)
        le0, te0 = half[0, 0], half[-1, 0]
        sec_thick = thick if not delta else 0.05
        if not delta or rng.random() < 0.5:
            side[key] = _section(le0, te0 - le0, z, sec_thick)
        ys = half[:, 1].max()
        t0 = sec_thick * (te0 - le0) * 0.6
        zz = z + dihedral * ys
        front[key] = np.array(
            [
                [0, z + t0],
                [ys, zz + 0.3 * t0],
                [ys, zz - 0.3 * t0],
                [0, z - t0],
                [-ys, zz - 0.3 * t0],
                [-ys, zz + 0.3 * t0],
            ]
        )
    # tail
    hinge = None
    if not delta:
        tstyle = str(rng.choice(["tapered", "rounded", "rectangular", "swept", "elliptic"]))
        tsemi = semi * rng.uniform(0.3, 0.42)
        troot = root * rng.uniform(0.5, 0.75)
        thalf = _planform(rng, tstyle, tsemi, troot, 0.0)
        room = length * rng.uniform(0.95, 1.0)
        thalf[:, 0] += room - troot
        tz = float(np.interp(room - troot / 2, x, axis))
        top["tail"] = _mirror(thalf)
        hinge = room - troot * 0.4
        front["tail"] = np.array([[-tsemi, tz - 2], [tsemi, tz - 2], [tsemi, tz + 2], [-tsemi, tz + 2]])
        if rng.random() < 0.6:
            w = (
                np.interp(hinge, thalf[: len(thalf) // 2, 0], thalf[: len(thalf) // 2, 1])
                if tstyle != "rectangular"
                else tsemi
            )
            details["top"] += [
                np.array([[hinge, tail_w], [hinge, 0.9 * min(w, tsemi)]]) * (1, s) for s in (1, -1)
            ]
        details["side"].append(np.array([[room - troot, tz], [room, tz]]))
    # fin
    froot = (root * rng.uniform(0.5, 0.8)) if not delta else length * rng.uniform(0.2, 0.3)
    fh = span * rng.uniform(0.10, 0.16)
    fx = length - froot
    fz = float(np.interp(fx + froot / 2, x, axis))
    if rng.random() < 0.5:
        fin = np.array([[fx, fz], [fx + 0.5 * froot, fz + fh], [fx + froot, fz + fh], [fx + froot, fz]])
    else:
        t = np.linspace(0, np.pi / 2, 30)
        fin = np.vstack(
            [
                np.c_[fx + 0.7 * froot * (1 - np.cos(t)), fz + fh * np.sin(t)],
                np.c_[fx + froot - 0.3 * froot * (1 - np.sin(t))[::-1] * 0, fz + fh * np.cos(t)[::1]],
            ]
        )
        fin[30:, 0] = fx + 0.7 * froot + 0.3 * froot * np.sin(t)
        fin = np.vstack([fin, [fx + froot, fz]])
    side["fin"] = fin
    front["fin"] = np.array([[-2.5, fz], [-2.5, fz + fh], [2.5, fz + fh], [2.5, fz]])
    # gear, struts, propeller, cockpit
    if rng.random() < 0.65:
        wr = span * rng.uniform(0.02, 0.035)
        gx, gz = length * (0.16 if not delta else 0.5), -deepest - wr * rng.uniform(0.8, 1.8)
        side["wheel"] = _disc(gx, gz, wr)
        details["side"].append(
            np.array([[gx + 0.03 * length, np.interp(gx + 0.03 * length, x, zb)], [gx, gz]])
        )
        for s in (1, -1):
            front[f"wheel{s}"] = np.array([[-0.3, -1], [0.3, -1], [0.3, 1], [-0.3, 1]]) * wr + (
                s * half_w * 1.8,
                gz,
            )
            details["front"].append(np.array([[s * half_w * 0.6, -deepest * 0.6], [s * half_w * 1.8, gz]]))
    if kind == "bi":
        zs = sorted(z for _, _, z in wings)
        for s in (1, -1):
            y = s * semi * 0.62
            details["front"].append(
                np.array([[y, zs[0] + dihedral * abs(y)], [y, zs[1] + dihedral * abs(y)]])
            )
            details["front"].append(np.array([[s * half_w * 0.5, 0], [s * half_w * 0.9, zs[1]]]))
        for f in (0.2, 0.7):
            details["side"].append(
                np.array([[wings[0][1][0, 0] + f * root, zs[0]], [wings[1][1][0, 0] + f * root, zs[1]]])
            )
            details["side"].append(
                np.array(
                    [[wings[1][1][0, 0] + f * root, deepest * 0.6], [wings[1][1][0, 0] + f * root, zs[1]]]
                )
            )
    prop = rng.random()
    pr = span * rng.uniform(0.1, 0.15)
    if not delta and prop < 0.35:
        details["side"].append(np.array([[-1.0, -pr], [-1.0, pr]]))
        details["top"].append(np.array([[-1.0, -pr], [-1.0, pr]]))
        details["front"].append(np.array([[0.0, -pr], [0.0, pr]]))
    elif not delta and prop < 0.5:
        details["front"].append(np.vstack([_disc(0, 0, pr), _disc(0, 0, pr)[:1]]))
    cx = length * rng.uniform(0.3, 0.4)
    if rng.random() < 0.6:
        details["top"].append(
            np.vstack([_disc(0, 0, 1), [[1, 0]]]) * (0.06 * length, 0.55 * half_w) + (cx, 0)
        )
        ztop = float(np.interp(cx, x, zt))
        t = np.linspace(0, np.pi, 30)
        if rng.random() < 0.5:
            side["canopy"] = np.c_[
                cx - 0.09 * length * np.cos(t), ztop - 0.15 * half_w + 0.7 * half_w * np.sin(t)
            ]
        details["side"].append(
            np.array([[cx - 0.05 * length, ztop - 0.3 * half_w], [cx + 0.05 * length, ztop - 0.3 * half_w]])
        )
    return Aeroplane(
        kind=kind,
        span_mm=span,
        length_mm=length,
        top=top,
        side=side,
        front=front,
        details=details,
        elevator_hinge_mm=hinge,
    )


# -- drawing -----------------------------------------------------------------------------------------------

CLEAN: dict[str, object] = {}


def disturbances(seed: int) -> dict[str, object]:
    """A random mix of what the scanner and the draughtsman did."""
    r = np.random.default_rng(seed + 10_000)
    some = lambda p: bool(r.random() < p)  # noqa: E731
    return {
        "rotate": float(r.uniform(-3, 3)) if some(0.5) else 0.0,
        "noise": float(r.uniform(4, 25)) if some(0.5) else 0.0,
        "grey": some(0.3),
        "yellow": some(0.3),
        "blur": float(r.uniform(0.5, 1.3)) if some(0.4) else 0.0,
        "dimensions": str(r.choice(["none", "gap", "touch", "broken"])),
        "title": some(0.5),
        "frame": some(0.35),
        "hatching": some(0.3),
        "centre_lines": some(0.5),
        "lettering": some(0.6),
        "panels": some(0.5),
        "gaps": int(r.integers(1, 6)) if some(0.4) else 0,
        "crossing": int(r.integers(1, 4)) if some(0.4) else 0,
        "style": str(
            r.choice(["painter", "painter", "wire", "union", "filled"], p=[0.3, 0.2, 0.3, 0.15, 0.05])
        ),
        "pen": float(r.choice([1.0, 1.5, 2, 3, 4, 6])),
        "fine": float(r.choice([0.5, 1.0])),
        "blueprint": some(0.07),
        "layout": str(r.choice(["nose-up", "nose-left", "nose-right", "column", "mixed"])),
        "px_span": float(r.uniform(480, 1100)),
        "salt": some(0.25),
    }


def draw(plane: Aeroplane, seed: int = 0, over: int = 2, **how: object) -> Drawing:
    """Draw the three views; `how` takes the keys `disturbances` returns."""
    rng = np.random.default_rng(seed + 20_000)
    get = how.get
    px = float(get("px_span", 800.0)) * over / plane.span_mm  # px per mm, oversampled
    pen = max(1, round(float(get("pen", 2.0)) * over))
    fine = max(1, round(pen * float(get("fine", 1.0))))
    style = str(get("style", "painter"))
    layout = str(get("layout", "nose-up"))
    # local picture coordinates of each view: u right, v down
    nose = {"nose-up": "up", "nose-left": "left", "nose-right": "right", "column": "left", "mixed": "up"}[
        layout
    ]
    side_nose = {
        "nose-up": "left",
        "nose-left": "left",
        "nose-right": "right",
        "column": "left",
        "mixed": "right",
    }[layout]
    maps = {
        "top": {"up": lambda p: p[:, ::-1], "left": lambda p: p * (1, -1), "right": lambda p: p * (-1, 1)}[
            nose
        ],
        "side": {"left": lambda p: p * (1, -1), "right": lambda p: p * (-1, -1)}[side_nose],
        "front": lambda p: p * (1, -1),
    }
    local, size = {}, {}
    shapes = {"top": plane.top, "side": plane.side, "front": plane.front}
    for kind, parts in shapes.items():
        # every figure, detail included, so that nothing falls off its cell
        allp = np.vstack([maps[kind](p) for p in [*parts.values(), *plane.details[kind]]]) * px
        local[kind], size[kind] = allp.min(0), np.ptp(allp, axis=0)
    gap = 0.16 * plane.span_mm * px
    margin = 0.16 * plane.span_mm * px
    t, s, f = size["top"], size["side"], size["front"]
    at: dict[str, np.ndarray] = {}
    if layout in {"nose-left", "nose-right"}:  # top above side, front beside the side view
        fx = t[0] + gap if layout == "nose-left" else 0
        off = 0 if layout == "nose-left" else f[0] + gap
        tx = local["top"][0] - local["side"][0]
        at = {
            "top": np.array([off, 0.0]),
            "side": np.array([off - tx, t[1] + gap]),
            "front": np.array([fx, t[1] + gap]),
        }
    elif layout == "column":
        at = {
            "side": np.array([0.0, 0]),
            "top": np.array([0.0, s[1] + gap]),
            "front": np.array([0.0, s[1] + t[1] + 2 * gap]),
        }
    elif layout == "mixed":
        at = {
            "top": np.array([0.0, 0]),
            "front": np.array([t[0] + gap, 0.0]),
            "side": np.array([t[0] + gap, f[1] + gap]),
        }
    else:
        at = {
            "top": np.array([0.0, 0]),
            "front": np.array([0.0, t[1] + gap]),
            "side": np.array([t[0] + gap, 0.3 * t[1]]),
        }
    low = np.min([at[k] for k in at], axis=0)
    at = {k: v - low + margin for k, v in at.items()}
    extent = np.max([at[k] + size[k] for k in at], axis=0) + margin
    if get("title"):
        extent[1] += 0.15 * plane.span_mm * px
    w, h = int(extent[0]), int(extent[1])
    im = Image.new("L", (w, h), 255)
    d = ImageDraw.Draw(im)

    def place(kind: str, p: Points) -> Points:
        return maps[kind](np.asarray(p, float)) * px - local[kind] + at[kind]

    def line(p: Points, width: int, fill: int = 0) -> None:
        q = [tuple(v) for v in p]
        d.line(q, fill=fill, width=width, joint="curve")
        r = width / 2 - 0.5
        if r > 0.6:
            for v in q:
                d.ellipse([v[0] - r, v[1] - r, v[0] + r, v[1] + r], fill=fill)

    boxes: dict[str, tuple[float, float, float, float]] = {}
    drawn: dict[str, list[Points]] = {}
    for kind, parts in shapes.items():
        drawn[kind] = [place(kind, p) for p in parts.values()]
        allp = np.vstack(drawn[kind])
        boxes[kind] = (*allp.min(0), *allp.max(0))
        order = sorted(
            parts,
            key=lambda k: {"body": 1, "wing-lower": 0, "wing-upper": 3, "tail": 0, "fin": 0, "canopy": 0}.get(
                k, 2
            ),
        )
        polys = [place(kind, parts[k]) for k in order]
        if style in {"union", "filled"}:
            import shapely

            u = shapely.unary_union([shapely.Polygon(p).buffer(0) for p in polys])
            for g in getattr(u, "geoms", [u]):
                ring = np.array(g.exterior.coords)
                if style == "filled":
                    d.polygon([tuple(v) for v in ring], fill=0)
                else:
                    line(ring, pen)
        else:
            for p in polys:
                if style == "painter":
                    d.polygon([tuple(v) for v in p], fill=255)
                line(np.vstack([p, p[:1]]), pen)
        if style != "filled":
            for p in plane.details[kind]:
                line(place(kind, p), fine)
        if get("panels") and style != "filled":
            for p in drawn[kind]:
                lo, hi = p.min(0), p.max(0)
                if min(hi - lo) < 0.05 * plane.span_mm * px:
                    continue
                import shapely

                poly = shapely.Polygon(p).buffer(0)
                for _ in range(int(rng.integers(1, 5))):
                    k = rng.uniform(0.15, 0.85)
                    x0 = lo + k * (hi - lo)
                    cut = shapely.LineString(
                        [(x0[0], lo[1] - 5), (x0[0], hi[1] + 5)]
                        if rng.random() < 0.5
                        else [(lo[0] - 5, x0[1]), (hi[0] + 5, x0[1])]
                    )
                    seg = poly.intersection(cut)
                    for g in getattr(seg, "geoms", [seg]):
                        if g.geom_type == "LineString":
                            line(np.array(g.coords), max(1, fine // 2 + 1))
        if get("hatching") and style != "filled":
            import shapely

            names = [n for n in parts if n in {"body", "wing", "wing-upper"}]
            p = place(kind, parts[str(rng.choice(names))])
            poly = shapely.Polygon(p).buffer(0)
            lo, hi = p.min(0), p.max(0)
            step = 10 * over
            reach = float(np.hypot(*(hi - lo)))
            a, bnd = rng.uniform(0.1, 0.5), rng.uniform(0.6, 0.9)
            for off in np.arange(-reach, reach, step):
                c = (lo + hi) / 2 + np.array([off, 0.0])
                cut = shapely.LineString([c - reach * np.array([0.7, 0.7]), c + reach * np.array([0.7, 0.7])])
                seg = poly.intersection(cut).intersection(
                    shapely.box(lo[0] + a * (hi[0] - lo[0]), lo[1], lo[0] + bnd * (hi[0] - lo[0]), hi[1])
                )
                for g in getattr(seg, "geoms", [seg]):
                    if g.geom_type == "LineString" and g.length > 0:
                        line(np.array(g.coords), max(1, over))
    # gaps in the outline
    for _ in range(int(get("gaps", 0) or 0)):
        kind = str(rng.choice(["top", "side", "front"]))
        p = drawn[kind][int(rng.integers(len(drawn[kind])))]
        v = p[int(rng.integers(len(p)))] * 0.5 + p[int(rng.integers(len(p)))] * 0
        i = int(rng.integers(len(p)))
        v = p[i] + rng.uniform(0.2, 0.8) * (p[(i + 1) % len(p)] - p[i])
        r = rng.uniform(1.0, 3.0) * over
        d.ellipse(
            [v[0] - r - pen / 2, v[1] - r - pen / 2, v[0] + r + pen / 2, v[1] + r + pen / 2], fill=255
        ) if style != "filled" else None
    font_px = int(0.028 * plane.span_mm * px)
    font = ImageFont.load_default(size=font_px)

    def dash(a: Points, b: Points) -> None:
        n = float(np.hypot(*(b - a)))
        u = (b - a) / n
        pos, k, pat = 0.0, 0, [18 * over, 4 * over, 4 * over, 4 * over]
        while pos < n:
            e = min(pos + pat[k % 4], n)
            if k % 2 == 0:
                line(np.array([a + u * pos, a + u * e]), max(1, fine // 2))
            pos, k = e, k + 1

    if get("centre_lines"):
        x0, y0, x1, y1 = boxes["top"]
        ext = 0.03 * plane.span_mm * px
        c = place("top", np.array([[0.0, 0.0]]))[0]
        if nose == "up":
            dash(np.array([c[0], y0 - ext]), np.array([c[0], y1 + ext]))
        else:
            dash(np.array([x0 - ext, c[1]]), np.array([x1 + ext, c[1]]))
        x0, y0, x1, y1 = boxes["front"]
        c = place("front", np.array([[0.0, 0.0]]))[0]
        dash(np.array([c[0], y0 - ext]), np.array([c[0], y1 + ext]))
        x0, y0, x1, y1 = boxes["side"]
        c = place("side", np.array([[0.0, 0.0]]))[0]
        dash(np.array([x0 - ext, c[1]]), np.array([x1 + ext, c[1]]))
    dims = str(get("dimensions", "none"))
    if dims != "none":
        fineline = max(1, min(fine, 2 * over))

        def dim(p: Points, q: Points, off: Points, words: str) -> None:
            u = off / np.hypot(*off)
            start = (6 * over + pen / 2) * u if dims != "touch" else 0 * u
            a, b = p + off, q + off
            for m, e in ((p, a), (q, b)):
                line(np.array([m + start, e + 4 * over * u]), fineline)
            along = (q - p) / np.hypot(*(q - p))
            for e, sgn in ((a, 1), (b, -1)):
                nrm = np.array([-along[1], along[0]])
                tip = [
                    e,
                    e + sgn * along * 9 * over + nrm * 3 * over,
                    e + sgn * along * 9 * over - nrm * 3 * over,
                ]
                d.polygon([tuple(v) for v in tip], fill=0)
            mid = (a + b) / 2
            half = np.hypot(*(b - a)) / 2
            g = font_px * 1.6 if dims == "broken" else 0
            if g:
                line(np.array([a, a + along * (half - g)]), fineline)
                line(np.array([b, b - along * (half - g)]), fineline)
                d.text(tuple(mid), words, fill=0, font=font, anchor="mm")
            else:
                line(np.array([a, b]), fineline)
                d.text(tuple(mid - (0, font_px * 0.75)), words, fill=0, font=font, anchor="mm")

        reach = 0.07 * plane.span_mm * px
        wing = max((p for k, p in plane.top.items() if k.startswith("wing")), key=lambda p: np.ptp(p[:, 1]))
        i = int(wing[:, 1].argmax())
        p, q = place("top", wing[[i]])[0], place("top", wing[[i]] * (1, -1))[0]
        x0, y0, x1, y1 = boxes["top"]
        if nose == "up":
            dim(p, q, np.array([0, y0 - reach - p[1]]), "760")
        else:
            dim(
                p,
                q,
                np.array([x0 - reach - p[0], 0]) if nose == "left" else np.array([x1 + reach - p[0], 0]),
                "760",
            )
        b = place("side", np.array([[0.0, 0.0], [plane.length_mm, 0.0]]))
        x0, y0, x1, y1 = boxes["side"]
        ends = plane.side["body"]
        b = place("side", ends[[int(ends[:, 0].argmin()), int(ends[:, 0].argmax())]])
        b[1, 1] = b[0, 1]
        dim(b[0], b[1], np.array([0, y1 + reach - b[0, 1]]), f"{plane.length_mm:.0f}")
    if get("lettering"):
        for kind, words in (("top", "PLAN"), ("side", "SIDE ELEVATION"), ("front", "FRONT")):
            x0, y0, x1, y1 = boxes[kind]
            d.text(
                (
                    (x0 + x1) / 2,
                    y1 + 0.03 * plane.span_mm * px if dims == "none" else y1 + 0.10 * plane.span_mm * px,
                ),
                words,
                fill=0,
                font=font,
                anchor="mm",
            )
    if get("title"):
        tw, th = 0.45 * plane.span_mm * px, 0.12 * plane.span_mm * px
        x0, y0 = w - tw - 12 * over, h - th - 12 * over
        d.rectangle([x0, y0, x0 + tw, y0 + th], outline=0, width=fine)
        d.line([x0, y0 + th / 2, x0 + tw, y0 + th / 2], fill=0, width=fine)
        d.line([x0 + tw * 0.6, y0 + th / 2, x0 + tw * 0.6, y0 + th], fill=0, width=fine)
        d.text((x0 + tw / 2, y0 + th / 4), "THREE VIEW DRAWING", fill=0, font=font, anchor="mm")
        d.text((x0 + tw * 0.3, y0 + th * 0.75), "SCALE 1:1", fill=0, font=font, anchor="mm")
    if get("frame"):
        m = 5 * over
        d.rectangle([m, m, w - m, h - m], outline=0, width=fine)
    for _ in range(int(get("crossing", 0) or 0)):
        kind = str(rng.choice(["top", "side"]))
        x0, y0, x1, y1 = boxes[kind]
        pad = 0.03 * plane.span_mm * px
        a = np.array([x0 - pad, rng.uniform(y0, y1)])
        e = np.array([x1 + pad, rng.uniform(y0, y1)])
        line(np.array([a, e]), max(1, min(fine, over)))
    im = im.resize((w // over, h // over), Image.Resampling.LANCZOS)
    boxes = {k: tuple(v / over for v in b) for k, b in boxes.items()}  # type: ignore[misc]
    rot = float(get("rotate", 0.0) or 0.0)
    if rot:
        im = im.rotate(rot, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)
        c, s_ = np.cos(np.radians(rot)), np.sin(np.radians(rot))
        m = np.array([[c, s_], [-s_, c]])
        old_c, new_c = np.array([w // over, h // over]) / 2, np.array(im.size) / 2
        for k, (x0, y0, x1, y1) in boxes.items():
            cc = m @ (np.array([(x0 + x1) / 2, (y0 + y1) / 2]) - old_c) + new_c
            hw, hh = (x1 - x0) / 2, (y1 - y0) / 2
            boxes[k] = (cc[0] - hw, cc[1] - hh, cc[0] + hw, cc[1] + hh)
    if get("blur"):
        im = im.filter(ImageFilter.GaussianBlur(float(get("blur"))))  # type: ignore[arg-type]
    a = np.asarray(im, float)
    if get("blueprint"):
        a = 255 - a
        a = 40 + a * 0.8
    if get("grey"):
        yy, xx = np.mgrid[0 : a.shape[0], 0 : a.shape[1]]
        shade = 0.78 - 0.22 * (xx / a.shape[1]) + 0.1 * np.sin(yy / a.shape[0] * 3)
        a = a * shade + 20
    if get("noise"):
        a = a + rng.normal(0, float(get("noise")), a.shape)  # type: ignore[arg-type]
    if get("salt"):
        m2 = rng.random(a.shape)
        a[m2 < 0.0008] = 30
        a[m2 > 0.9992] = 250
    a = np.clip(a, 0, 255).astype(np.uint8)
    out = Image.fromarray(a)
    if get("yellow"):
        rgb = np.stack([a * 0.98, a * 0.92, a * 0.72], -1).astype(np.uint8)
        out = Image.fromarray(rgb)
    return Drawing(image=out, mm_per_px=over / px, boxes_px=boxes, rotation_deg=rot, notes=dict(how))
