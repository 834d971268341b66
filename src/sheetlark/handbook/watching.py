"""What to check at each building step, and what to beware of."""

from __future__ import annotations

import math

from sheetlark.airframe import LiftingSurface
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.pieces import Contact, Model
from sheetlark.units import show_ruled

_GLUE_CAUTION = {
    "hot": "Hot glue burns: keep a bowl of cold water near, and let it cool a few seconds before pressing foam.",
    "foam": "Contact glue: follow its label, air the room, and wait until it no longer wets a finger.",
    "epoxy": "Epoxy: wear gloves, keep it off the skin, air the room.",
    "cyano": "Instant glue bonds skin and its fumes sting: wear glasses, air the room; only the foam-safe kind.",
}
_KNIFE = "Cut away from the hand that holds. A dull blade tears and slips: change it."


class Watch:
    """Checks and cautions of one model's steps, in the order they are asked for."""

    def __init__(self, evaluation: Evaluation, model: Model) -> None:
        self.evaluation = evaluation
        self.model = model
        self.surfaces: dict[str, LiftingSurface] = {s.name: s for s in evaluation.airframe.surfaces}
        self.glue = evaluation.stock.glue(evaluation.design.sheet.glue)
        self.imperial = evaluation.design.model.imperial
        self._warned: set[tuple[bool, str]] = set()

    def length(self, millimetres: float) -> str:
        """A length in the model's units."""
        return show_ruled(1e-3 * millimetres, self.imperial)

    def surface_of(self, index: int) -> LiftingSurface | None:
        """The lifting surface an item belongs to, by its name."""
        name = self.model.items[index].name
        for known, surface in self.surfaces.items():
            if name == known or name.startswith(f"{known} "):
                return surface
        return None

    def checks(self, leading: list[int], contacts: list[Contact], *, bench: bool) -> list[str]:
        """What to look at before the glue sets."""
        checks: list[str] = []
        items = [self.model.items[i] for i in leading]
        first = items[0]
        surface = self.surface_of(leading[0])
        if any(c.kind == "hinge" for c in contacts):
            hinge = next(c for c in contacts if c.kind == "hinge")
            carrier = self.surface_of(hinge.host)
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
                f"Sides opposite each other: stand it on the bench, and measure both diagonals; equal to {self.length(1.0)}."
            )
        elif group == "body" and ("cover" in first.name or "deck" in first.name):
            checks.append("Before the glue sets, sight from nose to tail: no twist in the body.")
        elif group == "fin":
            stands = next((self.model.items[c.other(leading[0])].name for c in contacts), "tailplane")
            checks.append(
                f"Upright: 90° to the {stands} on both sides, and in line with the body seen from above."
            )
        elif surface is not None and group in ("wing", "tail") and not bench:
            checks += self.rigging(surface)
        elif group == "strut":
            checks.append("Both struts of the pair stand alike: sight from the front.")
        elif first.name == "firewall":
            checks += self._thrust_check()
        return checks

    def rigging(self, surface: LiftingSurface) -> list[str]:
        """Incidence and squareness of a wing or tail on the body."""
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
            f"The motor points {down:.1f}° down and {right:.1f}° right: set by the wedge under it, and by shims later."
            if abs(down) + abs(right) > 0.05
            else "It stands square to the thrust line, both ways."
        )
        return [f"Its holes lie on the marked thrust line. {where}"]

    def cautions(self, contacts: list[Contact], leading: list[int], *, bench: bool) -> list[str]:
        """What to beware of, each caution once a chapter."""
        words = []
        if any(c.held == "glue" for c in contacts):
            key = self.glue.key + " " + self.glue.name.lower()
            for sign, caution in _GLUE_CAUTION.items():
                if sign in key:
                    words += self._once(bench, caution)
                    break
        rods = [self.model.items[i] for i in leading if self.model.items[i].rod is not None]
        if rods:
            name = " ".join(self.evaluation.stock.rod(r.rod.key).name for r in rods if r.rod)
            if "carbon" in name:
                words += self._once(
                    bench,
                    "Carbon dust and splinters: saw it wet, wear gloves and a mask, wipe up; tape the ends.",
                )
            elif "wire" in name:
                words += self._once(
                    bench, "Wire ends fly when cut: glasses on, cut into a cloth, file the ends round."
                )
        if any(c.kind == "groove" for c in contacts):
            words += self._once(bench, _KNIFE)
        return words

    def _once(self, bench: bool, caution: str) -> list[str]:
        """A caution the first time it belongs in a chapter; nobody reads it twenty times."""
        if (bench, caution) in self._warned:
            return []
        self._warned.add((bench, caution))
        return [caution]
