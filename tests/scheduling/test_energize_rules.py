"""The energize decision, rule by rule of its file format, and as properties."""

import math
from bisect import bisect
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.errors import DomainError
from scheduling.cure import Arrhenius, Eurocode2, NurseSaul
from scheduling.energize import decide
from scheduling.floor import Evidence
from scheduling.forecast import Promise
from scheduling.moisture import MoistureLimit
from scheduling.temperatures import TemperatureRecord
from tests.scheduling.floors import PLACED_AT, decision, facts, layer, steady

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
NOW = PLACED_AT + 5 * DAY
CARBIDE = MoistureLimit(method="CM", limit=1.8, unit="CM-%")
MATERIAL = "#/layers/0/material"


def promise(celsius, *, days=30):
    return Promise(starts_at=NOW, ends_at=NOW + days * DAY, celsius=celsius)


def moisture(layer_id, value):
    return Evidence(kind="moisture", layer=layer_id, value=value, at=NOW)


def close_to(instant, hours, slack_s=2):
    """Within `slack_s` seconds of so many hours after placing."""
    return abs((instant - PLACED_AT).total_seconds() - hours * 3600) <= slack_s


class TestRule1ReadyWhenEquivalentHoursAreReached:
    def test_at_the_reference_it_takes_the_printed_hours_exactly(self):
        made = decision(layer(), readings=steady(20, hours=200), now=PLACED_AT + 200 * HOUR)
        assert made.layers[0].ready == made.earliest == PLACED_AT + 168 * HOUR
        assert made.earliest == made.likely == made.latest
        assert made.may_energize

    @pytest.mark.parametrize("law", [Arrhenius(), Eurocode2(), NurseSaul()], ids=repr)
    def test_warmth_never_shortens(self, law):
        warm = layer(law=law)
        made = decision(warm, readings=steady(30, hours=200), now=PLACED_AT + 200 * HOUR)
        assert made.layers[0].ready == PLACED_AT + 168 * HOUR
        assert made.layers[0].equivalent_hours == pytest.approx(200, abs=1e-9)

    def test_cold_lengthens_by_the_law(self):
        made = decision(layer(), readings=steady(10, hours=400), now=PLACED_AT + 400 * HOUR)
        assert close_to(made.layers[0].ready, 168 / Arrhenius().rate(10))

    def test_the_instant_is_found_inside_a_stretch(self):
        """Linear rate from 10 to 20 °C over 4 h: t + t²/8·... solved by hand for Nurse-Saul."""
        law = NurseSaul(datum_c=0, reference_c=20)
        rising = [(PLACED_AT, 10.0), (PLACED_AT + 4 * HOUR, 20.0)]
        thin = layer(law=law, heat_after_hours=1)
        made = decision(thin, readings=rising, now=PLACED_AT + 4 * HOUR)
        # Credit after t hours: 0.5 t + t²/16 = 1.
        assert close_to(made.layers[0].ready, -4 + math.sqrt(32), slack_s=1)

    def test_nothing_counts_below_the_lowest_usable_temperature(self):
        made = decision(layer(), readings=steady(4.9, hours=120), now=NOW)
        assert made.layers[0].equivalent_hours == 0

    def test_no_hours_needed_is_ready_when_placed(self):
        made = decision(layer(heat_after_hours=0), now=NOW)
        assert made.layers[0].ready == PLACED_AT

    def test_a_fraction_of_a_second_is_not_given_away(self):
        placed_at = PLACED_AT + timedelta(microseconds=500)
        readings = steady(20, start=placed_at - 4 * HOUR, hours=204)
        made = decision(layer(placed_at=placed_at), readings=readings, now=PLACED_AT + 204 * HOUR)
        assert made.earliest == PLACED_AT + 168 * HOUR + timedelta(seconds=1)

    def test_placed_right_now_has_everything_before_it(self):
        made = decision(layer(placed_at=NOW), now=NOW)
        assert made.layers[0].equivalent_hours == 0
        assert made.earliest == NOW + 168 * HOUR


