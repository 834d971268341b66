"""Flight logs in open formats, read into one track: speed and height against time.

CSV with a header of any common wording, NMEA 0183 sentences (GGA and RMC, checksums checked), GPX 1.1. Whatever
the file says, reading stays within bounds: sizes are limited, and a GPX file with a document type is refused, so
that no entity is ever expanded.

References
----------
NMEA 0183 sentences as commonly documented: checksum is the exclusive or of all signs between $ and *.
GPX 1.1 schema, https://www.topografix.com/GPX/1/1/: trkpt with lat, lon in degrees (WGS 84), ele in metres, time in
ISO 8601. Distances on a sphere of the IUGG mean radius, 6 371 008.8 m.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import os
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sheetlark.errors import LogbookError

Floats = npt.NDArray[np.float64]

LARGEST_FILE_BYTES = 20_000_000
MOST_POINTS = 500_000
EARTH_M = 6_371_008.8
KNOT_MS = 1852.0 / 3600.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A flight as recorded, every array of shape (n,).

    time_s : from the first point, rising
    speed_ms : over the ground, or through the air where the file says so; nan where not recorded
    height_m : above the first point with a height; nan where not recorded
    through_air : whether the speed is an airspeed
    skipped : lines or points that could not be used
    """

    time_s: Floats
    speed_ms: Floats
    height_m: Floats
    through_air: bool
    skipped: int
    source: str


def read_track(path: str | os.PathLike[str]) -> Track:
    """Read a flight log; what it is, is seen from its content.

    Raises
    ------
    LogbookError
        If it cannot be read, is too large, or holds no flight; the message names the file, and the line where
        there is one.
    """
    file = Path(path)
    try:
        with file.open("rb") as handle:
            raw = handle.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise LogbookError(f"{file} cannot be read: {error.strerror or error}") from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise LogbookError(
            f"{file} is larger than {LARGEST_FILE_BYTES // 1_000_000} MB; cut out the flight first"
        )
    return parse_track(raw, name=file.name)


