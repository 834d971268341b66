"""How well the tracing does on one hand's drawings: `python tests/trace/rates.py --hand c --kind biplane --wear heavy
--seeds 100:130`.

One line a drawing, then a table of rates. `whole` measures closed outlines both ways (`judge.apart`); `seen` leaves out
what the drawing does not show (covered and not drawn, a fin's foot, a canopy either reading of which is right). Side
views are first moved along z to fit, for no datum in z is agreed; x is as stated, and `seen, x free` also moves along x.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from PIL import Image
from scipy.optimize import minimize
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).parent))
import judge
import lines

from sheetlark.trace import Tracing, trace_picture

Points = np.ndarray
MEAN, WORST, SCALE = 0.006, 0.015, 0.005  # shares of the span; relative scale error


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A drawing of any hand. truth: (part, name, view, points, uncounted region)."""

    image: Image.Image
    span_mm: float
    mm_per_px: float
    truth: tuple[tuple[str, str, str, Points, shapely.Geometry], ...]
    boxes_px: dict[str, tuple[float, float, float, float]] = field(default_factory=dict)
    centres_px: dict[str, tuple[float, float]] = field(default_factory=dict)
    noses: dict[str, str] = field(default_factory=dict)  # top, side: which way on the page
    things: tuple[lines.Thing, ...] = ()  # hinges, struts, legs, wheels; hand c alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """(mean, worst) in shares of the span, for the whole outline, its seen stretches, and those with x free."""

    whole: tuple[float, float]
    seen: tuple[float, float]
    free: tuple[float, float]


def _hand_a(seed: int, kind: str, wear: str) -> Case:
    import drawing as D  # noqa: N812

    plane = D.aeroplane(seed, {"monoplane": "mono", "biplane": "bi"}.get(kind, kind))
    how = {} if wear == "clean" else D.disturbances(seed)
    d = D.draw(plane, seed, **how)
    nothing = shapely.Polygon()
    named = {"wing-upper": ("wing", "upper"), "wing-lower": ("wing", "lower")}
    wanted = {"top": {"wing", *named, "tail", "body"}, "side": {"body", "fin"}}
    truth = [
        (*named.get(k, (k, "")), view, np.asarray(p), nothing)
        for view, parts in (("top", plane.top), ("side", plane.side))
        for k, p in parts.items()
        if k in wanted[view]
    ]
    return Case(
        image=d.image,
        span_mm=plane.span_mm,
        mm_per_px=d.mm_per_px,
        truth=tuple(truth),
        boxes_px=dict(d.boxes_px),
        noses=dict(zip(("top", "side"), A_NOSES[str(how.get("layout", "nose-up"))], strict=True)),
    )


A_NOSES = {  # of hand a's layouts
    "nose-up": ("up", "left"),
    "nose-left": ("left", "left"),
    "nose-right": ("right", "right"),
    "column": ("left", "left"),
    "mixed": ("up", "right"),
}


def _hand_b(seed: int, kind: str, wear: str) -> Case:
    import drawing_b as B  # noqa: N812

    m = B.model(seed, {"monoplane": "mono", "biplane": "bi"}.get(kind, kind))
    how = B.habits(seed, wear)
    page = B.draw(m, seed, **how)
    truth = [
        (part.split("-")[-1], part.rpartition("-")[0], view, np.asarray(p), shapely.Polygon())
        for (part, view), p in m.truth.items()
    ]
    return Case(
        image=page.image,
        span_mm=m.span_mm,
        mm_per_px=page.mm_per_px,
        truth=tuple(truth),
        centres_px=dict(page.centres_px),
        noses={"top": str(how["nose"]), "side": str(how["side_nose"])},
    )


def _hand_c(seed: int, kind: str, wear: str) -> Case:
    import drawing_c as C  # noqa: N812

    d = C.draw(seed, kind, wear)
    return Case(
        image=Image.fromarray(d.image),
        span_mm=d.span_mm,
        mm_per_px=d.scale_mm_per_px,
        truth=tuple((o.part, o.name, o.view, o.points, o.uncounted) for o in d.outlines),
        boxes_px=d.boxes_px,
        noses={k: v for k, v in d.noses.items() if k != "front"},
        things=tuple(lines.things_of_c(seed, kind)),
    )


HANDS: dict[str, Callable[[int, str, str], Case]] = {"a": _hand_a, "b": _hand_b, "c": _hand_c}


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    both = max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
    area = sum((q[2] - q[0]) * (q[3] - q[1]) for q in (a, b))
    return both / max(area - both, 1e-9)


def views_right(case: Case, t: Tracing) -> bool:
    """All views found, each where it is: boxes overlap by half, or the view's middle lies in the box."""
    found = {v.kind: v.box_px for v in t.views}
    if case.boxes_px:
        return all(k in found and _overlap(found[k], b) > 0.5 for k, b in case.boxes_px.items())
    return all(
        k in found and found[k][0] <= x <= found[k][2] and found[k][1] <= y <= found[k][3]
        for k, (x, y) in case.centres_px.items()
    )


