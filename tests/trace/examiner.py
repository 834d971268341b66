"""An outside judge of `sheetlark trace PICTURE --span ... --json` on the drawings of hands d, f, g and h.

Each outline gets three pairs of (mean, worst) distance, both ways, in shares of the span:
*honest* leaves out what the drawing hides and moves a side view along z (no datum in z is agreed), *strict* does
neither, *free* also moves the view along x, to tell a datum that is off from an outline that is. Where a drawing can
be read in several ways that are all right, the nearest counts: x = 0 at the front of the body or of its spinner, for
all outlines of a drawing alike; a body with or without its canopy.
"""

from __future__ import annotations

import contextlib
import json
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parent))
import judge
from PIL import Image, ImageDraw
from scipy.optimize import linear_sum_assignment

Points = np.ndarray
Pair = tuple[float, float]
MEAN, WORST, SCALE = 0.006, 0.015, 0.005
PIXELS = frozenset({"png", "jpg", "webp"})  # files whose pixels are the drawing's own


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """An outline as it is. hidden: where the drawing does not show it; others: readings as right as the first. [mm]"""

    part: str
    name: str
    view: str
    points: Points
    hidden: shapely.Geometry
    others: tuple[Points, ...] = ()

    @property
    def readings(self) -> tuple[Points, ...]:
        return (self.points, *self.others)


class Drawing(Protocol):
    """What any hand keeps beside its picture. Boxes and maps lead to the picture's pixels, after any turn of the sheet."""

    image: Image.Image
    truth: tuple[Truth, ...]
    wear: tuple[str, ...]
    file: str
    mm_per_px: float
    boxes_px: dict[str, tuple[float, float, float, float]]
    to_px: dict[str, Points]  # (2, 3) from mm in the view's plane

    @property
    def span_mm(self) -> float: ...

    @property
    def starts_mm(self) -> tuple[float, ...]:
        """Each x of the drawing at which a tracing may put its x = 0."""

    @property
    def told(self) -> dict[str, object]:
        """What rates are told apart by: kind, style, layout and so on."""

    def save(self, folder: Path) -> Path: ...


def turned(m: Points, angle: float, was: tuple[int, int], now: tuple[int, int]) -> Points:
    """A map to pixels after the picture was turned about its middle (degrees counter-clockwise) and the canvas grown."""
    a = np.radians(angle)
    r = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    middle, new = np.array(was) / 2, np.array(now) / 2
    return np.c_[r @ m[:, :2], r @ (m[:, 2] - middle) + new]


def ask(path: Path, span_mm: float) -> tuple[dict, str]:
    """The command line's own answer, and what it said when it gave none."""
    from click.testing import CliRunner

    from sheetlark.cli import main

    got = CliRunner().invoke(main, ["trace", str(path), "--span", f"{span_mm:.2f} mm", "--json"])
    if got.exit_code != 0:
        return {}, (got.output.strip() or repr(got.exception))[-300:]
    return json.loads(got.stdout), ""


# ---- distances ------------------------------------------------------------------------------------------------------
def _along(ring: Points, step: float) -> Points:
    line = shapely.LinearRing(ring)
    return shapely.line_interpolate_point(line, np.arange(0, line.length, step))


def apart(found: Points, true: Points, hidden: shapely.Geometry, step: float) -> Pair | None:
    """Mean and worst distance both ways outside `hidden`; None where under 15 % of the truth shows.

    What was found may leave the hidden region by a step or two: where it ends unseen nobody can say to a pen's width.
    """
    lf, lt = shapely.LinearRing(found), shapely.LinearRing(true)
    pf, pt = _along(found, step), _along(true, step)
    if not hidden.is_empty:
        near = hidden.buffer(2.5 * step)
        shapely.prepare([hidden, near])
        pf, seen = pf[~shapely.contains(near, pf)], ~shapely.contains(hidden, pt)
        if seen.mean() < 0.15:
            return None
        pt = pt[seen]
    d = np.r_[shapely.distance(pf, lt), shapely.distance(pt, lf)]
    return float(d.mean()), float(d.max())


