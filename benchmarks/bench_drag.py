"""What one move of a drag costs the bench, by kind of drag and by stage, in milliseconds of processor time.

Run it alone for the table:  python benchmarks/bench_drag.py [STARTER ...]
No browser: what the bench does between the message that a finger moved and the message with the figures.
`make bench` times a whole move of each kind.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

from sheetlark.airframe import airframe
from sheetlark.bench import desk as desk_room
from sheetlark.bench import figures as figures_room
from sheetlark.bench.scene import Meshes, kit_model, plate_model, scene
from sheetlark.design import Design, loads, starter, varied
from sheetlark.evaluation import whole
from sheetlark.outline import Cubic
from sheetlark.stock import load_stock

STOCK = load_stock()
Changes = dict[tuple[str | int, ...], object]
Spot = Callable[[Design, int], Changes]


def _mm(metres: float) -> float:
    return round(1e3 * metres, 2)


def _battery(d: Design, k: int) -> Changes:
    assert d.drive is not None
    x, y, z = d.drive.pack_at
    return {("drive", "pack_at"): [_mm(x) + 0.3 * k, _mm(y), _mm(z)]}


def _wing(key: str, by: float) -> Spot:
    def change(d: Design, k: int) -> Changes:
        value = getattr(d.wing[0], key)
        return {("wing", 0, key): round(_mm(value) + by * k, 2)}

    return change


def _dihedral(d: Design, k: int) -> Changes:
    return {("wing", 0, "dihedral"): round(57.29578 * d.wing[0].dihedral + 1.0 + 0.1 * k, 2)}


def _outline(where: tuple[str | int, ...]) -> Spot:
    """One node of a free outline moves; the outline is first what span, chords and sweep make."""

    def change(d: Design, k: int) -> Changes:
        frame = airframe(d, STOCK)
        surface = next(s for s in frame.surfaces if tuple(s.where) == where)
        path = surface.outline
        parts = [f"M {path.start[0]:.3f} {path.start[1]:.3f}"]
        moved = len(path.segments) // 2
        for i, segment in enumerate(path.segments):
            more = 0.4 * k if i == moved else 0.0
            x, y = segment.end[0] + more, segment.end[1]
            if isinstance(segment, Cubic):
                (a, b), (c, e) = segment.handle_out, segment.handle_in
                parts.append(f"C {a:.3f} {b:.3f}, {c + more:.3f} {e:.3f}, {x:.3f} {y:.3f}")
            else:
                parts.append(f"L {x:.3f} {y:.3f}")
        stated = d.wing[0].model_fields_set & {"span", "root_chord", "tip_chord", "sweep", "tip_roundness"}
        return {(*where, "outline"): " ".join(parts), **{(*where, key): None for key in sorted(stated)}}

    return change


def _tail(d: Design, k: int) -> Changes:
    assert d.tailplane is not None
    x, z = d.tailplane.at
    return {("tailplane", "at"): [round(_mm(x) + 0.3 * k, 2), _mm(z)]}


def _tail_span(d: Design, k: int) -> Changes:
    assert d.tailplane is not None
    return {("tailplane", "span"): round(_mm(d.tailplane.span or 0.0) + 0.6 * k, 2)}


def _fin(d: Design, k: int) -> Changes:
    return {("fin", 0, "height"): round(_mm(d.fin[0].height or 0.0) + 0.4 * k, 2)}


def _body_width(d: Design, k: int) -> Changes:
    assert d.body is not None
    width = [[_mm(x), _mm(w)] for x, w in d.body.width]
    width[1][1] = round(width[1][1] + 0.3 * k, 2)
    return {("body", "width"): width}


def _profile(d: Design, k: int) -> Changes:
    assert d.body is not None
    words = d.body.profile.replace(",", " ").split()
    last = max(i for i, w in enumerate(words) if w == "L")
    words[last + 2] = f"{float(words[last + 2]) - 0.3 * k:.2f}"  # the last straight's end sinks
    return {("body", "profile"): " ".join(words)}


def _former(d: Design, k: int) -> Changes:
    assert d.body is not None
    return {("body", "former", 1, "at"): round(_mm(d.body.former[1].at) + 0.3 * k, 2)}


KINDS: dict[str, Spot] = {
    "battery": _battery,
    "wing span": _wing("span", 0.8),
    "wing tip chord": _wing("tip_chord", 0.4),
    "wing outline node": _outline(("wing", 0)),
    "wing dihedral": _dihedral,
    "tail place": _tail,
    "tail span": _tail_span,
    "fin height": _fin,
    "body width": _body_width,
    "body profile": _profile,
    "former": _former,
}


class Clock:
    """Processor time by stage, what is nested taken off what is round it."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)
        self._open: list[float] = []

    def timed(self, label: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any, **named: Any) -> Any:
            self._open.append(0.0)
            began = time.process_time()
            try:
                return work(*args, **named)
            finally:
                took = time.process_time() - began
                self.spent[label] += took - self._open.pop()
                if self._open:
                    self._open[-1] += took

        return run


