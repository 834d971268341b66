"""Outlines as SVG path data: read, sampled, measured, written.

A path is a run of straight lines and cubic Bézier curves. Quadratics and arcs are turned into cubics when
read; elliptical arcs are split into pieces of at most 22.5 degrees, whose radial error is below 1e-7 of the
radius. The same few segment kinds then serve the sampler, the editor and every drawing format.

References
----------
W3C, "Scalable Vector Graphics (SVG) 2", chapter 9, paths.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sheetlark.errors import GeometryError

Floats = NDArray[np.float64]
Point = tuple[float, float]

CHORD_ERROR_MM = 0.05
_LARGEST_MM = 20_000.0


class Line(NamedTuple):
    """A straight segment."""

    start: Point
    end: Point

    def points(self, tolerance: float) -> list[Point]:  # noqa: ARG002 - same call as Cubic
        return [self.end]


class Cubic(NamedTuple):
    """A cubic Bézier segment with its two handles."""

    start: Point
    handle_out: Point
    handle_in: Point
    end: Point

    def points(self, tolerance: float) -> list[Point]:
        """Points after the start such that no chord leaves the curve by more than the tolerance.

        The number of equal steps is Wang's bound on the second difference: G. Wang, "The subdivision method
        for finding the intersection between two Bézier curves or surfaces", Zhejiang University Journal,
        1984.
        """
        p = np.array(self, dtype=np.float64)
        second = max(float(np.hypot(*(p[0] - 2 * p[1] + p[2]))), float(np.hypot(*(p[1] - 2 * p[2] + p[3]))))
        steps = max(1, math.ceil(math.sqrt(6.0 * second / (8.0 * tolerance))))
        t = np.linspace(0.0, 1.0, steps + 1)[1:, None]
        s = 1.0 - t
        xy = s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3]
        xy[-1] = p[3]
        return [(float(x), float(y)) for x, y in xy]


Segment = Line | Cubic


@dataclass(frozen=True, slots=True)
class Path:
    """One continuous run of segments, open or closed, in a plane whose unit is the millimetre."""

    segments: tuple[Segment, ...]
    closed: bool

    @property
    def start(self) -> Point:
        return self.segments[0].start

    @property
    def end(self) -> Point:
        return self.segments[-1].end

    def sample(self, tolerance_mm: float = CHORD_ERROR_MM) -> Floats:
        """Corner and curve points, shape (n, 2), chord error at most the tolerance. [mm].

        A closed path does not repeat its first point.
        """
        return _sampled(self, tolerance_mm)

    def transformed(self, matrix: ArrayLike, shift: ArrayLike = (0.0, 0.0)) -> Path:
        """The path under ``point @ matrix.T + shift``; matrix of shape (2, 2)."""
        m, d = np.asarray(matrix, dtype=np.float64), np.asarray(shift, dtype=np.float64)

        def move(point: Point) -> Point:
            x, y = m @ np.asarray(point) + d
            return (float(x), float(y))

        moved: list[Segment] = []
        for segment in self.segments:
            points = [move(p) for p in segment]
            moved.append(Line(*points) if isinstance(segment, Line) else Cubic(*points))
        return Path(tuple(moved), self.closed)

    def reversed(self) -> Path:
        """The same run, walked the other way."""
        back: list[Segment] = []
        for segment in reversed(self.segments):
            points = tuple(reversed(segment))
            back.append(Line(*points) if isinstance(segment, Line) else Cubic(*points))
        return Path(tuple(back), self.closed)

    def text(self, decimals: int = 3) -> str:
        """SVG path data."""

        def show(point: Point) -> str:
            return " ".join(f"{round(v, decimals) + 0.0:.{decimals}f}".rstrip("0").rstrip(".") for v in point)

        words = [f"M {show(self.start)}"]
        for segment in self.segments:
            if isinstance(segment, Line):
                words.append(f"L {show(segment.end)}")
            else:
                words.append(f"C {show(segment.handle_out)}, {show(segment.handle_in)}, {show(segment.end)}")
        return " ".join(words) + (" Z" if self.closed else "")


@lru_cache(maxsize=512)
def _sampled(path: Path, tolerance_mm: float) -> Floats:
    points = [path.start]
    for segment in path.segments:
        points.extend(segment.points(tolerance_mm))
    kept = [points[0]]
    kept.extend(b for a, b in itertools.pairwise(points) if math.dist(a, b) > 1e-9)
    if path.closed and len(kept) > 1 and math.dist(kept[0], kept[-1]) < 1e-9:
        kept.pop()
    xy = np.array(kept, dtype=np.float64)
    xy.setflags(write=False)
    return xy


def polyline(points: ArrayLike | Iterable[Point], *, closed: bool) -> Path:
    """A path of straight segments through points of shape (n, 2). [mm].

    Raises
    ------
    GeometryError
        If there are fewer than two points.
    """
    xy = [(float(x), float(y)) for x, y in np.asarray(points, dtype=np.float64)]
    if len(xy) < 2:
        raise GeometryError(f"a line needs at least 2 points, got {len(xy)}")
    segments: list[Segment] = [Line(a, b) for a, b in itertools.pairwise(xy)]
    if closed and xy[0] != xy[-1]:
        segments.append(Line(xy[-1], xy[0]))
    return Path(tuple(segments), closed)


@lru_cache(maxsize=256)
def read_path(data: str) -> Path:
    """Read SVG path data that holds one continuous run. [mm].

    Raises
    ------
    GeometryError
        If the data cannot be read, is empty, jumps (holds more than one run), or leaves the range of
        ±20 m.
    """
    paths = read_paths(data)
    if len(paths) != 1:
        raise GeometryError(
            f"an outline is one continuous run; this path data has {len(paths)}. Keep one M and join the rest."
        )
    return paths[0]


def read_paths(data: str) -> tuple[Path, ...]:
    """Read SVG path data into its continuous runs. [mm].

    Raises
    ------
    GeometryError
        If the data cannot be read, is empty, or leaves the range of ±20 m.
    """
    from svg.path import parse_path
    from svg.path import path as kinds

    if len(data) > 400_000:
        raise GeometryError(f"path data of {len(data)} characters; at most 400000 are read")
    try:
        parsed = parse_path(data)
    except Exception as error:  # the parser raises many kinds for malformed text
        raise GeometryError(
            f"path data {_short(data)!r} cannot be read as an SVG path such as "
            f"'M 0 0 L 100 0 C 120 0, 120 40, 100 40 Z'"
        ) from error
    runs: list[tuple[list[Segment], bool]] = []
    for piece in parsed:
        if isinstance(piece, kinds.Move):
            runs.append(([], False))
            continue
        if not runs:
            runs.append(([], False))
        segments, _ = runs[-1]
        if isinstance(piece, kinds.Close):
            if abs(piece.start - piece.end) > 1e-9:
                segments.append(Line(_xy(piece.start), _xy(piece.end)))
            runs[-1] = (segments, True)
        elif isinstance(piece, kinds.CubicBezier):
            segments.append(Cubic(_xy(piece.start), _xy(piece.control1), _xy(piece.control2), _xy(piece.end)))
        elif isinstance(piece, kinds.QuadraticBezier):
            a, b = (piece.start + 2 * piece.control) / 3, (piece.end + 2 * piece.control) / 3
            segments.append(Cubic(_xy(piece.start), _xy(a), _xy(b), _xy(piece.end)))
        elif isinstance(piece, kinds.Arc):
            segments.extend(_arc_cubics(piece))
        elif abs(piece.start - piece.end) > 0:
            segments.append(Line(_xy(piece.start), _xy(piece.end)))
    found = tuple(Path(tuple(segments), closed) for segments, closed in runs if segments)
    if not found:
        raise GeometryError(f"path data {_short(data)!r} holds no line or curve")
    for path in found:
        for segment in path.segments:
            if not all(math.isfinite(v) and abs(v) <= _LARGEST_MM for p in segment for v in p):
                raise GeometryError(
                    f"path data {_short(data)!r} leaves the range of ±{_LARGEST_MM:.0f} mm that a model can have"
                )
    return found


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."


def _xy(value: complex) -> Point:
    return (value.real, value.imag)


def _arc_cubics(arc: object) -> list[Segment]:
    """Split an elliptical arc into cubics, using the parser's centre form (angles in degrees)."""
    start, end = complex(arc.start), complex(arc.end)  # type: ignore[attr-defined]
    radius = arc.radius  # type: ignore[attr-defined]
    if radius.real == 0 or radius.imag == 0 or start == end:
        return [Line(_xy(start), _xy(end))]
    centre, turn = arc.center, cmath.rect(1.0, math.radians(arc.rotation))  # type: ignore[attr-defined]
    # A radius too small for its end points is scaled up (SVG 2, B.2.5); the parser keeps the scale apart.
    scale = getattr(arc, "radius_scale", 1.0)
    rx, ry = radius.real * scale, radius.imag * scale
    theta, delta = math.radians(arc.theta), math.radians(arc.delta)  # type: ignore[attr-defined]
    count = max(1, math.ceil(abs(delta) / math.radians(22.5)))
    step = delta / count
    k = 4.0 / 3.0 * math.tan(step / 4.0)

    def at(angle: float) -> complex:
        return complex(centre + turn * complex(rx * math.cos(angle), ry * math.sin(angle)))

    def slope(angle: float) -> complex:
        return complex(turn * complex(-rx * math.sin(angle), ry * math.cos(angle)))

    cubics: list[Segment] = []
    for i in range(count):
        a, b = theta + i * step, theta + (i + 1) * step
        p0, p3 = at(a) if i else start, at(b) if i + 1 < count else end
        cubics.append(Cubic(_xy(p0), _xy(at(a) + k * slope(a)), _xy(at(b) - k * slope(b)), _xy(p3)))
    return cubics
