"""The whole layout as one quick function of its motion: strips that stall, bodies, bits and slipstream.

The lattice is linear, so its answer to any motion is a sum of a few stored answers, one for each velocity,
each rate and each control. What sheet sections do differently, above all stalling, is put in strip by strip:
a strip that lifts less than the lattice says is given the loss of incidence that makes the lattice agree, and
the stored answers to a loss on each strip tell all its neighbours. So one evaluation is a handful of small
matrix products, quick enough for a simulation, and the same function serves curves and derivatives.

Forces on a sheet are normal to it: a sheet has little leading-edge suction, so its drag due to lift is mostly
its lift times the tangent of the angle, not the textbook's induced drag.

What it leaves out: wakes stay straight aft of the layout, so at large angles a tail is not moved in or out of
the wing's wake; stall is without delay or hysteresis; section data are held at one Reynolds number a strip.

References
----------
.. [1] E. C. Polhamus, NASA TN D-3767, 1966: normal force of a sheet without suction (from memory).
.. [2] R. Mukherjee and A. Gopalarathnam, J. Aircraft 43(3), 2006: section curves met past the stall by changing
   each strip's incidence (from memory).
"""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping

import numpy as np

from sheetlark.air.answers import answers_of
from sheetlark.air.body import Pieces, pieces_of
from sheetlark.air.fittings import Fittings
from sheetlark.air.lattice import Lattice, build
from sheetlark.air.layout import Condition, Layout
from sheetlark.air.motion import flow_matrix, smooth
from sheetlark.air.potential import control_drives
from sheetlark.air.sections import flap_effectiveness, separated_normal_force, separated_pressure_point
from sheetlark.air.stall import PASSES, Settled, StallBalance
from sheetlark.air.strips import StripState, neighbours, strips_of, sweep, turns_of
from sheetlark.air.surface import Floats
from sheetlark.errors import GeometryError, SolveError

# Above these angles to the stream a plate is separated whatever its span (aspect ratio 1 leaves at 32 and is gone
# by 40 degrees, data/sections.csv source K).
GONE_FROM, GONE_BY = math.cos(math.radians(34.0)), math.cos(math.radians(48.0))
TO_FLIGHT = np.array([-1.0, 1.0, -1.0, -1.0, 1.0, -1.0])
# Suction fades from its small-angle share to nothing as the leading-edge angle grows from 2.5 to 9 degrees: what the
# drag of the aspect-ratio-2 plate asks for (data/sections.csv source P: two thirds kept at 6 degrees of wing angle,
# half at 10, a fifth at 15).
SUCTION_FROM, SUCTION_BY = math.radians(2.5), math.radians(9.0)


