"""From a drag to repainted figures and 3-D model, in Chromium; first paint; memory over many edits.

Run it alone for the figures:  python benchmarks/bench_bench.py [EDITS]
or `drags [STARTER ...] [--only=WORDS] [--emulated]` or `memory [EDITS]` for those alone; and for the pictures of the documentation:
python benchmarks/bench_bench.py pictures
`make bench` runs the drag as a benchmark too. Needs Chromium; the bench runs in a process of its own.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

# As Chromium sets itself up without a graphics card: WebGL in software, the page painted by the processor.
FLAGS = [
    "--no-sandbox",
    "--enable-unsafe-swiftshader",
    "--enable-precise-memory-info",
    "--js-flags=--expose-gc",
]
# The page painted as well by a graphics card that is emulated: no machine does so by itself, and each frame takes
# some 100 ms of a processor.
EMULATED = [*FLAGS, "--use-angle=swiftshader"]

# Waits, frame by frame, until the figures of the newest preview stand in the panel and the model was drawn again.
REPAINTED = """(before) => new Promise((yes) => {
  const canvas = document.querySelector('.third-view canvas');
  const began = performance.now();
  const look = () => {
    if (performance.now() - began > 8000) { yes(null); return; }
    const { asked, shown } = document.body.dataset;
    if (asked !== before.asked && shown === asked && canvas.dataset.frames !== before.frames) yes(performance.now() - window.movedAt);
    else requestAnimationFrame(look);
  };
  look();
})"""
NOW = """() => ({ asked: document.body.dataset.asked ?? '',
  frames: document.querySelector('.third-view canvas').dataset.frames ?? '' })"""


@contextmanager
def bench(design: str) -> Iterator[tuple[str, int, Path]]:
    """A bench on a folder of its own: (address, process id, folder)."""
    from sheetlark.design import starter

    folder = Path(tempfile.mkdtemp(prefix="bench-"))
    (folder / f"{design}.toml").write_text(freed(starter(design)), encoding="utf-8")
    code = (
        "import sys; from pathlib import Path; from sheetlark.bench import run; "
        "run(Path(sys.argv[1]), show=False)"
    )
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    with subprocess.Popen(
        [sys.executable, "-u", "-c", code, str(folder / f"{design}.toml")],
        stdout=subprocess.PIPE,
        text=True,
        env=env,
    ) as process:
        assert process.stdout is not None
        try:
            address = re.search(r"http\S+", process.stdout.readline())
            assert address is not None
            yield address[0], process.pid, folder
        finally:
            process.terminate()
            process.wait()
            shutil.rmtree(folder)


def opened(playwright: Any, address: str, flags: list[str] | None = None) -> Any:
    browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=flags or FLAGS)
    page = browser.new_page(viewport={"width": 1440, "height": 900}, bypass_csp=True)
    page.add_init_script(
        "addEventListener('pointermove', () => { window.movedAt = performance.now(); }, true)"
    )
    page.goto(address)
    page.wait_for_function("document.body.dataset.shown?.startsWith('r')", timeout=60_000)
    return page


def resident_mb(pid: int) -> float:
    text = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    return int(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024  # type: ignore[index]


def busy_ms(pid: int) -> float:
    """Processor time a process has used: what a wait costs when nothing else runs."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return 1e3 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


# What is dragged: its name, the view, what is chosen first, words of its handle, and which way a pixel goes.
DRAGS: tuple[tuple[str, str, list[str | int], str, tuple[float, float]], ...] = (
    ("the battery", "side", [], "battery", (1, 0)),
    ("a wing's span", "top", ["wing", 0], "tip leading edge", (0, 1)),
    ("a wing's tip chord", "top", ["wing", 0], "tip chord", (1, 0)),
    ("a node of a free outline", "top", ["wing", -1], "node 2", (-1, 0)),
    ("a wing's dihedral", "front", ["wing", 0], "dihedral", (0, -1)),
    ("the tail's place", "top", ["tailplane"], "place along the body", (1, 0)),
    ("a fin's height", "side", ["fin", 0], "height", (0, -1)),
    ("the body's width", "top", ["body"], "body width at station 2", (0, -1)),
    ("the body's profile", "side", ["body"], "side profile, node 4", (0, -1)),
    ("a former", "side", ["body", "former", 1], "former at", (1, 0)),
)


