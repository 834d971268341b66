"""The page for a browser: asks for nothing, draws the model, takes hostile names as plain words."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from sheetlark.design import loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.handbook import handbook, handbook_html
from sheetlark.handbook.mesh import STEP_MM, meshes, packed


def data_of(page: str) -> dict:
    return json.loads(re.search(r'id="model-data">(.*?)</script>', page, re.DOTALL)[1])


def test_nothing_in_it_points_outside(bench):
    page = handbook_html(bench.written("brambling"))
    assert not re.search(r"(?:src|href|url)\s*[=(]", page.split("<script>")[0].split("</style>")[1])
    outside = set(re.findall(r"https?://[^\s\"'<)]+", page))
    assert outside <= {"http://www.w3.org/2000/svg"}
    assert "default-src 'none'" in page
    assert page == handbook_html(bench.written("brambling"))


def test_every_solid_is_closed_and_has_the_right_volume(bench):
    """Divergence theorem over the triangles against area times thickness."""
    for mesh in meshes(bench.written("brambling").build.model):
        part = mesh.item.part
        if part is None or len(part.copies[0]) > 1:
            continue
        t = mesh.triangles
        volume = float(np.einsum("ij,ij->i", t[:, 0], np.cross(t[:, 1], t[:, 2])).sum()) / 6.0
        assert volume == pytest.approx(part.area_mm2 * part.thickness_mm, rel=0.01), part.name


def test_numbers_pack_to_a_tenth_of_a_millimetre():
    import base64

    values = np.array([[-1234.56, 0.04, 999.96]])
    back = np.frombuffer(base64.b64decode(packed(values)), "<i2") * STEP_MM
    assert back == pytest.approx(values[0], abs=0.051)


def test_a_hostile_name_stays_words():
    nasty = "</script><script>alert(1)</script><img src=x onerror=alert(2)>"
    text = starter("dunnock").replace('name = "Dunnock"', f"name = '{nasty[:55]}'")
    page = handbook_html(handbook(evaluate(loads(text))))
    assert "<script>alert" not in page
    assert page.count("<script") == 2
    assert data_of(page)["name"].startswith("</script>")


@pytest.mark.browser
def test_it_draws_and_asks_for_nothing(bench, tmp_path, browser):
    file = tmp_path / "page.html"
    file.write_text(handbook_html(bench.written("brambling")), encoding="utf-8")
    steps = len(bench.written("brambling").build.steps)
    page = browser.new_page(viewport={"width": 900, "height": 700})
    asked, said = [], []
    page.on("request", lambda r: asked.append(r.url))
    # The test's own look at the pixels makes the driver wait, which it says.
    page.on("console", lambda m: "ReadPixels" in m.text or said.append(m.text))
    page.on("pageerror", lambda e: said.append(str(e)))
    page.goto(file.as_uri())
    page.wait_for_timeout(300)

    def ink() -> float:
        """Share of the view that is not its ground."""
        return page.evaluate(
            """() => { const c = document.getElementById('view'), g = c.getContext('webgl'), n = c.width * c.height;
            const a = new Uint8Array(4 * n); g.readPixels(0, 0, c.width, c.height, g.RGBA, g.UNSIGNED_BYTE, a);
            let k = 0; for (let i = 0; i < 4 * n; i += 4) if (Math.abs(a[i] - a[0]) > 8) k++; return k / n; }"""
        )

    whole = ink()
    assert whole > 0.03
    page.locator("#up-to").fill("1")
    page.wait_for_timeout(200)
    assert ink() < 0.7 * whole
    assert "Step 1:" in page.locator("#view-says").inner_text()
    page.locator(f"#step-{steps} button").click()
    page.wait_for_timeout(200)
    assert "Finished" in page.locator("#view-says").inner_text()
    page.locator("#view").focus()
    before = page.locator("#view").screenshot()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(200)
    assert page.locator("#view").screenshot() != before
    page.close()

    assert asked == [file.as_uri()]
    assert said == []
