"""The aeroplanes of hand h: each view a pile of shapes, nearest to the eye first, and the readings that are right."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from figures_h import Figures
from shapely.ops import unary_union
from shapes_h import bar, both_sides, disc, lens, rounded

Points = np.ndarray
Shapes = list["Shape"]

# In ten drawings running: four monoplanes, three biplanes, two deltas or tailless ones, one odd.
KINDS = ("mono", "biplane", "delta", "mono", "biplane", "mono", "odd", "biplane", "delta", "mono")
MONOS, BIPLANES = ("high", "low", "parasol", "mid"), ("forward", "aft")
DELTAS, ODDS = ("delta", "tailless"), ("canard", "twin fins", "t-tail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A part as one view shows it. inner: lines drawn on it."""

    part: str
    outline: shapely.Polygon
    name: str = ""
    inner: tuple[Points, ...] = ()


@dataclass(slots=True, kw_only=True)
class Plane:
    """An aeroplane drawn. views: shapes nearest first; others: further readings of a part's outline in a view."""

    kind: str
    variant: str
    span_mm: float
    nose: str
    starts: list[float]
    views: dict[str, Shapes] = field(default_factory=lambda: {"top": [], "side": [], "front": []})
    others: dict[tuple[str, str], list[shapely.Polygon]] = field(default_factory=dict)

    def add(
        self,
        view: str,
        part: str,
        outline: shapely.Geometry,
        name: str = "",
        inner: list[Points] | None = None,
    ) -> None:
        for one in getattr(outline, "geoms", [outline]):
            self.views[view].append(Shape(part=part, outline=one, name=name, inner=tuple(inner or ())))


