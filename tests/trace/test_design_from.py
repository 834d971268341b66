"""Starting designs: they load, are evaluated, go together, and every simplification says what it is worth."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
from beside_here import BesideHere

from sheetlark.airframe import airframe
from sheetlark.design import loads, starter
from sheetlark.errors import PictureError
from sheetlark.evaluation import evaluate
from sheetlark.flight import SIDESLIP_TOLD_RAD
from sheetlark.parts import Room, prove
from sheetlark.review import findings
from sheetlark.review.further_rows import control_rows
from sheetlark.stock import load_stock
from sheetlark.trace import SIMPLIFICATIONS, StartingDesign, Tracing, design_from, trace_picture
from sheetlark.trace.starting.balancing import balanced, off_balance_mm
from sheetlark.trace.starting.design_parts import tail_stretch
from sheetlark.trace.starting.draft import Choice, Draft
from sheetlark.trace.starting.fitting_out import OFF_WANTED_MM, laid_out
from sheetlark.trace.starting.layout import Layout
from sheetlark.trace.starting.mending import _foremost, mended, remedied_once, turns_free

pytestmark = pytest.mark.xdist_group("designs from drawings")  # they share readings and designs


@pytest.fixture(scope="module")
def traced(tmp_path_factory):
    """A drawing of the first hand, read once."""

    @cache
    def read(seed: int, kind: str) -> Tracing:
        d = D.draw(D.aeroplane(seed, kind), seed, pen=2.0, style="painter", px_span=560.0)
        file = tmp_path_factory.mktemp("drawn") / "three-view.png"
        d.image.save(file)
        t = trace_picture(file, span_m=0.76)
        # hinge lines that were read leave the simplifications of controls nothing to do
        return replace(t, outlines=tuple(o for o in t.outlines if o.part != "hinge"))

    return read


@pytest.fixture(scope="module")
def made(traced):
    @cache
    def make(seed: int, kind: str, refuse: tuple[str, ...] = ()) -> StartingDesign:
        return design_from(traced(seed, kind), name="Traced one", refuse=refuse)

    return make


KINDS = ((7001, "mono"), (7001, "bi"), (7001, "delta"))


@pytest.mark.parametrize(("seed", "kind"), KINDS)
def test_it_goes_together_and_no_fault_stays(made, seed, kind):
    begun = made(seed, kind)
    assert not begun.says
    e = evaluate(loads(begun.toml))
    assert len(e.design.wing) == (2 if kind == "bi" else 1)
    assert e.airframe.reference.span_m == pytest.approx(0.76, rel=0.006)
    assert [c.says for c in prove(e.kit, e.airframe, e.stock).findings] == []
    assert [f.id for f in findings(e) if f.severity == "fault"] == []


@pytest.mark.parametrize(("seed", "kind"), KINDS)
def test_whatever_moves_has_a_servo_and_a_rod_of_its_length(made, seed, kind):
    e = evaluate(loads(made(seed, kind).toml))
    moves = {s.control.moves for s in e.airframe.surfaces if s.control is not None}
    assert e.design.radio is not None
    servos = {s.moves: s for s in e.design.radio.servo}
    assert set(servos) == moves
    for rod in e.kit.push_rods:
        stated = servos[rod.servo.split(" servo")[0]].push_rod_length
        assert 1e3 * stated == pytest.approx(rod.length_mm, abs=1.0)


def test_the_motor_stands_clear_and_its_plate_on_the_first_former(made):
    e = evaluate(loads(made(7001, "mono").toml))
    wall, former = (Room.of(e.kit).stretch(name) for name in ("firewall", "former 1"))
    assert wall is not None
    assert former is not None
    assert 0.05 < former[0] - wall[1] < 0.25 or wall[0] < former[1]  # a doubler behind counts to the stretch
    assert 1e3 * e.design.drive.motor_at[0] < 0


def test_a_tailless_model_that_cannot_balance_otherwise_gets_a_pusher(made):
    pushed, pulled = made(7001, "delta"), made(7001, "delta", ("pusher",))
    pusher, tractor = (evaluate(loads(b.toml)) for b in (pushed, pulled))
    assert pusher.design.drive.pusher
    assert not tractor.design.drive.pusher
    off = [abs(e.flight.battery.wanted_x_m - e.design.drive.pack_at[0]) for e in (pusher, tractor)]
    assert off[0] < 0.7 * off[1]
    words = next(p for p in pushed.proposals if p.id == "pusher")
    assert words.taken
    in_the_nose = re.search(r"a motor in the nose takes ([\d.]+) g of ballast at the tail;", words.worth)
    assert in_the_nose is not None, words.worth
    assert float(in_the_nose[1]) > 10.0
    assert words.worth.endswith("one at the tail no ballast.")
    assert not next(p for p in pulled.proposals if p.id == "pusher").taken


def test_every_simplification_can_be_refused_and_says_what_it_is_worth(traced, made):
    begun = made(7001, "mono")
    assert all(any(c.isdigit() for c in p.worth) for p in begun.proposals)
    ids = tuple(p.id for p in begun.proposals)
    assert set(ids) <= set(SIMPLIFICATIONS)
    left = made(7001, "mono", ids)
    assert not any(p.taken for p in left.proposals)
    assert {p.id for p in left.proposals} == set(ids)
    loads(left.toml)
    with pytest.raises(PictureError, match=r"no simplification 'curved'.*straight-hinge"):
        design_from(traced(7001, "mono"), refuse=("curved",))


def test_the_worth_of_a_larger_fin_is_what_the_evaluation_says(made):
    begun = made(7001, "mono")
    words = next(p for p in begun.proposals if p.id == "larger-fin").worth
    before, after = (float(v) for v in re.findall(r"[-+]\d\.\d{3}", words)[:2])
    now = evaluate(loads(begun.toml))
    assert after == pytest.approx(float(now.flight.derivatives.Cn_beta), abs=0.002)
    assert before < after
    slips = re.search(r"slips ([\d.]+)° instead of more than 45°", words)  # as drawn it swings right round
    assert slips is not None, words
    assert float(slips[1]) == pytest.approx(np.degrees(now.controls.peak_sideslip_rad), abs=0.2)


def test_a_sideslip_that_cannot_be_told_has_no_spread(made):
    begun = made(7001, "mono")
    as_drawn = evaluate(loads(made(7001, "mono", tuple(p.id for p in begun.proposals)).toml))
    assert as_drawn.controls.peak_sideslip_rad > SIDESLIP_TOLD_RAD
    rows = {label: words for label, words, _ in control_rows(as_drawn, imperial=False)}
    assert rows["sideslip rolling into 30° of bank"].split(",")[0] == "more than 45 degrees"


def test_the_worth_of_wide_controls_is_the_roll_rate_of_the_design(made):
    begun = made(7001, "mono")
    words = next(p for p in begun.proposals if p.id == "wide-controls").worth
    wide, narrow = (float(v) for v in re.search(r"(\d+) instead of (\d+) °/s", words).groups())
    rate = np.degrees(evaluate(loads(begun.toml)).controls.roll_rate_rad_s)
    assert wide == pytest.approx(rate, rel=0.01)
    assert narrow < wide


def test_a_target_mass_is_written_only_where_one_is_given(traced, made):
    assert loads(made(7001, "mono").toml).model.target_mass is None
    heavy = design_from(traced(7001, "mono"), target_mass_kg=0.4)
    assert loads(heavy.toml).model.target_mass == pytest.approx(0.4)


def test_boxes_put_on_purpose_into_each_other_are_taken_apart(made):
    design = loads(made(7001, "mono").toml)
    at = [round(1e3 * v, 1) for v in design.drive.pack_at]
    heap = {("drive", "controller_at"): at, ("radio", "receiver_at"): at}
    spoilt = Layout(text=made(7001, "mono").toml, stock=load_stock(), changes=heap)
    assert prove(spoilt.kit, spoilt.airframe, spoilt.stock).findings
    tidy = laid_out(spoilt)
    left = prove(tidy.kit, tidy.airframe, tidy.stock).findings
    assert [f.says for f in left if f.kind == "equipment"] == []


def test_a_battery_that_stands_in_the_bottom_cover_is_mended(made):
    text = made(7001, "mono").toml
    x, y, _ = (round(1e3 * v, 1) for v in loads(text).drive.pack_at)
    low = 1e3 * float(airframe(loads(text), load_stock()).body.heights_m(1e-3 * x)[0])
    spoilt = Layout(
        text=text, stock=load_stock(), changes={("drive", "pack_at"): [x, y, round(low + 9.0, 1)]}
    )
    before = prove(spoilt.kit, spoilt.airframe, spoilt.stock).findings
    assert any({f.first, f.second} & {"battery"} for f in before)
    after = mended(spoilt)
    assert not prove(after.kit, after.airframe, after.stock).findings


@pytest.mark.parametrize("aft", [90.0, 110.0])
def test_lead_is_enough_for_the_margin_wanted(aft):
    """Not for half of it, which is the least; where the elevator would not reach any more, for what it reaches."""
    tail_heavy = {("drive", "pack_travel"): 0.0, ("drive", "pack_at"): [aft, 0.0, 2.0]}
    spoilt = Layout(text=starter("turnstone"), stock=load_stock(), changes=tail_heavy)
    assert "margin" in {f.id for f in findings(evaluate(spoilt.design))}
    e = evaluate(loads(remedied_once(spoilt).written()))
    assert [b.name for b in e.design.ballast] == ["nose lead"]
    assert e.flight.battery.ballast_kg <= 0.0005
    reach = max(e.flight.balance.aft_limit_m, e.flight.balance.forward_limit_m)
    assert reach == pytest.approx(0.0, abs=0.0015)


def test_what_rounds_to_nought_is_written_without_a_sign():
    text = starter("turnstone")
    flat = Layout(text=text.replace("at = [", "at = [-0.0, -0.04, ", 1), stock=load_stock(), changes={})
    assert flat.written() == text.replace("at = [", "at = [0.0, -0.04, ", 1)
    level = Layout(text=text, stock=load_stock(), changes={("wing", 0, "dihedral"): -0.0})
    assert "dihedral = 0.0" in level.written()


def test_a_former_gives_way_once_and_not_from_where_it_gave_way_before():
    """Where a round before has put it counts for nothing: the boxes have moved since."""
    written = Layout(text=starter("dunnock"), stock=load_stock(), changes={})
    at = "body", "former", 1, "at"
    first, again = (float(laid_out(each).changes[at]) for each in (written, written.changed({at: 160})))
    assert again == pytest.approx(first, abs=5.0)


def test_a_servo_finds_its_place_between_a_spar_and_a_hinge_that_are_close():
    """18 mm from the hinge, no further: the rod still follows the whole throw."""
    narrow = {("wing", 1, "spar", 0, "at"): 0.22, ("wing", 1, "aileron", "chord"): 0.5}
    tidy = laid_out(Layout(text=starter("brambling"), stock=load_stock(), changes=narrow))
    assert tidy.changes["radio", "servo", 2, "push_rod_length"] < 22
    assert not [c.says for c in tidy.clashes if c.kind in {"push-rod", "equipment"}]


def test_a_strut_too_near_to_an_aileron_stands_a_little_further_ahead():
    """As near behind it at every throw: no smaller throw would clear it."""
    spoilt = Layout(text=starter("brambling"), stock=load_stock(), changes={("strut", 0, "place"): 0.59})
    assert [(c.kind, c.second, c.change) for c in spoilt.clashes] == [
        ("motion", "interplane strut", None),
        ("motion", "interplane strut, port", None),
    ]
    after = mended(spoilt)
    assert not after.clashes
    assert 0.54 < after.design.strut[0].place < 0.59


@pytest.mark.parametrize("place", [0.59, 0.61])
def test_it_is_mended_alike_where_a_helper_tries_every_other_move(place):
    changes = {("strut", 0, "place"): place, ("radio", "servo", 0, "at"): [300.0, 0.0, 0.0]}
    spoilt = Layout(text=starter("brambling"), stock=load_stock(), changes=changes)
    helper = BesideHere()
    assert mended(spoilt, helper).changes == mended(spoilt).changes
    assert helper.asked


@pytest.mark.parametrize(("seed", "kind"), KINDS[:2])
def test_the_battery_stands_where_it_balances_the_model(made, seed, kind):
    e = evaluate(loads(made(seed, kind).toml))
    assert e.air.static_margin == pytest.approx(e.flight.wanted_margin, abs=0.03)
    assert abs(e.flight.battery.wanted_x_m - e.design.drive.pack_at[0]) < 0.02


def test_equipment_that_stands_where_it_should_stays_there():
    layout = balanced(laid_out(Layout(text=starter("dunnock"), stock=load_stock(), changes={})))
    assert off_balance_mm(layout.evaluation) <= OFF_WANTED_MM
    assert balanced(layout) is layout
    assert laid_out(laid_out(layout)).changes.keys() == layout.changes.keys()


def test_a_view_that_cannot_be_built_says_why(traced):
    wide = replace(traced(7001, "delta"), span_mm=760.0)
    big = tuple(
        replace(o, half_path=re.sub(r"\d+\.\d+", lambda m: f"{3.0 * float(m.group()):.2f}", o.half_path))
        for o in wide.outlines
    )
    begun = design_from(replace(wide, outlines=big))
    assert "larger sheet" in begun.says
    assert all(p.worth for p in begun.proposals)


def test_a_taller_fin_is_no_further_aft(traced):
    draft = Draft(tracing=traced(7001, "mono"), name="one", target_g=None)
    plain = Choice(
        flat=True,
        straight=True,
        tail=True,
        wide=True,
        rods=("carbon-strip-6x1",),
        sheet="foam-board-5",
        size=2,
    )
    ends = []
    for stretch in (1.0, 2.0):
        fin = loads(draft.text(replace(plain, fin=stretch))).fin[0]
        ends.append(max(x for x, _ in fin.half().sample()))
        assert fin.height == pytest.approx(stretch * loads(draft.text(plain)).fin[0].height, abs=2e-4)
    assert ends[0] == pytest.approx(ends[1], abs=2.0)


@pytest.mark.parametrize(("forward_mm", "free"), [(0.0, True), (6.0, True), (30.0, False)])
def test_a_motor_pushes_only_where_its_propeller_turns_free(forward_mm: float, free: bool) -> None:
    """Of a tailless model whose wing ends where the body does; mending moves a motor out by 8 mm at most."""
    layout = Layout(text=starter("turnstone"), stock=load_stock(), changes={})
    drive = layout.design.drive
    assert drive is not None
    assert drive.pusher
    x, y, z = (1e3 * v for v in drive.motor_at)
    assert turns_free(layout.changed({("drive", "motor_at"): [x - forward_mm, y, z]})) is free


def test_a_wing_without_a_body_gets_a_plain_one_that_goes_together(tmp_path: Path) -> None:
    """A tailless wing as its section and a fin from the side: nothing there could hold a motor or a battery."""
    wing, port = "M 400,60 L 780,390 V 440 L 400,500", "M 400,60 L 20,390 V 440 L 400,500"
    fin, section = (
        "M 1100,230 L 1190,90 H 1250 L 1260,232",
        "M 820,238 C 870,215 1100,226 1260,238 C 1100,248 870,252 820,238 Z",
    )
    front = "M 20,760 L 400,750 L 780,760 V 766 L 400,772 L 20,766 Z M 400,750 V 606"
    picture = tmp_path / "wing.svg"
    picture.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1280 800" width="1280" height="800">'
        f'<path d="{wing} {port} {fin} {section} {front}" fill="none" stroke="black" stroke-width="2"/></svg>'
    )
    tracing = trace_picture(picture, span_m=0.76)
    assert {(o.part, o.view) for o in tracing.outlines if o.part != "hinge"} == {
        ("wing", "top"),
        ("fin", "side"),
    }
    assert "no-body" in {n.id for n in tracing.notes}
    e = evaluate(loads(design_from(tracing).toml))
    assert [c.says for c in prove(e.kit, e.airframe, e.stock).findings] == []
    assert not [f.says for f in findings(e) if f.severity == "fault"]


@pytest.mark.parametrize(
    ("volume", "stretch"), [(-0.2, 1.0), (0.5, 1.0), (0.44, 1.0), (0.36, 1.25**0.5), (0.1, 1.3)]
)
def test_a_tail_is_drawn_larger_only_where_that_is_felt(volume: float, stretch: float) -> None:
    """Areas go with the square of lengths: to 0.45 from 0.36 is a quarter more, and never more than 1.3 each way."""
    assert tail_stretch(volume) == pytest.approx(stretch)


def test_weak_thrust_is_cured_before_a_poor_climb_and_everything_else_in_its_order():
    def of(*ids: str) -> str | None:
        found = _foremost([SimpleNamespace(id=id_) for id_ in ids])
        return None if found is None else found.id

    assert of("climb", "margin", "power") == "power"
    assert of("climb", "margin") == "climb"
    assert of("margin", "climb", "power") == "margin"
    assert of() is None
