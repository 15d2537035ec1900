import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings import fault
from readings.fault import InconsistentReadings, bridge, core_to_core, core_to_ground, open_core
from readings.instruments import Range

loop = st.floats(5, 500)
share = st.floats(0, 1)


@given(loop=loop, x=share, at_fault=st.floats(0, 1e4))
def test_a_fault_to_ground_is_found_where_it_was_put(loop, x, at_fault):
    found = core_to_ground(loop, x * loop + at_fault, (1 - x) * loop + at_fault)
    assert found.fraction == pytest.approx(x, abs=1e-9)
    assert found.fault_ohms == pytest.approx(at_fault, abs=1e-6)


@given(loop=loop, x=st.floats(0.001, 0.999), scale=st.floats(0.1, 1e4))
def test_a_bridge_finds_it_whatever_the_arms(loop, x, scale):
    assert bridge(loop, x * scale, (1 - x) * scale).fraction == pytest.approx(x, abs=1e-9)


@given(loop=loop, x=st.floats(0, 0.5), ratio=st.floats(0.1, 10))
def test_a_dial_finds_it_whatever_the_ratio(loop, x, ratio):
    dial = (loop - x * loop) / ratio - x * loop
    if dial >= 0:
        found = fault.bridge_with_dial(loop, dial, ratio)
        assert found.ohms_to_fault == pytest.approx(x * loop, abs=1e-6)


@given(loop=loop, x=share)
def test_a_short_between_cores_is_found(loop, x):
    assert core_to_core(loop, x * loop).fraction == pytest.approx(x, abs=1e-9)


@given(x=st.floats(0.001, 0.999), nanofarads=st.floats(0.1, 100))
def test_an_open_core_is_found_by_its_capacitance(x, nanofarads):
    found = open_core(x * nanofarads, (1 - x) * nanofarads)
    assert found.fraction == pytest.approx(x, abs=1e-9)


SANE = {
    core_to_ground: {"loop_ohms": 48.0, "from_a_ohms": 39.4, "from_b_ohms": 58.6},
    bridge: {"loop_ohms": 54.07, "arm_a": 332.0, "arm_b": 668.0},
    core_to_core: {"healthy_ohms": 48.0, "measured_ohms": 12.0},
    open_core: {"capacitance_a": 3.0, "capacitance_b": 7.0},
}


@pytest.mark.parametrize("method", SANE, ids=lambda method: method.__name__)
@pytest.mark.parametrize("wrong", [math.nan, math.inf, -1.0, True, None, "12"], ids=repr)
def test_nonsense_is_refused_in_every_place(method, wrong):
    for name in SANE[method]:
        with pytest.raises(ValueError, match=r"."):
            method(**{**SANE[method], name: wrong})


@pytest.mark.parametrize(
    ("method", "name"),
    [
        (core_to_ground, "loop_ohms"),
        (bridge, "loop_ohms"),
        (bridge, "arm_a"),
        (bridge, "arm_b"),
        (core_to_core, "healthy_ohms"),
        (open_core, "capacitance_a"),
    ],
    ids=lambda part: getattr(part, "__name__", part),
)
def test_zero_is_refused_where_nothing_is_zero(method, name):
    with pytest.raises(ValueError, match="above zero"):
        method(**{**SANE[method], name: 0})


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: core_to_ground(48.0, 20.0, 22.0),  # a fault of -3 ohms
        lambda: core_to_ground(48.0, 100.0, 40.0),  # 1.125 of the way
        lambda: core_to_ground(48.0, 40.0, 100.0),
        lambda: core_to_core(48.0, 49.0),
        lambda: fault.bridge_with_dial(48.0, 49.0),
    ],
)
def test_readings_that_no_fault_explains_are_refused(impossible):
    with pytest.raises(InconsistentReadings):
        impossible()


def test_what_the_meter_may_be_wrong_is_forgiven():
    with pytest.raises(InconsistentReadings):
        core_to_ground(48.0, 19.9, 28.0)
    found = core_to_ground(48.0, 19.9, 28.0, u_loop_ohms=0.1, u_from_a_ohms=0.1, u_from_b_ohms=0.1)
    assert found.fault_ohms == 0
    assert found.fraction == pytest.approx(39.9 / 96)


