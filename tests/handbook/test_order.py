"""The order of building: every item once, nothing out of reach, nothing walled in."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from sheetlark.airframe import airframe
from sheetlark.design import STARTERS, loads, starter
from sheetlark.errors import SheetlarkError
from sheetlark.handbook import Access, assemblies, build_order, faults, stages, take_apart, units
from sheetlark.handbook.order import Placing
from sheetlark.handbook.pieces import middle_of
from sheetlark.parts import Joint, Kit, Part, Piece, make_kit
from sheetlark.stock import load_stock


def kit_of(text: str) -> Kit:
    stock = load_stock()
    return make_kit(airframe(loads(text), stock), stock)


@pytest.mark.parametrize("name", STARTERS)
def test_the_order_of_every_starter_is_sound(name):
    model = take_apart(kit_of(starter(name)))
    order = build_order(model)
    assert faults(model, order) == ()
    on = [i for p in order if not p.bench for i in p.items]
    assert sorted(on) == list(range(len(model.items)))


@pytest.mark.parametrize("name", STARTERS)
def test_steps_show_everything_and_hang_together(name):
    model = take_apart(kit_of(starter(name)))
    steps = stages(model, build_order(model))
    shown = {i for s in steps for i in (*s.items, *s.onto)}
    loose = [a for a in assemblies(model) if not a & shown]
    assert {i for a in loose for i in a} | shown == {i.index for i in model.items}
    done: set[int] = set()
    for step in steps:
        for n in step.contacts:
            assert n not in done, "a joint is made twice"
            done.add(n)
    assert done == set(range(len(model.contacts)))


RANDOM = """
[model]
name = "Random"
[[wing]]
name = "wing"
at = [{wing_x:.1f}, {wing_z:.1f}]
span = {span:.1f}
root_chord = {chord:.1f}
tip_chord = {tip:.1f}
sweep = {sweep:.1f}
dihedral = {dihedral:.1f}
{spar}
{aileron}
[tailplane]
at = [{tail_x:.1f}, {tail_z:.1f}]
span = {tail_span:.1f}
root_chord = 90
[tailplane.elevator]
[[fin]]
at = [{tail_x:.1f}, {fin_z:.1f}]
height = 90
root_chord = 90
tip_chord = 60
sweep = 20
[fin.rudder]
[body]
profile = "M 0 {top:.1f} L {length:.1f} {tail_top:.1f} L {length:.1f} {tail_low:.1f} L 0 {low:.1f} Z"
width = [[0, {width:.1f}], [{length:.1f}, 24]]
covered = {covered}
[[body.former]]
at = 12
[[body.former]]
at = {former:.1f}
[[body.former]]
at = {former2:.1f}
"""


@st.composite
def designs(draw: st.DrawFn) -> str:
    f = st.floats
    length = draw(f(380, 600))
    low, top = draw(f(-45, -25)), draw(f(25, 45))
    return RANDOM.format(
        length=length,
        low=low,
        top=top,
        tail_top=14.0,
        tail_low=-6.0,
        width=draw(f(46, 80)),
        wing_x=draw(f(60, 130)),
        wing_z=draw(st.sampled_from([top + 3.0, 2.0, low + 4.0])),
        span=draw(f(400, 900)),
        chord=(chord := draw(f(110, 180))),
        tip=chord * draw(f(0.6, 1.0)),
        sweep=draw(f(0, 15)),
        dihedral=draw(st.sampled_from([0.0, 3.0, 6.0])),
        spar='[[wing.spar]]\nrod = "carbon-strip-6x1"\nat = 0.3\nspan = 320' if draw(st.booleans()) else "",
        aileron="[wing.aileron]" if draw(st.booleans()) else "",
        tail_x=length - 100.0,
        tail_z=draw(st.sampled_from([14.0, 16.0])),
        fin_z=20.0,
        tail_span=draw(f(220, 320)),
        covered=draw(st.sampled_from(['["top", "bottom"]', '["top"]', '["bottom"]'])),
        former=draw(f(120, 190)),
        former2=draw(f(220, 300)),
    )  # fmt: skip


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
@given(designs())
def test_the_order_of_random_designs_is_sound(text):
    try:
        kit = kit_of(text)
    except SheetlarkError:
        assume(False)
    model = take_apart(kit)
    assert faults(model, build_order(model)) == ()


def plate(
    name: str, number: int, outline: list[tuple[float, float]], matrix: np.ndarray, copies: int = 1
) -> Part:
    piece = Piece(np.array(outline, dtype=float), (), matrix)
    return Part(
        number=number, name=name, group="body", sheet="foam-board-5", paper="both", thickness_mm=5.0,
        outline=np.array(outline, dtype=float), copies=((piece,),) * copies, mirrored=(False,) * copies,
    )  # fmt: skip


def flat(z: float) -> np.ndarray:
    m = np.eye(4)
    m[2, 3] = z
    return m


def upright(x: float) -> np.ndarray:
    m = np.eye(4)
    m[:3, :3] = np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], dtype=float)
    m[0, 3] = x
    return m


def boxed() -> Kit:
    """A closed box with a plate inside: four walls between floor and lid, and a shelf that only the open top lets in."""
    wide = [(-50, 0), (50, 0), (50, 60), (-50, 60)]
    sheet = [(-55, -55), (55, -55), (55, 55), (-55, 55)]
    turn = np.eye(4)
    turn[:3, :3] = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], dtype=float)

    def across(y: float) -> np.ndarray:
        m = turn.copy()
        m[1, 3] = y
        return m

    inner = [(-48, -48), (48, -48), (48, 48), (-48, 48)]
    parts = (
        plate("floor", 1, sheet, flat(-2.5)),
        plate("left", 2, wide, across(-52.5)),
        plate("right", 3, wide, across(52.5)),
        plate("front", 4, wide, upright(-52.5)),
        plate("back", 5, wide, upright(52.5)),
        plate("shelf", 6, inner, flat(30.0)),
        plate("lid", 7, sheet, flat(62.5)),
    )

    def joint(a: str, b: str, *ends: tuple[float, float, float]) -> Joint:
        return Joint(kind="butt", first=a, second=b, held="glue", runs_mm=(tuple(ends),))

    walls = {"left": (-50, -50), "right": (50, 50)}
    joints = []
    for name, (y, _) in walls.items():
        joints.append(joint("floor", name, (-50, y, 0), (50, y, 0)))
        joints.append(joint(name, "shelf", (-45, y, 30), (45, y, 30)))
        joints.append(joint(name, "lid", (-50, y, 60), (50, y, 60)))
    for name, x in (("front", -50), ("back", 50)):
        joints.append(joint("floor", name, (x, -50, 0), (x, 50, 0)))
        joints.append(joint(name, "shelf", (x, -45, 30), (x, 45, 30)))
        joints.append(joint(name, "lid", (x, -50, 60), (x, 50, 60)))
    return Kit(name="box", parts=parts, joints=tuple(joints))


def test_what_lies_inside_a_box_goes_in_before_it_closes():
    model = take_apart(boxed())
    order = build_order(model)
    assert faults(model, order) == ()
    names = [model.items[i].name for p in order for i in p.items]
    outside = [names.index(n) for n in ("floor", "left", "right", "front", "back", "lid")]
    assert names.index("shelf") < max(outside)


def test_a_wrong_order_is_found_out():
    """The checker can fail: the box closed first, the shelf last, and other ways to go wrong."""
    model = take_apart(boxed())
    order = list(build_order(model))
    access = Access(model)
    by_name = {model.items[p.items[0]].name: p for p in order}
    sequence = [by_name[n] for n in ("floor", "left", "right", "front", "back", "lid", "shelf")]
    assert any("shelf: no free way" in w for w in faults(model, rewritten(model, sequence), access))
    assert any("never put on: shelf" in w for w in faults(model, rewritten(model, sequence[:-1]), access))
    sprung = [*order[:-1], Placing(items=order[-1].items, contacts=order[-1].contacts, way=None, bench=False)]
    assert any("sprung" in w for w in faults(model, tuple(sprung), access))
    cheated = [*order[:-1], Placing(items=order[-1].items, contacts=(), way=order[-1].way, bench=False)]
    assert any("never joined" in w for w in faults(model, tuple(cheated), access))
    assert any("put on twice" in w for w in faults(model, (*order, order[-1]), access))


def rewritten(model, sequence) -> tuple[Placing, ...]:
    """The same units in another order, their joints counted anew."""
    there: set[int] = set()
    made = []
    for p in sequence:
        unit = set(p.items)
        contacts = tuple(
            n for n, c in enumerate(model.contacts)
            if (c.host in unit and c.guest in there) or (c.guest in unit and c.host in there)
        )  # fmt: skip
        made.append(
            Placing(
                items=p.items,
                contacts=contacts,
                way=p.way if p.way is not None else np.array([0, 0, 1.0]),
                bench=False,
            )
        )
        there |= unit
    return tuple(made)


def test_less_in_place_never_takes_a_way_away():
    """What the whole method rests on."""
    model = take_apart(kit_of(starter("dunnock")))
    access = Access(model)
    every = frozenset(i.index for i in model.items)
    rng = np.random.default_rng(3)
    for unit in units(model):
        if access.way_out(unit, every) is None:
            continue
        for _ in range(4):
            fewer = unit | frozenset(i for i in every if rng.random() < 0.5)
            assert access.way_out(unit, fewer) is not None


def test_runs_go_to_the_copies_they_touch():
    model = take_apart(kit_of(starter("brambling")))
    for contact in model.contacts:
        for run, index in itertools.product(contact.runs_mm, (contact.host, contact.guest)):
            item = model.items[index]
            assert (
                min(item.distance_to(np.array(p)) for p in (*run, middle_of(run))) < 5.5
            )  # a sheet and a bit


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_what_no_part_shows_is_said_once_where_it_belongs(bench, name):
    e = bench.evaluated(name)
    steps = bench.written(name).build.steps
    assert e.kit.notes
    for note in e.kit.notes:
        told = [s for s in steps if note in s.does]
        assert len(told) == 1, note
        if "wedge" in note:
            assert any(part == "firewall" for _, part, _ in told[0].parts)
