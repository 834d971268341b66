"""A few layouts for the tests of this room."""

from __future__ import annotations

from sheetlark.air import Body, Control, Disc, Layout, Section, Surface

SHEET = Section(thickness_ratio=0.03)


def biplane(*, spanwise: int = 10, chordwise: int = 4, disc: bool = True) -> Layout:
    size = {"spanwise": spanwise, "chordwise": chordwise}
    aileron = Control(name="aileron", kind="aileron", hinge_fraction=0.75, from_eta=0.5)
    lower = Surface.trapezoid(
        0.8, 0.16, 0.16, 0.0, 3.0, name="lower", section=SHEET, controls=(aileron,), **size
    )
    upper = Surface.trapezoid(0.8, 0.16, 0.16, at_m=(-0.05, 0.0, 0.14), name="upper", section=SHEET, **size)
    tail = Surface.trapezoid(
        0.32,
        0.12,
        0.10,
        at_m=(0.5, 0.0, 0.03),
        name="tail",
        role="tail",
        section=SHEET,
        controls=(Control(name="elevator", kind="elevator", hinge_fraction=0.6),),
        **size,
    )
    fin = Surface.trapezoid(
        0.14,
        0.14,
        0.09,
        30.0,
        90.0,
        at_m=(0.5, 0.0, 0.04),
        mirrored=False,
        name="fin",
        section=SHEET,
        controls=(Control(name="rudder", kind="rudder", hinge_fraction=0.5),),
        **size,
    )
    body = Body(
        name="body",
        x_m=[-0.15, -0.1, 0.0, 0.2, 0.6],
        width_m=[0.06, 0.07, 0.07, 0.07, 0.03],
        height_m=[0.06, 0.09, 0.1, 0.1, 0.04],
        middle_z_m=[0.05] * 5,
        nose="blunt",
    )
    return Layout(
        surfaces=(lower, upper, tail, fin),
        bodies=(body,),
        discs=(Disc(at_m=(-0.18, 0.0, 0.05), radius_m=0.1),) if disc else (),
        about_m=(0.0, 0.0, 0.05),
    )


def delta() -> Layout:
    wing = Surface.trapezoid(
        0.6,
        0.5,
        0.1,
        55.0,
        name="wing",
        section=SHEET,
        controls=(Control(name="elevon", kind="elevon", hinge_fraction=0.85, hinge_fraction_tip=0.6),),
        spanwise=10,
        chordwise=5,
    )
    return Layout(surfaces=(wing,), about_m=(0.2, 0.0, 0.0))


def canard() -> Layout:
    nose = Surface.trapezoid(
        0.3,
        0.1,
        0.08,
        name="nose",
        role="canard",
        at_m=(-0.35, 0.0, 0.02),
        section=SHEET,
        spanwise=8,
        chordwise=4,
    )
    wing = Surface.trapezoid(0.8, 0.18, 0.12, 15.0, name="wing", section=SHEET, spanwise=10, chordwise=4)
    return Layout(surfaces=(nose, wing), about_m=(-0.05, 0.0, 0.0))


LAYOUTS = {"biplane": biplane, "delta": delta, "canard": canard}