def seen_apart(
    traced: Points, true: Points, uncounted: shapely.Geometry, step: float
) -> tuple[float, float] | None:
    """Mean and worst distance both ways over what counts; None when less than a fifth of the truth does."""
    la, lb = shapely.LinearRing(traced), shapely.LinearRing(true)
    pa = shapely.line_interpolate_point(la, np.arange(0, la.length, step))
    pb = shapely.line_interpolate_point(lb, np.arange(0, lb.length, step))
    shapely.prepare(uncounted)
    ka, kb = ~shapely.contains(uncounted, pa), ~shapely.contains(uncounted, pb)
    if kb.mean() < 0.2 or not ka.any():
        return None
    d = np.r_[shapely.distance(pa[ka], lb), shapely.distance(pb[kb], la)]
    return float(d.mean()), float(d.max())


def _best_shift(
    traced: Points, true: Points, hidden: shapely.Geometry, span: float, along: tuple[bool, bool]
) -> Points:
    """The move along the free axes that fits best."""
    start = (true.max(0) + true.min(0) - traced.max(0) - traced.min(0)) / 2 * along
    axes = np.flatnonzero(along)

    # points against points: quick, and near enough to choose a move by
    pa, pb = (
        shapely.get_coordinates(shapely.line_interpolate_point(ring, np.arange(0, ring.length, span / 1500)))
        for ring in (shapely.LinearRing(traced), shapely.LinearRing(true))
    )
    ta, tb = cKDTree(pa), cKDTree(pb)
    shapely.prepare(hidden)
    some_a, some_b = pa[::8], pb[::8]
    some_b = some_b[~shapely.contains(hidden, shapely.points(some_b))]

    def cost(move: Points) -> float:
        full = np.zeros(2)
        full[axes] = move
        at = some_a + full
        at = at[~shapely.contains(hidden, shapely.points(at))]
        return float(np.r_[tb.query(at)[0], ta.query(some_b - full)[0]].mean())

    best = min((start[axes], np.zeros(len(axes))), key=cost)
    first = np.vstack([best, best + np.eye(len(axes)) * span * 0.01])
    done = minimize(
        cost,
        best,
        method="Nelder-Mead",
        options={"initial_simplex": first, "maxfev": 35, "xatol": span * 1e-4},
    )
    out = np.zeros(2)
    out[axes] = done.x
    return out


def noses_right(case: Case, t: Tracing) -> bool:
    """Whether the nose points the right way in the top view, and in the side view where that was found."""
    found = {v.kind: v.nose for v in t.views}
    return all(found.get(k, n if k == "side" else "") == n for k, n in case.noses.items())


def side_shift(case: Case, t: Tracing) -> Points:
    """The move (x, z) of the side view that lays its body on the true one. [mm]"""
    got = t.outline("body", "side")
    true = next((o for o in case.truth if (o[0], o[2]) == ("body", "side")), None)
    if got is None or true is None:
        return np.zeros(2)
    ring = judge.ring(got.path)
    return _best_shift(ring, true[3], true[4], case.span_mm, (True, True))


def fits(case: Case, t: Tracing) -> dict[str, Fit | None]:
    """Each true outline against the nearest traced one of its part and view; None: not found.

    Outlines of which too little shows are left out.
    """
    got: dict[str, Fit | None] = {}
    span = case.span_mm
    body_z = np.zeros(2)
    order = sorted(case.truth, key=lambda o: (o[2] == "side", o[0] != "body"))
    for part, name, view, true, hidden in order:
        key = {("body", "top"): "body width", ("body", "side"): "body side"}.get((part, view), part)
        if part == "wing" and name in {"upper", "lower"}:
            key = f"wing {name}"
        shown = seen_apart(true, true, hidden, span / 300)
        if shown is None:
            continue
        rings = [judge.ring(o.path) for o in t.outlines if o.part == part and o.view == view]
        rings = [p for p in rings if len(p) > 3]
        if not rings:
            got[key] = None
            continue
        best: Fit | None = None
        for p in rings:
            if view == "side" and part == "body":
                body_z = _best_shift(p, true, hidden, span, (False, True))
            moved = p + body_z if view == "side" else p
            seen = seen_apart(moved, true, hidden, span / 400)
            if seen is None:
                continue
            free = moved + _best_shift(moved, true, hidden, span, (True, view == "side"))
            loose = seen_apart(free, true, hidden, span / 400) or seen
            fit = Fit(
                whole=tuple(v / span for v in judge.apart(moved, true)),  # type: ignore[arg-type]
                seen=(seen[0] / span, seen[1] / span),
                free=(loose[0] / span, loose[1] / span),
            )
            if best is None or fit.seen[0] < best.seen[0]:
                best = fit
        got[key] = best
    return got


