"""Design files: read, refused in words, edited without losing a comment."""

import json
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.design import STARTERS, edited, load, loads, schema, starter, write_text
from sheetlark.errors import DesignError, SheetlarkError


@pytest.fixture
def text():
    return starter("brambling")


@pytest.mark.parametrize("name", STARTERS)
def test_starters_are_read_and_teach(name):
    text = starter(name)
    design = loads(text, f"{name}.toml")
    assert design.model.name.lower() == name
    assert text.startswith(f"# {name.capitalize()}: ")
    assert sum(line.startswith("#") for line in text.splitlines()) >= 6


def test_units_of_every_kind(text):
    metric = loads(text.replace("span = 720", 'span = "720 mm"'))
    inches = loads(text.replace("span = 720", 'span = "28.3464566929 in"'))
    assert metric.wing[0].span == pytest.approx(0.72)
    assert inches.wing[0].span == pytest.approx(0.72, rel=1e-9)
    assert loads(text.replace("incidence = 0.5", 'incidence = "0.0087266 rad"')).wing[
        0
    ].incidence == pytest.approx(loads(text).wing[0].incidence, rel=1e-4)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            "span = 720",
            "spam = 720",
            r"mine\.toml:24: wing 1, spam: 'spam' is not a known key; did you mean 'span'|'spar'",
        ),
        (
            "incidence = 0.5",
            'incidence = "half"',
            r"mine\.toml:28: wing 1, incidence: expected an angle .* read 'half'",
        ),
        ('nose = "round"', 'nose = "rond"', "expected 'flat' or 'round', read 'rond'; did you mean 'round'"),
        ("span = 720", "span = nan", "wing 1, span: expected a length .*not a finite"),
        ("span = 720", "span = 1e12", "a length from 30 mm to 4 m, read 1000000000000"),
        ("span = 720", 'span = "720 kg"', "unit 'kg', but a length"),
        ("span = 720\n", "", "wing 1: needs span and root_chord"),
        ("[tailplane]", "[tailplain]", "'tailplain' is not a known key; did you mean 'tailplane'"),
        ("tip_roundness = 0.8", "tip_roundness = 8", "a fraction from 0 to 1"),
        ('name = "lower wing"', 'name = "upper wing"', "two of the wings are named 'upper wing'"),
        ("end = 0.93", "end = 0.4", "end must lie at least 0.05 beyond start"),
        ("L 546 6", "L 546 6 M 0 0 L 5 5", "one continuous run"),
        ("width = [[0, 92], [60, 92]", "width = [[60, 92], [0, 92]", "must run from nose to tail"),
        ("[model]", "[model", "not a TOML text.*line"),
        ("at = [74, 88]", 'at = "here"', "wing 1, at: expected a list"),
        ("at = [74, 88]", "at = [66]", "wing 1, at"),
        ("[model]\n", "[model]\n[[model.x]]\n", "not a TOML text|not a known key"),
    ],
)
def test_bad_files_are_refused_in_words(text, old, new, words):
    assert old in text
    with pytest.raises(DesignError, match=f"(?s){words}"):
        loads(text.replace(old, new, 1), "mine.toml")


def test_every_fault_at_once_in_order(text):
    bad = (
        text.replace("span = 720", "spam = 720")
        .replace('"servo-5g"', "5", 1)
        .replace("height = 108", 'height = "x"')
    )
    with pytest.raises(DesignError) as caught:
        loads(bad, "mine.toml")
    lines = [int(line.split(":")[1]) for line in str(caught.value).splitlines()]
    assert len(lines) >= 3
    assert lines == sorted(lines)


