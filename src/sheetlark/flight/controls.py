"""How far the surfaces must move, how hard that is for the servo, and how to see it with a ruler.

References
----------
.. [1] R. R. Gilruth, W. N. Turner, "Lateral control required for satisfactory flying qualities based on flight tests
   of numerous airplanes", NACA TR 715, 1941: pb/2V of 0.07 at full aileron (from memory).
.. [2] H. Glauert, "Theoretical relationships for an aerofoil with hinged flap", ARC R&M 1095, 1927: thin-aerofoil flap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import Reference, StabilityDerivatives
from sheetlark.flight.mixing import Mixer

ROLL_HELIX = 0.07  # [1]_ of the module
# Past this the rolling is no small motion, which the derivatives are of: pb/2V of 0.2 was checked.
HELIX_TOLD = 0.3
FLAP_LOSS = 0.7  # a real flap's hinge moment over theory at 20 to 30°: 0.6 to 0.8, from memory


def travel_at_trailing_edge(flap_chord_m: float, throw_rad: float) -> float:
    """Height a trailing edge rises over the hinge line, as a ruler held upright shows it: chord × sin(throw). [m]."""
    return flap_chord_m * math.sin(throw_rad)


def throw_for_travel(flap_chord_m: float, travel_m: float) -> float:
    """Throw that gives a travel at the trailing edge. [rad].

    Raises
    ------
    SolveError
        If the travel is more than the flap is long.
    """
    if not abs(travel_m) <= flap_chord_m:
        raise SolveError(
            f"a flap {flap_chord_m * 1e3:.0f} mm long cannot move {travel_m * 1e3:.0f} mm at its trailing edge"
        )
    return math.asin(travel_m / flap_chord_m)


def steady_roll_rate(
    derivatives: StabilityDerivatives, reference: Reference, speed_ms: float, aileron_rad: float
) -> float:
    """Roll rate once it has settled, -(2V/b) (Cl_da/Cl_p) da. [rad/s]."""
    return -2.0 * speed_ms / reference.span_m * derivatives.Cl_da / derivatives.Cl_p * aileron_rad


def full_roll_helix(derivatives: StabilityDerivatives, mixer: Mixer) -> float:
    """Helix angle pb/2V of a steady roll with full stick, |Cl_da/Cl_p| da; 0 where nothing rolls it or damps the roll. [rad]."""
    rolling = [s for s in mixer.surfaces if s.roll_rad]
    if not rolling or abs(derivatives.Cl_da) < 1e-6 or derivatives.Cl_p >= 0.0:
        return 0.0
    throw = max(abs(s.roll_rad) for s in rolling) * (1.0 - 0.5 * rolling[0].differential)
    return abs(derivatives.Cl_da / derivatives.Cl_p) * throw


def roll_rate_said(helix: float, reference: Reference, speed_ms: float) -> str:
    """The roll rate of a helix angle in degrees a second, in words; where tips have stalled nearly nothing damps the roll."""
    rate = math.degrees(min(helix, HELIX_TOLD) * 2.0 * speed_ms / reference.span_m)
    return f"more than {rate:.0f}" if helix > HELIX_TOLD else f"{rate:.0f}"


def aileron_for_roll(
    derivatives: StabilityDerivatives,
    reference: Reference,
    speed_ms: float,
    *,
    roll_rate_rad_s: float | None = None,
) -> float:
    """Aileron throw, positive, for a steady roll rate; left out: pb/2V of 0.07 ([1]_ of the module). [rad].

    Raises
    ------
    SolveError
        If the ailerons do nothing.
    """
    if derivatives.Cl_da == 0.0:
        raise SolveError(
            "the ailerons give no rolling moment (Cl_da is 0); there is no throw for a roll rate"
        )
    helix = ROLL_HELIX if roll_rate_rad_s is None else roll_rate_rad_s * reference.span_m / (2.0 * speed_ms)
    return abs(helix * derivatives.Cl_p / derivatives.Cl_da)


def elevator_for_lift(
    derivatives: StabilityDerivatives,
    lift_change: float,
    *,
    pitch_rate_rad_s: float = 0.0,
    speed_ms: float = 1.0,
    chord_m: float = 0.0,
) -> float:
    """Change of elevator that holds a change of lift coefficient, with a steady pitch rate if given. [rad].

    Negative (trailing edge up) for more lift on a stable model.

    Raises
    ------
    SolveError
        If the elevator does nothing.
    """
    d = derivatives
    rate = pitch_rate_rad_s * chord_m / (2.0 * speed_ms)
    matrix = np.array([[d.CL_alpha, d.CL_de], [d.Cm_alpha, d.Cm_de]])
    determinant = float(np.linalg.det(matrix))
    if abs(determinant) < 1e-9:
        raise SolveError(
            f"the elevator gives no change of trim (Cm_de {d.Cm_de:g}, CL_de {d.CL_de:g}); there is no throw for it"
        )
    _, change = np.linalg.solve(matrix, np.array([lift_change - d.CL_q * rate, -d.Cm_q * rate]))
    return float(change)


def exponential_for(full_rate: float, centre_rate: float) -> float:
    """Exponential that softens the middle of the stick from the full rate to a gentler one; 0 if it is gentle already.

    With e the slope at the centre is (1 - e) of the straight one; kept to 0.6 at most, as more leaves a dead middle
    (common practice, no source).
    """
    if not (full_rate > 0.0 and centre_rate > 0.0):
        raise SolveError(f"both rates must be positive, got {full_rate:g} and {centre_rate:g}")
    return min(0.6, max(0.0, 1.0 - centre_rate / full_rate))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlapTheory:
    """A thin aerofoil's plain flap, per radian ([2]_ of the module).

    effectiveness : change of incidence worth one of flap. moment : dCm about quarter chord.
    hinge_by_alpha, hinge_by_flap : hinge-moment coefficient on the flap's chord squared, negative closes the flap.
    """

    effectiveness: float
    moment: float
    hinge_by_alpha: float
    hinge_by_flap: float


@lru_cache(maxsize=256)
def flap_theory(chord_ratio: float) -> FlapTheory:
    """Thin-aerofoil values of a plain flap that takes a part of the chord, 0.02 to 0.98.

    The loading by incidence is 4 (1 + cos t)/sin t, by flap (4/π)[(π - h)(1 + cos t)/sin t + ln |sin((t+h)/2)/sin((t-h)/2)|],
    x = c (1 - cos t)/2, hinge at t = h; hinge moments by Gauss-Legendre quadrature of these.

    Raises
    ------
    SolveError
        If the ratio is outside the range.
    """
    if not 0.02 <= chord_ratio <= 0.98:
        raise SolveError(f"a flap takes between 2 % and 98 % of the chord, got {100 * chord_ratio:.0f} %")
    hinge = math.acos(2.0 * chord_ratio - 1.0)
    nodes, weights = np.polynomial.legendre.leggauss(120)
    # t = h + (π - h) s² crowds the nodes at the hinge, where the loading has its logarithm
    s = 0.5 * (nodes + 1.0)
    t = hinge + (math.pi - hinge) * s**2
    dt = (math.pi - hinge) * 2.0 * s * 0.5 * weights
    by_alpha = 4.0 * (1.0 + np.cos(t)) / np.sin(t)
    singular = np.log(np.abs(np.sin(0.5 * (t + hinge)) / np.sin(0.5 * (t - hinge))))
    by_flap = 4.0 / math.pi * ((math.pi - hinge) * (1.0 + np.cos(t)) / np.sin(t) + singular)
    arm = 0.5 * (math.cos(hinge) - np.cos(t)) * 0.5 * np.sin(t) * dt / chord_ratio**2
    return FlapTheory(
        effectiveness=1.0 - (hinge - math.sin(hinge)) / math.pi,
        moment=-0.5 * math.sin(hinge) * (1.0 - math.cos(hinge)),
        hinge_by_alpha=-float(np.sum(by_alpha * arm)),
        hinge_by_flap=-float(np.sum(by_flap * arm)),
    )


def hinge_moment(
    *,
    flap_span_m: float,
    flap_chord_m: float,
    chord_ratio: float,
    airspeed_ms: float,
    throw_rad: float,
    alpha_rad: float = 0.0,
    density_kg_m3: float = 1.225,
    real: bool = False,
) -> float:
    """Moment the air puts on a flap about its hinge, positive pushes the trailing edge down. [N m].

    Linear thin-aerofoil theory, an upper bound at large throws; ``real`` takes :data:`FLAP_LOSS` of it.
    """
    theory = flap_theory(chord_ratio)
    coefficient = theory.hinge_by_alpha * alpha_rad + theory.hinge_by_flap * throw_rad
    pressure = 0.5 * density_kg_m3 * airspeed_ms**2
    return pressure * flap_span_m * flap_chord_m**2 * coefficient * (FLAP_LOSS if real else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Throws:
    """Throws to set, all positive, and how gentle the middle of the stick should be.

    elevator_rad : up and down alike. short : names of the controls whose need is beyond 30°; they are too small.
    expo_roll, expo_pitch : 0 straight to 1 cubic.
    """

    aileron_rad: float
    elevator_rad: float
    rudder_rad: float
    expo_roll: float
    expo_pitch: float
    short: tuple[str, ...]


MOST_THROW_RAD = math.radians(30.0)  # beyond it a flap's effect hardly grows: from memory
RUDDER_RAD = math.radians(25.0)  # 20 to 30°: common practice, no source
_GENTLE_ROLL_RAD_S = math.radians(90.0)  # roll rate a first pilot is at ease with: common practice, no source
_GENTLE_LIFT = 2.0  # load factor asked by half the stick at cruise: common practice, no source


def throws_for(
    derivatives: StabilityDerivatives,
    reference: Reference,
    *,
    cruise_ms: float,
    greatest_lift: float,
    margin: float = 1.2,
) -> Throws:
    """Throws for pb/2V of 0.07 at cruise and for the stall with a margin; rudder by common practice.

    Parameters
    ----------
    derivatives : StabilityDerivatives
        At cruise.
    greatest_lift : float
        Trimmed greatest lift coefficient. [-]
    margin : float
        Elevator over what just stalls it.

    Notes
    -----
    Controls the model has not get a throw of zero. Exponential brings the centre down to 90°/s of roll, and to half the
    elevator that would pull two g.
    """
    d = derivatives
    short = []
    aileron = elevator = rudder = expo_roll = expo_pitch = 0.0
    if abs(d.Cl_da) > 1e-6:
        aileron = aileron_for_roll(d, reference, cruise_ms)
        full = abs(steady_roll_rate(d, reference, cruise_ms, min(aileron, MOST_THROW_RAD)))
        expo_roll = exponential_for(full, _GENTLE_ROLL_RAD_S)
    if abs(d.Cm_de) > 1e-6:
        elevator = margin * abs(elevator_for_lift(d, max(greatest_lift - d.CL, 0.1)))
        pull = abs(elevator_for_lift(d, (_GENTLE_LIFT - 1.0) * d.CL))
        expo_pitch = exponential_for(min(elevator, MOST_THROW_RAD), 2.0 * pull) if pull > 0.0 else 0.0
    if abs(d.Cn_dr) > 1e-6:
        rudder = RUDDER_RAD
    for name, need in (("aileron", aileron), ("elevator", elevator)):
        if need > MOST_THROW_RAD:
            short.append(name)
    return Throws(
        aileron_rad=min(aileron, MOST_THROW_RAD),
        elevator_rad=min(elevator, MOST_THROW_RAD),
        rudder_rad=rudder,
        expo_roll=expo_roll,
        expo_pitch=expo_pitch,
        short=tuple(short),
    )
