"""Rates of the tracing on the fourth hand's drawings, and each failure in a line.

`python tests/trace/rates_d.py run 0:40 OUT` judges drawings 0..39 of the plan, a JSON line each in OUT/results.jsonl
and, of each that fails, a picture with truth (green) and what was found (red); `... table OUT` prints rates.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
import drawing_d as D  # noqa: N812
import planes_d
from judge_d import SCALE, all_right, good, judge_one

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
