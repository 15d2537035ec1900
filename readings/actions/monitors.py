"""What continuity monitors said, accepted once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from config.errors import DomainError
from config.tenancy import told
from jobs.models import Element, Member
from readings.actions.temperatures import NotYet
from readings.flags import CLOCK_WRONG
from readings.models import MonitorEvent


class EventChanged(DomainError):
    slug = "sent-otherwise"


@dataclass(frozen=True, slots=True, kw_only=True)
class EventSent:
    """One event as it came in."""

    client_id: UUID
    at: datetime
    kind: str


def record_events(
    *, by: Member, element: Element, sent: Sequence[EventSent], at: datetime
) -> list[MonitorEvent]:
    """Accept all of them or none; raises EventChanged or NotYet."""
    twice = EventChanged("An id was sent before with another event.", pointer="#/events")
    with told({"monitorevent_once_per_client_id": twice}), transaction.atomic():
        # One at a time for an element, so that a repeat sees what the first one wrote.
        Element.objects.select_for_update(no_key=True).get(pk=element.pk)
        ids = [one.client_id for one in sent]
        rows = MonitorEvent.objects.visible_to(by).filter(client_id__in=ids)
        known = {row.client_id: row for row in rows}
        fresh = []
        for index, one in enumerate(sent):
            if one.at - at > CLOCK_WRONG:
                raise NotYet("This time is still to come.", pointer=f"#/events/{index}/at")
            if row := known.get(one.client_id):
                if (row.element_id, row.at, row.kind) != (element.pk, one.at, one.kind):
                    raise EventChanged(
                        "This id was sent before with another event.",
                        pointer=f"#/events/{index}/client_id",
                    )
                continue
            row = MonitorEvent(
                contractor_id=by.contractor_id,
                element=element,
                client_id=one.client_id,
                at=one.at,
                kind=one.kind,
                received_at=at,
            )
            known[one.client_id] = row
            fresh.append(row)
        MonitorEvent.objects.bulk_create(fresh)
        return [known[one.client_id] for one in sent]
