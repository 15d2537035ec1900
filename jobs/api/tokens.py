"""Device tokens: what a phone shows instead of a password."""

from typing import Any

from django.contrib.auth import authenticate
from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output, Text
from config.models import DeviceToken
from config.paging import ListView
from config.tenancy import editable
from jobs.actions import tokens
from jobs.models import Member
from jobs.requests import MemberRequest


class TokenInput(Input):
    email = serializers.EmailField()
    password = Text(max_length=256, trim_whitespace=False)
    name = Text(max_length=80, help_text="What the device is called, for the list of devices.")


class TokenOutput(Output):
    id = serializers.UUIDField()
    name = serializers.CharField()
    issued_at = Instant()
    last_used_at = Instant(allow_null=True)
    revoked_at = Instant(allow_null=True)


class IssuedOutput(TokenOutput):
    secret = serializers.CharField(help_text="Shown once. Send it as `Authorization: Bearer ...`.")


class TokenIssue(APIView):
    """Log a device in."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=TokenInput, responses={201: IssuedOutput}, auth=[])
    def post(self, request: Request) -> Response | HttpResponse:
        sent = TokenInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        member: Any = authenticate(
            request._request, username=given["email"].lower(), password=given["password"]
        )
        if not isinstance(member, Member):
            raise AuthenticationFailed("This e-mail and password do not belong together.")
        token, secret = tokens.issue_token(member=member, name=given["name"], at=timezone.now())
        return Response({**TokenOutput(token).data, "secret": secret}, status=201)


class TokenList(ListView):
    @extend_schema(responses=TokenOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        """Your own devices."""
        rows = DeviceToken.objects.visible_to(request.user).filter(member=request.user)
        return self.listing(request, rows, TokenOutput)


class TokenDetail(APIView):
    @extend_schema(responses={204: None})
    def delete(self, request: MemberRequest, token_id: str) -> Response:
        """Revoke one of your own devices."""
        token = editable(DeviceToken.objects.filter(member=request.user), request.user, pk=token_id)
        tokens.revoke_token(token=token, at=timezone.now())
        return Response(status=204)
