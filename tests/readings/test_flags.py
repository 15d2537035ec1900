from datetime import UTC, datetime, timedelta

import pytest

from readings.flags import flags

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)


def told(stage="laid", taken=0.0, sent=None, passed=None, joints=(), others=()):
    return flags(
        stage,
        taken_at=NOON + timedelta(hours=taken),
        received_at=NOON,
        sent_at=None if sent is None else NOON + timedelta(hours=sent),
        passed={"arrival": NOON - timedelta(days=1)} if passed is None else passed,
        joints=[NOON + timedelta(hours=hours) for hours in joints],
        by_others=[NOON + timedelta(hours=hours) for hours in others],
    )


def test_an_orderly_check_has_no_flags():
    assert told(taken=-2, sent=0, joints=[-3]) == []


def test_a_stage_before_its_turn_is_flagged():
    assert told("covered") == ["Out of order: the stage laid has not passed yet."]
    assert told("handover", passed={}) == ["Out of order: the stage arrival has not passed yet."]


def test_a_check_from_before_the_stage_before_it_is_flagged():
    (flag,) = told(taken=-48)
    assert "before the check of the stage arrival" in flag


@pytest.mark.parametrize(
    ("sent", "words"),
    [(2.05, "2 h 03 min ahead"), (-0.2, "12 min behind"), (-24 * 400, "400 days behind")],
)
def test_a_phones_clock_that_was_wrong_is_told_with_the_time_by_ours(sent, words):
    (flag,) = told("arrival", taken=sent - 1, sent=sent)
    assert words in flag
    assert "2027-03-01 11:00Z" in flag


def test_five_minutes_are_forgiven():
    assert told(taken=5 / 60, sent=None) == []
    assert "6 min after it was received" in told(taken=0.1)[0]


def test_a_clock_that_was_changed_between_taking_and_sending_is_flagged():
    assert "the clock was changed" in told(taken=1, sent=0)[-1]


def test_a_check_from_before_a_repair_does_not_prove_it():
    assert "repair joint" in told(taken=-1, joints=[-0.5])[0]


def test_a_reading_that_another_took_on_the_same_day_is_told_by_its_time():
    (flag,) = told(others=[-30, -3, -1, 13])
    assert flag.startswith("Measured twice: another member")
    assert "2027-03-01 11:00Z" in flag
    assert told(others=[-13, 12.1]) == []


def test_a_flag_fits_its_column():
    everything = flags(
        "service",
        taken_at=NOON + timedelta(days=90_000),
        received_at=NOON,
        sent_at=NOON + timedelta(days=80_000),
        passed={"handover": NOON + timedelta(days=95_000)},
        joints=[NOON + timedelta(days=99_000)],
        by_others=[NOON + timedelta(days=90_000)],
    )
    assert len(everything) == 6
    assert max(map(len, everything)) <= 200
