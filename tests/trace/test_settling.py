"""A view that a break has let the paper into is taken with that break closed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.regions import solids
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
    assert unbroken(broken, [broken, mended], "") is mended


def test_wider_breaks_are_not_closed_for_ink_that_stays_outside() -> None:
    """Struts and gear hang on to a view however wide the breaks that are closed."""
    ink = outline(*BODY)
    ink[130:190, 100:103] = ink[130:190, 180:183] = True
    whole = largest(ink, 0)
    wider = largest(ink, 4)
    fuller = replace(wider, solid=replace(wider.solid, mask=np.ones_like(wider.solid.mask)))
    assert unbroken(whole, [whole, fuller], "") is whole
