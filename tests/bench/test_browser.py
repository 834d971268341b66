"""The bench as a person uses it, in a real browser."""

from __future__ import annotations

import re
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from sheetlark.bench.rooms import ROOMS
from sheetlark.design import edited, load, starter

from .conftest import Served, Watched
from .drawn import three_view
from .using import begin, opened, serious, settled, until, with_axe

TITLES = [room["title"] for room in ROOMS]
# A quantity in metric units, but for g, which is a load factor as well; sizes that are names, such as 5 mm foam board, stand in none of what is looked at.
METRIC = re.compile(r"\d (mm|cm²|dm²|m|m/s|N|N m|MPa|g/dm²|kg/m³)(?![\w/²³])")
pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def test_a_new_design_to_plans_by_hand(served: Served, watched: Watched) -> None:
    page = watched.page
    page.goto(served.address)
    page.get_by_label("Its name").fill("First plane")
    page.get_by_label("Like").select_option("turnstone")
    page.get_by_role("button", name="Begin", exact=True).click()
    settled(page)
    file = served.folder / "First plane.toml"
    assert load(file).model.name == "First plane"

    page.locator('details[data-path="drive"] > summary').click()
    page.get_by_label("battery travel").fill("45")
    page.get_by_label("battery travel").press("Enter")
    page.get_by_text("Last: battery travel").wait_for()
    assert "pack_travel = 45" in file.read_text("utf-8")

    # Drag the battery aft in the side view: the balance point follows.
    before = load(file).drive.pack_at
    balance = page.locator('.figure:has(button[data-reason="balance"]) .value').inner_text()
    grip = page.locator('svg[data-view="side"] .handle.pack .grip').bounding_box()
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 8):
        page.mouse.move(x + 3 * step, y)
    page.locator("#panel.stale").wait_for(state="attached")
    page.mouse.up()
    page.get_by_text("Last: move battery").wait_for()
    settled(page)
    after = load(file).drive.pack_at
    assert after[0] > before[0] + 0.01
    assert after[0] * 1e3 == pytest.approx(round(after[0] * 1e3), abs=1e-6)  # snapped to whole millimetres
    assert page.locator('.figure:has(button[data-reason="balance"]) .value').inner_text() != balance

    page.get_by_role("link", name="Plans").click()
    page.get_by_alt_text(re.compile("^Sheet 1: .* pieces")).wait_for(timeout=60_000)
    page.get_by_role("button", name="Write the plans").click()
    link = page.get_by_role("link", name=re.compile(r"-a4\.pdf$"))
    link.wait_for(timeout=60_000)
    with page.expect_download() as caught:
        link.click()
    assert Path(caught.value.path()).read_bytes().startswith(b"%PDF")
    written = {f.suffix for f in (served.folder / "First plane-plans").iterdir()}
    assert {".pdf", ".dxf", ".svg", ".csv"} <= written


