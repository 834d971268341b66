"""The tracer's other end: marks in on each line, what was traced out; the last pictures stay open in between.

What changes only the design made of a picture, such as its name or a simplification, traces nothing anew.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from pathlib import Path
from typing import Any

_MEMORY_BYTES = 6_000_000_000
_KEPT = 2


def main() -> None:
    """Answer until the input ends."""
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
    os.nice(4)  # a finger that draws comes first
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)

    from sheetlark.bench import picture
    from sheetlark.bench.marks import read_marks
    from sheetlark.errors import SheetlarkError
    from sheetlark.trace import OpenPicture, Tracing

    opened: dict[tuple[object, ...], OpenPicture] = {}
    last: tuple[object, Tracing | None] = None, None  # what was traced last, and what it came to

    def say(message: dict[str, Any]) -> None:
        out.write(json.dumps(message) + "\n")
        out.flush()

    def tell(share: float, words: str, so_far: dict[str, Any] | None = None) -> None:
        say({"share": share, "words": words, "so_far": so_far})

    for line in sys.stdin:
        job = json.loads(line)
        try:
            file, marks = Path(job["file"]), read_marks(job["marks"])
            stamp = (file.stat().st_mtime_ns, file.stat().st_size) if file.is_file() else ()
            key = (file, *stamp, marks.page, marks.turned_deg)
            if not stamp or key not in opened:
                tell(0.1, "finding the views")
                while len(opened) >= _KEPT:
                    opened.pop(next(iter(opened)))
                opened[key] = picture.opened(file, marks)
            tracing = last[1]
            if tracing is None or last[0] != (key, marks.looked_at()):
                tell(0.3, "finding the outlines")
                tracing = picture.traced(file, marks, opened[key])
                last = (key, marks.looked_at()), tracing
            say({"result": picture.made_of(tracing, marks, tell)})
        except SheetlarkError as error:
            say({"error": str(error)})
        except MemoryError:
            say({"error": "This needs more memory than there is. Save the picture smaller."})
        except Exception as error:  # noqa: BLE001 - the page says it in words
            say({"error": f"This could not be done ({type(error).__name__}: {error})."})


if __name__ == "__main__":
    main()