class TestRule2Temperatures:
    def test_before_between_and_after_readings(self):
        law = NurseSaul(datum_c=0, reference_c=20)
        readings = [(PLACED_AT + hour * HOUR, 16.0) for hour in (10, 14, 30, 34)]
        made = decision(layer(law=law), readings=readings, now=PLACED_AT + 44 * HOUR)
        progress = made.layers[0]
        assert progress.unknown_hours == pytest.approx(10 + 16 + 10)
        assert progress.equivalent_hours == pytest.approx((8 * 16 + 36 * 8) / 20)

    def test_a_reading_warmer_than_the_assumption_does_not_warm_the_unknown(self):
        readings = [(PLACED_AT, 30.0)]
        made = decision(layer(), readings=readings, now=NOW)
        assert made.layers[0].equivalent_hours == pytest.approx(120 * Arrhenius().rate(8))

    def test_a_cold_reading_chills_the_unknown_beside_it(self):
        made = decision(layer(), readings=[(PLACED_AT + HOUR, 6.0)], now=NOW)
        assert made.layers[0].equivalent_hours == pytest.approx(120 * Arrhenius().rate(6))


class TestRule3EarliestLikelyLatest:
    def test_they_differ_only_after_now(self):
        made = decision(layer(), readings=steady(12, hours=120), now=NOW)
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.earliest, 120 + left)
        assert close_to(made.likely, 120 + left / Arrhenius().rate(12))
        assert close_to(made.latest, 120 + left / Arrhenius().rate(8))

    def test_as_promised_where_there_is_a_promise(self):
        promised = promise(18)
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, promises=[promised])
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.likely, 120 + left / Arrhenius().rate(18))
        assert close_to(made.latest, 120 + left / Arrhenius().rate(8))

    def test_after_the_promise_as_the_last_seven_days_went(self):
        promised = Promise(starts_at=NOW - DAY, ends_at=NOW + 24 * HOUR, celsius=18)
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, promises=[promised])
        left = 168 - 120 * Arrhenius().rate(12) - 24 * Arrhenius().rate(18)
        assert close_to(made.likely, 144 + left / Arrhenius().rate(12))

    def test_of_two_promises_the_colder_counts(self):
        promises = [promise(19), promise(15)]
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, promises=promises)
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.likely, 120 + left / Arrhenius().rate(15))

    def test_hours_of_the_day_are_local_and_repeat(self):
        """A room of 20 °C from 8 to 20 o'clock in Oslo and below use at night."""
        zone = ZoneInfo("Europe/Oslo")
        placed_at = datetime(2027, 3, 1, 8, tzinfo=zone).astimezone(UTC)
        now = datetime(2027, 3, 8, 8, tzinfo=zone).astimezone(UTC)
        readings = []
        for minutes in range(0, 7 * 24 * 60 + 1, 10):
            at = placed_at + timedelta(minutes=minutes)
            warm = 8 <= at.astimezone(zone).hour < 20
            readings.append((at, 20.0 if warm else 0.5))
        made = decision(
            layer(placed_at=placed_at, heat_after_hours=100), readings=readings, now=now
        )
        # Each day is worth its 12 warm hours, give or take the slopes at both ends; of the 16 h
        # that are left, 12 come today and 4 tomorrow from 8 o'clock.
        wanted = now + timedelta(hours=24 + 4)
        assert abs(made.likely - wanted) <= timedelta(minutes=5)

    def test_an_hour_of_the_day_that_is_unknown_counts_at_the_coldest(self):
        readings = [(NOW - 3 * HOUR, 20.0), (NOW, 20.0)]
        made = decision(layer(placed_at=NOW - HOUR), readings=readings, now=NOW)
        day = 3 + 21 * Arrhenius().rate(8)
        assert (made.likely - NOW) / HOUR == pytest.approx(167 / day * 24, abs=24)

    def test_nothing_known_makes_likely_the_latest(self):
        made = decision(layer(), now=NOW)
        assert made.likely == made.latest

    def test_an_old_reading_does_not_chill_the_latest(self):
        readings = [(PLACED_AT - 9 * DAY, -3.0), *steady(12, hours=120)]
        made = decision(layer(), readings=readings, now=NOW)
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.latest, 120 + left / Arrhenius().rate(8))

    def test_a_reading_just_seven_days_old_still_does(self):
        readings = [(NOW - 7 * DAY, 6.0), *steady(12, hours=120)]
        made = decision(layer(), readings=readings, now=NOW)
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.latest, 120 + left / Arrhenius().rate(6))

    def test_a_cold_promise_chills_likely_and_latest(self):
        promised = promise(6, days=90)
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, promises=[promised])
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.likely, 120 + left / Arrhenius().rate(6))
        assert made.latest == made.likely

    def test_a_cold_promise_chills_the_latest_throughout_though_it_is_short(self):
        short = Promise(starts_at=NOW - 2 * HOUR, ends_at=NOW - HOUR, celsius=6)
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, promises=[short])
        left = 168 - 120 * Arrhenius().rate(12)
        assert close_to(made.likely, 120 + left / Arrhenius().rate(12))
        assert close_to(made.latest, 120 + left / Arrhenius().rate(6))

    def test_a_future_too_cold_never_gets_there(self):
        made = decision(layer(), readings=steady(12, hours=120), now=NOW, assume_c=2)
        assert made.likely is not None
        assert made.latest is None
        assert made.earliest is not None

    def test_a_cold_forever_leaves_only_the_earliest(self):
        made = decision(layer(), readings=steady(3, hours=120), now=NOW, assume_c=2)
        assert (made.likely, made.latest) == (None, None)
        assert made.earliest == NOW + 168 * HOUR


