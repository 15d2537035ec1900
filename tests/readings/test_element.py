from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.element import Tag, at_tag_temperature, expected, judge_element, together
from readings.instruments import Range, calibration
from readings.number import ImplausibleNumber

TAG = Tag(ohms=98.0, below=0.05, above=0.10)
FINE, COARSE, SMALL = Range(200, 0.1, 0.5, 2), Range(2_000, 1, 0.5, 2), Range(60, 0.01, 0.5, 2)
RANGES = (SMALL, FINE, COARSE)


def judged(ohms, meter=FINE, tag=TAG, celsius=20.0, **more):
    return judge_element(tag, ohms=ohms, meter=meter, celsius=celsius, other_ranges=RANGES, **more)


def test_limits_go_with_the_temperature_lead_and_wire_each_by_its_own():
    tag = Tag(ohms=100.0, below=0.05, above=0.1, alpha_per_k=0.0002, lead_ohms=2.0)
    cold = expected(tag, 0.0)
    # 98 Ω of wire fall by 0.4 %, 2 Ω of copper by 7.86 %.
    assert cold.ohms == pytest.approx(98 * 0.996 + 2 * (1 - 0.0786))
    assert cold.low == pytest.approx(0.95 * cold.ohms)
    assert cold.per_k == pytest.approx(98 * 0.0002 + 2 * 0.00393)


@given(celsius=st.floats(-20, 60), ohms=st.floats(1, 500))
def test_what_is_brought_to_the_tag_is_judged_alike(celsius, ohms):
    tag = Tag(ohms=100.0, below=0.05, above=0.1, alpha_per_k=0.001, lead_ohms=2.0)
    wanted = expected(tag, celsius)
    back = at_tag_temperature(tag, ohms, celsius)
    assert (ohms <= wanted.high) == (back <= 110.0 * (1 + 1e-12)) or abs(back - 110) < 1e-9


@pytest.mark.parametrize(
    ("ohms", "outcome"),
    [(98.0, "pass"), (104.6, "pass"), (107.5, "undecided"), (110.0, "fail"), (91.0, "fail")],
)
def test_a_reading_is_held_against_the_tag(ohms, outcome):
    assert judged(ohms).outcome == outcome


def test_the_sentence_says_expected_read_meter_and_next():
    found = judged(107.0, COARSE)
    assert found.outcome == "undecided"
    assert "107\u00a0Ω on the 2\u00a0kΩ range may be inside or outside" in found.because
    assert "93.10 to 107.8\u00a0Ω" in found.because
    assert "This range cannot tell" in found.because
    assert found.next_step == "Set the meter to 200\u00a0Ω and measure again."


def test_a_fail_stops_the_work_and_asks_about_a_slip_of_the_point():
    found = judged(980.0, COARSE)
    assert found.outcome == "fail"
    assert "Do not cover. Do not switch on." in found.next_step
    assert "slip for 98.00\u00a0Ω" in found.next_step
    assert "slip" not in judged(52.0).next_step


def test_over_range_is_open_and_never_a_number():
    """IU-10; common practice, no source."""
    found = judged(None, Range(600, 0.1, 0.5, 2), tag=Tag(ohms=48.0, below=0.05, above=0.1))
    assert (found.outcome, found.value) == ("fail", None)
    assert "open" in found.because


def test_over_range_on_a_range_that_is_too_small_says_so():
    found = judged(None, SMALL)
    assert found.outcome == "undecided"
    assert found.next_step == "Set the meter to 200\u00a0Ω and measure again."


def test_without_a_temperature_a_wide_one_is_assumed():
    tag = Tag(ohms=98.0, below=0.05, above=0.10, alpha_per_k=0.004)
    known, unknown = judged(105.0, tag=tag), judged(105.0, tag=tag, celsius=None)
    assert (known.outcome, unknown.outcome) == ("pass", "undecided")
    assert "even temperature" in unknown.next_step
    assert "assumed" in unknown.because


def test_leads_that_add_are_taken_off_and_doubted():
    found = judged(98.0, leads_ohms=2.0)
    assert found.value == pytest.approx(97.0)
    names = {part.name: part.standard for part in found.components}
    assert names["test leads and contacts"] == pytest.approx(1 / 3**0.5)
    assert "null them" in judged(110.5, leads_ohms=8.0).next_step


def test_a_meter_without_a_digits_term_still_shows_no_half_counts():
    (_, last) = judged(98.0, Range(200, 1, 0.5, 0)).components
    assert (last.name, last.standard) == ("last digit", pytest.approx(0.5 / 3**0.5))


def test_a_meter_past_its_calibration_fails_but_does_not_pass():
    late = calibration(date(2027, 1, 1), on=date(2027, 2, 1))
    assert judged(98.0, calibration=late).outcome == "undecided"
    assert judged(52.0, calibration=late).outcome == "fail"


@given(ohms=st.floats(0, 200), tag=st.floats(5, 150), celsius=st.floats(-10, 40))
def test_a_finer_range_never_turns_a_verdict_around(ohms, tag, celsius):
    tag = Tag(ohms=tag, below=0.05, above=0.1, alpha_per_k=0.0002)
    coarse = judged(ohms, Range(200, 1, 2, 5), tag, celsius).outcome
    fine = judged(ohms, Range(200, 0.01, 0.05, 2), tag, celsius).outcome
    wide = 0.15 * tag.ohms > 4 * Range(200, 1, 2, 5).standard_uncertainty_ohms(ohms)
    assert coarse in (fine, "undecided") or not wide


@pytest.mark.parametrize("wiring", ["series", "parallel"])
@given(ohms=st.lists(st.floats(5, 500), min_size=1, max_size=4))
def test_sound_elements_together_are_sound(wiring, ohms):
    tags = [Tag(ohms=o, below=0.05, above=0.1) for o in ohms]
    both = together(tags, wiring)
    total = sum(ohms) if wiring == "series" else 1 / sum(1 / o for o in ohms)
    assert both.ohms == pytest.approx(total)
    assert (both.below, both.above) == pytest.approx((0.05, 0.1))


def test_one_dead_element_of_two_in_parallel_is_seen():
    both = together([TAG, TAG], "parallel")
    assert judged(49.0, tag=both).outcome == "pass"
    assert judged(98.0, tag=both).outcome == "fail"


@pytest.mark.parametrize(
    "wrong",
    [{"ohms": 0}, {"below": 1}, {"below": 0}, {"above": 0}, {"lead_ohms": 98}, {"celsius": -300}],
    ids=repr,
)
def test_a_tag_that_is_none_is_refused(wrong):
    with pytest.raises(ImplausibleNumber):
        Tag(**{"ohms": 98.0, "below": 0.05, "above": 0.1, **wrong})
