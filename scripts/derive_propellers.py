"""Derive the propeller family's coefficients from wind-tunnel points.

    python scripts/derive_propellers.py PROPELLERS.csv [--check]

The table needs the columns id, style, diameter_in, pitch_in, rpm, J, CT, CP (UIUC Propeller Data Site, volumes 1
and 2). Writes src/sheetlark/drive/data/propeller_family.json. With --check it leaves propellers out, whole, and
prints how well the rest foretell them: that is how the model and its settings were chosen.

The fit is a mixed-effects model by expectation-maximisation: each propeller's twelve coefficients are a draw
about a Gaussian process in size and style, seen through its noisy points. Propellers unlike their kin count
for less (Student's t with 5 degrees of freedom), and scatter grows with level, because errors are relative.
"""

from __future__ import annotations

import argparse
import csv
import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from sheetlark.drive.family import (
    FAMILY_FILE,
    MEASUREMENT_NOISE,
    TERMS,
    Closeness,
    Family,
    Floats,
    gauge,
    reduced_advance,
    reynolds_measure,
    series,
)

DEGREES_OF_FREEDOM = 5.0
POINTS_WORTH = 40  # points of one propeller share its errors: no more than this many count
ROUNDS = 12
DEALINGS = 20  # ways of dealing the propellers into twelve groups to be left out
SOURCE = (
    "J. B. Brandt, R. W. Deters, G. K. Ananda, O. D. Dantsker, M. S. Selig, UIUC Propeller Data Site, "
    "volumes 1 and 2, University of Illinois at Urbana-Champaign"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """One propeller's points."""

    name: str
    style: str
    diameter_m: float
    pitch_ratio: float
    rpm: Floats
    advance: Floats
    thrust: Floats
    power: Floats

    @property
    def terms(self) -> Floats:
        return series(
            reduced_advance(self.advance, self.pitch_ratio), reynolds_measure(self.diameter_m, self.rpm)
        )

    @property
    def scaled(self) -> tuple[Floats, Floats]:
        thrust, power = gauge(self.pitch_ratio)
        return self.thrust / thrust, self.power / power


def read(path: Path) -> list[Measured]:
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    found = []
    for name in dict.fromkeys(row["id"] for row in rows):
        own = [row for row in rows if row["id"] == name]
        diameter, pitch = float(own[0]["diameter_in"]), float(own[0]["pitch_in"])
        rpm, advance, thrust, power = (np.array([float(r[k]) for r in own]) for k in ("rpm", "J", "CT", "CP"))
        found.append(
            Measured(
                name=name,
                style=own[0]["style"],
                diameter_m=diameter * 0.0254,
                pitch_ratio=pitch / diameter,
                rpm=rpm,
                advance=advance,
                thrust=thrust,
                power=power,
            )
        )
    return found


def fit(propellers: list[Measured], styles: tuple[str, ...], closeness: Closeness) -> tuple[Family, Floats]:
    """The family, and each propeller's coefficients (m, 12)."""
    m = len(propellers)
    where = (
        np.array([p.pitch_ratio for p in propellers]),
        np.array([p.diameter_m for p in propellers]),
        np.array([styles.index(p.style) for p in propellers]),
    )
    information, score = [], []
    for p in propellers:
        # Beyond half the pitch ratio the points matter less: models fly there seldom, the series follows less well.
        weight = 1.0 / (MEASUREMENT_NOISE * (1 + 3 * np.maximum(p.advance / p.pitch_ratio - 0.5, 0.0)))
        worth = min(1.0, POINTS_WORTH / p.rpm.size)
        f = p.terms * weight[:, None]
        block = f.T @ f * worth
        empty = np.zeros_like(block)
        information.append(np.block([[block, empty], [empty, block]]))
        score.append(np.concatenate([f.T @ (y * weight) for y in p.scaled]) * worth)
    a, b = np.array(information), np.array(score)
    c = np.array([np.linalg.solve(ai + 1e-3 * np.eye(2 * TERMS), bi) for ai, bi in zip(a, b, strict=True)])
    k = closeness.between(where, where)
    scatter, d = 0.05 * np.eye(2 * TERMS), np.ones(m)
    for _ in range(ROUNDS):
        mean = c - d[:, None] * (np.linalg.inv(k + np.diag(d)) @ c)
        inverse = np.linalg.inv(scatter)
        doubt = np.linalg.inv(a + inverse[None] / d[:, None, None])
        c = np.einsum("ijk,ik->ij", doubt, b + (mean @ inverse) / d[:, None])
        dual = np.linalg.inv(k + np.diag(d)) @ c
        residual = d[:, None] * dual
        scatter = np.einsum("ij,ik->jk", dual, c) / m + (doubt / d[:, None, None]).mean(0)
        scatter = 0.5 * (scatter + scatter.T)
        mean = c - residual
        level = 0.5 * (np.clip(mean[:, 0], 0.5, 2) + np.clip(mean[:, TERMS], 0.5, 2))
        d = level**2
        unlike = (residual / np.sqrt(d)[:, None])[:, [0, TERMS]]
        small = np.linalg.inv(scatter[np.ix_([0, TERMS], [0, TERMS])])
        distance = np.einsum("ij,jk,ik->i", unlike, small, unlike)
        d = d * (DEGREES_OF_FREEDOM + distance) / (DEGREES_OF_FREEDOM + 2.0)
    family = Family.of(
        styles=styles,
        pitch_ratios=where[0],
        diameters_m=where[1],
        style_numbers=where[2],
        weights=d,
        coefficients=c,
        scatter=scatter,
        closeness=closeness,
    )
    return family, c


def check(propellers: list[Measured], styles: tuple[str, ...], closeness: Closeness) -> None:
    """Leave whole propellers out and foretell them; J below half the pitch ratio, as models fly."""
    from sheetlark.drive.propeller import Propeller

    print(
        "left out whole, J < p/2: median |error| of thrust, power, % | in flight alone | % inside the 68 % interval"
    )
    totals = []
    for seed in range(DEALINGS):
        order = np.random.default_rng(seed).permutation(len(propellers))
        rows: list[list[Floats]] = []
        for fold in np.array_split(order, 12):
            family, _ = fit(
                [propellers[i] for i in range(len(propellers)) if i not in fold], styles, closeness
            )
            for i in fold:
                p = propellers[i]
                use = p.advance < 0.5 * p.pitch_ratio
                guess = Propeller(
                    diameter_m=p.diameter_m,
                    pitch_m=p.pitch_ratio * p.diameter_m,
                    style=p.style,
                    family=family,
                )
                j, rpm = p.advance[use], p.rpm[use]
                still = np.flatnonzero(p.advance == 0.0)
                at = still[still.size // 2]
                n, d = p.rpm[at] / 60, p.diameter_m
                thrust = p.thrust[at] * 1.225 * n**2 * d**4
                power = p.power[at] * 1.225 * n**3 * d**5
                row = []
                for who in (
                    guess,
                    guess.calibrated(rpm=p.rpm[at], thrust_n=thrust),
                    guess.calibrated(rpm=p.rpm[at], power_w=power),
                    guess.calibrated(rpm=p.rpm[at], thrust_n=thrust, power_w=power),
                ):
                    ct, cp = who.coefficients(j, rpm)
                    st, sp = who.spread(j, rpm)
                    t, q = p.thrust[use], p.power[use]
                    flying = j > 0.0
                    row += [ct / t - 1, cp / q - 1, np.abs(t - ct) < st * ct, np.abs(q - cp) < sp * cp]
                    row += [(ct / t - 1)[flying], (cp / q - 1)[flying]]
                rows.append(row)
        totals.append(_summary(rows))
        if seed == 0:
            draw = np.random.default_rng(0)
            again = [_summary([rows[i] for i in draw.integers(0, len(rows), len(rows))]) for _ in range(200)]
    mean, dealt, luck = np.mean(totals, axis=0), np.std(totals, axis=0), np.std(again, axis=0)
    for name, at in (("size and style", 0), ("+ thrust read", 6), ("+ power read", 12), ("+ both read", 18)):
        print(
            f"{name:16s} {mean[at]:5.2f} {mean[at + 1]:5.2f} | {mean[at + 4]:5.2f} {mean[at + 5]:5.2f} | "
            f"{mean[at + 2]:3.0f} {mean[at + 3]:3.0f}"
        )
    print(
        f"size and style: one dealing differs from another by {dealt[0]:.2f} {dealt[1]:.2f}; other propellers, as many, "
        f"would give figures {luck[0]:.2f} {luck[1]:.2f} away (bootstrap)"
    )


def _summary(rows: list[list[Floats]]) -> list[float]:
    """Median |error| or share inside, in per cent, over the points of all propellers."""
    columns = [np.concatenate(column) for column in zip(*rows, strict=True)]
    return [100 * float(np.mean(c) if c.dtype == bool else np.median(np.abs(c))) for c in columns]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("table", type=Path)
    parser.add_argument("--check", action="store_true", help="leave propellers out and print the errors")
    arguments = parser.parse_args()
    propellers = read(arguments.table)
    styles = tuple(sorted({p.style for p in propellers}))
    closeness = Closeness()
    if arguments.check:
        check(propellers, styles, closeness)
        return
    family, c = fit(propellers, styles, closeness)
    stored = {
        "source": SOURCE,
        "closeness": asdict(closeness),
        "styles": list(styles),
        "scatter": [[float(f"{v:.5g}") for v in row] for row in family.scatter],
        "propellers": [
            {
                "style": p.style,
                "diameter_m": round(p.diameter_m, 6),
                "pitch_ratio": round(p.pitch_ratio, 6),
                "weight": round(float(family.weights[i]), 4),
                "thrust": [round(float(v), 4) for v in c[i, :TERMS]],
                "power": [round(float(v), 4) for v in c[i, TERMS:]],
            }
            for i, p in enumerate(propellers)
        ],
    }
    lines = [
        f' "{key}": {json.dumps(value)}'
        for key, value in stored.items()
        if key not in {"propellers", "scatter"}
    ]
    lines += [
        f' "{key}": [\n  ' + ",\n  ".join(json.dumps(row) for row in stored[key]) + "\n ]"
        for key in ("scatter", "propellers")
    ]
    FAMILY_FILE.parent.mkdir(exist_ok=True)
    FAMILY_FILE.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    print(f"{len(propellers)} propellers, {FAMILY_FILE.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
