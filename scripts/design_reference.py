"""Write docs/design-file.md from the design file's own models."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sheetlark.design import schema

ROOT = Path(__file__).parent.parent
TITLES = {"Design": "The file"}


def kind(field: dict[str, Any], defs: dict[str, Any]) -> str:
    if "$ref" in field:
        name = field["$ref"].rsplit("/", 1)[-1]
        return f"a [{name}](#{name.lower()}) table" if name in defs else name
    if "anyOf" in field:
        kinds = [kind(f, defs) for f in field["anyOf"] if f.get("type") != "null"]
        if set(kinds) == {"number", "text"}:
            return field.get("description", "a quantity")
        return " or ".join(dict.fromkeys(kinds))
    if "enum" in field:
        return ", ".join(f"`{v}`" for v in field["enum"])
    if "const" in field:
        return f"`{field['const']}`"
    if field.get("type") == "array":
        items = field.get("items")
        if items is None and "prefixItems" in field:
            return f"a list of {len(field['prefixItems'])}: {kind(field['prefixItems'][0], defs)}"
        return f"a list: {kind(items or {}, defs)}"
    return {"string": "text", "number": "number", "boolean": "true or false", "integer": "whole number"}.get(
        field.get("type", ""), field.get("type", "")
    )


def main() -> None:
    whole = schema()
    defs = whole["$defs"]
    lines = [
        "# The design file",
        "",
        "Made by `python scripts/design_reference.py` from the models; do not edit.",
        "",
        (
            "TOML. Lengths are bare millimetres or a text with a unit ('30 in', '2 ft 6 in', '1/4 in'), masses "
            "grams ('12 oz'), angles degrees, fractions 0 to 1 or '25 %'. Places are x aft of the nose datum, y to "
            "starboard, z up."
        ),
        "",
        "Point an editor at `design.schema.json` (also printed by `sheetlark schema`) and it completes and checks the file.",
    ]
    for name, table in [("Design", whole), *sorted(defs.items())]:
        if "properties" not in table:
            continue
        lines += ["", f"## {name}", "", (table.get("description") or "").split("\n")[0], ""]
        lines += ["| key | what | if left out |", "|---|---|---|"]
        for key, field in table["properties"].items():
            needed = key in table.get("required", [])
            default = (
                "must be given"
                if needed
                else f"`{field.get('default')}`"
                if field.get("default") not in (None, "", [])
                else "none"
            )
            said = field.get("description", "")
            what = kind(field, defs)
            text = what if said in what else f"{what}; {said}" if said else what
            lines.append(f"| `{key}` | {text.replace('|', '/')} | {default} |")
    (ROOT / "docs" / "design-file.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("docs/design-file.md written")


if __name__ == "__main__":
    main()