class TestRule4TheLatestOfAllLayers:
    def test_the_slowest_layer_governs(self):
        made = decision(
            layer("bed"),
            layer("grout", placed_at=PLACED_AT + 2 * DAY),
            readings=steady(12, hours=120),
            now=NOW,
        )
        assert made.governed_by == "grout"
        assert [each.id for each in made.layers] == ["bed", "grout"]
        assert made.earliest == max(made.earliest, made.layers[0].ready or made.earliest)

    def test_one_layer_not_ready_forbids_heat(self):
        made = decision(
            layer("bed", heat_after_hours=24),
            layer("grout", placed_at=NOW - HOUR),
            readings=steady(20, hours=120),
            now=NOW,
        )
        assert made.layers[0].ready
        assert not made.may_energize
        assert made.holds == ()

    def test_no_layer_is_no_permission(self):
        made = decision(now=NOW)
        assert not made.may_energize
        assert (made.earliest, made.governed_by, made.layers) == (None, None, ())


class TestRule5Frost:
    @pytest.mark.parametrize("hours", [0, 10, 24])
    def test_a_frost_in_early_age_takes_the_date_away(self, hours):
        readings = [*steady(15, hours=240), (PLACED_AT + hours * HOUR, 0.0, "hand")]
        made = decision(layer(), readings=readings, now=PLACED_AT + 240 * HOUR)
        assert [(hold.code, hold.subject) for hold in made.holds] == [("frost", "bed")]
        assert (made.earliest, made.likely, made.latest) == (None, None, None)
        assert made.governed_by == "bed"
        assert not made.may_energize

    @pytest.mark.parametrize(
        ("hours", "celsius"), [(-1, -5.0), (24.01, -5.0), (10, 0.1)], ids=["before", "after", "not"]
    )
    def test_no_frost_outside_the_watch_or_above_freezing(self, hours, celsius):
        readings = [*steady(15, hours=240), (PLACED_AT + hours * HOUR, celsius, "hand")]
        made = decision(layer(), readings=readings, now=PLACED_AT + 240 * HOUR)
        assert made.holds == ()

    def test_somebody_who_looked_clears_it(self):
        readings = [*steady(20, hours=240), (PLACED_AT + 5 * HOUR, -1.0, "hand")]
        looked = Evidence(kind="frost-cleared", layer="bed", at=PLACED_AT + 30 * HOUR)
        told = {"readings": readings, "now": PLACED_AT + 240 * HOUR}
        assert decision(layer(), evidence=[looked], **told).may_energize
        too_soon = replace(looked, at=PLACED_AT + 4 * HOUR)
        assert not decision(layer(), evidence=[too_soon], **told).may_energize
        rejected = replace(looked, at=PLACED_AT + 31 * HOUR, outcome="fail")
        assert not decision(layer(), evidence=[looked, rejected], **told).may_energize


