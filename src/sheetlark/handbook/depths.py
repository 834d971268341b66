"""A grid of depths along a line of sight, and whose surface lies nearest in every cell."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.pieces import Floats

CELLS = 620  # along the longer side


class DepthGrid:
    """Depth towards the eye, and whose it is, cell by cell."""

    def __init__(self, low: Floats, high: Floats) -> None:
        self.low = low - 1.0
        extent = high - low + 2.0
        self.cell = float(max(extent)) / CELLS
        self.shape = (int(extent[1] / self.cell) + 3, int(extent[0] / self.cell) + 3)
        self.depth = np.full(self.shape, -np.inf)
        self.owner = np.full(self.shape, -1, dtype=np.int32)

    def at(self, xy: Floats) -> Floats:
        """Places in cells."""
        return np.asarray((xy - self.low) / self.cell)

    def fill(self, rings: list[Floats], owner: int) -> None:
        """Draw a flat face, rings of shape (n, 3) in picture axes, its holes left open."""
        from PIL import Image, ImageDraw

        flat = [self.at(ring[:, :2]) for ring in rings]
        x0, y0 = np.floor(flat[0].min(axis=0)).astype(int)
        x1, y1 = np.ceil(flat[0].max(axis=0)).astype(int) + 1
        # a face seen edge on covers nothing
        plane = _plane(rings[0])
        if plane is None:
            return
        mask = Image.new("1", (int(x1 - x0), int(y1 - y0)), 0)
        pen = ImageDraw.Draw(mask)
        for k, ring in enumerate(flat):
            pen.polygon([(float(x - x0), float(y - y0)) for x, y in ring], fill=0 if k else 1)
        # the part of the face's box that lies on the grid
        left, low = max(int(x0), 0), max(int(y0), 0)
        right, high = min(int(x1), self.shape[1]), min(int(y1), self.shape[0])
        if left >= right or low >= high:
            return
        inside = np.asarray(mask, dtype=bool)[low - y0 : high - y0, left - x0 : right - x0]
        x = self.low[0] + self.cell * np.arange(left, right)
        y = self.low[1] + self.cell * np.arange(low, high)
        depth = (plane[0] * x)[None, :] + (plane[1] * y + plane[2])[:, None]
        there = self.depth[low:high, left:right]
        nearer = inside & (depth > there)
        there[nearer] = depth[nearer]
        self.owner[low:high, left:right][nearer] = owner

    def walls(self, walls: list[tuple[Floats, Floats, int]]) -> None:
        """Draw the walls between pairs of rings of shape (n, 3), each with its owner, by points closer than a cell."""
        points, owners = [], []
        for top, bottom, owner in walls:
            a, b = top, np.roll(top, -1, axis=0)
            length = np.linalg.norm((b - a)[:, :2], axis=1)
            counts = np.maximum(2, np.ceil(length / (0.7 * self.cell)).astype(int))
            which = np.repeat(np.arange(len(a)), counts)
            first = np.repeat(np.cumsum(counts) - counts, counts)
            share = ((np.arange(len(which)) - first) / counts[which])[:, None]
            upper = a[which] + share * (b - a)[which]
            down = np.asarray(bottom[0] - top[0])
            steps = max(2, math.ceil(float(np.linalg.norm(down[:2])) / (0.7 * self.cell)))
            s = np.linspace(0.0, 1.0, steps)
            points.append((upper[None, :, :] + s[:, None, None] * down).reshape(-1, 3))
            owners.append(np.full(steps * len(upper), owner, dtype=np.int32))
        p, who = np.concatenate(points), np.concatenate(owners)
        cells = np.rint(self.at(p[:, :2])).astype(int)
        # of several points in one cell the nearest to the eye must come last
        order = np.argsort(p[:, 2], kind="stable")
        self._put(cells[order, 1], cells[order, 0], p[order, 2], who[order])

    def _put(
        self,
        rows: npt.NDArray[np.int_],
        columns: npt.NDArray[np.int_],
        depth: Floats,
        owner: int | npt.NDArray[np.int32],
    ) -> None:
        """Put points where they lie nearer than what is there; of points in one cell the last counts."""
        nearer = depth > self.depth[rows, columns]
        rows, columns = rows[nearer], columns[nearer]
        self.depth[rows, columns] = depth[nearer]
        self.owner[rows, columns] = owner if isinstance(owner, int) else owner[nearer]

    def lowest(self) -> Floats:
        """The farthest of every cell and its eight neighbours."""
        padded = np.pad(self.depth, 1, constant_values=-np.inf)
        across = np.minimum(np.minimum(padded[:, :-2], padded[:, 1:-1]), padded[:, 2:])
        return np.asarray(np.minimum(np.minimum(across[:-2], across[1:-1]), across[2:]))


def _plane(ring: Floats) -> tuple[float, float, float] | None:
    """Depth as a plane over x and y, from a ring's normal; None where it is seen edge on."""
    p = ring - ring.mean(axis=0)
    q = np.roll(p, -1, axis=0)
    normal = np.cross(p, q).sum(axis=0)
    size = float(np.linalg.norm(normal))
    if size < 1e-9 or abs(normal[2]) < 0.02 * size:
        return None
    a, b = -normal[0] / normal[2], -normal[1] / normal[2]
    at = ring.mean(axis=0)
    return float(a), float(b), float(at[2] - a * at[0] - b * at[1])
