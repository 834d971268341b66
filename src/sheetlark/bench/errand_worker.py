"""The other end of an errand: reads one job from standard input, tells its progress, prints its result."""

from __future__ import annotations

import base64
import json
import os
import resource
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sheetlark.errors import SheetlarkError

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation

Plain = dict[str, Any]
_MEMORY_BYTES = 6_000_000_000
_CPU_S = 900


def main() -> None:
    """Do the job that stands on standard input."""
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (_CPU_S, _CPU_S))
    # What libraries print must not come between the lines of the answer.
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)

    def say(message: Plain) -> None:
        out.write(json.dumps(message) + "\n")
        out.flush()

    job = json.loads(sys.stdin.readline())
    try:
        say({"result": _WORK[job["kind"]](job, lambda share, words: say({"share": share, "words": words}))})
    except SheetlarkError as error:
        say({"error": str(error)})
    except MemoryError:
        say({"error": "This needs more memory than there is. Try something smaller."})
    except Exception as error:  # noqa: BLE001 - the page says it in words
        say({"error": f"This could not be done ({type(error).__name__}: {error})."})


def _evaluated(job: Plain) -> Evaluation:
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate

    return evaluate(loads(job["text"], name=job["name"]))


def _sheets(job: Plain, tell: Any) -> Plain:
    """Lay the parts on sheets and draw each sheet."""
    from sheetlark.sheets import draw_nesting, nest, svg_text

    tell(0.0, "making the parts")
    e = _evaluated(job)
    nesting = nest(e.kit, e.stock, progress=lambda share, words: tell(0.1 + 0.8 * share, words))
    drawings = draw_nesting(nesting, e.plan_kit)
    return {
        "sheets": [
            {
                "name": layout.name,
                "width": layout.width_mm,
                "height": layout.height_mm,
                "used": layout.utilisation,
                "parts": len(layout.placed),
                "svg": svg_text(drawing),
            }
            for layout, drawing in zip(nesting.sheets, drawings, strict=True)
        ]
    }


def _proof(job: Plain, tell: Any) -> Plain:
    """Try every part in space."""
    from sheetlark.review import proof_values

    tell(0.1, "making the parts")
    e = _evaluated(job)
    tell(0.4, "trying every pair of parts and every position of what moves")
    return proof_values(e)


def _plans(job: Plain, tell: Any) -> Plain:
    """Write the plans into a folder of the project."""
    from sheetlark.sheets import read_measured_bar, write_plans

    e = _evaluated(job)
    bar = str(job.get("bar") or "").strip()
    files = write_plans(
        e.plan_kit,
        e.stock,
        Path(job["folder"]),
        papers=tuple(job.get("papers") or ("a4",)),
        scale=read_measured_bar(bar) if bar else None,
        progress=tell,
    )
    return {
        "folder": str(files.folder),
        "files": [f.name for f in files.files],
        "sheets": [{"name": s.name, "used": s.utilisation} for s in files.nesting.sheets],
        "pages": list(files.pages),
    }


def _look(job: Plain, tell: Any) -> Plain:
    """Read a picture, or refuse it; an uploaded one comes in the job itself."""
    from sheetlark.bench.picture import lying_in, seen_picture

    tell(0.2, "reading the picture")
    page = int(job.get("page") or 1)
    if "raw" not in job:
        return seen_picture(Path(job["file"]), page)
    with lying_in(Path(job["folder"]), str(job["name"]), base64.b64decode(job["raw"])) as file:
        return seen_picture(file, page)


def _flight(job: Plain, tell: Any) -> Plain:
    from sheetlark.bench.flown import flown

    tell(0.05, "evaluating")
    return flown(_evaluated(job), tell, int(job.get("seed") or 0))


def _build(job: Plain, tell: Any) -> Plain:
    from sheetlark.bench.built import built
    from sheetlark.design import edited

    tell(0.05, "making the parts")
    units = "imperial" if job.get("imperial") else "metric"
    text = edited(job["text"], {("model", "units"): units})  # read on the page, in the page's units
    return {"units": units, **built(_evaluated({**job, "text": text}), tell)}


def _taught(job: Plain, tell: Any) -> Plain:
    from sheetlark.bench.logged import taught
    from sheetlark.units import marked_quantities

    tell(0.05, "evaluating")
    evaluation = _evaluated(job)
    with marked_quantities():
        return taught(evaluation, Path(job["file"]), tell)


def _handbook(job: Plain, tell: Any) -> Plain:
    """Write the handbook into the plans' folder."""
    from sheetlark.handbook import write_handbook

    tell(0.1, "finding the order of building")
    files = write_handbook(_evaluated(job), Path(job["folder"]), papers=tuple(job.get("papers") or ("a4",)))
    return {"folder": job["folder"], "files": [f.name for f in (*files.pdf, files.page, *files.gauges)]}


def _pack(job: Plain, tell: Any) -> Plain:
    """Write everything into one file, to keep or to give away."""
    from sheetlark.handbook import write_pack
    from sheetlark.logbook import load_log, log_path

    log = load_log(log_path(job["file"]))
    papers = tuple(job.get("papers") or ("a4",))
    out = Path(job["folder"]) / f"{Path(job['file']).stem}.zip"
    file = write_pack(_evaluated(job), out, log=log, papers=papers, progress=tell)
    return {"folder": job["folder"], "files": [file.name]}


def _match(job: Plain, tell: Any) -> Plain:
    from sheetlark.bench.matched import matched
    from sheetlark.units import marked_quantities

    tell(0.1, "solving every combination in stock")
    evaluation = _evaluated(job)
    with marked_quantities():
        return matched(evaluation, str(job.get("aim") or "sport"), tell)


_WORK = {
    "proof": _proof,
    "sheets": _sheets,
    "plans": _plans,
    "look": _look,
    "flight": _flight,
    "match": _match,
    "build": _build,
    "taught": _taught,
    "handbook": _handbook,
    "pack": _pack,
}

if __name__ == "__main__":
    main()