def freed(text: str) -> str:
    """The design with the outline of its last wing as nodes and handles."""
    from sheetlark.airframe import airframe
    from sheetlark.bench.scene import nodes_of
    from sheetlark.design import edited, loads
    from sheetlark.stock import load_stock

    design = loads(text)
    last = len(design.wing) - 1
    nodes = nodes_of(airframe(design, load_stock()).surfaces[last].outline)
    words = [f"M {nodes[0]['x']:.2f} {nodes[0]['y']:.2f}"]
    for a, b in itertools.pairwise(nodes):
        out, into = a.get("out"), b.get("in")
        end = f"{b['x']:.2f} {b['y']:.2f}"
        if out is None or into is None:
            words.append(f"L {end}")
        else:
            words.append(f"C {out[0]:.2f} {out[1]:.2f}, {into[0]:.2f} {into[1]:.2f}, {end}")
    short = ("span", "root_chord", "tip_chord", "sweep", "tip_roundness")
    stated = [key for key in short if key in design.wing[last].model_fields_set]
    return edited(
        text,
        {("wing", last, "outline"): " ".join(words), **{("wing", last, key): None for key in stated}},
    )


def grip(page: Any, view: str, chosen: list[str | int], words: str) -> Any | None:
    """The handle of these words once its thing is chosen; None where the design has no such thing."""
    where = [len(page.evaluate(VALUES)["wing"]) - 1 if part == -1 else part for part in chosen]
    page.evaluate("async (where) => (await import('/page/state.js')).select(where)", where or None)
    page.wait_for_timeout(100)
    found = page.locator(f'svg[data-view="{view}"] [data-handle*="{words}"] .grip')
    return found.first if found.count() else None


VALUES = "async () => (await import('/page/state.js')).state.values"


def drag(page: Any, handle: Any, steps: int, by: tuple[float, float]) -> list[float]:
    """Milliseconds from each move of the pointer to figures and model repainted."""
    box = None
    while box is None:  # the drawing may be redrawn between finding the handle and measuring it
        box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 4 * by[0], y + 4 * by[1])
    page.wait_for_timeout(800)
    took = []
    for i in range(steps):
        before = page.evaluate(NOW)
        at = 5 + (i % 20) if (i // 20) % 2 == 0 else 25 - (i % 20)
        page.mouse.move(x + by[0] * at, y + by[1] * at)
        one = page.evaluate(REPAINTED, before)
        if one is None:
            # a place the design cannot take: said on the page, and the rest of this drag is left out
            print("not drawn:", *page.locator(".refusal").all_inner_texts(), flush=True)
            break
        took.append(one)
    page.keyboard.press("Escape")  # lets go without a change: each kind begins from the same design
    page.mouse.up()
    page.wait_for_timeout(700)
    return took


def summary(took: list[float]) -> str:
    ordered = sorted(took)
    return (
        f"median {statistics.median(took):.0f} ms, p95 {ordered[int(0.95 * (len(ordered) - 1))]:.0f} ms, "
        f"worst {ordered[-1]:.0f} ms over {len(took)} moves"
    )


def drags(names: list[str], only: str = "", flags: list[str] | None = None, steps: int = 25) -> None:
    """Every kind of drag of every starter, and the first paint."""
    from playwright.sync_api import sync_playwright

    for name in names:
        with bench(name) as (address, pid, _), sync_playwright() as playwright:
            page = opened(playwright, address, flags)
            paint = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0]?.startTime")
            print(f"{name}: first paint {paint:.0f} ms after the request")
            page.wait_for_timeout(2500)  # the remedies' own process has done
            for what, view, chosen, words, by in (d for d in DRAGS if only in d[0]):
                handle = grip(page, view, chosen, words)
                if handle is None:
                    continue
                began = busy_ms(pid)
                took = drag(page, handle, steps, by)
                print(
                    f"{name}: {what}: {summary(took)}; bench busy {(busy_ms(pid) - began) / (steps + 2):.0f} ms a move",
                    flush=True,
                )
            page.context.browser.close()


def main() -> None:
    edits = int(sys.argv[1]) if len(sys.argv) > 1 else 1000  # 0 leaves the memory out
    drags(["dunnock", "brambling", "turnstone"])
    if edits:
        memory(edits)


# Edits that are never made twice, so that nothing kept of an earlier one serves a later: battery, wing, body, tail.
EDIT = """async (i) => {
  const { commit, state } = await import('/page/state.js');
  const by = (i * 0.6180339887) % 1;
  const width = state.values.body.width.map(([x, w]) => [x * 1000, w * 1000]);
  width[1][1] = Number((62 + 6 * by).toFixed(4));
  const changes = [
    [[['drive', 'pack_at'], [50 + 30 * by, 0, -14]]],
    [[['wing', 0, 'dihedral'], 5 + 3 * by]],
    [[['body', 'width'], width]],
    [[['tailplane', 'span'], 265 + 10 * by]],
  ][i % 4];
  const refused = await commit(changes, 'one of many edits');
  if (refused) return refused.says;
  const until = performance.now() + 30000;
  while (document.body.dataset.shown !== 'r' + state.revision && performance.now() < until) await new Promise((y) => setTimeout(y, 5));
  return document.body.dataset.shown === 'r' + state.revision ? null : 'no figures within 30 s';
}"""


