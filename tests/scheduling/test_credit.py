"""What a stretch of temperature is worth: exact, monotone, additive, capped."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from scheduling.cure import (
    Arrhenius,
    Eurocode2,
    ImplausibleCure,
    NurseSaul,
    capped_rate,
    credit_hours,
    strength_fraction_ec2,
)

LAWS = [Arrhenius(5000, 20), Arrhenius(4000, 23), Eurocode2(), NurseSaul(-10, 20), NurseSaul(0, 23)]
laws = st.sampled_from(LAWS)
celsius = st.floats(-40, 70)
lowest = st.floats(-20, 25)
hours = st.floats(0, 500)


def credit(law, lowest_c, length, from_c, to_c):
    arrays = [np.array([value], dtype=float) for value in (length, from_c, to_c)]
    got = credit_hours(law, lowest_c=lowest_c, hours=arrays[0], from_c=arrays[1], to_c=arrays[2])
    return float(got[0])


def rule_1(law, lowest_c, celsius):
    """The integrand as the rule words it."""
    if celsius < lowest_c:
        return 0.0
    return min(1.0, law.rate(celsius) / law.rate(law.reference_c))


@given(law=laws, lowest_c=lowest, from_c=celsius, to_c=celsius)
def test_agrees_with_adaptive_quadrature_of_the_rule(law, lowest_c, from_c, to_c):
    kinks = [lowest_c, law.reference_c, law.nothing_below_c]
    shares = [(kink - from_c) / (to_c - from_c) for kink in kinks if abs(to_c - from_c) > 1e-6]
    wanted, _ = quad(
        lambda share: rule_1(law, lowest_c, from_c + share * (to_c - from_c)),
        0,
        1,
        points=[share for share in shares if 0 < share < 1] or None,
        limit=200,
        epsabs=1e-12,
        epsrel=1e-12,
    )
    assert credit(law, lowest_c, 1, from_c, to_c) == pytest.approx(wanted, abs=1e-9)


@given(law=laws, lowest_c=lowest, from_c=celsius, to_c=celsius, warmer_k=st.floats(0, 30))
def test_warmer_is_never_worth_less(law, lowest_c, from_c, to_c, warmer_k):
    from_warmer, to_warmer = min(from_c + warmer_k, 70), min(to_c + warmer_k, 70)
    cold = credit(law, lowest_c, 10, from_c, to_c)
    assert credit(law, lowest_c, 10, from_warmer, to_warmer) >= cold - 1e-9


@given(law=laws, lowest_c=lowest, length=hours, from_c=celsius, to_c=celsius, share=st.floats(0, 1))
def test_dividing_a_stretch_changes_nothing(law, lowest_c, length, from_c, to_c, share):
    middle_c = from_c + share * (to_c - from_c)
    whole = credit(law, lowest_c, length, from_c, to_c)
    first = credit(law, lowest_c, length * share, from_c, middle_c)
    second = credit(law, lowest_c, length * (1 - share), middle_c, to_c)
    assert first + second == pytest.approx(whole, abs=1e-7)


@given(law=laws, lowest_c=lowest, length=hours, from_c=celsius, to_c=celsius)
def test_an_hour_is_never_worth_more_than_an_hour(law, lowest_c, length, from_c, to_c):
    assert 0 <= credit(law, lowest_c, length, from_c, to_c) <= length * (1 + 1e-12)


@given(law=laws, steps=st.lists(st.tuples(hours, st.floats(-40, 80)), max_size=8))
def test_age_is_additive_over_time(law, steps):
    apart = math.fsum(law.equivalent_hours([step]) for step in steps)
    assert law.equivalent_hours(steps) == pytest.approx(apart, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("law", LAWS, ids=repr)
def test_at_its_reference_every_law_counts_real_hours(law):
    assert capped_rate(law, lowest_c=5, celsius=law.reference_c) == 1


@pytest.mark.parametrize("law", LAWS, ids=repr)
def test_the_lowest_usable_temperature_itself_still_counts(law):
    assert capped_rate(law, lowest_c=5, celsius=5) > 0
    assert capped_rate(law, lowest_c=5, celsius=math.nextafter(5, 0)) == 0


def test_a_lowest_temperature_above_the_reference_still_caps_at_one():
    assert credit(Arrhenius(5000, 20), 25, 10, 20, 30) == pytest.approx(5, abs=1e-12)


def test_eurocode_counts_nothing_below_freezing():
    assert Eurocode2().rate(-0.1) == 0
    assert credit(Eurocode2(), -20, 10, -5, -1) == 0


@pytest.mark.parametrize(
    "nonsense",
    [
        lambda: Arrhenius(activation_k=0),
        lambda: Arrhenius(activation_k=math.nan),
        lambda: Arrhenius(reference_c=200),
        lambda: NurseSaul(datum_c=20, reference_c=20),
        lambda: NurseSaul(datum_c=math.nan),
        lambda: Arrhenius().rate(200),
        lambda: Eurocode2().rate(math.nan),
        lambda: Eurocode2().equivalent_hours([(-1, 20)]),
        lambda: Eurocode2().equivalent_hours([(math.inf, 20)]),
        lambda: NurseSaul().maturity_c_hours([(1, 68.0 + 32)]),
        lambda: strength_fraction_ec2(-1, 0.25),
        lambda: strength_fraction_ec2(28, 0),
    ],
)
def test_nonsense_is_refused_with_a_reason(nonsense):
    with pytest.raises(ImplausibleCure) as refused:
        nonsense()
    assert isinstance(refused.value, ValueError)
    assert refused.value.detail
    assert refused.value.pointer.startswith("#/")


def test_no_strength_at_no_age():
    assert strength_fraction_ec2(0, 0.25) == 0
