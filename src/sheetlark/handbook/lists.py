"""What to buy, what tools to lay out, and in which order to cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.evaluation import Evaluation
from sheetlark.sheets import Nesting
from sheetlark.units import FOOT_M, INCH_M, OUNCE_KG, show_ruled


@dataclass(frozen=True, slots=True, kw_only=True)
class Buy:
    """One line of the shopping list.

    amount : in words: "3 sheets", "1.9 m"
    use : what it is for
    price : of all of it in the stock's money; None where the stock has none
    """

    group: str
    name: str
    amount: str
    use: str
    price: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """The shopping list; `cost` sums what has a price, and says how many lines have none."""

    lines: tuple[Buy, ...]

    @property
    def cost(self) -> float:
        """Of the lines with a price."""
        return sum(line.price for line in self.lines if line.price is not None)

    @property
    def without_price(self) -> int:
        """Lines whose price the stock does not know."""
        return sum(line.price is None for line in self.lines)


def _price(item: object, count: float = 1.0) -> float | None:
    price = getattr(item, "price", None)
    return None if price is None else float(price) * count


def _amount(metres: float, *, imperial: bool) -> str:
    if imperial:
        return f"{metres / FOOT_M:.1f} ft" if metres >= FOOT_M else show_ruled(metres, imperial)
    return f"{metres:.2f} m" if metres >= 1.0 else show_ruled(metres)


def _mass(kilograms: float, *, imperial: bool) -> str:
    return f"{kilograms / OUNCE_KG:.1f} oz" if imperial else f"{1e3 * kilograms:.0f} g"


def shopping(evaluation: Evaluation, nesting: Nesting | None = None) -> Shopping:
    """Everything a builder has to have, from sheets to servo screws' worth of hardware.

    Parameters
    ----------
    nesting : Nesting, optional
        Tells how many sheets; left out, the fewest that the area could fill, said as such.
    """
    stock, kit, design = evaluation.stock, evaluation.kit, evaluation.design
    imperial = design.model.imperial
    lines: list[Buy] = []
    uses = {use.sheet: use for use in nesting.materials} if nesting is not None else {}
    for key in dict.fromkeys(part.sheet for part in kit.parts):
        sheet = stock.sheet(key)
        area = sum(p.area_mm2 * p.count for p in kit.parts if p.sheet == key)
        if key in uses:
            count, about = uses[key].sheets, ""
        else:
            count, about = max(1, math.ceil(area / (0.75e6 * sheet.width_m * sheet.height_m))), "about "
        size = f"{1e3 * sheet.width_m:.0f} × {1e3 * sheet.height_m:.0f} mm"
        if imperial:
            size = f"{sheet.width_m / INCH_M:.0f} × {sheet.height_m / INCH_M:.0f} in"
        many = "sheet" if count == 1 else "sheets"
        share = area / (1e6 * sheet.width_m * sheet.height_m)
        if share < 0.2 and count == 1:
            piece = area / 0.7
            amount = (
                f"a piece of {1e-6 * piece / INCH_M**2:.1f} in²"
                if imperial
                else f"a piece of {piece / 100:.0f} cm²"
            )
            lines.append(Buy(group="Sheet", name=sheet.name, amount=amount, use=_parts_of(evaluation, key)))
            continue
        lines.append(
            Buy(
                group="Sheet",
                name=sheet.name,
                amount=f"{about}{count} {many}, {size}",
                use=_parts_of(evaluation, key),
                price=_price(sheet, count),
            )
        )
    for key in dict.fromkeys(rod.key for rod in kit.rods):
        mine = [rod for rod in kit.rods if rod.key == key]
        total = sum(rod.length_mm for rod in mine)
        numbers, units = zip(
            *(show_ruled(1e-3 * rod.length_mm, imperial).split() for rod in mine), strict=True
        )
        lines.append(
            Buy(
                group="Rod and wire",
                name=stock.rod(key).name,
                amount=_amount(1e-3 * total, imperial=imperial),
                use=f"{', '.join(dict.fromkeys(rod.name for rod in mine))} ({' + '.join(numbers)} {units[0]})",
                price=_price(stock.rod(key)),
            )
        )
    lines += _sticking(evaluation, imperial=imperial)
    lines += _bought(evaluation, imperial=imperial)
    return Shopping(lines=tuple(lines))


def _parts_of(evaluation: Evaluation, key: str) -> str:
    count = sum(p.count for p in evaluation.kit.parts if p.sheet == key)
    return "1 part" if count == 1 else f"{count} parts"


def _sticking(evaluation: Evaluation, *, imperial: bool) -> list[Buy]:
    stock, design = evaluation.stock, evaluation.design
    found = []
    for held, item in (("glue", stock.glue(design.sheet.glue)), ("tape", stock.tape(design.sheet.tape))):
        length = sum(j.length_mm for j in evaluation.kit.joints if j.held == held)
        if length > 0:
            spare = 1.2 * length  # a fifth more than the drawn lines: common practice, no source
            mass = ""
            if held == "glue":
                mass = f", {_mass(stock.glue(design.sheet.glue).linear_density_kg_m * 1e-3 * spare, imperial=imperial)}"
            found.append(
                Buy(
                    group="Glue and tape",
                    name=item.name,
                    amount=f"{_amount(1e-3 * spare, imperial=imperial)}{' of bead' if held == 'glue' else ''}{mass}",
                    use="joints" if held == "glue" else "hinges",
                    price=_price(item),
                )
            )
    film = stock.covering(design.covering.stock)
    if film.areal_density_kg_m2 > 0:
        covered = [line for line in evaluation.weights.lines if line.group == "covering"]
        area = sum(line.mass_kg for line in covered) / film.areal_density_kg_m2
        found.append(
            Buy(
                group="Glue and tape",
                name=film.name,
                amount=f"{1.15 * area / FOOT_M**2:.1f} ft²" if imperial else f"{1.15 * area:.2f} m²",
                use="covering",
                price=_price(film),
            )
        )
    return found


def _bought(evaluation: Evaluation, *, imperial: bool) -> list[Buy]:
    stock = evaluation.stock
    tables = {
        "motor": stock.motor,
        "propeller": stock.propeller,
        "pack": stock.pack,
        "controller": stock.controller,
        "receiver": stock.receiver,
        "servo": stock.servo,
        "linkage": stock.linkage,
        "wheel": stock.wheel,
    }
    found = []
    things = evaluation.airframe.equipment
    for kind, key in dict.fromkeys((e.kind, e.key) for e in things if e.kind != "ballast"):
        mine = [e for e in things if (e.kind, e.key) == (kind, key)]
        item = tables[kind](key)
        uses = dict.fromkeys(
            e.name.split(",")[0].removesuffix(" servo").removesuffix(" push-rod") for e in mine
        )
        if kind == "linkage":
            lengths = sorted(e.length_m for e in mine)
            shown = [show_ruled(m, imperial) for m in lengths]
            amount = f"{len(mine)} × {', '.join(dict.fromkeys(shown))}"
        elif kind == "propeller":
            amount = f"{len(mine)}, and one spare"
        else:
            amount = str(len(mine))
        use = (
            ""
            if kind in ("motor", "propeller", "pack", "controller", "receiver", "wheel")
            else ", ".join(uses)
        )
        name = item.name if item.name != item.key else item.key.replace("-", " ")
        found.append(
            Buy(group="Drive and radio", name=name, amount=amount, use=use, price=_price(item, len(mine)))
        )
    small: dict[str, list[tuple[int, str]]] = {}
    for line in evaluation.weights.lines:
        if line.batch.startswith("Hardware "):
            key = line.batch.split(" ", 1)[1]
            item2 = stock.hardware(key)
            count = max(1, round(line.mass_kg / item2.mass_kg)) if item2.mass_kg > 0 else 1
            use = line.name.removesuffix(item2.name).removeprefix(item2.name).strip(" ,")
            small.setdefault(key, []).append((count, use))
    for key, wanted in small.items():
        item2 = stock.hardware(key)
        count = sum(n for n, _ in wanted)
        found.append(
            Buy(
                group="Small parts",
                name=item2.name,
                amount=str(count),
                use=", ".join(dict.fromkeys(use for _, use in wanted if use)),
                price=_price(item2, count),
            )
        )
    found += [
        Buy(
            group="Small parts",
            name=thing.name,
            amount=_mass(thing.mass_kg, imperial=imperial),
            use="balance",
        )
        for thing in things
        if thing.kind == "ballast"
    ]
    return found


def tools(evaluation: Evaluation) -> tuple[str, ...]:
    """What lies on the bench before the first cut. Common practice, no source."""
    glue = evaluation.design.sheet.glue
    found = [
        "Snap-off or scalpel knife with fresh blades, steel straight-edge, cutting mat",
        "Printer set to 100 %; tape or spray glue to fix the pages to the sheet",
        "Set square, steel rule to 300 mm (12 in), soft pencil",
        "Sanding block, 120 and 240 grit, for bevels and edges",
        "Scales to 0.1 g (0.005 oz), up to what the model weighs",
    ]
    if "hot" in glue:
        found.append("Glue gun, low-temperature kind if there is a choice; bowl of cold water")
    if any("carbon" in evaluation.stock.rod(r.key).name for r in evaluation.kit.rods):
        found.append("Fine saw for carbon, mask, gloves")
    if any(len(r.points_mm) > 2 for r in evaluation.kit.rods):
        found.append("Pliers for wire, file, safety glasses")
    if any(p.sheet.startswith("ply") for p in evaluation.kit.parts):
        found.append("Fret saw and a 3 mm (1/8 in) drill for plywood")
    if evaluation.design.drive is not None:
        found.append(
            "Screwdrivers, thread lock, propeller balancer; charger with a fire-proof place to charge"
        )
    return tuple(found)


def cutting_order(evaluation: Evaluation, nesting: Nesting | None = None) -> tuple[str, ...]:
    """In which order to cut, sheet by sheet: holes before outlines, small before large. Common practice, no source."""
    lines = [
        "Fix the printed pages to the sheet, check bar first: it must measure 100 mm.",
        "Score and fold lines first, half through; then holes and slots; then outlines. Several light strokes, not one.",
        "Write each number on its part before it leaves the sheet. Parts marked 'turned over' are cut from the mirrored outline.",
    ]
    if nesting is not None:
        for sheet in nesting.sheets:
            parts = {p.number: p for p in evaluation.kit.parts}
            order = sorted({p.part for p in sheet.placed}, key=lambda n: parts[n].area_mm2)
            numbers = ", ".join(str(n) for n in order)
            note = f" {sheet.paper_note}." if sheet.paper_note else ""
            lines.append(f"Sheet {sheet.number} ({sheet.name}): {numbers}.{note}")
    else:
        ordered = sorted(evaluation.kit.parts, key=lambda p: p.area_mm2)
        lines.append("Small parts first: " + ", ".join(str(p.number) for p in ordered) + ".")
    papers = {p.paper for p in evaluation.kit.parts}
    if papers & {"one", "none"}:
        off = [
            str(p.number) for p in evaluation.kit.parts if p.paper != "both" and not p.sheet.startswith("ply")
        ]
        if off:
            lines.append(f"Peel paper off after cutting where the plan says so: parts {', '.join(off)}.")
    return tuple(lines)
