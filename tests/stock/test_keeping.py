"""What a person measured goes into a file, and comes back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheetlark.errors import StockError
from sheetlark.stock import Reading, keep_motor, keep_readings, load_stock


def test_a_motor_comes_back(tmp_path):
    motor = load_stock(tmp_path).motor("2212-1000")
    keep_motor(replace(motor, kv_rpm_v=963.25, resistance_ohm=0.1234, no_load_current_a=0.66), tmp_path)
    back = load_stock(tmp_path).motor("2212-1000")
    assert back.kv_rpm_v == 963.25
    assert back.resistance_ohm == pytest.approx(0.1234)
    assert back.no_load_current_a == pytest.approx(0.66)
    assert back.source == "measured"


def test_readings_come_back_and_comments_stay(tmp_path):
    (tmp_path / "measured.toml").write_text(
        "# my bench\n[wheel.w]\ndiameter = 30\nwidth = 5\nmass = 1\n", encoding="utf-8"
    )
    propeller = load_stock(tmp_path).propeller("8x4.5-thin-electric")
    rows = (
        Reading(
            key="bench", name="bench", source="measured", rpm=8000.0, thrust_coefficient=0.1, spread=0.02
        ),
        Reading(
            key="bench", name="bench", source="measured", rpm=9000.0, power_coefficient=0.04, spread=0.05
        ),
    )
    file = keep_readings(propeller, rows, tmp_path)
    keep_motor(load_stock(tmp_path).motor("2212-1000"), tmp_path)
    assert file.read_text(encoding="utf-8").startswith("# my bench")
    stock = load_stock(tmp_path)
    back = stock.propeller("8x4.5-thin-electric").readings
    assert [r.rpm for r in back] == [8000.0, 9000.0]
    assert back[0].thrust_coefficient == pytest.approx(0.1)
    assert back[0].power_coefficient is None
    assert back[1].spread == pytest.approx(0.05)
    assert stock.wheel("w").mass_kg == pytest.approx(0.001)


def test_a_broken_file_is_not_overwritten(tmp_path):
    (tmp_path / "measured.toml").write_text("[motor.x\n", encoding="utf-8")
    with pytest.raises(StockError, match="not a stock file"):
        keep_motor(load_stock().motor("2212-1000"), tmp_path)
    assert (tmp_path / "measured.toml").read_text(encoding="utf-8") == "[motor.x\n"


def test_a_folder_that_cannot_be_is_refused_in_words(tmp_path):
    motor = load_stock(tmp_path).motor("2212-1000")
    in_the_way = tmp_path / "stock"
    in_the_way.write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(StockError, match="cannot be read"):
        keep_motor(motor, in_the_way)


def test_a_full_disk_loses_nothing(tmp_path, monkeypatch):
    motor = load_stock(tmp_path).motor("2212-1000")
    file = keep_motor(motor, tmp_path)
    before = file.read_bytes()
    monkeypatch.setattr("os.fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(StockError, match="cannot be written: No space left"):
        keep_motor(replace(motor, kv_rpm_v=963.25), tmp_path)
    assert file.read_bytes() == before
