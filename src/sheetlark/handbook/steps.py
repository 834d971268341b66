"""Build steps in words: what goes where, which line is glued, what to check, what to beware of."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.design import Decal
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.access import Access, stopped
from sheetlark.handbook.order import Stage, assemblies, build_order, stages
from sheetlark.handbook.pieces import Contact, Floats, Item, Model, take_apart
from sheetlark.handbook.scene import Eye, Picture, Shown, draw

Chapter = Literal["Flat on the bench", "The model", "Strapped on", "Decals"]

_GLUE_CAUTION = {
    "hot": "Hot glue burns: keep a bowl of cold water near, and let it cool a few seconds before pressing foam.",
    "foam": "Contact glue: follow its label, air the room, and wait until it no longer wets a finger.",
    "epoxy": "Epoxy: wear gloves, keep it off the skin, air the room.",
    "cyano": "Instant glue bonds skin and its fumes sting: wear glasses, air the room; only the foam-safe kind.",
}
_PRICK = (
    "Each outline is drawn on its part. Where the plan says other face, prick its four corners through with a pin before "
    "the plan comes off."
)
_KNIFE = "Cut away from the hand that holds. A dull blade tears and slips: change it."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """One step of building.

    number : from 1
    parts : part numbers that are new, with how many of each; 0 stands for a rod
    does, checks, cautions : sentences, in order
    glue : what is glued or taped, and how much of it
    picture : exactly the parts in play
    items, onto : indices of what is new, and of what it is joined to
    ways : for each of `items`, the way it would leave again; zero where there is none
    """

    number: int
    chapter: Chapter
    title: str
    parts: tuple[tuple[int, str, int], ...]
    does: tuple[str, ...]
    glue: str
    checks: tuple[str, ...]
    cautions: tuple[str, ...]
    picture: Picture
    items: tuple[int, ...]
    onto: tuple[int, ...]
    ways: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Build:
    """The whole building of a model: its items and the steps that put them together."""

    model: Model
    steps: tuple[Step, ...]
    whole: Picture
    side: Picture


def build_steps(evaluation: Evaluation) -> Build:
    """Solve the order of building and say and draw each step."""
    model = take_apart(evaluation.kit)
    order = build_order(model, Access(model))
    writer = _Writer(evaluation, model)
    steps: list[Step] = []
    for stage in stages(model, order):
        steps.append(writer.step(stage, len(steps) + 1))
    steps += writer.strapped(len(steps) + 1)
    steps += writer.decals(len(steps) + 1)
    whole = draw(
        [Shown(item=i, weight="new", labelled=False) for i in model.items],
        eye=Eye(round_rad=math.radians(38.0), above_rad=math.radians(24.0)),
        labels=False,
    )
    side = draw(
        [Shown(item=i, weight="new", labelled=False) for i in model.items],
        eye=Eye(round_rad=0.0, above_rad=0.0),
        labels=False,
    )
    return Build(model=model, steps=tuple(steps), whole=whole, side=side)


def counted(items: list[Item]) -> tuple[tuple[int, str, int], ...]:
    """(number, name, how many) of each part among items, in order of number; rods last."""
    found: dict[tuple[int, str], int] = {}
    for item in items:
        key = (item.number, item.name)
        found[key] = found.get(key, 0) + 1
    ordered = sorted(found.items(), key=lambda pair: (pair[0][0] == 0, pair[0]))
    return tuple((number, name, count) for (number, name), count in ordered)


def listed(words: list[str]) -> str:
    """Words as a list in a sentence."""
    unique = list(dict.fromkeys(words))
    if len(unique) <= 1:
        return "".join(unique)
    return f"{', '.join(unique[:-1])} and {unique[-1]}"


class _Writer:
    """Writes the steps of one model."""

    def __init__(self, evaluation: Evaluation, model: Model) -> None:
        self.evaluation = evaluation
        self.model = model
        self.surfaces: dict[str, LiftingSurface] = {s.name: s for s in evaluation.airframe.surfaces}
        sheet = evaluation.design.sheet
        self.glue = evaluation.stock.glue(sheet.glue)
        self.tape = evaluation.stock.tape(sheet.tape)
        self.imperial = evaluation.design.model.units == "imperial"
        self._bench = False
        self._closed = False
        self._warned: set[tuple[bool, str]] = set()
        self.hatch = self._find_hatch()

    def length(self, millimetres: float) -> str:
        if self.imperial:
            return f"{millimetres / 25.4:.2f} in" if millimetres < 25 else f"{millimetres / 25.4:.1f} in"
        return f"{millimetres:.1f} mm" if millimetres < 5 else f"{millimetres:.0f} mm"

    def named(self, indices: list[int] | tuple[int, ...]) -> str:
        """Items as a phrase, with their numbers: "formers 1 and 2 (12, 13)", "both struts (9)", "port body side (11)"."""
        groups: dict[str, list[Item]] = {}
        for index in indices:
            item = self.model.items[index]
            groups.setdefault(_stem(item.name), []).append(item)
        return listed([_phrase(items) for items in groups.values()])

    def step(self, stage: Stage, number: int) -> Step:
        contacts = [self.model.contacts[n] for n in stage.contacts]
        self._bench = stage.bench
        new = [self.model.items[i] for i in stage.items]
        leading = [self._leader(unit) for unit in stage.units]
        names, onto = self.named(leading), self.named(stage.onto)
        kinds = {c.kind for c in contacts}
        does = self._does(stage, contacts, names, onto, kinds)
        return Step(
            number=number,
            chapter="Flat on the bench" if stage.bench else "The model",
            title=self._title(leading, kinds, onto),
            parts=counted(new),
            does=tuple(does),
            glue=self._glued(contacts),
            checks=tuple(self._checks(leading, contacts, bench=stage.bench)),
            cautions=tuple(self._cautions(contacts, leading)),
            picture=self._picture(stage, contacts),
            items=stage.items,
            onto=stage.onto,
            ways=tuple(
                (0.0, 0.0, 0.0) if way is None else (float(way[0]), float(way[1]), float(way[2]))
                for unit, way in zip(stage.units, stage.ways, strict=True)
                for _ in unit
            ),
        )

    def _leader(self, unit: tuple[int, ...]) -> int:
        return max(unit, key=lambda i: (p.area_mm2 if (p := self.model.items[i].part) else 0.0, -i))

    def _title(self, leading: list[int], kinds: set[str], onto: str) -> str:
        items = [self.model.items[i] for i in leading]
        surface = self._surface_of(leading[0])
        if not onto:
            return f"Make up the {_phrase_plain(items)}"
        if (
            surface is not None
            and not kinds & {"hinge", "groove"}
            and len(items) == 1
            and items[0].part is not None
            and not self._bench
        ):
            return f"Put on the {surface.name}"
        verb = "Hinge" if "hinge" in kinds else "Let in" if "groove" in kinds and items[0].rod else "Fit"
        return f"{verb} {_phrase_plain(items)}"

    def _does(
        self, stage: Stage, contacts: list[Contact], names: str, onto: str, kinds: set[str]
    ) -> list[str]:
        does: list[str] = []
        if not contacts:
            return [f"Cut out {names}."]
        if "hinge" in kinds:
            does.append(
                f"Sand the bevel of {names} as marked. Lay it against {onto}, marked faces up, {self.length(0.5)} apart, "
                "and run the hinge tape over the joint."
            )
            does.append("Fold it right over on itself and press a strip of tape along the other face.")
            return does
        lengths: dict[str, int] = {}
        for index in stage.items:
            item = self.model.items[index]
            if item.rod is not None and any(index in (c.host, c.guest) for c in contacts):
                stock = self.evaluation.stock.rod(item.rod.key)
                bent = " and bend it as drawn" if len(item.rod.points_mm) > 2 else ""
                words = f"{stock.name} to {self.length(item.rod.length_mm)}{bent}"
                lengths[words] = lengths.get(words, 0) + 1
        does += [f"Cut {words}." if n == 1 else f"Cut {words}, {n} times." for words, n in lengths.items()]
        does += self._before_closing(stage)
        tabbed = "tab-and-slot" in kinds
        if "groove" in kinds:
            does.append(
                f"Open the groove in {onto} along its two lines, no deeper than marked; glue in {names} flush."
            )
        elif "doubler" in kinds and not tabbed:
            does.append(f"Glue {names} flat on {onto}, inside the outline drawn there.")
        elif kinds & {"dowel", "rod-hole"}:
            does.append(f"Push {names} through the holes of {onto}, equal ends standing out.")
        elif "bolted" in kinds:
            does.append(f"Bolt {names} to {onto}; hand-tight is enough, washers under the heads.")
        else:
            how = (
                "Try it dry: the tabs go into their slots without force. " if tabbed else "Try it dry first. "
            )
            does.append(f"{how}Then glue {names} to {onto}, on the drawn lines.")
        if len(stage.ways) == 1 and stage.ways[0] is not None and not stage.bench:
            does.append(f"It comes in from {_whence(stage.ways[0])}.")
        if any(w is None for w in stage.ways):
            does.append("It has to be sprung into place: bend the sheet gently, let go when the edges meet.")
        if len(stage.items) > len(stage.units):
            does.append("It goes on as one, as made up on the bench.")
        if self.hatch is not None and self.hatch in stage.items:
            name = self.named([self.hatch])
            does.append(
                f"The battery lies behind {name}: tape it along one edge as a hatch instead of gluing it, and hold the other with "
                "a strip of tape or two magnets."
            )
        return does

    def _before_closing(self, stage: Stage) -> list[str]:
        """What must be inside before the first cover closes the body."""
        covers = [i for i in stage.items if any(w in self.model.items[i].name for w in ("cover", "deck"))]
        radio = self.evaluation.design.radio
        if self._closed or not covers:
            return []
        self._closed = True
        inside = ["battery strap"] if self.evaluation.design.drive is not None else []
        if radio is not None and radio.servo:
            inside = ["servos that sit in the body", "their push-rods", "servo leads", *inside]
        if not inside:
            return []
        return [f"Before the body closes, put in: {listed(inside)}. Pages on linkage and wiring say how."]

    def _find_hatch(self) -> int | None:
        """The cover that stands between the battery and the hand: the topmost over it, else the one beneath."""
        drive = self.evaluation.design.drive
        if drive is None:
            return None
        origin = 1e3 * np.asarray(drive.pack_at, dtype=np.float64)[None, :]
        for way in ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)):
            found = [
                item.index
                for item in self.model.items
                if any(word in item.name for word in ("cover", "deck"))
                and "plank" not in item.name  # one plank of several opens nothing
                and bool(stopped(item, origin, np.array([way]), from_mm=1.0)[0])
            ]
            if found:
                return max(found, key=lambda i: float(self.model.items[i].centre[2]) * way[2])
        return None

    def _glued(self, contacts: list[Contact]) -> str:
        words = []
        for held, item in (("glue", self.glue), ("tape", self.tape)):
            length = sum(c.length_mm for c in contacts if c.held == held)
            if length > 0.5:
                words.append(f"{item.name}: {self.length(length)}")
        if any(c.kind in ("dowel", "rod-hole") for c in contacts) and not words:
            return "a drop of glue at each hole"
        return "; ".join(words) or "no glue: it slides or is strapped"

    def _surface_of(self, index: int) -> LiftingSurface | None:
        name = self.model.items[index].name
        for known, surface in self.surfaces.items():
            if name == known or name.startswith(f"{known} "):
                return surface
        return None

    def _checks(self, leading: list[int], contacts: list[Contact], *, bench: bool) -> list[str]:
        checks: list[str] = []
        items = [self.model.items[i] for i in leading]
        first = items[0]
        surface = self._surface_of(leading[0])
        if any(c.kind == "hinge" for c in contacts):
            hinge = next(c for c in contacts if c.kind == "hinge")
            carrier = self._surface_of(hinge.host)
            control = carrier.control if carrier is not None else None
            if control is not None:
                low = math.degrees(control.down_rad)
                high = math.degrees(control.up_rad)
                checks.append(
                    f"It swings {high:.0f}° one way and {low:.0f}° the other without rubbing, and falls by its own weight."
                )
            return checks
        if first.rod is not None:
            if any(c.kind == "groove" for c in contacts) and not any(
                len(i.rod.points_mm) > 2 for i in items if i.rod
            ):
                checks.append(
                    "The panel lies flat on the bench until the glue is hard: sight along its edge."
                )
            return checks
        group = first.part.group if first.part is not None else ""
        halves = any(self.model.items[c.host].name == self.model.items[c.guest].name for c in contacts)
        if bench and halves and surface is not None and abs(surface.dihedral_rad) > 1e-3:
            lift = 1e3 * surface.half_span_m * math.sin(2.0 * abs(surface.dihedral_rad))
            checks.append(
                f"One panel flat on the bench, the other tip {self.length(lift)} up, measured at the tip's lower face "
                f"(dihedral {math.degrees(surface.dihedral_rad):.1f}° each side; gauge on the gauge pages)."
            )
            return checks
        if group == "body" and first.name.startswith("former"):
            checks.append(
                "Each stands square, 90° to the side both ways: hold a set square to it until the glue is hard."
            )
        elif group == "body" and first.name.startswith("body side"):
            checks.append(
                "Sides opposite each other: stand it on the bench, and measure both diagonals; equal to 1 mm."
            )
        elif group == "body" and ("cover" in first.name or "deck" in first.name):
            checks.append("Before the glue sets, sight from nose to tail: no twist in the body.")
        elif group == "fin":
            stands = next((self.model.items[c.other(leading[0])].name for c in contacts), "tailplane")
            checks.append(
                f"Upright: 90° to the {stands} on both sides, and in line with the body seen from above."
            )
        elif surface is not None and group in ("wing", "tail") and not bench:
            checks += self._rigging(surface)
        elif group == "strut":
            checks.append("Both struts of the pair stand alike: sight from the front.")
        elif first.name == "firewall":
            checks += self._thrust_check()
        return checks

    def _rigging(self, surface: LiftingSurface) -> list[str]:
        checks = [
            (
                f"Incidence {math.degrees(surface.incidence_rad):+.1f}° to the thrust line by its gauge "
                f"(half a degree shows in flight)."
            )
        ]
        reach = 1e3 * surface.half_span_m
        checks.append(
            f"Square seen from above: from each tip to the middle of the {'tail' if surface.role == 'wing' else 'nose'} "
            f"the same, to {self.length(max(1.0, 0.004 * reach))}; seen from the front, tips equally high."
        )
        return checks

    def _thrust_check(self) -> list[str]:
        drive = self.evaluation.design.drive
        if drive is None:
            return []
        down, right = math.degrees(drive.down), math.degrees(drive.right)
        where = (
            f"The motor points {down:.1f}° down and {right:.1f}° right: set by the shims later."
            if abs(down) + abs(right) > 0.05
            else "It stands square to the thrust line, both ways."
        )
        return [f"Its holes lie on the marked thrust line. {where}"]

    def _cautions(self, contacts: list[Contact], leading: list[int]) -> list[str]:
        words = []
        if any(c.held == "glue" for c in contacts):
            key = self.glue.key + " " + self.glue.name.lower()
            for sign, caution in _GLUE_CAUTION.items():
                if sign in key:
                    words += self._once(caution)
                    break
        rods = [self.model.items[i] for i in leading if self.model.items[i].rod is not None]
        if rods:
            name = " ".join(self.evaluation.stock.rod(r.rod.key).name for r in rods if r.rod)
            if "carbon" in name:
                words += self._once(
                    "Carbon dust and splinters: saw it wet, wear gloves and a mask, wipe up; tape the ends."
                )
            elif "wire" in name:
                words += self._once(
                    "Wire ends fly when cut: glasses on, cut into a cloth, file the ends round."
                )
        if any(c.kind == "groove" for c in contacts):
            words += self._once(_KNIFE)
        return words

    def _once(self, caution: str) -> list[str]:
        """A caution the first time it belongs in a chapter; nobody reads it twenty times."""
        if (self._bench, caution) in self._warned:
            return []
        self._warned.add((self._bench, caution))
        return [caution]

    def _picture(self, stage: Stage, contacts: list[Contact]) -> Picture:
        there = [Shown(item=self.model.items[i], weight="there") for i in stage.onto]
        shown: list[Shown] = list(there)
        moves = []
        names_done: set[int] = set()
        low, high = self._box([*stage.items, *stage.onto])
        size = float(np.linalg.norm(high - low))
        for unit, way in zip(stage.units, stage.ways, strict=True):
            shift = np.zeros(3)
            if stage.onto and way is not None and not any(c.kind == "hinge" for c in contacts):
                shift = way * self._apart(unit, stage.onto, way, size)
            for i in unit:
                item = self.model.items[i]
                show = item.number not in names_done or item.copy == 0
                names_done.add(item.number)
                shown.append(
                    Shown(
                        item=item,
                        weight="new",
                        moved_mm=(float(shift[0]), float(shift[1]), float(shift[2])),
                        labelled=show,
                    )
                )
            if float(np.linalg.norm(shift)) > 1.0:
                for c in contacts:
                    if (c.host in unit or c.guest in unit) and c.runs_mm:
                        for run in (c.runs_mm[0], c.runs_mm[-1])[: 1 if len(c.runs_mm) == 1 else 2]:
                            end = 0.5 * (np.asarray(run[0]) + np.asarray(run[-1]))
                            moves.append((tuple((end + shift).tolist()), tuple(end.tolist())))
        glue = [(c.held, run) for c in contacts if c.held != "loose" for run in c.runs_mm]
        if len(moves) > 6:
            moves = moves[:: math.ceil(len(moves) / 6)]
        return draw(shown, glue=glue, moves=moves, eye=self._eye(stage))

    def _box(self, indices: list[int]) -> tuple[Floats, Floats]:
        points = np.concatenate([self.model.items[i].points for i in indices])
        return points.min(axis=0), points.max(axis=0)

    def _apart(self, unit: tuple[int, ...], onto: tuple[int, ...], way: Floats, size: float) -> float:
        """How far a unit is shown off: a hand's breadth, more where it would still cover what it goes on."""
        mine = np.concatenate([self.model.items[i].points for i in unit]) @ way
        theirs = np.concatenate([self.model.items[i].points for i in onto]) @ way
        depth = float(min(np.ptp(mine), np.ptp(theirs)))
        return min(max(0.12 * size, 25.0) + 0.6 * depth, 0.45 * size)

    def _eye(self, stage: Stage) -> Eye:
        """From ahead, starboard and above; from below where what is new goes on from below; from port for a side."""
        ways = [w for w in stage.ways if w is not None]
        above = math.radians(30.0)
        if stage.onto and ways and all(w[2] < -0.6 for w in ways):
            above = -above
        flat = [abs(float(self.model.items[i].normal[2])) > 0.9 for i in (*stage.items, *stage.onto)]
        if stage.bench and all(flat):
            above = math.copysign(math.radians(50.0), above)
        around = math.radians(35.0)
        if stage.onto and ways and all(w[1] < -0.6 for w in ways):
            around = -around
        return Eye(round_rad=around, above_rad=above)

    def strapped(self, number: int) -> list[Step]:
        """What no joint holds: a wing on rubber bands, or bolted."""
        made: list[Step] = []
        sets = sorted(assemblies(self.model), key=len, reverse=True)
        for loose in sets[1:]:
            unit = tuple(sorted(loose))
            lead = self._leader(unit)
            surface = self._surface_of(lead)
            if surface is None:
                continue
            wing = next((w for w in self.evaluation.design.wing if w.name == surface.name), None)
            held = wing.held if wing is not None else "bands"
            others = [i.index for i in self.model.items if i.index not in loose]
            sense = np.array([0.0, 0.0, 1.0])
            shown = [Shown(item=self.model.items[i], weight="there", labelled=False) for i in others]
            shown += [
                Shown(item=self.model.items[i], weight="new", moved_mm=tuple((sense * 70.0).tolist()))
                for i in unit
            ]
            how = (
                "Set it in its saddle, centre lines together, and stretch rubber bands crosswise from dowel to dowel: four or more."
                if held == "bands"
                else "Set it in its saddle, centre lines together, and bolt it down hand-tight."
            )
            made.append(
                Step(
                    number=number + len(made),
                    chapter="Strapped on",
                    title=f"Put on the {self.model.items[lead].name.removesuffix(' panel')}",
                    parts=counted([self.model.items[i] for i in unit]),
                    does=(
                        how,
                        "Mark where it stands with a pen on both, so that it comes back to the same place after every landing.",
                    ),
                    glue="no glue: it can give way in a hard landing",
                    checks=tuple(self._rigging(surface)),
                    cautions=(
                        "Old rubber breaks: new bands for the season, and look at each before each flight.",
                    )
                    if held == "bands"
                    else (),
                    picture=draw(shown),
                    items=unit,
                    onto=(),
                    ways=((0.0, 0.0, 1.0),) * len(unit),
                )
            )
        return made

    def decals(self, number: int) -> list[Step]:
        """Where the decals go; none where the design states none."""
        stated = self.evaluation.design.decal
        if not stated:
            return []
        carriers = {m.name for m in self.evaluation.kit.parts if any(k.kind == "decal" for k in m.marks)}
        shown = [
            Shown(
                item=item, weight="new" if item.name in carriers else "there", labelled=item.name in carriers
            )
            for item in self.model.items
        ]
        return [
            Step(
                number=number,
                chapter="Decals",
                title="Put on the decals",
                parts=(),
                does=(*(self._decal(decal) for decal in stated), _PRICK),
                glue="the decals' own, or spray glue",
                checks=("Both sides alike: measure each from the nose and from the centre line.",),
                cautions=(),
                picture=draw(shown),
                items=(),
                onto=tuple(i.index for i in self.model.items if i.name in carriers),
                ways=(),
            )
        ]

    def _decal(self, decal: Decal) -> str:
        x, other = (1e3 * v for v in decal.at)
        lying = decal.on not in {"body", *(f.name for f in self.evaluation.design.fin)}
        where = f"the {decal.face} of the {decal.on}" if lying else f"the {decal.on}"
        sides = {"both": "both sides", "starboard": "starboard", "port": "port"}[decal.sides]
        second = (
            f"{self.length(abs(other))} from the centre line"
            if lying
            else f"{self.length(abs(other))} {'above' if other >= 0 else 'below'} the datum line"
        )
        return (
            f"{decal.name}: {self.length(1e3 * decal.size[0])} by {self.length(1e3 * decal.size[1])} on {where}, {sides}; its "
            f"middle {self.length(x)} behind the nose datum, {second}."
        )


