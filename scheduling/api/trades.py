"""Other trades that tell their own times by a private link."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred
from jobs.models import LANGUAGES, Job
from jobs.requests import MemberRequest
from scheduling.actions import trades
from scheduling.api.notices import LinkMade
from scheduling.models import Visit, VisitingTrade


class TradeInput(Input):
    job = serializers.UUIDField()
    trade = Text(max_length=60)
    company = Text(max_length=120)
    email = serializers.EmailField(required=False, allow_blank=True)
    phone = Text(max_length=40, required=False, allow_blank=True)
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    activities = serializers.ListField(
        child=serializers.ChoiceField(choices=Visit.ACTIVITIES), min_length=1, max_length=20
    )


class TradeOutput(Output):
    id = serializers.UUIDField()
    job = serializers.UUIDField(source="job_id")
    trade = serializers.CharField()
    company = serializers.CharField()
    email = serializers.CharField()
    phone = serializers.CharField()
    language = serializers.CharField()
    activities = serializers.ListField(child=serializers.CharField())


class TradeMadeOutput(TradeOutput):
    url = serializers.URLField(help_text="The private address. Shown once.")


class TradeFilters(Input):
    job = serializers.UUIDField(required=False)


class TradeList(ListView):
    @extend_schema(parameters=[TradeFilters], responses=TradeOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = VisitingTrade.objects.visible_to(request.user)
        if job := chosen(request, TradeFilters).get("job"):
            rows = rows.filter(job_id=job)
        return self.listing(request, rows, TradeOutput)

    @extend_schema(request=TradeInput, responses={201: TradeMadeOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Let a trade tell its own times in a job; its private address is shown once."""
        may_write(VisitingTrade, request.user)
        sent = TradeInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields: dict[str, Any] = dict(sent.validated_data)
        job = referred(Job.objects.all(), request.user, fields.pop("job"), pointer="#/job")
        trade = trades.ask_in(job=job, fields=fields)
        url = trades.link_to(trade, at=timezone.now())
        return Response({**TradeOutput(trade).data, "url": url}, status=201)


class TradeLink(APIView):
    @extend_schema(request=None, responses={201: LinkMade})
    @idempotent
    def post(self, request: MemberRequest, trade_id: str) -> Response:
        """Make another private address for a trade; those made before stay good."""
        rows = VisitingTrade.objects.select_related("job")
        trade = editable(rows, request.user, pk=trade_id)
        return Response({"url": trades.link_to(trade, at=timezone.now())}, status=201)
