"""The README's example runs, and prints what the README says it prints."""

import contextlib
import io
import re
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"


def printed():
    text = README.read_text("utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.DOTALL)[1]
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "README.md", "exec"), {})
    return text, out.getvalue()


def test_the_example_prints_what_it_says():
    text, got = printed()
    shown = re.search(r"<!-- printed:start -->\n```\n(.*?)```\n<!-- printed:end -->", text, re.DOTALL)[1]
    assert shown == got, "run: python scripts/readme_example.py"


def test_every_linked_file_is_there():
    text = README.read_text("utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        if "://" not in target:
            assert (README.parent / target).exists(), target
