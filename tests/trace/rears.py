"""Plain aeroplanes whose rears alone differ: thin sterns, a tailplane's section across or beside them, fin and rudder.

All in mm: x aft of the body's nose, y starboard, z up.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from planes_g import Wing, planform, strip
from sheet_d import Points

STERNS = ("edge", "post", "round", "cone")
RISES = ("level", "flat top", "up-swept", "flat keel")
TAILS = ("mid", "sunk", "on top", "clear", "below")
SECTIONS = ("lens", "plank", "foil", "line")
RUDDERS = ("on the body", "above", "level", "below", "behind")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A part's figure as painted: closed ones hide what lies below. rings: more than one outline in one figure."""

    part: str
    points: Points
    closed: bool = True
    rings: tuple[Points, ...] = ()

    @property
    def area(self) -> shapely.Geometry:
        return shapely.union_all([shapely.Polygon(p).buffer(0) for p in (self.points, *self.rings)])


@dataclass(slots=True, kw_only=True)
class Rear:
    """What a drawing draws. Heights and lengths are shares of the span of 1000."""

    stern: str
    above: str  # the stern from above
    rise: str
    tail_at: str
    section: str
    tail_over: bool  # the section painted over the body
    rudder: str
    hinge: bool
    fillet: bool
    one: bool  # body and fin one outline
    strip: str  # the fin from above
    cut_out: bool
    hides: bool  # the tailplane painted over the body from above
    tint: int
    length: float = 0.0
    deep: float = 0.0
    wide: float = 0.0
    ends: tuple[float, float] = (0.0, 0.0)  # half depth and half width at the stern
    power: float = 1.0  # how the taper curves
    tail: Wing | None = None
    fin: Points = field(default_factory=lambda: np.zeros((0, 2)))
    post: tuple[float, float] = (0.0, 0.0)  # hinge: x at the body, and how far it leans aft for each unit up


def _half(x: Points, r: Rear, most: float, end: float, stern: str) -> Points:
    """Half depth or width over x: a round nose, level, then a taper to the stern."""
    t = x / r.length
    nose = np.sqrt(np.clip(1 - ((0.18 - np.minimum(t, 0.18)) / 0.18) ** 2, 0, 1))
    last = {"edge": 0.0, "post": end, "round": end, "cone": 1.8 * end}[stern]
    aft = np.clip((t - 0.38) / 0.62, 0, 1)
    half = np.where(t < 0.38, most * nose, most + (last - most) * aft**r.power)
    if stern == "round":
        into = np.clip((x - (r.length - 1.2 * end)) / (1.2 * end), 0, 1)
        half = half * np.sqrt(1 - into**2)
    if stern == "cone":
        half = half * np.clip((r.length - x) / (0.09 * r.length), 0, 1)
    return np.asarray(half)


def _edges(r: Rear, x: Points) -> tuple[Points, Points]:
    """The body's lower and upper line."""
    half = _half(x, r, r.deep, r.ends[0], r.stern)
    share = {"level": 0.0, "flat top": 1.0, "up-swept": 0.5, "flat keel": -1.0}[r.rise]
    last = {"edge": 0.0, "post": r.ends[0], "round": r.ends[0], "cone": 1.8 * r.ends[0]}[r.stern]
    aft = np.clip((x / r.length - 0.38) / 0.62, 0, 1)
    middle = share * (r.deep - last) * aft**r.power
    return middle - half, middle + half


def _stations(r: Rear) -> Points:
    t = np.linspace(0, 1, 401)
    x = np.r_[0.5 * (1 - np.cos(np.pi * t)) * r.length, r.length - 1.2 * np.array(r.ends), 0.91 * r.length]
    return np.unique(x)


def section(w: Wing, form: str) -> Points:
    """A tail's section about its height."""
    deep, x0, c = w.thick * w.root, w.lead, w.root
    if form == "plank":
        a = np.linspace(np.pi / 2, 3 * np.pi / 2, 15)
        nose = np.c_[x0 + deep / 2 + deep / 2 * np.cos(a), w.z + deep / 2 * np.sin(a)]
        return np.vstack([nose, [(x0 + c, w.z - deep / 2), (x0 + c, w.z + deep / 2)]])
    t = 0.5 * (1 - np.cos(np.linspace(0, np.pi, 50)))
    if form == "lens":
        out = 2 * deep * t * (1 - t)
    else:  # four-digit thickness form (Jacobs, Ward, Pinkerton, NACA report 460, 1933), its trailing edge closed
        out = 5 * deep * (0.2969 * np.sqrt(t) - 0.126 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1036 * t**4)
    return np.r_[np.c_[x0 + c * t, w.z + out], np.c_[x0 + c * t, w.z - out][::-1]]


