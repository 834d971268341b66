"""The adviser's other end: one design in on each line, its findings with remedies out."""

from __future__ import annotations

import json
import os
import resource
import sys

_MEMORY_BYTES = 4_000_000_000


def main() -> None:
    """Answer until the input ends."""
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
    os.nice(8)  # a finger that drags comes first
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)

    from sheetlark.design import loads
    from sheetlark.errors import SheetlarkError
    from sheetlark.evaluation import evaluate
    from sheetlark.review import document
    from sheetlark.units import marked_quantities

    for line in sys.stdin:
        job = json.loads(line)
        try:
            evaluation = evaluate(loads(job["text"], name=job["name"]))
            with marked_quantities():
                answer = {"findings": document(evaluation)["findings"]}
        except SheetlarkError as error:
            answer = {"error": str(error)}
        except Exception as error:  # noqa: BLE001 - advice is a help, never a hindrance
            answer = {"error": f"{type(error).__name__}: {error}"}
        out.write(json.dumps(answer) + "\n")
        out.flush()


if __name__ == "__main__":
    main()