def parse_track(raw: bytes, name: str = "flight log") -> Track:
    """Read the bytes of a flight log; errors as for :func:`read_track`."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    if "\x00" in text:
        raise LogbookError(f"{name} is not a text; give CSV, NMEA or GPX")
    start = text.lstrip()[:200]
    if start.startswith("<"):
        return _gpx(text, name)
    if re.match(r"[$!][A-Z]{2,6}", start):
        return _nmea(text, name)
    return _table(text, name)


def _made(
    time: list[float],
    speed: list[float],
    height: list[float],
    *,
    through_air: bool,
    skipped: int,
    name: str,
    what: str,
) -> Track:
    if len(time) < 2:
        raise LogbookError(
            f"{name}: no flight in it: {len(time)} usable points of {what}, {skipped} unusable"
        )
    t, v, h = (np.array(a, dtype=np.float64) for a in (time, speed, height))
    order = np.argsort(t, kind="stable")
    t, v, h = t[order], v[order], h[order]
    keep = np.concatenate([[True], np.diff(t) > 1e-9])
    t, v, h = t[keep] - t[0], v[keep], h[keep]
    known = h[np.isfinite(h)]
    if known.size:
        h = h - known[0]
    if not (np.isfinite(v).any() or np.isfinite(h).any()):
        raise LogbookError(f"{name}: neither speed nor height in it")
    for array in (t, v, h):
        array.setflags(write=False)
    return Track(time_s=t, speed_ms=v, height_m=h, through_air=through_air, skipped=skipped, source=name)


# -- CSV --------------------------------------------------------------------------------------------------------

_TIME_WORDS = ("time", "timestamp", "t", "elapsed", "seconds", "millis", "ms", "clock")
_AIR_WORDS = ("airspeed", "aspd", "ias", "tas", "pitot")
_SPEED_WORDS = ("speed", "gspd", "groundspeed", "gps speed", "spd", "velocity", "vel", "sog")
_HEIGHT_WORDS = ("height", "altitude", "alt", "elevation", "ele", "baro")
_SPEED_UNITS = {"m/s": 1.0, "ms": 1.0, "mps": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6,
                "mph": 0.44704, "kts": KNOT_MS, "kt": KNOT_MS, "kn": KNOT_MS, "knots": KNOT_MS, "ft/s": 0.3048}  # fmt: skip
_HEIGHT_UNITS = {"m": 1.0, "ft": 0.3048, "feet": 0.3048, "cm": 0.01, "mm": 0.001, "km": 1000.0}
_TIME_UNITS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "millis": 1e-3, "us": 1e-6, "min": 60.0}


def _table(text: str, name: str) -> Track:
    head_line, dialect = _header(text, name)
    rows = csv.reader(io.StringIO(text), delimiter=dialect)
    for _ in range(head_line):
        next(rows)
    head = [cell.strip() for cell in next(rows)]
    at_time = _column(head, _TIME_WORDS)
    at_air = _column(head, _AIR_WORDS)
    at_speed = at_air if at_air is not None else _column(head, _SPEED_WORDS)
    at_height = _column(head, _HEIGHT_WORDS)
    if at_time is None or (at_speed is None and at_height is None):
        raise LogbookError(
            f"{name}:{head_line + 1}: need a column of time and one of speed or height; the columns are {', '.join(head[:12])}"
        )
    time_scale = _scale(head[at_time], _TIME_UNITS, 1.0)
    speed_scale = _scale(head[at_speed], _SPEED_UNITS, 1.0) if at_speed is not None else 1.0
    height_scale = _scale(head[at_height], _HEIGHT_UNITS, 1.0) if at_height is not None else 1.0
    time: list[float] = []
    speed: list[float] = []
    height: list[float] = []
    skipped = 0
    try:
        for row in rows:
            if not row:
                continue
            if len(time) >= MOST_POINTS:
                raise LogbookError(f"{name}: more than {MOST_POINTS} rows; cut out the flight first")
            t = _clock(_cell(row, at_time))
            v, h = _number(_cell(row, at_speed)), _number(_cell(row, at_height))
            if t is None or (v is None and h is None):
                skipped += 1
                continue
            time.append(t[0] * (time_scale if t[1] else 1.0))
            speed.append(math.nan if v is None else v * speed_scale)
            height.append(math.nan if h is None else h * height_scale)
    except csv.Error as error:
        raise LogbookError(f"{name}:{rows.line_num}: not a table: {error}") from None
    return _made(
        time, speed, height, through_air=at_air is not None, skipped=skipped, name=name, what="a table"
    )


def _header(text: str, name: str) -> tuple[int, str]:
    """Which line is the header, and what parts its cells: the first line with words of time and a quantity."""
    for number, line in enumerate(text.splitlines()[:60]):
        for delimiter in (",", ";", "\t"):
            cells = [cell.strip().strip('"') for cell in line.split(delimiter)]
            if len(cells) < 2 or _column(cells, _TIME_WORDS) is None:
                continue
            if any(_column(cells, words) is not None for words in (_AIR_WORDS, _SPEED_WORDS, _HEIGHT_WORDS)):
                return number, delimiter
    raise LogbookError(
        f"{name}: not a flight log that can be read: neither GPX nor NMEA, and no header with time and speed or height"
    )


def _words(cell: str) -> str:
    return re.sub(r"[_\-.]+", " ", re.sub(r"[\[(].*?[\])]", " ", cell)).strip().casefold()


def _column(head: list[str], words: tuple[str, ...]) -> int | None:
    plain = [_words(cell) for cell in head]
    for word in words:
        for i, cell in enumerate(plain):
            if cell == word:
                return i
    for word in words:
        if len(word) < 3:
            continue
        for i, cell in enumerate(plain):
            if re.search(rf"(^|\s){re.escape(word)}", cell) or (len(word) > 4 and word in cell):
                return i
    return None


def _scale(cell: str, units: dict[str, float], otherwise: float) -> float:
    inside = re.findall(r"[\[(]\s*([^\])]*?)\s*[\])]", cell)
    for text in (*inside, *re.split(r"[\s_\-]+", cell)[1:], cell):
        if text.strip().casefold() in units:
            return units[text.strip().casefold()]
    return otherwise


def _cell(row: list[str], at: int | None) -> str:
    return row[at].strip() if at is not None and at < len(row) else ""


def _number(text: str) -> float | None:
    try:
        value = float(text.replace(",", ".")) if text.count(",") == 1 and "." not in text else float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1e12 else None


def _clock(text: str) -> tuple[float, bool] | None:
    """Seconds, and whether they are in the column's unit (a plain number) or already seconds (a clock)."""
    number = _number(text)
    if number is not None:
        return number, True
    match = re.fullmatch(r"(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)", text)
    if match:
        return 3600.0 * int(match[1] or 0) + 60.0 * int(match[2]) + float(match[3].replace(",", ".")), False
    moment = _moment(text)
    return None if moment is None else (moment, False)


def _moment(text: str) -> float | None:
    try:
        moment = dt.datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=dt.UTC)
    return moment.timestamp()


# -- NMEA 0183 --------------------------------------------------------------------------------------------------


