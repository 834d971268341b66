"""Write docs/errors.md from what the published checks recorded in their last run.

Run `make errors`: it runs tests/published and then this script.
"""

from __future__ import annotations

import json
from pathlib import Path

ROOT = Path(__file__).parent.parent


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
    print(f"docs/errors.md: {len(rows)} checks")


if __name__ == "__main__":
    main()