def best_move(
    found: Points, true: Points, hidden: shapely.Geometry, span: float, axes: tuple[int, ...]
) -> Points:
    """The move of the found outline along `axes` that brings it nearest to what shows of the true one."""
    pt = _along(true, span / 150)
    if not hidden.is_empty:
        pt = pt[~shapely.contains(hidden, pt)]
    if not len(pt):
        return np.zeros(2)
    at = shapely.get_coordinates(pt)
    line = shapely.LinearRing(found)
    shapely.prepare(line)

    def cost(m: Points) -> float:
        return float(np.mean(shapely.distance(shapely.points(at - m), line)))

    start = np.zeros(2)
    middle = (true.max(0) + true.min(0) - found.max(0) - found.min(0)) / 2
    tries = [start, *(np.where(np.isin([0, 1], axes), middle, 0.0)[None])]
    best = min(tries, key=cost)
    step = 0.02 * span
    while step > 2e-4 * span:
        near = [best + s * step * np.eye(2)[a] for a in axes for s in (-1, 1)]
        better = min(near, key=cost)
        if cost(better) < cost(best):
            best = better
        else:
            step /= 2
    return best


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    both = max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
    return both / max(sum((q[2] - q[0]) * (q[3] - q[1]) for q in (a, b)) - both, 1e-9)


# ---- truth against the picture --------------------------------------------------------------------------------------
def truths_off_the_ink(d: Drawing) -> list[str]:
    """Outlines that do not lie on the ink where they are said to be drawn, or would lie on it as well elsewhere."""
    wrong = []
    for t in d.truth:
        line = shapely.LinearRing(t.points)
        step = d.span_mm / 200
        p = shapely.line_interpolate_point(line, np.arange(0, line.length, step))
        seen = shapely.get_coordinates(p[~shapely.intersects(t.hidden.buffer(step), p)])
        if len(seen) <= 10:
            continue
        on = float(np.mean(_off_ink(d, seen, t.view) <= 1.5))
        aside = seen + 4 * float(d.told["pen_px"]) * d.mm_per_px  # type: ignore[arg-type]
        if on <= 0.98 or float(np.mean(_off_ink(d, aside, t.view) <= 1.5)) >= 0.7:
            wrong.append(f"{t.part} {t.name} {t.view}: {on:.2f} on ink")
    return wrong


def _off_ink(d: Drawing, points: Points, view: str) -> Points:
    """How far points of a view are from the nearest dark pixel, up to 3. [px]"""
    ink = np.pad(np.asarray(d.image.convert("L")) < 150, 4)
    m = d.to_px[view]
    at = np.floor(points @ m[:, :2].T + m[:, 2]).astype(int) + 4
    off = np.full(len(at), 9.0)
    for dx, dy in np.ndindex(7, 7):
        near = ink[at[:, 1] + dy - 3, at[:, 0] + dx - 3]
        off[near] = np.minimum(off[near], np.hypot(dx - 3, dy - 3))
    return off


# ---- a drawing ------------------------------------------------------------------------------------------------------
def _zoom(d: Drawing, said: dict) -> tuple[float, Points]:
    """The page's pixels in the picture the tracing read: factor and offset. Only a page or a vector file needs any."""
    if d.file in PIXELS:
        return 1.0, np.zeros(2)
    if d.file in {"pdf", "svg"}:  # the whole page, at a size of the reader's choice
        return max(said["size_px"]) / max(d.image.size), np.zeros(2)
    # a DXF is read at a size of the reader's choice, cut to its ink: fitted to a view both know
    found = {v["kind"]: np.array(v["box_px"]).reshape(2, 2) for v in said["views"]}
    # the front view is as wide as the span, whatever of a tail's end is lost
    for kind in ("front", "top", "side"):
        if kind in found:
            true = np.array(d.boxes_px[kind]).reshape(2, 2)
            k = float(np.max(found[kind][1] - found[kind][0]) / np.max(true[1] - true[0]))
            return k, found[kind][0] - k * true[0]
    return 1.0, np.zeros(2)


