"""Flight logs in open formats: what they say, and what is refused."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.errors import LogbookError
from sheetlark.logbook import Expected, against, figures, parse_track, read_track


def nmea(body: str) -> str:
    total = 0
    for sign in body.encode():
        total ^= sign
    return f"${body}*{total:02X}"


@pytest.mark.parametrize(
    ("head", "row", "speed", "height", "through_air"),
    [
        ("Time (s),Speed (km/h),Altitude (m)", "{t},36.0,{h}", 10.0, 1.0, False),
        ("timestamp_ms;airspeed;baro_alt", "{ms};10.0;{h}", 10.0, 1.0, True),
        (
            "Date,Time,GSpd(kts),Alt(ft),RSSI",
            "2026-05-17,10:00:{t:02d}.5,19.4384,{h},70",
            10.0,
            0.3048,
            False,
        ),
        ("t\tgps speed [mph]\theight_cm", "{t}\t22.3694\t{h}", 10.0, 0.01, False),
        ("Time,IAS,Ground Speed,Height", "{t},10,99,{h}", 10.0, 1.0, True),
    ],
)
def test_tables_of_many_headers(head, row, speed, height, through_air):
    lines = [head] + [row.format(t=t, ms=1000 * t, h=100 + t) for t in range(20)]
    track = parse_track("\n".join(lines).encode(), "log.csv")
    assert track.through_air is through_air
    assert track.speed_ms == pytest.approx(np.full(20, speed), rel=1e-4)
    assert track.height_m == pytest.approx(np.arange(20) * height, rel=1e-6)
    assert track.time_s[-1] == pytest.approx(19.0)


def test_a_preamble_and_bad_rows_are_passed_over():
    text = "# logger 3\nserial,17\n\nTime,Speed\n0,5\nx,5\n1,nan\n2,6\n"
    track = parse_track(text.encode())
    assert track.speed_ms.tolist() == [5.0, 6.0]
    assert track.skipped == 2


def test_nmea_joins_height_and_speed_and_drops_a_wrong_checksum():
    lines = []
    for t in range(10):
        lines.append(nmea(f"GPGGA,12351{t},4807.038,N,01131.000,E,1,08,0.9,{545.4 + t:.1f},M,46.9,M,,"))
        lines.append(nmea(f"GNRMC,12351{t}.00,A,4807.038,N,01131.000,E,019.4,084.4,230394,003.1,W"))
    lines.append(nmea("GPRMC,123520,A,4807.038,N,01131.000,E,999.0,084.4,230394,003.1,W")[:-2] + "00")
    lines.append(nmea("GPRMC,123521,V,,,,,,,230394,,"))
    track = parse_track("\r\n".join(lines).encode(), "log.nmea")
    assert len(track.time_s) == 10
    assert track.speed_ms == pytest.approx(np.full(10, 19.4 * 1852 / 3600))
    assert track.height_m == pytest.approx(np.arange(10.0))
    assert track.skipped == 2


def test_nmea_goes_on_past_midnight():
    lines = [
        nmea(f"GPRMC,{clock},A,4807.038,N,01131.000,E,10.0,0,0,,")
        for clock in ("235958", "235959", "000000", "000001")
    ]
    assert parse_track("\n".join(lines).encode()).time_s.tolist() == [0, 1, 2, 3]


GPX = """<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>"""


def gpx(n: int, *, metres_a_second: float = 10.0) -> str:
    step = math.degrees(metres_a_second / 6371008.8)
    return GPX.format(
        points="".join(
            f'<trkpt lat="{48 + k * step:.9f}" lon="11.5"><ele>{500 + 2 * k}</ele><time>2026-05-17T10:00:{k:02d}Z</time></trkpt>'
            for k in range(n)
        )
    )


def test_gpx_speed_is_way_over_time():
    track = parse_track(gpx(30).encode(), "log.gpx")
    assert track.speed_ms == pytest.approx(np.full(30, 10.0), rel=1e-4)
    assert track.height_m == pytest.approx(2.0 * np.arange(30))


def test_gpx_with_entities_is_not_opened():
    bomb = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><gpx>&b;</gpx>'
    with pytest.raises(LogbookError, match="has no document type; this one has"):
        parse_track(bomb.encode(), "bomb.gpx")
    deep = "<gpx>" + "<a>" * 200 + "</a>" * 200 + "</gpx>"
    with pytest.raises(LogbookError, match="too deep"):
        parse_track(deep.encode(), "deep.gpx")
    with pytest.raises(LogbookError, match=r"x\.gpx:1: not well-formed"):
        parse_track(b"<gpx><trk>", "x.gpx")


def test_what_is_no_log_is_said_to_be_none(tmp_path):
    for raw, words in (
        (b"", "not a flight log that can be read"),
        (b"hello\nworld", "not a flight log that can be read"),
        (b"a\x00b", "is not a text"),
        (b"Time,Speed\n1,2\n", "no flight in it: 1 usable points"),
    ):
        with pytest.raises(LogbookError, match=words):
            parse_track(raw, "x")
    with pytest.raises(LogbookError, match="cannot be read"):
        read_track(tmp_path / "none.csv")
    big = tmp_path / "big.csv"
    big.write_bytes(b"x" * 20_000_001)
    with pytest.raises(LogbookError, match="larger than 20 MB"):
        read_track(big)


@settings(deadline=None)
@given(st.binary(max_size=400))
def test_no_bytes_break_the_reader(raw):
    with contextlib.suppress(LogbookError):
        parse_track(raw)


@settings(deadline=None)
@given(st.text("<>$GPRMC,*0123456789abcdefTime;Speed\n\t", max_size=300))
def test_no_text_breaks_the_reader(text):
    with contextlib.suppress(LogbookError):
        parse_track(text.encode())


def flown(cruise: float = 10.0) -> str:
    """On the ground, a climb at 3 m/s, level, a burst, down again; one sample a second."""
    rows = ["Time,Speed,Height"]
    for t in range(140):
        v = 0.2 if t < 10 or t > 130 else cruise * (1.6 if 80 <= t < 85 else 1.0)
        h = 0.0 if t < 10 else min(3.0 * (t - 10), 45.0) if t < 100 else max(0.0, 45.0 - 1.6 * (t - 100))
        rows.append(f"{t},{v},{h}")
    return "\n".join(rows)


def test_figures_of_a_flight():
    got = figures(parse_track(flown().encode()))
    assert got.cruise_ms == pytest.approx(10.0)
    assert got.top_ms == pytest.approx(16.0)
    assert got.climb_ms == pytest.approx(3.0, abs=0.05)
    assert got.height_m == pytest.approx(45.0)
    assert got.minutes == pytest.approx(2.0, abs=0.05)


def test_held_against_the_prediction():
    got = figures(parse_track(flown().encode()))
    expected = Expected(stall_ms=6.0, cruise_ms=7.0, top_ms=20.0, climb_ms=3.1)
    rows = {row.quantity: row.says for row in against(got, expected, wind_ms=1.0)}
    assert rows["cruise"] == "3.0 m/s more than predicted"
    assert "only if full throttle was held" in rows["top speed"]
    assert rows["climb"].startswith("as predicted")
    windy = {row.quantity: row.says for row in against(got, expected, wind_ms=3.0)}
    assert "within the wind of 3 m/s" in windy["cruise"]
