"""Kits of flat parts to lay out, draw and read back; shapes of our own, about those of a small biplane."""

from __future__ import annotations

import numpy as np

from sheetlark.parts import Kit, Mark, Part, Piece

FLAT = np.eye(4)


def make(number, name, outline, *, holes=(), marks=(), copies=1, mirrored=None, sheet="foam-board-5", **rest):
    """A part whose copies all lie flat at the origin: enough for the sheets, which never look at its place."""
    piece = Piece(np.asarray(outline, dtype=float), (), FLAT)
    return Part(
        number=number,
        name=name,
        group=rest.pop("group", "wing"),
        sheet=sheet,
        paper=rest.pop("paper", "both"),
        thickness_mm=5.0,
        outline=np.asarray(outline, dtype=float),
        holes=tuple(np.asarray(h, dtype=float) for h in holes),
        marks=marks,
        copies=((piece,),) * copies,
        mirrored=mirrored if mirrored is not None else (False,) * copies,
        **rest,
    )


def box(width, height, x=0.0, y=0.0):
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def ellipse(a, b, x=0.0, y=0.0, points=96):
    t = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return np.column_stack([x + a * np.cos(t), y + b * np.sin(t)])


def wing_panel(span, root, tip, sweep=10.0, bow=12.0, points=40):
    """Leading edge out, a rounded tip, trailing edge back, with the root along u = 0."""
    t = np.linspace(0, np.pi, points)
    middle, half = sweep + tip / 2, tip / 2
    tip_line = np.column_stack([span - bow + bow * np.sin(t), middle - half * np.cos(t)])
    return np.vstack([[(0.0, 0.0)], tip_line, [(0.0, root)]])


def body_side(length=520.0, height=88.0):
    x = np.linspace(0, 1, 60)
    top = height * (0.55 + 0.45 * np.sin(np.pi * np.minimum(1, 1.25 * x + 0.12)) ** 0.7) * (1 - 0.55 * x**2)
    bottom = 6 * np.sin(np.pi * x)
    return np.vstack(
        [np.column_stack([length * x, -bottom]), np.column_stack([length * x, top - bottom])[::-1]]
    )


def biplane() -> Kit:
    """38 copies of 17 parts on two materials: about 1.3 sheets of foam board."""
    wing = wing_panel(330, 125, 105)
    lower = wing_panel(300, 115, 95)
    hinge = (Mark("hinge", ((30.0, 92.0), (290.0, 92.0)), "aileron hinge, bevel below"),)
    parts = [
        make(
            1,
            "upper wing panel",
            wing,
            copies=2,
            mirrored=(False, True),
            marks=(
                *hinge,
                Mark("glue", ((5, 40), (300, 45)), "spar"),
                Mark("datum", ((0, 62), (320, 62)), "datum"),
            ),
        ),
        make(
            2,
            "lower wing panel",
            lower,
            copies=2,
            mirrored=(False, True),
            marks=(
                Mark("fold", ((0, 30), (285, 34)), "fold up 12°"),
                Mark("score", ((0, 33), (285, 37)), ""),
            ),
        ),
        make(
            3,
            "body side",
            body_side(),
            holes=[box(120, 6, 110, 50), ellipse(14, 10, 60, 40)],
            copies=2,
            mirrored=(False, True),
            group="body",
            face="outside",
            may_turn=True,
            paper="one",
            marks=(
                Mark("balance", ((170, 10), (170, 24)), "balance"),
                Mark("thrust", ((0, 40), (80, 40)), "thrust line"),
            ),
        ),
        make(
            4,
            "tailplane",
            wing_panel(250, 82, 70),
            group="tail",
            may_turn=False,
            marks=(Mark("grain", ((20, 20), (60, 20)), ""),),
        ),
        make(
            5,
            "elevator",
            [(0, 0), (250, 0), (243, 38), (130, 38), (125, 25), (120, 38), (7, 38)],
            group="tail",
        ),
        make(6, "fin", [(0, 0), (95, 0), (88, 110), (52, 116), (8, 40)], group="fin"),
        make(7, "rudder", [(0, 0), (45, 0), (40, 118), (0, 124)], group="fin"),
        make(
            8,
            "firewall",
            ellipse(39, 39),
            holes=[
                ellipse(4, 4),
                *(ellipse(1.6, 1.6, 16 * c, 16 * s) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))),
            ],
            sheet="ply-2",
            group="drive",
        ),
        make(
            9, "motor doubler", ellipse(24, 24), holes=[ellipse(4, 4)], sheet="ply-2", copies=2, group="drive"
        ),
        make(10, "former 1", box(70, 82), holes=[box(40, 50, 15, 16)], group="body", paper="none"),
        make(11, "former 2", box(70, 88), holes=[ellipse(24, 30, 35, 44)], group="body", paper="none"),
        make(12, "former 3", box(62, 76), holes=[ellipse(20, 25, 31, 38)], group="body", copies=2),
        make(
            13,
            "interplane strut",
            [(0, 0), (22, 0), (28, 70), (30, 142), (8, 142), (5, 70)],
            copies=4,
            mirrored=(False, True, False, True),
            group="strut",
        ),
        make(14, "cabane strut", box(18, 92), copies=4, group="strut"),
        make(
            15,
            "deck",
            box(70, 180),
            group="body",
            marks=tuple(Mark("score", ((x, 0), (x, 180)), "") for x in (10, 20, 30, 40, 50, 60)),
        ),
        make(16, "doubler", box(60, 24), copies=8, group="body"),
        make(
            17,
            "horn",
            [(0, 0), (16, 0), (16, 6), (6, 24), (2, 24), (0, 20)],
            copies=4,
            sheet="ply-2",
            holes=[ellipse(0.8, 0.8, 4, 20, 24)],
            group="tail",
        ),
    ]
    return Kit(name="test biplane", parts=tuple(parts))
