"""Symptoms a flier can name, and the quantity of the flight model each one speaks of.

A *measure* is a signed quantity of the flight model, such as the stick needed to fly straight. A symptom says
that a measure differs from the prediction, which way, and by how much in steps of what is just noticeable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sheetlark.logbook.entries import Sighting, Strength

Measure = Literal[
    "pitch-trim",
    "power-pitch",
    "glide-pitch",
    "fast-pitch",
    "slow-pitch",
    "stiffness",
    "roll-trim",
    "yaw-trim",
    "power-roll",
    "power-yaw",
    "launch-height",
    "launch-bank",
    "stall-roll",
    "turn-slip",
]
Unit = Literal["rad", "m", "m/s", "1"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureKind:
    """How a measure is noticed.

    noticeable : the least change a practised flier notices, in the measure's own unit
    unlooked : how uncertain silence is, in steps of `noticeable`: what happens on every flight is soon seen,
        what needs a test of its own (a dive, a stall) is often not looked at
    says : what the measure is
    """

    noticeable: float
    unlooked: float
    says: str


# What is just noticeable, by feel and by the trim it takes (a trim step is 1 to 2 % of the stick): common practice, no
# source. Sticks run from -1 to 1.
MEASURES: dict[Measure, MeasureKind] = {
    "pitch-trim": MeasureKind(noticeable=0.04, unlooked=0.7, says="pitch stick in level flight"),
    "power-pitch": MeasureKind(
        noticeable=math.radians(1.5), unlooked=1.0, says="pitch three seconds after full power is opened"
    ),
    "glide-pitch": MeasureKind(noticeable=0.05, unlooked=1.2, says="pitch stick in the glide"),
    "fast-pitch": MeasureKind(noticeable=0.04, unlooked=2.0, says="pitch stick, fast against cruise"),
    "slow-pitch": MeasureKind(noticeable=0.06, unlooked=1.5, says="pitch stick, slow against cruise"),
    "stiffness": MeasureKind(noticeable=0.2, unlooked=1.5, says="stiffness in pitch against the predicted"),
    "roll-trim": MeasureKind(noticeable=0.04, unlooked=0.7, says="roll stick in level flight"),
    "yaw-trim": MeasureKind(noticeable=0.05, unlooked=0.8, says="yaw stick in level flight"),
    "power-roll": MeasureKind(
        noticeable=math.radians(3.0), unlooked=1.2, says="bank three seconds after full power is opened"
    ),
    "power-yaw": MeasureKind(
        noticeable=math.radians(2.5), unlooked=1.2, says="heading three seconds after full power is opened"
    ),
    "launch-height": MeasureKind(
        noticeable=0.35, unlooked=0.8, says="height a second and a half after launch"
    ),
    "launch-bank": MeasureKind(
        noticeable=math.radians(10.0), unlooked=0.8, says="bank a second after launch"
    ),
    "stall-roll": MeasureKind(noticeable=6.0, unlooked=2.0, says="roll acceleration at the stall"),
    "turn-slip": MeasureKind(noticeable=math.radians(3.0), unlooked=1.0, says="sideslip in a turn"),
}

# Sign: which way the measure lies off when the symptom is seen. Stick back, to the right, nose up, right wing
# down are positive.
SYMPTOMS: dict[str, tuple[Measure, int]] = {
    "needs up elevator": ("pitch-trim", 1),
    "needs down elevator": ("pitch-trim", -1),
    "balloons under power": ("power-pitch", 1),
    "dives under power": ("power-pitch", -1),
    "needs up elevator gliding": ("glide-pitch", 1),
    "needs down elevator gliding": ("glide-pitch", -1),
    "tucks under when fast": ("fast-pitch", 1),
    "pitches up when fast": ("fast-pitch", -1),
    "runs out of up elevator when slow": ("slow-pitch", 1),
    "floats nose up when slow": ("slow-pitch", -1),
    "sluggish in pitch": ("stiffness", 1),
    "twitchy in pitch": ("stiffness", -1),
    "needs right aileron": ("roll-trim", 1),
    "needs left aileron": ("roll-trim", -1),
    "needs right rudder": ("yaw-trim", 1),
    "needs left rudder": ("yaw-trim", -1),
    "rolls right under power": ("power-roll", 1),
    "rolls left under power": ("power-roll", -1),
    "swings right under power": ("power-yaw", 1),
    "swings left under power": ("power-yaw", -1),
    "climbs steeply on launch": ("launch-height", 1),
    "dips on launch": ("launch-height", -1),
    "rolls right on launch": ("launch-bank", 1),
    "rolls left on launch": ("launch-bank", -1),
    "drops right wing": ("stall-roll", 1),
    "drops left wing": ("stall-roll", -1),
    "turns badly": ("turn-slip", 1),
}

# What may be wrong with a model, and the unit of how much.
CAUSE_UNITS: dict[str, Unit] = {
    "down-thrust": "rad",
    "side-thrust": "rad",
    "balance": "m",
    "tail-incidence": "rad",
    "starboard-warp": "rad",
    "port-warp": "rad",
    "aileron-neutral": "rad",
    "rudder-neutral": "rad",
    "side-balance": "m",
    "launch-speed": "m/s",
    "rudder-mix": "1",
}

# How far off, in noticeable steps, and how uncertain such words are. Common practice, no source.
_SIZES: dict[Strength, tuple[float, float]] = {
    "slightly": (1.3, 0.6),
    "clearly": (2.3, 1.0),
    "strongly": (5.0, 2.5),
}


def observed(seen: tuple[Sighting, ...]) -> dict[Measure, tuple[float, float]]:
    """What the words of one flight say of every measure: (value, standard deviation), in the measure's unit.

    A measure no symptom speaks of is an observation too: it was not noticeably off, as far as anyone looked.
    """
    said: dict[Measure, tuple[float, float]] = {
        measure: (0.0, kind.unlooked * kind.noticeable) for measure, kind in MEASURES.items()
    }
    for sighting in seen:
        measure, sign = SYMPTOMS[sighting.symptom]
        size, spread = _SIZES[sighting.strength]
        step = MEASURES[measure].noticeable
        said[measure] = (sign * size * step, spread * step)
    return said


def in_words(deviations: dict[Measure, float]) -> tuple[Sighting, ...]:
    """The symptoms a flier would write down for known deviations from the prediction; unnoticeable ones left out."""
    seen = []
    for measure, value in deviations.items():
        steps = abs(value) / MEASURES[measure].noticeable
        if not steps >= 1.0:
            continue
        sign = 1 if value > 0 else -1
        strength: Strength = "slightly" if steps < 1.7 else "clearly" if steps < 3.5 else "strongly"
        for symptom, (of, way) in SYMPTOMS.items():
            if of == measure and way == sign:
                seen.append(Sighting(symptom=symptom, strength=strength))
    return tuple(seen)
