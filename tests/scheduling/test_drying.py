"""Drying beside curing: damp and cold lengthen, nothing shortens, unknown is damp."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.errors import DomainError
from scheduling.chart import cure_chart
from scheduling.drying import Evaporation, HumidityRecord, damp_course
from scheduling.energize import decide
from scheduling.facts import decision_to_tree, facts_from_tree, facts_to_tree
from scheduling.floor import Evidence
from scheduling.moisture import Drying, MoistureLimit
from scheduling.whatif import suppose
from tests.scheduling.floors import PLACED_AT, facts, layer, steady

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = PLACED_AT + 20 * DAY
NEVER = datetime.max.replace(tzinfo=UTC)
TEN_DAYS = Drying(hours=240, reference_c=20, reference_rh_percent=65)
CARBIDE = MoistureLimit(method="CM", limit=0.3, unit="CM-%")


def screed(**told):
    return layer(**{"drying": TEN_DAYS, "heat_after_hours": 168, **told})


def damp(*readings, source="hygrometer"):
    return HumidityRecord.of(
        [(PLACED_AT + hour * HOUR, percent, source) for hour, percent in readings], not_after=NOW
    )


def level(percent, *, hours=480, every=4):
    return damp(*((hour, percent) for hour in range(0, hours + 1, every)))


def decided(*layers, celsius=20.0, humidities, now=NOW, **told):
    readings = steady(celsius, hours=int((now - PLACED_AT) / HOUR))
    return decide(
        facts(*(layers or (screed(),)), readings=readings, now=now, humidities=humidities, **told)
    )


def days(at):
    return (at - PLACED_AT) / DAY


def test_in_the_climate_of_its_sheet_it_dries_in_the_printed_time():
    assert days(decided(humidities=level(65)).layers[0].ready) == pytest.approx(10, abs=1e-3)


@pytest.mark.parametrize(("percent", "longer"), [(65, 1.0), (82.5, 2.0), (93, 5.0)])
def test_damp_air_lengthens_by_what_it_lacks(percent, longer):
    now = PLACED_AT + 60 * DAY
    record = HumidityRecord.of(
        [(PLACED_AT + hour * HOUR, percent, "h") for hour in range(0, 60 * 24, 4)], not_after=now
    )
    made = decided(humidities=record, now=now)
    assert days(made.layers[0].ready) == pytest.approx(10 * longer, abs=1e-3)


def test_dry_and_warm_air_never_shorten():
    for celsius, percent in ((35.0, 20), (20.0, 20), (35.0, 65)):
        made = decided(celsius=celsius, humidities=level(percent))
        assert made.layers[0].ready == PLACED_AT + 10 * DAY


def test_dry_air_does_not_make_up_for_cold():
    cold = decided(celsius=10.0, humidities=level(65)).layers[0]
    assert decided(celsius=10.0, humidities=level(10)).layers[0] == cold


def test_the_vapour_pressure_of_water_is_that_of_the_tables():
    """12.27 hPa at 10 °C and 23.37 hPa at 20 °C: steam tables (from memory)."""
    rate = Evaporation(20).rate_at
    assert float(rate(10.0)) == pytest.approx(12.27 / 23.37, abs=2e-3)
    assert float(rate(30.0)) == pytest.approx(42.43 / 23.37, abs=6e-3)


def test_the_later_of_curing_and_drying_counts():
    slow_to_cure = decided(screed(heat_after_hours=300), humidities=level(65)).layers[0]
    assert slow_to_cure.ready == PLACED_AT + 300 * HOUR
    assert not slow_to_cure.drying_governs
    slow_to_dry = decided(humidities=level(65)).layers[0]
    assert slow_to_dry.drying_governs


def test_humidity_that_nobody_measured_counts_at_the_dampest():
    unknown = decided(humidities=damp()).layers[0]
    at_90 = 10 / 35
    assert unknown.drying.unknown_hours == pytest.approx(480)
    assert unknown.drying.equivalent_hours == pytest.approx(480 * at_90)
    assert decided(humidities=level(90)).layers[0].drying.equivalent_hours == pytest.approx(
        unknown.drying.equivalent_hours
    )


def test_between_two_readings_the_damper_counts_and_a_gap_is_unknown():
    told = {"start": PLACED_AT, "now": PLACED_AT + 20 * HOUR, "assume_percent": 90}
    course = damp_course(damp((2, 50), (6, 70), (13, 95)), max_gap_hours=6, **told)
    assert course.edges_h.tolist() == [-20, -18, -14, -7, 0]
    assert course.percent.tolist() == [90, 70, 95, 95]
    assert course.known.tolist() == [False, True, False, False]


def test_of_two_hygrometers_the_damper_counts():
    one, two = damp((0, 50), (6, 50), source="a"), damp((1, 80), (5, 80), source="b")
    both = HumidityRecord.of([*one.readings(), *two.readings()], not_after=NOW)
    told = {"start": PLACED_AT, "now": PLACED_AT + 6 * HOUR, "assume_percent": 90}
    course = damp_course(both, max_gap_hours=6, **told)
    assert course.percent.tolist() == [80, 80, 80]
    assert course.known.all()


def test_saturated_air_never_dries_it():
    made = decided(humidities=level(100))
    assert made.latest is None
    assert made.likely is None
    assert made.earliest == NOW + 240 * HOUR


def test_the_days_to_come_are_likely_as_damp_as_the_week_and_at_worst_as_assumed():
    now = PLACED_AT + 4 * DAY
    made = decided(humidities=level(82.5, hours=96), now=now)
    left = 240 - 96 / 2
    assert days(made.earliest) == pytest.approx(4 + left / 24, abs=1e-3)
    assert days(made.likely) == pytest.approx(4 + 2 * left / 24, abs=1e-3)
    cold = float(Evaporation(20).rate_at(8.0))
    assert days(made.latest) == pytest.approx(4 + left / 24 * 3.5 / cold, abs=1e-3)


def test_a_dry_reading_ends_the_estimate_and_a_wet_one_does_not():
    bed = screed(moisture=CARBIDE)
    at = PLACED_AT + 8 * DAY

    def with_reading(value):
        evidence = [Evidence(kind="moisture", layer="bed", value=value, at=at)]
        return decided(bed, humidities=level(95), evidence=evidence)

    dry = with_reading(0.3)
    assert dry.may_energize
    assert dry.layers[0].ready == at
    assert any("ends that estimate" in sentence for sentence in dry.because)
    wet = with_reading(0.4)
    assert wet.layers[0].ready is None
    assert not wet.may_energize


def test_it_is_explained_in_words_and_on_the_chart():
    made = decided(humidities=level(82.5, hours=240))
    words = " ".join(made.because)
    assert "65 % humidity" in words
    assert "never shortens" in words
    assert "governs the date, by its drying" in words
    given_facts = facts(screed(), readings=steady(20, hours=480), now=NOW, humidities=level(82.5))
    for language, word in (("en", "Drying"), ("es", "Secado")):
        drawn = cure_chart(given_facts, decide(given_facts), language=language)
        assert word in drawn.svg
    assert "of 240 h of drying" in cure_chart(given_facts, decide(given_facts)).title


def test_a_file_without_drying_has_no_humidity_and_one_with_it_is_read_again():
    plain = facts(layer(), readings=steady(12, hours=48), now=NOW)
    tree = facts_to_tree(plain)
    assert "humidities" not in tree
    assert "drying" not in decision_to_tree(decide(plain))["layers"][0]
    told = facts(screed(), now=NOW, humidities=level(70), assume_rh_percent=85)
    again = facts_to_tree(facts_from_tree(facts_to_tree(told)))
    assert again == facts_to_tree(told)
    assert again["assume_rh_percent"] == 85
    assert decision_to_tree(decide(facts_from_tree(again)))["layers"][0]["drying"]


def test_humidity_alone_moves_no_date_of_what_only_cures():
    told = {"readings": steady(12, hours=480), "now": NOW}
    assert decide(facts(layer(), **told)) == decide(facts(layer(), humidities=level(99), **told))


def test_what_if_it_is_laid_on_thursday_counts_its_drying():
    thursday = NOW + 3 * DAY
    supposed = suppose(
        facts(screed(), readings=steady(20, hours=480), now=NOW, humidities=level(65)),
        to_place=[screed(placed_at=thursday)],
    )
    assert supposed.earliest == supposed.likely == thursday + 10 * DAY


@pytest.mark.parametrize(
    ("pointer", "told"),
    [
        ("#/assume_rh_percent", {"assume_rh_percent": 101}),
        (
            "#/layers/0/material/drying/hours",
            {"layers": [screed(drying=replace(TEN_DAYS, hours=-1))]},
        ),
        (
            "#/layers/0/material/drying/reference_rh_percent",
            {"layers": [screed(drying=replace(TEN_DAYS, reference_rh_percent=100))]},
        ),
        ("#/humidities", {"humidities": HumidityRecord.of([(NOW, 50, "h")], not_after=NOW)}),
    ],
)
def test_nonsense_is_refused(pointer, told):
    with pytest.raises(DomainError) as refused:
        decide(replace(facts(screed(), now=NOW - DAY), **told))
    assert refused.value.pointer == pointer


@pytest.mark.parametrize("percent", [-1, 100.5, float("nan")])
def test_a_humidity_that_no_air_has_is_refused(percent):
    with pytest.raises(DomainError) as refused:
        damp((0, percent))
    assert refused.value.pointer == "#/humidities/0/percent"


humid = st.lists(st.tuples(st.integers(0, 480), st.floats(0, 100)), max_size=30)
warm = st.lists(st.tuples(st.integers(0, 480), st.floats(-5, 35)), max_size=30)


def both(temperatures, humidities, **told):
    rows = [(PLACED_AT + hour * HOUR, celsius) for hour, celsius in temperatures]
    return decide(
        facts(screed(frost_watch_hours=0), readings=rows, now=NOW, humidities=humidities, **told)
    )


@settings(max_examples=60)
@given(temperatures=warm, humidities=humid, damper=st.floats(0, 30))
def test_damper_air_never_moves_a_date_earlier(temperatures, humidities, damper):
    drier = both(temperatures, damp(*humidities))
    wetter = both(temperatures, damp(*((h, min(p + damper, 100)) for h, p in humidities)))
    for name in ("earliest", "likely", "latest"):
        if drier.holds:
            continue
        assert (getattr(wetter, name) or NEVER) >= (getattr(drier, name) or NEVER)


@settings(max_examples=60)
@given(temperatures=warm, humidities=humid)
def test_drying_only_ever_lengthens_and_keeps_the_order_of_dates(temperatures, humidities):
    rows = [(PLACED_AT + hour * HOUR, celsius) for hour, celsius in temperatures]
    told = {"readings": rows, "now": NOW, "humidities": damp(*humidities)}
    cured_only = decide(facts(layer(frost_watch_hours=0), **told))
    made = decide(facts(screed(frost_watch_hours=0), **told))
    if made.holds:
        return
    found = [getattr(made, name) or NEVER for name in ("earliest", "likely", "latest")]
    assert found == sorted(found)
    assert found[0] >= PLACED_AT + TEN_DAYS.hours * HOUR
    for name, date in zip(("earliest", "likely", "latest"), found, strict=True):
        assert date >= (getattr(cured_only, name) or NEVER)


@settings(max_examples=15)
@given(humidities=humid)
def test_agrees_with_the_rule_worked_out_hour_by_hour(humidities):
    made = both([(hour, 14.0) for hour in range(0, 481, 6)], damp(*humidities)).layers[0].drying
    at = {}
    for hour, percent in humidities:
        at[hour] = max(percent, at.get(hour, 0))
    total = 0.0
    for hour in range(480):
        before = max((h for h in at if h <= hour), default=None)
        after = min((h for h in at if h > hour), default=None)
        ends = [at[h] for h in (before, after) if h is not None]
        known = len(ends) == 2 and after - before <= 6
        percent = max(ends) if known else max([90, *ends])
        total += min(1, (100 - percent) / 35) * float(Evaporation(20).rate_at(14.0))
    assert made.equivalent_hours == pytest.approx(total, abs=1e-6)
