"""Build steps in words: what goes where, which line is glued, what to check, what to beware of."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.design import Decal
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.access import Access, stopped
from sheetlark.handbook.order import Stage, assemblies, build_order, stages
from sheetlark.handbook.phrases import counted, listed, names_of, numbered, stem_of, whence
from sheetlark.handbook.pieces import Contact, Item, Model, take_apart
from sheetlark.handbook.scene import Eye, Picture, Shown, draw
from sheetlark.handbook.step_pictures import step_picture
from sheetlark.handbook.watching import Watch

Chapter = Literal["Flat on the bench", "The model", "Strapped on", "Decals"]

_PRICK = (
    "Each outline is drawn on its part. Where the plan says other face, prick its four corners through with a pin before "
    "the plan comes off."
)


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


def _part_of(name: str) -> str:
    """What a note calls a part: without its side, its stretch, or the number of its plank."""
    return name.split(",", maxsplit=1)[0].split(" plank", maxsplit=1)[0]


def _noted(notes: tuple[str, ...], names: set[str]) -> dict[str, str]:
    """Each note of a kit with the part it speaks of: the one it names first."""
    found = {}
    for note in notes:
        named = [(note.find(name), -len(name), name) for name in names if name in note]
        found[note] = min(named)[2] if named else ""
    return found


class _Writer:
    """Writes the steps of one model."""

    def __init__(self, evaluation: Evaluation, model: Model) -> None:
        self.evaluation = evaluation
        self.model = model
        self.watch = Watch(evaluation, model)
        sheet = evaluation.design.sheet
        self.glue = evaluation.stock.glue(sheet.glue)
        self.tape = evaluation.stock.tape(sheet.tape)
        self._bench = False
        self._closed = False
        self.hatch = self._find_hatch()
        self.notes = _noted(evaluation.kit.notes, {_part_of(i.name) for i in model.items})

    def named(self, indices: list[int] | tuple[int, ...]) -> str:
        """Items as a phrase, with their numbers: "formers 1 and 2 (12, 13)", "both struts (9)", "port body side (11)"."""
        groups: dict[str, list[Item]] = {}
        for index in indices:
            item = self.model.items[index]
            groups.setdefault(stem_of(item.name), []).append(item)
        return listed([numbered(items) for items in groups.values()])

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
            does=(*does, *self._noted(new)),
            glue=self._glued(contacts),
            checks=tuple(self.watch.checks(leading, contacts, bench=stage.bench)),
            cautions=tuple(self.watch.cautions(contacts, leading, bench=stage.bench)),
            picture=step_picture(self.model, stage, contacts),
            items=stage.items,
            onto=stage.onto,
            ways=tuple(
                (0.0, 0.0, 0.0) if way is None else (float(way[0]), float(way[1]), float(way[2]))
                for unit, way in zip(stage.units, stage.ways, strict=True)
                for _ in unit
            ),
        )

    def _noted(self, new: list[Item]) -> list[str]:
        """What the kit has to say of the things that are new here, each said once."""
        stems = {_part_of(item.name) for item in new}
        said = [note for note, stem in self.notes.items() if stem in stems]
        for note in said:
            del self.notes[note]
        return said

    def _leader(self, unit: tuple[int, ...]) -> int:
        return max(unit, key=lambda i: (p.area_mm2 if (p := self.model.items[i].part) else 0.0, -i))

    def _title(self, leading: list[int], kinds: set[str], onto: str) -> str:
        items = [self.model.items[i] for i in leading]
        surface = self.watch.surface_of(leading[0])
        if not onto:
            return f"Make up the {names_of(items)}"
        if (
            surface is not None
            and not kinds & {"hinge", "groove"}
            and len(items) == 1
            and items[0].part is not None
            and not self._bench
        ):
            return f"Put on the {surface.name}"
        verb = "Hinge" if "hinge" in kinds else "Let in" if "groove" in kinds and items[0].rod else "Fit"
        return f"{verb} {names_of(items)}"

    def _does(
        self, stage: Stage, contacts: list[Contact], names: str, onto: str, kinds: set[str]
    ) -> list[str]:
        does: list[str] = []
        if not contacts:
            return [f"Cut out {names}."]
        if "hinge" in kinds:
            does.append(
                f"Sand the bevel of {names} as marked. Lay it against {onto}, marked faces up, {self.watch.length(0.5)} apart, "
                "and run the hinge tape over the joint."
            )
            does.append("Fold it right over on itself and press a strip of tape along the other face.")
            return does
        lengths: dict[str, int] = {}
        for index in stage.items:
            item = self.model.items[index]
            if item.rod is not None and any(index in (c.host, c.guest) for c in contacts):
                stock = self.evaluation.stock.rod(item.rod.key)
                bent = "; bend it as drawn" if len(item.rod.points_mm) > 2 else ""
                words = f"{self.watch.length(item.rod.length_mm)} of {stock.name}{bent}"
                lengths[words] = lengths.get(words, 0) + 1
        does += [f"Cut {words}." if n == 1 else f"Cut {n} times {words}." for words, n in lengths.items()]
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
            does.append(f"It comes in from {whence(stage.ways[0])}.")
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
                words.append(f"{item.name}: {self.watch.length(length)}")
        if any(c.kind in ("dowel", "rod-hole") for c in contacts) and not words:
            return "a drop of glue at each hole"
        return "; ".join(words) or "no glue: it slides or is strapped"

    def strapped(self, number: int) -> list[Step]:
        """What no joint holds: a wing on rubber bands, or bolted."""
        made: list[Step] = []
        sets = sorted(assemblies(self.model), key=len, reverse=True)
        for loose in sets[1:]:
            unit = tuple(sorted(loose))
            lead = self._leader(unit)
            surface = self.watch.surface_of(lead)
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
                    checks=tuple(self.watch.rigging(surface)),
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
            f"{self.watch.length(abs(other))} from the centre line"
            if lying
            else f"{self.watch.length(abs(other))} {'above' if other >= 0 else 'below'} the datum line"
        )
        return (
            f"{decal.name}: {self.watch.length(1e3 * decal.size[0])} by {self.watch.length(1e3 * decal.size[1])} on {where}, {sides}; its "
            f"middle {self.watch.length(x)} behind the nose datum, {second}."
        )
