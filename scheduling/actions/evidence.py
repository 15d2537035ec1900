"""Proof that is no reading, and temperatures that somebody promises to keep."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from config.errors import DomainError
from jobs.actions.refreshing import refresh_room
from jobs.models import Member, Room
from readings.air import require_plausible
from readings.flags import CLOCK_WRONG
from scheduling.models import Evidence, Layer, Promise

OF_LAYER = ("moisture", "frost-cleared")


class EvidenceUnclear(DomainError):
    slug = "evidence-unclear"


class EvidenceSentOtherwise(DomainError):
    slug = "sent-otherwise"


class EvidenceInFuture(DomainError):
    slug = "not-yet"


class PromiseUnclear(DomainError):
    slug = "implausible-time"


@transaction.atomic
def record_evidence(
    *,
    by: Member,
    room: Room,
    client_id: UUID,
    kind: str,
    shown_at: datetime,
    layer: Layer | None,
    at: datetime,
    **fields: Any,
) -> Evidence:
    """Accept a proof once, however often it is sent.

    Raises EvidenceUnclear, EvidenceInFuture or EvidenceSentOtherwise.
    """
    _require_clear(kind, room, layer, fields)
    if shown_at - at > CLOCK_WRONG:
        raise EvidenceInFuture("This time is still to come.", pointer="#/at")
    row = Evidence(
        contractor_id=by.contractor_id,
        room=room,
        client_id=client_id,
        kind=kind,
        at=min(shown_at, at),
        received_at=at,
        layer=layer,
        recorded_by=by,
        **fields,
    )
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)  # the same one sent twice at once
    if sent := Evidence.objects.visible_to(by).filter(client_id=client_id).first():
        content = ("room_id", "kind", "layer_id", *fields)
        if any(getattr(sent, name) != getattr(row, name) for name in content):
            raise EvidenceSentOtherwise(
                "Another proof was sent under this id.", pointer="#/client_id"
            )
        return sent
    row.save(force_insert=True)
    refresh_room(room.pk)
    return row


@transaction.atomic
def promise(
    *, by: Member, room: Room, starts_at: datetime, ends_at: datetime, celsius: float, at: datetime
) -> Promise:
    """Note a temperature that the site promises; raises PromiseUnclear."""
    require_plausible(celsius, pointer="#/celsius")
    if starts_at >= ends_at:
        raise PromiseUnclear("A promise ends after it starts.", pointer="#/ends_at")
    row = Promise.objects.create(
        contractor_id=by.contractor_id,
        room=room,
        starts_at=starts_at,
        ends_at=ends_at,
        celsius=celsius,
        made_at=at,
        made_by=by,
    )
    refresh_room(room.pk)
    return row


@transaction.atomic
def withdraw_promise(*, promise: Promise, at: datetime) -> None:
    """Stop counting on a promise; withdrawing twice is once."""
    Promise.objects.filter(pk=promise.pk, withdrawn_at=None).update(withdrawn_at=at)
    refresh_room(promise.room_id)


def _require_clear(kind: str, room: Room, layer: Layer | None, fields: dict[str, Any]) -> None:
    if layer is not None and layer.room_id != room.pk:
        raise EvidenceUnclear("This layer is of another room.", pointer="#/layer")
    if kind in OF_LAYER and layer is None:
        raise EvidenceUnclear(f"Say which layer the {kind} is about.", pointer="#/layer")
    if kind == "moisture":
        if fields.get("value") is None:
            raise EvidenceUnclear("A moisture reading has a value.", pointer="#/value")
        if not fields.get("method"):
            raise EvidenceUnclear("Say by which method it was measured.", pointer="#/method")
    if kind == "electrician":
        for name in ("name", "licence_number"):
            if not fields.get(name):
                raise EvidenceUnclear(
                    "A sign-off has the electrician’s name and licence number.",
                    pointer=f"#/{name}",
                )
