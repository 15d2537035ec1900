"""Rooms with their keep-outs."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.actions import jobs
from jobs.api.shapes import OutlineField, PointField
from jobs.models import Job, KeepOut, Room
from jobs.requests import MemberRequest
from jobs.rooms import PROOFS

MOST_KEEP_OUTS = 100


class KeepOutInput(Input):
    kind = serializers.ChoiceField(choices=KeepOut.KINDS)
    name = Text(max_length=80, required=False, allow_blank=True)
    outline = OutlineField()
    margin_mm = Number(min_value=0, max_value=10_000, required=False, allow_null=True)


class KeepOutOutput(Output):
    kind = serializers.CharField()
    name = serializers.CharField()
    outline = OutlineField()
    margin_mm = serializers.FloatField(allow_null=True)


class MarginsInput(Input):
    wall = Number(min_value=0, max_value=10_000, required=False)
    fixture = Number(min_value=0, max_value=10_000, required=False)
    toilet = Number(min_value=0, max_value=10_000, required=False)
    drain = Number(min_value=0, max_value=10_000, required=False)
    vent = Number(min_value=0, max_value=10_000, required=False)
    built_in = Number(min_value=0, max_value=10_000, required=False)
    door_swing = Number(min_value=0, max_value=10_000, required=False)
    joint = Number(min_value=0, max_value=10_000, required=False)


class RoomInput(Input):
    job = serializers.UUIDField()
    name = Text(max_length=80)
    outline = OutlineField(help_text="Corners in mm, x right, y up, closing by itself.")
    keep_outs = serializers.ListField(
        child=KeepOutInput(), required=False, max_length=MOST_KEEP_OUTS
    )
    joints = serializers.ListField(child=OutlineField(), required=False, max_length=50)
    margins_mm = MarginsInput(required=False)
    control_mm = PointField(required=False, allow_null=True)
    door_mm = OutlineField(required=False, allow_null=True, min_length=2, max_length=2)
    doorways = serializers.ListField(
        child=OutlineField(min_length=2, max_length=2),
        required=False,
        max_length=20,
        help_text="Stretches of wall that stand open to a heated neighbour: two ends each.",
    )
    max_w_per_m2 = Number(min_value=1, max_value=1000, required=False)
    covering = Text(max_length=40, required=False, allow_blank=True)
    required = serializers.ListField(  # type: ignore[assignment]
        child=serializers.ChoiceField(choices=[(name, name) for name in PROOFS]),
        required=False,
        help_text="What must be proven before heat; the usual list if left out.",
    )
    note = Text(max_length=5000, required=False, allow_blank=True)


class RoomChange(RoomInput):
    job = None  # type: ignore[assignment]


class RoomOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    job = serializers.UUIDField(source="job_id")
    name = serializers.CharField()
    outline = OutlineField()
    keep_outs = serializers.SerializerMethodField()
    joints = serializers.ListField(child=OutlineField())
    margins_mm = serializers.DictField(child=serializers.FloatField())
    control_mm = PointField(allow_null=True)
    door_mm = OutlineField(allow_null=True)
    doorways = serializers.ListField(child=OutlineField())
    max_w_per_m2 = serializers.FloatField()
    covering = serializers.CharField()
    required = serializers.ListField(child=serializers.CharField())  # type: ignore[assignment]
    note = serializers.CharField()
    notes = serializers.SerializerMethodField()

    @extend_schema_field(KeepOutOutput(many=True))
    def get_keep_outs(self, room: Room) -> Any:
        rows = sorted(room.keep_outs.all(), key=lambda row: row.position)
        return KeepOutOutput(rows, many=True).data

    def get_notes(self, room: Room) -> list[str]:
        """What was put right in the shapes just sent, or looks odd in them."""
        return list(self.context.get("notes", ()))


class RoomFilters(Input):
    job = serializers.UUIDField(required=False)


class RoomList(ListView):
    @extend_schema(parameters=[RoomFilters], responses=RoomOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Room.objects.visible_to(request.user).prefetch_related("keep_outs")
        if job := chosen(request, RoomFilters).get("job"):
            rows = rows.filter(job_id=job)
        return self.listing(request, rows, RoomOutput)

    @extend_schema(request=RoomInput, responses={201: RoomOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Room, request.user)
        sent = RoomInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields: dict[str, Any] = {"required": list(PROOFS), **sent.validated_data}
        fields["job"] = referred(Job.objects.all(), request.user, fields["job"], pointer="#/job")
        room, notes = jobs.add_room(by=request.user, **fields)
        return _shown(room, notes, status=201)


class RoomDetail(APIView):
    @extend_schema(responses=RoomOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        return _shown(visible(Room.objects.all(), request.user, pk=room_id), ())

    @extend_schema(request=RoomChange, responses=RoomOutput)
    @guarded
    def patch(self, request: MemberRequest, room_id: str) -> Response:
        room = editable(Room.objects.all(), request.user, pk=room_id)
        version = expected_version(request)
        sent = RoomChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        return _shown(*jobs.change_room(room=room, version=version, fields=sent.validated_data))


def _shown(room: Room, notes: tuple[str, ...], status: int = 200) -> Response:
    body = RoomOutput(room, context={"notes": notes}).data
    return Response(body, status=status, headers={"ETag": etag(room)})
