"""A second draughtsman: three-views of known geometry as vector pages, rendered and then worn like scans.

Independent of `drawing.py`: other shapes, other layouts, other habits. Millimetres at the model's span;
x aft from the nose, y to starboard, z up from the nose's middle.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image, ImageFilter
from reportlab.pdfgen import canvas
from scipy.interpolate import PchipInterpolator

Points = np.ndarray
SPAN = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One closed shape of a view, lowest layer first; `part` is the truth's name or a detail's."""

    part: str
    points: Points
    layer: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    kind: str  # mono, bi, delta
    span_mm: float
    length_mm: float
    figures: dict[str, list[Figure]]
    lines: dict[str, list[Points]]  # details inside the outline
    gear: dict[str, list[Points]]  # struts, wires: may stand outside it
    truth: dict[tuple[str, str], Points]  # (part, view) -> closed outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    image: Image.Image
    mm_per_px: float
    centres_px: dict[str, tuple[float, float]]
    how: dict[str, object] = field(default_factory=dict)


def whole(half: Points) -> Points:
    return np.vstack([half, half[::-1] * (1.0, -1.0)])


def _arc(n: int = 40) -> Points:
    return np.linspace(0.0, np.pi / 2, n)


def _panel(r: np.random.Generator, semi: float, root: float, kind: str) -> Points:
    """Half planform from (0, 0) out and back to (root, 0)."""
    if kind == "plank":
        return np.array([[0, 0], [0, semi], [root, semi], [root, 0.0]])
    if kind == "plank-round":
        c = r.uniform(0.12, 0.4) * root
        t = _arc(20)
        front = np.c_[c - c * np.sin(t)[::-1] * 1.0, semi - c + c * np.cos(t)[::-1]]
        front = np.c_[c * (1 - np.cos(t)), semi - c + c * np.sin(t)]
        back = np.c_[root - c + c * np.sin(t), semi - c + c * np.cos(t)]
        return np.vstack([[0, 0], front, back, [root, 0]])
    if kind == "taper":
        tip = root * r.uniform(0.4, 0.85)
        lead = (root - tip) * r.uniform(0.0, 1.0)
        return np.array([[0, 0], [lead, semi], [lead + tip, semi], [root, 0.0]])
    if kind == "taper-round":
        tip = root * r.uniform(0.5, 0.8)
        lead = (root - tip) * r.uniform(0.2, 0.8)
        long_ = r.uniform(0.25, 0.6) * tip
        y0 = semi - long_
        f = y0 / semi
        a, b = lead * f, root + (lead + tip - root) * f
        t = np.linspace(0, np.pi, 50)
        p = r.uniform(0.7, 1.0)
        arc = np.c_[0.5 * (a + b) - 0.5 * (b - a) * np.cos(t), y0 + long_ * np.abs(np.sin(t)) ** p]
        return np.vstack([[0, 0], arc, [root, 0]])
    if kind == "ellipse":
        t = _arc(50)
        share = r.uniform(0.3, 0.5)
        c = root * np.cos(t)
        lead = share * (root - c)
        return np.vstack([np.c_[lead, semi * np.sin(t)], np.c_[lead + c, semi * np.sin(t)][::-1]])
    if kind == "swept":
        tip = root * r.uniform(0.4, 0.8)
        lead = semi * np.tan(np.radians(r.uniform(10, 26)))
        return np.array([[0, 0], [lead, semi], [lead + tip, semi], [root, 0.0]])
    knee = semi * r.uniform(0.3, 0.5)  # crank
    tip = root * r.uniform(0.45, 0.7)
    lead = (root - tip) * r.uniform(0.2, 0.8)
    return np.array([[0, 0], [0, knee], [lead, semi], [lead + tip, semi], [root, knee], [root, 0.0]])


def _oval(x: float, z: float, a: float, b: float) -> Points:
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    return np.c_[x + a * np.cos(t), z + b * np.sin(t)]


def _aerofoil(x: float, chord: float, z: float, thick: float) -> Points:
    t = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, 30))
    y = 5 * thick * chord * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1015 * t**4)
    return np.vstack([np.c_[x + chord * t, z + y], np.c_[x + chord * t, z - 0.6 * y][::-1]])


