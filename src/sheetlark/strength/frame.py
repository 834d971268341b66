"""A frame of straight members: braced and strutted wings, by the direct stiffness method in three dimensions.

Members carry stretch, twist and bending both ways; a strut pinned at both ends carries stretch alone. Loads act at joints, and as
uniform load along members.

References
----------
.. [1] W. McGuire, R. H. Gallagher, R. D. Ziemian, "Matrix Structural Analysis", 2nd ed., 2000, ch. 4 and 5 (stiffness
   of a straight member, fixed-end forces; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import GeometryError, SolveError

Floats: TypeAlias = npt.NDArray[np.float64]
Vector: TypeAlias = tuple[float, float, float]
ALL_FIXED = (True, True, True, True, True, True)
FREE = (False, False, False, False, False, False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A point of the frame: where, what is held (dx, dy, dz, rx, ry, rz), and the load on it. [m], [N], [N m]."""

    at_m: Vector
    held: tuple[bool, bool, bool, bool, bool, bool] = FREE
    force_n: Vector = (0.0, 0.0, 0.0)
    moment_nm: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A straight member between two joints, by their numbers.

    stretch_n : EA. bend_nm2, bend_sideways_nm2 : EI in the plane that holds the member and ``up``, and across it.
    twist_nm2 : GJ. up : direction that fixes that plane; not along the member.
    pinned : it carries stretch only. load_n_m : uniform load on it, frame axes.
    """

    start: int
    end: int
    stretch_n: float
    bend_nm2: float = 0.0
    bend_sideways_nm2: float = 0.0
    twist_nm2: float = 0.0
    up: Vector = (0.0, 0.0, 1.0)
    pinned: bool = False
    load_n_m: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameResult:
    """How a frame answers.

    moved_m : shape (joints, 3). turned_rad : shape (joints, 3). reaction_n, reaction_nm : shape (joints, 3), zero where free.
    end_forces : shape (members, 12): force x, y, z and moment x, y, z at the start, then at the end, in the
        member's axes (x along it, z in the plane of ``up``), as they act on the member.
    """

    moved_m: Floats
    turned_rad: Floats
    reaction_n: Floats
    reaction_nm: Floats
    end_forces: Floats

    def tension_n(self, member: int) -> float:
        """Pull in a member; negative is a push."""
        return float(self.end_forces[member, 6])


def solve_frame(joints: tuple[Joint, ...], members: tuple[Member, ...]) -> FrameResult:
    """Small movements of a frame under its loads ([1]_ of the module).

    Raises
    ------
    GeometryError
        If a member has no length or its ``up`` lies along it.
    SolveError
        If the frame can move without resistance: it is not held enough.
    """
    size = 6 * len(joints)
    stiffness = np.zeros((size, size))
    load = np.zeros(size)
    for k, joint in enumerate(joints):
        load[6 * k : 6 * k + 3] = joint.force_n
        load[6 * k + 3 : 6 * k + 6] = joint.moment_nm
    parts = []
    for member in members:
        turn, length = _axes(joints, member)
        local = _pinned(member, length) if member.pinned else _member(member, length)
        fixed = _fixed_end(turn[:3, :3] @ np.array(member.load_n_m), length, pinned=member.pinned)
        places = [*range(6 * member.start, 6 * member.start + 6), *range(6 * member.end, 6 * member.end + 6)]
        stiffness[np.ix_(places, places)] += turn.T @ local @ turn
        load[places] += turn.T @ fixed
        parts.append((turn, local, fixed, places))
    held = np.array([fixed for joint in joints for fixed in joint.held])
    # rotations at joints where only pinned members meet have no stiffness and no meaning: hold them
    held |= (np.abs(stiffness).sum(axis=1) == 0.0) & (load == 0.0)
    free = ~held
    inner = stiffness[np.ix_(free, free)]
    scale = np.sqrt(np.abs(np.diag(inner)))
    if scale.size and (not scale.all() or np.linalg.cond(inner / np.outer(scale, scale)) > 1e13):
        raise SolveError(
            "the frame can move without resistance; hold more of its joints, or give a member that is pinned "
            "at both ends something to lean on"
        )
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(inner, load[free])
    reaction = np.where(held, stiffness @ moved - load, 0.0)
    ends = np.array([local @ (turn @ moved[places]) - fixed for turn, local, fixed, places in parts])
    table, back = moved.reshape(-1, 6), reaction.reshape(-1, 6)
    return FrameResult(
        moved_m=table[:, :3],
        turned_rad=table[:, 3:],
        reaction_n=back[:, :3],
        reaction_nm=back[:, 3:],
        end_forces=ends.reshape(-1, 12),
    )


def _axes(joints: tuple[Joint, ...], member: Member) -> tuple[Floats, float]:
    along = np.subtract(joints[member.end].at_m, joints[member.start].at_m)
    length = float(np.linalg.norm(along))
    if not length > 0.0:
        raise GeometryError(f"member {member.start}-{member.end} has no length")
    x = along / length
    across = np.cross(member.up, x)
    size = float(np.linalg.norm(across))
    if size < 1e-9:
        raise GeometryError(
            f"member {member.start}-{member.end} runs along its own up direction {member.up}; give it another"
        )
    y = across / size
    block = np.array([x, y, np.cross(x, y)])
    turn = np.zeros((12, 12))
    for k in range(4):
        turn[3 * k : 3 * k + 3, 3 * k : 3 * k + 3] = block
    return turn, length


def _pinned(member: Member, length: float) -> Floats:
    local = np.zeros((12, 12))
    stretch = member.stretch_n / length
    local[0, 0] = local[6, 6] = stretch
    local[0, 6] = local[6, 0] = -stretch
    return local


def _member(member: Member, length: float) -> Floats:
    local = _pinned(member, length)
    twist = member.twist_nm2 / length
    local[3, 3] = local[9, 9] = twist
    local[3, 9] = local[9, 3] = -twist
    # bending in the plane x-z turns about -y, in the plane x-y about z: hence the sign
    for stiff, shift, turn, sign in (
        (member.bend_nm2, 2, 4, -1.0),
        (member.bend_sideways_nm2, 1, 5, 1.0),
    ):
        a, b = 12.0 * stiff / length**3, sign * 6.0 * stiff / length**2
        c, d = 4.0 * stiff / length, 2.0 * stiff / length
        places = [shift, turn, shift + 6, turn + 6]
        local[np.ix_(places, places)] += np.array(
            [[a, b, -a, b], [b, c, -b, d], [-a, -b, a, -b], [b, d, -b, c]]
        )
    return local


def _fixed_end(load: Floats, length: float, *, pinned: bool) -> Floats:
    """Joint loads that stand for a uniform load on a member, in its axes."""
    half = load * length / 2.0
    ends = np.zeros(12)
    ends[0:3], ends[6:9] = half, half
    if not pinned:
        y, z = load[1] * length**2 / 12.0, load[2] * length**2 / 12.0
        ends[5], ends[11] = y, -y
        ends[4], ends[10] = -z, z
    return ends