class AirModel:
    """A layout's air, ready to be asked many times.

    Parameters
    ----------
    layout : Layout
    condition : Condition
        Speed and viscosity set the Reynolds number of every strip; the rest is not used.
    ground_z_m : float, optional
        Flat ground, in geometry axes. [m]

    Attributes
    ----------
    drives : tuple of str
        Names of the controls, in the order `loads` takes them.
    """

    def __init__(
        self, layout: Layout, condition: Condition | None = None, ground_z_m: float | None = None
    ) -> None:
        at = condition or Condition()
        self.layout = layout
        self.lattice: Lattice = build(layout.surfaces, ground_z_m)
        self.reference = layout.own_reference
        self.about_m = np.asarray(layout.about_m, dtype=np.float64)
        self.drives = control_drives(layout.surfaces)
        self.reynolds_per_m = at.speed_ms / at.viscosity_m2_s
        self._strips()
        answers = answers_of(self.lattice, self.about_m, self.drives, self.slope)
        self.quarter_m, self.panel_gamma = answers.quarter_m, answers.panel_gamma
        self.gain, self.gain_x = answers.gain, answers.gain_x
        self.response, self.response_x = answers.response, answers.response_x
        self._places()
        self._balances()
        self._fittings = self._fitted(
            pieces_of(layout.bodies, layout.bits, layout.surfaces, self.reynolds_per_m)
        )

    # -- building -----------------------------------------------------------------------------------------

    def _strips(self) -> None:
        """Sections, edges and controls of every strip, kept at hand for quick use."""
        strips, turns = strips_of(self.lattice, self.reynolds_per_m), turns_of(self.lattice, self.drives)
        self.chord, self.width = self.lattice.strip_chord_m, self.lattice.strip_width_m
        self.true_width, self.twist, self.drag0 = strips.true_width, strips.twist, strips.drag0
        self.slope, self.leave, self.gone = strips.slope, strips.leave, strips.gone
        self.suction, self.shift0, self.half_a1 = strips.suction, strips.shift0, strips.half_a1
        self.aspect, self.edges, self.edge_shift = strips.aspect, strips.edges, strips.edge_shift
        self.turn_a0, self.turn_a1, self.turn_line = turns.a0, turns.a1, turns.line
        self._whole, self._gap = turns.whole.tolist(), turns.gap.tolist()
        self._odd = ~turns.even

    def _balances(self) -> None:
        """The balance of all strips, and of one side alone where the layout is symmetric."""
        around = neighbours(self.lattice, self.quarter_m)
        self._balance = StallBalance(self.response, self._unit, around, self.leave, self.gone)
        self._one_side: StallBalance | None = None
        if not self.lattice.symmetric:
            return
        image, _ = self.lattice.images()
        self._own = np.flatnonzero(image > np.arange(image.size))
        self._twin = image[self._own]
        lone = np.setdiff1d(np.arange(image.size), np.concatenate([self._own, self._twin]))
        # A fin set askew pushes one side up and the other down, even in straight flight.
        if self._own.size and not self._incidence[lone].any():
            self._one_side = self._balance.folded(self._own, self._twin)

    def _places(self) -> None:
        """Matrices from strip forces to total force and moment, and from motion to strip velocities."""
        normal = np.concatenate([h.normal for h in self.lattice.halves])
        ct, st = np.cos(self.twist)[:, None], np.sin(self.twist)[:, None]
        ahead = np.array([1.0, 0.0, 0.0])
        tilted, chordwise = normal * ct + ahead * st, ahead * ct - normal * st
        span = np.stack([np.zeros_like(self.twist), normal[:, 2], -normal[:, 1]], axis=1)
        arm = self.quarter_m - self.about_m
        self._to_total = np.hstack(
            [
                np.vstack([tilted.T, np.cross(arm, tilted).T]),
                np.vstack([chordwise.T, np.cross(arm, chordwise).T]),
                np.vstack([np.zeros((3, self.twist.size)), np.cross(ahead, tilted).T]),
                np.vstack([np.zeros((3, self.twist.size)), np.cross(span, normal).T]),
            ]
        )
        # The stream is met at the three-quarter point, where the lattice meets it too.
        flow = flow_matrix(self.quarter_m + 0.5 * self.chord[:, None] * ahead, self.about_m)
        quarter_flow = flow_matrix(self.quarter_m, self.about_m)
        leg_flow = flow_matrix(self.quarter_m + 0.375 * self.chord[:, None] * ahead, self.about_m)
        line, leg = sweep(self.lattice)
        vc = np.einsum("knm,nk->nm", quarter_flow, chordwise)
        vn = np.einsum("knm,nk->nm", flow, tilted)
        vt = np.einsum("knm,nk->nm", quarter_flow, span)
        vl = np.einsum("knm,nk->nm", leg_flow, span)
        # Air along the span meets the swept bound vortices, and the legs on the sheet, whose lengths change with taper.
        self._to_strip = np.vstack([vc, vn, vc - vt * line[:, None] - vl * leg[:, None], vl])
        self._normal, self._span = normal, span
        self._incidence = self.twist + self.shift0 + self.half_a1
        self._unit = math.pi * self.slope * self.chord
        self._back = 0.75 * self.chord
        # One product answers everything linear: rows are nine strip quantities, columns motion (6), turned controls
        # times forward speed, turned controls, and one.
        n, k = self.twist.size, len(self.drives)
        big = np.zeros((9 * n, 6 + 2 * k + 1))
        big[:n, : 6 + k] = self.gain
        big[n : 2 * n, : 6 + k] = self.gain_x
        big[2 * n : 6 * n, :6] = self._to_strip
        big[6 * n : 7 * n, 6 + k : -1], big[6 * n : 7 * n, -1] = self.turn_a1, self.half_a1
        big[7 * n : 8 * n, 6 + k : -1], big[7 * n : 8 * n, -1] = self.turn_a0, self.shift0
        big[8 * n :, 6 + k : -1] = self.turn_line
        self._linear = big
        self._wide = self.chord * self.true_width
        self._lift_turn = self.turn_a0 + self.turn_a1
        self._all = np.ones(n)
        self._two_pi = 2.0 * math.pi * self.slope

    def without_pieces(self) -> AirModel:
        """The same surfaces with bodies and bits gone; everything else is shared, not copied."""
        bare = copy.copy(self)
        none = pieces_of((), (), self.layout.surfaces, self.reynolds_per_m)
        bare._fittings = self._fitted(none)  # noqa: SLF001 - our own twin
        return bare

    def _fitted(self, pieces: Pieces) -> Fittings:
        return Fittings(
            pieces,
            self.layout.discs,
            about_m=self.about_m,
            quarter_m=self.quarter_m,
            strip_width_m=self.width,
            strip_normal=self._normal,
        )

    # -- asking -------------------------------------------------------------------------------------------

    def deflections(self, by_name: Mapping[str, float]) -> Floats:
        """Deflections in the order of `drives`, shape (drives,). [rad].

        Raises
        ------
        GeometryError
            If a name is not a control of this layout.
        """
        unknown = [name for name in by_name if name not in self.drives]
        if unknown:
            raise GeometryError(
                f"no control named {unknown[0]!r}; there is {', '.join(self.drives) or 'none'}"
            )
        return np.array([by_name.get(name, 0.0) for name in self.drives])

    def motion(self, condition: Condition) -> Floats:
        """Velocity (forward, starboard, down) and rates (roll, pitch, yaw) of a condition, shape (6,)."""
        a, b, v = condition.alpha_rad, condition.beta_rad, condition.speed_ms
        return np.array(
            [
                v * math.cos(a) * math.cos(b),
                v * math.sin(b),
                v * math.sin(a) * math.cos(b),
                *condition.rates_rad_s,
            ]
        )

    def loads(
        self,
        motion: Floats,
        deflections_rad: Floats,
        density_kg_m3: float = 1.225,
        thrust_n: float = 0.0,
        torque_nm: float = 0.0,
    ) -> Floats:
        """Force and moment about the balance point in flight axes, shape (6,): X Y Z [N], L M N [N m].

        Parameters
        ----------
        motion : ndarray, shape (6,)
            u v w [m/s] through the air and p q r [rad/s], flight axes.
        deflections_rad : ndarray, shape (drives,)
            In the order of `drives`.
        thrust_n, torque_nm : float
            Of each propeller: they set the slipstream, its swirl and the disc's normal force. Thrust and torque
            themselves are not added here.

        Notes
        -----
        The same inputs always give the same answer: no memory of the last call.
        """
        total, _ = self._evaluate(motion, deflections_rad, density_kg_m3, thrust_n, torque_nm)
        return total

    def strips(self, condition: Condition) -> StripState:
        """What every strip does in a condition."""
        _, state = self._evaluate(
            self.motion(condition),
            self.deflections(condition.deflections_rad),
            condition.density_kg_m3,
            condition.thrust_n,
            condition.torque_nm,
        )
        return StripState(
            attached=state[0],
            nose_angle_rad=state[1],
            stall_share=np.abs(state[1]) / self.leave,
            normal_n=state[2],
            along_n=state[3],
            shift_nm=state[4],
            lift_coefficient=state[5],
            passes=state[6],
        )

    def at(self, condition: Condition) -> Floats:
        """`loads` of a condition, shape (6,)."""
        return self.asked(condition)[0]

    def asked(self, condition: Condition) -> tuple[Floats, bool]:
        """`loads` of a condition, shape (6,), and whether the stall has settled."""
        total, state = self._evaluate(
            self.motion(condition),
            self.deflections(condition.deflections_rad),
            condition.density_kg_m3,
            condition.thrust_n,
            condition.torque_nm,
        )
        return total, state[6] < PASSES

    def effective(self, deflections_rad: Floats) -> Floats:
        """Deflections as thin-aerofoil theory would need them for the effect real flaps have, shape (drives,)."""
        return np.array(
            [
                d if whole else d * flap_effectiveness(d, gap)
                for d, whole, gap in zip(deflections_rad.tolist(), self._whole, self._gap, strict=True)
            ]
        )

    def _evaluate(
        self, motion: Floats, deflections: Floats, density: float, thrust: float, torque: float
    ) -> tuple[Floats, tuple[Floats, Floats, Floats, Floats, Floats, Floats, int]]:
        turn = self.effective(deflections)
        u = float(motion[0])
        n = self.chord.size
        given = np.empty(7 + 2 * turn.size)
        given[:6], given[6 : 6 + turn.size], given[6 + turn.size : -1], given[-1] = (
            motion,
            turn * u,
            turn,
            1.0,
        )
        gamma, gamma_x, vc, vn, vk, vt, a1, shift, line = (self._linear @ given).reshape(9, n)
        total = np.zeros(6)
        piece_extra: Floats | None = None
        washed = thrust > 0.0 and bool(self._fittings.discs)
        if washed:
            extra, across, piece_extra = self._fittings.washed(motion, density, thrust, torque, total)
            gained = extra * (self._incidence + self._lift_turn @ turn) + across
            gamma = gamma + self.response @ gained
            gamma_x = gamma_x + self.response_x @ gained
            vc, vk, vn = vc + extra, vk + extra, vn + across + extra * self.twist
        u2 = vc * vc + vn * vn + 1e-9
        speed = np.sqrt(u2)
        unit = self._unit * speed
        nose = gamma / unit - a1
        attached_gamma = gamma
        cosine = vc / speed
        passes = 0
        parts = np.empty((4, n))  # normal force, force along the chord, normal moment, twisting couple
        if (np.abs(nose) > self.leave).any() or cosine.min() < GONE_FROM:
            sine = np.minimum(np.maximum(vn / speed + cosine * line, -1.0), 1.0)
            separated = separated_normal_force(sine, self.aspect)
            broken = 0.5 * speed * self.chord * separated * cosine
            beyond = smooth((GONE_FROM - cosine) / (GONE_FROM - GONE_BY))
            alike = not (motion[1] or motion[3] or motion[5] or washed or turn[self._odd].any())
            settled = self._settle(gamma, broken, beyond, unit, a1, 1e-3 * (abs(u) + 0.1), alike=alike)
            attached_gamma, nose, apart, passes = (
                settled.attached,
                settled.nose,
                settled.apart,
                settled.passes,
            )
            stuck = 1.0 - apart
            point = separated_pressure_point(np.arctan2(vn, vc)) - 0.25
            away = apart * 0.5 * u2 * self.chord * separated
            parts[0] = self.width * density * (stuck * attached_gamma * vk + away)
            # What the attached part carries keeps the lattice's arm; its share of the moment fades with it.
            parts[2] = (density * self.width) * (
                stuck * (gamma_x - self.response_x @ settled.lost) * vk + away * self.chord * point
            )
        else:
            stuck = self._all
            parts[0] = density * self.width * gamma * vk
            parts[2] = density * self.width * gamma_x * vk
        q = 0.5 * density * u2 * self._wide
        kept = self.suction * (1.0 - smooth((np.abs(nose) - SUCTION_FROM) / (SUCTION_BY - SUCTION_FROM)))
        forward = nose * a1 - shift * (nose + a1) + kept * nose * nose
        parts[1] = q * (self.drag0 * cosine - stuck * self._two_pi * forward)
        across = (0.5 * density) * vn * np.abs(vn) * stuck * stuck
        parts[0] += self.edges * across
        parts[2] += self.edge_shift * across
        parts[3] = -density * attached_gamma * stuck * vt * self._back * self.width
        total += self._to_total @ parts.reshape(-1)
        if self._fittings.count:
            total += self._fittings.forces(motion, density, piece_extra)
        total *= TO_FLIGHT
        if not math.isfinite(float(total.sum())):
            raise SolveError(
                "the air has no answer for this motion; a velocity or a deflection is not a number"
            )
        return total, (stuck, nose, parts[0], parts[1], parts[2], parts[0] / (q + 1e-12), passes)

    def _settle(
        self,
        gamma: Floats,
        broken: Floats,
        beyond: Floats,
        unit: Floats,
        a1: Floats,
        close: float,
        *,
        alike: bool,
    ) -> Settled:
        """Losses that make the lattice and every section agree; from one side alone when both do alike."""
        if self._one_side is None or not alike:
            return self._balance.settle(gamma, broken, beyond, unit, a1, close)
        own, twin = self._own, self._twin
        side = self._one_side.settle(gamma[own], broken[own], beyond[own], unit[own], a1[own], close)
        # Sheets in the plane of symmetry meet no air across them: nothing is lost there.
        lost, attached, nose, apart = np.zeros(gamma.size), gamma.copy(), gamma / unit - a1, beyond.copy()
        for whole, half in (
            (lost, side.lost),
            (attached, side.attached),
            (nose, side.nose),
            (apart, side.apart),
        ):
            whole[own], whole[twin] = half, half
        return Settled(lost=lost, attached=attached, nose=nose, apart=apart, passes=side.passes)