def test_hostile_files(tmp_path):
    with pytest.raises(DesignError, match="there is no file"):
        load(tmp_path / "none.toml")
    (tmp_path / "mine.toml").write_text("x = 1", encoding="utf-8")
    with pytest.raises(DesignError, match=r"Did you mean mine\.toml"):
        load(tmp_path / "mien.toml")
    with pytest.raises(DesignError, match="is a folder"):
        load(tmp_path)
    (tmp_path / "huge.toml").write_bytes(b"#" * 2_000_000)
    with pytest.raises(DesignError, match="larger than"):
        load(tmp_path / "huge.toml")
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\r\n\x1a\n\x00\xff\xfe")
    with pytest.raises(DesignError, match="not a UTF-8 text"):
        load(tmp_path / "picture.toml")
    (tmp_path / "empty.toml").write_text("", encoding="utf-8")
    with pytest.raises(DesignError, match=r"model: is missing(?s:.*)wing: is missing"):
        load(tmp_path / "empty.toml")
    (tmp_path / "deep.toml").write_text("a = " + "[" * 5000, encoding="utf-8")
    with pytest.raises(DesignError):
        load(tmp_path / "deep.toml")


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=120))
def test_any_text_is_read_or_refused(text):
    with pytest.raises(SheetlarkError):
        loads(text)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_value_is_read_or_refused(data):
    lines = starter("brambling").splitlines()
    keyed = [i for i, line in enumerate(lines) if "=" in line and not line.startswith("#")]
    i = data.draw(st.sampled_from(keyed))
    value = data.draw(
        st.sampled_from(
            ["nan", "-inf", "-1", "0", '""', "[]", "{}", '"é🛩"', "true", "1e308", "1979-05-27", "[[[]]]"]
        )
    )
    lines[i] = lines[i].split("=")[0] + "= " + value
    try:
        loads("\n".join(lines), "mine.toml")
    except DesignError as error:
        assert str(error)  # noqa: PT017 - either outcome is right


def test_an_edit_changes_its_line_and_no_other(text):
    new = edited(text, {("wing", 0, "span"): "700 mm", ("drive", "down"): 3})
    changed = [(a, b) for a, b in zip(text.splitlines(), new.splitlines(), strict=True) if a != b]
    assert changed == [("span = 720", 'span = "700 mm"'), ("down = 2", "down = 3")]


def test_an_edit_can_add_and_remove(text):
    new = edited(text, {("ballast", 0, "mass"): 12, ("ballast", 0, "at"): [5, 0, 0], ("gear",): None})
    data = tomllib.loads(new)
    assert data["ballast"] == [{"mass": 12, "at": [5, 0, 0]}]
    assert "gear" not in data
    assert loads(new).ballast[0].mass == pytest.approx(0.012)


def test_an_edit_nowhere_is_refused(text):
    with pytest.raises(DesignError, match="there is no wing 8"):
        edited(text, {("wing", 7, "span"): 1})


def test_written_whole_or_not_at_all(tmp_path, text):
    file = tmp_path / "mine.toml"
    write_text(file, text)
    assert load(file).model.name == "Brambling"
    assert [p.name for p in tmp_path.iterdir()] == ["mine.toml"]
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    write_text(link, text.replace("Brambling", "Other"))
    assert link.is_symlink()
    assert load(file).model.name == "Other"
    with pytest.raises(DesignError, match="cannot be written"):
        write_text(tmp_path / "nowhere" / "mine.toml", text)


def test_the_shipped_schema_is_the_models_own():
    from importlib import resources

    shipped = json.loads((resources.files("sheetlark.design") / "design.schema.json").read_text("utf-8"))
    assert shipped == schema(), "run: python -m sheetlark schema > src/sheetlark/design/design.schema.json"


@pytest.mark.parametrize("name", STARTERS)
def test_the_schema_accepts_the_starters(name):
    import jsonschema

    jsonschema.validate(tomllib.loads(starter(name)), schema())
    broken = tomllib.loads(starter(name)) | {"wings": []}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, schema())


def test_an_unknown_starter_names_the_nearest():
    with pytest.raises(DesignError, match="Did you mean dunnock"):
        starter("dunock")


def test_removing_what_is_not_there_changes_nothing():
    text = starter("dunnock")
    assert edited(text, {("strut", 3): None, ("model", "designer"): None}).strip() == text.strip()