def _whence(way: Floats) -> str:
    """Where a unit comes from, by the way it would leave again."""
    words = (("behind", "ahead"), ("starboard", "port"), ("above", "below"))
    axis = int(np.argmax(np.abs(way)))
    main = words[axis][0 if way[axis] > 0 else 1]
    others = [words[k][0 if way[k] > 0 else 1] for k in range(3) if k != axis and abs(float(way[k])) > 0.35]
    return " and ".join([main, *others])


def plural(name: str) -> str:
    """A name for two of it."""
    head, comma, rest = name.partition(",")
    if head.endswith("s"):
        return name
    head = head[:-1] + "ies" if head.endswith("y") and head[-2:-1] not in "aeiou" else f"{head}s"
    return f"{head}{comma}{rest}"


def _stem(name: str) -> str:
    """A name without its last number or side: what several of a kind share."""
    return name.split(",", maxsplit=1)[0].rstrip("0123456789 ")


def _phrase(items: list[Item]) -> str:
    numbers = list(dict.fromkeys(str(i.number) for i in items if i.number))
    shown = f" ({', '.join(numbers)})" if numbers else ""
    if len(items) == 1:
        item = items[0]
        return f"the {_side(item)}{item.name.replace(',', '')}{shown}"
    return f"{_phrase_plain(items)}{shown}"


def _side(item: Item) -> str:
    if item.part is None or item.part.count != 2:
        return ""
    y = float(item.centre[1])
    return "starboard " if y > 1.0 else "port " if y < -1.0 else ""


def _phrase_plain(items: list[Item]) -> str:
    names = [i.name for i in items]
    if len(items) == 1:
        return f"the {_side(items[0])}{names[0].replace(',', '')}"
    stems = {_stem(name) for name in names}
    if len(stems) > 1:
        return listed([f"the {name}" for name in names])
    stem = stems.pop()
    tails = list(dict.fromkeys(name[len(stem) :].strip(" ,").replace(",", "") for name in names))
    if tails == [""]:
        return f"both {plural(stem)}" if len(items) == 2 else f"{len(items)} {plural(stem)}"
    return f"{plural(stem)} {listed(tails)}"