def rear(rng: random.Random) -> Rear:
    """Any rear."""
    u, pick = rng.uniform, rng.choice
    r = Rear(
        stern=pick(STERNS),
        above=pick(STERNS),
        rise=pick(RISES),
        tail_at=pick(TAILS),
        section=pick(SECTIONS),
        tail_over=rng.random() < 0.7,
        rudder=pick(RUDDERS),
        hinge=rng.random() < 0.6,
        fillet=rng.random() < 0.25,
        one=rng.random() < 0.2,
        strip=pick(("strip", "section", "line", "none")),
        cut_out=rng.random() < 0.3,
        hides=False,
        tint=pick((255, 255, 255, 225, 190)),
    )
    r.hides = rng.random() < {"on top": 0.9, "clear": 1.0, "below": 0.0}.get(r.tail_at, 0.5)
    r.length, r.deep, r.wide = u(620, 850), u(45, 75), u(35, 60)
    r.ends, r.power = (u(4, 14), u(4, 14)), pick((1.0, 1.0, u(1.1, 1.8)))
    chord = u(95, 150)
    behind = u(-50, 45) if r.tail_at != "mid" or r.stern == "edge" else u(-50, 10)
    tail = Wing(
        span=u(300, 420),
        root=chord,
        tip=chord * u(0.55, 1),
        sweep=0.0,
        lead=r.length + behind - chord,
        tips=pick(("square", "round")),
        thick=u(0.05, 0.11) if r.section != "plank" else u(0.04, 0.07),
    )
    at = np.array([tail.lead + 0.4 * chord])
    low, high = (float(v[0]) for v in _edges(r, at))
    half = 0.5 * tail.thick * chord if r.section != "line" else 0.0
    z = {
        "mid": 0.5 * (low + high),
        "sunk": high - 0.3 * half,
        "on top": high + half + u(0, 3),
        "clear": high + half + u(8, 20),
        "below": low - half - u(0, 4),
    }[r.tail_at]
    r.tail = replace(tail, z=z, sweep=(chord - tail.tip) * u(0, 1))
    _stand_fin(rng, r)
    return r


def _stand_fin(rng: random.Random, r: Rear) -> None:
    """The fin with its rudder, whose foot lies on, above, behind or below the stern."""
    u, end = rng.uniform, r.length
    height, lean = u(95, 150), rng.choice((0.0, 0.0, u(-0.15, 0.3)))
    high = lambda x: float(_edges(r, np.array([min(x, end)]))[1][0])  # noqa: E731
    low_end = float(_edges(r, np.array([end - 0.5]))[0][0])
    root, tip = u(110, 170), u(50, 80)
    rudder = u(28, 55)
    if r.rudder == "on the body":
        back, foot = end - u(2, 45), np.zeros((0, 2))
        r.post = back - rudder, lean
    else:
        r.post = end, lean
        back = end + rudder
        if r.rudder == "above":  # cut away above the stern, upwards to its rear
            foot = np.array([(back, high(end) + u(5, 18)), (end, high(end) + 1)])
        elif r.rudder == "behind":  # down to the level of the upper line alone
            foot = np.array([(back, high(end)), (end, high(end))])
        else:
            z = low_end - (0.0 if r.rudder == "level" else u(8, 22))
            foot = np.array([(back - u(0, 8), z), (end, z)])
    z = high(back)
    crown = z + height
    lead = np.array([(r.post[0] - root * 0.6, high(r.post[0] - root * 0.6) - 6)])
    top = np.array([(r.post[0] + lean * height - tip * 0.6, crown), (back + lean * height - 4, crown)])
    if r.fillet:
        t = np.linspace(0, 1, 14)
        x = lead[0, 0] - 90 + 90 * t
        rise = 22 * t**2.2
        up = np.array([high(v) for v in x]) + rise - 0.3
        slope = (top[0, 0] - lead[0, 0]) / (crown - lead[0, 1])
        lead = np.vstack([np.c_[x, up], [(lead[0, 0] + slope * (up[-1] - lead[0, 1]), up[-1] + 3)]])
        lead[-1, 0] = max(lead[-1, 0], lead[-2, 0] + 1)
    front = lead[0, 0] + 5
    last = end - 0.5 if len(foot) else back
    if not len(foot):
        foot = np.array([(back, high(back))])
    inside = np.linspace(last, front, 12)
    within = np.mean(_edges(r, np.minimum(inside, end - 0.5)), axis=0)
    r.fin = np.vstack([lead, top, foot, np.c_[inside, within]])


