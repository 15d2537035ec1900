"""Labels: a link that opens one room's page, and the sheet that bears it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.template.loader import render_to_string

from jobs.actions.links import make_link, open_link
from jobs.labels import Paper, label_sheet
from jobs.models import Link, Room

LABEL_LASTS = timedelta(days=365 * 50)
"""As long as a floor may lie, unless it is revoked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """What a label's link opens."""

    link: Link
    room: Room


def link_for_labels(
    *, room: Room, at: datetime, lasts: timedelta = LABEL_LASTS
) -> tuple[Link, str]:
    """A link that opens one room's page, and its secret."""
    return make_link(job=room.job, purpose="label", subject_id=room.pk, at=at, lasts=lasts)


def labelled(*, secret: str, at: datetime) -> Labelled | None:
    """What a label opens now; None alike for no link, a revoked one and one that ran out."""
    link = open_link(purpose="label", secret=secret, at=at)
    if link is None or link.subject_id is None:
        return None
    rooms = Room.objects.filter(contractor_id=link.contractor_id).select_related("job")
    room = rooms.filter(pk=link.subject_id).first()
    return Labelled(link=link, room=room) if room else None


def address(secret: str) -> str:
    return f"{settings.PUBLIC_URL}/label/{secret}/"


def sheet(found: Labelled, *, secret: str, paper: Paper, at: datetime) -> bytes:
    """The sheet as PDF, with the address that was opened in its codes."""
    from config import paper as papers  # the rest of the web does without its weight

    room, contractor = found.room, found.link.contractor
    said = label_sheet(
        url=address(secret),
        street=room.job.street,
        room=room.name,
        contractor=contractor.name,
        phone=contractor.phone,
        paper=paper,
    )
    return papers.pdf(
        render_to_string("scheduling/label_sheet.html", {"sheet": said}),
        identifier=found.link.pk.bytes,
        style="labels.css",
        made_at=at,
    )
