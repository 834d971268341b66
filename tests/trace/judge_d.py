"""An outside judge of `sheetlark trace PICTURE --span ... --json` on the fourth hand's drawings.

Each outline gets three pairs of (mean, worst) distance, both ways, in shares of the span:
*honest* leaves out what the drawing hides and moves a side view along z (no datum in z is agreed), *strict* does
neither, *free* also moves the view along x, to tell a datum that is off from an outline that is.
"""

from __future__ import annotations

import contextlib
import json
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parent))
import drawing_d as D  # noqa: N812
import judge
from PIL import Image, ImageDraw
from scipy.optimize import linear_sum_assignment

Points = np.ndarray
Pair = tuple[float, float]
MEAN, WORST, SCALE = 0.006, 0.015, 0.005


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


# ---- a drawing ------------------------------------------------------------------------------------------------------
def _zoom(d: D.Drawing, said: dict) -> tuple[float, Points]:
    """The page's pixels in the picture the tracing read: factor and offset. Only a vector file needs any."""
    if d.file in {"png", "jpg"}:
        return 1.0, np.zeros(2)
    # a vector file's page is read at a size of the reader's choice, cut to its ink: fitted to a view both know
    found = {v["kind"]: np.array(v["box_px"]).reshape(2, 2) for v in said["views"]}
    for kind in ("top", "front", "side"):
        if kind in found:
            true = np.array(d.boxes_px[kind]).reshape(2, 2)
            k = float(np.max(found[kind][1] - found[kind][0]) / np.max(true[1] - true[0]))
            return k, found[kind][0] - k * true[0]
    return 1.0, np.zeros(2)


def views_wrong(d: D.Drawing, said: dict) -> list[str]:
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


def outlines(d: D.Drawing, said: dict) -> dict[str, dict[str, Pair | None]]:
    """Each judged outline's distances: part -> {honest, strict, free}; all None when nothing was found."""
    span = d.plane.span_mm
    step = span / 600
    found: dict[tuple[str, str], list[Points]] = defaultdict(list)
    for o in said["outlines"]:
        ring = judge.ring(o["path"]) if o["path"] else np.zeros((0, 2))
        if len(ring) > 3:
            found[o["part"], o["view"]].append(ring)
    body = next(t for t in d.truth if (t.part, t.view) == ("body", "side"))
    up = np.zeros(2)
    if found["body", "side"]:
        up = best_move(found["body", "side"][0], body.points, _hidden(body, span), span, (1,))
    groups: dict[tuple[str, str], list[D.Truth]] = defaultdict(list)
    for t in d.truth:
        groups[t.part, t.view].append(t)
    out: dict[str, dict[str, Pair | None]] = {}
    for (part, view), true in groups.items():
        rings = found[part, view]
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


def _hidden(t: D.Truth, span: float) -> shapely.Geometry:
    return t.hidden.buffer(0.004 * span) if not t.hidden.is_empty else t.hidden


def _measure(ring: Points, t: D.Truth, up: Points, span: float, step: float) -> dict[str, Pair | None]:
    hidden = _hidden(t, span)
    side = t.view == "side"
    moved = ring + up if side else ring
    free = moved + best_move(moved, t.points, hidden, span, (0, 1) if side else (0,))
    pairs = {
        "honest": apart(moved, t.points, hidden, step),
        "strict": apart(ring, t.points, shapely.Polygon(), step),
        "free": apart(free, t.points, hidden, step),
    }
    return {k: None if p is None else (p[0] / span, p[1] / span) for k, p in pairs.items()}


def scale_error(d: D.Drawing, said: dict) -> float:
    k, _ = _zoom(d, said)
    tops = [v for v in said["views"] if v["kind"] == "top"] or said["views"]
    return tops[0]["scale_mm_per_px"] * k / d.mm_per_px - 1 if tops else float("inf")


def judge_one(d: D.Drawing, folder: Path | None = None) -> dict:
    """One drawing through the command line, measured."""
    with tempfile.TemporaryDirectory() as tmp:
        path = d.save(Path(tmp))
        start = time.process_time()
        said, failed = ask(path, d.plane.span_mm)
        took = time.process_time() - start
    row: dict = {
        "kind": d.plane.kind,
        "quick": d.quick,
        "wear": list(d.wear),
        "file": d.file,
        "style": d.style,
        "layout": d.layout,
        "nose": d.nose,
        "pen_px": d.pen_px,
        "size_px": list(d.image.size),
        "failed": failed,
        "seconds": round(took, 2),
    }
    if failed:
        return row
    row |= {"views_wrong": views_wrong(d, said), "scale": scale_error(d, said), "parts": outlines(d, said)}
    row["found"] = [f"{o['part']} {o['view']}" for o in said["outlines"]]
    if folder is not None:
        row["picture"] = overlay(d, said)
    return row


def overlay(d: D.Drawing, said: dict) -> Image.Image:
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
    if d.file in {"png", "jpg"}:
        for v in said["views"]:
            b = [q * zoom for q in v["box_px"]]
            with contextlib.suppress(ValueError):
                pen.rectangle(b, outline=(0, 60, 255))
                pen.text((b[0] + 4, b[1] + 4), f"{v['kind']} {v['nose']}", fill=(0, 60, 255))
    return img


def good(p: Pair | None) -> bool:
    return p is not None and p[0] < MEAN and p[1] < WORST


def bad_parts(row: dict, how: str = "honest") -> list[str]:
    """The named parts that fail; the fin is left out."""
    return [k for k, m in row["parts"].items() if k != "fin" and not good(m[how])]


def all_right(row: dict, how: str = "honest") -> bool:
    return (
        not row["failed"] and not row["views_wrong"] and abs(row["scale"]) < SCALE and not bad_parts(row, how)
    )
