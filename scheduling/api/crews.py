"""Crews, their absences, and shared tools."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import change_row, etag, expected_version, guarded
from config.fields import Input, Instant, Output, Text, Whole
from config.idempotency import idempotent
from config.paging import ListView
from config.tenancy import UnknownId, editable, may_write, visible
from jobs.models import Member
from jobs.requests import MemberRequest
from scheduling.actions import crews
from scheduling.models import HALVES, Crew, CrewAbsence, Tool

SKILLS = [(skill, skill) for skill in ("lay", "mortar", "tile", "electric")]


class WorksField(serializers.ListField):
    """Seven pairs [am, pm] from Monday: 1 where the crew works, else 0."""

    def __init__(self, **kwargs: Any) -> None:
        half = Whole(min_value=0, max_value=1)
        day = serializers.ListField(child=half, min_length=2, max_length=2)
        super().__init__(child=day, min_length=7, max_length=7, **kwargs)


class CrewInput(Input):
    name = Text(max_length=80)
    skills = serializers.ListField(child=serializers.ChoiceField(choices=SKILLS), max_length=10)
    works = WorksField()
    keeps_holidays = serializers.BooleanField(
        required=False, help_text="Public holidays of the contractor's country are days off."
    )
    members = serializers.ListField(child=serializers.UUIDField(), required=False, max_length=50)


class CrewChange(CrewInput):
    retired_at = Instant(required=False, allow_null=True)


class CrewOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    skills = serializers.ListField(child=serializers.CharField())
    works = WorksField()
    keeps_holidays = serializers.BooleanField()
    members = serializers.SerializerMethodField()
    retired_at = Instant(allow_null=True)

    def get_members(self, crew: Crew) -> list[UUID]:
        return sorted(member.pk for member in crew.members.all())


class HalfDayInput(Input):
    day = serializers.DateField()
    half = serializers.ChoiceField(choices=HALVES)


class AbsenceInput(Input):
    half_days = serializers.ListField(child=HalfDayInput(), min_length=1, max_length=200)
    note = Text(max_length=120, required=False, allow_blank=True)


class AbsenceOutput(Output):
    id = serializers.UUIDField()
    crew = serializers.UUIDField(source="crew_id")
    day = serializers.DateField()
    half = serializers.CharField()
    note = serializers.CharField()


class AbsencesOutput(Output):
    results = AbsenceOutput(many=True)


class ToolInput(Input):
    name = Text(max_length=80)
    capacity = Whole(min_value=1, max_value=1000)


class ToolOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    capacity = serializers.IntegerField()


class CrewList(ListView):
    @extend_schema(responses=CrewOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Crew.objects.visible_to(request.user).prefetch_related("members")
        return self.listing(request, rows, CrewOutput)

    @extend_schema(request=CrewInput, responses={201: CrewOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Crew, request.user)
        sent = CrewInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        members = _members(request.user, fields.pop("members", []))
        crew = crews.add_crew(by=request.user, members=members, fields=fields)
        return Response(CrewOutput(crew).data, status=201, headers={"ETag": etag(crew)})


class CrewDetail(APIView):
    @extend_schema(responses=CrewOutput)
    def get(self, request: MemberRequest, crew_id: str) -> Response:
        crew = visible(Crew.objects.all(), request.user, pk=crew_id)
        return Response(CrewOutput(crew).data, headers={"ETag": etag(crew)})

    @extend_schema(request=CrewChange, responses=CrewOutput)
    @guarded
    def patch(self, request: MemberRequest, crew_id: str) -> Response:
        crew = editable(Crew.objects.all(), request.user, pk=crew_id)
        version = expected_version(request)
        sent = CrewChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        ids = fields.pop("members", None)
        members = None if ids is None else _members(request.user, ids)
        crew = crews.change_crew(crew=crew, version=version, members=members, fields=fields)
        return Response(CrewOutput(crew).data, headers={"ETag": etag(crew)})


class AbsenceList(ListView):
    @extend_schema(responses=AbsenceOutput(many=True))
    def get(self, request: MemberRequest, crew_id: str) -> Response:
        crew = visible(Crew.objects.all(), request.user, pk=crew_id)
        rows = CrewAbsence.objects.visible_to(request.user).filter(crew=crew)
        return self.listing(request, rows, AbsenceOutput)

    @extend_schema(request=AbsenceInput, responses={201: AbsencesOutput})
    @idempotent
    def post(self, request: MemberRequest, crew_id: str) -> Response:
        crew = editable(Crew.objects.all(), request.user, pk=crew_id)
        sent = AbsenceInput(data=request.data)
        sent.is_valid(raise_exception=True)
        half_days = [(given["day"], given["half"]) for given in sent.validated_data["half_days"]]
        note = sent.validated_data.get("note", "")
        rows = crews.be_away(crew=crew, half_days=half_days, note=note)
        return Response(AbsencesOutput({"results": rows}).data, status=201)


class AbsenceDetail(APIView):
    @extend_schema(responses={204: None})
    def delete(self, request: MemberRequest, absence_id: str) -> Response:
        """The crew works after all."""
        editable(CrewAbsence.objects.all(), request.user, pk=absence_id).delete()
        return Response(status=204)


class ToolList(ListView):
    @extend_schema(responses=ToolOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        return self.listing(request, Tool.objects.visible_to(request.user), ToolOutput)

    @extend_schema(request=ToolInput, responses={201: ToolOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Tool, request.user)
        sent = ToolInput(data=request.data)
        sent.is_valid(raise_exception=True)
        tool = crews.add_tool(by=request.user, fields=sent.validated_data)
        return Response(ToolOutput(tool).data, status=201, headers={"ETag": etag(tool)})


class ToolDetail(APIView):
    @extend_schema(request=ToolInput, responses=ToolOutput)
    @guarded
    def patch(self, request: MemberRequest, tool_id: str) -> Response:
        tool = editable(Tool.objects.all(), request.user, pk=tool_id)
        version = expected_version(request)
        sent = ToolInput(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        tool = change_row(tool, version=version, fields=sent.validated_data)
        return Response(ToolOutput(tool).data, headers={"ETag": etag(tool)})


def _members(asker: Member, ids: Sequence[UUID]) -> list[Member]:
    rows = list(asker.contractor.members.filter(pk__in=ids))
    if missing := set(ids) - {row.pk for row in rows}:
        at = list(ids).index(missing.pop())
        raise UnknownId("None of your people has this id.", pointer=f"#/members/{at}")
    return rows