def plane(rng: np.random.Generator, number: int) -> Plane:
    """The aeroplane of a number; its kind goes by the number, its variant turns with the tens."""
    kind = KINDS[number % 10]
    turn = number // 10 + number
    variants = {"mono": MONOS, "biplane": BIPLANES, "delta": DELTAS, "odd": ODDS}[kind]
    variant = variants[(number // 10 if kind == "odd" else turn) % len(variants)]
    return _Maker(rng, kind, variant).make()


class _Maker(Figures):
    """Draws the parts of an aeroplane of chosen figures."""

    def __init__(self, rng: np.random.Generator, kind: str, variant: str) -> None:
        super().__init__(rng, kind, variant)
        self.p = Plane(kind=kind, variant=variant, span_mm=self.span, nose=self.nose, starts=[0.0])

    def make(self) -> Plane:
        self._propeller()
        self._cover()
        fins = self._fins()
        self._surfaces_top(fins)
        self._side(fins)
        self._front(fins)
        for view, shapes in self.p.views.items():
            self.p.views[view] = sorted(
                shapes,
                key=lambda q: self.order[view].index(
                    q.part if q.part != "wing" else f"wing {q.name}".strip()
                ),
            )
        return self.p

    @property
    def order(self) -> dict[str, list[str]]:
        """Which part lies before which, seen from above, from the side and from the front."""
        over = self.variant in {"high", "parasol"}
        on_top = self.tail is not None and (self.post or self.variant == "t-tail") and not self.pusher
        body = ["canopy", "body"] if not over else ["wing", "canopy", "body"]
        tail = ["tail", "fin"] if self.variant == "t-tail" else ["fin", "tail"]
        top = [
            "wing upper",
            *(tail if on_top else ["fin"]),
            *body,
            *([] if on_top else ["tail"]),
            "wing",
            "wing lower",
            "spinner",
            "prop",
            "gear",
        ]
        side = [
            "spinner",
            "prop",
            "wing upper",
            "wing lower",
            "strut",
            "tip fin",
            "wing",
            "tail",
            "body",
            "gear",
            "cabane",
            "canopy",
            "fin",
        ]
        front = [
            "spinner",
            "prop",
            "gear",
            "body",
            "wing",
            "wing lower",
            "wing upper",
            "strut",
            "canopy",
            "tail",
            "fin",
        ]
        return {"top": top, "side": side, "front": front}

    def _propeller(self) -> None:
        rng, p, b = self.rng, self.p, self.body
        if self.pusher or self.nose == "round":
            return
        r0 = float(b.width(0.0))
        has = rng.random() < (0.9 if self.nose == "inline" else 0.5)
        if has:
            r = r0 * (0.93 if self.nose == "inline" else rng.uniform(0.3, 0.45))
            n = r * rng.uniform(1.1, 1.9)
            whole = shapely.Polygon(lens(-n, n, r, 2.3))
            spinner = whole.intersection(shapely.box(-1e4, -1e4, 0, 1e4))
            p.starts.append(-n)
            for view in ("top", "side"):
                p.add(view, "spinner", spinner)
            p.add("front", "spinner", disc(0, 0, r))
        if rng.random() < 0.5:
            at = -(0.4 * n if has else 0.015 * self.span)
            r, w = self.span * rng.uniform(0.1, 0.13), self.span * 0.005
            blades = shapely.Polygon(lens(-r, r, w, 1.6)[:, ::-1] + [at, 0])
            for view in ("top", "side"):
                p.add(view, "prop", blades)
            a = rng.uniform(0, np.pi)
            wide = lens(-r, r, 1.8 * w, 1.6) @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
            p.add("front", "prop", shapely.Polygon(wide))

    def _cover(self) -> None:
        """Canopy or open cockpit, and the lines on the body."""
        rng, p, b = self.rng, self.p, self.body
        top, side = b.top(), b.side()
        inner = {v: [] for v in ("top", "side")}
        if self.nose == "cowl" or rng.random() < 0.5:
            for v, lines in inner.items():
                lines.append(b.across(b.length * rng.uniform(0.11, 0.14), v))
        canopy: dict[str, shapely.Polygon] = {}
        if self.variant == "high":
            u = b.length * np.array([0.29, 0.4])
            z = 0.85 * b.upper(u), 0.35 * b.upper(u)
            inner["side"].append(
                np.array(
                    [[u[0], z[0][0]], [u[1], z[0][1]], [u[1], z[1][1]], [u[0], z[1][0]], [u[0], z[0][0]]]
                )
            )
        elif (
            self.kind == "biplane"
            or self.variant == "parasol"
            or (self.kind == "mono" and rng.random() < 0.4)
        ):
            x = b.length * rng.uniform(0.4, 0.46)
            long = 0.035 * self.span
            hole = lens(x - long, x + long, 0.55 * float(b.width(x)), 2.5)
            inner["top"].append(np.r_[hole, hole[:1]])
            h = 0.03 * self.span
            z = float(b.upper(x - long))
            canopy["side"] = shapely.Polygon(
                [(x - 1.9 * long, z - 0.2 * h), (x - long, z + h), (x - 0.9 * long, z - 0.3 * h)]
            )
        else:
            x0 = b.length * (
                rng.uniform(0.16, 0.24) if self.kind == "delta" or self.pusher else rng.uniform(0.28, 0.34)
            )
            x1 = x0 + self.span * rng.uniform(0.12, 0.2)
            h = self.span * rng.uniform(0.022, 0.034)
            x = np.linspace(x0, x1, 40)
            u = (x - x0) / (x1 - x0)
            hump = np.sin(np.pi * u**0.75) ** 0.8
            up = b.upper(x) * b._round(x)
            canopy["side"] = shapely.Polygon(np.r_[np.c_[x, up + h * hump], np.c_[x, up - 0.3 * h][::-1]])
            canopy["top"] = shapely.Polygon(lens(x0, x1, 0.6 * float(b.width((x0 + x1) / 2)), 2.4))
            canopy["front"] = disc(
                0, float(np.max(up + h * hump)) - 0.55 * float(b.width(x0)), 0.55 * float(b.width(x0))
            )
        for view, shape in canopy.items():
            lines = []
            if view == "side" and shape.area > 0.002 * self.span**2:
                mid = 0.45 * shape.bounds[0] + 0.55 * shape.bounds[2]
                lines = [np.array([[mid, shape.bounds[1]], [mid, shape.bounds[3]]])]
            p.add(view, "canopy", shape, inner=lines)
        p.add("top", "body", top, inner=inner["top"])
        p.add("side", "body", side, inner=inner["side"])
        p.add("front", "body", b.front(rng.uniform(2.0, 3.2)))
        for view in ("top", "side"):
            base = top if view == "top" else side
            more = {q.part: q.outline for q in p.views[view] if q.part in {"canopy", "spinner"}}
            sets = [["canopy"], ["spinner"], ["canopy", "spinner"]]
            # a hair more of each, for a rounded front lies a hair behind x = 0: so that what only touches is one outline
            readings = [
                unary_union([base, *[more[k].buffer(0.05) for k in s]])
                for s in sets
                if all(k in more for k in s)
            ]
            p.others["body", view] = [r for r in readings if r.geom_type == "Polygon"]

    def _fins(self) -> list[tuple[float, shapely.Polygon, list[Points]]]:
        """Each fin's y, its shape from the side and its hinge lines."""
        rng, s, b, tail = self.rng, self.span, self.body, self.tail
        twin = self.variant in {"twin fins", "canard"} or (self.variant == "tailless" and rng.random() < 0.6)
        height = s * rng.uniform(0.1, 0.14)
        if twin:
            holder = tail if self.variant == "twin fins" and tail else self.wings[""]
            y = holder.half * 0.97
            x0, x1 = holder.chord(y * 0.93)
            c = max(x1 - x0, 0.07 * s) * 1.15
            z = holder.height(y)
            h = 0.55 * height
            shape = rounded(
                shapely.Polygon(
                    [(x0, z - h * 0.7), (x0 + 0.25 * c, z + h), (x0 + c, z + h * 0.9), (x0 + c, z - 0.6 * h)]
                ),
                0.12 * c,
            )
            hinge = np.array([[x0 + 0.65 * c, z - h], [x0 + 0.68 * c, z + h]])
            return [(-y, shape, [hinge]), (y, shape, [hinge])]
        x1 = b.length
        root = s * rng.uniform(0.11, 0.16) * (1.4 if self.kind == "delta" else 1.0)
        root = min(root, 0.45 * b.length)
        back = root * rng.uniform(0.35, 0.8)
        tip = root * rng.uniform(0.4, 0.65)
        aft = root * rng.uniform(0.25, 0.4) if self.post else 0.0
        if self.kind == "delta":
            x1 *= 0.97
        x0 = x1 - root
        z0 = float(b.upper(x0)) * 0.3 + 0.7 * float(b.lower(x0))
        base, ztop = float(b.upper(x1)), float(b.upper(x1)) + height
        if self.variant == "t-tail":
            x1, ztop = self.fin_top[0] - 0.05 * root, self.fin_top[1] + 0.002 * s
            back = root * 0.5
        foot = float(b.lower(x1)) if self.post else base - 0.02 * height
        points = [
            (x0, z0),
            (x0, float(b.upper(x0))),
            (x0 + back, ztop),
            (min(x0 + back + tip + 0.5 * aft, x1 + aft), ztop),
            (x1 + aft, base + 0.3 * height),
            (x1 + aft * 0.85, foot),
            (x1 - 0.02 * root, foot),
        ]
        shape = shapely.Polygon(points).buffer(0)
        shape = rounded(shape, min(rng.uniform(0.08, 0.25) * tip, 0.4 * aft if aft else 1e3))
        hinge_x = x1 if self.post else x1 - 0.35 * tip
        lean = 0.0 if self.post else 0.1 * root
        hinge = np.array(
            [[hinge_x - lean, float(b.lower(x1)) if self.post else base], [hinge_x + lean, ztop + 1.0]]
        )
        return [(0.0, shape, [hinge])]

    def _surfaces_top(self, fins: list) -> None:
        rng, p = self.rng, self.p
        for name, w in self.wings.items():
            lines = w.hinge(rng.uniform(0.72, 0.8), 0.55 * w.half, 0.9 * w.half)
            if self.variant == "delta":
                lines = w.hinge(0.85, 0.25 * w.half, 0.8 * w.half)
            p.add("top", "wing", w.plan, name, lines)
        if self.tail is not None:
            plan = self.tail.plan
            y0 = 0.06 * self.tail.half if not self.post else 0.02 * self.tail.half
            lines = self.tail.hinge(rng.uniform(0.52, 0.65), y0, 0.93 * self.tail.half)
            p.add("top", "tail", plan, inner=lines)
        for y, shape, _ in fins:
            x0, _, x1, _ = shape.bounds
            thick = 0.0045 * self.span
            p.add("top", "fin", shapely.Polygon(lens(x0, x1, thick) + [0, y]))

    def _side(self, fins: list) -> None:
        rng, p = self.rng, self.p
        drawn = self.kind == "biplane" or self.variant == "parasol" or rng.random() < 0.65
        if drawn:
            for name, w in self.wings.items():
                p.add("side", "wing", w.side(), name)
            if self.tail is not None:
                p.add("side", "tail", self.tail.side())
            self._struts_side()
        _, shape, lines = fins[0]
        p.add(
            "side", "tip fin" if len(fins) > 1 and self.variant != "twin fins" else "fin", shape, inner=lines
        )
        self._gear_side()

    def _struts_side(self) -> None:
        p, b, thick = self.p, self.body, 0.007 * self.span
        if len(self.wings) == 2:
            up, low = self.wings["upper"], self.wings["lower"]
            y = 0.6 * low.half
            (a0, a1), (c0, c1) = up.chord(y), low.chord(y)
            for t in (0.15, 0.65):
                p.add(
                    "side",
                    "strut",
                    bar((c0 + t * (c1 - c0), low.height(y)), (a0 + t * (a1 - a0), up.height(y)), thick),
                )
        if len(self.wings) == 2 or self.variant == "parasol":
            up = self.wings.get("upper", self.wings.get(""))
            a0, a1 = up.chord(0.05 * up.half)
            for t in (0.15, 0.6):
                x = a0 + t * (a1 - a0)
                p.add(
                    "side",
                    "cabane",
                    bar((x + 0.02 * self.span, 0.8 * float(b.upper(x + 0.02 * self.span))), (x, up.z), thick),
                )
        elif self.variant == "high" and self.rng.random() < 0.6:
            w = self.wings[""]
            x0, x1 = w.chord(0.5 * w.half)
            x = x0 + 0.3 * (x1 - x0)
            p.add(
                "side",
                "strut",
                bar((x + 0.03 * self.span, 0.7 * float(b.lower(x))), (x, w.height(0.5 * w.half)), thick),
            )

    def _gear_side(self) -> None:
        """Wheels and legs; a jet or a glider often has them up."""
        rng, p, b, s = self.rng, self.p, self.body, self.span
        if (self.kind == "delta" or self.nose == "round") and rng.random() < 0.7:
            return
        r = s * rng.uniform(0.025, 0.034)
        x = b.length * (rng.uniform(0.17, 0.22) if not self.pusher else 0.66)
        z = float(np.min(b.lower(np.array([x, 0.3 * b.length])))) - s * rng.uniform(0.05, 0.07)
        p.add("side", "gear", disc(x, z, r), inner=[np.array(disc(x, z, 0.3 * r).exterior.coords)])
        thick = 0.008 * s
        for k in (-0.5, 1.0):
            at = x + k * 0.04 * s
            p.add(
                "side", "gear", bar((x, z), (at, 0.75 * float(b.lower(at))), thick).difference(disc(x, z, r))
            )
        y = s * rng.uniform(0.07, 0.09)
        for shape in (
            shapely.box(y - 0.3 * r, z - r, y + 0.3 * r, z + r),
            bar((y, z), (0.5 * float(b.width(x)), 0.8 * float(b.lower(x))), thick),
        ):
            for one in both_sides(shape):
                p.add("front", "gear", rounded(one, 0.002 * s))
        if not self.pusher and self.kind != "delta":
            u = 0.92 * b.length
            q = 0.35 * r
            foot = float(b.lower(u)) - 0.75 * q
            p.add("side", "gear", disc(u + 0.6 * q, foot, q))

    def _front(self, fins: list) -> None:
        p = self.p
        for name, w in self.wings.items():
            p.add("front", "wing", w.front(), name)
        if self.tail is not None:
            p.add("front", "tail", self.tail.front())
        for y, shape, _ in fins:
            _, z0, _, z1 = shape.bounds
            p.add("front", "fin", shapely.Polygon(lens(z0, z1, 0.005 * self.span)[:, ::-1] + [y, 0]))
        thick = 0.006 * self.span
        if len(self.wings) == 2:
            up, low = self.wings["upper"], self.wings["lower"]
            y = 0.6 * low.half
            for one in both_sides(bar((y, low.height(y)), (y * 1.03, up.height(y)), thick)):
                p.add("front", "strut", one)
        if len(self.wings) == 2 or self.variant == "parasol":
            up = self.wings.get("upper", self.wings.get(""))
            w = 0.6 * float(self.body.width(0.35 * self.body.length))
            for one in both_sides(
                bar((w, 0.7 * float(self.body.upper(0.35 * self.body.length))), (1.6 * w, up.z), thick)
            ):
                p.add("front", "strut", one)
