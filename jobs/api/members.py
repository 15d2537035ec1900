"""The people of the contractor, and who is asking."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Output
from jobs.requests import MemberRequest


class ContractorOutput(Output):
    id = serializers.UUIDField()
    name = serializers.CharField()
    phone = serializers.CharField()
    email = serializers.CharField()
    time_zone = serializers.CharField()
    units = serializers.CharField()
    language = serializers.CharField()
    country = serializers.CharField(help_text="Whose public holidays its crews keep; empty: none.")
    subdivision = serializers.CharField()


class MemberOutput(Output):
    id = serializers.UUIDField()
    name = serializers.CharField()
    email = serializers.CharField()
    role = serializers.CharField()
    licence_number = serializers.CharField()


class MeOutput(MemberOutput):
    contractor = ContractorOutput()


class Me(APIView):
    @extend_schema(responses=MeOutput)
    def get(self, request: MemberRequest) -> Response:
        """Whoever shows this token."""
        return Response(MeOutput(request.user).data)


class MemberList(APIView):
    pagination_class = None

    @extend_schema(responses=MemberOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        """Everybody of your contractor."""
        rows = request.user.contractor.members.filter(is_active=True).order_by("name", "id")
        return Response(MemberOutput(rows, many=True).data)
