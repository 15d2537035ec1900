from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.circuits import (
    ImpossibleCircuit,
    Load,
    Supply,
    box_fill_in3,
    breaker_a,
    check,
    continuous_a,
    copper_ohms_per_m,
    current_a,
    least_groups,
    voltage_drop,
)
from jobs.code_profiles import IEC_TYPE, PROFILES, US_TYPE, Source

MAT = Load(name="M-31", watts=1500, volts=240)
BOX = US_TYPE.box_volume_in3


def outcomes(found):
    return {finding.rule: finding.outcome for finding in found.findings}


@given(st.sampled_from(US_TYPE.breaker_sizes_a), st.integers(1, 7))
def test_float_dust_does_not_push_up_a_breaker(size, parts):
    summed = sum([size / parts] * parts)
    assert breaker_a(summed, US_TYPE.breaker_sizes_a) == size
    assert breaker_a(size / 1.25 * 1.25, US_TYPE.breaker_sizes_a) == size


@given(st.floats(0, 100), st.permutations(US_TYPE.breaker_sizes_a))
def test_a_breaker_is_the_least_that_carries(amps, sizes):
    chosen = breaker_a(amps, sizes)
    assert chosen >= amps * (1 - 1e-9)
    assert all(size < amps for size in sizes if size < chosen)


def test_more_than_the_largest_breaker_is_refused_in_words():
    with pytest.raises(ImpossibleCircuit, match=r"carries 21\.00 A\. Divide the load"):
        breaker_a(21, [15, 20])
    with pytest.raises(ImpossibleCircuit):
        breaker_a(1, [])


@pytest.mark.parametrize("bad", [-1, float("nan"), float("inf")])
def test_nonsense_is_refused(bad):
    for ask in (
        lambda: current_a(bad, 240),
        lambda: current_a(1500, bad),
        lambda: continuous_a(bad, 1.25),
        lambda: continuous_a(1, bad),
        lambda: breaker_a(bad, [15]),
        lambda: breaker_a(1, [bad]),
        lambda: voltage_drop(bad, 30, ohms_per_m=0.005),
        lambda: voltage_drop(20, bad, ohms_per_m=0.005),
        lambda: voltage_drop(20, 30, ohms_per_m=bad),
        lambda: voltage_drop(20, 30, cmil=bad),
        lambda: copper_ohms_per_m(bad),
    ):
        with pytest.raises(ValueError, match=r"cannot be below|must be above"):
            ask()


def test_a_volt_of_nothing_is_refused():
    with pytest.raises(ImpossibleCircuit):
        current_a(1500, 0)


def test_the_conductor_is_given_one_way():
    for both in ({}, {"ohms_per_m": 0.005, "cmil": 6530}):
        with pytest.raises(ImpossibleCircuit, match="ohms per metre or as circular mils"):
            voltage_drop(20, 30, **both)


@given(st.floats(0, 60), st.floats(0, 200), st.floats(0.0005, 0.02))
def test_the_drop_is_there_and_back(amps, metres, ohms_per_m):
    drop = voltage_drop(amps, metres, ohms_per_m=ohms_per_m)
    assert drop == pytest.approx(2 * amps * metres * ohms_per_m)
    assert voltage_drop(amps, 2 * metres, ohms_per_m=ohms_per_m) == pytest.approx(2 * drop)


def test_grounds_above_four_take_a_quarter_each():
    fill = {"conductors": {}, "devices": (), "inside_clamps": False, "volume_in3": BOX}
    assert box_fill_in3(grounds=["12 AWG"] * 4, **fill) == 2.25
    assert box_fill_in3(grounds=["12 AWG"] * 6, **fill) == 2.25 + 2 * 2.25 / 4
    before_2020 = box_fill_in3(grounds=["12 AWG"] * 6, each_ground_above_four=False, **fill)
    assert before_2020 == 2.25


def test_an_unknown_conductor_in_a_box_is_refused():
    with pytest.raises(ImpossibleCircuit, match="No box volume is known for 3 AWG"):
        box_fill_in3(
            conductors={"3 AWG": 2}, grounds=(), devices=(), inside_clamps=True, volume_in3=BOX
        )


def test_the_sum_is_shown_and_never_called_compliant():
    found = check([MAT], Supply(volts=240, one_way_m=18), US_TYPE)
    (circuit,) = found.circuits
    assert (circuit.amps, circuit.continuous_a) == (6.25, 7.8125)
    assert (circuit.breaker_a, circuit.conductor) == (15, "14 AWG")
    assert "licensed electrician decides" in found.caution
    said = " ".join([*(one.because for one in found.findings), found.caution, *found.not_checked])
    for word in ("compliant", "safe", "OK"):
        assert word not in said.split()


def test_what_was_not_looked_up_is_never_said_to_hold():
    for profile in PROFILES.values():
        loads = [Load(name="x", watts=700, volts=230, w_per_m2=120, w_per_m=12)]
        supply = Supply(volts=230, one_way_m=10, breaker_a=16, control_rating_a=16, leakage_ma=5)
        for finding in check(loads, supply, profile).findings:
            if "from memory" in finding.source:
                assert finding.outcome != "holds"


def test_every_rule_names_its_source():
    for profile in PROFILES.values():
        sources = [
            getattr(profile, one.name) for one in fields(profile) if one.name.endswith("_source")
        ]
        assert all(source is None or source.text for source in sources)
        assert profile.continuous_source.text
        assert profile.leakage_source.text
    assert str(Source(text="a table", looked_up=False)) == "a table (from memory; look it up)"


