"""The frame solver against PyNite, a general-purpose finite-element library, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.strength import ALL_FIXED, Joint, Member, solve_frame

pytestmark = pytest.mark.published


def test_strutted_wing(record_error):
    """A strut-braced half wing, swept and with dihedral, lift along it, a tip moment: every joint's movement."""
    import Pynite

    places = [(0, 0, 0), (0.02, 0.25, 0.01), (0.05, 0.5, 0.02), (0.0, 0.0, -0.12), (0.10, 0.25, 0.01)]
    stretch, bending, sideways, twist = 3e5, 1.3, 8.0, 1.1
    lift = (0.3, 0.0, 7.0)
    joints = (
        Joint(at_m=places[0], held=ALL_FIXED),
        Joint(at_m=places[1]),
        Joint(at_m=places[2], force_n=(0.1, 0.0, 0.4), moment_nm=(0.02, -0.05, 0.01)),
        Joint(at_m=places[3], held=ALL_FIXED),
        Joint(at_m=places[4], force_n=(0.0, 0.0, 0.5)),
    )
    beams = {"stretch_n": stretch, "bend_nm2": bending, "bend_sideways_nm2": sideways, "twist_nm2": twist}
    members = (
        Member(start=0, end=1, load_n_m=lift, **beams),
        Member(start=1, end=2, load_n_m=lift, **beams),
        Member(start=3, end=1, stretch_n=9e4, pinned=True),
        Member(start=1, end=4, **beams),
        Member(start=0, end=4, stretch_n=9e4, pinned=True),
    )
    got = solve_frame(joints, members)

    # its y axis is up: turn ours (x aft, y starboard, z up) to (x, z, -y)
    def turn(v):
        return v[0], v[2], -v[1]

    model = Pynite.FEModel3D()
    model.add_material("m", E=1.0, G=1.0, nu=0.0, rho=0.0)
    model.add_section("wing", A=stretch, Iy=sideways, Iz=bending, J=twist)
    # a strut pinned at both ends has no twist to give; the library wants a little
    model.add_section("strut", A=9e4, Iy=1.0, Iz=1.0, J=1e-7)
    for k, place in enumerate(places):
        model.add_node(f"N{k}", *turn(place))
    for k in (0, 3):
        model.def_support(f"N{k}", *ALL_FIXED)
    for k, member in enumerate(members):
        name = f"M{k}"
        model.add_member(
            name, f"N{member.start}", f"N{member.end}", "m", "strut" if member.pinned else "wing"
        )
        if member.pinned:
            model.def_releases(name, Ryi=True, Rzi=True, Ryj=True, Rzj=True)
        if any(member.load_n_m):
            for direction, value in zip(("FX", "FY", "FZ"), turn(member.load_n_m), strict=True):
                model.add_member_dist_load(name, direction, value, value)
    for k, joint in enumerate(joints):
        for direction, value in zip(("FX", "FY", "FZ"), turn(joint.force_n), strict=True):
            model.add_node_load(f"N{k}", direction, value)
        for direction, value in zip(("MX", "MY", "MZ"), turn(joint.moment_nm), strict=True):
            model.add_node_load(f"N{k}", direction, value)
    model.analyze_linear()
    for k in (1, 2, 4):
        node = model.nodes[f"N{k}"]
        want = [node.DX["Combo 1"], node.DY["Combo 1"], node.DZ["Combo 1"]]
        spins = [node.RX["Combo 1"], node.RY["Combo 1"], node.RZ["Combo 1"]]
        scale, angle = np.abs(got.moved_m).max(), np.abs(got.turned_rad).max()
        record_error(
            case=f"strutted wing, joint {k}, movement and turn over the largest",
            got=np.concatenate(
                [np.array(turn(got.moved_m[k])) / scale, np.array(turn(got.turned_rad[k])) / angle]
            ),
            published=np.concatenate([np.array(want) / scale, np.array(spins) / angle]),
            tolerance=1e-4,
            source="PyNite (general-purpose frame finite elements)",
            relative=False,
        )
    want = -model.members["M2"].axial(0.1, "Combo 1")
    record_error(
        case="strutted wing, pull in the strut",
        got=got.tension_n(2),
        published=want,
        tolerance=1e-4,
        source="PyNite (general-purpose frame finite elements)",
    )


def test_propped_cantilever(record_error):
    """Uniform load on a beam fixed at one end and propped at the other: the prop bears 3/8 of it (Timoshenko)."""
    joints = (
        Joint(at_m=(0, 0, 0), held=ALL_FIXED),
        Joint(at_m=(0, 1.2, 0), held=(False, False, True, False, False, False)),
    )
    beam = Member(
        start=0,
        end=1,
        stretch_n=1e5,
        bend_nm2=2.0,
        bend_sideways_nm2=5.0,
        twist_nm2=1.0,
        load_n_m=(0, 0, 10.0),
    )
    got = solve_frame(joints, (beam,))
    record_error(
        case="propped cantilever: prop, root moment",
        got=[-got.reaction_n[1, 2], abs(got.reaction_nm[0, 0])],
        published=[3 / 8 * 12.0, 12.0 * 1.2 / 8],
        tolerance=1e-9,
        source="Timoshenko, Strength of Materials, part 1",
    )
