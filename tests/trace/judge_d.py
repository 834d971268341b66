"""An outside judge of `sheetlark trace PICTURE --span ... --json` on the fourth hand's drawings.

`python tests/trace/judge_d.py run 0:40 OUT` judges drawings 0..39 of the plan, a JSON line each in OUT/results.jsonl
and a picture with truth (green) and what was found (red) in OUT; `python tests/trace/judge_d.py table OUT` prints rates.

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
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parent))
import drawing_d as D  # noqa: N812
import judge
import planes_d
from PIL import Image, ImageDraw
from scipy.optimize import linear_sum_assignment

Points = np.ndarray
Pair = tuple[float, float]
MEAN, WORST, SCALE = 0.006, 0.015, 0.005
ROWS = (
    "wing",
    "tail",
    "body top",
    "body side",
)  # the parts the statement names; the fin is judged beside them


def plan() -> list[tuple[int, str, bool, tuple[str, ...], str]]:
    """The drawings to judge, kinds and disturbances mixed: (seed, kind, quick, wear, file)."""
    single: list[tuple[tuple[str, ...], str]] = [((), "png"), *(((w,), "png") for w in D.WEARS)]
    single += [((), f) for f in D.FILES[1:]]
    out = []
    rng = np.random.default_rng(4)
    order = [*single, *[None] * 13]
    for i in range(len(order)):
        for k, kind in enumerate(planes_d.KINDS):
            one = order[(i * 7 + k * 5) % len(order)]
            seed = 1000 + 4 * i + k
            if one is None:
                few = rng.choice(D.WEARS, rng.integers(2, 4), replace=False)
                one = (tuple(w for w in D.WEARS if w in few), str(rng.choice(["png", "jpg"])))
            out.append((seed, kind, (i + k) % 2 == 1, *one))
    return out


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
    """Mean and worst distance both ways outside `hidden`; None where under 15 % of the truth shows."""
    lf, lt = shapely.LinearRing(found), shapely.LinearRing(true)
    pf, pt = _along(found, step), _along(true, step)
    if not hidden.is_empty:
        shapely.prepare(hidden)
        pf, seen = pf[~shapely.contains(hidden, pf)], ~shapely.contains(hidden, pt)
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
    if d.file != "dxf":
        return said["size_px"][0] / d.sheet.size[0], np.zeros(2)
    # a DXF has no page: the same views by size, whatever they were called, then the offset
    true = [np.array(b).reshape(2, 2) for b in d.boxes_px.values()]
    found = [np.array(v["box_px"]).reshape(2, 2) for v in said["views"]]
    t, f = np.array(true), np.array(found)
    t_all, f_all = np.array([t[:, 0].min(0), t[:, 1].max(0)]), np.array([f[:, 0].min(0), f[:, 1].max(0)])
    k = float(np.max(f_all[1] - f_all[0]) / np.max(t_all[1] - t_all[0]))
    return k, f_all[0] - k * t_all[0]


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


# ---- runs and tables ------------------------------------------------------------------------------------------------
def run(first: int, end: int, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for number, (seed, kind, quick, wear, file) in list(enumerate(plan()))[first:end]:
        d = D.draw(seed, kind, quick=quick, wear=wear, file=file)
        row = {"number": number, "seed": seed, **judge_one(d, folder)}
        picture = row.pop("picture", None)
        if picture is not None and not all_right(row):
            picture.thumbnail((2400, 2400))
            picture.save(folder / f"{number:03d}.png")
        with (folder / "results.jsonl").open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")
        print(line(row), flush=True)


def line(row: dict) -> str:
    """A drawing in a line."""
    wear = "+".join(row["wear"]) or "clean"
    head = f"{row['number']:3d} {row['seed']} {row['kind']:5s} {'quick' if row['quick'] else 'draft'} {wear} {row['file']} [{row['style']}, {row['layout']}, nose {row['nose']}, pen {row['pen_px']:g}]"
    if row["failed"]:
        return f"{head} FAILED {row['failed'][:120]}"
    bits = [] if not row["views_wrong"] else [f"VIEWS {row['views_wrong']}"]
    if abs(row["scale"]) >= SCALE:
        bits.append(f"SCALE {100 * row['scale']:+.2f} %")
    for k, m in row["parts"].items():
        if good(m["honest"]):
            continue
        says = (
            "not found" if m["honest"] is None else f"{100 * m['honest'][0]:.2f}/{100 * m['honest'][1]:.2f}"
        )
        moved = " (x is off)" if good(m["free"]) else ""
        bits.append(f"{k} {says}{moved}")
    return f"{head} {'; '.join(bits) or 'ok'}  {row['seconds']:.1f} s"


def rows_of(folder: Path) -> list[dict]:
    rows = {}
    for text in (folder / "results.jsonl").read_text("utf-8").splitlines():
        row = json.loads(text)
        rows[row["number"]] = row
    return [rows[k] for k in sorted(rows)]


def _what(row: dict) -> str:
    if len(row["wear"]) > 1:
        return "combined"
    return row["wear"][0] if row["wear"] else ("clean" if row["file"] == "png" else row["file"])


def _share(rows: list[dict], true: Callable[[dict], bool]) -> str:
    return f"{sum(map(true, rows))}/{len(rows)}"


def _part(row: dict, key: str, how: str) -> Iterator[bool]:
    if row["failed"]:
        yield False
        return
    for k, m in row["parts"].items():
        if k == key or (key == "wing" and k.startswith("wing")):
            yield good(m[how])


def table(rows: list[dict]) -> str:
    """Rates by disturbance and kind, by part, by style."""
    kinds = planes_d.KINDS
    out = [
        "Whole drawings right (views, scale, wing, tail, body; honest):",
        "",
        f"| disturbance | {' | '.join(kinds)} | all |",
        "|---" * (len(kinds) + 2) + "|",
    ]
    names = [*dict.fromkeys(["clean", *D.WEARS, *D.FILES[1:], "combined"])]
    for name in [*names, "all"]:
        some = [r for r in rows if name in {_what(r), "all"}]
        if some:
            cells = [_share([r for r in some if r["kind"] == k], all_right) for k in kinds]
            out.append(f"| {name} | {' | '.join(cells)} | {_share(some, all_right)} |")
    out += [
        "",
        f"| part | {' | '.join(f'{k} honest' for k in kinds)} | honest | strict | x free | mean median, 90 % | worst median, 90 % |",
        "|---" * (len(kinds) + 6) + "|",
    ]
    for key in (*ROWS, "fin"):
        cells = []
        for k in kinds:
            got = [g for r in rows if r["kind"] == k for g in _part(r, key, "honest")]
            cells.append(f"{sum(got)}/{len(got)}")
        for how in ("honest", "strict", "free"):
            got = [g for r in rows for g in _part(r, key, how)]
            cells.append(f"{sum(got)}/{len(got)}")
        pairs = [
            m["honest"]
            for r in rows
            if not r["failed"]
            for k, m in r["parts"].items()
            if (k == key or (key == "wing" and k.startswith("wing"))) and m["honest"]
        ]
        for i in (0, 1):
            cells.append(
                ", ".join(f"{100 * np.percentile([p[i] for p in pairs], q):.2f}" for q in (50, 90))
                if pairs
                else "-"
            )
        out.append(f"| {key} | {' | '.join(cells)} |")
    fine = [r for r in rows if not r["failed"]]
    scales = sum(abs(r["scale"]) < SCALE for r in fine)
    out += [
        "",
        f"views right {sum(not r['views_wrong'] for r in fine)}/{len(rows)}; scale within 0.5 % {scales}/{len(rows)}",
    ]
    out.append(
        f"whole drawings honest {_share(rows, all_right)}, strict {_share(rows, lambda r: all_right(r, 'strict'))}"
    )
    out.append(
        f"refused {sum(bool(r['failed']) for r in rows)}; processor time median {np.median([r['seconds'] for r in rows]):.1f} s"
    )
    for field in ("style", "quick", "nose", "layout", "pen_px"):
        values = sorted({str(r[field]) for r in rows})
        out.append(
            f"{field}: "
            + ", ".join(f"{v} {_share([r for r in rows if str(r[field]) == v], all_right)}" for v in values)
        )
    return "\n".join(out)


if __name__ == "__main__":
    if sys.argv[1] == "run":
        run(*(int(v) for v in sys.argv[2].split(":")), Path(sys.argv[3]))
    else:
        every = rows_of(Path(sys.argv[2]))
        print(table(every))
        print()
        print(
            "\n".join(
                line(r)
                for r in every
                if not all_right(r) or not all(good(m["honest"]) for m in r["parts"].values())
            )
        )