def _nmea(text: str, name: str) -> Track:
    heights: dict[float, float] = {}
    speeds: dict[float, float] = {}
    skipped = 0
    day, before = 0.0, -1.0
    for line in text.splitlines():
        line = line.strip()  # noqa: PLW2901
        if not line:
            continue
        fields = _sentence(line)
        if fields is None:
            skipped += 1
            continue
        kind = fields[0][-3:]
        if kind not in ("GGA", "RMC"):
            continue
        clock = _nmea_clock(fields[1]) if len(fields) > 1 else None
        if clock is None:
            skipped += 1
            continue
        if clock + day < before - 43200.0:
            day += 86400.0  # past midnight
        clock += day
        before = clock
        if kind == "GGA" and len(fields) > 9:
            value = _number(fields[9]) if fields[6] not in ("", "0") else None
            if value is None:
                skipped += 1
            else:
                heights[clock] = value
        elif kind == "RMC" and len(fields) > 7:
            value = _number(fields[7]) if fields[2] == "A" else None
            if value is None:
                skipped += 1
            else:
                speeds[clock] = value * KNOT_MS
        if len(heights) + len(speeds) > 2 * MOST_POINTS:
            raise LogbookError(f"{name}: more than {MOST_POINTS} points; cut out the flight first")
    times = sorted(heights.keys() | speeds.keys())
    return _made(
        times,
        [speeds.get(t, math.nan) for t in times],
        [heights.get(t, math.nan) for t in times],
        through_air=False,
        skipped=skipped,
        name=name,
        what="NMEA",
    )


def _sentence(line: str) -> list[str] | None:
    """Fields of a sentence whose checksum is right; None for any other line."""
    match = re.fullmatch(r"\$([^*$]{3,120})\*([0-9A-Fa-f]{2})", line)
    if match is None:
        return None
    total = 0
    for sign in match[1].encode("latin-1", "replace"):
        total ^= sign
    return match[1].split(",") if total == int(match[2], 16) else None


def _nmea_clock(text: str) -> float | None:
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2}(?:\.\d+)?)", text)
    if match is None:
        return None
    return 3600.0 * int(match[1]) + 60.0 * int(match[2]) + float(match[3])


# -- GPX 1.1 ----------------------------------------------------------------------------------------------------


def _gpx(text: str, name: str) -> Track:
    import xml.etree.ElementTree as ET

    if "<!DOCTYPE" in text or "<!ENTITY" in text or "<!doctype" in text.casefold():
        raise LogbookError(f"{name}: a GPX file has no document type; this one has, and is not opened")
    time: list[float] = []
    place: list[tuple[float, float]] = []
    height: list[float] = []
    own_speed: list[float] = []
    skipped = 0
    depth = 0
    try:
        for event, element in ET.iterparse(io.StringIO(text), events=("start", "end")):  # noqa: S314
            depth += 1 if event == "start" else -1
            if depth > 60:
                raise LogbookError(f"{name}: its elements lie too deep inside each other for GPX")
            if event == "start" or element.tag.rpartition("}")[2] != "trkpt":
                continue
            parts = {child.tag.rpartition("}")[2]: (child.text or "").strip() for child in element.iter()}
            when = _moment(parts.get("time", ""))
            lat, lon = _number(element.get("lat", "")), _number(element.get("lon", ""))
            element.clear()
            if when is None or lat is None or lon is None or abs(lat) > 90 or abs(lon) > 360:
                skipped += 1
                continue
            if len(time) >= MOST_POINTS:
                raise LogbookError(f"{name}: more than {MOST_POINTS} points; cut out the flight first")
            time.append(when)
            place.append((math.radians(lat), math.radians(lon)))
            ele, said = _number(parts.get("ele", "")), _number(parts.get("speed", ""))
            height.append(math.nan if ele is None else ele)
            own_speed.append(math.nan if said is None else said)
    except ET.ParseError as error:
        line = error.position[0]
        raise LogbookError(f"{name}:{line}: not well-formed XML: {error}") from None
    speed = own_speed if any(math.isfinite(v) for v in own_speed) else _speeds(time, place)
    return _made(time, speed, height, through_air=False, skipped=skipped, name=name, what="GPX")


def _speeds(time: list[float], place: list[tuple[float, float]]) -> list[float]:
    """Speed at each point from its neighbours, over the great circle."""
    if len(time) < 2:
        return [math.nan] * len(time)
    lat, lon = np.array(place).T
    half = (
        np.sin(0.5 * np.diff(lat)) ** 2 + np.cos(lat[1:]) * np.cos(lat[:-1]) * np.sin(0.5 * np.diff(lon)) ** 2
    )
    way = np.concatenate([[0.0], np.cumsum(2.0 * EARTH_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))])
    t = np.array(time)
    ahead, behind = np.minimum(np.arange(t.size) + 1, t.size - 1), np.maximum(np.arange(t.size) - 1, 0)
    took = t[ahead] - t[behind]
    speed = np.where(took > 0, (way[ahead] - way[behind]) / np.where(took > 0, took, 1.0), math.nan)
    found: list[float] = speed.tolist()
    return found
