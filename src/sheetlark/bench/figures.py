"""The one place where the bench reads what was computed: figures with their reason and source.

Every figure comes out of the stable document; what a stage has not computed is not shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from sheetlark.design import Design
from sheetlark.evaluation import Evaluation, evaluate, evaluate_first
from sheetlark.review import document
from sheetlark.units import in_units, marked_quantities

Doc = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of the side panel.

    kind : length, mass, percent, speed, power, force, ratio, time, loading, current, turns, cubic
    value, spread : in millimetres, grams, percent, m/s, W, N, minutes, A as the document has them
    low, high : allowed range, where there is one
    source : computed, measured, typical, stated
    because : how it came about; quantities in it stand as {kind:value}, for the page to show in either units
    """

    id: str
    label: str
    kind: str
    value: float
    spread: float | None = None
    low: float | None = None
    high: float | None = None
    source: str
    because: str


def evaluated_quickly(design: Design) -> tuple[Evaluation, Doc]:
    """As `evaluated`, with the document's quick part alone: what it does not show is not worked out."""
    evaluation = evaluate_first(design).in_sight()
    return evaluation, quick_document(evaluation)


def evaluated(design: Design, begun: Evaluation | None = None) -> tuple[Evaluation, Doc]:
    """Everything computed of a design, and the document of it, in words open to either units.

    Remedies are looked for apart, and the parts are tried in space when their room asks for it.

    Parameters
    ----------
    begun : Evaluation, optional
        Of the newest drag: where it is of the same values, what it has found is not found again.

    Raises
    ------
    SheetlarkError
        If the design cannot be.
    """
    if begun is not None and begun.design.model_dump() == design.model_dump():
        evaluation = (begun if begun.design is design else replace(begun, design=design)).worked_out()
    else:
        evaluation = evaluate(design)
    with marked_quantities():
        return evaluation, document(evaluation, remedies=False, proof=False)


def left_to_find(e: Evaluation) -> tuple[Callable[[], object], ...]:
    """What `evaluated` asks beyond a drag's figures, in pieces of some tens of milliseconds: who has time for one may
    not have it for all. Each raises as `evaluated`; what a piece has found stays found.
    """
    return (
        lambda: (e.strength, e.controls, e.thrust),
        lambda: e.flight.motion,
        lambda: e.spread,
    )


def quick_document(e: Evaluation) -> Doc:
    """The part of the document that a drag needs: the figures in sight, without findings and further spreads.

    Keys and units are those of the stable document.
    """
    w, r, f = e.weights, e.airframe.reference, e.flight
    here = float(w.balance_m[0])
    made: Doc = {
        "model": {"name": e.design.model.name, "layout": e.airframe.layout},
        "weights": {
            "all_up_g": 1e3 * w.all_up_kg,
            "spread_g": 1e3 * float(w.spread[0]),
            "balance_mm": dict(zip("xyz", (1e3 * w.balance_m).tolist(), strict=True)),
            "balance_spread_mm": {"x": 1e3 * float(w.spread[1])},
            "lines": [{"name": line.name, "mass_g": 1e3 * line.mass_kg} for line in w.lines],
        },
        "air": {
            "reference": {"area_dm2": 100.0 * r.area_m2, "mean_chord_mm": 1e3 * r.chord_m},
            "neutral_point_mm": 1e3 * e.air.neutral_point_m,
            "cl_max": e.air.results.curve.lift_max,
        },
        "balance": {
            "percent_mean_chord": e.air.percent_mean_chord,
            "static_margin_percent": 100.0 * e.air.static_margin,
            "forward_limit_mm": 1e3 * (here + f.balance.forward_limit_m),
            "aft_limit_mm": 1e3 * (here + f.balance.aft_limit_m),
        },
        "flight": {
            "stall_ms": f.stall_ms,
            "cruise_ms": f.cruise_ms,
            "wing_loading_g_dm2": 10.0 * w.all_up_kg / r.area_m2,
        },
    }
    if f.performance is not None:
        made["flight"] |= {"top_ms": f.performance.top_ms, "climb_ms": f.performance.best_climb_ms}
    if e.drive is not None:
        s = e.drive.static.point
        made["drive"] = {
            "static_thrust_n": s.thrust_n,
            "static_current_a": s.current_a,
            "static_rpm": s.rpm,
            "static_power_w": s.battery_power_w,
            "thrust_to_weight": e.drive.thrust_to_weight,
            "full_throttle_min": e.drive.full_throttle_min,
        }
        if f.cruise_s is not None:
            made["drive"]["cruise_min"] = f.cruise_s / 60.0
    return made


def got(doc: Doc, path: str) -> Any:
    """A value of the document by its dotted path, or None where its stage has not run."""
    here: Any = doc
    for part in path.split("."):
        if not isinstance(here, dict) or part not in here:
            return None
        here = here[part]
    return here


def figures(doc: Doc) -> list[Figure]:
    """The figures to keep in sight, most asked first."""
    found: list[Figure] = []
    for make in (_mass, _balance, _margin, _power, _stall, _speeds, _loading, _time):
        found.extend(make(doc))
    return found


