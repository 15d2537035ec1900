"""Private links: 256 random bits, kept as a digest, with an end, and revocable."""

from datetime import datetime, timedelta
from uuid import UUID

from django.core import signing

from config.secrets import digest_of_secret, new_secret
from jobs.models import Job, Link

OWNER_LINK_LASTS = timedelta(days=365)
FIRST_LINK_LASTS = timedelta(days=2)
FIRST = "first"


def make_link(
    *,
    job: Job | None,
    purpose: str,
    at: datetime,
    lasts: timedelta,
    subject_id: UUID | None = None,
    contractor_id: UUID | None = None,
    secret: str = "",
) -> tuple[Link, str]:
    """A new link and its secret, which is known only now; give one that is printed already.

    Of a job, or of a contractor where it is about more than one.
    """
    secret = secret or new_secret()
    owner_id = job.contractor_id if job else contractor_id
    assert owner_id is not None
    link = Link.objects.create(
        contractor_id=owner_id,
        job=job,
        purpose=purpose,
        subject_id=subject_id,
        digest=digest_of_secret(secret),
        made_at=at,
        expires_at=at + lasts,
    )
    return link, secret


def open_link(*, purpose: str, secret: str, at: datetime) -> Link | None:
    """The link of that secret if it opens now; None alike for unknown, expired and revoked."""
    return (
        Link.objects.open(purpose=purpose, digest=digest_of_secret(secret), at=at)
        .select_related("job", "contractor")
        .first()
    )


def revoke_link(*, link: Link, at: datetime) -> None:
    """End a link at once; revoking it again changes nothing."""
    Link.objects.filter(pk=link.pk, revoked_at__isnull=True).update(revoked_at=at)


def first_secret() -> str:
    """What opens the set-up of an empty installation: whoever runs its server is told it."""
    return signing.TimestampSigner(salt=FIRST).sign(FIRST)


def opens_first(secret: str) -> bool:
    try:
        return signing.TimestampSigner(salt=FIRST).unsign(secret, FIRST_LINK_LASTS) == FIRST
    except signing.BadSignature:
        return False