# ---- views, the hindmost part first ---------------------------------------------------------------------------------
def side(r: Rear) -> list[Layer]:
    assert r.tail is not None
    x = _stations(r)
    low, high = _edges(r, x)
    body = Layer(part="body", points=np.r_[np.c_[x, high], np.c_[x, low][::-1]])
    fin = Layer(part="fin", points=r.fin)
    tail = Layer(part="tail", points=section(r.tail, r.section))
    if r.section == "line":
        tail = Layer(
            part="tail",
            points=np.array([(r.tail.lead, r.tail.z), (r.tail.lead + r.tail.root, r.tail.z)]),
            closed=False,
        )
    stand = [replace(body, rings=(fin.points,))] if r.one else [fin, body]
    out = [*stand, tail] if r.tail_over or r.section == "line" else [tail, *stand]
    if r.tail_at == "clear" and not r.tail_over:  # before the fin, behind nothing
        out = [*stand, tail]
    if r.hinge:
        top = float(r.fin[:, 1].max())
        foot = float(_edges(r, np.array([min(r.post[0], r.length)]))[1][0])
        line = np.array([(r.post[0], foot), (r.post[0] + r.post[1] * (top - foot), top)])
        out.insert(out.index(stand[0]) + 1, Layer(part="hinge", points=line, closed=False))
    wing = replace(WING, lead=0.25 * r.length)
    return [*out, Layer(part="wing", points=section(wing, "foil"))]


WING = Wing(span=1000, root=150, tip=110, sweep=20, lead=0, tips="square", thick=0.1, z=-8.0)


def top(r: Rear) -> list[Layer]:
    assert r.tail is not None
    x = _stations(r)
    half = _half(x, r, r.wide, r.ends[1], r.above)
    body = Layer(part="body", points=np.r_[np.c_[x, half], np.c_[x, -half][::-1]])
    tail = Layer(part="tail", points=_cut(r))
    wing = Layer(part="wing", points=planform(replace(WING, lead=0.25 * r.length)))
    out = [wing, body, tail] if r.hides else [wing, tail, body]
    x0, x1 = float(r.fin[0, 0]), float(r.fin[:, 0].max())
    if r.strip == "line":
        out.append(Layer(part="fin", points=np.array([(x0, 0.0), (x1, 0.0)]), closed=False))
    elif r.strip != "none":
        w = Wing(span=1, root=x1 - x0, tip=1, sweep=0, lead=x0, tips="", thick=8.0 / (x1 - x0))
        ring = section(w, "foil" if r.strip == "section" else "plank")
        out.append(Layer(part="fin", points=ring))
    return out


def _cut(r: Rear) -> Points:
    """The tailplane from above, notched for the rudder where it is."""
    assert r.tail is not None
    ring = planform(r.tail)
    if not r.cut_out:
        return ring
    end = r.tail.lead + r.tail.root
    notch = shapely.Polygon(
        [(end - 0.35 * r.tail.root, 6), (end + 30, 24), (end + 30, -24), (end - 0.35 * r.tail.root, -6)]
    )
    return np.array(shapely.Polygon(ring).difference(notch).exterior.coords)[:-1]


def front(r: Rear) -> list[Layer]:
    assert r.tail is not None
    t = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    body = Layer(part="body", points=np.c_[r.wide * np.cos(t), r.deep * np.sin(t)])
    half, z = r.tail.span / 2, r.tail.z
    tail = Layer(part="tail", points=np.array([(-half, z), (half, z)]), closed=False)
    foot, head = float(_edges(r, np.array([r.length]))[1][0]), float(r.fin[:, 1].max())
    fin = Layer(part="fin", points=np.array([(0.0, foot), (0.0, head)]), closed=False)
    return [tail, fin, Layer(part="wing", points=strip(WING)), body]


VIEWS = {"top": top, "side": side, "front": front}
