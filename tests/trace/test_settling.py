"""A view that a break has let the paper into is taken with that break closed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.regions import on_sheet, solids
from sheetlark.trace.paper.settling import unbroken
from sheetlark.trace.paper.views import Candidate, candidates


def outline(*corners: tuple[int, int]) -> Mask:
    """A closed line three pixels wide; corners are (column, row)."""
    page = Image.new("L", (320, 220), 0)
    ImageDraw.Draw(page).line([*corners, corners[0]], fill=255, width=3)
    return np.asarray(page) > 0


BODY = ((30, 112), (60, 92), (130, 88), (285, 100), (285, 108), (130, 132), (60, 128))


def largest(ink: Mask, gap: int) -> Candidate:
    found, _ = solids(ink, gap_px=gap, pen_px=3.0)
    return max(candidates(found), key=lambda c: c.solid.area)


def test_a_part_whose_outline_hangs_on_as_loose_ink_is_taken_in() -> None:
    ink = outline(*BODY) | outline((190, 92), (215, 40), (262, 40), (275, 99))
    ink[60:66, 255:275] = False  # a break in the fin's trailing edge
    broken, mended = largest(ink, 0), largest(ink, 4)
    assert mended.solid.area > 1.2 * broken.solid.area
    assert unbroken(broken, [broken, mended], "", ink) is mended


def test_the_half_of_a_body_that_its_centre_line_parts_from_a_broken_edge_is_taken_in() -> None:
    ink = outline(*BODY)
    ink[106:108, 30:290] = True  # the centre line
    broken_ink = ink.copy()
    broken_ink[124:134, 100:107] = False
    broken, mended = largest(broken_ink, 0), largest(broken_ink, 4)
    assert 1.8 * broken.solid.area < mended.solid.area < 2.2 * broken.solid.area
    loose = replace(broken, solid=replace(broken.solid, loose_px=150.0))
    assert unbroken(loose, [loose, mended], "", broken_ink) is mended


def test_wider_breaks_are_not_closed_for_ink_that_stays_outside() -> None:
    """Struts and gear hang on to a view however wide the breaks that are closed."""
    ink = outline(*BODY)
    ink[130:190, 100:103] = ink[130:190, 180:183] = True
    whole = largest(ink, 0)
    wider = largest(ink, 4)
    fuller = replace(wider, solid=replace(wider.solid, mask=np.ones_like(wider.solid.mask)))
    assert unbroken(whole, [whole, fuller], "", ink) is whole


def test_a_face_between_a_propeller_s_blade_and_a_wheel_is_no_part() -> None:
    """With wider breaks closed the lower blade, the body and a wheel behind it close one in; a fin's edge has no other half."""
    ink = outline(*BODY)
    wheel = Image.new("L", (320, 220), 0)
    ImageDraw.Draw(wheel).ellipse((44, 134, 84, 174), outline=255, width=3)
    ink |= np.asarray(wheel) > 0
    ink[124:136, 66:69] = True  # the leg
    ink[100:160, 29:32] = True  # the lower blade
    lean = largest(ink, 0)
    face = np.zeros_like(ink)
    face[116:156, 30:62] = True
    face[:, 44:62][134:] = False
    wider = on_sheet(lean.solid, ink.shape, (0, 0)) | face
    rows, columns = np.nonzero(wider.any(1))[0], np.nonzero(wider.any(0))[0]
    r, c = int(rows[0]), int(columns[0])
    solid = replace(
        lean.solid,
        mask=wider[r : rows[-1] + 1, c : columns[-1] + 1],
        at=(r, c),
        gap_px=4,
        loose_px=0.0,
    )
    loose = replace(lean, solid=replace(lean.solid, loose_px=120.0))
    full = replace(lean, solid=solid)
    assert unbroken(loose, [loose, full], "", ink) is full
    ink[64:124, 29:32] = True  # and the upper one
    assert unbroken(loose, [loose, full], "", ink) is loose
