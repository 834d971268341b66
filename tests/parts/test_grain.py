"""A part of a sheet that splits lies with its length along the grain, however it is laid."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.sheets.nesting import nest


def test_struts_of_balsa_are_cut_along_the_grain(build_text, text_of, stock):
    b = build_text(text_of("brambling").replace("y = 250\n", 'y = 250\nsheet = "balsa-3"\n'))
    assert b.proof.clean, [f.says for f in b.proof.findings]
    strut = b.kit.part("interplane strut")
    assert not strut.may_turn
    (arrow,) = [m for m in strut.marks if m.kind == "grain"]
    assert np.ptp(np.array(arrow.points), axis=0)[1] > 20.0  # up the strut, its long way
    nesting = nest(b.kit, stock, effort="quick")
    (sheet,) = [s for s in nesting.sheets if s.sheet == "balsa-3"]
    laid = [p for p in sheet.placed if p.part == strut.number]
    assert len(laid) == 2
    for placed in laid:
        run = np.diff(placed.move(np.array(arrow.points)), axis=0)[0]
        assert abs(run[1]) == pytest.approx(0.0, abs=1e-6)  # along the sheet's width, where its grain runs
        assert abs(run[0]) > 20.0


def test_foam_board_may_be_turned(built):
    assert all(p.may_turn for p in built("brambling").kit.parts if p.sheet == "foam-board-5")
