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
.. [2] L. W. Traub, Aerospace 10(7):597, 2023: rectangular plates keep side-edge vortex lift, none at an unswept
   leading edge (abstract).
.. [3] C. W. McCutchen's and others' decambering idea: section curves met by changing each strip's incidence
   (common practice, no source).
"""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sheetlark.air.body import Pieces, pieces_of
from sheetlark.air.lattice import Half, Lattice, build
from sheetlark.air.layout import Condition, Layout
from sheetlark.air.potential import DRIVE_APART, control_drives, panel_velocity, turned_by
from sheetlark.air.sections import (
    behaviour,
    flap_effectiveness,
    flap_terms,
    mean_line_terms,
    separated_normal_force,
    separated_pressure_point,
)
from sheetlark.air.slipstream import SWIRL_KEPT, grown, normal_force_slope, slipstream
from sheetlark.air.surface import Floats
from sheetlark.errors import GeometryError, SolveError

# Side-edge vortex lift: normal force of one edge over q, tip chord squared and sin² of the angle. 1.0 gives a
# plate of aspect ratio 1 Lamar's side-edge constant of about 2 per wing area (from memory); checked against the
# tables of aspect ratio 1 and 2 in tests/published.
SIDE_EDGE = 1.0
# Above these angles to the stream a plate is separated whatever its span (aspect ratio 1 leaves at 32 and is gone
# by 40 degrees, data/sections.csv source K).
GONE_FROM, GONE_BY = math.cos(math.radians(34.0)), math.cos(math.radians(48.0))
PASSES, RELAX = 40, 0.6
# Suction fades from its small-angle share to nothing as the leading-edge angle grows from 2 to 8.5 degrees: what the
# drag of the aspect-ratio-2 plate asks for (data/sections.csv source P: two thirds kept at 6 degrees of wing angle,
# half at 10, a fifth at 15).
SUCTION_FROM, SUCTION_BY = math.radians(2.0), math.radians(8.5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripState:
    """What every strip does in one state.

    attached : shape (n,), 1 fully attached, 0 fully separated.
    nose_angle_rad : shape (n,), leading-edge angle counted from the induced flow. [rad]
    stall_share : shape (n,), nose angle over the angle where the flow leaves; above 1 it has begun.
    normal_n : shape (n,), force along the strip's normal. [N]
    along_n : shape (n,), force along the chord, aft positive. [N]
    shift_nm : shape (n,), normal force times its distance behind the quarter chord. [N m]
    lift_coefficient : shape (n,), normal force over local q and strip area.
    passes : int
        Rounds the stall needed to settle; 0 when nothing stalls.
    """

    attached: Floats
    nose_angle_rad: Floats
    stall_share: Floats
    normal_n: Floats
    along_n: Floats
    shift_nm: Floats
    lift_coefficient: Floats
    passes: int


def _strip_terms(half: Half, index: int) -> tuple[Floats, Floats, Floats]:
    """A0 shift, A1/2 and chord-line turn of control `index` on each strip per radian, shape (m,) each."""
    control = half.surface.controls[index]
    span = half.turned[index].max(axis=1)  # share of the strip the control covers
    hinge = control.hinge_at(half.eta)
    shift, half_a1 = flap_terms(hinge)
    return span * shift, span * half_a1, span * (1.0 - hinge)


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
        self._sections()
        self._controls()
        self._answers()
        self._places()
        self.pieces: Pieces = pieces_of(layout.bodies, layout.bits, layout.surfaces, self.reynolds_per_m)
        self._piece_flow = _flow_matrix(self.pieces.at_m, self.about_m)

    # -- building -----------------------------------------------------------------------------------------

    def _sections(self) -> None:
        """Section behaviour of every strip at its own Reynolds number."""
        halves = self.lattice.halves
        rows = []
        for half in halves:
            section = half.surface.section
            shift, half_a1 = mean_line_terms(section)
            thick_chord = float(half.surface.chord_m.max()) * section.thickness_ratio
            known = behaviour(section, self.reynolds_per_m * float(np.mean(half.chord_m)))
            for chord in half.chord_m:
                # Sheet keeps its thickness as the chord tapers.
                extra = thick_chord / max(float(chord), 1e-6) - section.thickness_ratio
                friction = known.drag_at_zero_lift * math.sqrt(
                    float(np.mean(half.chord_m)) / max(float(chord), 1e-6)
                )
                drag = friction + 0.3 * max(min(extra, 0.1), 0.0)
                rows.append(
                    (known.slope, known.leave_rad, known.gone_rad, known.suction, drag, shift, half_a1)
                )
        table = np.array(rows).T
        self.slope, self.leave, self.gone, self.suction, self.drag0, self.shift0, self.half_a1 = table
        self.aspect = np.concatenate([np.full(h.eta.size, h.surface.aspect_ratio) for h in halves])
        self.chord = self.lattice.strip_chord_m
        self.width = np.concatenate([h.width_m for h in halves])
        self.true_width = np.concatenate([h.true_width_m for h in halves])
        self.twist = np.concatenate([np.interp(h.eta, h.surface.eta, h.surface.twist_rad) for h in halves])
        edge = np.zeros(self.chord.size)
        first = 0
        for half in halves:
            m = half.eta.size
            if not half.surface.upright or half.surface.role == "fin":
                edge[first + m - 1] += 1.0
                if not half.surface.mirrored and half.surface.root != "joined":
                    edge[first] += 1.0
            first += m
        tip = np.concatenate(
            [np.interp(np.where(h.eta > 0.5, 1.0, 0.0), h.surface.eta, h.surface.chord_m) for h in halves]
        )
        self.side_edge = SIDE_EDGE * edge * tip**2

    def _controls(self) -> None:
        """What each drive does to each strip's leading edge, lift and chord line."""
        n, k = self.chord.size, len(self.drives)
        self.turn_a0, self.turn_a1, self.turn_line = np.zeros((n, k)), np.zeros((n, k)), np.zeros((n, k))
        self.gap = np.zeros(k)
        self.whole = np.zeros(k, dtype=bool)
        for d, drive in enumerate(self.drives):
            name, apart = drive.removesuffix(DRIVE_APART), drive.endswith(DRIVE_APART)
            first = 0
            for index, half in enumerate(self.lattice.halves):
                m = half.eta.size
                for c, control in enumerate(half.surface.controls):
                    if control.name != name:
                        continue
                    sign = 1.0
                    if (control.kind == "aileron" or apart) and index < self.lattice.stated:
                        sign = -1.0
                    a0, a1, line = _strip_terms(half, c)
                    self.turn_a0[first : first + m, d] += sign * a0
                    self.turn_a1[first : first + m, d] += sign * a1
                    self.turn_line[first : first + m, d] += sign * line
                    self.gap[d] = max(self.gap[d], control.gap_m / float(np.mean(half.chord_m)))
                    self.whole[d] = control.hinge_fraction == 0.0
                first += m

    def _answers(self) -> None:
        """Strip circulations and their moments for unit velocities, rates, controls, and strip losses."""
        lattice = self.lattice
        slope = np.concatenate([h.slope_rad.ravel() for h in lattice.halves])
        axes = _flow_matrix(lattice.points_m, self.about_m)  # (3, panels, 6)
        through = np.einsum("kpm,pk->pm", axes, lattice.normals) * np.cos(slope)[:, None]
        through += axes[0] * np.sin(slope)[:, None]
        turned = [turned_by(lattice, d) for d in self.drives]
        strips = np.zeros((lattice.panels, lattice.strips))
        strips[np.arange(lattice.panels), lattice.strip_of] = 1.0
        gamma = lattice.circulation(np.hstack([through, *[t[:, None] for t in turned], strips]))
        quarter = np.concatenate([h.leading_edge_m for h in lattice.halves])
        quarter[:, 0] += 0.25 * self.chord
        self.quarter_m = quarter
        behind = lattice.bound_at_m[:, 0] - quarter[lattice.strip_of, 0]
        total = lattice.strip_circulation(gamma)
        moment = lattice.strip_circulation(gamma * behind[:, None])
        modes = 6 + len(self.drives)
        raw, response = total[:, :modes], total[:, modes:]
        raw_x, response_x = moment[:, :modes], moment[:, modes:]
        # Sections whose slope is below 2 pi lose incidence in proportion: folded into the stored answers.
        loss = (1.0 - self.slope) / (self.slope * math.pi * self.chord)
        inverse = np.linalg.inv(np.eye(self.chord.size) + response * loss)
        self.gain = inverse @ raw
        self.response = inverse @ response
        self.gain_x = raw_x - (response_x * loss) @ self.gain
        self.response_x = response_x - (response_x * loss) @ self.response
        self.panel_gamma = gamma[:, :modes]

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
        flow = _flow_matrix(self.quarter_m + 0.5 * self.chord[:, None] * ahead, self.about_m)
        quarter_flow = _flow_matrix(self.quarter_m, self.about_m)
        sweep = self._sweep()
        vc = np.einsum("knm,nk->nm", quarter_flow, chordwise)
        vn = np.einsum("knm,nk->nm", flow, tilted)
        vt = np.einsum("knm,nk->nm", quarter_flow, span)
        self._to_strip = np.vstack([vc, vn, vc - vt * sweep[:, None], vt])
        self._normal, self._span = normal, span
        self._incidence = self.twist + self.shift0 + self.half_a1
        self._unit = math.pi * self.slope * self.chord
        self._back = 0.75 * self.chord
        self._around = self._neighbours()

    def _neighbours(self) -> Floats:
        """Weights that average over a strip's neighbourhood along the span, rows summing to 1.

        Separation is not decided strip by strip: it spreads about half a chord each way (no source; wide
        enough that the answer does not depend on the number of strips).
        """
        places = self.quarter_m[:, 1:]
        apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
        same = self.lattice.strip_surface[:, None] == self.lattice.strip_surface[None, :]
        weight = np.where(same, np.exp(-((apart / (0.5 * self.chord[:, None])) ** 2)), 0.0) * self.width
        return np.asarray(weight / weight.sum(axis=1, keepdims=True), dtype=np.float64)

    def _sweep(self) -> Floats:
        """Tangent of the quarter line's sweep at each strip, positive when the starboard end lies aft."""
        out = []
        for index, half in enumerate(self.lattice.halves):
            edge = half.vertices_m[:, 0, 0]
            tangent = np.diff(edge) / half.width_m
            out.append(-tangent if index >= self.lattice.stated else tangent)
        return np.concatenate(out)

    def without_pieces(self) -> AirModel:
        """The same surfaces with bodies and bits gone; everything else is shared, not copied."""
        bare = copy.copy(self)
        bare.pieces = pieces_of((), (), self.layout.surfaces, self.reynolds_per_m)
        bare._piece_flow = _flow_matrix(bare.pieces.at_m, self.about_m)  # noqa: SLF001 - our own twin
        return bare

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
        return self.loads(
            self.motion(condition),
            self.deflections(condition.deflections_rad),
            condition.density_kg_m3,
            condition.thrust_n,
            condition.torque_nm,
        )

    def effective(self, deflections_rad: Floats) -> Floats:
        """Deflections as thin-aerofoil theory would need them for the effect real flaps have, shape (drives,)."""
        return np.array(
            [
                d if whole else d * flap_effectiveness(d, gap)
                for d, whole, gap in zip(
                    deflections_rad.tolist(), self.whole.tolist(), self.gap.tolist(), strict=True
                )
            ]
        )

    def _evaluate(
        self, motion: Floats, deflections: Floats, density: float, thrust: float, torque: float
    ) -> tuple[Floats, tuple[Floats, Floats, Floats, Floats, Floats, Floats, int]]:
        turn = self.effective(deflections)
        u = float(motion[0])
        flow = self._to_strip @ motion
        n = self.chord.size
        vc, vn, vk, vt = flow[:n], flow[n : 2 * n], flow[2 * n : 3 * n], flow[3 * n :]
        drive = np.concatenate([motion, turn * u])
        gamma = self.gain @ drive
        gamma_x = self.gain_x @ drive
        a1 = self.half_a1 + self.turn_a1 @ turn if turn.size else self.half_a1
        shift = self.shift0 + self.turn_a0 @ turn if turn.size else self.shift0
        total = np.zeros(6)
        piece_extra: Floats | None = None
        if thrust > 0.0 and self.layout.discs:
            extra, across, piece_extra = self._washed(motion, density, thrust, torque)
            gained = extra * (self._incidence + (self.turn_a0 + self.turn_a1) @ turn) + across
            gamma = gamma + self.response @ gained
            gamma_x = gamma_x + self.response_x @ gained
            vc, vk, vn = vc + extra, vk + extra, vn + across + extra * self.twist
            total += self._disc_forces(motion, density, thrust, torque)
        u2 = vc * vc + vn * vn + 1e-9
        speed = np.sqrt(u2)
        unit = self._unit * speed
        nose = gamma / unit - a1
        attached_gamma = gamma
        apart = np.zeros(n)
        passes = 0
        cosine = vc / speed
        if (np.abs(nose) > self.leave).any() or (cosine < GONE_FROM).any():
            sine = vn / speed + cosine * (self.turn_line @ turn)
            separated = separated_normal_force(np.clip(sine, -1.0, 1.0), self.aspect)
            broken = 0.5 * speed * self.chord * separated * cosine
            beyond = _smooth((GONE_FROM - cosine) / (GONE_FROM - GONE_BY))
            lost = np.zeros(n)
            span = self.gone - self.leave
            for round_ in range(PASSES):
                attached_gamma = gamma - self.response @ lost + self._unit * lost
                nose = attached_gamma / unit - a1
                apart = np.maximum(_smooth((np.abs(self._around @ nose) - self.leave) / span), beyond)
                change = self._around @ (apart * (attached_gamma - broken) / self._unit - lost)
                passes = round_ + 1
                lost = lost + RELAX * change
                if np.abs(change).max() < 1e-3 * (abs(u) + 0.1):
                    break
            gamma_x = gamma_x - self.response_x @ lost
            stuck = 1.0 - apart
            point = separated_pressure_point(np.arctan2(vn, vc)) - 0.25
            normal = (
                self.width
                * density
                * (stuck * attached_gamma * vk + apart * 0.5 * u2 * self.chord * separated)
            )
            # What the attached part carries keeps the lattice's arm; its share of the moment fades with it.
            moment = (
                density
                * self.width
                * (stuck * gamma_x * vk + apart * 0.5 * u2 * self.chord**2 * separated * point)
            )
        else:
            stuck = 1.0 - apart
            normal = self.width * density * gamma * vk
            moment = density * self.width * gamma_x * vk
        q = 0.5 * density * u2 * self.chord * self.true_width
        size = np.abs(nose)
        kept = self.suction * (1.0 - _smooth((size - SUCTION_FROM) / (SUCTION_BY - SUCTION_FROM)))
        forward = nose * a1 - shift * (nose + a1) + kept * nose * nose
        along = q * (self.drag0 * cosine - stuck * (2.0 * math.pi) * self.slope * forward)
        edge = 0.5 * density * self.side_edge * vn * np.abs(vn) * stuck * stuck
        moment = moment + edge * 0.25 * self.chord
        normal = normal + edge
        couple = -density * attached_gamma * stuck * vt * self._back * self.width
        total += self._to_total @ np.concatenate([normal, along, moment, couple])
        if self.pieces.drag_m2.size:
            total += self._piece_forces(motion, density, piece_extra)
        total[0] = -total[0]
        total[2] = -total[2]
        total[3] = -total[3]
        total[5] = -total[5]
        if not np.isfinite(total).all():
            raise SolveError(
                "the air has no answer for this motion; a velocity or a deflection is not a number"
            )
        return total, (stuck, nose, normal, along, moment, normal / (q + 1e-12), passes)

    def _washed(
        self, motion: Floats, density: float, thrust: float, torque: float
    ) -> tuple[Floats, Floats, Floats]:
        """Extra axial speed and normal velocity on strips, and extra axial speed on pieces, from slipstreams."""
        n = self.chord.size
        extra, across = np.zeros(n), np.zeros(n)
        on_pieces = np.zeros(self.pieces.drag_m2.size)
        u = max(float(motion[0]), 0.0)
        for disc in self.layout.discs:
            jet = slipstream(disc, u, thrust, torque, density)
            drift = 1.0 / (u + jet.extra_ms + 1e-6)
            tilt_y = -math.tan(disc.right_rad) - float(motion[1]) * drift
            tilt_z = math.tan(disc.down_rad) + float(motion[2]) * drift
            for places, wide, gained in (
                (self.quarter_m, self.width, extra),
                (self.pieces.at_m, np.full(on_pieces.size, 0.5 * disc.radius_m), on_pieces),
            ):
                behind = np.maximum(places[:, 0] - disc.at_m[0], 0.0)
                y = places[:, 1] - disc.at_m[1] - tilt_y * behind
                z = places[:, 2] - disc.at_m[2] - tilt_z * behind
                inside = np.clip((jet.radius_m - np.hypot(y, z)) / wide + 0.5, 0.0, 1.0)
                share = inside * grown(disc, places[:, 0])
                np.add(gained, share * jet.extra_ms, out=gained)
                if places is self.quarter_m:
                    turn = (1.0 if disc.turns_right else -1.0) * SWIRL_KEPT * jet.swirl_rad_s
                    swirl = turn * inside * (places[:, 0] > disc.at_m[0])
                    across += swirl * (z * self._normal[:, 1] - y * self._normal[:, 2])
        return extra, across, on_pieces

    def _disc_forces(self, motion: Floats, density: float, thrust: float, torque: float) -> Floats:
        """Normal forces of the discs in geometry axes, force and moment, shape (6,)."""
        out = np.zeros(6)
        u = max(float(motion[0]), 0.5)
        for disc in self.layout.discs:
            jet = slipstream(disc, u, thrust, torque, density)
            place = np.asarray(disc.at_m, dtype=np.float64)
            flow = (_flow_matrix(place[None, :], self.about_m) @ motion)[:, 0]
            slope = normal_force_slope(disc, jet, u, density)
            force = slope * np.array([0.0, flow[1] / u, flow[2] / u])
            out[:3] += force
            out[3:] += np.cross(place - self.about_m, force)
        return out

    def _piece_forces(self, motion: Floats, density: float, extra: Floats | None) -> Floats:
        """Bodies and bits in geometry axes, force and moment, shape (6,)."""
        p = self.pieces
        flow = self._piece_flow @ motion
        vx, vy, vz = flow[0], flow[1], flow[2]
        if extra is not None:
            vx = vx + extra
        side = np.hypot(vy, vz)
        force = np.stack(
            [
                0.5 * density * p.drag_m2 * vx * np.sqrt(vx * vx + side * side),
                0.5 * density * p.cross_m2[:, 1] * vy * side,
                0.5 * density * p.cross_m2[:, 0] * vz * side,
            ],
            axis=1,
        )
        arm = p.at_m - self.about_m
        out = np.empty(6)
        out[:3] = force.sum(axis=0)
        out[3] = (arm[:, 1] * force[:, 2] - arm[:, 2] * force[:, 1]).sum()
        out[4] = (arm[:, 2] * force[:, 0] - arm[:, 0] * force[:, 2]).sum()
        out[5] = (arm[:, 0] * force[:, 1] - arm[:, 1] * force[:, 0]).sum()
        # Munk's couples: they swing the nose further away from the stream.
        out[4] += density * float((p.couple_m3[:, 0] * vx * vz).sum())
        out[5] -= density * float((p.couple_m3[:, 1] * vx * vy).sum())
        return out


def _smooth(share: Floats) -> Floats:
    """0 below 0, 1 above 1, smooth between."""
    t = np.minimum(np.maximum(share, 0.0), 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), dtype=np.float64)


def _flow_matrix(places: Floats, about: Floats) -> Floats:
    """Air velocity in geometry axes at places (n, 3) per unit of u v w p q r, shape (3, n, 6)."""
    out = np.zeros((3, places.shape[0], 6))
    nothing = np.zeros(3)
    for k, wind in enumerate(((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))):
        out[:, :, k] = panel_velocity(places, np.array(wind), nothing, about).T
    for k, spin in enumerate(((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))):
        out[:, :, 3 + k] = panel_velocity(places, nothing, np.array(spin), about).T
    return out
