"""The DXF read back by ezdxf from its text, and by GDAL, which shares no code with it."""

import io
import json
import subprocess
import sys

import ezdxf
import numpy as np
import pytest

from sheetlark.parts import Kit
from sheetlark.sheets import STYLES, draw_nesting, dxf_text, nest
from sheetlark.sheets.lettering import CAPITAL

from .kits import box, make
from .reading import expected_rings, run, tool, worst_gap


@pytest.fixture(scope="module")
def documents(plans):
    return [ezdxf.readfile(f) for f in plans.dxf]


def test_every_outline_comes_back(kit, nesting, documents):
    for doc, layout in zip(documents, nesting.sheets, strict=True):
        found = [np.array(e.get_points("xy")) for e in doc.modelspace().query('LWPOLYLINE[layer=="CUT"]')]
        assert all(e.closed for e in doc.modelspace().query('LWPOLYLINE[layer=="CUT"]'))
        worst, left = worst_gap(expected_rings(kit, layout), found)
        assert worst < 1e-6
        assert not left


def test_audit_is_clean_and_the_unit_is_the_millimetre(documents):
    for doc in documents:
        audit = doc.audit()
        assert not audit.errors
        assert not audit.fixes
        assert doc.dxfversion == "AC1024"
        assert doc.units == ezdxf.units.MM
        assert doc.header["$MEASUREMENT"] == 1


def test_layers_carry_their_line_types_and_weights(documents, drawings):
    for doc, drawing in zip(documents, drawings, strict=True):
        for layer in drawing.layers:
            entry = doc.layers.get(layer.value)
            style = STYLES[layer]
            assert entry.dxf.lineweight == round(100 * style.width_mm)
            line_type = doc.linetypes.get(entry.dxf.linetype)
            pattern = [abs(t.value) for t in line_type.pattern_tags.tags if t.code == 49]
            assert pattern == pytest.approx(list(style.dashes))


def test_words_come_back_at_their_height(documents, drawings):
    found = sorted(
        (
            t.dxf.text,
            round(t.get_placement()[1].x, 6),
            round(t.get_placement()[1].y, 6),
            round(t.dxf.height, 6),
        )
        for t in documents[0].modelspace().query("TEXT")
    )
    wanted = sorted(
        (
            "".join(
                c if c.isascii() else f"\\U+{ord(c):04X}" for c in w.text.translate({0xB7: "-", 0xD7: "x"})
            ),
            round(w.at[0], 6),
            round(w.at[1], 6),
            round(CAPITAL * w.size_mm, 6),
        )
        for w in drawings[0].lettering
    )
    assert found == wanted
    assert any(row[0] == "1 - upper wing panel" for row in found)
    assert any("\\U+00B0" in row[0] for row in found)


def test_gdal_reads_the_same_cuts(kit, nesting, plans):
    for file, layout in zip(plans.dxf, nesting.sheets, strict=True):
        features = json.loads(
            run(tool("ogr2ogr"), "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", "/vsistdout/", str(file))
        )["features"]
        found = []
        for feature in features:
            if feature["properties"]["Layer"] == "CUT":
                shape = feature["geometry"]
                points = shape["coordinates"][0] if shape["type"] == "Polygon" else shape["coordinates"]
                found.append(np.array(points)[:-1, :2])
        worst, left = worst_gap(expected_rings(kit, layout), found)
        assert worst < 1e-6
        assert not left
        words = {f["properties"].get("Text") or "" for f in features}
        assert "17 - horn" in words or "3 - body side" in words


def test_same_drawing_same_text_in_another_process(plans, tmp_path):
    """Hash seeds differ from process to process; the order of anything must not come from a set."""
    script = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from sheetlark.sheets import Drawing, Layer, Line, Lettering, dxf_text\n"
        "import numpy as np, hashlib\n"
        "d = Drawing(name='d', width_mm=50, height_mm=40, lines=(Line(layer=Layer.CUT, "
        "points=np.array([(0, 0), (30, 0), (30, 20)]), closed=True),), lettering=(Lettering(layer=Layer.TEXT, "
        "text='Ø', at=(5, 5), size_mm=3),))\n"
        "print(hashlib.sha256(dxf_text(d).encode()).hexdigest())\n"
    )
    seen = {
        subprocess.run(
            [sys.executable, "-c", script, str(tmp_path)],
            env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin", "PYTHONPATH": ":".join(sys.path)},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(seen) == 1


def test_names_in_any_script_stay_ascii_and_codes_are_broken(stock):
    kit = Kit(name="k", parts=(make(1, "крыло %%u \\P Ø", box(200, 80)),))
    (drawing,) = draw_nesting(nest(kit, stock, effort="quick"), kit)
    text = dxf_text(drawing)
    assert text.isascii()
    assert "%%" not in text
    doc = ezdxf.read(io.StringIO(text))
    shown = [t.plain_text() for t in doc.modelspace().query("TEXT")]
    assert any("\\U+043A" in s or "крыло" in s for s in shown)