def model(seed: int, kind: str = "mono", *, plain: bool = False) -> Model:
    """One aeroplane; `plain` leaves out everything but wing, tail, body and fin."""
    r = np.random.default_rng(7_000 + seed)
    semi = SPAN / 2
    delta = kind == "delta"
    length = SPAN * (r.uniform(0.85, 1.25) if delta else r.uniform(0.6, 0.95))
    wide = SPAN * r.uniform(0.028, 0.062)
    figs: dict[str, list[Figure]] = {"top": [], "side": [], "front": []}
    lines: dict[str, list[Points]] = {"top": [], "side": [], "front": []}
    gear: dict[str, list[Points]] = {"top": [], "side": [], "front": []}
    truth: dict[tuple[str, str], Points] = {}
    # body
    shape = str(r.choice(["spindle", "slab", "cowl"]))
    f = np.linspace(0, 1, 140) ** 1.25
    end = r.uniform(0.06, 0.35)
    if shape == "spindle":
        k = np.array([0, 0.015, 0.06, 0.16, 0.36, 0.7, 1.0])
        v = np.array([0.0, 0.3, 0.58, 0.86, 1.0, 0.58, end])
        w = PchipInterpolator(k, v)(f)
        w[1:8] = np.maximum(w[1:8], 0.9 * np.sqrt(f[1:8] / f[8]) * w[8])
    elif shape == "slab":
        w = np.interp(f, [0, 0.12, 0.45, 1], [r.uniform(0.6, 0.8), 1, 1, end])
    else:
        w = PchipInterpolator([0, 0.02, 0.13, 0.4, 0.75, 1], [0.78, 0.95, 1.0, 1.0, 0.55, end])(f)
    x = f * length
    b = wide * w
    deep = wide * r.uniform(1.1, 1.7)
    up = deep * w * r.uniform(0.9, 1.05)
    down = -deep * w * r.uniform(0.8, 1.0)
    rise = PchipInterpolator([0, 0.35 * length, length], [0, 0, r.uniform(0, 0.55) * deep])(x)
    up, down = up + rise, down + rise
    z_nose = 0.5 * (up[0] + down[0])
    up, down = up - z_nose, down - z_nose
    humped = (not plain) and r.random() < 0.35 and not delta
    if humped:  # a cabin or canopy that is the body's own line
        c0, c1 = r.uniform(0.2, 0.26) * length, r.uniform(0.46, 0.55) * length
        s = np.clip((x - c0) / (c1 - c0), 0, 1)
        up = up + 0.6 * deep * np.where(s < 0.25, s / 0.25, (1 - s) / 0.75) ** 1.0
    body_top = whole(np.vstack([[0, 0], np.c_[x, b]]) if b[0] > 0 else np.c_[x, b])
    body_side = np.vstack([np.c_[x, up], np.c_[x, down][::-1]])
    truth["body", "top"], truth["body", "side"] = body_top, body_side
    # wings
    tilt = np.tan(np.radians(r.uniform(0, 6)))
    placed: list[tuple[str, Points, float, float]] = []
    if delta:
        root = length * r.uniform(0.55, 0.78)
        x0 = length * r.uniform(0.97, 1.0) - root
        tip = root * (0.0 if r.random() < 0.4 else r.uniform(0.06, 0.2))
        aft = root * (0.0 if r.random() < 0.5 else r.uniform(-0.12, 0.04))
        half = np.array([[0, 0], [root + aft - tip, semi], [root + aft, semi], [root, 0.0]])
        if r.random() < 0.3:  # double delta
            y1 = semi * r.uniform(0.3, 0.45)
            half = np.insert(half, 1, [0.62 * (root + aft - tip), y1], axis=0)
        if tip == 0.0:
            half = np.delete(half, -2, 0)
        half[:, 0] += x0
        placed.append(("wing", half, 0.0, 0.045))
    else:
        root = SPAN * r.uniform(0.14, 0.22)
        x0 = length * r.uniform(0.18, 0.3)
        kinds = ["plank", "plank-round", "taper", "taper-round", "ellipse", "swept", "crank"]
        if kind == "bi":
            form = str(r.choice(["plank", "plank-round", "taper-round", "taper"]))
            upper = _panel(r, semi, root, form) + (x0, 0)
            gap = root * r.uniform(0.85, 1.15)
            stagger = float(r.choice([-1.0, 1.0])) * root * r.uniform(0.1, 0.35)
            small = 1.0 if r.random() < 0.5 else r.uniform(0.82, 0.96)
            chord = 1.0 if r.random() < 0.6 else r.uniform(0.85, 0.98)
            lower = (upper - (x0, 0)) * (chord, small) + (x0 + stagger, 0)
            placed.append(("lower", lower, -0.6 * deep, 0.1))
            placed.append(("upper", upper, -0.6 * deep + gap, 0.1))
        else:
            place = str(r.choice(["low", "mid", "high"]))
            z = {"low": -0.75, "mid": 0.0, "high": 1.0}[place] * deep
            placed.append(("wing", _panel(r, semi, root, str(r.choice(kinds))) + (x0, 0), z, 0.11))
    for name, half, z, thick in placed:
        above = name == "upper" or z > 0.5 * deep
        label = "wing" if name == "wing" else f"{name}-wing"
        figs["top"].append(Figure(part=label, points=whole(half), layer=4 if above else 1))
        truth[label, "top"] = whole(half)
        c = half[-1, 0] - half[0, 0]
        if not delta or r.random() < 0.4:
            figs["side"].append(Figure(part="section", points=_aerofoil(half[0, 0], c, z, thick), layer=3))
        y = float(half[:, 1].max())
        h0 = max(0.5 * thick * c, 4.0)
        h1 = 0.35 * h0
        dz = tilt * y
        figs["front"].append(
            Figure(
                part=label,
                points=np.array(
                    [
                        [0, z + h0],
                        [y, z + dz + h1],
                        [y, z + dz - h1],
                        [0, z - h0],
                        [-y, z + dz - h1],
                        [-y, z + dz + h1],
                    ]
                ),
                layer=4 if above else 1,
            )
        )
        if not plain and r.random() < 0.5 and not delta:  # aileron hinges and ribs' ends
            ya, yb = 0.5 * y, 0.92 * y
            for s in (1, -1):
                hinge = [
                    [np.interp(q, half[: len(half) // 2, 1], half[: len(half) // 2, 0]) + 0.72 * 0.8 * c, q]
                    for q in (ya, yb)
                ]
                lines["top"].append(np.array(hinge) * (1, s))
    figs["top"].append(Figure(part="body", points=body_top, layer=2))
    figs["side"].append(Figure(part="body", points=body_side, layer=2))
    figs["front"].append(Figure(part="body", points=_oval(0, 0.1 * deep, wide, deep), layer=2))
    # tail and fin
    if not delta:
        tr = root * r.uniform(0.5, 0.72)
        ts = semi * r.uniform(0.3, 0.44)
        half = _panel(
            r, ts, tr, str(r.choice(["plank", "plank-round", "taper", "taper-round", "ellipse", "swept"]))
        )
        half[:, 0] += length * r.uniform(0.96, 1.0) - tr
        figs["top"].append(Figure(part="tail", points=whole(half), layer=3 if r.random() < 0.7 else 1))
        truth["tail", "top"] = whole(half)
        zt = float(np.interp(half[0, 0] + 0.5 * tr, x, 0.5 * (up + down)))
        figs["side"].append(
            Figure(part="tail", points=_aerofoil(half[0, 0], half[-1, 0] - half[0, 0], zt, 0.05), layer=3)
        )
        figs["front"].append(
            Figure(
                part="tail",
                points=np.array([[-ts, zt - 3], [ts, zt - 3], [ts, zt + 3], [-ts, zt + 3.0]]),
                layer=0,
            )
        )
        if not plain and r.random() < 0.5:
            xh = half[0, 0] + 0.62 * tr
            inside = half[(half[:, 0] < xh + 0.4 * tr)]
            yy = 0.8 * float(inside[:, 1].max())
            for s in (1, -1):
                lines["top"].append(np.array([[xh, s * 0.2 * wide], [xh, s * yy]]))
    fr = length * r.uniform(0.16, 0.26)
    fh = SPAN * r.uniform(0.09, 0.15)
    fx = length - fr
    foot = np.interp([fx, length], x, up) - 0.15 * deep * np.interp([fx, length], x, w)
    if r.random() < 0.5:
        tip = r.uniform(0.35, 0.7) * fr
        lean = r.uniform(0.0, 0.08) * fr
        fin = np.array(
            [
                [fx, foot[0]],
                [length - tip - lean, foot[0] + fh],
                [length - lean, foot[0] + fh],
                [length, foot[1]],
            ]
        )
    else:
        t = _arc(30)
        z1 = foot[0] + fh
        fin = np.vstack(
            [
                [fx, foot[0]],
                np.c_[fx + fr * (0.15 + 0.45 * (1 - np.cos(t))), foot[0] + fh * np.sin(t)],
                np.c_[fx + fr * (0.6 + 0.4 * np.sin(t)), foot[1] + (z1 - foot[1]) * np.cos(t)],
            ]
        )
    figs["side"].append(Figure(part="fin", points=fin, layer=1))
    truth["fin", "side"] = fin
    figs["front"].append(
        Figure(
            part="fin",
            points=np.array([[-3, foot[0]], [-3, foot[0] + fh], [3, foot[0] + fh], [3, foot[0]]]),
            layer=0,
        )
    )
    if not plain:
        if r.random() < 0.6:
            lines["side"].append(
                np.array([[fx + 0.6 * fr, foot[0] + 0.1 * fh], [fx + 0.62 * fr, foot[0] + 0.9 * fh]])
            )
        # undercarriage
        if r.random() < 0.6:
            wheel = SPAN * r.uniform(0.018, 0.032)
            gx = length * (0.14 if not delta else 0.5)
            gz = float(np.interp(gx, x, down)) - wheel * r.uniform(1.3, 2.4)
            figs["side"].append(Figure(part="wheel", points=_oval(gx, gz, wheel, wheel), layer=5))
            if r.random() < 0.5:
                figs["side"].append(
                    Figure(part="hub", points=_oval(gx, gz, 0.4 * wheel, 0.4 * wheel), layer=6)
                )
            for o in (0.0, 0.06 * length):
                gear["side"].append(np.array([[gx + o, np.interp(gx + o, x, down)], [gx, gz]]))
            for s in (1, -1):
                box = np.array([[-0.3, -1], [0.3, -1], [0.3, 1], [-0.3, 1]]) * wheel + (s * 2.2 * wide, gz)
                figs["front"].append(Figure(part="wheel", points=box, layer=5))
                gear["front"].append(np.array([[s * 0.6 * wide, -0.6 * deep], [s * 2.2 * wide, gz]]))
        # propeller
        pr = SPAN * r.uniform(0.09, 0.14)
        how = r.random()
        if not delta and how < 0.3:
            sp = 0.35 * wide if shape != "spindle" else 0.0  # a pointed nose has no spinner ahead of it
            for v in ("side", "top"):
                figs[v].append(
                    Figure(part="blade", points=_oval(-0.006 * SPAN, 0, 0.004 * SPAN, pr), layer=0)
                )
            t = np.linspace(-np.pi / 2, np.pi / 2, 20)
            cone = np.c_[-0.025 * SPAN * np.cos(t), sp * np.sin(t)]
            for v in ("side", "top") if sp else ():
                figs[v].append(Figure(part="spinner", points=cone, layer=0))
            lines["front"].append(np.array([[0.0, -pr], [0.0, pr]]))
        elif not delta and how < 0.5:
            for v in ("side", "top"):
                gear[v].append(np.array([[-2.0, -pr], [-2.0, pr]]))
            gear["front"].append(np.vstack([_oval(0, 0, pr, pr), [[pr, 0]]]))
        # glass, cowl ring, panels
        cx = length * r.uniform(0.3, 0.42)
        if r.random() < 0.6:
            o = _oval(cx, 0, 0.05 * length, 0.5 * wide)
            lines["top"].append(np.vstack([o, o[:1]]))
        if shape == "cowl":
            q = 0.13 * length
            lines["top"].append(np.array([[q, -np.interp(q, x, b)], [q, np.interp(q, x, b)]]))
            lines["side"].append(np.array([[q, np.interp(q, x, down)], [q, np.interp(q, x, up)]]))
        for _ in range(int(r.integers(0, 4))):
            q = length * r.uniform(0.2, 0.9)
            v = str(r.choice(["top", "side"]))
            lo, hi = (
                (-np.interp(q, x, b), np.interp(q, x, b))
                if v == "top"
                else (np.interp(q, x, down), np.interp(q, x, up))
            )
            lines[v].append(np.array([[q, lo], [q, hi]]))
        if r.random() < 0.5:
            z0 = float(np.interp(cx, x, 0.5 * (up + down))) + 0.25 * deep
            for k in range(int(r.integers(1, 4))):
                u = cx + k * 0.055 * length
                win = np.array(
                    [
                        [u, z0],
                        [u + 0.04 * length, z0],
                        [u + 0.04 * length, z0 + 0.35 * deep],
                        [u, z0 + 0.35 * deep],
                    ]
                )
                lines["side"].append(np.vstack([win, win[:1]]))
    if kind == "bi":
        (_, lo_h, zl, _), (_, up_h, zu, _) = placed
        y = 0.6 * float(lo_h[:, 1].max())
        for s in (1, -1):
            gear["front"].append(np.array([[s * y, zl + tilt * y], [s * y, zu + tilt * y]]))
            gear["front"].append(np.array([[s * 0.5 * wide, 0.5 * deep], [s * 1.0 * wide, zu]]))
            if not plain:
                gear["front"].append(np.array([[s * 1.0 * wide, zu], [s * y, zl + tilt * y]]))
        for q in (0.2, 0.7):
            gear["side"].append(np.array([[lo_h[0, 0] + q * root, zl], [up_h[0, 0] + q * root, zu]]))
            gear["side"].append(
                np.array(
                    [
                        [up_h[0, 0] + q * root, float(np.interp(up_h[0, 0] + q * root, x, up))],
                        [up_h[0, 0] + q * root, zu],
                    ]
                )
            )
    return Model(kind=kind, span_mm=SPAN, length_mm=length, figures=figs, lines=lines, gear=gear, truth=truth)


NOSES = {
    "up": ((0, 1), (1, 0)),
    "down": ((0, -1), (-1, 0)),
    "left": ((1, 0), (0, -1)),
    "right": ((-1, 0), (0, 1)),
}


def habits(seed: int, level: str) -> dict[str, object]:
    """How the page is drawn and worn: level clean, mild or heavy."""
    r = np.random.default_rng(91_000 + seed)
    some = lambda p: bool(r.random() < p)  # noqa: E731
    k = {"clean": 0, "mild": 1, "heavy": 2}[level]
    width = float(r.choice([700, 1000, 1400, 2000, 3000], p=[0.12, 0.25, 0.3, 0.2, 0.13]))
    return {
        "width_px": width,
        "pen": max(1.2, width / 1000 * float(r.choice([1.0, 1.6, 2.5, 3.5]))),
        "fine": float(r.choice([0.5, 0.7, 1.0])),
        "style": str(
            r.choice(["layered", "through", "single", "open", "shaded"], p=[0.32, 0.26, 0.26, 0.1, 0.06])
        ),
        "layout": str(r.choice(["ell", "ell-2", "ell-3", "ell-4", "column", "column-2", "row", "loose"])),
        "nose": str(r.choice(["up", "down", "left", "right"])),
        "side_nose": str(r.choice(["left", "right"])),
        "gap": float(r.uniform(0.05, 0.22)),
        "rotate": float(r.uniform(-3, 3)) if k and some(0.5) else 0.0,
        "title": bool(k) and some(0.5),
        "frame": bool(k) and some(0.4),
        "dims": int(k and some(0.6)) * (1 + int(k == 2)),
        "centre": bool(k) and some(0.5),
        "words": bool(k) and some(0.6),
        "hatch": k == 2 and some(0.35),
        "section_marks": k == 2 and some(0.3),
        "leaders": int(r.integers(1, 4)) if k == 2 and some(0.4) else 0,
        "gaps": int(r.integers(1, 5)) if k == 2 and some(0.4) else 0,
        "scratches": int(r.integers(1, 3)) if k == 2 and some(0.4) else 0,
        "dust": k == 2 and some(0.4),
        "noise": float(r.uniform(2, 8))
        if k == 1 and some(0.5)
        else float(r.uniform(5, 20))
        if k == 2 and some(0.6)
        else 0.0,
        "blur": float(r.uniform(0.4, 0.8)) if k and some(0.4) else 0.0,
        "shade": bool(k) and some(0.4),
        "yellow": bool(k) and some(0.3),
        "jpeg": int(r.integers(35, 85)) if k and some(0.5) else 0,
    }


def draw(m: Model, seed: int, **how: object) -> Page:
    """Draw and wear the page; `how` takes the keys of `habits`."""
    r = np.random.default_rng(55_000 + seed)
    get = how.get
    style, layout, nose = str(get("style", "layered")), str(get("layout", "ell")), str(get("nose", "up"))
    side_nose = str(get("side_nose", "left"))
    aft, stbd = (np.array(v, float) for v in NOSES[nose])
    # page coordinates: u right, v down
    into = {
        "top": lambda p: p[:, :1] * aft + p[:, 1:] * stbd,
        "side": lambda p: p * (1, -1) if side_nose == "left" else p * (-1, -1),
        "front": lambda p: p * (1, -1),
    }
    low, size = {}, {}
    for v in ("top", "side", "front"):
        every = np.vstack([into[v](p) for p in [*(f.points for f in m.figures[v]), *m.lines[v], *m.gear[v]]])
        low[v], size[v] = every.min(0), np.ptp(every, axis=0)
    g = (float(get("gap", 0.12)) + (0.1 if get("dims") else 0.0)) * m.span_mm  # type: ignore[arg-type]
    at = _arrange(layout, size, g, r)
    lowest = np.min([at[v] for v in at], axis=0)
    margin = m.span_mm * r.uniform(0.08, 0.2)
    if get("dims"):
        margin += 0.1 * m.span_mm
    at = {v: q - lowest + margin for v, q in at.items()}
    sheet = np.max([at[v] + size[v] for v in at], axis=0) + margin
    if get("title"):
        sheet[1] += 0.14 * m.span_mm
    px = float(get("width_px", 1400.0)) / sheet[0]  # type: ignore[arg-type]
    w, h = (int(t) for t in np.ceil(sheet * px))
    pen = float(get("pen", 2.0))  # type: ignore[arg-type]
    fine = max(0.8, pen * float(get("fine", 0.7)))  # type: ignore[arg-type]
    buffer = io.BytesIO()
    c = canvas.Canvas(buffer, pagesize=(w, h))
    c.translate(0, h)
    c.scale(1, -1)
    c.setLineJoin(int(r.integers(0, 2)))
    c.setLineCap(1)

    def put(v: str, p: Points) -> Points:
        return (into[v](np.asarray(p, float)) - low[v] + at[v]) * px

    def path(q: Points, *, close: bool) -> object:
        o = c.beginPath()
        o.moveTo(*q[0])
        for t in q[1:]:
            o.lineTo(*t)
        if close:
            o.close()
        return o

    def stroke(q: Points, width: float, *, close: bool = False) -> None:
        c.setLineWidth(width)
        c.drawPath(path(q, close=close), stroke=1, fill=0)

    centres = {}
    shade = 0.55 if style == "shaded" else 1.0
    import shapely

    for v in ("top", "side", "front"):
        figs = sorted(m.figures[v], key=lambda f: f.layer)
        big = np.vstack(
            [put(v, f.points) for f in figs if f.part not in {"blade", "wheel", "hub", "spinner"}]
        )
        centres[v] = tuple(0.5 * (big.min(0) + big.max(0)))
        for p in m.gear[v]:
            stroke(put(v, p), fine)
        if style == "single":
            solid = shapely.unary_union(
                [
                    shapely.Polygon(put(v, f.points)).buffer(0)
                    for f in figs
                    if f.part != "spinner" and (f.part != "section" or m.kind == "bi")
                ]
            )
            for part in getattr(solid, "geoms", [solid]):
                stroke(np.array(part.exterior.coords), pen, close=True)
                for hole in part.interiors:
                    stroke(np.array(hole.coords), pen, close=True)
        elif style == "open":  # surfaces end at the body with a hair's gap or on its line
            body = shapely.Polygon(put(v, next(f.points for f in figs if f.part == "body"))).buffer(0)
            hair = float(r.uniform(0.0, 1.0)) * pen
            for f in figs:
                q = shapely.LinearRing(put(v, f.points))
                if f.part != "body" and v != "front":
                    rest = q.difference(body.buffer(hair))
                    for t in getattr(rest, "geoms", [rest]):
                        if t.geom_type == "LineString" and t.length > 0:
                            stroke(np.array(t.coords), pen)
                else:
                    stroke(put(v, f.points), pen, close=True)
        else:
            for f in figs:
                q = put(v, f.points)
                thin = fine if f.part in {"section", "hub", "blade"} else pen
                if style != "through":
                    c.setFillGray(shade)
                    c.setLineWidth(thin)
                    c.drawPath(path(q, close=True), stroke=1, fill=1)
                else:
                    stroke(q, thin, close=True)
        for p in m.lines[v]:
            stroke(put(v, p), fine)
    c.setFillGray(0.0)
    _furniture(c, m, put, get, r, w=w, h=h, pen=pen, fine=fine, stroke=stroke, px=px, nose=nose)
    c.showPage()
    c.save()
    import pypdfium2

    bitmap = pypdfium2.PdfDocument(buffer.getvalue())[0].render(scale=1.0)
    image = bitmap.to_pil().convert("L")
    return _worn(image, m, px, centres, r, how)


def _arrange(layout: str, size: dict[str, Points], g: float, r: np.random.Generator) -> dict[str, Points]:
    t, s, f = size["top"], size["side"], size["front"]
    if layout == "ell":
        return {
            "top": np.zeros(2),
            "front": np.array([0.5 * (t[0] - f[0]), t[1] + g]),
            "side": np.array([max(t[0], f[0]) + g, t[1] - s[1]]),
        }
    if layout == "ell-2":  # side above, top below, front beside
        return {
            "side": np.zeros(2),
            "top": np.array([0.0, s[1] + g]),
            "front": np.array([max(s[0], t[0]) + g, 0.3 * s[1]]),
        }
    if layout == "ell-3":
        return {
            "front": np.zeros(2),
            "side": np.array([f[0] + g, 0.0]),
            "top": np.array([0.1 * g, max(f[1], s[1]) + g]),
        }
    if layout == "ell-4":
        return {
            "side": np.zeros(2),
            "front": np.array([s[0] + g, 0.0]),
            "top": np.array([s[0] + g, max(s[1], f[1]) + g]),
        }
    if layout == "column":
        wide = max(t[0], s[0], f[0])
        order = ["side", "top", "front"]
    elif layout == "column-2":
        wide = max(t[0], s[0], f[0])
        order = ["front", "top", "side"]
    elif layout == "row":
        tall = max(t[1], s[1], f[1])
        order = list(r.permutation(["top", "side", "front"]))
        out, u = {}, 0.0
        for v in order:
            out[v] = np.array([u, 0.5 * (tall - size[v][1])])
            u += size[v][0] + g
        return out
    else:
        wide = max(t[0], s[0], f[0])
        order = list(r.permutation(["top", "side", "front"]))
    out, y = {}, 0.0
    for v in order:
        jog = r.uniform(0, 1) if layout == "loose" else 0.5
        out[v] = np.array([jog * (wide - size[v][0]), y])
        y += size[v][1] + g
    return out


def _furniture(c, m, put, get, r, *, w, h, pen, fine, stroke, px, nose):
    """Dimension lines, centre lines, lettering, title block, frame, hatching, section marks, leaders, scratches, gaps."""
    font = max(8.0, 0.024 * m.span_mm * px)

    def words(x: float, y: float, text: str) -> None:
        c.saveState()
        c.translate(x, y)
        c.scale(1, -1)
        c.setFont("Helvetica", font)
        c.drawCentredString(0, -0.35 * font, text)
        c.restoreState()

    boxes = {}
    for v in ("top", "side", "front"):
        every = np.vstack([put(v, p) for p in [*(f.points for f in m.figures[v]), *m.gear[v]]])
        boxes[v] = (*every.min(0), *every.max(0))

    if get("centre"):
        c.setDash([9 * pen, 2.5 * pen, 2 * pen, 2.5 * pen])
        e = 0.03 * m.span_mm
        stroke(put("top", np.array([[-e, 0.0], [m.length_mm + e, 0]])), fine)
        stroke(put("side", np.array([[-e, 0.0], [m.length_mm + e, 0]])), fine)
        x0, y0, x1, y1 = boxes["front"]
        u = put("front", np.array([[0.0, 0.0]]))[0, 0]
        stroke(np.array([[u, y0 - e * px], [u, y1 + e * px]]), fine)
        c.setDash()

    def dimension(a: Points, b: Points, off: Points, text: str) -> None:
        u = off / np.hypot(*off)
        clear = (2.5 * pen + 2.0) * u
        p, q = a + off, b + off
        thin = max(0.8, 0.8 * fine)
        stroke(np.array([a + clear, p + 4 * u]), thin)
        stroke(np.array([b + clear, q + 4 * u]), thin)
        stroke(np.array([p, q]), thin)
        d = (q - p) / np.hypot(*(q - p))
        n = np.array([-d[1], d[0]])
        k = max(6.0, 3.5 * pen)
        for e, s in ((p, 1), (q, -1)):
            o = c.beginPath()
            o.moveTo(*e)
            o.lineTo(*(e + s * d * k + n * 0.3 * k))
            o.lineTo(*(e + s * d * k - n * 0.3 * k))
            o.close()
            c.drawPath(o, stroke=0, fill=1)
        mid = 0.5 * (p + q) - n * np.sign(n[1] or 1) * 0.75 * font
        words(*mid, text)

    if get("dims"):
        wing = max(
            (p for (part, v), p in m.truth.items() if "wing" in part and v == "top"),
            key=lambda p: np.ptp(p[:, 1]),
        )
        i = int(wing[:, 1].argmax())
        a, b = put("top", wing[[i]])[0], put("top", wing[[i]] * (1, -1))[0]
        x0, y0, x1, y1 = boxes["top"]
        reach = 0.06 * m.span_mm * px
        off = np.array([0, y0 - reach - a[1]]) if nose in {"up", "down"} else np.array([x0 - reach - a[0], 0])
        dimension(a, b, off, f"{m.span_mm:.0f}")
        body = m.truth["body", "side"]
        ends = put("side", body[[int(body[:, 0].argmin()), int(body[:, 0].argmax())]])
        ends[1, 1] = ends[0, 1]
        dimension(
            ends[0], ends[1], np.array([0, boxes["side"][3] + reach - ends[0, 1]]), f"{m.length_mm:.0f}"
        )
        if int(get("dims")) > 1:
            x0, y0, x1, y1 = boxes["front"]
            dimension(np.array([x1, y0]), np.array([x1, y1]), np.array([reach, 0]), "H")
    if get("words"):
        for v, text in (("top", "PLAN VIEW"), ("side", "SIDE VIEW"), ("front", "FRONT VIEW")):
            x0, y0, x1, y1 = boxes[v]
            words(0.5 * (x0 + x1), y1 + (0.025 if not get("dims") else 0.085) * m.span_mm * px, text)
    if get("title"):
        tw, th = 0.42 * m.span_mm * px, 0.11 * m.span_mm * px
        x0, y0 = w - tw - 14, h - th - 14
        c.setLineWidth(fine)
        c.rect(x0, y0, tw, th)
        stroke(np.array([[x0, y0 + 0.5 * th], [x0 + tw, y0 + 0.5 * th]]), fine)
        stroke(np.array([[x0 + 0.5 * tw, y0 + 0.5 * th], [x0 + 0.5 * tw, y0 + th]]), fine)
        words(x0 + 0.5 * tw, y0 + 0.25 * th, "MODEL AEROPLANE")
        words(x0 + 0.25 * tw, y0 + 0.75 * th, "SHEET 1")
    if get("frame"):
        c.setLineWidth(pen)
        c.rect(6, 6, w - 12, h - 12)
    if get("hatch"):
        v = str(r.choice(["top", "side"]))
        f = next(f for f in m.figures[v] if f.part == "body")
        q = put(v, f.points)
        o = c.beginPath()
        o.moveTo(*q[0])
        for t in q[1:]:
            o.lineTo(*t)
        o.close()
        c.saveState()
        c.clipPath(o, stroke=0)
        lo, hi = q.min(0), q.max(0)
        a, b = r.uniform(0.1, 0.3), r.uniform(0.5, 0.9)
        step = max(5.0, 3.0 * pen)
        reach = float(np.hypot(*(hi - lo)))
        c.setLineWidth(max(0.8, 0.5 * fine))
        for d in np.arange(a, b, step / max(hi[0] - lo[0], 1.0) * 1.5):
            u = lo[0] + d * (hi[0] - lo[0])
            c.line(u - reach, 0.5 * (lo[1] + hi[1]) + reach, u + reach, 0.5 * (lo[1] + hi[1]) - reach)
        c.restoreState()
    if get("section_marks"):
        y = 0.55 * 0.5 * m.span_mm
        wing = max(
            (p for (part, v), p in m.truth.items() if "wing" in part and v == "top"),
            key=lambda p: np.ptp(p[:, 1]),
        )
        lo, hi = wing[:, 0].min(), wing[:, 0].max()
        q = put("top", np.array([[lo - 0.03 * m.span_mm, y], [hi + 0.03 * m.span_mm, y]]))
        c.setDash([8 * pen, 3 * pen])
        stroke(q, fine)
        c.setDash()
        for e in q:
            words(e[0] + font, e[1], "A")
    for k in range(int(get("leaders", 0) or 0)):
        v = str(r.choice(["top", "side"]))
        x0, y0, x1, y1 = boxes[v]
        p = np.array([r.uniform(x0, x1), r.uniform(y0, y1)])
        q = np.array([p[0] + 0.12 * m.span_mm * px, y0 - 0.02 * m.span_mm * px])
        stroke(np.array([p, q]), max(0.8, 0.7 * fine))
        words(q[0] + font, q[1] - 0.3 * font, str(k + 1))
    for _ in range(int(get("scratches", 0) or 0)):
        v = str(r.choice(["top", "side"]))
        x0, y0, x1, y1 = boxes[v]
        e = 0.03 * m.span_mm * px
        stroke(np.array([[x0 - e, r.uniform(y0, y1)], [x1 + e, r.uniform(y0, y1)]]), max(0.8, 0.6 * fine))
    for _ in range(int(get("gaps", 0) or 0)):
        v = str(r.choice(["top", "side"]))
        f = m.figures[v][int(r.integers(len(m.figures[v])))]
        i = int(r.integers(len(f.points)))
        p = put(
            v, f.points[[i]] + r.uniform(0.2, 0.8) * (f.points[[(i + 1) % len(f.points)]] - f.points[[i]])
        )[0]
        c.setFillGray(1.0)
        k = pen * r.uniform(0.8, 1.4) + 1.0
        c.circle(p[0], p[1], k, stroke=0, fill=1)
        c.setFillGray(0.0)


def _worn(image, m, px, centres, r, how):
    get = how.get
    turn = float(get("rotate", 0.0) or 0.0)
    if turn:
        old = np.array(image.size) / 2
        image = image.rotate(turn, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)
        t = np.radians(turn)
        spin = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
        centres = {
            v: tuple(spin @ (np.array(q) - old) + np.array(image.size) / 2) for v, q in centres.items()
        }
    if get("blur"):
        image = image.filter(ImageFilter.GaussianBlur(float(get("blur"))))
    a = np.asarray(image, float)
    if get("shade"):
        yy, xx = np.mgrid[0 : a.shape[0], 0 : a.shape[1]]
        a = a * (0.9 - 0.25 * xx / a.shape[1] * yy / a.shape[0]) + 15
    if get("noise"):
        a = a + r.normal(0, float(get("noise")), a.shape)
    if get("dust"):
        n = int(a.size * 1e-5) + 20
        rows, columns = r.integers(1, a.shape[0] - 1, n), r.integers(1, a.shape[1] - 1, n)
        for dr in (0, 1):
            a[rows + dr, columns] = 60
    a = np.clip(a, 0, 255).astype(np.uint8)
    out = Image.fromarray(a)
    if get("yellow"):
        out = Image.fromarray(np.stack([a * 0.97, a * 0.9, a * 0.7], -1).astype(np.uint8))
    if get("jpeg"):
        b = io.BytesIO()
        out.save(b, "JPEG", quality=int(get("jpeg")))
        out = Image.open(io.BytesIO(b.getvalue()))
        out.load()
    return Page(image=out, mm_per_px=1.0 / px, centres_px=centres, how=dict(how))