def test_what_is_not_known_is_said_not_to_be_checked():
    bare = check([MAT], Supply(volts=240), US_TYPE).not_checked
    for missing in ("the breaker in place", "the control's rating", "local amendments to the code"):
        assert missing in bare
    known = Supply(
        volts=240, one_way_m=9, breaker_a=20, conductor="12 AWG", control_rating_a=15, leakage_ma=5
    )
    assert check([MAT], known, US_TYPE).not_checked == US_TYPE.not_checked


@pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES)
def test_a_profile_without_a_limit_of_power_says_that_it_was_not_checked(profile):
    load = Load(name="x", watts=700, volts=230, w_per_m2=900, w_per_m=90)
    found = check([load], Supply(volts=230), profile)
    judged = {"Power over floor", "Power of the wire"} <= set(outcomes(found))
    said = any(one.startswith("power over the floor and of the wire") for one in found.not_checked)
    assert judged != said


def test_elements_are_shared_out_over_the_fewest_circuits_and_controls():
    loads = [Load(name=f"M-{at}", watts=watts, volts=240) for at, watts in
             enumerate((2400, 2200, 1800, 1700, 1500))]  # fmt: skip
    found = check(loads, Supply(volts=240, control_rating_a=15), US_TYPE)
    assert len(found.circuits) == 2  # 40 A of load; 24 A each for hours
    assert sorted(name for circuit in found.circuits for name in circuit.loads) == [
        "M-0", "M-1", "M-2", "M-3", "M-4",
    ]  # fmt: skip
    assert found.controls == 4  # 15 A each; only two of them go together
    assert outcomes(found)["Control"] == "fails"


@given(st.lists(st.floats(0.5, 10), max_size=7))
def test_least_groups_is_as_good_as_trying_everything(sizes):
    groups = [group for group in least_groups(sizes, 10) if group]
    assert sorted(index for group in groups for index in group) == list(range(len(sizes)))
    assert all(sum(sizes[index] for index in group) <= 10 + 1e-6 for group in groups)
    assert len(groups) == fewest(tuple(sizes), 10)


def fewest(sizes, capacity):
    """Every way to share out, one size after another."""
    best = len(sizes)

    def put(at, sums):
        nonlocal best
        if len(sums) >= best:
            return
        if at == len(sizes):
            best = len(sums)
            return
        for index, total in enumerate(sums):
            if total + sizes[at] <= capacity * (1 + 1e-9):
                put(at + 1, [*sums[:index], total + sizes[at], *sums[index + 1 :]])
        put(at + 1, [*sums, sizes[at]])

    put(0, [])
    return best


def test_what_hangs_on_the_circuit_already_counts():
    shared = check([MAT], Supply(volts=240, other_a=10), US_TYPE)
    assert shared.circuits[0].amps == 16.25
    full = check([MAT], Supply(volts=240, other_a=23), US_TYPE)
    assert full.circuits[0].amps == 6.25  # a circuit of its own


def test_an_element_for_another_voltage_gives_power_by_volts_squared():
    found = check([MAT], Supply(volts=208), US_TYPE)
    assert outcomes(found)["Voltage"] == "fails"
    assert found.circuits[0].amps == pytest.approx(5.4167, abs=1e-4)
    because = next(one.because for one in found.findings if one.rule == "Voltage")
    assert "1127 W of its 1500 W" in because


def test_too_thin_too_long_and_too_small_fail():
    load = [Load(name="M-60", watts=3600, volts=240)]
    supply = Supply(volts=240, one_way_m=150, conductor="14 AWG", breaker_a=15)
    found = outcomes(check(load, supply, US_TYPE))
    assert found["Conductor"] == found["Voltage drop"] == found["Breaker in place"] == "fails"


def test_a_breaker_too_large_for_the_conductor_in_place_fails():
    supply = Supply(volts=240, conductor="14 AWG", breaker_a=20)
    assert outcomes(check([MAT], supply, US_TYPE))["Conductor"] == "fails"


def test_a_single_element_above_the_control_takes_a_relay():
    load = [Load(name="M-60", watts=4200, volts=240)]
    found = check(load, Supply(volts=240, control_rating_a=15), US_TYPE)
    assert found.controls is None
    (control,) = [one for one in found.findings if one.rule == "Control"]
    assert "relay" in control.because


def test_densities_are_held_against_the_profile_that_has_them():
    hot = Load(name="M", watts=900, volts=240, w_per_m2=170, w_per_m=60)
    assert outcomes(check([hot], Supply(volts=240), US_TYPE))["Power over floor"] == "fails"
    assert outcomes(check([hot], Supply(volts=240), US_TYPE))["Power of the wire"] == "fails"
    iec = outcomes(
        check([Load(name="M", watts=9, volts=230, w_per_m2=170)], Supply(volts=230), IEC_TYPE)
    )
    assert "Power over floor" not in iec


@pytest.mark.parametrize(
    ("loads", "supply", "says"),
    [
        ([], Supply(volts=240), "no element"),
        ([Load(name="M", watts=9000, volts=240)], Supply(volts=240), "Choose smaller elements"),
        ([MAT], Supply(volts=240, conductor="2.5 mm²"), "not a conductor of the profile"),
        ([MAT], Supply(volts=0), "must be above"),
        ([Load(name="M", watts=100, volts=0)], Supply(volts=240), "must be above"),
        ([MAT], Supply(volts=240, control_rating_a=0), "must be above"),
    ],
)
def test_impossible_circuits_are_refused_in_words(loads, supply, says):
    with pytest.raises(ImpossibleCircuit, match=says):
        check(loads, supply, US_TYPE)
