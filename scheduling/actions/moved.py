"""News about energize dates: noted when a decision brings it, told to those who depend on it."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db.models import Q
from django.template.loader import render_to_string
from django.utils import translation

from config import mail
from config.retrying import LONGEST_BACK_OFF, back_off
from jobs.actions.links import OWNER_LINK_LASTS, make_link
from jobs.models import Link, Member, Room
from scheduling import moves
from scheduling.halfday import half_day, zone_named
from scheduling.models import Booking, DateMove, Decision, Energizing, MoveMessage

# Facts that come in one after the other make one message.
WAIT = timedelta(minutes=10)


class Person(NamedTuple):
    """Somebody to write to."""

    audience: str
    email: str
    language: str


def note_move(room: Room, decision: Decision, *, at: datetime) -> DateMove | None:
    """Note what a new decision of a room says otherwise than the one told last, if that is news.

    Nobody depends on the date of a room that is heated. The first decision is news to nobody: it
    moved nothing.
    """
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)  # two workers find the same news
    told = _told(room)
    if told is None or told.pk == decision.pk:
        return None
    if _is_heated(room):
        return None
    kind = moves.worth_telling(told.result, decision.result)
    if kind is None:
        return None
    move = DateMove.objects.create(
        contractor_id=room.contractor_id,
        room=room,
        before=told,
        decision=decision,
        kind=kind,
        was=told.likely,
        likely=decision.likely,
        why=moves.stored(moves.reasons(told.result, decision.result, told.facts, decision.facts)),
        moved_at=at,
    )
    for person in _depending(move, at):
        _tell(person, move, at)
    return move


def read_moves(*, by: Member, room: Room, at: datetime) -> int:
    """Mark a room's news as read by the office; returns how many that were."""
    return DateMove.objects.filter(room=room, read_at=None).update(read_at=at, read_by=by)


def send_message(*, message_id: UUID, at: datetime) -> bool:
    """E-mail a due message; True if this call sent it. A failure is noted and tried again later.

    The message carries its row's id, so that a second delivery after a crash is recognisable.
    """
    if not MoveMessage.objects.claim(message_id, at=at):
        return False
    row = MoveMessage.objects.select_related(
        "move__room__job__contractor", "move__room__job__customer", "move__decision", "since"
    ).get(pk=message_id)
    mine = MoveMessage.objects.filter(pk=message_id)
    if _is_heated(row.move.room):
        mine.update(withdrawn_at=at)
        return False
    if failed := mail.send(_mail(row, at)):
        attempts = row.attempts + 1
        mine.update(
            claimed_at=None,
            attempts=attempts,
            last_error=failed.said,
            send_after=at + (LONGEST_BACK_OFF if failed.lasting else back_off(attempts)),
        )
        return False
    mine.update(sent_at=at, last_error="")
    return True


def _is_heated(room: Room) -> bool:
    return Energizing.objects.filter(room=room, test_minutes=None).exists()


def _told(room: Room) -> Decision | None:
    """The decision that people know: that of the newest move, else the first one."""
    newest = DateMove.objects.filter(room=room).select_related("decision").order_by("-pk").first()
    return newest.decision if newest else Decision.objects.filter(room=room).order_by("pk").first()


def _depending(move: DateMove, at: datetime) -> Iterator[Person]:
    """Who of the crews booked in this job from today on, and the owner who was given a link.

    The owner depends on the date alone; who clears a hold, and who waits for it, are the crews.
    """
    room, job = move.room, move.room.job
    today = half_day(at, zone_named(job.time_zone)).day
    crews = Booking.objects.filter(
        Q(room=room) | Q(room=None), job=job, cancelled_at=None, day__gte=today
    )
    members = Member.objects.filter(
        contractor_id=room.contractor_id, crews__in=crews.values("crew"), is_active=True
    )
    for member in members.distinct().order_by("pk"):
        yield Person("crew", member.email, member.language)
    links = Link.objects.filter(
        contractor_id=room.contractor_id, job=job, purpose="owner", revoked_at=None
    )
    if move.kind == "date" and job.customer.email and links.filter(expires_at__gt=at).exists():
        yield Person("owner", job.customer.email, job.customer.language)


def _tell(person: Person, move: DateMove, at: datetime) -> None:
    """Write to a person once the facts have settled, in place of what was not sent yet.

    Where that takes everything back that the person was not told, there is nothing to write.
    """
    waiting = MoveMessage.objects.filter(
        contractor_id=move.contractor_id,
        move__room=move.room,
        audience=person.audience,
        email=person.email,
        claimed_at=None,
        sent_at=None,
        withdrawn_at=None,
    )
    first = waiting.select_related("since").order_by("pk").first()
    since = first.since if first else move.before
    waiting.update(withdrawn_at=at)
    if moves.worth_telling(since.result, move.decision.result) is None:
        return
    MoveMessage.objects.create(
        contractor_id=move.contractor_id,
        move=move,
        since=since,
        audience=person.audience,
        email=person.email,
        language=person.language,
        send_after=at + WAIT,
    )


def _mail(row: MoveMessage, at: datetime) -> EmailMultiAlternatives:
    room, now, since = row.move.room, row.move.decision, row.since
    job = room.job
    if row.audience == "owner":
        _, secret = make_link(job=job, purpose="owner", at=at, lasts=OWNER_LINK_LASTS)
        url = f"{settings.PUBLIC_URL}/owner/{secret}/"
    else:
        url = f"{settings.PUBLIC_URL}/field/rooms/{room.pk}/"
    found = moves.reasons(since.result, now.result, since.facts, now.facts)
    said = {
        "row": row,
        "room": room,
        "job": job,
        "contractor": job.contractor,
        "was": since.likely,
        "likely": now.likely,
        "kind": moves.worth_telling(since.result, now.result),
        "reasons": moves.stored(found),
        "url": url,
    }
    with translation.override(row.language):
        subject = render_to_string("scheduling/moved_subject.txt", said)
        text = render_to_string("scheduling/moved.txt", said)
    return mail.message(
        kind="moved",
        row_id=row.pk,
        to=row.email,
        sender=job.contractor.name,
        answers_to=job.contractor.email,
        language=row.language,
        subject=subject,
        text=text,
    )