def children_mb(pid: int) -> float:
    """What the bench's own child processes hold."""
    found = 0.0
    for task in Path("/proc").glob("[0-9]*/status"):
        with suppress(OSError):
            text = task.read_text(encoding="utf-8")
            if f"PPid:\t{pid}\n" in text and "VmRSS" in text:
                found += int(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024  # type: ignore[index]
    return found


def memory(edits: int) -> None:
    """What bench and page hold after many edits, each evaluated to the end and shown before the next."""
    from playwright.sync_api import sync_playwright

    with bench("dunnock") as (address, pid, folder), sync_playwright() as playwright:
        page = opened(playwright, address)
        began = time.monotonic()
        for i in range(1, edits + 1):
            words = page.evaluate(EDIT, i)
            if words:
                print(f"edit {i}: {words}", flush=True)
            if i % max(1, edits // 10) == 0 or i == max(1, edits // 20):
                page.evaluate("window.gc?.()")
                print(
                    f"after {i} edits, {time.monotonic() - began:.0f} s: bench {resident_mb(pid):.0f} MB, "
                    f"its children {children_mb(pid):.0f} MB, page {page.evaluate(HEAP):.1f} MB, "
                    f"journal {sum(f.stat().st_size for f in folder.glob('.*.journal')) / 1000:.0f} kB",
                    flush=True,
                )
        page.context.browser.close()


HEAP = "performance.memory.usedJSHeapSize / 1e6"


def pictures(into: Path) -> None:
    """Four screens for the documentation."""
    from PIL import Image
    from playwright.sync_api import sync_playwright

    sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "bench"))
    from drawn import three_view

    into.mkdir(parents=True, exist_ok=True)
    with bench("brambling") as (address, _, folder), sync_playwright() as playwright:
        (folder / "three-view.png").write_bytes(three_view())
        page = opened(playwright, address)
        page.locator('details[data-path="wing/0"] > summary').click()
        page.locator('svg[data-view="top"] .skin.wing').last.dispatch_event("pointerdown", {"button": 0})
        page.locator('button[data-reason="margin"]').click()
        page.wait_for_timeout(1500)
        page.screenshot(path=into / "bench-shape.png")
        page.get_by_role("link", name="Flight").click()
        page.get_by_role("button", name="Fly it for the first time").click()
        page.locator("canvas.track").wait_for(timeout=120_000)
        page.locator(".play input").fill("170")
        page.wait_for_timeout(500)
        page.screenshot(path=into / "bench-flight.png")
        page.emulate_media(color_scheme="dark")
        page.get_by_role("link", name="Drive").click()
        page.get_by_role("button", name="Try everything in stock").click()
        page.get_by_text("combinations will do").wait_for(timeout=120_000)
        page.locator(".card").last.evaluate("node => node.scrollIntoView()")
        page.wait_for_timeout(500)
        page.screenshot(path=into / "bench-drive.png")
        page.emulate_media(color_scheme="light")
        page.get_by_role("link", name="Picture").click()
        page.locator("#picture-pick").select_option("three-view.png")
        page.locator("#take-wide-controls").wait_for(timeout=60_000)
        page.get_by_role("button", name="Move the nodes of wing, top").click()
        page.locator(".lightdesk").evaluate("node => node.scrollIntoView()")
        page.wait_for_timeout(500)
        page.screenshot(path=into / "bench-picture.png")
        page.context.browser.close()
    for file in sorted(into.glob("bench-*.png")):
        Image.open(file).convert("RGB").quantize(128).save(file, optimize=True)
        print(f"{file}: {file.stat().st_size / 1000:.0f} kB")


@pytest.mark.browser
def test_battery_drag_repaints(benchmark: Any) -> None:
    """One move of a dragged battery, to repainted figures and model."""
    from playwright.sync_api import sync_playwright

    with bench("dunnock") as (address, _, _), sync_playwright() as playwright:
        page = opened(playwright, address)
        handle = grip(page, "side", [], "battery")
        took = drag(page, handle, 20, (1, 0))
        benchmark.extra_info["median_ms"] = statistics.median(took)
        benchmark.pedantic(lambda: drag(page, handle, 1, (1, 0)), rounds=5)
        page.context.browser.close()


if __name__ == "__main__":
    if sys.argv[1:] == ["pictures"]:
        pictures(Path(__file__).parent.parent / "docs" / "pictures")
    elif sys.argv[1:2] == ["drags"]:
        words = [w for w in sys.argv[2:] if not w.startswith("--")]
        kind = next((w.removeprefix("--only=") for w in sys.argv if w.startswith("--only=")), "")
        flags = EMULATED if "--emulated" in sys.argv else None
        drags(words or ["dunnock", "brambling", "turnstone"], kind, flags)
    elif sys.argv[1:2] == ["memory"]:
        memory(int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
    else:
        main()
