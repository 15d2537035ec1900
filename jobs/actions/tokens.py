"""Device tokens: issued for a password, revoked by hand."""

from datetime import datetime

from config.models import DeviceToken
from config.secrets import digest_of_secret, new_secret
from jobs.models import Member


def issue_token(*, member: Member, name: str, at: datetime) -> tuple[DeviceToken, str]:
    """A new token for one of the member's devices; its secret is known only now."""
    secret = new_secret()
    token = DeviceToken.objects.create(
        contractor_id=member.contractor_id,
        member=member,
        name=name,
        digest=digest_of_secret(secret),
        issued_at=at,
    )
    return token, secret


def revoke_token(*, token: DeviceToken, at: datetime) -> None:
    """End a token at once; revoking it again changes nothing."""
    DeviceToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=at)
