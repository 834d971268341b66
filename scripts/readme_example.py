"""Run the README's Python example and write what it prints under it."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"


def main() -> None:
    text = README.read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.DOTALL)
    assert code is not None
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code[1], "README.md", "exec"), {})
    block = f"<!-- printed:start -->\n```\n{out.getvalue()}```\n<!-- printed:end -->"
    text = re.sub(r"<!-- printed:start -->.*?<!-- printed:end -->", lambda _: block, text, flags=re.DOTALL)
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