def test_edit_undo_then_killed_and_opened_again(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    page.locator('details[data-path="wing/0"] > summary').click()
    span = page.locator("#c-wing-0-span")
    for value in ("660", "680", "700"):
        span.fill(value)
        span.press("Enter")
        until(page, lambda value=value: f"span = {value}" in file.read_text("utf-8"))
    span.blur()
    page.keyboard.press("Control+z")
    # the field may show 680 from before, until the bench has told of 700: that something can be done again is new
    until(page, lambda: page.locator("#redo").is_enabled() and span.input_value() == "680")
    assert "span = 680" in file.read_text("utf-8")
    served.kill()
    watched.faults.clear()  # a line that breaks is what this is about
    assert "span = 680" in file.read_text("utf-8")
    served.stop()
    served.start()
    watched.page.close()
    page = watched.context.new_page()
    page.goto(served.address)
    settled(page)
    page.locator("#redo").click()
    until(page, lambda: "span = 700" in file.read_text("utf-8"))
    for left in ("span = 680", "span = 660", starter("dunnock")):
        page.locator("#undo").click()
        until(page, lambda left=left: left in file.read_text("utf-8"))
    assert file.read_text("utf-8") == starter("dunnock")


def test_an_impossible_value_is_explained_where_it_belongs(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    page.locator('details[data-path="wing/0"] > summary').click()
    span = page.locator("#c-wing-0-span")
    span.fill("9 m")
    span.press("Enter")
    page.locator("#c-wing-0-span-fault").get_by_text("a length from 30 mm to 4 m").wait_for()
    assert span.get_attribute("aria-invalid") == "true"
    assert span.input_value() == "9 m"  # to be set right where it stands
    span.press("Escape")
    until(page, lambda: span.input_value() == "640")
    page.locator("#c-wing-0-span-fault").wait_for(state="hidden")
    assert file.read_text("utf-8") == starter("dunnock")
    span.fill("2 ft 2 in")
    span.press("Enter")
    until(page, lambda: 'span = "2 ft 2 in"' in file.read_text("utf-8"))
    assert page.locator("#c-wing-0-span-fault").is_hidden()


def test_a_place_that_cannot_be_lets_the_drag_go(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    page.locator('svg[data-view="side"] .skin.tailplane').first.dispatch_event("pointerdown", {"button": 0})
    grip = page.locator(
        'svg[data-view="side"] [data-handle="tailplane:tailplane, place"] .grip'
    ).bounding_box()
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 10)
    page.mouse.move(x, y - 60)
    page.locator(".board .refusal", has_text="misses the body").wait_for()
    page.mouse.up()
    page.wait_for_timeout(300)
    assert file.read_text("utf-8") == starter("dunnock")
    assert page.locator("#undo").is_disabled()


def test_an_outline_is_freed_and_its_nodes_moved(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    page.locator('svg[data-view="top"] .skin.wing').first.dispatch_event("pointerdown", {"button": 0})
    page.get_by_role("button", name="Free the outline of wing").click()
    page.locator(".last", has_text="free outline").wait_for()
    node = page.locator('svg[data-view="top"] .handle[aria-label^="wing, node 2:"]')
    grip = node.locator(".grip").bounding_box()
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12, y + 6, steps=3)
    page.mouse.up()
    page.locator(".last", has_text="move wing, node 2").wait_for()
    settled(page)
    # The other half mirrors it, and exact numbers place it.
    box = page.locator('svg[data-view="top"] .skin.wing').evaluate_all(
        "nodes => nodes.map(n => { const b = n.getBBox(); return [b.y, b.y + b.height]; })"
    )
    assert len(box) == 2
    assert box[0][0] == pytest.approx(-box[1][1], abs=0.1)
    node.focus()
    page.get_by_label("wing, node 2, x").fill("125")
    page.get_by_label("wing, node 2, x").press("Enter")
    page.locator(".last", has_text="place wing, node 2").wait_for()
    count = page.locator('svg[data-view="top"] .handle[aria-label*="node"]').count()
    before = load(file).wing[0].outline
    assert before.startswith("M 0 0 L 13")
    page.get_by_role("button", name="Add a node after").click()
    page.locator(".last", has_text="add a node").wait_for()
    assert page.locator('svg[data-view="top"] .handle[aria-label*="node"]').count() > count
    page.locator("#undo").click()
    page.locator(".last", has_text="place wing, node 2").wait_for()
    assert load(file).wing[0].outline == before


def test_drawn_closer_a_handle_still_follows_the_finger(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    side = page.locator('svg[data-view="side"]')
    grip = page.locator('svg[data-view="side"] .handle.pack .grip')

    def middle() -> tuple[float, float]:
        box = grip.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def mm_per_px() -> float:
        return float(side.get_attribute("viewBox").split()[2]) / float(side.bounding_box()["width"])

    whole = mm_per_px()
    page.mouse.move(*middle())
    for _ in range(4):
        page.mouse.wheel(0, -200)
        page.wait_for_timeout(60)
    assert mm_per_px() < 0.5 * whole
    before = load(file).drive.pack_at[0]
    x, y = middle()
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 7):
        page.mouse.move(x + 10 * step, y)
    page.mouse.up()
    page.locator(".last", has_text="move battery").wait_for()
    assert 1e3 * (load(file).drive.pack_at[0] - before) == pytest.approx(60 * mm_per_px(), abs=0.6)
    assert middle()[0] == pytest.approx(x + 60, abs=2.5)  # the paper stayed, the handle lies under the finger
    at = side.get_attribute("viewBox")
    box = side.bounding_box()
    page.mouse.move(box["x"] + box["width"] - 30, box["y"] + 12)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] - 120, box["y"] + 12, steps=3)
    page.mouse.up()
    until(page, lambda: side.get_attribute("viewBox") != at)
    page.get_by_role("button", name="Fit").click()
    until(page, lambda: mm_per_px() == pytest.approx(whole))
    side.focus()
    page.keyboard.press("+")
    until(page, lambda: mm_per_px() == pytest.approx(whole / 1.5))


