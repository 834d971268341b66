"""The figures of hand h's aeroplanes: their bodies, wings and tailplanes, chosen from what flies."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator
from shapely import Point
from shapes_h import Body, Surface, planform


class Figures:
    """One aeroplane's kind, size and main parts. kind and variant as in planes_h."""

    def __init__(self, rng: np.random.Generator, kind: str, variant: str) -> None:
        self.rng, self.kind, self.variant = rng, kind, variant
        self.span = float(rng.uniform(600, 1400))
        self.pusher = variant == "canard"
        noses = ["cowl", "inline", "round"]
        odds = {"biplane": [0.55, 0.4, 0.05], "delta": [0.0, 0.2, 0.8]}.get(kind, [0.4, 0.4, 0.2])
        self.nose = "round" if self.pusher else str(rng.choice(noses, p=odds))
        self.body = self._body()
        self.wings = self._wings()
        self.tail = None if kind == "delta" else self._tail()

    def _body(self) -> Body:
        rng, s = self.rng, self.span
        share = {"mono": (0.62, 0.82), "biplane": (0.7, 0.92), "delta": (0.95, 1.35), "odd": (0.62, 0.85)}[
            self.kind
        ]
        if self.variant == "tailless":
            share = (0.4, 0.55)
        length = s * rng.uniform(*share)
        r = s * (rng.uniform(0.036, 0.052) if self.variant != "tailless" else rng.uniform(0.035, 0.045))
        front = {"cowl": rng.uniform(0.8, 0.95), "inline": rng.uniform(0.35, 0.5), "round": 0.85}[self.nose]
        self.post = self.kind in {"mono", "biplane", "odd"} and not self.pusher and rng.random() < 0.6
        jet = self.kind == "delta" and self.nose == "round"
        end = (
            0.55 * r
            if jet or self.pusher
            else (rng.uniform(0.008, 0.018) * s if self.post else rng.uniform(0.08, 0.16) * r)
        )
        cabin = self.variant == "high"
        top, low = rng.uniform(1.0, 1.4) * r, rng.uniform(0.95, 1.3) * r
        tall = 1.1 * end if jet or self.pusher else (rng.uniform(0.3, 0.6) * r if self.post else end)
        lift = rng.uniform(0.0, 0.45) * r
        widest = rng.uniform(0.22, 0.34)
        width = [
            (0, front * r),
            (0.5 * widest, (front + 1.6) / 2.6 * r),
            (widest, r),
            (0.55, rng.uniform(0.7, 0.88) * r),
            (1, end),
        ]
        if cabin:
            top *= 1.25
            upper = [
                (0, front * r),
                (0.14, 0.98 * r),
                (0.2, 1.04 * r),
                (0.27, top),
                (0.48, 0.97 * top),
                (0.6, 0.72 * top),
            ]
        else:
            upper = [(0, front * r), (0.15, (front * r + top) / 2), (0.33, top), (0.5, 0.9 * top)]
        lower = [(0, -front * r), (0.12, -0.5 * (front * r + low)), (0.3, -low), (0.52, -0.88 * low)]
        upper.append((1, lift + tall / 2))
        lower.append((1, lift - tall / 2))
        x = [np.array([q[0] for q in c]) * length for c in (width, upper, lower)]
        y = [np.array([q[1] for q in c]) for c in (width, upper, lower)]
        w, u, d = (PchipInterpolator(a, b) for a, b in zip(x, y, strict=True))
        return Body(
            length=length,
            width=w,
            upper=u,
            lower=d,
            nose=self.nose,
            nose_length=rng.uniform(0.12, 0.3) * length,
            axis=0.0,
        )

    def _wings(self) -> dict[str, Surface]:
        rng = self.rng
        end = str(rng.choice(["round", "elliptic", "raked", "square"], p=[0.45, 0.15, 0.2, 0.2]))
        thick = rng.uniform(0.1, 0.15)
        if self.variant == "delta":
            return {"": self._delta()}
        if self.kind == "biplane":
            return self._two_wings("round" if end == "elliptic" else end)
        if self.variant == "tailless":
            return {"": self._flying_wing("round" if end == "elliptic" else end, thick)}
        return {"": self._one_wing(end, thick)}

    def _delta(self) -> Surface:
        rng, s, b = self.rng, self.span, self.body
        root = s * rng.uniform(0.55, 0.75)
        tip = root * rng.uniform(0.08, 0.25)
        back = root - tip + s * rng.uniform(-0.06, 0.03)
        at = b.length * 0.97 - root
        plan = planform(
            rng,
            half=s / 2,
            root=root,
            tip=tip,
            back=back,
            end=str(rng.choice(["square", "raked", "round"])),
            at=at,
        )
        z = rng.uniform(-0.3, 0.2) * float(b.width(at + root / 2))
        return Surface(plan=plan, z=z, dihedral=np.radians(rng.uniform(-2, 3)), thick=0.05)

    def _flying_wing(self, end: str, thick: float) -> Surface:
        rng, s, b = self.rng, self.span, self.body
        root = s * rng.uniform(0.19, 0.26)
        tip = root * rng.uniform(0.45, 0.75)
        back = 0.5 * s * np.tan(np.radians(rng.uniform(20, 32)))
        plan = planform(
            rng, half=s / 2, root=root, tip=tip, back=back, end=end, at=b.length * rng.uniform(0.3, 0.4)
        )
        return Surface(plan=plan, z=0.0, dihedral=np.radians(rng.uniform(0, 4)), thick=thick)

    def _two_wings(self, end: str) -> dict[str, Surface]:
        rng, s, b = self.rng, self.span, self.body
        chord = s * rng.uniform(0.14, 0.18)
        tip = chord * (1.0 if rng.random() < 0.7 else rng.uniform(0.75, 0.95))
        back = rng.choice([0.0, (chord - tip) / 2, s * rng.uniform(0.02, 0.06)])
        at = b.length * rng.uniform(0.17, 0.24)
        shift = chord * rng.uniform(0.15, 0.45) * (1 if self.variant == "forward" else -1)
        z = float(b.upper(at + chord / 2)) + s * rng.uniform(0.055, 0.085)
        small = 1.0 if rng.random() < 0.4 else rng.uniform(0.78, 0.95)
        state = rng.bit_generator.state
        up = planform(rng, half=s / 2, root=chord, tip=tip, back=back, end=end, at=at - min(shift, 0))
        rng.bit_generator.state = state  # both wings of one pattern
        c2 = 1.0 if small == 1.0 else rng.uniform(0.85, 1.0)
        low = planform(
            rng,
            half=s / 2 * small,
            root=chord * c2,
            tip=tip * c2,
            back=back * small,
            end=end,
            at=at + max(shift, 0) + (1 - c2) * chord / 2,
        )
        if rng.random() < 0.5:  # a piece cut from the middle of the trailing edge, over the cockpit
            _, trail = Surface(plan=up, z=0, dihedral=0, thick=0.1).chord(0.0)
            up = up.difference(Point(trail + 0.1 * chord, 0).buffer(chord * rng.uniform(0.3, 0.42)))
        lower_z = float(b.lower(at + chord)) + 0.08 * chord
        tilt = np.radians(rng.uniform(0, 3))
        return {
            "upper": Surface(plan=up, z=z, dihedral=tilt * float(rng.integers(0, 2)), thick=0.09),
            "lower": Surface(plan=low, z=lower_z, dihedral=tilt, thick=0.09),
        }

    def _one_wing(self, end: str, thick: float) -> Surface:
        rng, s, b = self.rng, self.span, self.body
        aspect = rng.uniform(5.5, 8.5)
        taper = rng.uniform(0.45, 1.0)
        root = s / aspect * 2 / (1 + taper)
        root *= 1.2 if end == "elliptic" else 1.0
        tip = root * taper
        back = float(rng.choice([0.0, (root - tip) * rng.uniform(0.2, 0.7), s * rng.uniform(0.02, 0.1)]))
        back = (root - tip) * 0.3 if end == "elliptic" else back
        at = b.length * (rng.uniform(0.58, 0.66) if self.pusher else rng.uniform(0.2, 0.28))
        if self.pusher:
            back = s * rng.uniform(0.05, 0.14)
            end = "round" if end == "elliptic" else end
        plan = planform(rng, half=s / 2, root=root, tip=tip, back=back, end=end, at=at)
        mid = at + 0.4 * root
        up, low = float(b.upper(mid)), float(b.lower(mid))
        where = self.variant if self.kind == "mono" else str(rng.choice(["low", "mid"]))
        z = {
            "high": up,
            "mid": 0.3 * (up + low),
            "low": low + 0.1 * root,
            "parasol": up + s * rng.uniform(0.05, 0.075),
        }[where]
        tilt = {"high": (0, 2), "mid": (1, 4), "low": (3, 6), "parasol": (0, 2)}[where]
        return Surface(plan=plan, z=z, dihedral=np.radians(rng.uniform(*tilt)), thick=thick)

    def _tail(self) -> Surface:
        rng, s, b = self.rng, self.span, self.body
        half = s / 2 * rng.uniform(0.3, 0.4)
        root = half * rng.uniform(0.55, 0.75)
        tip = root * rng.uniform(0.5, 0.9)
        end = str(rng.choice(["round", "elliptic", "raked", "square"], p=[0.5, 0.2, 0.15, 0.15]))
        back = (root - tip) * rng.uniform(0.4, 1.0)
        at = b.length * 0.99 - root + (0.25 * root if self.post else 0.0)
        z, tilt = float(b.upper(b.length * 0.97)) - (0.04 * root), 0.0
        if self.variant == "canard":
            at, z = b.length * rng.uniform(0.08, 0.14), 0.2 * float(b.upper(0.1 * b.length))
        elif self.variant == "t-tail":
            self.fin_top = b.length * 0.97, z + s * rng.uniform(0.12, 0.15)
            at, z = self.fin_top[0] - 0.6 * root, self.fin_top[1]
        elif not self.post:
            z = float(b.upper(b.length * 0.9) + b.lower(b.length * 0.9)) / 2
        plan = planform(rng, half=half, root=root, tip=tip, back=back, end=end, at=at)
        return Surface(plan=plan, z=z, dihedral=tilt, thick=0.08)
