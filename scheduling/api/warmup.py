"""The first heating of a room, step by step."""

from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Whole
from config.idempotency import idempotent
from config.paging import chosen
from config.tenancy import may_write, visible
from jobs.api.shapes import AsText
from jobs.models import LANGUAGES, Room
from jobs.requests import MemberRequest
from scheduling.actions import warmup
from scheduling.models import WarmUpStep


class AsCalendar(AsText):
    media_type = "text/calendar"
    format = "ics"


class StepOutput(Output):
    number = serializers.IntegerField()
    starts_at = Instant()
    ends_at = Instant()
    floor_c = serializers.FloatField()
    done_at = Instant(allow_null=True)
    measured_c = serializers.FloatField(allow_null=True)


class WarmUpOutput(Output):
    steps = StepOutput(many=True)
    likely = serializers.BooleanField(help_text="Heat is not on: from the likely date.")
    highest_c = serializers.FloatField()
    highest_because = serializers.CharField()
    profile_source = serializers.CharField()
    stopped_because = serializers.CharField(
        help_text="Why it was stopped and not gone on with; empty if it is not."
    )


class TickInput(Input):
    step = Whole(min_value=1, max_value=100)
    done_at = Instant()
    floor_c = Number(min_value=-40, max_value=70, required=False, allow_null=True)


class TickOutput(Output):
    id = serializers.UUIDField()
    step = serializers.IntegerField()
    done_at = Instant()
    floor_c = serializers.FloatField(allow_null=True)
    stopped_because = serializers.CharField(help_text="Empty unless this reading ended it.")


class RoomWarmUp(APIView):
    @extend_schema(responses=WarmUpOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """The steps of the first heating, from when heat came on or likely may."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        return Response(_shown(warmup.plan_of(room, at=timezone.now())))

    @extend_schema(request=TickInput, responses={201: TickOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Tick a step off; a floor that is too warm stops the warm-up."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        may_write(WarmUpStep, request.user)
        sent = TickInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        row = warmup.tick(
            by=request.user,
            room=room,
            step=given["step"],
            done_at=given["done_at"],
            floor_c=given.get("floor_c"),
            at=timezone.now(),
        )
        return Response(TickOutput(row).data, status=201)


class CalendarFilters(Input):
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)


class RoomWarmUpCalendar(APIView):
    renderer_classes = (AsCalendar,)

    @extend_schema(
        parameters=[CalendarFilters], responses={(200, "text/calendar"): OpenApiTypes.STR}
    )
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """The steps as a calendar file, as they are planned now."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        asked = chosen(request, CalendarFilters)
        language = asked.get("language", request.user.language)
        content = warmup.calendar_file(room, at=timezone.now(), language=language)
        return Response(content.decode())


class RoomWarmUpResume(APIView):
    @extend_schema(request=None, responses=WarmUpOutput)
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Go on after a stop, from the step at which it was stopped."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        may_write(WarmUpStep, request.user)
        warmup.resume(by=request.user, room=room, at=timezone.now())
        return Response(_shown(warmup.plan_of(room, at=timezone.now())))


def _shown(plan: warmup.WarmUpPlan) -> dict[str, Any]:
    ticks = {tick.step: tick for tick in plan.ticks}
    steps = [
        {
            "number": step.number,
            "starts_at": step.starts_at,
            "ends_at": step.ends_at,
            "floor_c": step.floor_c,
            "done_at": ticks[step.number].done_at if step.number in ticks else None,
            "measured_c": ticks[step.number].floor_c if step.number in ticks else None,
        }
        for step in plan.steps
    ]
    return WarmUpOutput(
        {
            "steps": steps,
            "likely": plan.likely,
            "highest_c": plan.limit.celsius,
            "highest_because": plan.limit.because,
            "profile_source": plan.profile.source,
            "stopped_because": plan.stopped_because,
        }
    ).data