def test_two_tabs_and_an_editor_share_one_design(served: Served, watched: Watched) -> None:
    file = begin(served)
    one = opened(watched, served)
    two = watched.context.new_page()
    two.goto(served.origin)
    settled(two)
    for page in (one, two):
        page.locator('details[data-path="wing/0"] > summary').click()
    one.locator("#c-wing-0-span").fill("700")
    one.locator("#c-wing-0-span").press("Enter")
    two.locator(".last", has_text="span").wait_for()
    two.locator("#c-wing-0-dihedral").fill("8")
    two.locator("#c-wing-0-dihedral").press("Enter")
    one.locator(".last", has_text="dihedral").wait_for()
    assert one.locator("#c-wing-0-dihedral").input_value() == "8"
    assert two.locator("#c-wing-0-span").input_value() == "700"
    file.write_text(file.read_text("utf-8").replace("incidence = 2 ", "incidence = 4 "), encoding="utf-8")
    one.get_by_text("The file was edited outside the bench.").wait_for()
    assert one.locator("#c-wing-0-incidence").input_value() == "4"
    assert two.locator("#c-wing-0-incidence").input_value() == "4"
    text = file.read_text("utf-8")
    assert "span = 700" in text
    assert "dihedral = 8" in text


def _refused(served: Served, path: str, *, data: bytes | None = None, **headers: str) -> int:
    request = urllib.request.Request(served.origin + path, data=data, headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_hostile_requests_and_uploads(served: Served, watched: Watched, tmp_path: Path) -> None:
    begin(served)
    page = opened(watched, served)
    ours = "; ".join(f"{c['name']}={c['value']}" for c in watched.context.cookies())
    assert _refused(served, "/") == 403
    assert _refused(served, "/page/main.js") == 403
    assert _refused(served, "/", Cookie=ours) == 200
    assert _refused(served, "/", Cookie=ours, Host="bench.example") == 421
    assert (
        _refused(served, "/upload?name=a.toml", data=b"x", Cookie=ours, Origin="http://evil.example") == 403
    )
    assert _refused(served, "/upload?name=a.toml", data=b"x", Cookie=ours) == 403
    for path in ("/page/../server.py", "/page/%2e%2e/server.py", "/made/../dunnock.toml", "/made/dunnock.toml",
                 "/lettering/../__init__.py"):  # fmt: skip
        assert _refused(served, path, Cookie=ours) == 404, path
    origin = {"Cookie": ours, "Origin": served.origin}
    assert _refused(served, "/upload?name=../../out.toml", data=starter("dunnock").encode(), **origin) == 200
    assert (served.folder / "out.toml").exists()  # its folders were taken off, it lies inside
    assert not (tmp_path / "out.toml").exists()
    for name, data in (("dunnock.toml", starter("dunnock").encode()), ("big.toml", b"#" * 1_100_000),
                       ("bad.toml", b"\xff\xfe"), ("picture.png", b"x" * 12_500_000)):  # fmt: skip
        assert _refused(served, f"/upload?name={name}", data=data, **origin) == 400, name
    # What a page may not say: each is answered in words, and the line stays open.
    said = page.evaluate(
        """async () => {
          const { ask } = await import('/page/line.js');
          const bad = [
            { do: 'open', name: '../../etc/passwd' }, { do: 'no such thing' }, { do: 'edit' },
            { do: 'edit', name: 'dunnock.toml', changes: [[['wing', 0, '__class__'], 1]] },
            { do: 'edit', name: 'dunnock.toml', changes: [[[], 1]] },
            { do: 'edit', name: 'dunnock.toml', changes: 'x' },
            { do: 'edit', name: 'dunnock.toml', changes: [[['wing', 99, 'span'], 1]] },
            { do: 'edit', name: 'dunnock.toml', changes: [[['wing', 0, 'span'], 'x'.repeat(9000)]] },
            { do: 'begin', new: '../x', like: 'dunnock' }, { do: 'compare', name: 'dunnock.toml', with: '/etc/passwd' },
            { do: 'errand', name: 'dunnock.toml', kind: 'trace', ticket: 't', picture: 'none' },
            { do: 'remedy', name: 'dunnock.toml', finding: 'x', index: 0 }, { do: 'room', name: 'dunnock.toml', room: '../..' },
          ];
          const says = [];
          for (const one of bad) { try { await ask(one); says.push(null); } catch (error) { says.push(error.says); } }
          return says;
        }"""
    )
    assert all(words for words in said), said
    assert load(served.folder / "dunnock.toml").wing[0].span == pytest.approx(0.64)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["project"]


def test_a_remedy_is_applied_with_one_click_and_undone_with_one(served: Served, watched: Watched) -> None:
    file = begin(served)
    aft = edited(starter("dunnock"), {("drive", "pack_at"): [210, 0, -14]})
    file.write_text(aft, encoding="utf-8")
    page = opened(watched, served)
    page.get_by_role("button", name="Do this").first.wait_for(timeout=60_000)
    findings = page.locator(".findings")
    assert re.search(r"\d mm\b", findings.text_content())
    page.locator("#units").click()
    assert not re.search(r"\d mm\b", findings.text_content())
    assert re.search(r"\d in\b", findings.text_content())
    assert "{" not in findings.text_content()
    page.locator("#units").click()
    page.get_by_role("button", name="Do this").first.click()
    page.locator(".last button").wait_for()
    assert file.read_text("utf-8") != aft
    page.locator(".last button").click()
    page.locator("#redo:not([disabled])").wait_for()
    assert file.read_text("utf-8") == aft


def test_a_clash_carries_a_remedy_that_can_be_taken_back(served: Served, watched: Watched) -> None:
    file = begin(served)
    clashing = edited(starter("dunnock"), {("radio", "receiver_at"): [270, 0, -25]})  # half in a former
    file.write_text(clashing, encoding="utf-8")
    page = opened(watched, served, "Parts")
    page.get_by_text("Not yet.").wait_for(timeout=60_000)
    said = page.locator(".proof .remedy").inner_text()
    assert "265.5, 0, −25 mm instead of 270, 0, −25 mm" in said
    page.locator("#units").click()
    page.get_by_text("Not yet.").wait_for(timeout=60_000)
    assert not METRIC.search(page.locator(".proof").inner_text())
    assert "10.453, 0, −0.984 in" in page.locator(".proof .remedy").inner_text()
    page.get_by_role("button", name=re.compile("^Do this: ")).click()
    page.get_by_text("Yes.").wait_for(timeout=60_000)
    assert [round(1e3 * v, 6) for v in load(file).radio.receiver_at] == [265.5, 0, -25]
    page.locator(".last button").click()
    until(page, lambda: file.read_text("utf-8") == clashing)
    page.get_by_text("Not yet.").wait_for(timeout=60_000)


def test_every_room_speaks_in_inches(served: Served, watched: Watched) -> None:
    begin(served)
    page = opened(watched, served)
    page.locator("#units").click()
    for room in ("Air", "Strength", "Flight", "Log", "Parts", "Weights"):
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        if room == "Flight":
            page.get_by_role("button", name="Fly it for the first time").click()
            page.locator(".story li").first.wait_for(timeout=120_000)
            story = page.locator(".story").inner_text()
            assert re.search(r"climbs \d+ ft", story)
            assert re.search(r"flies level at [\d.]+ mph", story)
            assert re.search(r"radius \d+ ft", story)
        if room == "Strength":
            assert re.search(r"\d psi", page.locator("table").first.inner_text())
        if room == "Parts":
            note = page.locator("#room .notes").last.inner_text()
            assert re.search(r"stands 0\.\d{3} to 0\.\d{3} in off former 1", note)
            continue  # sheets and rods keep the names they are sold under
        if room == "Weights":
            sizes = (
                page.locator("td:last-child")
                .filter(has_text=re.compile(r"^(area )?[\d.]+ "))
                .all_inner_texts()
            )
            assert any(" in²" in size for size in sizes)
            assert not [size for size in sizes if METRIC.search(size.split(",")[0].split(" of ")[0])]
            continue  # as before
        words = page.locator("#room").inner_text()
        assert not METRIC.search(words), (room, METRIC.search(words))


def test_a_design_beside_what_it_was(served: Served, watched: Watched) -> None:
    begin(served)
    page = opened(watched, served)
    page.locator('details[data-path="wing/0"] > summary').click()
    span = page.locator("#c-wing-0-span")
    span.fill("700")
    span.press("Enter")
    page.locator(".last", has_text="span").wait_for()
    page.get_by_role("link", name="Compare").click()
    page.locator("#with").select_option("n1")
    row = page.get_by_role("row", name=re.compile("^Wing, span"))
    row.wait_for(timeout=30_000)
    assert row.inner_text().split("\t")[1:] == ["700 mm", "640 mm"]
    assert page.get_by_role("row", name=re.compile("^Wing, ")).count() == 1
    loading = page.get_by_role("row", name=re.compile("^Wing loading")).inner_text().split("\t")
    assert loading[3].startswith("−")  # a larger wing carries less


def test_long_work_is_found_again_and_can_be_stopped(served: Served, watched: Watched) -> None:
    begin(served, "brambling")
    page = opened(watched, served, "Flight")
    page.get_by_role("button", name="Fly it for the first time").click()
    stop = page.get_by_role("button", name="Stop")
    stop.wait_for()
    page.get_by_role("link", name="Weights").click()
    page.get_by_role("main", name="Weights").wait_for()
    page.get_by_role("link", name="Flight").click()
    stop.wait_for()
    page.reload()
    stop.wait_for()
    assert page.get_by_role("button", name="Fly it for the first time").is_disabled()
    stop.click()
    page.get_by_text("Stopped.").wait_for()
    page.get_by_role("button", name="Fly it for the first time").click()
    page.locator("canvas.track").wait_for(timeout=90_000)
    page.get_by_role("button", name="Play").click()
    page.get_by_role("button", name="Pause").click()


def test_by_keyboard_alone(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    before = load(file)

    def tab_to(locator: Any, most: int = 80) -> None:
        for _ in range(most):
            if locator.evaluate("node => node === document.activeElement"):
                return
            page.keyboard.press("Tab")
        pytest.fail("this cannot be reached with the Tab key")

    battery = page.locator('svg[data-view="side"] .handle.pack')
    tab_to(battery)
    assert "battery" in battery.get_attribute("aria-label")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.locator(".last", has_text="move battery").wait_for()
    assert load(file).drive.pack_at[0] == pytest.approx(before.drive.pack_at[0] + 0.013)
    assert battery.evaluate("node => node === document.activeElement")

    wing = page.locator('details[data-path="wing/0"] > summary')
    tab_to(wing)
    page.keyboard.press("Enter")
    dihedral = page.locator("#c-wing-0-dihedral")
    tab_to(dihedral)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    page.locator(".last", has_text="dihedral").wait_for()
    assert round(load(file).wing[0].dihedral * 57.29578, 3) == 7
    page.keyboard.press("Control+z")
    page.locator(".last", has_text="move battery").wait_for()


def test_at_phone_width(browser: Any, served: Served) -> None:
    begin(served)
    phone = Watched(browser, served, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = opened(phone, served)
    for room in TITLES:
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        assert page.evaluate("document.documentElement.scrollWidth") <= 391, room
    head = page.locator(".panel-head")
    assert head.get_attribute("aria-expanded") == "false"
    assert re.search(r"\d+ g", head.inner_text())
    head.tap()
    page.locator(".findings li").first.wait_for()
    phone.context.close()
    assert phone.faults == []


def test_no_serious_fault_of_accessibility(browser: Any, served: Served) -> None:
    begin(served, "brambling")
    begin(served, "dunnock")
    (served.folder / "three-view.png").write_bytes(three_view())
    w = Watched(browser, served, color_scheme="light", bypass_csp=True)
    page = opened(w, served)
    with_axe(page)
    found = []
    for room in TITLES:
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        if room == "Picture":
            page.locator("#picture-pick").select_option("three-view.png")
            page.locator("#take-wide-controls").wait_for(timeout=60_000)
            page.get_by_role("button", name="Move the nodes of wing, top").click()
        if room == "Compare":
            page.locator("#with").select_option("fdunnock.toml")
            page.get_by_text("What differs in the design").wait_for(timeout=60_000)
        if room == "Shape":
            for path in ("wing", "wing/0", "drive", "radio", "body"):
                page.evaluate(
                    "(path) => { document.querySelector(`details[data-path='${path}']`).open = true; }", path
                )
        # What stands around every room is looked at with the first.
        found += serious(page, room, "document" if room == TITLES[0] else "'#room'")
    w.context.close()
    assert found == []
    assert w.faults == []
