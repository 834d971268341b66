"""Stock files: what is supplied, what a person adds, and how faults are told."""

from __future__ import annotations

import dataclasses
import math

import pytest

from sheetlark.errors import StockError
from sheetlark.stock import Stock, load_stock


@pytest.fixture
def supplied(monkeypatch, tmp_path) -> Stock:
    monkeypatch.setenv("SHEETLARK_STOCK", str(tmp_path / "none"))
    return load_stock()


def test_enough_of_everything(supplied):
    in_range = [m for m in supplied.motors if 0.010 <= m.mass_kg <= 0.120]
    assert len(in_range) >= 25
    assert min(m.mass_kg for m in in_range) < 0.0115
    assert max(m.mass_kg for m in in_range) > 0.100
    assert len({(m.stator_diameter_m, m.stator_height_m) for m in in_range}) >= 10
    assert len(supplied.propellers) >= 40
    assert {p.cells for p in supplied.packs} == {1, 2, 3, 4}
    assert min(p.capacity_ah for p in supplied.packs) == pytest.approx(0.150)
    assert max(p.capacity_ah for p in supplied.packs) == pytest.approx(2.200)


def test_keys_are_unique_and_figures_marked(supplied):
    for field in dataclasses.fields(supplied):
        items = getattr(supplied, field.name)
        keys = [item.key for item in items]
        assert len(keys) == len(set(keys)), field.name
        for item in items:
            assert item.source == "typical"
            assert item.note, item.key
            assert 0.0 <= item.mass_spread <= 0.4


def test_every_figure_is_finite_and_not_negative(supplied):
    for field in dataclasses.fields(supplied):
        for item in getattr(supplied, field.name):
            for own in dataclasses.fields(item):
                value = getattr(item, own.name)
                if isinstance(value, float):
                    assert math.isfinite(value), (item.key, own.name)
                    assert value >= 0.0, (item.key, own.name)


def test_named_by_the_trade(supplied):
    assert supplied.sheet("foam-board-5").areal_kg_m2("both") == pytest.approx(0.310)
    assert supplied.sheet("foam-board-5").areal_kg_m2("one") == pytest.approx(0.215)
    assert supplied.sheet("foam-board-5").width_m == pytest.approx(0.762)
    assert supplied.rod("carbon-tube-6").inner_diameter_m == pytest.approx(0.004)
    assert supplied.propeller("8x4.5-thin-electric").pitch_m == pytest.approx(0.1143)
    assert supplied.servo("servo-9g").torque_nm == pytest.approx(0.1667, rel=1e-3)
    assert supplied.pack("3s-1300").capacity_ah == pytest.approx(1.3)
    assert supplied.hardware("bolt-m3").mass_kg == pytest.approx(0.0014)
    for key in ("packing", "coloured", "fibre"):
        assert supplied.tape(key).width_m > 0.01
    for key in ("none", "tape", "film", "paint"):
        assert supplied.covering(key).areal_density_kg_m2 >= 0.0


@pytest.mark.parametrize(
    ("key", "grams_per_metre"),
    [("carbon-3", 11.0), ("carbon-4", 19.5), ("carbon-tube-4", 11.9), ("carbon-tube-6", 24.4)],
)
def test_carbon_weighs_what_its_section_says(supplied, key, grams_per_metre):
    assert supplied.rod(key).linear_density_kg_m * 1e3 == pytest.approx(grams_per_metre, rel=0.01)


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        ("2s-450", 28, 32),
        ("2s-850", 48, 58),
        ("2s-1000", 55, 68),
        ("2s-1300", 75, 90),
        ("3s-450", 40, 48),
        ("3s-850", 68, 82),
        ("3s-1000", 82, 98),
        ("3s-1300", 105, 125),
        ("3s-1500", 106, 136),
        ("3s-2200", 170, 200),
    ],
)
def test_packs_weigh_what_packs_weigh(supplied, key, low, high):
    """Ranges commonly weighed (from memory); 3S 1500 mAh on makers' pages."""
    assert low <= supplied.pack(key).mass_kg * 1e3 <= high


