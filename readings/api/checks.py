"""Checks: one by one, and by the batch that a phone collected."""

from collections.abc import Mapping
from typing import Any

from django.db.models import F
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from config.errors import DomainError
from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.instants import rfc3339
from config.paging import ListView, NewestFirst, chosen
from config.problems import describe
from config.tenancy import may_write, visible
from jobs.requests import MemberRequest
from readings.actions.checks import CheckSent, record_check, record_checks
from readings.assess import caution
from readings.flags import TWICE
from readings.models import KINDS, OUTCOMES, STAGES, Check
from readings.sets import LEADS

MOST_CHECKS = 500
MOST_READINGS = 60


class ReadingInput(Input):
    """One measured value, in ohms, megohms (insulation), volts (supply) or amperes (load)."""

    kind = serializers.ChoiceField(choices=KINDS)
    range = serializers.UUIDField(help_text="The meter's range that was used.")
    value = Number(min_value=0, max_value=1e12, required=False, allow_null=True)
    over_range = serializers.BooleanField(required=False, help_text="The meter showed no number.")
    element = serializers.UUIDField(
        required=False, allow_null=True, help_text="May be left out where the room has only one."
    )
    sensor = serializers.UUIDField(required=False, allow_null=True)
    lead = serializers.ChoiceField(choices=LEADS, required=False)
    at_c = Number(
        min_value=-60,
        max_value=150,
        required=False,
        allow_null=True,
        help_text="Temperature of what was measured, °C.",
    )
    wiring = serializers.ChoiceField(
        choices=("series", "parallel"),
        required=False,
        help_text="How several elements were read as one.",
    )
    after_minutes = Number(
        min_value=0, max_value=60, required=False, help_text="Of an insulation test: 1, then 10."
    )


class ItemInput(Input):
    name = Text(max_length=120)
    serial = Text(max_length=60, required=False, allow_blank=True)


class DeliveryInput(Input):
    """What came, against what was ordered."""

    ordered = ItemInput(many=True, required=False)
    found = ItemInput(many=True, required=False)
    damage = serializers.ListField(child=Text(max_length=500), required=False, max_length=50)


class CheckInput(Input):
    client_id = serializers.UUIDField(
        help_text="The phone's own id for it: sent again, it changes nothing."
    )
    room = serializers.UUIDField()
    stage = serializers.ChoiceField(choices=STAGES)
    taken_at = Instant()
    supersedes = serializers.UUIDField(
        required=False, allow_null=True, help_text="The check that this one corrects."
    )
    note = Text(max_length=2000, required=False, allow_blank=True)
    at_c = Number(
        min_value=-60,
        max_value=150,
        required=False,
        allow_null=True,
        help_text="For readings that say no temperature of their own, °C.",
    )
    delivery = DeliveryInput(required=False, allow_null=True)
    readings: serializers.ListSerializer[Any] = serializers.ListSerializer(
        child=ReadingInput(), max_length=MOST_READINGS
    )


class CheckPost(CheckInput):
    sent_at = Instant(
        required=False, help_text="The phone's clock when it sends: shows where it is wrong."
    )


class FindingOutput(Output):
    about = serializers.CharField()
    outcome = serializers.ChoiceField(choices=OUTCOMES)
    because = serializers.CharField()
    next_step = serializers.CharField()


class FiguresOutput(Output):
    """How the verdict was worked out; all in the unit of the reading, K for a sensor."""

    value = serializers.FloatField(allow_null=True)
    standard_uncertainty = serializers.FloatField(allow_null=True)
    expanded_uncertainty = serializers.FloatField(allow_null=True, help_text="k = 2")
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    probability = serializers.FloatField(allow_null=True, help_text="Of conformity.")
    confidence = serializers.FloatField()
    components = serializers.DictField(child=serializers.FloatField())
    implied_c = serializers.FloatField(allow_null=True, help_text="What a sensor's ohms mean.")
    implied_u_k = serializers.FloatField(allow_null=True)
    next_step = serializers.CharField()