class TestRule6Holds:
    def made(self, *evidence, required=("check:laid", "sensor", "electrician"), **material):
        return decision(
            layer(**material),
            readings=steady(20, hours=200),
            now=PLACED_AT + 200 * HOUR,
            evidence=evidence,
            required=required,
        )

    def codes(self, *evidence, **told):
        return [(hold.code, hold.subject) for hold in self.made(*evidence, **told).holds]

    def test_every_missing_item_is_a_hold(self):
        assert self.codes() == [
            ("check-missing", "check:laid"),
            ("sensor-missing", "sensor"),
            ("electrician-missing", "electrician"),
        ]

    def test_nothing_missing_and_nothing_open_may_heat(self):
        shown = [
            Evidence(kind="check", stage="laid", at=PLACED_AT),
            Evidence(kind="sensor", at=PLACED_AT),
            Evidence(kind="electrician", at=PLACED_AT),
        ]
        assert self.made(*shown).may_energize

    @pytest.mark.parametrize(
        ("outcome", "code"), [("fail", "check-failed"), ("undecided", "check-undecided")]
    )
    def test_a_check_that_did_not_pass_is_one_hold(self, outcome, code):
        check = Evidence(kind="check", stage="laid", outcome=outcome, at=PLACED_AT)
        assert self.codes(check, required=["check:laid"]) == [(code, "check:laid")]

    def test_a_failed_check_that_nobody_required_is_a_hold(self):
        check = Evidence(kind="check", stage="service", outcome="fail", at=PLACED_AT)
        assert self.codes(check, required=[]) == [("check-failed", "check:service")]

    def test_the_latest_check_of_a_stage_counts_whatever_the_order(self):
        first = Evidence(kind="check", stage="laid", outcome="fail", at=PLACED_AT)
        again = replace(first, outcome="pass", at=PLACED_AT + HOUR)
        assert self.codes(first, again, required=["check:laid"]) == []
        assert self.codes(again, first, required=["check:laid"]) == []
        failed_again = replace(first, at=PLACED_AT + 2 * HOUR)
        found = self.codes(again, failed_again, first, required=["check:laid"])
        assert found == [("check-failed", "check:laid")]

    def test_of_two_checks_at_one_instant_the_worse_counts(self):
        good = Evidence(kind="check", stage="laid", at=PLACED_AT)
        bad = replace(good, outcome="undecided")
        for evidence in ([good, bad], [bad, good]):
            assert self.codes(*evidence, required=["check:laid"]) == [
                ("check-undecided", "check:laid")
            ]

    def test_an_open_fault_is_a_hold(self):
        fault = Evidence(kind="open-fault", at=PLACED_AT)
        assert self.codes(fault, fault, required=[]) == [("open-fault", "open-fault")]

    def test_moisture_missing_high_and_dry(self):
        wet = Evidence(kind="moisture", layer="bed", value=2.4, at=PLACED_AT + 100 * HOUR)
        dry = replace(wet, value=1.8, at=PLACED_AT + 150 * HOUR)
        told = {"required": [], "moisture": CARBIDE}
        assert self.codes(**told) == [("moisture-missing", "bed")]
        assert self.codes(dry, wet, **told) == []
        assert self.codes(wet, **told) == [("moisture-high", "bed")]
        wetter_again = replace(wet, at=PLACED_AT + 151 * HOUR)
        assert self.codes(dry, wetter_again, **told) == [("moisture-high", "bed")]

    def test_moisture_of_the_floor_before_or_by_another_method_says_nothing(self):
        dry = Evidence(kind="moisture", layer="bed", value=1.0, at=PLACED_AT + HOUR)
        told = {"required": [], "moisture": CARBIDE}
        assert self.codes(replace(dry, at=PLACED_AT - HOUR), **told)
        assert self.codes(replace(dry, method="RH"), **told)
        assert self.codes(replace(dry, method="CM"), **told) == []

    def test_moisture_holds_leave_the_date(self):
        made = self.made(required=[], moisture=CARBIDE)
        assert made.earliest == PLACED_AT + 168 * HOUR
        assert not made.may_energize

    def test_every_hold_says_who_clears_it(self):
        for hold in self.made(moisture=CARBIDE).holds:
            assert hold.text.endswith(".")
            assert hold.cleared_by.endswith(".")


