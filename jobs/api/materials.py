"""The catalogue: materials with the figures of their data sheets."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, visible
from jobs.actions import materials
from jobs.materials import KINDS
from jobs.models import Material
from jobs.requests import MemberRequest


class Hours(Number):
    """Hours that a sheet may or may not print."""

    def __init__(self) -> None:
        super().__init__(min_value=0, max_value=20_000, required=False, allow_null=True)


class Celsius(Number):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=-40, max_value=70, **kwargs)


class ElementSpec(Input):
    """One heating mat or cable as it is sold; it cannot be shortened."""

    kind = serializers.ChoiceField(choices=[("mat", "mat"), ("cable", "cable")])
    wire_mm = Number(min_value=100, max_value=1_000_000)
    spacing_mm = Number(min_value=10, max_value=1000)
    spacing_least_mm = Number(min_value=10, max_value=1000)
    spacing_most_mm = Number(min_value=10, max_value=1000)
    watts = Number(min_value=1, max_value=100_000)
    volts = Number(min_value=1, max_value=1000)
    min_bend_mm = Number(min_value=0, max_value=1000)
    ends = serializers.ChoiceField(choices=[("one", "one"), ("both", "both")])
    width_mm = Number(min_value=50, max_value=5000, required=False, allow_null=True)
    length_mm = Number(min_value=50, max_value=1_000_000, required=False, allow_null=True)
    cold_lead_mm = Number(min_value=0, max_value=1_000_000, required=False)
    alpha_per_k = Number(min_value=-0.01, max_value=0.01, required=False)


class SensorSpec(Input):
    """An NTC by its table `[[°C, ohms], ...]`: two points are read by beta, three by
    Steinhart-Hart, more by interpolation."""

    points = serializers.ListField(
        child=serializers.ListField(child=Number(), min_length=2, max_length=2),
        min_length=2,
        max_length=400,
    )


class ControlSpec(Input):
    volts = Number(min_value=1, max_value=1000)
    max_amps = Number(min_value=0.1, max_value=1000)
    leakage_trip_ma = Number(min_value=1, max_value=1000, required=False, allow_null=True)


class LawSpec(Input):
    kind = serializers.ChoiceField(
        choices=[("arrhenius", "arrhenius"), ("ec2", "ec2"), ("nurse-saul", "nurse-saul")]
    )
    activation_k = Number(min_value=1, max_value=20_000, required=False)
    reference_c = Celsius(required=False)
    datum_c = Celsius(required=False)


class MoistureSpec(Input):
    method = Text(max_length=40)
    limit = Number(min_value=0, max_value=100)
    unit = Text(max_length=20)


class ThicknessSpec(Input):
    """What every millimetre over a thickness adds to the hours before heat."""

    over_mm = Number(min_value=0, max_value=1000)
    hours_per_mm = Number(min_value=0, max_value=1000)


class DryingSpec(Input):
    """Hours of drying for each millimetre, up to a thickness and above, in the sheet's climate."""

    hours_per_mm = Number(min_value=0, max_value=1000)
    over_mm = Number(min_value=0, max_value=1000)
    hours_per_mm_over = Number(min_value=0, max_value=1000)
    reference_c = Celsius()
    reference_rh_percent = Number(min_value=0, max_value=99)


class CuringSpec(Input):
    """What the sheet prints about hardening: °C, hours, millimetres."""

    law = LawSpec()
    lowest_c = Celsius()
    highest_c = Celsius(required=False, allow_null=True)
    reference_rh_percent = Number(min_value=0, max_value=100, required=False, allow_null=True)
    walk_after_hours = Hours()
    next_layer_after_hours = Hours()
    grout_after_hours = Hours()
    heat_after_hours = Number(min_value=0, max_value=20_000)
    full_after_hours = Hours()
    frost_watch_hours = Number(min_value=0, max_value=1000, required=False)
    least_mm = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    most_mm = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    thickness = ThicknessSpec(required=False, allow_null=True)
    moisture = MoistureSpec(required=False, allow_null=True)
    drying = DryingSpec(required=False, allow_null=True)
    service_most_c = Celsius(
        required=False, allow_null=True, help_text="The warmest that it may be heated for good."
    )


class PackageSpec(Input):
    """How it is bought: `covers` of `unit` in one package at `thickness_mm`, if any."""

    name = Text(max_length=40)
    covers = Number(min_value=0.001, max_value=1_000_000)
    unit = serializers.ChoiceField(choices=[("m2", "m2"), ("m", "m"), ("piece", "piece")])
    thickness_mm = Number(min_value=0.1, max_value=1000, required=False, allow_null=True)
    waste_fraction = Number(min_value=0, max_value=1, required=False)


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
