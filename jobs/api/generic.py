"""Generic materials: what may be assumed while no data sheet is at hand."""

from dataclasses import asdict

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output
from config.idempotency import idempotent
from config.tenancy import may_write
from jobs.actions import materials
from jobs.api.materials import MaterialOutput
from jobs.catalogue import GENERIC
from jobs.models import Material
from jobs.requests import MemberRequest
from jobs.specs import CuringSpec, PackageSpec


class GenericInput(Input):
    keys = serializers.ListField(
        child=serializers.ChoiceField(choices=[(key, key) for key in GENERIC]),
        min_length=1,
        max_length=len(GENERIC),
    )


class GenericOutput(Output):
    key = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    note = serializers.CharField(help_text="Where its figures come from.")
    curing = CuringSpec(allow_null=True)
    package = PackageSpec(allow_null=True)

    def to_representation(self, instance: dict[str, object]) -> dict[str, object]:
        """Shown as they are kept: figures are data."""
        return instance


class GenericList(APIView):
    @extend_schema(responses=GenericOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        """The generic entries; all of their figures are assumptions."""
        found = [{"key": key, **asdict(entry)} for key, entry in GENERIC.items()]
        return Response(GenericOutput(found, many=True).data)

    @extend_schema(request=GenericInput, responses={201: MaterialOutput(many=True)})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Take generic entries into the catalogue; those there already stay as they are."""
        may_write(Material, request.user)
        sent = GenericInput(data=request.data)
        sent.is_valid(raise_exception=True)
        added = materials.add_generic_materials(by=request.user, keys=sent.validated_data["keys"])
        return Response(MaterialOutput(added, many=True).data, status=201)
