"""Marks over a picture: what is taken, what is refused, and that none is lost."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.bench.folder import Folder
from sheetlark.bench.marks import Marks, read_marks
from sheetlark.bench.pictures import MarkedPicture
from sheetlark.errors import DesignError, UnitError

SQUARE = [{"x": 0, "y": 0}, {"x": 10, "y": 0}, {"x": 10, "y": 10}]
WING = {"part": "wing", "view": "top", "name": "wing", "half": True, "nodes": SQUARE}


def picture(tmp_path: Path) -> MarkedPicture:
    file = tmp_path / "sheet.png"
    file.write_bytes(b"not looked at here")
    return MarkedPicture(file)


def test_marks_survive_without_being_closed(tmp_path: Path) -> None:
    marked = picture(tmp_path)
    first = {**marked.marks.plain(), "scale_line": [[0, 0], [100, 0]], "scale_length": "30 in"}
    marked.mark(first, "draw the scale line", marked.revision)
    marked.mark({**first, "outlines": [WING]}, "draw the wing", marked.revision)
    # A process that is killed leaves the journal as it is: read it from a copy, as nobody has closed it.
    other = tmp_path / "after"
    other.mkdir()
    (other / "sheet.png").write_bytes(b"")
    (other / ".sheet.png.journal").write_bytes((tmp_path / ".sheet.png.journal").read_bytes() + b"torn li")
    again = MarkedPicture(other / "sheet.png")
    assert again.marks == marked.marks
    assert again.told()["undo"] == "draw the wing"
    again.undo()
    assert again.marks.outlines == ()
    assert again.marks.scale_length == "30 in"
    again.undo()
    again.undo()
    assert again.marks == Marks(title="sheet")
    again.redo()
    assert again.marks.scale_line == ((0.0, 0.0), (100.0, 0.0))


def test_two_tabs_do_not_clobber_each_other(tmp_path: Path) -> None:
    marked = picture(tmp_path)
    plain, since = marked.marks.plain(), marked.revision
    marked.mark({**plain, "span": "30 in"}, "set the span", since)
    with pytest.raises(DesignError, match="another tab"):
        marked.mark({**plain, "title": "other"}, "name it", since)
    with pytest.raises(DesignError, match="another bench has"):
        MarkedPicture(marked.path)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"span": "wide"}, "length"),
        ({"scale_line": [[0, 0], [1, 1]]}, "at least 5 px"),
        ({"scale_line": [[0, 0]]}, "two ends"),
        ({"boxes": [{"kind": "below", "box": [0, 0, 9, 9]}]}, "top, side or front"),
        ({"boxes": [{"kind": "top", "box": [0, 0, 2, 9]}]}, "less than 5 px"),
        ({"outlines": [{**WING, "nodes": SQUARE[:2]}]}, "3 to 600 nodes"),
        ({"outlines": [{**WING, "part": "engine"}]}, "an outline is of"),
        ({"outlines": [WING] * 41}, "at most 40"),
        ({"outlines": [{**WING, "nodes": [*SQUARE, {"x": 1e9, "y": 0}]}]}, "a number up to"),
        ({"outlines": [{**WING, "nodes": [*SQUARE, {"x": float("nan"), "y": 0}]}]}, "a number up to"),
        ({"turned_deg": 200}, "at most 180"),
        ({"colour": "red"}, "no 'colour'"),
    ],
)
def test_what_is_no_mark_is_refused_in_words(tmp_path: Path, change: dict[str, Any], says: str) -> None:
    marked = picture(tmp_path)
    before = marked.marks
    with pytest.raises((DesignError, UnitError), match=says):
        marked.mark({**before.plain(), **change}, "x", marked.revision)
    assert marked.marks == before


places = st.floats(-30_000, 30_000)
nodes = st.fixed_dictionaries(
    {"x": places, "y": places}, optional={"before": st.tuples(places, places), "after": st.none()}
)


@settings(deadline=None)  # the first example also pays for the import of the picture room
@given(st.lists(nodes, min_size=3, max_size=12), st.booleans())
def test_marks_come_back_as_they_were_kept(drawn: list[dict[str, Any]], half: bool) -> None:
    marks = read_marks({"outlines": [{**WING, "half": half, "nodes": drawn}]})
    assert read_marks(json.loads(marks.text())) == marks
    points = marks.corrections().outlines[0].points_px
    assert len(points) >= len(drawn)
    assert points[0] == pytest.approx((drawn[0]["x"], drawn[0]["y"]), abs=1e-3)


def test_a_bend_is_followed() -> None:
    bent = [{"x": 0, "y": 0, "after": [0, 40]}, {"x": 100, "y": 0, "before": [100, 40]}, {"x": 50, "y": -10}]
    points = read_marks({"outlines": [{**WING, "nodes": bent}]}).corrections().outlines[0].points_px
    assert max(y for _, y in points) == pytest.approx(30.0, abs=0.2)  # three quarters of the handles' height


def test_a_picture_is_kept_once_and_inside(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert folder.take_in_picture("../../three view.PNG", b"one").name == "three view.png"
    assert folder.take_in_picture("three view.png", b"one").name == "three view.png"
    assert folder.take_in_picture("three view.png", b"other").name == "three view 2.png"
    with pytest.raises(DesignError, match="ends in"):
        folder.take_in_picture("page.html", b"<script>")
    (tmp_path / ".hidden.png").write_bytes(b"")
    assert folder.pictures() == ["three view 2.png", "three view.png"]