class ReadingOutput(Output):
    kind = serializers.ChoiceField(choices=KINDS)
    range = serializers.UUIDField()
    value = serializers.FloatField(allow_null=True)
    over_range = serializers.BooleanField()
    element = serializers.UUIDField(allow_null=True)
    sensor = serializers.UUIDField(allow_null=True)
    lead = serializers.CharField()
    at_c = serializers.FloatField(allow_null=True)
    outcome = serializers.ChoiceField(choices=OUTCOMES)
    because = serializers.CharField()
    figures = FiguresOutput()


class CheckOutput(Output):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    room = serializers.UUIDField()
    sequence = serializers.IntegerField()
    stage = serializers.ChoiceField(choices=STAGES)
    taken_at = Instant()
    received_at = Instant()
    taken_by = serializers.UUIDField()
    supersedes = serializers.UUIDField(allow_null=True)
    superseded_by = serializers.UUIDField(allow_null=True)
    outcome = serializers.ChoiceField(
        choices=OUTCOMES, help_text="Of the stage, up to this check; gaps leave it undecided."
    )
    flags = serializers.ListField(child=serializers.CharField())
    measured_twice = serializers.BooleanField(
        help_text="Another member took the same reading on the same day; both are kept."
    )
    note = serializers.CharField()
    missing = serializers.ListField(child=serializers.CharField())
    next_steps = serializers.ListField(child=serializers.CharField())
    findings = FindingOutput(many=True)
    readings = ReadingOutput(many=True)
    caution = serializers.CharField()
    previous_digest = serializers.CharField()
    digest = serializers.CharField()


class BatchInput(Input):
    sent_at = Instant(required=False)
    checks: serializers.ListSerializer[Any] = serializers.ListSerializer(
        child=CheckInput(), max_length=MOST_CHECKS
    )


class BatchShell(Input):
    """A batch before its checks are looked at: one bad check must not cost the good ones."""

    sent_at = Instant(required=False)
    checks = serializers.ListField(
        child=serializers.JSONField(),
        allow_empty=False,
        max_length=MOST_CHECKS,
        error_messages={
            "max_length": "At most {max_length} checks are taken at once. "
            "Send the rest in another batch."
        },
    )


class ProblemOutput(Output):
    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField(required=False)
    errors = serializers.ListField(  # type: ignore[assignment]
        child=serializers.DictField(child=serializers.CharField()), required=False
    )


class BatchResult(Output):
    """Either the check as it was accepted, or why it was not."""

    index = serializers.IntegerField()
    client_id = serializers.CharField(allow_null=True)
    check = CheckOutput(allow_null=True)
    problem = ProblemOutput(allow_null=True)


class BatchOutput(Output):
    accepted = serializers.IntegerField()
    refused = serializers.IntegerField()
    results = BatchResult(many=True)


class CheckFilters(Input):
    room = serializers.UUIDField(required=False)
    job = serializers.UUIDField(required=False)
    stage = serializers.ChoiceField(choices=STAGES, required=False)
    outcome = serializers.ChoiceField(choices=OUTCOMES, required=False)
    client_id = serializers.UUIDField(required=False)


