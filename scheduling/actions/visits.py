"""Visits of other trades."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from config.errors import DomainError
from config.etags import require_version
from config.tenancy import told
from jobs.models import Job, Member, Room
from scheduling.actions.notices import review_visit
from scheduling.exposure import Conflict
from scheduling.models import Visit


class VisitEndsFirst(DomainError):
    slug = "not-acceptable"


class VisitRoomElsewhere(DomainError):
    slug = "not-acceptable"


@transaction.atomic
def plan_visit(
    *, by: Member, job: Job, room: Room | None, fields: Mapping[str, Any], at: datetime
) -> tuple[Visit, list[Conflict]]:
    """Note a visit and hold it against the floor's windows; a conflict makes its notice.

    Raises VisitEndsFirst or VisitRoomElsewhere.
    """
    require_room_of(job, room)
    with told({"visit_ends_after_start": _ends_first()}):
        visit = Visit.objects.create(contractor_id=by.contractor_id, job=job, room=room, **fields)
    return visit, review_visit(visit=visit, at=at)


@transaction.atomic
def change_visit(
    *, visit: Visit, version: int, fields: Mapping[str, Any], at: datetime
) -> tuple[Visit, list[Conflict]]:
    """Move or cancel a visit; its notice follows. Raises Stale or VisitEndsFirst."""
    locked = Visit.objects.select_for_update().get(pk=visit.pk)
    require_version(locked, version)
    for name, value in fields.items():
        setattr(locked, name, value)
    locked.version += 1
    with told({"visit_ends_after_start": _ends_first()}):
        locked.save()
    return locked, review_visit(visit=locked, at=at)


def _ends_first() -> VisitEndsFirst:
    return VisitEndsFirst("A visit ends after it starts.", pointer="#/ends_at")


def require_room_of(job: Job, room: Room | None) -> None:
    """Raise VisitRoomElsewhere for a room of another job."""
    if room is not None and room.job_id != job.pk:
        raise VisitRoomElsewhere(f"{room.name} is a room of another job.", pointer="#/room")
