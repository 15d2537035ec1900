"""Energize decisions: worked out from a room's facts, kept when they say something new."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef

from config.errors import DomainError
from jobs.models import Member, Room
from jobs.units import System
from readings.flags import CLOCK_WRONG
from scheduling import moves
from scheduling.actions.facts import facts_of
from scheduling.actions.moved import note_move
from scheduling.chart import Chart, cure_chart
from scheduling.chart_words import Language
from scheduling.energize import decide
from scheduling.facts import decision_to_tree, derive, digest_of, facts_to_tree
from scheduling.floor import Facts
from scheduling.models import Decision, Energizing, Layer

AT_ONCE = 100  # rooms whose facts are read together
MOST_TEST_MINUTES = 10.0  # common practice, no source; the maker's print rules
UNSOUND = ("check-failed", "check-undecided", "open-fault")


class HeatHeld(DomainError):
    """Heat was to be recorded as on although something stands in the way."""

    slug = "heat-held"


class HeatOnAlready(DomainError):
    slug = "already-there"


class HeatInFuture(DomainError):
    slug = "not-yet"


class TestTooLong(DomainError):
    slug = "test-too-long"


class Derivation(NamedTuple):
    """A stored decision worked out again: what differs, and whether its facts are untouched."""

    differences: tuple[str, ...]
    facts_untouched: bool
    derived: dict[str, Any]


def current(room: Room, *, at: datetime) -> tuple[Facts, dict[str, Any]]:
    """The decision of a room as of `at`, worked out now and not kept; facts beside it."""
    facts = facts_of([room], at=at)[room.pk]
    return facts, decision_to_tree(decide(facts))


def chart(room: Room, *, at: datetime, language: Language, system: System) -> Chart | None:
    """The cure chart of a room as of `at`; None where no layer is placed."""
    facts = facts_of([room], at=at)[room.pk]
    return cure_chart(facts, decide(facts), language=language, system=system)


def refresh(rooms: Sequence[Room], *, at: datetime) -> list[Decision]:
    """Work out the decisions of rooms as of `at`; keep those that say something new."""
    kept = []
    for start in range(0, len(rooms), AT_ONCE):
        some = rooms[start : start + AT_ONCE]
        facts = facts_of(some, at=at)
        newest = _newest(some)
        for room in some:
            result = decision_to_tree(decide(facts[room.pk]))
            before = newest.get(room.pk)
            if before is None or moves.differs(before.result, result):
                with transaction.atomic():
                    kept.append(_keep(room, facts[room.pk], result, before))
                    if before is not None:
                        note_move(room, kept[-1], at=at)
    return kept


def refresh_room(room_id: UUID, *, at: datetime) -> list[Decision]:
    """Refresh one room; a row that is gone changes nothing."""
    return refresh(_open_rooms().filter(pk=room_id), at=at)


def refresh_jobs(job_ids: Sequence[UUID], *, at: datetime) -> list[Decision]:
    """Refresh every room of some jobs."""
    return refresh(_open_rooms().filter(job__in=job_ids), at=at)


def waiting_job_ids() -> list[UUID]:
    """Open jobs, of all contractors, with a floor that is laid and not heated yet."""
    heated = Energizing.objects.filter(room=OuterRef("pk"), test_minutes=None)
    waiting = Room.objects.filter(
        ~Exists(heated),
        job__closed_at=None,
        layers__placed_at__isnull=False,
        layers__removed_at=None,
    )
    return sorted(set(waiting.values_list("job_id", flat=True)))


def rederive(decision: Decision) -> Derivation:
    """Work a stored decision out again from its stored facts."""
    derived = derive(decision.facts)
    return Derivation(
        differences=moves.differences(decision.result, derived),
        facts_untouched=digest_of(decision.facts) == decision.facts_digest,
        derived=derived,
    )


@transaction.atomic
def switch_on(
    *,
    by: Member,
    room: Room,
    client_id: UUID,
    switched_on_at: datetime,
    test_minutes: float | None,
    at: datetime,
) -> Energizing:
    """Record that heat is on in a room, for good or for a test of some minutes.

    For good only where the decision of that moment allows it; a brief test needs no date, but
    sound readings. Raises HeatHeld (naming all that stands in the way), HeatInFuture,
    HeatOnAlready or TestTooLong.
    """
    if switched_on_at - at > CLOCK_WRONG:
        raise HeatInFuture("This time is still to come.", pointer="#/at")
    locked = Room.objects.select_for_update(no_key=True).select_related("job").get(pk=room.pk)
    switched_on_at = min(switched_on_at, at)
    content = {"room_id": room.pk, "at": switched_on_at, "test_minutes": test_minutes}
    if sent := Energizing.objects.visible_to(by).filter(client_id=client_id).first():
        if any(getattr(sent, name) != value for name, value in content.items()):
            raise HeatOnAlready("Something else was sent under this id.", pointer="#/client_id")
        return sent
    if test_minutes is not None and not 0 < test_minutes <= MOST_TEST_MINUTES:
        raise TestTooLong(
            f"A test before the date lasts at most {MOST_TEST_MINUTES:g} minutes.",
            pointer="#/test_minutes",
        )
    if test_minutes is None and Energizing.objects.filter(room=room, test_minutes=None).exists():
        raise HeatOnAlready(f"Heat is recorded as on in {room.name} already.")
    facts, result = current(locked, at=switched_on_at)
    _require_may_heat(result, test=test_minutes is not None)
    decision = _keep(locked, facts, result, _newest([locked]).get(room.pk))
    return Energizing.objects.create(
        contractor_id=by.contractor_id,
        room=locked,
        client_id=client_id,
        at=switched_on_at,
        test_minutes=test_minutes,
        decision=decision,
        recorded_by=by,
    )


def _require_may_heat(result: dict[str, Any], *, test: bool) -> None:
    holds = [
        f"{hold['text']} {hold['cleared_by']}"
        for hold in result["holds"]
        if not test or hold["code"] in UNSOUND
    ]
    if not test:
        holds += [
            f"{layer['id']} has {layer['equivalent_hours']:g} of {layer['required_hours']:g} h. "
            "Time clears it."
            for layer in result["layers"]
            if layer["ready"] is None
        ]
        if not result["layers"]:
            holds.append("No layer is recorded, so nothing covers the element.")
    if holds:
        raise HeatHeld(" ".join(holds))


def _keep(room: Room, facts: Facts, result: dict[str, Any], before: Decision | None) -> Decision:
    tree = facts_to_tree(facts)
    compared = (before.result, result, before.facts, tree) if before else None
    dates = {name: result[name] and datetime.fromisoformat(result[name]) for name in moves.DATES}
    return Decision.objects.create(
        contractor_id=room.contractor_id,
        room=room,
        decided_at=facts.now,
        facts=tree,
        facts_digest=digest_of(tree),
        result=result,
        may_energize=result["may_energize"],
        moved_because=moves.because(*compared) if compared else "",
        reasons=moves.stored(moves.reasons(*compared)) if compared else [],
        **dates,
    )


def _newest(rooms: Sequence[Room]) -> dict[UUID, Decision]:
    rows = Decision.objects.filter(room__in=rooms).order_by("room_id", "-pk").distinct("room_id")
    return {row.room_id: row for row in rows}


def _open_rooms() -> Any:
    """Rooms of open jobs in which something cures or did: no other has a date that could move."""
    placed = Layer.objects.filter(room=OuterRef("pk"), placed_at__isnull=False)
    open_rooms = Room.objects.filter(Exists(placed), job__closed_at=None)
    return open_rooms.select_related("job").order_by("pk")