class TestRule7Nonsense:
    @pytest.mark.parametrize(
        ("pointer", "told"),
        [
            ("#/now", {"now": NOW.replace(tzinfo=None)}),
            ("#/assume_c", {"assume_c": 200}),
            ("#/assume_c", {"assume_c": math.nan}),
            ("#/max_gap_hours", {"max_gap_hours": -1}),
            ("#/layers/0/placed_at", {"layers": [layer(placed_at=NOW + HOUR)]}),
            ("#/layers/0/placed_at", {"layers": [layer(placed_at=NOW.replace(tzinfo=None))]}),
            (f"{MATERIAL}/heat_after_hours", {"layers": [layer(heat_after_hours=-1)]}),
            (f"{MATERIAL}/heat_after_hours", {"layers": [layer(heat_after_hours=math.inf)]}),
            (f"{MATERIAL}/frost_watch_hours", {"layers": [layer(frost_watch_hours=-1)]}),
            (f"{MATERIAL}/walk_after_hours", {"layers": [layer(walk_after_hours=-1)]}),
            (f"{MATERIAL}/lowest_c", {"layers": [layer(lowest_c=-41)]}),
            ("#/layers/1/id", {"layers": [layer(), layer()]}),
            ("#/promises/0/celsius", {"promises": [promise(71)]}),
            ("#/promises/0/to", {"promises": [Promise(starts_at=NOW, ends_at=NOW, celsius=18)]}),
            ("#/evidence/0/at", {"evidence": [Evidence(kind="sensor", at=NOW + HOUR)]}),
            ("#/evidence/0/layer", {"evidence": [moisture("x", 1)]}),
            ("#/evidence/0/value", {"evidence": [moisture("bed", -1)]}),
        ],
    )  # fmt: skip
    def test_is_refused_with_field_and_reason(self, pointer, told):
        given_facts = facts(layer(), readings=(), now=NOW)
        with pytest.raises(DomainError) as refused:
            decide(replace(given_facts, **told))
        assert refused.value.pointer == pointer
        assert refused.value.detail.endswith(".")


# Properties -------------------------------------------------------------------------------

hours_st = st.integers(-24, 24 * 9)
readings_st = st.lists(st.tuples(hours_st, st.floats(-5, 35)), max_size=40)
laws_st = st.sampled_from([Arrhenius(), Eurocode2(), NurseSaul(0, 20)])
materials_st = st.fixed_dictionaries(
    {
        "law": laws_st,
        "lowest_c": st.sampled_from([0, 5, 10]),
        "heat_after_hours": st.integers(0, 300),
        "frost_watch_hours": st.just(0),
    }
)
promises_st = st.lists(
    st.tuples(st.integers(-48, 240), st.integers(1, 240), st.floats(2, 30)), max_size=3
).map(
    lambda rows: [
        Promise(
            starts_at=PLACED_AT + start * HOUR,
            ends_at=PLACED_AT + (start + length) * HOUR,
            celsius=celsius,
        )
        for start, length, celsius in rows
    ]
)
LATE = PLACED_AT + 9 * DAY
NEVER = datetime.max.replace(tzinfo=UTC)


def told(rows, source="a"):
    return [(PLACED_AT + hour * HOUR, celsius, source) for hour, celsius in rows]


def dated(date):
    return date or NEVER


@given(rows=readings_st, material=materials_st, promises=promises_st, assume_c=st.floats(0, 20))
def test_dates_are_in_order_and_never_before_a_printed_minimum(rows, material, promises, assume_c):
    made = decision(
        layer(**material), readings=told(rows), now=LATE, promises=promises, assume_c=assume_c
    )
    (progress,) = made.layers
    assert progress.equivalent_hours <= 9 * 24 + 1e-9
    if made.holds:
        assert made.earliest is made.likely is made.latest is None
        assert not made.may_energize
    else:
        assert dated(made.earliest) <= dated(made.likely) <= dated(made.latest)
        assert made.earliest >= PLACED_AT + material["heat_after_hours"] * HOUR
        assert made.may_energize == bool(progress.ready)
    if progress.ready and not made.holds:
        assert made.earliest == made.likely == made.latest == progress.ready <= LATE
    if not progress.ready:
        assert progress.equivalent_hours < progress.required_hours


