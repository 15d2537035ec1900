"""Visits from a calendar file, or from lines of text."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output, Text
from config.idempotency import idempotent
from config.tenancy import may_write, referred
from jobs.models import LANGUAGES, Job, Room
from jobs.requests import MemberRequest
from scheduling.actions import visit_imports
from scheduling.actions.visit_imports import Import, Source
from scheduling.api.visits import ConflictOutput, conflict_shown
from scheduling.calendar_text import MOST_BYTES
from scheduling.models import Visit
from scheduling.visit_lines import FORMAT


class VisitImportInput(Input):
    job = serializers.UUIDField()
    room = serializers.UUIDField(
        required=False, allow_null=True, help_text="Left out: all rooms of the job."
    )
    trade = Text(max_length=60, required=False, help_text="Needed with a calendar.")
    company = Text(max_length=120, required=False, help_text="The trade if left out.")
    email = serializers.EmailField(required=False, allow_blank=True)
    phone = Text(max_length=40, required=False, allow_blank=True)
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    activities = serializers.ListField(
        child=serializers.ChoiceField(choices=Visit.ACTIVITIES), min_length=1, max_length=20
    )
    calendar = Text(
        max_length=MOST_BYTES + 1, required=False, help_text="The text of an iCalendar (RFC 5545)."
    )
    lines = Text(max_length=MOST_BYTES, required=False, help_text=FORMAT)
    preview = serializers.BooleanField(default=False, help_text="Store nothing.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("calendar" in attrs) == ("lines" in attrs):
            raise serializers.ValidationError({"lines": "Give a calendar, or lines, not both."})
        if "calendar" in attrs and "trade" not in attrs:
            raise serializers.ValidationError({"trade": "A calendar does not say its trade."})
        return attrs


class ImportedVisitOutput(Output):
    deed = serializers.ChoiceField(choices=("new", "moved", "same", "older", "gone"))
    id = serializers.UUIDField()
    title = serializers.CharField()
    trade = serializers.CharField()
    company = serializers.CharField()
    room = serializers.UUIDField(allow_null=True)
    starts_at = Instant()
    ends_at = Instant()
    conflicts = ConflictOutput(many=True)


class NotTakenOutput(Output):
    where = serializers.CharField()
    why = serializers.CharField()


class VisitImportOutput(Output):
    visits = ImportedVisitOutput(many=True)
    wrongs = NotTakenOutput(many=True, help_text="What was not taken.")
    past = serializers.IntegerField(help_text="Times that are over, left out.")
    later = serializers.IntegerField(help_text="Times more than a year away, left out.")


class VisitImport(APIView):
    @extend_schema(request=VisitImportInput, responses={200: VisitImportOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Note the visits of a calendar or of lines; told again they move instead of doubling."""
        may_write(Visit, request.user)
        sent = VisitImportInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(sent.validated_data)
        room_id = given.pop("room", None)
        only_look = given.pop("preview")
        source = Source(
            job=referred(Job.objects.all(), request.user, given.pop("job"), pointer="#/job"),
            room=referred(Room.objects.all(), request.user, room_id, pointer="#/room")
            if room_id
            else None,
            calendar=given.pop("calendar", ""),
            lines=given.pop("lines", ""),
            fields={"trade": "", "company": "", **given},
        )
        do = visit_imports.preview if only_look else visit_imports.take
        return Response(_shown(do(source, at=timezone.now())))


def _shown(found: Import) -> dict[str, Any]:
    visits = [
        {
            "deed": row.deed,
            "id": str(row.visit.pk),
            "title": row.title,
            "trade": row.visit.trade,
            "company": row.visit.company,
            "room": str(row.visit.room_id) if row.visit.room_id else None,
            "starts_at": Instant().to_representation(row.visit.starts_at),
            "ends_at": Instant().to_representation(row.visit.ends_at),
            "conflicts": [conflict_shown(conflict) for conflict in row.conflicts],
        }
        for row in found.rows
    ]
    wrongs = [{"where": wrong.where, "why": wrong.why} for wrong in found.read.wrongs]
    return {
        "visits": visits,
        "wrongs": wrongs,
        "past": found.read.past,
        "later": found.read.later,
    }
