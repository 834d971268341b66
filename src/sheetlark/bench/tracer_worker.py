"""The tracer's other end: marks in on each line, what was traced out; the last pictures stay open in between."""

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

    from sheetlark.bench.marks import read_marks
    from sheetlark.bench.picture import traced_picture
    from sheetlark.errors import SheetlarkError
    from sheetlark.trace import OpenPicture, open_picture

    opened: dict[tuple[object, ...], OpenPicture] = {}

    def say(message: dict[str, Any]) -> None:
        out.write(json.dumps(message) + "\n")
        out.flush()

    def tell(share: float, words: str) -> None:
        say({"share": share, "words": words})

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
                opened[key] = open_picture(file, page=marks.page, turned_deg=marks.turned_deg)
            say({"result": traced_picture(file, marks, tell, opened[key])})
        except SheetlarkError as error:
            say({"error": str(error)})
        except MemoryError:
            say({"error": "This needs more memory than there is. Save the picture smaller."})
        except Exception as error:  # noqa: BLE001 - the page says it in words
            say({"error": f"This could not be done ({type(error).__name__}: {error})."})


if __name__ == "__main__":
    main()
