"""Files read back with libraries that did not write them, and shapes compared."""

from __future__ import annotations

import re
import shutil
import subprocess
from xml.etree import ElementTree as ET

import numpy as np
from shapely.geometry import LinearRing

MM = 25.4 / 72


def tool(name):
    path = shutil.which(name)
    assert path is not None, f"{name} is missing; run scripts/browser_tools.sh"
    return path


def run(*command, text=True):
    return subprocess.run(command, check=True, capture_output=True, text=text).stdout


def ring_gap(a, b):
    """Hausdorff distance of two closed runs, both ways."""
    p, q = LinearRing(a), LinearRing(b)
    return max(p.hausdorff_distance(q), q.hausdorff_distance(p))


def expected_rings(kit, layout):
    """Every cut of a sheet, straight from the parts and their places."""
    parts = {p.number: p for p in kit.parts}
    return [
        placed.move(ring)
        for placed in layout.placed
        for ring in (parts[placed.part].outline, *parts[placed.part].holes)
    ]


def worst_gap(expected, found):
    """For each expected ring the nearest found one; the worst of these, and that none is left over."""
    left = list(found)
    worst = 0.0
    for ring in expected:
        box = np.concatenate([ring.min(axis=0), ring.max(axis=0)])
        near = [
            i
            for i, f in enumerate(left)
            if np.abs(np.concatenate([f.min(axis=0), f.max(axis=0)]) - box).max() < 0.2
        ]
        assert near, f"no ring near {box.round(1).tolist()}"
        gaps = {i: ring_gap(ring, left[i]) for i in near}
        best = min(gaps, key=gaps.get)
        worst = max(worst, gaps[best])
        left.pop(best)
    return worst, left


def pdf_rings(page):
    """Closed runs of three points and more on a pdfplumber page. [mm], y up."""
    height = float(page.height)
    found = []
    for shape in (*page.curves, *page.rects):
        points = np.array([(x, height - y) for x, y in shape["pts"]]) * MM
        if np.hypot(*(points[0] - points[-1])) < 1e-6:
            points = points[:-1]
        if len(points) >= 3:
            found.append(points)
    return found


def svg_rings(text, layer="CUT"):
    root = ET.fromstring(text)
    ns = {"s": "http://www.w3.org/2000/svg"}
    height = float(root.get("viewBox").split()[3])
    group = next(g for g in root.findall("s:g", ns) if g.get("id") == layer)
    found = []
    for path in group.findall("s:path", ns):
        numbers = np.array([float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", path.get("d"))]).reshape(-1, 2)
        found.append(np.column_stack([numbers[:, 0], height - numbers[:, 1]]))
    return found
