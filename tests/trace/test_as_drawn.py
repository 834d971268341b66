"""What was read of controls, wheels and struts stands in the starting design; and a design sized by its mass."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.design import loads
from sheetlark.errors import PictureError
from sheetlark.evaluation import evaluate_first
from sheetlark.trace import Outline, Proportions, StartingDesign, Tracing, design_from, design_of_mass, scaled
from sheetlark.trace.starting import sizing
from sheetlark.trace.starting.as_drawn import as_drawn
from sheetlark.trace.starting.draft import Structure

SPAN = 900.0


def _outline(
    part: str, name: str, view: str, points: list[tuple[float, float]], *, half: bool = False
) -> Outline:
    def path(p: list[tuple[float, float]]) -> str:
        return "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in p)

    whole = points + [(x, -y) for x, y in reversed(points)] if half else points
    closed = "" if part == "hinge" else " Z"
    return Outline(
        part=part,
        name=name,
        view=view,
        path=path(whole) + closed,
        half_path=path(points) if half else "",
        confidence=0.9,
        error_mm=0.1,
        worst_mm=0.2,
        nodes=len(whole),
    )


def tracing(*more: Outline, foreplane: bool = False) -> Tracing:
    """A plain aeroplane, 900 mm span, 640 mm long."""
    wing, tail = (160.0, 540.0) if not foreplane else (400.0, 60.0)
    outlines = (
        _outline(
            "wing", "wing", "top", [(wing, 0), (wing, 450), (wing + 160, 450), (wing + 160, 0)], half=True
        ),
        _outline(
            "tail",
            "foreplane" if foreplane else "tailplane",
            "top",
            [(tail, 0), (tail, 160), (tail + 100, 160), (tail + 100, 0)],
            half=True,
        ),
        _outline("body", "body width", "top", [(0, 0), (0, 26), (200, 34), (640, 12), (640, 0)], half=True),
        _outline(
            "body", "body side", "side", [(0, 28), (200, 40), (640, 18), (640, -4), (200, -34), (0, -28)]
        ),
        _outline("fin", "fin", "side", [(520, 20), (570, 150), (640, 150), (640, 18)]),
    )
    return Tracing(
        picture="made.png",
        size_px=(1000, 1000),
        turned_deg=0.0,
        span_mm=SPAN,
        views=(),
        outlines=(*outlines, *more),
        proportions=Proportions(
            span_mm=SPAN,
            length_mm=640.0,
            dihedral_deg=4.0,
            wing_height_mm=(41.0,),
            stagger_mm=None,
            gap_mm=None,
        ),
        notes=(),
        confidence=0.9,
    )


HINGES = (
    _outline("hinge", "aileron", "top", [(280.0, 225.0), (280.0, 427.5)], half=True),
    _outline("hinge", "elevator", "top", [(605.0, 20.0), (605.0, 140.0)], half=True),
    _outline("hinge", "rudder", "side", [(600.0, 25.0), (600.0, 150.0)]),
)


def plan(t: Tracing) -> dict[str, dict]:
    return tomllib.loads(design_from(t).toml)


def test_controls_stand_where_their_hinges_are_drawn() -> None:
    drawn, plain = plan(tracing(*HINGES)), plan(tracing())
    aileron = drawn["wing"][0]["aileron"]
    assert aileron["chord"] == pytest.approx(0.25, abs=0.005)
    assert aileron["start"] == pytest.approx(0.5, abs=0.005)
    assert aileron["end"] == pytest.approx(0.95, abs=0.005)
    elevator = drawn["tailplane"]["elevator"]
    assert elevator["chord"] == pytest.approx(0.35, abs=0.01)
    assert elevator["end"] == pytest.approx(0.875, abs=0.01)
    # the fin's chord is 80 mm at its top and 120 at its foot; 40 mm lie behind the hinge
    assert 0.33 < drawn["fin"][0]["rudder"]["chord"] < 0.5
    assert plain["wing"][0]["aileron"]["start"] == pytest.approx(0.45)  # the proportion


def test_wheels_stand_where_they_are_drawn() -> None:
    a = np.linspace(0, 2 * np.pi, 33)[:-1]
    ring = [(150 + 24 * np.cos(t), -95 + 24 * np.sin(t)) for t in a]
    tyre = [(80.0, -119.0), (80.0, -71.0), (92.0, -71.0), (92.0, -119.0)]
    t = tracing(_outline("gear", "wheel", "side", ring), _outline("gear", "wheel", "front", tyre))
    gear = plan(t)["gear"]
    assert gear["wheel"] == "wheel-50"  # of the stock's sizes the nearest to 48 mm
    assert gear["at"] == pytest.approx([150.0, -95.0], abs=0.3)
    assert gear["track"] == pytest.approx(172.0, abs=0.5)
    assert "gear" not in plan(tracing())


def test_interplane_struts_stand_as_far_out_as_drawn() -> None:
    upper = _outline("wing", "upper wing", "top", [(140, 0), (140, 450), (290, 450), (290, 0)], half=True)
    lower = replace(upper, name="lower wing")
    strut = _outline("strut", "interplane strut", "front", [(300, -20), (300, 90), (308, 90), (308, -20)])
    base = tracing(strut)
    t = replace(base, outlines=(upper, lower, *[o for o in base.outlines if o.part != "wing"]))
    text = (
        '[[wing]]\nname = "upper wing"\n[[wing]]\nname = "lower wing"\n[wing.aileron]\nchord = 0.2\n'
        '[[strut]]\njoins = ["lower wing", "upper wing"]\ny = 250\nplace = 0.47\nchord = 40\n'
    )
    ring = np.array([[0.0, 28.0], [640.0, 18.0], [640.0, -4.0], [0.0, -28.0]])
    assert tomllib.loads(as_drawn(text, t, ring))["strut"][0]["y"] == pytest.approx(304.0)


def test_a_traced_canard_is_a_canard_that_can_be_evaluated() -> None:
    t = tracing(foreplane=True)
    design = loads(design_from(t).toml)
    evaluation = evaluate_first(design)
    assert evaluation.airframe.layout == "canard monoplane"
    assert design.drive is not None
    assert design.drive.pusher
    assert design.tailplane is not None
    assert design.tailplane.incidence > design.wing[0].incidence
    assert design.tailplane.elevator is not None


def test_scaling_keeps_the_shape() -> None:
    t = tracing(*HINGES)
    twice = scaled(t, 2 * SPAN)
    assert twice.span_mm == 2 * SPAN
    assert twice.proportions.length_mm == pytest.approx(1280.0)
    wing = twice.outline("wing", "top")
    assert wing is not None
    assert "900.00" in wing.path
    back = scaled(twice, SPAN)
    assert [o.path for o in back.outlines] == [o.path for o in t.outlines]


def test_the_model_is_sized_by_its_mass() -> None:
    told: list[str] = []
    sized = design_of_mass(tracing(), 0.33, tell=told.append)
    weighed = evaluate_first(loads(sized.design.toml)).weights.all_up_kg
    assert weighed == pytest.approx(0.33, rel=0.03)
    assert sized.mass_kg == pytest.approx(weighed, rel=1e-3)
    assert sized.tracing.span_mm != SPAN
    assert 1 <= len(told) <= 12
    assert all("mm span" in words for words in told)


@pytest.mark.parametrize(
    ("above_mm", "struts"),
    [(-10.0, 0), (4.0, 0), (35.0, 1), (200.0, 0)],
    ids=["in", "on", "clear", "misread"],
)
def test_a_wing_clear_above_the_body_stands_there_on_struts(above_mm: float, struts: int) -> None:
    top = 40.0  # of the body under the wing
    t = tracing()
    seen = replace(t, proportions=replace(t.proportions, wing_height_mm=(top + above_mm,)))
    design = loads(design_from(seen, rough=True).toml)
    z = 1e3 * design.wing[0].at[1]
    assert len(design.strut) == struts
    if struts:
        assert z == pytest.approx(top + above_mm, abs=0.1)
        assert design.strut[0].joins == ("body", "wing")
    else:
        assert z <= top + 3.5  # within reach of the body


LIGHT, STRONG = Structure(("strip",), "board"), Structure(("tube", "tube"), "board")


def weighing(monkeypatch: pytest.MonkeyPatch, leap_mm: float, leap_g: float, *, of: str) -> None:
    """Make and weigh by a law in the place of whole designs: from some span on the structure, or the battery, is heavier."""

    def tried(task: sizing._Task, span_mm: float, *, rough: bool = True) -> sizing._Try:
        structure = task.structure or (STRONG if of == "structure" and span_mm >= leap_mm else LIGHT)
        heavy = structure is STRONG or (of == "battery" and span_mm >= leap_mm)
        equipment = 150.0 + (leap_g if of == "battery" and heavy else 0.0)
        sheet = 190.0 * (span_mm / 1000.0) ** 2 + (leap_g if structure is STRONG else 0.0)
        made = StartingDesign(toml="", structure=structure)
        return sizing._Try(span_mm=span_mm, design=made, mass_g=equipment + sheet, equipment_g=equipment)

    monkeypatch.setattr(sizing._Task, "tried", tried)


@pytest.mark.parametrize("mass_g", [300.0, 345.0, 356.0, 368.0, 420.0])
def test_a_mass_over_which_a_stronger_structure_leaps_is_met_by_it_at_a_smaller_span(
    monkeypatch: pytest.MonkeyPatch, mass_g: float
) -> None:
    weighing(monkeypatch, 1000.0, 30.0, of="structure")  # 340 g below, 370 g above
    sized = design_of_mass(tracing(), 1e-3 * mass_g)
    assert 1e3 * sized.mass_kg == pytest.approx(mass_g, rel=sizing.CLOSE)
    between = 340.0 < mass_g < 370.0
    assert sized.design.structure is (STRONG if mass_g > 341.7 else LIGHT)
    assert (sized.tracing.span_mm < 1000.0) == (mass_g < 370.0)
    assert not between or sized.design.structure is STRONG


def test_a_mass_over_which_a_heavier_battery_leaps_is_met_as_near_as_it_goes_or_refused_with_both_ends(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    weighing(monkeypatch, 1000.0, 16.0, of="battery")  # 340 g below, 356 g above
    assert 1e3 * design_of_mass(tracing(), 0.345).mass_kg == pytest.approx(345.0, rel=sizing.IN_STEPS)
    weighing(monkeypatch, 1000.0, 60.0, of="battery")
    with pytest.raises(PictureError, match=r"at (9\d\d|1000).* it weighs 3[34].*, at 100\d.* already 40\d"):
        design_of_mass(tracing(), 0.370)


def test_a_starting_design_is_made_of_the_structure_that_is_asked_for() -> None:
    lightest = design_from(tracing(), rough=True)
    assert lightest.structure is not None
    asked = Structure(("carbon-tube-4", "carbon-tube-4"), "foam-board-5-craft")
    assert lightest.structure != asked
    made = design_from(tracing(), rough=True, structure=asked)
    assert made.structure == asked
    design = loads(made.toml)
    assert design.sheet.stock == asked.sheet
    assert [spar.rod for spar in design.wing[0].spar] == list(asked.rods)
