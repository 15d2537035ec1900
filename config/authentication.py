"""Who asks: a person who logged in, or a device that shows `Authorization: Bearer ...`."""

from datetime import timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.backends import ModelBackend
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from config.models import DeviceToken
from config.secrets import digest_of_secret

# "Last used" is for people: written at most this often, so that reading stays a read.
LAST_USED_EVERY = timedelta(minutes=10)


class MemberBackend(ModelBackend):
    """Members by their password; each page names their contractor, which is read with them."""

    def get_user(self, user_id: Any) -> Any:
        members = get_user_model()._default_manager.select_related("contractor")
        member = members.filter(pk=user_id).first()
        return member if member is not None and self.user_can_authenticate(member) else None


class DeviceTokenAuthentication(BaseAuthentication):
    def authenticate(self, request: Request) -> tuple[Any, DeviceToken] | None:
        scheme, _, secret = get_authorization_header(request).partition(b" ")
        if scheme.lower() != b"bearer":
            return None
        token = (
            DeviceToken.objects.select_related("member")
            .filter(
                digest=digest_of_secret(secret.strip().decode("latin-1")), revoked_at__isnull=True
            )
            .first()
        )
        if token is None or not token.member.is_active:
            raise AuthenticationFailed("This token is unknown or was revoked. Get a new one.")
        now = timezone.now()
        if token.last_used_at is None or now - token.last_used_at > LAST_USED_EVERY:
            DeviceToken.objects.filter(pk=token.pk).update(last_used_at=now)
        return token.member, token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="firstwarm"'