def views_wrong(d: Drawing, said: dict) -> list[str]:
    """Views missing, misnamed or misplaced; frames with and without the scan's turn are both accepted."""
    k, off = _zoom(d, said)
    wrong = []
    for kind, box in d.boxes_px.items():
        true = np.array(box) * k + np.r_[off, off]
        h, w = said["size_px"][::-1]
        a = np.radians(said.get("turned_deg", 0.0))
        best = 0.0
        for v in said["views"]:
            if v["kind"] != kind:
                continue
            b = np.array(v["box_px"])
            best = max(best, _overlap(tuple(b), tuple(true)))
            corners = b[[[0, 1], [2, 1], [2, 3], [0, 3]]] - [w / 2, h / 2]
            for s in (-a, a):
                r = np.array([[np.cos(s), -np.sin(s)], [np.sin(s), np.cos(s)]])
                c = corners @ r.T + [w / 2, h / 2]
                best = max(best, _overlap((*c.min(0), *c.max(0)), tuple(true)))
        if best < 0.5:
            wrong.append(f"{kind} {best:.2f}")
    return wrong


def outlines(d: Drawing, said: dict) -> dict[str, dict[str, Pair | None]]:
    """Each judged outline's distances: part -> {honest, strict, free}; all None when nothing was found."""
    found: dict[tuple[str, str], list[Points]] = defaultdict(list)
    for o in said["outlines"]:
        ring = judge.ring(o["path"]) if o["path"] else np.zeros((0, 2))
        if len(ring) > 3:
            found[o["part"], o["view"]].append(ring)
    tries = [_outlines_from(d, found, start) for start in d.starts_mm]
    return min(tries, key=lambda t: sum(min((m["honest"] or (1.0,))[0], 0.05) for m in t.values()))


def _outlines_from(
    d: Drawing, found: dict[tuple[str, str], list[Points]], start: float
) -> dict[str, dict[str, Pair | None]]:
    """`outlines` with the tracing's x = 0 at `start`."""
    span = d.span_mm
    step = span / 600
    moved = {key: [r + [start, 0.0] for r in rings] for key, rings in found.items()}
    body = next((t for t in d.truth if (t.part, t.view) == ("body", "side")), None)
    up = np.zeros(2)
    if body is not None and moved.get(("body", "side")):
        hidden = _hidden(body, span)
        ups = [best_move(moved["body", "side"][0], r, hidden, span, (1,)) for r in body.readings]
        near = [
            apart(moved["body", "side"][0] + u, r, hidden, step)
            for u, r in zip(ups, body.readings, strict=True)
        ]
        up = ups[min(range(len(ups)), key=lambda k: near[k] or (9.0, 9.0))]
    groups: dict[tuple[str, str], list[Truth]] = defaultdict(list)
    for t in d.truth:
        groups[t.part, t.view].append(t)
    out: dict[str, dict[str, Pair | None]] = {}
    for (part, view), true in groups.items():
        rings = moved.get((part, view), [])
        table = {
            (i, j): _measure(r, t, up, span, step) for i, t in enumerate(true) for j, r in enumerate(rings)
        }
        cost = np.full((len(true), max(len(rings), len(true))), 9.0)
        for (i, j), m in table.items():
            cost[i, j] = (m["honest"] or m["strict"] or (9.0, 9.0))[0]
        for i, j in zip(*linear_sum_assignment(cost), strict=True):
            key = " ".join(x for x in (part, true[i].name, view if part == "body" else "") if x)
            shown = apart(true[i].points, true[i].points, _hidden(true[i], span), step)
            if shown is None:
                continue
            out[key] = table.get((i, j), {"honest": None, "strict": None, "free": None})
    return out


def extra(d: Drawing, said: dict) -> list[str]:
    """Wings and tails found that are not there."""
    found = Counter(o["part"] for o in said["outlines"] if o["view"] == "top" and o["path"])
    true = Counter(t.part for t in d.truth if t.view == "top")
    return [part for part in ("wing", "tail") for _ in range(found[part] - true[part])]


def _hidden(t: Truth, span: float) -> shapely.Geometry:
    return t.hidden.buffer(0.004 * span) if not t.hidden.is_empty else t.hidden


