"""How long a picture takes to become a reviewed design: the commands `trace` and `review`, started anew for each drawing.

`python benchmarks/bench_picture_to_review.py OLD/src NEW/src a1 d2 b3` does it with each state of the code in turn and
prints the seconds on the clock and of the processor: of `a`, `b` and `d` (clean monoplanes, biplanes and deltas by
number) or of the hands f, g, h. With the word `at-once` the one command `trace --review` does both. Compile the modules
first, as an installation does: `python -m compileall -q OLD/src NEW/src`.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "trace"))
import bench_trace
import drawing

CLEAN = {"a": "mono", "b": "bi", "d": "delta"}
NAMES = tuple(f"{kind}{number}" for number in (1, 2, 3, 4) for kind in CLEAN)
COMMAND = "from sheetlark.cli import main; main()"


def saved(name: str, folder: Path) -> Path:
    """The drawing of a name, as a file."""
    kind, number = name[0], int(name[1:])
    if kind not in CLEAN:
        return bench_trace.saved(name, folder)
    file = folder / f"{name}.png"
    drawing.draw(drawing.aeroplane(number, CLEAN[kind]), number, pen=2.0, style="wire").image.save(file)
    return file


def took(source: str, *words: str) -> tuple[float, float]:
    """Seconds on the clock and of the processor for one command."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", COMMAND, *words],
        env={**os.environ, "PYTHONPATH": source},
        stdout=subprocess.DEVNULL,
        check=True,
    )
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def both(source: str, picture: Path, design: Path, *, at_once: bool) -> tuple[float, float]:
    """Seconds on the clock and of the processor from picture to review."""
    trace = "trace", str(picture), "--span", "760 mm", "-o", str(design), "--force"
    if at_once:
        return took(source, *trace, "--review")
    traced = took(source, *trace)
    reviewed = took(source, "review", str(design))
    return traced[0] + reviewed[0], traced[1] + reviewed[1]


def main(sources: list[str], names: list[str], *, at_once: bool) -> None:
    """The better of two rounds of each, a line a drawing."""
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            at = Path(folder) / name
            at.mkdir()
            picture = saved(name, at)
            rounds = [
                [both(s, picture, at / "made.toml", at_once=at_once) for s in sources] for _ in range(2)
            ]
            best = [min(times) for times in zip(*rounds, strict=True)]
            print(name, *(f"{wall:.1f} s ({cpu:.1f})" for wall, cpu in best), flush=True)


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != "at-once"]
    sources = [word for word in words if Path(word).is_dir()]
    names = [word for word in words if word not in sources]
    main(sources, names or list(NAMES), at_once="at-once" in sys.argv)