STAGES = {
    "make_kit": "kit",
    "weigh": "weights",
    "air_figures": "air",
    "drive_figures": "drive",
    "flight_figures": "flight",
    "strength_figures": "strength",
    "controls_figures": "controls",
    "thrust_figures": "thrust",
}
ORDER = ("read", "place", "views", "plates", *STAGES.values(), "document", "meshes", "send", "rest")


def moves(clock: Clock) -> Callable[[str, Changes], None]:
    """One move as `Desk` makes it, without the loop: a function of the file's text and what changes."""
    for name, label in STAGES.items():
        setattr(whole, name, clock.timed(label, getattr(whole, name)))
    meshes = Meshes()
    read = clock.timed("read", lambda text, changes: varied(text, changes, name="drag.toml"))
    place = clock.timed("place", airframe)
    views = clock.timed("views", scene)
    plates = clock.timed("plates", plate_model)
    evaluated = clock.timed("rest", lambda design: whole.evaluate_first(design).in_sight())
    shown = clock.timed("document", lambda e: desk_room._shown(figures_room.quick_document(e)))  # noqa: SLF001
    solids = clock.timed("meshes", kit_model)
    send = clock.timed("send", lambda message: json.dumps(message, separators=(",", ":"), default=str))
    values = clock.timed("read", desk_room._values)  # noqa: SLF001

    def move(text: str, changes: Changes) -> None:
        design = read(text, changes)
        placed = place(design, STOCK)
        send([values(design), views(design, placed, STOCK), plates(placed, meshes)])
        evaluation = evaluated(design)
        model = solids(evaluation.kit, meshes)
        send([shown(evaluation), model])

    return move


def main() -> None:
    names = sys.argv[1:] or ["dunnock", "brambling", "turnstone"]
    clock = Clock()
    move = moves(clock)
    rounds = 12
    for name in names:
        text = starter(name)
        design = loads(text)
        print(f"\n{name}: ms of processor time a move, median of {rounds}")
        print(f"{'':20s}{'all':>7s}" + "".join(f"{label:>9s}" for label in ORDER))
        for kind, spot in KINDS.items():
            try:
                spots = [spot(design, k) for k in range(1, rounds + 3)]
            except (AssertionError, StopIteration, IndexError):
                continue
            taken = []
            for spot_changes in spots:
                clock.spent.clear()
                move(text, spot_changes)
                taken.append(dict(clock.spent))
            taken = taken[2:]
            parts = {label: 1e3 * statistics.median(t.get(label, 0.0) for t in taken) for label in ORDER}
            whole_move = 1e3 * statistics.median(sum(t.values()) for t in taken)
            print(
                f"{kind:20s}{whole_move:7.0f}" + "".join(f"{parts[label]:9.1f}" for label in ORDER),
                flush=True,
            )


if __name__ == "__main__":
    main()