def _mass(doc: Doc) -> Iterator[Figure]:
    mass, spread = got(doc, "weights.all_up_g"), got(doc, "weights.spread_g")
    if mass is None:
        return
    lines = got(doc, "weights.lines") or []
    heavy = sorted(lines, key=lambda each: -each["mass_g"])[:3]
    named = ", ".join(f"{line['name']} {{mass:{line['mass_g']:.1f}}}" for line in heavy)
    yield Figure(
        id="mass",
        label="Ready to fly",
        kind="mass",
        value=mass,
        spread=spread,
        source="computed",
        because=f"The sum of {len(lines)} lines of the weight table; the heaviest are {named}. "
        "The ± is one standard deviation: boards, glue and bought things differ from batch to batch.",
    )


def _balance(doc: Doc) -> Iterator[Figure]:
    x = got(doc, "weights.balance_mm.x")
    if x is None:
        return
    percent = got(doc, "balance.percent_mean_chord")
    limits = got(doc, "balance.forward_limit_mm"), got(doc, "balance.aft_limit_mm")
    where = "" if percent is None else f" That is {percent:.0f} % of the mean chord."
    allowed = (
        f" It may lie between {{length:{limits[0]:.1f}}} and {{length:{limits[1]:.1f}}}."
        if None not in limits
        else ""
    )
    yield Figure(
        id="balance",
        label="Balance point",
        kind="length",
        value=x,
        spread=got(doc, "weights.balance_spread_mm.x"),
        low=limits[0],
        high=limits[1],
        source="computed",
        because="Behind the nose datum: every mass times its place, over all mass." + where + allowed,
    )


def _margin(doc: Doc) -> Iterator[Figure]:
    margin, neutral = got(doc, "balance.static_margin_percent"), got(doc, "air.neutral_point_mm")
    if margin is None:
        return
    chord = got(doc, "air.reference.mean_chord_mm")
    yield Figure(
        id="margin",
        label="Static margin",
        kind="percent",
        value=margin,
        source="computed",
        because=f"The neutral point lies at {{length:{neutral:.1f}}}, behind the balance point by this share of the "
        f"mean chord of {{length:{chord:.1f}}}. 5 to 15 % flies well (common practice, no source).",
    )


def _power(doc: Doc) -> Iterator[Figure]:
    power = got(doc, "drive.static_power_w")
    if power is None:
        return
    thrust, ratio = got(doc, "drive.static_thrust_n"), got(doc, "drive.thrust_to_weight")
    amps, rpm = got(doc, "drive.static_current_a"), got(doc, "drive.static_rpm")
    yield Figure(
        id="power",
        label="Full power",
        kind="power",
        value=power,
        source="typical",
        because=f"From a full battery, standing still: the motor turns the propeller at {rpm:.0f} rpm and draws "
        f"{amps:.1f} A. Motor, propeller and battery are the stock's typical ones until yours are measured.",
    )
    yield Figure(
        id="thrust",
        label="Thrust to weight",
        kind="ratio",
        value=ratio,
        source="typical",
        because=f"{{force:{thrust:.2f}}} of thrust standing still, over the weight. 0.5 climbs with ease, 1 hangs on the "
        "propeller (common practice, no source).",
    )


def _stall(doc: Doc) -> Iterator[Figure]:
    stall = got(doc, "flight.stall_ms")
    if stall is None:
        return
    peak = got(doc, "air.cl_max")
    how = f" At the most lift the wings give, a coefficient of {peak:.2f}." if peak is not None else ""
    yield Figure(
        id="stall",
        label="Stall",
        kind="speed",
        value=stall,
        source="computed",
        because=f"The slowest level flight.{how} Launch and land well above it.",
    )


def _speeds(doc: Doc) -> Iterator[Figure]:
    for key, label, because in (
        ("cruise_ms", "Cruise", "Comfortable level flight."),
        ("top_ms", "Top speed", "Level, full throttle: thrust equals drag."),
        ("climb_ms", "Best climb", "Height gained each second at full throttle."),
    ):
        value = got(doc, f"flight.{key}")
        if value is not None:
            yield Figure(
                id=key.removesuffix("_ms"),
                label=label,
                kind="speed",
                value=value,
                source="computed",
                because=because,
            )


def _loading(doc: Doc) -> Iterator[Figure]:
    loading, area = got(doc, "flight.wing_loading_g_dm2"), got(doc, "air.reference.area_dm2")
    if loading is not None:
        yield Figure(
            id="loading",
            label="Wing loading",
            kind="loading",
            value=loading,
            source="computed",
            because=f"The mass over {{area:{area:.2f}}} of wing.",
        )


def _time(doc: Doc) -> Iterator[Figure]:
    for key, label, because in (
        ("cruise_min", "Flying time, cruising", "At the throttle that holds level cruise."),
        ("full_throttle_min", "Flying time, full power", "At full throttle without a rest."),
    ):
        value = got(doc, f"drive.{key}")
        if value is not None:
            yield Figure(
                id=key.removesuffix("_min") + "-time",
                label=label,
                kind="time",
                value=value,
                source="typical",
                because=f"{because} A fifth of the charge stays in the battery, for its sake and yours.",
            )


def remedy_of(
    found: list[Doc], finding: str, index: int, *, imperial: bool
) -> tuple[dict[tuple[str | int, ...], object], str] | None:
    """Changes and label of a finding's remedy, or None where it is no longer there."""
    for each in found:
        if each["id"] == finding and index < len(each["remedies"]):
            remedy = each["remedies"][index]
            changes = {tuple(c["where"]): c["value"] for c in remedy["changes"]}
            return changes, in_units(remedy["says"], imperial)
    return None
