"""Checks: accepted once, judged, and chained to the one before them in their room."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from uuid_utils.compat import uuid7

from config.errors import DomainError
from config.tenancy import UnknownId, violated
from jobs.actions.refreshing import refresh_job
from jobs.actions.webhooks import announce
from jobs.models import Job, Member
from readings import digest
from readings.actions.chain import RoomState, locked
from readings.actions.copying import copy
from readings.actions.facts import meters_of
from readings.actions.temperatures import COLUMNS
from readings.air import COLDEST_C, HOTTEST_C
from readings.arrival import Item
from readings.assess import Assessment, Delivery, Judged, Meter, ReadingUnclear, Sent, assess
from readings.flags import CLOCK_WRONG, flags
from readings.models import Check, Reading, SiteTemperature

CHECK = [field.name for field in Check._meta.concrete_fields]
READING = (
    "id",
    "contractor",
    "visit",
    "position",
    "kind",
    "element",
    "sensor",
    "lead",
    "value",
    "over_range",
    "instrument_range",
    "at_c",
    "outcome",
    "because",
    "figures",
)

IN_THE_FLOOR = ("laid", "covered", "handover", "service")

Found = Check | DomainError


class CheckChanged(DomainError):
    slug = "sent-otherwise"


class SupersededAlready(DomainError):
    slug = "superseded-already"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSent:
    """A check as it came in, its fields validated in shape."""

    client_id: UUID
    room: UUID
    stage: str
    taken_at: datetime
    readings: Sequence[Mapping[str, Any]] = ()
    supersedes: UUID | None = None
    note: str = ""
    at_c: float | None = None
    delivery: Mapping[str, Any] | None = None


def record_check(
    *, by: Member, sent: CheckSent, at: datetime, sent_at: datetime | None = None
) -> Check:
    """Accept one check, once, however often it is sent.

    Raises CheckChanged if the id was used for another, UnknownId, SupersededAlready, and what
    `assess` raises.
    """
    (found,) = record_checks(by=by, sent=[sent], at=at, sent_at=sent_at)
    if isinstance(found, DomainError):
        raise found
    return found


def record_checks(
    *, by: Member, sent: Sequence[CheckSent], at: datetime, sent_at: datetime | None = None
) -> list[Found]:
    """Accept the good ones of a batch in the order given; each bad one has its refusal instead."""
    try:
        return _record(by, sent, at, sent_at)
    except IntegrityError as error:
        # The same id was being accepted for another room; now it is there, and is answered so.
        if violated(error) != "check_once_per_client_id":
            raise
        return _record(by, sent, at, sent_at)


@transaction.atomic
def _record(
    by: Member, sent: Sequence[CheckSent], at: datetime, sent_at: datetime | None
) -> list[Found]:
    rooms = locked(
        by,
        {one.room for one in sent},
        {one.stage for one in sent},
        correcting=any(one.supersedes for one in sent),
    )
    meters = meters_of(by, (r["range"] for one in sent for r in one.readings if r.get("range")))
    known = {
        check.client_id: check
        for check in Check.objects.visible_to(by).filter(client_id__in={s.client_id for s in sent})
    }
    targets = _superseded(by, {one.supersedes for one in sent if one.supersedes})
    found: list[Found] = []
    checks: list[Check] = []
    readings: list[tuple[Any, ...]] = []
    temperatures: list[tuple[Any, ...]] = []
    for one in sent:
        try:
            if earlier := known.get(one.client_id):
                found.append(_again(earlier, one))
                continue
            state = rooms.get(one.room)
            if state is None:
                raise UnknownId("Nothing of yours has this id. Look it up again.", pointer="#/room")
            check, judged = _accept(by, one, state, meters, targets, at, sent_at)
        except DomainError as refused:
            found.append(refused)
            continue
        known[one.client_id] = check
        found.append(check)
        checks.append(check)
        readings += _reading_rows(check, judged)
        temperatures += _temperatures(check, state.room.job, judged)
    if checks:
        names = [field.attname for field in Check._meta.concrete_fields]
        copy(Check, CHECK, ([getattr(check, name) for name in names] for check in checks))
        copy(Reading, READING, readings)
        copy(SiteTemperature, COLUMNS, temperatures)
        announce(by.contractor_id, list(_events(checks)), at=at)
    for job_id in {rooms[check.room_id].room.job_id for check in checks}:
        refresh_job(job_id)
    return found


def _events(checks: Sequence[Check]) -> Iterator[tuple[str, dict[str, Any]]]:
    """What other systems are told of new checks: ids and the outcome."""
    for check in checks:
        told = {
            "check": str(check.pk),
            "room": str(check.room_id),
            "job": str(check.room.job_id),
            "stage": check.stage,
            "outcome": check.outcome,
            "supersedes": str(check.supersedes_id) if check.supersedes_id else None,
        }
        yield "check.recorded", told
        if check.outcome == "fail":
            yield "verdict.failed", told


def _accept(
    by: Member,
    one: CheckSent,
    state: RoomState,
    meters: Mapping[UUID, Meter],
    targets: Mapping[UUID, tuple[UUID, bool]],
    at: datetime,
    sent_at: datetime | None,
) -> tuple[Check, Sequence[Judged]]:
    """Judge a check that was not there yet, and put it at the end of its room's chain."""
    target = _target(one, state, targets)
    assessment = assess(
        one.stage,
        _readings(one, meters),
        state.facts,
        taken_on=one.taken_at.astimezone(ZoneInfo(state.room.job.time_zone)).date(),
        earlier=state.earlier(one.stage, without=target),
        delivery=_delivery(one.delivery),
    )
    odd = flags(
        one.stage,
        taken_at=one.taken_at,
        received_at=at,
        sent_at=sent_at,
        passed=state.passed(without=target),
        joints=state.joints.values(),
        by_others=state.by_others(one.stage, assessment.judged, taken_by=by.pk, without=target),
    )
    check = _check(by, one, state, assessment, odd, target, at)
    state.append(check, assessment.judged)
    return check, assessment.judged