def _measure(ring: Points, t: Truth, up: Points, span: float, step: float) -> dict[str, Pair | None]:
    """The distances of a found outline from the nearest reading of a true one."""
    hidden = _hidden(t, span)
    side = t.view == "side"
    moved = ring + up if side else ring
    out: dict[str, Pair | None] = {"honest": None, "strict": None, "free": None}
    for true in t.readings:
        free = moved + best_move(moved, true, hidden, span, (0, 1) if side else (0,))
        pairs = {
            "honest": apart(moved, true, hidden, step),
            "strict": apart(ring, true, shapely.Polygon(), step),
            "free": apart(free, true, hidden, step),
        }
        for how, p in pairs.items():
            was = out[how]
            if p is not None and (was is None or p[0] / span < was[0]):
                out[how] = (p[0] / span, p[1] / span)
    return out


def scale_error(d: Drawing, said: dict) -> float:
    """The largest relative error of a view's scale."""
    k, _ = _zoom(d, said)
    errors = [v["scale_mm_per_px"] * k / d.mm_per_px - 1 for v in said["views"]]
    return max(errors, key=abs, default=float("inf"))


def judge_one(d: Drawing, folder: Path | None = None) -> dict:
    """One drawing through the command line, measured."""
    with tempfile.TemporaryDirectory() as tmp:
        path = d.save(Path(tmp))
        start = time.process_time()
        said, failed = ask(path, d.span_mm)
        took = time.process_time() - start
    row: dict = {
        **d.told,
        "pen_px": round(float(d.told["pen_px"]), 1),  # type: ignore[arg-type]
        "wear": list(d.wear),
        "file": d.file,
        "size_px": list(d.image.size),
        "failed": failed,
        "seconds": round(took, 2),
    }
    if failed:
        return row
    row |= {"views_wrong": views_wrong(d, said), "scale": scale_error(d, said)}
    row |= {"parts": outlines(d, said), "extra": extra(d, said)}
    row["found"] = [f"{o['part']} {o['view']}" for o in said["outlines"]]
    if folder is not None:
        row["picture"] = overlay(d, said)
    return row


def overlay(d: Drawing, said: dict) -> Image.Image:
    """The picture, pale, with truth in green, what was found in red, found boxes in blue."""
    zoom = 2 if max(d.image.size) < 1500 else 1
    img = d.image.convert("RGB").resize([n * zoom for n in d.image.size])
    img = Image.blend(img, Image.new("RGB", img.size, "white"), 0.5)
    pen = ImageDraw.Draw(img)
    for t in d.truth:
        p = (t.points @ d.to_px[t.view][:, :2].T + d.to_px[t.view][:, 2]) * zoom
        pen.line([tuple(q) for q in [*p, p[0]]], fill=(0, 160, 0), width=3)
    for o in said["outlines"]:
        if o["view"] in d.to_px and o["path"]:
            m = d.to_px[o["view"]]
            p = (judge.ring(o["path"]) @ m[:, :2].T + m[:, 2]) * zoom
            pen.line([tuple(q) for q in [*p, p[0]]], fill=(230, 0, 0), width=2)
    if d.file in PIXELS:
        for v in said["views"]:
            b = [q * zoom for q in v["box_px"]]
            with contextlib.suppress(ValueError):
                pen.rectangle(b, outline=(0, 60, 255))
                pen.text((b[0] + 4, b[1] + 4), f"{v['kind']} {v['nose']}", fill=(0, 60, 255))
    return img


def good(p: Pair | None) -> bool:
    return p is not None and p[0] < MEAN and p[1] < WORST


def assert_within_bounds(row: dict) -> None:
    """A drawing's row of :func:`judge_one` holds to every stated bound, with no wing or tail that is not there."""
    assert row["failed"] == ""
    assert row["views_wrong"] == []
    assert row["extra"] == []
    assert abs(row["scale"]) < SCALE
    assert len(row["parts"]) >= 4
    assert bad_parts(row) == [], row["parts"]


def bad_parts(row: dict, how: str = "honest") -> list[str]:
    """The named parts that fail; the fin is left out."""
    return [k for k, m in row["parts"].items() if k != "fin" and not good(m[how])]


def all_right(row: dict, how: str = "honest") -> bool:
    return (
        not row["failed"]
        and not row["views_wrong"]
        and abs(row["scale"]) < SCALE
        and not row["extra"]
        and not bad_parts(row, how)
    )
