"""The catalogue: materials with the figures of their data sheets."""

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
from config.tenancy import editable, may_write, visible
from jobs.actions import materials
from jobs.materials import KINDS
from jobs.models import Material
from jobs.requests import MemberRequest
from jobs.specs import ControlSpec, CuringSpec, ElementSpec, PackageSpec, SensorSpec


class MaterialInput(Input):
    name = Text(max_length=120)
    kind = serializers.ChoiceField(choices=[(kind, kind) for kind in KINDS])
    sheet = Text(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="The data sheet that prints these figures; without one say `generic`.",
    )
    generic = serializers.BooleanField(required=False)
    element = ElementSpec(required=False, allow_null=True)
    sensor = SensorSpec(required=False, allow_null=True)
    control = ControlSpec(required=False, allow_null=True)
    curing = CuringSpec(required=False, allow_null=True)
    package = PackageSpec(required=False, allow_null=True)


class MaterialChange(MaterialInput):
    kind = None  # type: ignore[assignment]
    retired_at = Instant(required=False, allow_null=True)


class MaterialOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    kind = serializers.CharField()
    sheet = serializers.CharField()
    generic = serializers.BooleanField()
    element = ElementSpec(allow_null=True)
    sensor = SensorSpec(allow_null=True)
    control = ControlSpec(allow_null=True)
    curing = CuringSpec(allow_null=True)
    package = PackageSpec(allow_null=True)
    retired_at = Instant(allow_null=True)

    def to_representation(self, material: Material) -> dict[str, Any]:
        """The specifications are stored as they were validated: shown as they are."""
        return {
            "id": str(material.pk),
            "version": material.version,
            "name": material.name,
            "kind": material.kind,
            "sheet": material.sheet,
            "generic": material.generic,
            "element": material.element,
            "sensor": material.sensor,
            "control": material.control,
            "curing": material.curing,
            "package": material.package,
            "retired_at": self.fields["retired_at"].to_representation(material.retired_at)
            if material.retired_at
            else None,
        }


class MaterialFilters(Input):
    kind = serializers.ChoiceField(choices=[(kind, kind) for kind in KINDS], required=False)
    retired = serializers.BooleanField(default=False)
    search = Text(max_length=80, required=False)


class MaterialList(ListView):
    @extend_schema(parameters=[MaterialFilters], responses=MaterialOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, MaterialFilters)
        rows = Material.objects.visible_to(request.user).filter(
            retired_at__isnull=not wanted["retired"]
        )
        if kind := wanted.get("kind"):
            rows = rows.filter(kind=kind)
        if text := wanted.get("search"):
            rows = rows.filter(name__icontains=text)
        return self.listing(request, rows, MaterialOutput)

    @extend_schema(request=MaterialInput, responses={201: MaterialOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Material, request.user)
        sent = MaterialInput(data=request.data)
        sent.is_valid(raise_exception=True)
        material = materials.add_material(by=request.user, fields=sent.validated_data)
        return _shown(material, status=201)


class MaterialDetail(APIView):
    @extend_schema(responses=MaterialOutput)
    def get(self, request: MemberRequest, material_id: str) -> Response:
        return _shown(visible(Material.objects.all(), request.user, pk=material_id))

    @extend_schema(request=MaterialChange, responses=MaterialOutput)
    @guarded
    def patch(self, request: MemberRequest, material_id: str) -> Response:
        material = editable(Material.objects.all(), request.user, pk=material_id)
        version = expected_version(request)
        sent = MaterialChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        fields = sent.validated_data
        return _shown(materials.change_material(material=material, version=version, fields=fields))

    @extend_schema(responses={200: MaterialOutput})
    @guarded
    def delete(self, request: MemberRequest, material_id: str) -> Response:
        """Retire it: what was built with it keeps its figures."""
        material = editable(Material.objects.all(), request.user, pk=material_id)
        fields = {"retired_at": timezone.now()}
        version = expected_version(request)
        return _shown(materials.change_material(material=material, version=version, fields=fields))


def _shown(material: Material, status: int = 200) -> Response:
    return Response(MaterialOutput(material).data, status=status, headers={"ETag": etag(material)})
