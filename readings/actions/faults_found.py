"""Faults on the record: found once, told by the drawing that counts, voided with a reason."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.contrib.postgres.expressions import ArraySubquery
from django.db import transaction
from django.db.models import OuterRef, Subquery

from config.errors import DomainError
from config.sentence import Sentence
from config.tenancy import TenantQuerySet, told
from jobs.actions.refreshing import refresh_room
from jobs.models import Element, LayingPlan, Member, Room
from readings.actions.faults import Spot, places, spots, types_in, wire_of
from readings.actions.temperatures import NotYet
from readings.fault import Construction, End, FaultEstimate, FaultUnclear, Place, estimated
from readings.flags import CLOCK_WRONG
from readings.models import FaultFound


class FaultSentOtherwise(DomainError):
    slug = "sent-otherwise"


class FaultVoid(DomainError):
    slug = "fault-void"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A fault of the record, where it may be by the drawing that counts, and what became of it."""

    row: FaultFound
    because: str
    places: tuple[Spot, ...]
    repaired_at: datetime | None

    @property
    def stands(self) -> bool:
        """Whether the element still lies there as it was found."""
        return not (self.row.voided_at or self.repaired_at or self.row.element.removed_at)


@transaction.atomic
def record_fault(
    *,
    by: Member,
    room: Room,
    element: Element,
    client_id: UUID,
    found_at: datetime,
    at: datetime,
    **fields: Any,
) -> FaultFound:
    """Keep a fault that was found, once, however often it is sent.

    `fields` are the method, construction, end, fraction, tolerance, ohms and note of the row.
    Raises FaultUnclear, FaultSentOtherwise, NotYet, and what `readings.fault.places` raises.
    """
    row = FaultFound(
        contractor_id=by.contractor_id,
        room=room,
        element=element,
        client_id=client_id,
        found_at=min(found_at, at),
        received_at=at,
        found_by=by,
        **fields,
    )
    twice = FaultSentOtherwise("Another fault was sent under this id.", pointer="#/client_id")
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)  # the same one sent twice at once
    if sent := FaultFound.objects.visible_to(by).filter(client_id=client_id).first():
        if any(getattr(sent, name) != getattr(row, name) for name in ("element_id", *fields)):
            raise twice
        return sent
    if element.room_id != room.pk or element.removed_at:
        raise FaultUnclear(
            Sentence("{label} does not lie in this room.", label=element.label),
            pointer="#/element",
        )
    if found_at - at > CLOCK_WRONG:
        raise NotYet("This time is still to come.", pointer="#/found_at")
    _places(row)
    plan = LayingPlan.objects.visible_to(by).counting(room)
    if plan is None or wire_of(element, plan.plan["elements"], types_in(room.pk)) is None:
        raise FaultUnclear(
            Sentence(
                "No drawing of this room shows {label} yet. Keep a plan of it, or record where it "
                "really lies; then record the fault.",
                label=element.label,
            ),
            pointer="#/element",
        )
    with told({"faultfound_once_per_client_id": twice}):
        row.save(force_insert=True)
    refresh_room(room.pk)
    return row


@transaction.atomic
def void_fault(*, by: Member, fault: FaultFound, reason: str, at: datetime) -> FaultFound:
    """Say that a fault was recorded wrongly; it stays in the record. Raises FaultVoid."""
    locked = FaultFound.objects.select_for_update().get(pk=fault.pk)
    if locked.voided_at:
        raise FaultVoid("This fault was voided before.")
    locked.voided_at, locked.voided_by, locked.void_reason = at, by, reason
    locked.save(update_fields=["voided_at", "voided_by", "void_reason"])
    refresh_room(locked.room_id)
    return locked


def with_drawings(rows: TenantQuerySet[FaultFound]) -> TenantQuerySet[Any]:
    """Rows with all that `told_of` needs, in one query."""
    here = {"room": OuterRef("room")}
    plans = LayingPlan.objects.filter(**here).by_weight()
    elements = Element.objects.filter(**here, removed_at=None)
    return rows.select_related("element__material").annotate(
        drawn=Subquery(plans.values("plan__elements")[:1]),
        present=ArraySubquery(elements.values("material_id")),
    )


def told_of(row: Any) -> Told:
    """A fault of a row that was read `with_drawings`."""
    estimate, found = _places(row)
    joined = (datetime.fromisoformat(joint["joined_at"]) for joint in row.element.joints)
    return Told(
        row=row,
        because=estimate.because,
        places=spots(row.element, found, wire_of(row.element, row.drawn or (), row.present)),
        repaired_at=min((at for at in joined if at >= row.found_at), default=None),
    )


def _places(row: FaultFound) -> tuple[FaultEstimate, tuple[Place, ...]]:
    construction = cast(Construction, row.construction)
    estimate = estimated(
        row.fraction,
        row.tolerance,
        method=row.method,
        construction=construction,
        measured_from=cast(End, row.measured_from),
    )
    found = places(
        row.element,
        estimate,
        method=row.method,
        construction=construction,
        loop_ohms=row.loop_ohms or row.element.tag_ohms,
        ends_known=row.measured_from != "unknown",
    )
    return estimate, found
