"""How long three-views take to trace, in processor time: a clean and a disturbed one, and the first of hands f and g.

`python benchmarks/bench_trace.py OLD/src NEW/src f0 f4 g1` traces drawings with two states of the code in turn, each in a
process of its own, and prints the processor time of both: what the neighbours on a machine do then falls on both alike.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "trace"))
import drawing
import rates_files

SPAN_M = 0.76
OF_HANDS = ("f0", "f1", "f3", "g0", "g2", "g4")  # monoplanes, biplanes and deltas


def saved(name: str, folder: Path) -> Path:
    """A drawing as its hand saves it; its name is the hand's letter and the drawing's number."""
    return rates_files.HANDS[name[0]](int(name[1:])).save(folder)


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("state", ["clean", "disturbed"])
def test_trace(benchmark, tmp_path, state):
    from sheetlark.trace import trace_picture

    plane = drawing.aeroplane(1)
    how = drawing.disturbances(1) if state == "disturbed" else {"pen": 2.0, "style": "wire"}
    file = tmp_path / "a.png"
    drawing.draw(plane, 1, **how).image.save(file)
    benchmark.pedantic(trace_picture, args=(file,), kwargs={"span_m": SPAN_M}, rounds=2)


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("name", OF_HANDS)
def test_trace_of_hands(benchmark, tmp_path, name):
    from sheetlark.trace import trace_picture

    file = saved(name, tmp_path)
    trace_picture(file, span_m=SPAN_M)  # what is imported on the way is no part of it
    benchmark.pedantic(trace_picture, args=(file,), kwargs={"span_m": SPAN_M}, rounds=2)


TRACER = f"""
import sys, time
from sheetlark.trace import trace_picture
for line in sys.stdin:
    start = time.process_time()
    trace_picture(line.strip(), span_m={SPAN_M})
    print(time.process_time() - start, flush=True)
"""


def beside(sources: list[str], names: list[str]) -> None:
    """Trace each drawing with each state of the code in turn, the better of two counts, and print a line each."""
    tracers = [
        subprocess.Popen(
            [sys.executable, "-c", TRACER],
            env={**os.environ, "PYTHONPATH": source, "OMP_NUM_THREADS": "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for source in sources
    ]

    def took(tracer: subprocess.Popen[str], file: Path) -> float:
        tracer.stdin.write(f"{file}\n")
        tracer.stdin.flush()
        return float(tracer.stdout.readline())

    total = [0.0] * len(tracers)
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            at = Path(folder) / name
            at.mkdir()
            file = saved(name, at)
            rounds = [[took(t, file) for t in tracers] for _ in range(3)]  # the first one imports
            best = [min(times) for times in zip(*rounds[1:], strict=True)]
            total = [a + b for a, b in zip(total, best, strict=True)]
            print(name, *(f"{t:.2f} s" for t in best), flush=True)
    print("all", *(f"{t:.2f} s" for t in total), f"{total[-1] / total[0]:.2f} times")


if __name__ == "__main__":
    beside(sys.argv[1:3], sys.argv[3:] or list(OF_HANDS))
