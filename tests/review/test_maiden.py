"""A first flight from a design file: the same seed the same flight, told in words and drawn on a page."""

import math
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.errors import DesignError, SolveError
from sheetlark.evaluation import maiden
from sheetlark.review import story_document, story_page, told


@pytest.fixture(scope="module")
def dunnock():
    return sheetlark.evaluate(loads(starter("dunnock")))


@pytest.fixture(scope="module")
def story(dunnock):
    return maiden(dunnock, seed=3)


def test_it_flies_turns_both_ways_and_lands(dunnock, story):
    assert story.landed_as_planned
    assert story.turns_both_ways
    assert not story.launched_by_hand
    assert story.stall is not None
    assert story.stall.recovery_height_m > 0.5
    # The slowest airspeed before the break lies about the computed stall; gusts and the pull take it either side.
    assert story.stall.speed_ms == pytest.approx(dunnock.flight.stall_ms, rel=0.25)
    assert 0.0 < story.touch_down_sink_ms < 3.0
    level = story.history
    cruising = (level.time_s > story.events[2].time_s + 3) & (level.time_s < story.events[3].time_s)
    assert np.mean(level.airspeed_ms[cruising]) == pytest.approx(dunnock.flight.cruise_ms, rel=0.08)


def test_a_seed_is_a_flight(dunnock, story):
    again, other = maiden(dunnock, seed=3), maiden(dunnock, seed=4)
    assert (again.history.height_m == story.history.height_m).all()
    assert again.events == story.events
    n = min(other.history.height_m.size, story.history.height_m.size)
    assert not np.allclose(other.history.height_m[:n], story.history.height_m[:n])


def test_a_weak_throw_loses_more_height_than_a_strong_one(dunnock):
    weak, strong = (maiden(dunnock, wind_ms=0.0, throw_ms=v) for v in (4.0, 8.0))
    assert weak.launched_by_hand
    assert weak.launch_height_lost_m > strong.launch_height_lost_m + 0.2
    assert "height lost at launch" in told(dunnock, weak)


def test_trim_in_still_air_is_the_computed_one(dunnock):
    calm = maiden(dunnock, wind_ms=0.0)
    assert calm.pitch_trim == pytest.approx(dunnock.flight.cruise.pitch_stick, abs=0.08)


def test_progress_is_told_and_a_flight_can_be_stopped(dunnock):
    seen = []
    maiden(dunnock, progress=lambda share, words: seen.append((share, words)))
    assert seen[0][0] == 0.0
    assert all(b[0] > a[0] for a, b in pairwise(seen))
    assert seen[5][1] == "flying, 5 s"
    with pytest.raises(SolveError, match="stopped after 0 s"):
        maiden(dunnock, should_stop=lambda: True)


def test_what_cannot_fly_is_refused_in_words(dunnock):
    glider = sheetlark.evaluate(loads(edited(starter("dunnock"), {("drive",): None})))
    with pytest.raises(DesignError, match="cannot be flown: it has no motor"):
        maiden(glider)
    with pytest.raises(SolveError, match="between 0 and 20 m/s, got -3"):
        maiden(dunnock, throw_ms=-3.0)


class Balanced(HTMLParser):
    """Every element opened is closed, and nothing is asked of the network."""

    def __init__(self):
        super().__init__()
        self.open, self.counts, self.addresses = [], {}, []

    def handle_starttag(self, tag, attrs):
        self.counts[tag] = self.counts.get(tag, 0) + 1
        self.addresses += [v for k, v in attrs if k in {"src", "href"}]
        if tag not in {"meta", "line", "polyline", "circle"}:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.counts[tag] = self.counts.get(tag, 0) + 1

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_page_stands_alone(dunnock, story):
    page = story_page(dunnock, story)
    read = Balanced()
    read.feed(page)
    assert read.open == []
    assert read.addresses == []
    assert "http" not in page
    assert "<script" not in page
    assert read.counts["svg"] == 6
    assert read.counts["polyline"] == 5 + 3 + 1
    assert page == story_page(dunnock, story)
    for event in story.events:
        assert f"{event.time_s:.1f} s" in page


def test_a_name_is_only_ever_text(dunnock, story):
    named = sheetlark.evaluate(loads(edited(starter("dunnock"), {("model", "name"): "<b>&'"})))
    page = story_page(named, story)
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;" in page


def test_the_document_is_plain(dunnock, story):
    import json

    document = story_document(dunnock, story)
    text = json.dumps(document, allow_nan=False)
    assert json.loads(text)["turns_both_ways"] is True
    record = document["record"]
    assert len({len(v) for v in record.values()}) == 1
    assert max(record["height_m"]) == pytest.approx(float(story.history.height_m.max()), abs=0.1)
    assert document["peak_sideslip_deg"] == pytest.approx(math.degrees(story.peak_sideslip_rad))
