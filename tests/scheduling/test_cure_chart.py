"""The cure chart: same bytes, readable in words, nothing that a strict page or print would drop."""

import math
import re
from datetime import timedelta
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.chart import cure_chart
from scheduling.energize import decide
from scheduling.forecast import Promise
from tests.scheduling.floors import PLACED_AT, facts, layer, steady

HOUR = timedelta(hours=1)
SVG = "{http://www.w3.org/2000/svg}"


def chart(*layers, readings=(), hours=120, **told):
    given_facts = facts(*(layers or (layer(),)), readings=readings, now=PLACED_AT + hours * HOUR)
    words = {name: told.pop(name) for name in ("language", "system", "key") if name in told}
    given_facts = type(given_facts)(
        **{name: told.get(name, getattr(given_facts, name)) for name in given_facts.__slots__}
    )
    return cure_chart(given_facts, decide(given_facts), **words)


def shapes(drawn, css):
    tree = ElementTree.fromstring(drawn.svg)
    return [each for each in tree.iter() if each.get("class") == css]


def swinging(hours):
    return [
        (PLACED_AT + hour * HOUR, 12 + 4 * math.sin(hour / 24 * 2 * math.pi))
        for hour in range(hours + 1)
    ]


def test_the_same_facts_give_the_same_bytes_in_any_order():
    readings = swinging(120)
    assert chart(readings=readings).svg == chart(readings=readings[::-1]).svg


def test_it_says_in_a_sentence_what_it_shows():
    drawn = chart(readings=steady(12.0, hours=120))
    root = ElementTree.fromstring(drawn.svg)
    assert root.get("role") == "img"
    title = root.find(f"{SVG}title")
    assert title.text == drawn.title
    assert root.get("aria-labelledby") == title.get("id")
    for words in ("of 168 h", "likely", "not before", "counted as 8 °C", "below it nothing counts"):
        assert words in drawn.title


def test_in_spanish_and_in_fahrenheit():
    drawn = chart(readings=steady(12.0, hours=120), language="es", system="imperial")
    assert "Piso, °F" in drawn.svg
    assert "41 °F" in drawn.caption
    assert "curado" in drawn.title


def test_measured_is_whole_likely_dashed_unknown_grey():
    drawn = chart(
        readings=[*steady(12.0, hours=40), *steady(12.0, start=PLACED_AT + 80 * HOUR, hours=40)]
    )
    assert len(shapes(drawn, "nodata")) == 1
    assert all(each.get("stroke-dasharray") is None for each in shapes(drawn, "measured"))
    assert all(each.get("stroke-dasharray") == "5 5" for each in shapes(drawn, "likely"))
    assert [each.get("stroke-dasharray") for each in shapes(drawn, "limit")] == ["12 4 3 4"] * 2
    assert len(shapes(drawn, "wedge")) == len(shapes(drawn, "dot")) == 1


def test_once_ready_there_is_no_wedge():
    drawn = chart(readings=steady(20.0, hours=240), hours=240)
    assert shapes(drawn, "wedge") == []
    assert len(shapes(drawn, "dot")) == 1
    assert "Ready since Mon 8 Mar 2027, 15:30." in drawn.title


def test_where_now_is_not_shown_nothing_is_left_free_for_it():
    def height(drawn):
        return float(ElementTree.fromstring(drawn.svg).get("viewBox").split()[-1])

    curing, cured = (chart(readings=steady(20.0, hours=hours), hours=hours) for hours in (72, 720))
    assert [">now<" in drawn.svg for drawn in (curing, cured)] == [True, False]
    assert height(cured) < height(curing)


def test_frost_leaves_no_date_to_draw():
    drawn = chart(readings=[*steady(12.0, hours=120), (PLACED_AT + 3 * HOUR, -1.0)])
    assert shapes(drawn, "wedge") == shapes(drawn, "dot") == []
    assert "frost" in drawn.title


def test_a_future_too_cold_leaves_the_wedge_open():
    drawn = chart(readings=steady(12.0, hours=120), assume_c=2)
    assert "latest not in sight" in drawn.title
    assert len(shapes(drawn, "wedge")) == 1


def test_a_room_without_layers_has_no_chart():
    empty = facts(now=PLACED_AT)
    assert cure_chart(empty, decide(empty)) is None


def test_names_are_text_and_never_markup():
    drawn = chart(layer(name='<script>"&'), readings=steady(12.0, hours=120))
    assert "<script>" not in drawn.svg
    assert ElementTree.fromstring(drawn.svg) is not None


def test_a_year_of_five_minutes_stays_small_and_keeps_its_extremes():
    readings = [
        (PLACED_AT + timedelta(minutes=5 * step), 9 + 3 * math.sin(step / 40))
        for step in range(30_000)
    ]
    readings[15_000] = (readings[15_000][0], 29.0)
    drawn = chart(layer(heat_after_hours=9000), readings=readings, hours=2500)
    assert len(drawn.svg) < 60_000
    assert ">30<" in drawn.svg


@settings(max_examples=60)
@given(
    rows=st.lists(st.tuples(st.integers(-20, 200), st.floats(-30, 60)), max_size=30),
    hours=st.integers(0, 300),
    needed=st.integers(0, 400),
    assume_c=st.floats(-10, 25),
    promised=st.none() | st.floats(-10, 30),
)
def test_whatever_the_floor_it_can_be_drawn(rows, hours, needed, assume_c, promised):
    now = PLACED_AT + hours * HOUR
    readings = [(PLACED_AT + hour * HOUR, celsius) for hour, celsius in rows if hour <= hours]
    promises = (
        [Promise(starts_at=now, ends_at=now + 100 * HOUR, celsius=promised)]
        if promised is not None
        else ()
    )
    drawn = chart(
        layer(heat_after_hours=needed), readings=readings, hours=hours, assume_c=assume_c,
        promises=promises,
    )  # fmt: skip
    ElementTree.fromstring(drawn.svg)
    assert "nan" not in drawn.svg
    assert "inf" not in drawn.svg
    for x in re.findall(r' x="(-?[\d.]+)"', drawn.svg):
        assert 0 <= float(x) <= 1000


@pytest.mark.parametrize("forbidden", ["style=", "<script", "href", "<style"])
def test_nothing_that_a_strict_page_drops(forbidden):
    assert forbidden not in chart(readings=steady(12.0, hours=120)).svg