def _superseded(by: Member, ids: set[UUID]) -> dict[UUID, tuple[UUID, bool]]:
    """Check id -> (room, superseded already) for what corrections point at."""
    if not ids:
        return {}
    rows = Check.objects.visible_to(by).filter(pk__in=ids)
    return {
        pk: (room, newer is not None)
        for pk, room, newer in rows.values_list("pk", "room_id", "superseded_by")
    }


def _target(
    one: CheckSent, state: RoomState, targets: Mapping[UUID, tuple[UUID, bool]]
) -> UUID | None:
    """The check that this one corrects, seen to be there and not corrected yet."""
    if one.supersedes is None:
        return None
    room, corrected = targets.get(one.supersedes, (None, False))
    if room != one.room:
        raise UnknownId("No check of this room has this id.", pointer="#/supersedes")
    if corrected or one.supersedes in state.corrected:
        raise SupersededAlready(
            "That check was corrected before. Correct its correction.", pointer="#/supersedes"
        )
    return one.supersedes


def _again(earlier: Check, one: CheckSent) -> Check:
    """The check of that id, if it is the same one."""
    if earlier.record["sent"] != json.loads(digest.canonical(_told(one))):
        raise CheckChanged(
            "This id was sent before with other readings. Send a correction under a new id.",
            pointer="#/client_id",
        )
    return earlier


def _readings(one: CheckSent, meters: Mapping[UUID, Meter]) -> list[Sent]:
    sent = []
    for at, given in enumerate(one.readings):
        meter = meters.get(given["range"])
        if meter is None:
            raise UnknownId(
                "None of your meters has this range. Look it up again.",
                pointer=f"#/readings/{at}/range",
            )
        over_range, value = given.get("over_range", False), given.get("value")
        if over_range == (value is not None):
            raise ReadingUnclear(
                "Give the value that the meter showed, or say that it was over-range.",
                pointer=f"#/readings/{at}/value",
            )
        own = given.get("at_c")
        sent.append(
            Sent(
                kind=given["kind"],
                meter=meter,
                value=value,
                element=given.get("element"),
                sensor=given.get("sensor"),
                lead=given.get("lead", ""),
                at_c=one.at_c if own is None else own,
                wiring=given.get("wiring"),
                after_minutes=given.get("after_minutes"),
            )
        )
    return sent


def _delivery(given: Mapping[str, Any] | None) -> Delivery | None:
    if given is None:
        return None
    return Delivery(
        ordered=tuple(Item(**item) for item in given.get("ordered", ())),
        found=tuple(Item(**item) for item in given.get("found", ())),
        damage=tuple(given.get("damage", ())),
    )


