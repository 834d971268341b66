"""Write docs/errors.md from what the published checks recorded in their last run.

Run `make errors`: it runs tests/published and then this script. A page of docs/ that has the two lines BEGIN and END
gets a short table between them: its own room's rows, alike cases together, the worst error of each.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent

BEGIN, END = "<!-- errors: made by make errors, do not edit -->", "<!-- end of errors -->"


def worst_of(rows: list[dict[str, str]]) -> list[str]:
    """Lines of a table: cases that differ in their figures only stand together, with the worst against its ceiling."""
    groups: dict[tuple[str, str], list[dict[str, str]]] = {}
    for row in rows:
        name = re.sub(r"[-+]?\d+(\.\d+)?( ?%)?", "n", row["case"])
        groups.setdefault((name, row["source"]), []).append(row)

    def size(text: str) -> float:
        return float(text.split(maxsplit=1)[0]) * (0.01 if text.endswith("%") else 1.0)

    lines = ["| case | worst error | allowed | cases | source |", "|---|---|---|---|---|"]
    for (name, source), alike in sorted(groups.items()):
        worst = max(alike, key=lambda r: size(r["error"]) / size(r["allowed"]))
        label = worst["case"] if len(alike) == 1 else name
        cells = [label, worst["error"], worst["allowed"], str(len(alike)), source]
        lines.append(f"| {' | '.join(c.replace('|', '/') for c in cells)} |")
    return lines


def fill(rows: list[dict[str, str]]) -> None:
    """Rewrite the tables inside the rooms' own pages."""
    for page in sorted((ROOT / "docs").glob("*.md")):
        text = page.read_text(encoding="utf-8")
        if BEGIN not in text or END not in text:
            continue
        own = [r for r in rows if r["room"] == page.stem or r["room"].startswith(page.stem + "_")]
        head, rest = text.split(BEGIN, 1)
        tail = rest.split(END, 1)[1]
        table = "\n".join(worst_of(own))
        page.write_text(f"{head}{BEGIN}\n\n{table}\n\n{END}{tail}", encoding="utf-8")


def main() -> None:
    rows = [
        json.loads(f.read_text(encoding="utf-8")) for f in sorted((ROOT / ".published-errors").glob("*.json"))
    ]
    if not rows:
        raise SystemExit("no recorded errors: run pytest tests/published first")
    lines = [
        "# Errors against published values",
        "",
        "Made by `make errors` from the tests in tests/published; do not edit.",
        "'Allowed' is the ceiling the test enforces. Sources are as the tests name them.",
    ]
    for room in sorted({row["room"] for row in rows}):
        lines += [
            "",
            f"## {room.replace('_', ' ')}",
            "",
            "| case | error | allowed | source |",
            "|---|---|---|---|",
        ]
        for row in sorted((r for r in rows if r["room"] == room), key=lambda r: r["case"]):
            cells = [str(row[k]).replace("|", "/") for k in ("case", "error", "allowed", "source")]
            lines.append(f"| {' | '.join(cells)} |")
    (ROOT / "docs" / "errors.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    fill(rows)
    print(f"docs/errors.md: {len(rows)} checks")


if __name__ == "__main__":
    main()
