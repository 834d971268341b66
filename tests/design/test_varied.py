"""A design with some values changed, read without writing its text anew."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.design import Design, edited, loads, starter, varied
from sheetlark.errors import DesignError

LENGTHS = st.floats(20.0, 900.0).map(lambda v: round(v, 3))
CHANGES = st.one_of(
    st.tuples(st.just(("wing", 0, "span")), LENGTHS),
    st.tuples(st.just(("wing", 0, "tip_chord")), st.one_of(LENGTHS, st.just("4.7 in"), st.just(120))),
    st.tuples(st.just(("wing", 0, "spar", 0, "at")), st.floats(0.2, 0.6)),
    st.tuples(st.just(("wing", 0, "aileron", "chord")), st.floats(0.2, 0.4)),
    st.tuples(st.just(("wing", 0, "edge")), st.sampled_from(["square", "rounded", None])),
    st.tuples(st.just(("tailplane", "at")), st.tuples(LENGTHS, LENGTHS).map(list)),
    st.tuples(st.just(("tailplane", "elevator")), st.none()),
    st.tuples(st.just(("body", "width")), st.just([[0, 50], [200, 61.25], [560, 14]])),
    st.tuples(st.just(("body", "former", 1, "at")), LENGTHS),
    st.tuples(st.just(("body", "former", 4, "at")), LENGTHS),
    st.tuples(st.just(("ballast", 0, "name")), st.just('nose "lead" ü')),
    st.tuples(st.just(("covering", "stock")), st.just("none")),
    st.tuples(st.just(("no", "such")), st.just(1)),
)


def outcome(read):
    try:
        design: Design = read()
    except DesignError as error:
        return str(error)
    return design.model_dump(mode="json")


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(["dunnock", "brambling"]),
    changes=st.lists(CHANGES, min_size=1, max_size=3).map(dict),
)
def test_it_is_the_design_that_the_edited_text_holds(name, changes):
    text = starter(name)
    plain = outcome(lambda: loads(edited(text, changes), "x.toml"))
    assert outcome(lambda: varied(text, changes, "x.toml")) == plain
    # What was varied does not stay in what is kept of the text.
    assert (
        varied(text, {("wing", 0, "span"): 640}).model_dump()
        == loads(edited(text, {("wing", 0, "span"): 640})).model_dump()
    )


def test_a_fault_is_told_as_the_file_would_tell_it():
    with pytest.raises(DesignError, match=r"x\.toml:\d+: "):
        varied(starter("dunnock"), {("wing", 0, "span"): "half"}, "x.toml")


def test_its_lines_are_those_of_the_text():
    text = starter("dunnock")
    assert varied(text, {("wing", 0, "span"): 650.0}).source.line(("wing", 0, "span")) == loads(
        text
    ).source.line(("wing", 0, "span"))
