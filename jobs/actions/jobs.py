"""Jobs and their rooms."""

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any

from django.db import transaction
from django.db.models import Max

from config.errors import DomainError
from config.etags import require_version
from config.tenancy import told
from jobs import rooms
from jobs.actions.refreshing import refresh_job, refresh_room
from jobs.models import Contractor, Customer, Job, KeepOut, Member, Room

# Code profile and volts of a supply of which nothing else is known, by the units of its place.
USUAL_SUPPLY = {"metric": ("iec", 230.0), "imperial": ("us", 240.0)}
SHAPES = {"outline", "keep_outs", "control_mm", "door_mm", "doorways"}


class RoomNameTaken(DomainError):
    slug = "already-there"


class DueBeforeRelease(DomainError):
    slug = "not-acceptable"


@transaction.atomic
def add_job(*, by: Member, customer: Customer, **fields: Any) -> Job:
    """Open a job under the contractor's next number."""
    contractor = Contractor.objects.select_for_update().get(pk=by.contractor_id)
    last = Job.objects.visible_to(by).aggregate(last=Max("number"))["last"]
    fields.setdefault("time_zone", contractor.time_zone)
    fields.setdefault("units", contractor.units)
    _check_dates(fields)
    return Job.objects.create(
        contractor_id=by.contractor_id, customer=customer, number=(last or 0) + 1, **fields
    )


@transaction.atomic
def change_job(*, job: Job, version: int, fields: Mapping[str, Any]) -> Job:
    """Change what is given; raises Stale or DueBeforeRelease."""
    locked = Job.objects.select_for_update().get(pk=job.pk)
    require_version(locked, version)
    for name, value in fields.items():
        setattr(locked, name, value)
    _check_dates({"release_on": locked.release_on, "due_on": locked.due_on})
    locked.version += 1
    locked.save()
    refresh_job(locked.pk)
    return locked


@transaction.atomic
def add_room(
    *, by: Member, job: Job, keep_outs: Sequence[Mapping[str, Any]] = (), **fields: Any
) -> tuple[Room, tuple[str, ...]]:
    """Add a room with clean shapes; returns what was put right, in words."""
    clean = rooms.shapes(
        fields["outline"],
        keep_outs,
        control_mm=fields.get("control_mm"),
        door_mm=fields.get("door_mm"),
        doorways=fields.get("doorways", ()),
    )
    fields |= _as_stored(clean)
    with _named(fields.get("name", "")):
        room = Room.objects.create(contractor_id=by.contractor_id, job=job, **fields)
    _put_keep_outs(room, clean.keep_outs)
    return room, clean.notes


@transaction.atomic
def change_room(
    *, room: Room, version: int, fields: Mapping[str, Any]
) -> tuple[Room, tuple[str, ...]]:
    """Change what is given; keep-outs are replaced as a whole. Raises Stale."""
    locked = Room.objects.select_for_update().get(pk=room.pk)
    require_version(locked, version)
    changed = dict(fields)
    notes: tuple[str, ...] = ()
    if SHAPES & set(changed):
        kept = [_as_given(row) for row in locked.keep_outs.order_by("position")]
        clean = rooms.shapes(
            changed.get("outline", locked.outline),
            changed.pop("keep_outs", kept),
            control_mm=changed.get("control_mm", locked.control_mm),
            door_mm=changed.get("door_mm", locked.door_mm),
            doorways=changed.get("doorways", locked.doorways),
        )
        changed |= _as_stored(clean)
        notes = clean.notes
        locked.keep_outs.all().delete()
        _put_keep_outs(locked, clean.keep_outs)
    for name, value in changed.items():
        setattr(locked, name, value)
    locked.version += 1
    with _named(locked.name):
        locked.save()
    refresh_room(locked.pk)
    return locked, notes


def _as_stored(clean: rooms.Shapes) -> dict[str, Any]:
    return {
        "outline": clean.outline,
        "doorways": clean.doorways,
        "control_mm": clean.control_mm,
    }


def _named(name: str) -> AbstractContextManager[None]:
    taken = RoomNameTaken(
        f"This job has a room called {name} already. Give it another name.", pointer="#/name"
    )
    return told({"room_name_once_per_job": taken})


def _put_keep_outs(room: Room, keep_outs: Sequence[Mapping[str, Any]]) -> None:
    KeepOut.objects.bulk_create(
        KeepOut(contractor_id=room.contractor_id, room=room, position=position, **given)
        for position, given in enumerate(keep_outs)
    )


def _as_given(row: KeepOut) -> dict[str, Any]:
    return {
        "kind": row.kind,
        "name": row.name,
        "outline": row.outline,
        "margin_mm": row.margin_mm,
    }


def _check_dates(fields: Mapping[str, Any]) -> None:
    release, due = fields.get("release_on"), fields.get("due_on")
    if release and due and due < release:
        raise DueBeforeRelease(
            f"The job is due on {due}, before work may begin on {release}.", pointer="#/due_on"
        )
