"""Decals: drawn at their true size where they were stated, on every part they lie on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.errors import GeometryError
from sheetlark.parts import make_kit


def decal(**stated):
    rows = {"name": '"SL-7"', "size": "[40, 24]", **stated}
    return "\n[[decal]]\n" + "\n".join(f"{k} = {v}" for k, v in rows.items()) + "\n"


def marks(part):
    return [m for m in part.marks if m.kind == "decal"]


def corners(part, mark, copy=0):
    """A decal's corners in space, on the middle of its sheet."""
    middle = np.mean(np.array(mark.points[:-1]), axis=0)

    def off(piece):
        return np.linalg.norm(np.clip(middle, piece.outline.min(axis=0), piece.outline.max(axis=0)) - middle)

    piece = min(part.copies[copy], key=off)
    p = np.array(mark.points[:-1])
    return (piece.matrix @ np.column_stack([p, np.zeros(4), np.ones(4)]).T)[:3].T


def lengths(mark):
    p = np.array(mark.points)
    return np.linalg.norm(np.diff(p, axis=0), axis=1)


@settings(max_examples=15, deadline=None)
@given(x=st.floats(105.0, 150.0), y=st.floats(40.0, 270.0), a=st.floats(5.0, 40.0), b=st.floats(5.0, 60.0))
def test_a_decal_stands_where_it_is_stated_at_its_own_size(build_text, text_of, x, y, a, b):
    text = text_of("brambling") + decal(on='"upper wing"', at=f"[{x}, {y}]", size=f"[{a}, {b}]")
    wing = build_text(text).kit.part("upper wing")
    two = marks(wing)
    assert len(two) == 2  # both halves are one part
    for mark, sign in zip(two, (1.0, -1.0), strict=True):
        assert corners(wing, mark).mean(axis=0)[:2] == pytest.approx([x, sign * y], abs=0.01)
        assert lengths(mark) == pytest.approx([a, b, a, b], abs=1e-6)


def test_body_and_fin_say_which_face(build_text, text_of):
    text = (
        text_of("dunnock")
        + decal(on='"body"', at="[200, 0]")
        + decal(on='"fin"', at="[520, 70]", name='"badge"', size="[12, 12]")
        + decal(on='"body"', at="[330, 2]", name='"one"', sides='"port"', size="[20, 8]")
    )
    kit = build_text(text).kit
    starboard, port = kit.part("body side, starboard"), kit.part("body side, port")
    assert [m.note for m in marks(starboard)] == ["SL-7, other face"]
    assert [m.note for m in marks(port)] == ["SL-7, other face", "one, other face"]
    for side in (starboard, port):
        assert corners(side, marks(side)[0]).mean(axis=0)[[0, 2]] == pytest.approx([200.0, 0.0], abs=0.01)
    # On the fin as on its rudder, where the badge lies on both.
    assert {m.note for p in kit.parts if p.group == "fin" for m in marks(p)} == {"badge, both faces"}


def test_a_pair_from_one_pattern_says_which_side(build_text, text_of):
    text = text_of("brambling") + decal(
        on='"lower wing"', at="[150, 120]", sides='"starboard"', face='"bottom"', size="[20, 20]"
    )
    (mark,) = marks(build_text(text).kit.part("lower wing panel"))
    assert mark.note == "SL-7, other face, starboard only"


def test_a_decal_over_the_hinge_is_drawn_on_both_parts(build_text, text_of):
    text = text_of("brambling") + decal(on='"lower wing"', at="[192, 230]", size="[40, 30]")
    kit = build_text(text).kit
    assert marks(kit.part("lower wing panel"))
    assert marks(kit.part("lower wing aileron"))
    assert not any("hangs over" in n and "SL-7" in n and "50 %" in n for n in kit.notes)


def test_what_hangs_over_is_said_and_what_lies_off_is_refused(build_text, text_of, stock):
    text = text_of("brambling") + decal(on='"upper wing"', at="[74, 100]")  # its middle on the leading edge
    note = next(n for n in build_text(text).kit.notes if "hangs over" in n)
    assert int(note.split(" %")[0]) == pytest.approx(50, abs=3)
    for place, said in (("[74, 900]", "lies off the upper wing"), ("[-400, 10]", "move it onto that")):
        with pytest.raises(GeometryError, match=said) as caught:
            build_text(text_of("brambling") + decal(on='"upper wing"', at=place))
        assert caught.value.where == ("decal", 0, "at")
    with pytest.raises(GeometryError, match="no 'middle wing' for the decal 'SL-7'") as caught:
        airframe(loads(text_of("brambling") + decal(on='"middle wing"', at="[0, 0]")), stock)
    assert caught.value.where == ("decal", 0, "on")


def test_a_decal_cuts_nothing(build_text, text_of, stock):
    """The kit is not cut anew for it: what was found for the same shapes is drawn on."""
    text = text_of("brambling")
    plain = build_text(text)
    decals = loads(text + decal(on='"body"', at="[200, 0]")).decal
    marked = make_kit(replace(plain.airframe, decals=decals), stock)
    again = make_kit(plain.airframe, stock)
    for a, b in zip(again.parts, marked.parts, strict=True):
        assert np.array_equal(a.outline, b.outline)
        assert a.copies is b.copies
        assert [m for m in b.marks if m.kind != "decal"] == list(a.marks)