class CheckList(ListView):
    @extend_schema(parameters=[CheckFilters], responses=CheckOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, CheckFilters)
        rows = Check.objects.visible_to(request.user).annotate(newer=F("superseded_by__id"))
        if job := wanted.pop("job", None):
            rows = rows.filter(room__job_id=job)
        if room := wanted.pop("room", None):
            rows = rows.filter(room_id=room)
        paginator = NewestFirst()
        page: Any = paginator.paginate_queryset(rows.filter(**wanted), request, view=self)
        return paginator.get_paginated_response([shown(row, row.newer) for row in page])

    @extend_schema(request=CheckPost, responses={201: CheckOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Check, request.user)
        sent = CheckPost(data=request.data)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        sent_at = fields.pop("sent_at", None)
        check = record_check(
            by=request.user, sent=CheckSent(**fields), at=timezone.now(), sent_at=sent_at
        )
        return Response(shown(check, None), status=201)


class CheckDetail(APIView):
    @extend_schema(responses=CheckOutput)
    def get(self, request: MemberRequest, check_id: str) -> Response:
        rows = Check.objects.annotate(newer=F("superseded_by__id"))
        check: Any = visible(rows, request.user, pk=check_id)
        return Response(shown(check, check.newer))


class CheckBatch(APIView):
    @extend_schema(request=BatchInput, responses=BatchOutput)
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Take in what a phone collected: the good ones are kept, each bad one has its problem."""
        may_write(Check, request.user)
        shell = BatchShell(data=request.data)
        shell.is_valid(raise_exception=True)
        given: list[Any] = shell.validated_data["checks"]
        problems: dict[int, dict[str, Any] | None] = {}
        sent: dict[int, CheckSent] = {}
        shape = CheckInput()  # one for all: making its fields anew takes as long as validating
        for index, one in enumerate(given):
            try:
                sent[index] = CheckSent(**shape.run_validation(one))
            except ValidationError as error:
                problems[index] = describe(error)
        found = record_checks(
            by=request.user,
            sent=list(sent.values()),
            at=timezone.now(),
            sent_at=shell.validated_data.get("sent_at"),
        )
        checks: dict[int, dict[str, Any]] = {}
        for index, check in zip(sent, found, strict=True):
            if isinstance(check, DomainError):
                problems[index] = describe(check)
            else:
                checks[index] = shown(check, None)
        results = [
            {
                "index": index,
                "client_id": _client_id(one),
                "check": checks.get(index),
                "problem": problems.get(index),
            }
            for index, one in enumerate(given)
        ]
        return Response({"accepted": len(checks), "refused": len(problems), "results": results})


def shown(check: Check, superseded_by: object) -> dict[str, Any]:
    """A check as `CheckOutput` describes it, from its own record and nothing else."""
    sent, accepted = check.record["sent"], check.record["accepted"]
    return {
        "id": str(check.pk),
        "client_id": str(check.client_id),
        "room": str(check.room_id),
        "sequence": check.sequence,
        "stage": check.stage,
        "taken_at": rfc3339(check.taken_at),
        "received_at": rfc3339(check.received_at),
        "taken_by": str(check.taken_by_id),
        "supersedes": sent["supersedes"],
        "superseded_by": str(superseded_by) if superseded_by else None,
        "outcome": check.outcome,
        "flags": check.flags,
        "measured_twice": any(flag.startswith(TWICE) for flag in check.flags),
        "note": check.note,
        "missing": accepted["missing"],
        "next_steps": accepted["next_steps"],
        "findings": accepted["findings"],
        "readings": [
            _reading(given, found, sent)
            for given, found in zip(sent["readings"], accepted["readings"], strict=True)
        ],
        "caution": caution(check.stage),
        "previous_digest": check.previous_digest,
        "digest": check.digest,
    }


def _reading(
    given: Mapping[str, Any], found: Mapping[str, Any], sent: Mapping[str, Any]
) -> dict[str, Any]:
    return {
        "kind": given["kind"],
        "range": given["range"],
        "value": given.get("value"),
        "over_range": given.get("over_range", False),
        "element": found["element"],
        "sensor": found["sensor"],
        "lead": given.get("lead", ""),
        "at_c": given.get("at_c", sent["at_c"]),
        "outcome": found["outcome"],
        "because": found["because"],
        "figures": found["figures"],
    }


def _client_id(given: Any) -> str | None:
    """The id that a bad item called itself, so that the phone knows which one it was."""
    client_id = given.get("client_id") if isinstance(given, dict) else None
    return client_id[:64] if isinstance(client_id, str) else None
