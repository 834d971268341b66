"""Wind-tunnel points of 46 small propellers, each foretold by the rest of its family.

J. B. Brandt, R. W. Deters, G. K. Ananda, O. D. Dantsker, M. S. Selig, UIUC Propeller Data Site, volumes 1 and 2,
University of Illinois at Urbana-Champaign. Every second propeller of the table; of each a static point at the middle of
its speeds, and the points nearest a quarter and 0.45 of the pitch ratio. (The makers' names are left out.) A
propeller's own coefficients are taken out of the family before it is asked, with any other of its size and style, so
none is foretold from itself.

Propellers of one nominal size differ by about 9 % in thrust and 13 % in power (standard deviation) in these data;
half of a normal scatter lies within 0.67 of it. All points of all propellers left out in
turn (scripts/derive_propellers.py --check) give medians of 6.3 and 8.2 %, and after one static reading 2.4 and 2.1 %
over static and flight points, 3.5 and 2.8 % over flight points alone. The tolerances below are for so few points.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from sheetlark.drive import Propeller
from sheetlark.drive.family import FAMILY_FILE, Closeness, Family

SOURCE = "Brandt, Deters, Ananda, Dantsker, Selig, UIUC Propeller Data Site vol. 1-2"
DENSITY = 1.225


@dataclass(frozen=True)
class Case:
    style: str
    diameter_in: float
    pitch_in: float
    points: tuple[tuple[float, float, float, float], ...]  # rpm, J, CT, CP

    @property
    def diameter_m(self) -> float:
        return self.diameter_in * 0.0254

    def blind(self) -> Propeller:
        """The propeller, asked of a family without its own size and style."""
        stored = json.loads(FAMILY_FILE.read_text(encoding="utf-8"))
        rows = [
            row
            for row in stored["propellers"]
            if not (
                row["style"] == self.style
                and abs(row["diameter_m"] - self.diameter_m) < 1e-4
                and abs(row["pitch_ratio"] - self.pitch_in / self.diameter_in) < 1e-3
            )
        ]
        assert len(rows) < len(stored["propellers"])
        styles = tuple(stored["styles"])
        family = Family.of(
            styles=styles,
            pitch_ratios=np.array([row["pitch_ratio"] for row in rows]),
            diameters_m=np.array([row["diameter_m"] for row in rows]),
            style_numbers=np.array([styles.index(row["style"]) for row in rows]),
            weights=np.array([row["weight"] for row in rows]),
            coefficients=np.array([row["thrust"] + row["power"] for row in rows]),
            scatter=np.array(stored["scatter"]),
            closeness=Closeness(**stored["closeness"]),
        )
        return Propeller(self.diameter_m, self.pitch_in * 0.0254, self.style, family=family)


def _cases() -> tuple[Case, ...]:
    with Path(__file__).with_name("drive_propellers.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    found = []
    for first in range(0, len(rows), 3):
        own = rows[first : first + 3]
        points = tuple(tuple(float(row[k]) for k in ("rpm", "J", "CT", "CP")) for row in own)
        found.append(Case(own[0]["style"], float(own[0]["diameter_in"]), float(own[0]["pitch_in"]), points))
    return tuple(found)


CASES = _cases()


def errors(who: Propeller, points) -> tuple[np.ndarray, np.ndarray]:
    rpm, advance, thrust, power = np.array(points).T
    got_thrust, got_power = who.coefficients(advance, rpm)
    return got_thrust / thrust - 1, got_power / power - 1


@pytest.mark.published
def test_size_and_style_alone(record_error):
    found = [errors(case.blind(), case.points) for case in CASES]
    for name, at, tolerance in (("thrust", 0, 0.078), ("power", 1, 0.098)):
        median = np.median(np.abs(np.concatenate([row[at] for row in found])))
        record_error(
            case=f"46 propellers left out, median {name} error from size and style",
            got=median,
            published=0.0,
            tolerance=tolerance,
            source=SOURCE,
            relative=False,
        )


@pytest.mark.published
@pytest.mark.parametrize(
    ("read", "name", "at", "tolerance"),
    [
        ("thrust", "thrust", 0, 0.047),
        ("power", "power", 1, 0.033),
        ("both", "thrust", 0, 0.038),
        ("both", "power", 1, 0.03),
    ],
)
def test_in_flight_after_one_static_reading(record_error, read, name, at, tolerance):
    found = []
    for case in CASES:
        rpm, _, ct, cp = case.points[0]
        n, d = rpm / 60, case.diameter_m
        reading = {"thrust_n": ct * DENSITY * n**2 * d**4, "power_w": cp * DENSITY * n**3 * d**5}
        if read != "both":
            reading = {key: value for key, value in reading.items() if key.startswith(read)}
        told = case.blind().calibrated(rpm=rpm, density_kg_m3=DENSITY, **reading)
        found.append(errors(told, case.points[1:])[at])
    record_error(
        case=f"46 propellers, median {name} error in flight after a static reading of {read}",
        got=np.median(np.abs(np.concatenate(found))),
        published=0.0,
        tolerance=tolerance,
        source=SOURCE,
        relative=False,
    )


@pytest.mark.published
def test_stated_interval_holds_about_two_thirds():
    """The stated 68 % interval holds 60-76 % of many points; of so few 55-80 %."""
    inside = []
    for case in CASES:
        who = case.blind()
        rpm, advance, thrust, power = np.array(case.points).T
        got, spread = who.coefficients(advance, rpm), who.spread(advance, rpm)
        for model, measured, width in zip(got, (thrust, power), spread, strict=True):
            inside += list(np.abs(measured - model) < width * model)
    assert 0.55 < np.mean(inside) < 0.80


@pytest.mark.published
def test_measured_propellers_obey_the_momentum_bound_and_so_do_we(record_error):
    """T <= (2 rho A P²)^(1/3) standing still; 8 in, 30, 60 and 100 W give 4.15, 6.59 and 9.26 N (momentum theory)."""
    area = np.pi * 0.2032**2 / 4
    watts = np.array([30.0, 60.0, 100.0])
    record_error(
        case="static thrust bound of an 8 in disc at 30, 60 and 100 W",
        got=(2 * DENSITY * area * watts**2) ** (1 / 3),
        published=[4.15, 6.59, 9.26],
        tolerance=0.0015,
        source="actuator-disc theory (textbook), worked figures",
    )
    for case in CASES:
        who = case.blind()
        for rpm in (2000.0, 8000.0, 20000.0):
            n, d = rpm / 60, case.diameter_m
            ct, cp = who.coefficients(0.0, rpm)
            bound = (2 * DENSITY * np.pi * d**2 / 4 * (cp * DENSITY * n**3 * d**5) ** 2) ** (1 / 3)
            assert ct * DENSITY * n**2 * d**4 < bound
