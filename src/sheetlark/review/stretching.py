"""A longer tail arm: everything behind the wings moves aft, and the body is drawn out to follow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sheetlark.design import Design, Where
from sheetlark.evaluation import Evaluation
from sheetlark.outline import Cubic, Line, Path, Segment, read_path
from sheetlark.review.check import imperial
from sheetlark.review.levers import Changes, Lever
from sheetlark.units import show_length

_MOST_MM = 120.0


def _behind_mm(design: Design) -> float | None:
    """Where the stretch begins: behind the last trailing edge of the wings; None without a tail to move."""
    if design.tailplane is None or design.body is None:
        return None
    ends = [1e3 * w.at[0] + max(p[0] for s in w.half().segments for p in s) for w in design.wing]
    begin = max(ends)
    return begin if begin < 1e3 * design.tailplane.at[0] else None


def _drawn_out(path: Path, move: Callable[[float], float]) -> str:
    """The path with every x moved."""

    def segment(s: Segment) -> Segment:
        points = [(move(x), y) for x, y in s]
        return Line(*points) if isinstance(s, Line) else Cubic(*points)

    return replace(path, segments=tuple(segment(s) for s in path.segments)).text()


def _changes(design: Design, value: float) -> Changes:
    begin, body, tail = _behind_mm(design), design.body, design.tailplane
    if begin is None or body is None or tail is None:
        return {}
    end = max(p[0] for s in read_path(body.profile).segments for p in s)
    # The tail itself keeps its length: the body is drawn out between the wings and the tail's leading edge.
    until = 1e3 * tail.at[0]

    def move(x: float) -> float:
        if x <= begin:
            return x
        return x + value * min(1.0, (x - begin) / max(until - begin, 1e-6)) if x < end else x + value

    def moved(metres: float) -> float:
        return round(move(1e3 * metres), 2)

    made: dict[Where, object] = {
        ("body", "profile"): _drawn_out(read_path(body.profile), move),
        ("body", "width"): [[moved(x), round(1e3 * w, 2)] for x, w in body.width],
        ("tailplane", "at"): [moved(tail.at[0]), round(1e3 * tail.at[1], 2)],
    }
    for i, former in enumerate(body.former):
        made["body", "former", i, "at"] = moved(former.at)
    for name, deck in (("fore_deck", body.fore_deck), ("aft_deck", body.aft_deck)):
        if deck is not None:
            made["body", name, "start"], made["body", name, "end"] = moved(deck.start), moved(deck.end)
    for i, fin in enumerate(design.fin):
        if 1e3 * fin.at[0] > begin:
            made["fin", i, "at"] = [moved(fin.at[0]), round(1e3 * fin.at[1], 2)]
    servos = design.radio.servo if design.radio is not None else ()
    for i, servo in enumerate(servos):
        if servo.moves in {"elevator", "rudder"} and servo.push_rod_length > 0:
            made["radio", "servo", i, "push_rod_length"] = round(1e3 * servo.push_rod_length + value, 1)
    return made


TAIL_ARM = Lever(
    name="tail arm",
    start=lambda e: None if _behind_mm(e.design) is None else 0.0,
    reach=lambda _: (0.0, _MOST_MM),
    step=5.0,
    changes=_changes,
    says=lambda e, _, b: (
        f"Move the tail {show_length(1e-3 * b, imperial(e))} aft and draw the body out to it."
    ),
)


def tail_arm_m(e: Evaluation) -> float | None:
    """From the mean chord's quarter to the tailplane's own. [m]."""
    tail = e.airframe.tail
    if tail is None:
        return None
    r, m = e.airframe.reference, tail.mean_chord
    return tail.at_m[0] + m.leading_edge_x + 0.25 * m.chord - (r.leading_edge_m[0] + 0.25 * r.chord_m)