def test_lookup_names_the_nearest(supplied):
    with pytest.raises(StockError, match="no motor '2212-1001' in stock; the nearest is '2212-1"):
        supplied.motor("2212-1001")
    with pytest.raises(StockError, match="no sheet 'QQQ' in stock; known are balsa"):
        supplied.sheet("QQQ")


def test_own_entries_add_and_change(tmp_path, supplied):
    (tmp_path / "mine.toml").write_text(
        '[motor.2212-1000]\nmass = "53.5 g"\n'
        '[motor.mine]\nmass = 40\nkv = 1100\n"stator diameter" = 22\n"stator height" = 10\nshaft = 3\n"max cells" = 3\n',
        encoding="utf-8",
    )
    stock = load_stock(tmp_path)
    changed, before = stock.motor("2212-1000"), supplied.motor("2212-1000")
    assert changed.mass_kg == pytest.approx(0.0535)
    assert changed.kv_rpm_v == before.kv_rpm_v
    assert changed.source == "your stock, mine.toml"
    assert 0.05 < stock.motor("mine").resistance_ohm < 0.3
    assert load_stock(tmp_path) is stock


def test_a_changed_file_is_read_again(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('[pack.p]\ncells = 2\ncapacity = "500 mAh"\nmass = "30 g"\n', encoding="utf-8")
    assert load_stock(tmp_path).pack("p").mass_kg == pytest.approx(0.030)
    file.write_text('[pack.p]\ncells = 2\ncapacity = "500 mAh"\nmass = "31.0 g"\n', encoding="utf-8")
    assert load_stock(tmp_path).pack("p").mass_kg == pytest.approx(0.031)


def test_the_environment_names_the_folder(tmp_path, monkeypatch):
    (tmp_path / "w.toml").write_text("[wheel.w]\ndiameter = 30\nwidth = 5\nmass = 1\n", encoding="utf-8")
    monkeypatch.setenv("SHEETLARK_STOCK", str(tmp_path))
    assert load_stock().wheel("w").diameter_m == pytest.approx(0.030)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[motr.x]\nmass = 1\n", "'motr' is no kind of stock; did you mean 'motor'"),
        ("[motor.x]\nmas = 1\n", r"motor\.x: unknown field 'mas'; did you mean 'mass'"),
        ('[wheel.x]\ndiameter = "3 kg"\nwidth = 1\nmass = 1\n', r"wheel\.x: diameter: .*kg"),
        ("[wheel.x]\ndiameter = 30\nwidth = 5\n", r"wheel\.x: the field 'mass' is missing"),
        ("[wheel.x]\ndiameter = 30\nwidth = 5\nmass = -1\n", r"wheel\.x: mass: must be above 0, read -1"),
        (
            "[pack.x]\ncells = 2.5\ncapacity = 100\n",
            r"pack\.x: cells: expected a whole number from 0 to 64, read 2.5",
        ),
        ("[pack]\nx = 1\n", r"write each pack as a table, such as \[pack.name\]"),
        ("[pack.1.5]\ncells = 2\n", "a key with a dot needs quotes"),
        ("[pack.x\n", "not a stock file"),
        ("[pack.x]\nname = 5\n", r"pack\.x: name: expected a text, read 5"),
        ("[propeller.x]\ndiameter = 200\npitch = 100\nreadings = 3\n", "write each reading as a table"),
    ],
)
def test_faults_name_file_entry_and_field(tmp_path, text, words):
    (tmp_path / "bad.toml").write_text(text, encoding="utf-8")
    with pytest.raises(StockError, match=words) as caught:
        load_stock(tmp_path)
    assert "bad.toml" in str(caught.value)


def test_a_missing_folder_is_told(tmp_path):
    with pytest.raises(StockError, match=r"no stock folder .*Make it, or leave it out"):
        load_stock(tmp_path / "nowhere")