def test_ninety_five_percent_means_ninety_five_percent():
    """4 000 planted faults read with normal noise of the stated u; 1.96 u holds 95 % of them."""
    random, meter, hits, trials = Random(7), Range(200, 0.1, 0.5, 2), 0, 4_000
    for _ in range(trials):
        core, x, at_fault = (
            random.uniform(20, 120),
            random.uniform(0.05, 0.95),
            random.uniform(5, 60),
        )
        truth = core, x * core + at_fault, (1 - x) * core + at_fault
        u = [meter.standard_uncertainty_ohms(ohms) for ohms in truth]
        read = [random.gauss(ohms, s) for ohms, s in zip(truth, u, strict=True)]
        found = core_to_ground(*read, u_loop_ohms=u[0], u_from_a_ohms=u[1], u_from_b_ohms=u[2])
        hits += abs(found.fraction - x) <= 1.96 * found.u_fraction
    # Three standard errors of a rate of 0.95 in 4 000 trials are 0.010.
    assert hits / trials == pytest.approx(0.95, abs=0.0104)


def places(estimate, **given):
    return fault.places(
        estimate, **{"loop_ohms": 48.0, "length_m": 60.0, "construction": "single", **given}
    )


def test_in_a_single_core_the_fraction_is_the_place():
    (place,) = places(core_to_ground(48.0, 39.4, 58.6))
    assert place.metres == pytest.approx(18.0)


def test_unmarked_ends_leave_two_candidates():
    near, far = places(core_to_ground(48.0, 39.4, 58.6), ends_known=False)
    assert (near.metres, far.metres) == pytest.approx((18.0, 42.0))


def test_in_a_twin_with_equal_cores_the_path_runs_out_and_back():
    """0.3 and 0.7 of the path are the same metre, in different cores."""
    (out,) = places(core_to_ground(48.0, 39.4, 58.6), construction="twin-equal")
    (back,) = places(core_to_ground(48.0, 58.6, 39.4), construction="twin-equal")
    assert out.metres == pytest.approx(36.0)
    assert back.metres == pytest.approx(36.0)
    assert out.core != back.core


def test_a_fault_in_a_return_core_without_ohms_has_no_place():
    (heating,) = places(core_to_ground(48.0, 39.4, 58.6), construction="twin-return")
    assert heating.metres == pytest.approx(18.0)
    end, anywhere = places(core_to_ground(48.0, 73.0, 25.0), construction="twin-return")
    assert end.metres == pytest.approx(60.0)
    assert (anywhere.from_m, anywhere.to_m) == (0, 60)


def test_cold_leads_are_not_part_of_the_way():
    estimate = core_to_ground(50.0, 1.0 + 14.4 + 25, 1.0 + 33.6 + 25)
    (place,) = places(estimate, loop_ohms=50.0, lead_a_ohms=1.0, lead_b_ohms=1.0)
    assert place.metres == pytest.approx(18.0)
    (lead,) = places(
        core_to_ground(50.0, 25.4, 49.6 + 25), loop_ohms=50.0, lead_a_ohms=1.0, lead_b_ohms=1.0
    )
    assert lead.part == "cold-lead"
    assert lead.metres == 0


def test_a_short_between_cores_is_at_its_share_of_the_length():
    for construction in ("twin-equal", "twin-return"):
        (place,) = places(
            core_to_core(50.0, 14.0),
            loop_ohms=50.0,
            lead_a_ohms=1.0,
            lead_b_ohms=1.0,
            construction=construction,
        )
        assert place.metres == pytest.approx(15.0)
    with pytest.raises(InconsistentReadings, match="no second core"):
        places(core_to_core(50.0, 14.0))


def test_leads_with_more_ohms_than_the_loop_are_refused():
    with pytest.raises(InconsistentReadings, match="cold leads"):
        places(core_to_ground(48.0, 39.4, 58.6), lead_a_ohms=30.0, lead_b_ohms=20.0)


@given(
    x=share,
    u=st.floats(0, 0.1),
    construction=st.sampled_from(["single", "twin-equal", "twin-return"]),
)
def test_a_place_lies_on_the_cable_and_in_its_own_band(x, u, construction):
    estimate = fault.FaultEstimate(fraction=x, u_fraction=u, because="")
    for place in places(estimate, construction=construction):
        assert 0 <= place.from_m <= place.metres <= place.to_m <= 60
