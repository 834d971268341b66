"""Rates of the tracing through the command line on the drawings of hand d, f, g, h or r, and each failure in a line.

`python tests/trace/rates_files.py d run 0:40 OUT` judges drawings 0..39, a JSON line each in OUT/results.jsonl and, of
each that fails, a picture with truth (green) and what was found (red); `... d table OUT` prints rates. Drawings of
hand d go by their number in a plan that mixes kinds and disturbances; those of f, g, h and r by their seed.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
import drawing_d
import drawing_f
import drawing_g
import drawing_h
import drawing_r
import planes_d
from examiner import SCALE, Drawing, all_right, good, judge_one

ROWS = (
    "wing",
    "tail",
    "body top",
    "body side",
)  # the parts the statement names; the fin is judged beside them

TOLD = ("temper", "style", "layout", "nose", "pen_px")  # what a drawing tells of itself beside its kind


def plan_d() -> list[tuple[int, str, bool, tuple[str, ...], str]]:
    """Hand d's drawings, kinds and disturbances mixed: (seed, kind, quick, wear, file)."""
    wears, files = drawing_d.WEARS, drawing_d.FILES[1:]
    single: list[tuple[tuple[str, ...], str]] = [((), "png"), *(((w,), "png") for w in wears)]
    single += [((), f) for f in files]
    out = []
    rng = np.random.default_rng(4)
    order = [*single, *[None] * 13]
    for i in range(len(order)):
        for k, kind in enumerate(planes_d.KINDS):
            one = order[(i * 7 + k * 5) % len(order)]
            seed = 1000 + 4 * i + k
            if one is None:
                few = rng.choice(wears, rng.integers(2, 4), replace=False)
                one = (tuple(w for w in wears if w in few), str(rng.choice(["png", "jpg"])))
            out.append((seed, kind, (i + k) % 2 == 1, *one))
    return out


def _drawing_d(number: int) -> Drawing:
    seed, kind, quick, wear, file = plan_d()[number]
    return drawing_d.draw(seed, kind, quick=quick, wear=wear, file=file)


HANDS: dict[str, Callable[[int], Drawing]] = {
    "d": _drawing_d,
    "f": drawing_f.draw,
    "g": drawing_g.draw,
    "h": drawing_h.draw,
    "r": drawing_r.draw,
}


def run(hand: str, first: int, end: int, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(first, end):
        row = {"number": number, **judge_one(HANDS[hand](number), folder)}
        picture = row.pop("picture", None)
        if picture is not None and not all_right(row):
            picture.thumbnail((2400, 2400))
            picture.save(folder / f"{number:03d}.png")
        with (folder / "results.jsonl").open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")
        print(line(row), flush=True)


def line(row: dict) -> str:
    """A drawing in a line."""
    told = ", ".join(f"{k} {row[k]}" for k in TOLD if k in row)
    head = f"{row['number']:3d} {row['kind']} {'+'.join(row['wear']) or 'clean'} {row['file']} [{told}]"
    if row["failed"]:
        return f"{head} FAILED {row['failed'][:120]}"
    bits = [] if not row["views_wrong"] else [f"VIEWS {row['views_wrong']}"]
    if abs(row["scale"]) >= SCALE:
        bits.append(f"SCALE {100 * row['scale']:+.2f} %")
    bits += [f"{part} that is not there" for part in row["extra"]]
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
    kinds = sorted({r["kind"] for r in rows})
    out = [
        "Whole drawings right (views, scale, wing, tail, body; honest):",
        "",
        f"| disturbance | {' | '.join(kinds)} | all |",
        "|---" * (len(kinds) + 2) + "|",
    ]
    names = sorted({_what(r) for r in rows} - {"clean", "combined"})
    for name in ["clean", *names, "combined", "all"]:
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
    for field in [f for f in TOLD if f in rows[0]]:
        values = sorted({r[field] for r in rows})
        rates = [f"{v} {_share([r for r in rows if r[field] == v], all_right)}" for v in values]
        out.append(f"{field}: {', '.join(rates)}")
    return "\n".join(out)


if __name__ == "__main__":
    hand, what, *rest = sys.argv[1:]
    if what == "run":
        first, end = (int(v) for v in rest[0].split(":"))
        run(hand, first, end, Path(rest[1]))
    else:
        every = rows_of(Path(rest[0]))
        print(table(every))
        print()
        print(
            "\n".join(
                line(r)
                for r in every
                if not all_right(r) or not all(good(m["honest"]) for m in r["parts"].values())
            )
        )
