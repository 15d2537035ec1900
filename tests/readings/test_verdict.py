import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from readings.verdict import NoLimits, acceptance, judge, probability_inside

value = st.floats(-200, 200)
u = st.floats(0, 50)
limits = st.tuples(st.floats(-100, 100), st.floats(0.1, 100)).map(lambda p: (p[0], p[0] + p[1]))
one_or_two = st.one_of(
    limits, limits.map(lambda pair: (pair[0], None)), limits.map(lambda pair: (None, pair[1]))
)
confidence = st.floats(0.5, 0.999)


@given(value=value, u=u, limits=one_or_two, confidence=confidence)
def test_never_a_pass_outside_the_limits(value, u, limits, confidence):
    low, high = limits
    if judge(value, u, low, high, confidence).outcome == "pass":
        assert low is None or value >= low
        assert high is None or value <= high


@given(value=value, u=u, limits=one_or_two, confidence=confidence)
def test_never_a_fail_in_the_middle_of_the_limits(value, u, limits, confidence):
    low, high = limits
    if judge(value, u, low, high, confidence).outcome == "fail":
        inside = (low is None or value > low) and (high is None or value < high)
        # In a band narrower than the doubt even its middle is likelier outside than in.
        assert not inside or (None not in limits and high - low < 4 * u)


RANK = {"pass": 2, "undecided": 1, "fail": 0}


@given(near=st.floats(0, 100), further=st.floats(0, 100), u=u, limits=limits, confidence=confidence)
def test_further_from_the_middle_is_never_better(near, further, u, limits, confidence):
    low, high = limits
    near, further = sorted((near, further))
    middle = (low + high) / 2
    outcomes = [judge(middle + d, u, low, high, confidence).outcome for d in (near, further)]
    assert RANK[outcomes[0]] >= RANK[outcomes[1]]


@given(value=value, u=st.floats(0.001, 50), limits=one_or_two, confidence=confidence)
def test_a_better_meter_never_turns_a_verdict_around(value, u, limits, confidence):
    low, high = limits
    coarse = judge(value, u, low, high, confidence).outcome
    fine = judge(value, u / 2, low, high, confidence).outcome
    if coarse == "fail":
        # Too narrow a band fails everything on a coarse meter; a finer one may see the middle.
        assume(None in limits or high - low > 4 * u)
    assert coarse in (fine, "undecided")


@given(value=value, u=st.floats(0.001, 50), limits=one_or_two)
def test_more_confidence_decides_less(value, u, limits):
    assert judge(value, u, *limits, confidence=0.99).outcome in (
        judge(value, u, *limits, confidence=0.9).outcome,
        "undecided",
    )


@given(value=value, u=u, limits=limits)
def test_probabilities_of_three_parts_sum_to_one(value, u, limits):
    low, high = limits
    assume(u > 0)
    parts = (
        probability_inside(value, u, high=low)
        + probability_inside(value, u, low, high)
        + probability_inside(value, u, low=high)
    )
    assert parts == pytest.approx(1, abs=1e-12)


@given(u=st.floats(0.01, 5), limits=one_or_two, confidence=st.floats(0.6, 0.99))
def test_the_acceptance_limits_pass_and_just_beyond_does_not(u, limits, confidence):
    found = acceptance(u, *limits, confidence)
    assume(found is not None)
    for edge, outwards in zip(found, (-1, 1), strict=True):
        if math.isfinite(edge):
            assert judge(edge, u, *limits, confidence).outcome == "pass"
            beyond = edge + outwards * 1e-4 * u
            assert judge(beyond, u, *limits, confidence).outcome != "pass"


@pytest.mark.parametrize("one_sided", [{"high": 52.8}, {"high": 52.8, "low": 40.0}])
def test_exactly_on_the_guarded_limits_the_verdict_is_given(one_sided):
    guard = 1.6448536269514722 * 0.3
    assert judge(52.8 - guard, 0.3, **one_sided).outcome == "pass"
    assert judge(52.8 - guard + 1e-6, 0.3, **one_sided).outcome == "undecided"
    assert judge(52.8 + guard, 0.3, **one_sided).outcome == "fail"
    assert judge(52.8 + guard - 1e-6, 0.3, **one_sided).outcome == "undecided"


@pytest.mark.parametrize(
    ("value", "outcome"), [(47.5, "pass"), (48.5, "pass"), (47.4999, "fail"), (48.5001, "fail")]
)
def test_without_uncertainty_the_limits_themselves_pass(value, outcome):
    found = judge(value, 0, 47.5, 48.5)
    assert (found.outcome, found.probability) == (outcome, float(outcome == "pass"))


def test_a_verdict_carries_its_figures_and_its_reason():
    found = judge(52.50, 0.30, high=52.80)
    assert found.probability == pytest.approx(0.8413, abs=1e-4)
    assert found.expanded_uncertainty == pytest.approx(0.60)
    assert "cannot tell" in found.because
    assert "52.8" in found.because


@pytest.mark.parametrize(
    "given",
    [
        {"value": math.nan},
        {"value": math.inf},
        {"value": True},
        {"value": None},
        {"standard_uncertainty": -0.1},
        {"standard_uncertainty": math.nan},
        {"standard_uncertainty": math.inf},
        {"low": 60},
        {"low": 52.8},
        {"low": math.nan},
        {"high": math.inf},
        {"low": None, "high": None},
        {"confidence": 0.49},
        {"confidence": 1},
        {"confidence": 95},
        {"confidence": math.nan},
    ],
    ids=repr,
)
def test_nonsense_is_refused(given):
    sane = {"value": 50.0, "standard_uncertainty": 0.3, "low": 40.0, "high": 52.8}
    with pytest.raises(ValueError, match=r"."):
        judge(**{**sane, **given})


def test_no_limits_at_all_is_refused():
    with pytest.raises(NoLimits):
        probability_inside(50, 0.3)