@given(rows=readings_st, material=materials_st, warmer_k=st.floats(0, 20))
def test_warmer_readings_never_move_a_date_later(rows, material, warmer_k):
    warmer = [(hour, celsius + warmer_k) for hour, celsius in rows]
    cold = decision(layer(**material), readings=told(rows), now=LATE, assume_c=5)
    warm = decision(layer(**material), readings=told(warmer), now=LATE, assume_c=5)
    for name in ("earliest", "likely", "latest"):
        assert dated(getattr(warm, name)) <= dated(getattr(cold, name))


@given(
    hours=st.sets(hours_st, min_size=1, max_size=30),
    more=st.sets(hours_st, max_size=30),
    celsius=st.floats(6, 30),
    material=materials_st,
)
def test_more_evidence_of_equal_value_never_moves_the_latest_later(hours, more, celsius, material):
    recent = {24 * 9}
    few = told((hour, celsius) for hour in hours | recent)
    many = told((hour, celsius) for hour in hours | more | recent)
    before = decision(layer(**material), readings=few, now=LATE).latest
    after = decision(layer(**material), readings=many, now=LATE).latest
    assert dated(after) <= dated(before)


@given(rows=readings_st, material=materials_st, seed=st.integers(0, 99))
def test_order_and_repeats_of_readings_do_not_matter(rows, material, seed):
    shuffled = told(rows) * 2
    Random(seed).shuffle(shuffled)
    one = decision(layer(**material), readings=told(rows), now=LATE)
    assert one == decision(layer(**material), readings=shuffled, now=LATE)


@settings(max_examples=25)
@given(rows=readings_st, material=materials_st)
def test_agrees_with_the_rules_worked_out_minute_by_minute(rows, material):
    made = decision(layer(**material), readings=told(rows), now=LATE)
    by_hour = {}
    for hour, celsius in rows:
        by_hour[hour] = min(celsius, by_hour.get(hour, celsius))
    law, total, unknown = material["law"], 0.0, 0
    known_hours = sorted(by_hour)
    for step in range(9 * 24 * 20):
        hour = (step + 0.5) / 20
        at = bisect(known_hours, hour)
        ends = [by_hour[each] for each in known_hours[max(at - 1, 0) : at + 1]]
        inside = 0 < at < len(known_hours)
        if inside and known_hours[at] - known_hours[at - 1] <= 6:
            share = (hour - known_hours[at - 1]) / (known_hours[at] - known_hours[at - 1])
            celsius = ends[0] + share * (ends[1] - ends[0])
        else:
            celsius = min([8, *ends[:1]] if at in (0, len(known_hours)) else [8, *ends])
            unknown += 1
        if celsius >= material["lowest_c"]:
            total += min(1, law.rate(celsius) / law.rate(20))
    (progress,) = made.layers
    assert progress.equivalent_hours == pytest.approx(total / 20, abs=0.15)
    assert progress.unknown_hours == pytest.approx(unknown / 20, abs=1e-6)


def test_a_night_with_a_clock_change_is_24_real_hours():
    """Europe/Oslo, 28 March 2027: 24 h from 20:00 end at 21:00 on the wall."""
    zone = ZoneInfo("Europe/Oslo")
    placed_at = datetime(2027, 3, 27, 20, tzinfo=zone)
    made = decision(
        layer(placed_at=placed_at, heat_after_hours=24),
        readings=steady(20, start=placed_at.astimezone(UTC), hours=48),
        now=placed_at.astimezone(UTC) + 48 * HOUR,
    )
    assert made.earliest.astimezone(zone) == datetime(2027, 3, 28, 21, tzinfo=zone)


def test_a_source_that_is_warmer_at_other_times_does_not_hurry():
    cold = steady(10.0, hours=120, source="floor")
    warm = steady(22.0, start=PLACED_AT + 2 * HOUR, hours=112, source="wall")
    alone = decision(layer(), readings=cold, now=NOW)
    both = decision(layer(), readings=[*cold, *warm], now=NOW)
    assert both.earliest == alone.earliest
    assert any("differ by up to 12.0 K" in sentence for sentence in both.because)


def test_a_record_after_now_is_refused_however_it_was_made():
    record = TemperatureRecord.of([(NOW, 18.0, "a")], not_after=NOW)
    earlier = facts(layer(), now=NOW - HOUR)
    with pytest.raises(DomainError) as refused:
        decide(replace(earlier, temperatures=record))
    assert refused.value.pointer == "#/temperatures"