def _told(one: CheckSent) -> dict[str, Any]:
    """What was sent, as the record keeps it: only what was said, ids and instants as text."""
    return {
        "client_id": str(one.client_id),
        "room": str(one.room),
        "stage": one.stage,
        "taken_at": one.taken_at.isoformat(),
        "supersedes": str(one.supersedes) if one.supersedes else None,
        "note": one.note,
        "at_c": one.at_c,
        "delivery": one.delivery,
        "readings": [
            {
                name: str(value) if isinstance(value, UUID) else value
                for name, value in given.items()
                if value is not None
            }
            for given in one.readings
        ],
    }


def _check(
    by: Member,
    one: CheckSent,
    state: RoomState,
    assessment: Assessment,
    odd: list[str],
    target: UUID | None,
    at: datetime,
) -> Check:
    record = {
        "sent": _told(one),
        "accepted": {
            "sequence": state.sequence + 1,
            "received_at": at.isoformat(),
            "taken_by": str(by.pk),
            "outcome": assessment.outcome,
            "flags": odd,
            "missing": list(assessment.missing),
            "next_steps": list(assessment.next_steps),
            "findings": [
                {
                    "about": finding.about,
                    "outcome": finding.outcome,
                    "because": finding.because,
                    "next_step": finding.next_step,
                }
                for finding in assessment.findings
            ],
            "readings": [accepted(judged) for judged in assessment.judged],
        },
    }
    content = digest.canonical(record)
    check = Check(
        id=uuid7(),
        contractor_id=by.contractor_id,
        room=state.room,
        client_id=one.client_id,
        sequence=state.sequence + 1,
        stage=one.stage,
        taken_at=one.taken_at,
        received_at=at,
        taken_by=by,
        supersedes_id=target,
        outcome=assessment.outcome,
        flags=odd,
        note=one.note,
        content=content,
        previous_digest=state.digest,
        digest=digest.digest_of(content, previous=state.digest),
    )
    check.record = record  # as it would be read from the content
    return check


def accepted(judged: Judged) -> dict[str, Any]:
    found = judged.verdict
    return {
        "element": str(judged.element) if judged.element else None,
        "sensor": str(judged.sensor) if judged.sensor else None,
        "outcome": found.outcome,
        "because": found.because,
        "figures": {
            "next_step": found.next_step,
            "value": found.value,
            "standard_uncertainty": found.standard_uncertainty,
            "expanded_uncertainty": found.expanded_uncertainty,
            "low": found.low,
            "high": found.high,
            "probability": found.probability,
            "confidence": found.confidence,
            "components": {part.name: part.standard for part in found.components},
            "implied_c": judged.implied_c,
            "implied_u_k": judged.implied_u_k,
        },
    }


def _reading_rows(check: Check, judged: Sequence[Judged]) -> Iterator[tuple[Any, ...]]:
    """The readings of a check as rows of READING."""
    told, accepted = check.record["sent"], check.record["accepted"]["readings"]
    both = zip(told["readings"], judged, accepted, strict=True)
    for position, (given, one, shown) in enumerate(both):
        yield (
            uuid7(),
            check.contractor_id,
            check.pk,
            position,
            given["kind"],
            one.element,
            one.sensor,
            given.get("lead", ""),
            given.get("value"),
            given.get("over_range", False),
            given["range"],
            given.get("at_c", told["at_c"]),
            shown["outcome"],
            shown["because"],
            digest.canonical(shown["figures"]),
        )


def _temperatures(check: Check, job: Job, judged: Sequence[Judged]) -> Iterator[tuple[Any, ...]]:
    """What sound sensors in the floor say of the mortar around them, as rows of COLUMNS."""
    if check.stage not in IN_THE_FLOOR or check.taken_at - check.received_at > CLOCK_WRONG:
        return
    for position, one in enumerate(judged):
        celsius = one.implied_c
        if (
            celsius is None
            or one.verdict.outcome != "pass"
            or not COLDEST_C <= celsius <= HOTTEST_C
        ):
            continue
        yield (
            uuid7(),
            check.contractor_id,
            job.pk,
            check.room_id,
            uuid5(check.client_id, f"sensor/{position}"),
            check.taken_at,
            celsius,
            2 * (one.implied_u_k or 0.0),
            None,  # a floor sensor tells no humidity
            "floor_sensor",
            one.stands_for.label,
            check.received_at,
            check.taken_by_id,
        )
