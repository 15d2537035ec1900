"""Notices to other trades, and their page behind a private link."""

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable
from jobs.requests import MemberRequest
from scheduling.actions import notices
from scheduling.models import Notice


class NoticeOutput(Output):
    id = serializers.UUIDField()
    visit = serializers.UUIDField(source="visit_id")
    content = serializers.DictField()
    made_at = Instant()
    sent_at = Instant(allow_null=True)
    attempts = serializers.IntegerField(help_text="Failed sendings so far.")
    last_error = serializers.CharField()
    repeated = serializers.IntegerField()
    raised_at = Instant(allow_null=True, help_text="Since when it is the office's to call about.")
    acknowledged_at = Instant(allow_null=True)
    acknowledged_by = serializers.CharField()
    withdrawn_at = Instant(allow_null=True)


class NoticeFilters(Input):
    job = serializers.UUIDField(required=False)
    visit = serializers.UUIDField(required=False)
    open = serializers.BooleanField(required=False, allow_null=True, default=None)


class NoticeList(ListView):
    @extend_schema(parameters=[NoticeFilters], responses=NoticeOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, NoticeFilters)
        rows = Notice.objects.visible_to(request.user)
        if job := wanted.get("job"):
            rows = rows.filter(visit__job_id=job)
        if visit := wanted.get("visit"):
            rows = rows.filter(visit_id=visit)
        if wanted["open"] is not None:
            settled = rows.filter(acknowledged_at__isnull=True, withdrawn_at__isnull=True)
            rows = settled if wanted["open"] else rows.exclude(pk__in=settled.values("pk"))
        return self.listing(request, rows, NoticeOutput)


class LinkMade(Output):
    url = serializers.URLField(help_text="The private address. Shown once.")


class NoticeLink(APIView):
    @extend_schema(request=None, responses={201: LinkMade})
    @idempotent
    def post(self, request: MemberRequest, notice_id: str) -> Response:
        """Make a private address of this notice, to pass on by hand."""
        row = editable(Notice.objects.select_related("visit__job"), request.user, pk=notice_id)
        return Response({"url": notices.link_to(row, at=timezone.now())}, status=201)


class AcknowledgeInput(Input):
    name = Text(max_length=120)


class PublicNoticeOutput(Output):
    content = serializers.DictField()
    in_force = serializers.BooleanField()
    acknowledged_at = Instant(allow_null=True)
    acknowledged_by = serializers.CharField()
    caution = serializers.CharField()


class PublicNotice(APIView):
    """What the trade sees; opening it acknowledges nothing."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(responses=PublicNoticeOutput, auth=[])
    def get(self, request: Request, secret: str) -> Response:
        return _public(_opened(secret))

    @extend_schema(request=AcknowledgeInput, responses=PublicNoticeOutput, auth=[])
    def post(self, request: Request, secret: str) -> Response:
        """Say, with a name, that you read it."""
        row = _opened(secret)
        sent = AcknowledgeInput(data=request.data)
        sent.is_valid(raise_exception=True)
        name = sent.validated_data["name"]
        return _public(notices.acknowledge(row=row, name=name, at=timezone.now()))


CAUTION = (
    "Switch the circuit off and prove it dead before any work near it. The record can be wrong: "
    "locate the cable on site. Local code and the makers' instructions rule over this notice."
)


def _opened(secret: str) -> Notice:
    if row := notices.notice_by_secret(secret, at=timezone.now()):
        return row
    raise Http404


def _public(row: Notice) -> Response:
    return Response(
        {
            "content": row.content,
            "in_force": row.withdrawn_at is None,
            "acknowledged_at": Instant().to_representation(row.acknowledged_at)
            if row.acknowledged_at
            else None,
            "acknowledged_by": row.acknowledged_by,
            "caution": CAUTION,
        }
    )
