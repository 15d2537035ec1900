"""What is missing before a certificate, and who clears it."""

import pytest

from scheduling.handover import (
    HandoverIncomplete,
    RoomProof,
    missing,
    require_complete,
)

SIGNED = frozenset({"electrician", "customer"})
PASSED = dict.fromkeys(("arrival", "laid", "covered", "handover"), "pass")


def room(**changed):
    proof = {
        "name": "Bathroom",
        "elements": 1,
        "stages": PASSED,
        "embedded": True,
        "energized": True,
    }
    return RoomProof(**(proof | changed))


def told(*rooms, signed=SIGNED):
    return [(item.room, item.what, item.clears) for item in missing(rooms, signed=signed)]


def test_a_proven_signed_job_lacks_nothing():
    assert told(room(), room(name="Kitchen")) == []


@pytest.mark.parametrize(
    ("changed", "what", "clears"),
    [
        ({"elements": 0}, "No heating element is recorded.", "installer"),
        (
            {"stages": PASSED | {"laid": None}},
            "The check laid, before covering is missing.",
            "installer",
        ),
        (
            {"stages": PASSED | {"handover": "undecided"}},
            "The check at handover is undecided: measure again.",
            "installer",
        ),
        (
            {"stages": PASSED | {"covered": "fail"}},
            "The check after covering failed: find the cause.",
            "installer",
        ),
        ({"embedded": False}, "No layer is recorded that covers the element.", "installer"),
        ({"holds": ("A fault is open.",)}, "A fault is open.", "office"),
        ({"energized": False}, "Heat was not recorded as switched on.", "electrician"),
        ({"warm_up_stopped": "Too hot."}, "The warm-up was stopped: Too hot.", "installer"),
    ],
)
def test_each_thing_missing_in_a_room_is_told_with_who_clears_it(changed, what, clears):
    assert told(room(**changed)) == [("Bathroom", what, clears)]


@pytest.mark.parametrize("kind", sorted(SIGNED))
def test_each_signature_is_asked_for_once_for_the_whole_job(kind):
    found = told(room(), room(name="Kitchen"), signed=SIGNED - {kind})
    assert [(where, clears) for where, _, clears in found] == [("", kind)]


def test_a_job_without_a_room_has_nothing_to_certify():
    assert told() == [("", "The job has no room.", "office")]


def test_everything_missing_is_named_at_once():
    lacking = missing([room(energized=False)], signed=frozenset())
    with pytest.raises(HandoverIncomplete) as refused:
        require_complete(lacking)
    assert refused.value.detail == (
        "Bathroom: Heat was not recorded as switched on. (electrician) "
        "The licensed electrician has not signed. (electrician) "
        "The customer has not signed. (customer)"
    )


def test_nothing_missing_is_no_refusal():
    require_complete(())
