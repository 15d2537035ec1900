"""Elements, floor sensors and controls: what is installed in a room."""

from typing import ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.actions import installed
from jobs.models import Control, Element, FloorSensor, InstalledModel, Material, Room
from jobs.requests import MemberRequest


class InstalledInput(Input):
    room = serializers.UUIDField()
    material = serializers.UUIDField()
    label = Text(max_length=40)  # type: ignore[assignment]
    serial = Text(max_length=60, required=False, allow_blank=True)


class ElementInput(InstalledInput):
    tag_ohms = Number(min_value=0.001, max_value=1_000_000)
    tolerance_above = Number(min_value=0.001, max_value=1, required=False)
    tolerance_below = Number(min_value=0.001, max_value=0.99, required=False)
    tag_c = Number(min_value=-40, max_value=70, required=False)
    alpha_per_k = Number(min_value=-0.01, max_value=0.01, required=False)
    lead_ohms = Number(min_value=0, max_value=100, required=False)


class ElementChange(ElementInput):
    room = None  # type: ignore[assignment]
    material = None  # type: ignore[assignment]
    removed_at = Instant(required=False, allow_null=True)


class FloorSensorInput(InstalledInput):
    spare = serializers.BooleanField(required=False)


class FloorSensorChange(FloorSensorInput):
    room = None  # type: ignore[assignment]
    material = None  # type: ignore[assignment]
    removed_at = Instant(required=False, allow_null=True)


class ControlInput(InstalledInput):
    pass


class ControlChange(ControlInput):
    room = None  # type: ignore[assignment]
    material = None  # type: ignore[assignment]
    removed_at = Instant(required=False, allow_null=True)


class InstalledOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    room = serializers.UUIDField(source="room_id")
    material = serializers.UUIDField(source="material_id")
    label = serializers.CharField()  # type: ignore[assignment]
    serial = serializers.CharField()
    removed_at = Instant(allow_null=True)


class ElementOutput(InstalledOutput):
    tag_ohms = serializers.FloatField()
    tolerance_above = serializers.FloatField()
    tolerance_below = serializers.FloatField()
    tag_c = serializers.FloatField()
    alpha_per_k = serializers.FloatField()
    lead_ohms = serializers.FloatField()


class FloorSensorOutput(InstalledOutput):
    spare = serializers.BooleanField()


class ControlOutput(InstalledOutput):
    pass


class InstalledFilters(Input):
    room = serializers.UUIDField(required=False)
    job = serializers.UUIDField(required=False)
    serial = Text(max_length=60, required=False)


class InstalledList(ListView):
    """What the three lists share; each names its table and its serializers."""

    model: ClassVar[type[InstalledModel]]
    input: ClassVar[type[InstalledInput]]
    output: ClassVar[type[InstalledOutput]]

    def rows(self, request: MemberRequest) -> Response:
        wanted = chosen(request, InstalledFilters)
        rows = self.model.objects.visible_to(request.user)
        if room := wanted.get("room"):
            rows = rows.filter(room_id=room)
        if job := wanted.get("job"):
            rows = rows.filter(room__job_id=job)
        if serial := wanted.get("serial"):
            rows = rows.filter(serial=serial)
        return self.listing(request, rows, self.output)

    def add(self, request: MemberRequest) -> Response:
        may_write(self.model, request.user)
        sent = self.input(data=request.data)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        rooms, materials = Room.objects.select_related("job"), Material.objects.all()
        row = installed.install(
            self.model,
            by=request.user,
            room=referred(rooms, request.user, fields.pop("room"), pointer="#/room"),
            material=referred(
                materials, request.user, fields.pop("material"), pointer="#/material"
            ),
            fields=fields,
        )
        return Response(self.output(row).data, status=201, headers={"ETag": etag(row)})


class InstalledDetail(APIView):
    model: ClassVar[type[InstalledModel]]
    change: ClassVar[type[Input]]
    output: ClassVar[type[InstalledOutput]]

    def show(self, request: MemberRequest, row_id: str) -> Response:
        row = visible(self.model.objects.all(), request.user, pk=row_id)
        return Response(self.output(row).data, headers={"ETag": etag(row)})

    def edit(self, request: MemberRequest, row_id: str) -> Response:
        row = editable(self.model.objects.all(), request.user, pk=row_id)
        version = expected_version(request)
        sent = self.change(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        row = installed.change_installed(row, version=version, fields=sent.validated_data)
        return Response(self.output(row).data, headers={"ETag": etag(row)})


class ElementList(InstalledList):
    model, input, output = Element, ElementInput, ElementOutput

    @extend_schema(parameters=[InstalledFilters], responses=ElementOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        return self.rows(request)

    @extend_schema(request=ElementInput, responses={201: ElementOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        return self.add(request)


class ElementDetail(InstalledDetail):
    model, change, output = Element, ElementChange, ElementOutput

    @extend_schema(responses=ElementOutput)
    def get(self, request: MemberRequest, row_id: str) -> Response:
        return self.show(request, row_id)

    @extend_schema(request=ElementChange, responses=ElementOutput)
    @guarded
    def patch(self, request: MemberRequest, row_id: str) -> Response:
        return self.edit(request, row_id)


class FloorSensorList(InstalledList):
    model, input, output = FloorSensor, FloorSensorInput, FloorSensorOutput

    @extend_schema(parameters=[InstalledFilters], responses=FloorSensorOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        return self.rows(request)

    @extend_schema(request=FloorSensorInput, responses={201: FloorSensorOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        return self.add(request)


class FloorSensorDetail(InstalledDetail):
    model, change, output = FloorSensor, FloorSensorChange, FloorSensorOutput

    @extend_schema(responses=FloorSensorOutput)
    def get(self, request: MemberRequest, row_id: str) -> Response:
        return self.show(request, row_id)

    @extend_schema(request=FloorSensorChange, responses=FloorSensorOutput)
    @guarded
    def patch(self, request: MemberRequest, row_id: str) -> Response:
        return self.edit(request, row_id)


class ControlList(InstalledList):
    model, input, output = Control, ControlInput, ControlOutput

    @extend_schema(parameters=[InstalledFilters], responses=ControlOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        return self.rows(request)

    @extend_schema(request=ControlInput, responses={201: ControlOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        return self.add(request)


class ControlDetail(InstalledDetail):
    model, change, output = Control, ControlChange, ControlOutput

    @extend_schema(responses=ControlOutput)
    def get(self, request: MemberRequest, row_id: str) -> Response:
        return self.show(request, row_id)

    @extend_schema(request=ControlChange, responses=ControlOutput)
    @guarded
    def patch(self, request: MemberRequest, row_id: str) -> Response:
        return self.edit(request, row_id)
