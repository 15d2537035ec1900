"""People of a contractor: the first one, those asked to join, those who leave."""

from datetime import datetime
from typing import Any

from django.db import connection, transaction

from config.errors import DomainError
from config.models import DeviceToken
from config.sentence import Sentence
from config.tenancy import OFFICE, told
from jobs.models import Contractor, Member
from jobs.publicholidays import require_country

ADDRESS_ONCE = "jobs_member_email_key"


class AddressTaken(DomainError):
    """Nobody can be asked to join under an address that somebody logs in with."""

    slug = "address-taken"


class LastOfOffice(DomainError):
    """Without anybody of the office nobody could ask anybody in again."""

    slug = "last-of-office"


class SetUpAlready(DomainError):
    """There is a contractor: who wants to join is asked by its office."""

    slug = "set-up-already"


def change_own_settings(*, by: Member, name: str, language: str, scheme: str) -> None:
    """Set how one is called and how pages look to one."""
    Member.objects.filter(pk=by.pk).update(name=name, language=language, scheme=scheme)


def invite(*, by: Member, email: str, **fields: Any) -> Member:
    """A member who has no password yet; raises AddressTaken."""
    return _member(by.contractor, email=email, password=None, **fields)


def change_member(*, by: Member, member: Member, **fields: Any) -> None:
    """Set what the office says of a member; raises LastOfOffice."""
    with transaction.atomic():
        _keep_an_office(by, member, fields.get("role", member.role))
        Member.objects.filter(pk=member.pk).update(**fields)


def end_membership(*, by: Member, member: Member, at: datetime) -> None:
    """Let nobody in as this member any more; what they did keeps their name.

    Raises LastOfOffice.
    """
    with transaction.atomic():
        _keep_an_office(by, member, None)
        Member.objects.filter(pk=member.pk).update(is_active=False)
        DeviceToken.objects.filter(member=member, revoked_at=None).update(revoked_at=at)


def is_set_up() -> bool:
    """Whether this installation has a contractor."""
    return Contractor.objects.exists()


def change_contractor(*, by: Member, **fields: Any) -> None:
    """Set how papers and private pages name the contractor, its zone, units and language, and the
    country whose public holidays its crews keep; raises UnknownCountry."""
    require_country(fields.get("country", ""), fields.get("subdivision", ""))
    Contractor.objects.filter(pk=by.contractor_id).update(**fields)


def found_contractor(
    *, name: str, time_zone: str, units: str, language: str, email: str, password: str, person: str
) -> Member:
    """The first contractor of an empty installation, and who set it up; raises SetUpAlready."""
    with transaction.atomic():
        with connection.cursor() as cursor:  # two at once: one founds, the other is told
            cursor.execute("LOCK TABLE jobs_contractor IN EXCLUSIVE MODE")
        if is_set_up():
            raise SetUpAlready(Sentence("Somebody set it up already. Ask them to invite you."))
        contractor = Contractor.objects.create(
            name=name, email=email, time_zone=time_zone, units=units, language=language
        )
        return _member(
            contractor, email=email, password=password, name=person, role=OFFICE, language=language
        )


def _member(contractor: Contractor, *, email: str, password: str | None, **fields: Any) -> Member:
    taken = AddressTaken(
        Sentence("Somebody logs in with this address already. Take another one."), pointer="#/email"
    )
    with told({ADDRESS_ONCE: taken}):
        return Member.objects.create_member(
            contractor=contractor, email=email, password=password, **fields
        )


def _keep_an_office(by: Member, member: Member, role: str | None) -> None:
    Contractor.objects.select_for_update(no_key=True).get(pk=by.contractor_id)
    others = Member.objects.filter(
        contractor_id=by.contractor_id, role=OFFICE, is_active=True
    ).exclude(pk=member.pk)
    if role != OFFICE and not others.exists():
        raise LastOfOffice(
            Sentence(
                "{name} is the last of the office. Put somebody else into it first.",
                name=member.name,
            ),
            pointer="#/role",
        )
