"""Visits of other trades, held against the floor's windows."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.models import LANGUAGES, Job, Room
from jobs.requests import MemberRequest
from scheduling.actions import notices, visits
from scheduling.actions.exposures import windows_of
from scheduling.exposure import Conflict
from scheduling.models import Visit
from scheduling.notice import exposure, shown


class VisitInput(Input):
    job = serializers.UUIDField()
    room = serializers.UUIDField(
        required=False, allow_null=True, help_text="Left out: all rooms of the job."
    )
    trade = Text(max_length=60)
    company = Text(max_length=120)
    email = serializers.EmailField(required=False, allow_blank=True)
    phone = Text(max_length=40, required=False, allow_blank=True)
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    activities = serializers.ListField(
        child=serializers.ChoiceField(choices=Visit.ACTIVITIES), min_length=1, max_length=20
    )
    starts_at = Instant()
    ends_at = Instant()


class VisitChange(VisitInput):
    job = None  # type: ignore[assignment]
    room = None  # type: ignore[assignment]


class ExposureOutput(Output):
    state = serializers.ChoiceField(choices=("none", "bare", "wet", "embedded"))
    starts_at = Instant(allow_null=True)
    until = Instant(allow_null=True, help_text="The likely end.")
    until_latest = Instant(allow_null=True, help_text="The latest plausible end.")
    likely = serializers.BooleanField(help_text="Expected, not known.")
    forbids = serializers.ListField(child=serializers.CharField())
    because = serializers.CharField()


class ConflictOutput(ExposureOutput):
    room = serializers.UUIDField()
    forbidden = serializers.ListField(child=serializers.CharField())
    nearest_start_at = Instant(allow_null=True, help_text="The nearest start without conflict.")


class VisitOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    job = serializers.UUIDField(source="job_id")
    room = serializers.UUIDField(source="room_id", allow_null=True)
    trade = serializers.CharField()
    company = serializers.CharField()
    email = serializers.CharField()
    phone = serializers.CharField()
    language = serializers.CharField()
    activities = serializers.ListField(child=serializers.CharField())
    starts_at = Instant()
    ends_at = Instant()
    cancelled_at = Instant(allow_null=True)


class HeldVisitOutput(VisitOutput):
    conflicts = ConflictOutput(many=True)


class VisitFilters(Input):
    job = serializers.UUIDField(required=False)
    room = serializers.UUIDField(required=False)
    since = Instant(required=False)


class VisitList(ListView):
    @extend_schema(parameters=[VisitFilters], responses=VisitOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, VisitFilters)
        rows = Visit.objects.visible_to(request.user).filter(
            **{f"{name}_id": wanted[name] for name in ("job", "room") if name in wanted}
        )
        if since := wanted.get("since"):
            rows = rows.filter(ends_at__gte=since)
        return self.listing(request, rows, VisitOutput)

    @extend_schema(request=VisitInput, responses={201: HeldVisitOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Visit, request.user)
        sent = VisitInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields: dict[str, Any] = dict(sent.validated_data)
        room_id = fields.pop("room", None)
        visit, met = visits.plan_visit(
            by=request.user,
            job=referred(Job.objects.all(), request.user, fields.pop("job"), pointer="#/job"),
            room=referred(Room.objects.all(), request.user, room_id, pointer="#/room")
            if room_id
            else None,
            fields=fields,
            at=timezone.now(),
        )
        return _shown(visit, met, status=201)


class VisitDetail(APIView):
    @extend_schema(responses=HeldVisitOutput)
    def get(self, request: MemberRequest, visit_id: str) -> Response:
        visit = visible(Visit.objects.select_related("job"), request.user, pk=visit_id)
        return _shown(visit, notices.conflicts_of(visit, at=timezone.now()))

    @extend_schema(request=VisitChange, responses=HeldVisitOutput)
    @guarded
    def patch(self, request: MemberRequest, visit_id: str) -> Response:
        visit = editable(Visit.objects.all(), request.user, pk=visit_id)
        version = expected_version(request)
        sent = VisitChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        fields = sent.validated_data
        now = timezone.now()
        return _shown(*visits.change_visit(visit=visit, version=version, fields=fields, at=now))

    @extend_schema(responses={200: HeldVisitOutput})
    @guarded
    def delete(self, request: MemberRequest, visit_id: str) -> Response:
        """Cancel a visit; its notice is withdrawn."""
        visit = editable(Visit.objects.all(), request.user, pk=visit_id)
        version = expected_version(request)
        now = timezone.now()
        fields = {"cancelled_at": now}
        return _shown(*visits.change_visit(visit=visit, version=version, fields=fields, at=now))


class RoomExposureOutput(Output):
    windows = ExposureOutput(many=True)


class RoomExposure(APIView):
    @extend_schema(responses=RoomExposureOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """What the room's cable is like, past and to come."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        made = windows_of([room], at=timezone.now())[str(room.pk)]
        return Response({"windows": [exposure(window) for window in made]})


def conflict_shown(conflict: Conflict) -> dict[str, Any]:
    return {
        "room": conflict.room,
        **exposure(conflict.window),
        "forbidden": list(conflict.forbidden),
        "nearest_start_at": shown(conflict.nearest_start_at),
    }


def _shown(visit: Visit, met: list[Conflict], status: int = 200) -> Response:
    body = {**VisitOutput(visit).data, "conflicts": [conflict_shown(each) for each in met]}
    return Response(body, status=status, headers={"ETag": etag(visit)})
