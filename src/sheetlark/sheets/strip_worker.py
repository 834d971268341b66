"""A child process that packs outlines, so that a crash inside a packer never reaches the caller.

Run as a script: a job in JSON on standard input, the places in JSON on standard output. It imports nothing of
this package, to start in a few hundredths of a second.

How far the strip packer has come depends on the clock, but the sequence of its reports does not (one worker,
one seed). So the work is counted in reports and never in seconds, and the same job gives the same places on
any machine, idle or busy.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any

FAILED_SHRINKS = 3  # reports of no success in a row that end the search; common practice, no source
TIME_CAP_S = 600  # far above any budget met in use: a cap that bites would make results depend on the clock


def pack_strip(job: dict[str, Any]) -> list[list[Any]] | None:
    """Pack everything onto one sheet: a strip of its height, no longer than its width."""
    import spyrrow

    gap = job["gap"]
    # The packer keeps its gap to the strip's edges too, which the sheet's margin already provides.
    height, limit = job["height"] + 2 * gap, job["width"] + 2 * gap
    items = [
        spyrrow.Item(str(i), [tuple(p) for p in item["points"]], 1, [float(t) for t in item["turns"]])
        for i, item in enumerate(job["items"])
    ]
    instance = spyrrow.StripPackingInstance("sheet", height, items)
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        min_items_separation=gap if gap > 0 else None,
        seed=job["seed"],
        num_workers=1,
        total_computation_time=None,
        exploration_time=TIME_CAP_S,
        compression_time=0,
    )
    queue = spyrrow.ProgressQueue()
    thread = threading.Thread(target=lambda: instance.solve(config, queue), daemon=True)
    thread.start()
    reports = failed = 0
    while True:
        alive = thread.is_alive()
        for kind, solution in queue.drain():
            reports += 1
            if kind == spyrrow.ReportType.ExplFeas and solution.width <= limit:
                return [
                    [int(p.id), p.rotation, p.translation[0] - gap, p.translation[1] - gap, 0]
                    for p in solution.placed_items
                ]
            failed += kind == spyrrow.ReportType.ExplInfeas
            if failed >= FAILED_SHRINKS or reports >= job["reports"]:
                return None
        if not alive:
            return None
        time.sleep(0.01)


def pack_sheets(job: dict[str, Any]) -> list[list[Any]] | None:
    """Pack everything onto as many sheets as it takes, one part after another (no-fit polygons)."""
    from math import degrees

    import u_nesting

    geometries = [
        {"id": str(i), "polygon": item["points"], "quantity": 1, "rotations": item["turns"]}
        for i, item in enumerate(job["items"])
    ]
    result = u_nesting.solve_2d(
        geometries,
        {"width": job["width"], "height": job["height"]},
        {"strategy": "nfp", "spacing": job["gap"], "margin": 0, "multi_sheet": True, "time_limit_ms": 0},
    )
    if not result["success"] or not result["all_placed"]:
        return None
    return [
        [int(p["geometry_id"]), degrees(p["rotation"][0]), *p["position"], p["boundary_index"]]
        for p in result["placements"]
    ]


def main() -> None:
    """Read a job, do it, write the places, leave without waiting for the packer's threads."""
    job = json.load(sys.stdin)
    places = (pack_strip if job["method"] == "strip" else pack_sheets)(job)
    json.dump(places, sys.stdout)
    sys.stdout.flush()
    os._exit(0)


if __name__ == "__main__":
    main()