def _good(e: tuple[float, float]) -> bool:
    return e[0] < MEAN and e[1] < WORST


def run(hand: str, kind: str, wear: str, seeds: range) -> None:
    """Trace each drawing and print."""
    rows: dict[str, list[Fit | None]] = {}
    views = scales = noses = 0
    seen: dict[tuple[str, str, str], list[float | None]] = {}
    strays: Counter[str] = Counter()
    failures: Counter[str] = Counter()
    times: list[float] = []
    for seed in seeds:
        case = HANDS[hand](seed, kind, wear)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "three-view.png"
            case.image.save(path)
            start = time.process_time()
            try:
                t = trace_picture(str(path), span_m=case.span_mm / 1000)
            except Exception as e:  # noqa: BLE001  a failure is a result here
                times.append(time.process_time() - start)
                failures[f"{type(e).__name__}: {str(e)[:60]}"] += 1
                for part, name, view, *_ in case.truth:
                    key = {("body", "top"): "body width", ("body", "side"): "body side"}.get(
                        (part, view), part
                    )
                    rows.setdefault(
                        f"wing {name}" if part == "wing" and name in {"upper", "lower"} else key, []
                    ).append(None)
                print(f"{seed:5d} failed: {type(e).__name__}: {str(e)[:100]}", flush=True)
                continue
            times.append(time.process_time() - start)
        right = views_right(case, t)
        top = [v.scale_mm_per_px for v in t.views if v.kind == "top"] or [v.scale_mm_per_px for v in t.views]
        off = top[0] / case.mm_per_px - 1 if top else np.inf
        views += right
        turned = noses_right(case, t)
        noses += turned
        found, stray = lines.found_things(list(case.things), t, side_shift(case, t), case.span_mm)
        for f in found:
            seen.setdefault((f.thing.part, f.thing.name, f.thing.view), []).append(f.error)
        strays.update(stray if case.things or hand == "c" else ())
        scales += abs(off) < SCALE
        got = fits(case, t)
        for key, fit in got.items():
            rows.setdefault(key, []).append(fit)
        said = "  ".join(
            f"{k} "
            + (
                "none"
                if f is None
                else f"{100 * f.seen[0]:.2f}/{100 * f.seen[1]:.2f}" + ("" if _good(f.seen) else "!")
            )
            for k, f in got.items()
        )
        print(
            f"{seed:5d} views {'ok' if right else 'NO'} nose {'ok' if turned else 'NO'} scale {100 * off:+.2f} %  {said}  {times[-1]:.1f} s",
            flush=True,
        )
    n = len(seeds)
    print(
        f"\nhand {hand}, {kind}, {wear}, {n} drawings: views {views}/{n}, noses {noses}/{n}, "
        f"scale within 0.5 % {scales}/{n}, ",
        end="",
    )
    print(
        f"processor time median {np.median(times):.1f} s, longest {max(times):.1f} s; failed {sum(failures.values())}"
    )
    for what, count in failures.most_common():
        print(f"  {count} x {what}")
    print(
        "| part | whole | seen | seen, x free | seen mean: median, 90 % | seen worst: median, 90 % | (% of span)"
    )
    for key, fs in rows.items():
        have = [f for f in fs if f is not None]
        rate = " | ".join(
            f"{sum(_good(getattr(f, w)) for f in have)}/{len(fs)}" for w in ("whole", "seen", "free")
        )
        cols = " | ".join(
            ", ".join(f"{100 * np.percentile([f.seen[i] for f in have], q):.2f}" for q in (50, 90))
            if have
            else "none"
            for i in (0, 1)
        )
        print(f"| {key} | {rate} | {cols} |")
    for (part, name, view), errors in sorted(seen.items()):
        right_ones = [e for e in errors if e is not None]
        off = f"{100 * np.median(right_ones):.2f} % of span off in the middle" if right_ones else ""
        print(f"| {part} {name}, {view} | {len(right_ones)}/{len(errors)} | {off} |")
    if strays:
        print("found but not there: " + ", ".join(f"{k} x {n}" for k, n in strays.most_common()))


def main() -> None:
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    ask.add_argument("--hand", choices=sorted(HANDS), default="c")
    ask.add_argument("--kind", default="monoplane", help="monoplane, biplane, delta; hand c also canard")
    ask.add_argument("--wear", choices=("clean", "mild", "heavy"), default="clean")
    ask.add_argument("--seeds", default="0:10", help="first:end")
    said = ask.parse_args()
    first, end = (int(v) for v in said.seeds.split(":"))
    run(said.hand, said.kind, said.wear, range(first, end))


if __name__ == "__main__":
    main()
