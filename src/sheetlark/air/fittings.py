"""Bodies, bits and propellers in any motion: their own forces, and the slipstream they lay over strips and bits."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.air.body import Pieces
from sheetlark.air.layout import Disc
from sheetlark.air.motion import DiscPlaces, flow_matrix, moment_rows
from sheetlark.air.slipstream import SWIRL_KEPT, grown, normal_force_slope, slipstream
from sheetlark.air.surface import Floats


class Fittings:
    """Everything but the lifting surfaces, ready for quick use.

    Parameters
    ----------
    pieces : Pieces
        Bodies and bits.
    discs : tuple of Disc
    about_m : ndarray, shape (3,)
        Balance point. [m]
    quarter_m, strip_normal : ndarray, shape (n, 3)
        Quarter points and normals of the strips the slipstreams may wash. [m], [-]
    strip_width_m : ndarray, shape (n,)

    Attributes
    ----------
    count : int
        How many pieces there are.
    discs : tuple of DiscPlaces
    """

    def __init__(
        self,
        pieces: Pieces,
        discs: tuple[Disc, ...],
        *,
        about_m: Floats,
        quarter_m: Floats,
        strip_width_m: Floats,
        strip_normal: Floats,
    ) -> None:
        self.pieces, self._normal = pieces, strip_normal
        p, k = pieces, pieces.drag_m2.size
        self.count = k
        self._piece_flow = flow_matrix(p.at_m, about_m).reshape(3 * k, 6)
        arm = p.at_m - about_m
        axes = [np.tile(row, (k, 1)) for row in np.eye(3)]
        self._piece_total = np.hstack([moment_rows(arm, axis) for axis in axes])
        self._piece_area = np.concatenate([p.drag_m2, p.cross_m2[:, 1], p.cross_m2[:, 0]])
        places = np.vstack([quarter_m, p.at_m])
        placed = []
        for disc in discs:
            at = np.asarray(disc.at_m, dtype=np.float64)
            away = places - at
            force = np.vstack(
                [moment_rows((at - about_m)[None, :], np.eye(3)[i : i + 1])[:, 0] for i in (1, 2)]
            )
            placed.append(
                DiscPlaces(
                    disc=disc,
                    behind_m=np.maximum(away[:, 0], 0.0),
                    aside_m=away[:, 1],
                    above_m=away[:, 2],
                    per_width=1.0 / np.concatenate([strip_width_m, np.full(k, 0.5 * disc.radius_m)]),
                    grown=grown(disc, places[:, 0]),
                    swirls=(1.0 if disc.turns_right else -1.0) * SWIRL_KEPT * (quarter_m[:, 0] > at[0]),
                    flow=flow_matrix(at[None, :], about_m)[:, 0],
                    total=force.T,
                )
            )
        self.discs = tuple(placed)

    def washed(
        self, motion: Floats, density: float, thrust: float, torque: float, total: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Extra axial speed and normal velocity on strips, and extra axial speed on pieces, from slipstreams.

        Adds the discs' own normal forces to `total` (geometry axes).
        """
        n = self._normal.shape[0]
        everywhere, across = np.zeros(n + self.count), np.zeros(n)
        u, v, w = motion[:3].tolist()
        for d in self.discs:
            jet = slipstream(d.disc, max(u, 0.0), thrust, torque, density)
            drift = 1.0 / (max(u, 0.0) + jet.extra_ms + 1e-6)
            y = d.aside_m + (math.tan(d.disc.right_rad) + v * drift) * d.behind_m
            z = d.above_m - (math.tan(d.disc.down_rad) + w * drift) * d.behind_m
            inside = np.minimum(
                np.maximum((jet.radius_m - np.sqrt(y * y + z * z)) * d.per_width + 0.5, 0.0), 1.0
            )
            everywhere += inside * d.grown * jet.extra_ms
            swirl = jet.swirl_rad_s * d.swirls * inside[:n]
            across += swirl * (z[:n] * self._normal[:, 1] - y[:n] * self._normal[:, 2])
            ahead = max(u, 0.5)
            slope = normal_force_slope(d.disc, jet, ahead, density) / ahead
            total += d.total @ (slope * (d.flow @ motion)[1:])
        return everywhere[:n], across, everywhere[n:]

    def forces(self, motion: Floats, density: float, extra: Floats | None) -> Floats:
        """Bodies and bits in geometry axes, force and moment, shape (6,)."""
        p = self.pieces
        flow = (self._piece_flow @ motion).reshape(3, -1)
        if extra is not None:
            flow[0] += extra
        vx, vy, vz = flow
        side2 = vy * vy + vz * vz
        weight = np.empty_like(flow)
        weight[0] = np.sqrt(vx * vx + side2)
        weight[1:] = np.sqrt(side2)
        out = np.asarray(
            self._piece_total @ ((0.5 * density) * self._piece_area * (weight * flow).reshape(-1)),
            dtype=np.float64,
        )
        # Munk's couples: they swing the nose further away from the stream.
        out[4] += density * float((p.couple_m3[:, 0] * vx) @ vz)
        out[5] -= density * float((p.couple_m3[:, 1] * vx) @ vy)
        return out
