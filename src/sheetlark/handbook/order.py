"""The order of building, solved by taking the finished model apart.

A thing can be taken off the whole if a straight way out is free, if its tabs leave their slots, and if the joints
that held it can be reached once it is gone (else nobody could have glued them). Fewer things in place never
take away a way or a line of sight; so taking off whatever can be taken, in any order, never leads into a corner
that another order would have avoided. The order of building is the reverse.

Words: a *unit* is what moves as one: a panel with its spars, hinged parts and other half, made up flat on the
bench, or a single item. Among the units that can go, the one a builder would want on last goes first.

Notes
-----
That any greedy sequence succeeds if one exists follows from monotony: removable from a set, removable from any
part of it. E.g. L. S. Homem de Mello, A. C. Sanderson, "A correct and complete algorithm for the generation of
mechanical assembly sequences", IEEE Trans. Robotics and Automation 7(2), 1991, for assembly by disassembly (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sheetlark.handbook.access import Access
from sheetlark.handbook.pieces import Floats, Item, Model

# Which of two things that could both go on now a builder puts on first: lower first. Common practice, no source.
_LATE = {"body": 20.0, "drive": 22.0, "wing": 30.0, "tail": 37.0, "fin": 43.0, "strut": 47.0, "gear": 60.0}
_FLAT = frozenset({"wing", "tail", "fin"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """One unit put on.

    items : what moves, one or several made up before
    contacts : numbers of the contacts made with what is there already
    way : shape (3,), the way it would leave again, so it comes in against it; None where it has to be sprung in
    bench : part of making up a unit flat on the bench, not yet on the model
    """

    items: tuple[int, ...]
    contacts: tuple[int, ...]
    way: Floats | None
    bench: bool

    @property
    def begins(self) -> bool:
        """Whether it is the first of its assembly: there is nothing to join it to yet."""
        return not self.contacts


def build_order(model: Model, access: Access | None = None) -> tuple[Placing, ...]:
    """Every item once, in an order in which each can be reached, glued and got into place.

    Units made up on the bench come first, then the model. Where no order exists at all, the unit with the fewest
    things in its way is sprung in, and says so (`way` is None).
    """
    reach = access or Access(model)
    whole = list(units(model))
    on, stuck = _apart(model, reach, whole, bench=False)
    while stuck is not None:
        # made up beforehand it would never go on (a wing through both sides of a body): it is built in place
        whole.remove(stuck)
        whole += [frozenset({i}) for i in sorted(stuck)]
        on, stuck = _apart(model, reach, whole, bench=False)
    bench: list[Placing] = []
    for unit in sorted((u for u in whole if len(u) > 1), key=min):
        bench += _apart(model, reach, [frozenset({i}) for i in sorted(unit)], bench=True)[0]
    return (*bench, *on)


def units(model: Model) -> tuple[frozenset[int], ...]:
    """What is made up flat on the bench before it goes on: surfaces with spars, hinged parts and other half."""
    sets: dict[int, set[int]] = {i.index: {i.index} for i in model.items}
    for contact in model.contacts:
        a, b = model.items[contact.host], model.items[contact.guest]
        same = _group(a) == _group(b) and _group(a) in _FLAT and contact.kind not in ("dowel", "rod-hole")
        if contact.kind == "hinge" or same:
            joined = sets[contact.host] | sets[contact.guest]
            for i in joined:
                sets[i] = joined
    distinct = {min(s): frozenset(s) for s in sets.values()}
    return tuple(distinct[key] for key in sorted(distinct))


def _apart(
    model: Model, reach: Access, whole: Iterable[frozenset[int]], *, bench: bool
) -> tuple[tuple[Placing, ...], frozenset[int] | None]:
    """The order, and the unit that must be built in place instead of being made up, if one holds everything up."""
    left = list(whole)
    placed = frozenset(i for unit in left for i in unit)
    taken: list[Placing] = []
    while left:
        ranked = sorted(left, key=lambda u: (-_lateness(model, u, bench=bench), -min(u)))
        unit, way = ranked[0], None
        for candidate in ranked:
            found = _free(model, reach, candidate, placed)
            if found is not None:
                unit, way = candidate, found
                break
        else:
            for candidate in ranked:
                if len(candidate) > 1 and any(
                    _free(model, reach, frozenset({i}), placed) is not None for i in candidate
                ):
                    return (), candidate
            unit = min(left, key=lambda u: (_hindrance(reach, u, placed), -_lateness(model, u, bench=bench)))
        rest = placed - unit
        taken.append(
            Placing(items=tuple(sorted(unit)), contacts=_made(model, unit, rest), way=way, bench=bench)
        )
        left.remove(unit)
        placed = rest
    return tuple(reversed(taken)), None


def _made(model: Model, unit: frozenset[int], rest: frozenset[int]) -> tuple[int, ...]:
    return tuple(
        n
        for n, c in enumerate(model.contacts)
        if (c.host in unit and c.guest in rest) or (c.guest in unit and c.host in rest)
    )


def _free(model: Model, reach: Access, unit: frozenset[int], placed: frozenset[int]) -> Floats | None:
    rest = placed - unit
    for n in _made(model, unit, rest):
        contact = model.contacts[n]
        guest = contact.guest if contact.guest in unit else contact.host
        if contact.held == "glue" and not reach.reachable(n, guest, rest):
            return None
    return reach.way_out(unit, placed)


def _hindrance(reach: Access, unit: frozenset[int], placed: frozenset[int]) -> int:
    rest = placed - unit
    ways = zip(*(reach.stoppers(i) for i in sorted(unit)), strict=True)
    return min(len(frozenset().union(*blocked) & rest) for blocked in ways)


def _group(item: Item) -> str:
    if item.part is not None:
        return item.part.group
    return item.rod.group if item.rod is not None else "body"


def _lateness(model: Model, unit: frozenset[int], *, bench: bool) -> float:
    """How late a builder would rather have this on."""
    items = [model.items[i] for i in sorted(unit)]
    if bench:
        item = items[0]
        hinged = any(c.kind == "hinge" and c.guest == item.index for c in model.of(item.index))
        area = item.part.area_mm2 if item.part is not None else 0.0
        return (2.0 if hinged else 1.0 if item.part is None else 0.0) - 1e-7 * area + 0.1 * item.copy
    first = max(items, key=lambda i: i.part.area_mm2 if i.part is not None else 0.0)
    name = first.name
    if first.part is None:
        return 70.0 if _group(first) == "gear" else 65.0
    if _group(first) == "body":
        if name.startswith("body side"):
            return 18.0 if first.copy or name.endswith("port") else 12.0
        if name.startswith("former"):
            return 16.0
        if "cover" in name or "deck" in name:
            return 28.0
        if "doubler" in name:
            return 15.0
    if _group(first) == "wing" and _carried(model, unit):
        return 55.0 + 1e-4 * float(first.centre[2])
    return _LATE.get(_group(first), 20.0) + 0.1 * first.number + 0.01 * first.copy


def _carried(model: Model, unit: frozenset[int]) -> bool:
    """Whether struts alone carry a wing: it goes on when they stand."""
    held = {_group(model.items[c.other(i)]) for i in unit for c in model.of(i) if c.other(i) not in unit}
    return bool(held) and held <= {"strut"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """One step of building: units put on together, because they go on alike.

    units : new in this step
    onto : items they are joined to
    contacts : numbers of the contacts made in it
    ways : of each unit, the way it would leave again
    """

    units: tuple[tuple[int, ...], ...]
    onto: tuple[int, ...]
    contacts: tuple[int, ...]
    ways: tuple[Floats | None, ...]
    bench: bool

    @property
    def items(self) -> tuple[int, ...]:
        """Everything that is new in it."""
        return tuple(i for unit in self.units for i in unit)


def stages(model: Model, order: tuple[Placing, ...]) -> tuple[Stage, ...]:
    """The order as steps: neighbours that are alike and do not join each other are one step.

    What begins an assembly is no step by itself: it is shown with the first thing that joins it; alone only where
    nothing ever does.
    """
    groups: list[list[Placing]] = []
    alone: list[Placing] = []
    for placing in order:
        if placing.begins:
            alone.append(placing)
        elif groups and _alike(model, groups[-1], placing):
            groups[-1].append(placing)
        else:
            groups.append([placing])
    made = [_stage(model, group) for group in groups]
    met = {i for stage in made for i in stage.onto}
    made += [
        Stage(units=(p.items,), onto=(), contacts=(), ways=(p.way,), bench=p.bench)
        for p in alone
        if not p.bench and not met & set(p.items)
    ]
    return tuple(made)


def _stem(name: str) -> str:
    return (
        name.split(",", maxsplit=1)[0].rstrip("0123456789 ").removesuffix(" port").removesuffix(" starboard")
    )


def _alike(model: Model, group: list[Placing], placing: Placing) -> bool:
    if placing.bench != group[0].bench or len(group) >= 8:
        return False
    own = {i for p in group for i in p.items}
    first, item = (model.items[p.items[0]] for p in (group[0], placing))
    if _stem(first.name) != _stem(item.name):
        return False
    return not any(own & {model.contacts[n].host, model.contacts[n].guest} for n in placing.contacts)


def _stage(model: Model, group: list[Placing]) -> Stage:
    onto: dict[int, None] = {}
    for p in group:
        for n in p.contacts:
            c = model.contacts[n]
            onto[c.guest if c.host in p.items else c.host] = None
    return Stage(
        units=tuple(p.items for p in group),
        onto=tuple(onto),
        contacts=tuple(n for p in group for n in p.contacts),
        ways=tuple(p.way for p in group),
        bench=group[0].bench,
    )


def faults(model: Model, order: tuple[Placing, ...], access: Access | None = None) -> tuple[str, ...]:
    """What is wrong with an order, checked from the front.

    Each item goes on the model once, in a unit made up before; each joint is made when the second of its two goes
    on, and its glue line can be reached then; each unit has a free way in.
    """
    reach = access or Access(model)
    wrong: list[str] = []
    whole = units(model)
    made_up: dict[frozenset[int], frozenset[int]] = {}
    on: frozenset[int] = frozenset()
    done: set[int] = set()
    for placing in order:
        unit = frozenset(placing.items)
        name = " with ".join(model.items[i].name for i in placing.items[:2])
        if placing.bench:
            home = next(u for u in whole if unit <= u)
            there = made_up.get(home, frozenset())
            made_up[home] = there | unit
        else:
            if len(unit) > 1 and made_up.get(unit) != unit:
                wrong.append(f"{name}: not made up yet when it is needed")
            if unit & on:
                wrong.append(f"{name}: put on twice")
            there, on = on, on | unit
        if set(placing.contacts) != set(_made(model, unit, there)):
            wrong.append(f"{name}: its joints with what is there are not made when it is put on")
        done |= set(placing.contacts)
        if placing.way is None:
            wrong.append(f"{name}: has to be sprung into place")
        elif reach.way_out(unit, there | unit) is None:
            wrong.append(f"{name}: no free way into place")
        for n in placing.contacts:
            contact = model.contacts[n]
            guest = contact.guest if contact.guest in unit else contact.host
            if contact.held == "glue" and not reach.reachable(n, guest, there):
                wrong.append(
                    f"{name}: a glue line with {model.items[contact.other(guest)].name} is out of reach"
                )
    if on != frozenset(range(len(model.items))):
        left = [model.items[i].name for i in sorted(frozenset(range(len(model.items))) - on)]
        wrong.append(f"never put on: {', '.join(left)}")
    wrong += [
        f"{model.items[c.host].name} and {model.items[c.guest].name} are never joined"
        for n, c in enumerate(model.contacts)
        if n not in done
    ]
    return tuple(wrong)


def assemblies(model: Model) -> tuple[frozenset[int], ...]:
    """Sets of items that hang together by their joints: more than one where a wing is strapped or bolted on."""
    sets: list[set[int]] = [{i.index} for i in model.items]
    for contact in model.contacts:
        a = next(s for s in sets if contact.host in s)
        b = next(s for s in sets if contact.guest in s)
        if a is not b:
            a |= b
            sets.remove(b)
    return tuple(frozenset(s) for s in sets)
