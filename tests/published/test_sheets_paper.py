"""Paper sizes and the length of what is printed, against standards and exact definitions.

ISO 216:2007, "Writing paper and certain classes of printed matter - Trimmed sizes - A and B series": A0 has
an area of 1 m², sides as 1 to the square root of 2, each smaller size is half the one before, rounded down to
whole millimetres. ANSI/ASME Y14.1 (drawing sheet sizes): A is 8.5 x 11 in, B is 11 x 17 in. The inch is
exactly 25.4 mm (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from sheetlark.sheets import Drawing, Layer, Line, paper_size, tiled_pdf

ISO = "ISO 216:2007, construction of the A series"
ANSI = "ANSI/ASME Y14.1 sheet sizes; 1 in = 25.4 mm exactly (1959)"


def a_series(number: int) -> tuple[float, float]:
    """Sides of A-n: halves of a sheet of 1 m², sides as 1 to root 2, rounded down to whole millimetres."""
    long, short = 1000.0 * 2**0.25, 1000.0 / 2**0.25
    long, short = float(math.floor(long + 0.5)), float(math.floor(short + 0.5))
    for _ in range(number):
        long, short = short, float(math.floor(long / 2))
    return short, long


@pytest.mark.published
@pytest.mark.parametrize(("key", "number"), [("a4", 4), ("a3", 3)])
def test_a_series(record_error, key, number):
    paper = paper_size(key)
    record_error(
        case=f"{paper.name} sides, mm",
        got=[paper.width_mm, paper.height_mm],
        published=a_series(number),
        tolerance=0.01,
        source=ISO,
        relative=False,
    )


@pytest.mark.published
@pytest.mark.parametrize(
    ("key", "inches"),
    [("letter", (8.5, 11.0)), ("legal", (8.5, 14.0)), ("tabloid", (11.0, 17.0)), ("roll-24", (24, 0))],
)
def test_inch_sizes(record_error, key, inches):
    paper = paper_size(key)
    record_error(
        case=f"{paper.name} sides, mm",
        got=[paper.width_mm, paper.height_mm],
        published=np.array(inches) * 25.4,
        tolerance=1e-9,
        source=ANSI
        if key in ("letter", "tabloid")
        else "common office and plotter practice; 1 in = 25.4 mm exactly",
        relative=False,
    )


@pytest.mark.published
def test_lengths_on_paper(record_error, tmp_path: Path):
    """A 150 mm line and the check bars, measured in the content stream as poppler reads it (SVG from pdftocairo)."""
    pdftocairo = shutil.which("pdftocairo")
    assert pdftocairo, "pdftocairo is missing; run scripts/browser_tools.sh"
    line = Line(layer=Layer.CUT, points=np.array([(10.0, 20.0), (160.0, 20.0), (160.0, 30.0)]))
    drawing = Drawing(name="ruler", width_mm=170.0, height_mm=40.0, lines=(line,), lettering=())
    content, _ = tiled_pdf([drawing], paper_size("a4"), title="ruler")
    file, out = tmp_path / "r.pdf", tmp_path / "r.svg"
    file.write_bytes(content)
    subprocess.run(
        [pdftocairo, "-svg", "-noshrink", "-nocenter", "-f", "2", "-l", "2", str(file), str(out)], check=True
    )
    lengths = level_lengths(out.read_text("utf-8"))
    for wanted in (150.0, 100.0, 4 * 25.4):
        nearest = min(lengths, key=lambda v: abs(v - wanted))
        record_error(
            case=f"{wanted:g} mm on an A4 page, read by poppler",
            got=nearest,
            published=wanted,
            tolerance=0.01,
            source="PDF user space, ISO 32000-1 8.3.2.3: 72 units to the inch",
            relative=False,
        )


def level_lengths(svg: str) -> list[float]:
    """Lengths of the level first pieces of all paths, their transforms applied. [mm]."""
    import re

    found = []
    for path in re.findall(r"<path[^>]*>", svg):
        d = re.search(r' d="M ([-\d.]+) ([-\d.]+) L ([-\d.]+) ([-\d.]+)', path)
        if d is None:
            continue
        m = re.search(r'transform="matrix\(([^)]*)\)"', path)
        a, b, c, e = (float(v) for v in re.split(r"[ ,]+", m[1])[:4]) if m else (1.0, 0.0, 0.0, 1.0)
        x, y = float(d[3]) - float(d[1]), float(d[4]) - float(d[2])
        dx, dy = a * x + c * y, b * x + e * y
        if abs(dy) < 1e-6:
            found.append(abs(dx) * 25.4 / 72)
    return found
