"""Site temperatures: single, in batches, and a logger's file."""

from collections.abc import Iterator, Mapping
from hashlib import sha256
from tempfile import SpooledTemporaryFile
from typing import IO, Any
from weakref import finalize

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.parsers import BaseParser
from rest_framework.response import Response
from rest_framework.views import APIView

from config.errors import DomainError
from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.parsers import BodyTooLarge, StrictJSONParser
from config.problems import describe
from config.tenancy import may_write, referred
from jobs.models import Job, Room
from jobs.requests import MemberRequest
from readings.actions.temperatures import (
    TemperatureSent,
    import_log,
    record_temperature,
    record_temperatures,
)
from readings.air import COLDEST_C, HOTTEST_C
from readings.api.checks import ProblemOutput
from readings.models import SiteTemperature
from readings.temperature_log import Mapping as LogMapping

MOST_TEMPERATURES = 5_000
LARGEST_LOG = 50_000_000
PIECE = 65_536
IN_MEMORY = 1_000_000


class TemperatureInput(Input):
    client_id = serializers.UUIDField()
    job = serializers.UUIDField()
    room = serializers.UUIDField(
        required=False, allow_null=True, help_text="Left out: the whole site."
    )
    at = Instant()
    celsius = Number(help_text=f"From {COLDEST_C:g} to {HOTTEST_C:g} °C.")
    uncertainty_k = Number(min_value=0, max_value=20, required=False)
    humidity_percent = Number(
        required=False, allow_null=True, help_text="Relative humidity of the air, 0 to 100 %."
    )
    source = serializers.ChoiceField(  # type: ignore[assignment]
        choices=SiteTemperature.SOURCES, required=False
    )
    source_name = Text(max_length=80, required=False, allow_blank=True)


class TemperatureOutput(Output):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    job = serializers.UUIDField(source="job_id")
    room = serializers.UUIDField(source="room_id", allow_null=True)
    at = Instant()
    celsius = serializers.FloatField()
    uncertainty_k = serializers.FloatField()
    humidity_percent = serializers.FloatField(allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]
    source_name = serializers.CharField()
    received_at = Instant()
    taken_by = serializers.UUIDField(source="taken_by_id")


class TemperatureBatchInput(Input):
    temperatures: serializers.ListSerializer[Any] = serializers.ListSerializer(
        child=TemperatureInput(), max_length=MOST_TEMPERATURES
    )


class TemperatureBatchShell(Input):
    """A batch before its rows are looked at."""

    temperatures = serializers.ListField(
        child=serializers.JSONField(),
        allow_empty=False,
        max_length=MOST_TEMPERATURES,
        error_messages={
            "max_length": "At most {max_length} temperatures are taken at once. "
            "Send the rest in another batch."
        },
    )


class TemperatureResult(Output):
    index = serializers.IntegerField()
    temperature = TemperatureOutput(allow_null=True)
    problem = ProblemOutput(allow_null=True)


class TemperatureBatchOutput(Output):
    accepted = serializers.IntegerField()
    refused = serializers.IntegerField()
    results = TemperatureResult(many=True)


class TemperatureFilters(Input):
    job = serializers.UUIDField(required=False)
    room = serializers.UUIDField(required=False)
    since = Instant(required=False)
    until = Instant(required=False)


class LogFilters(Input):
    """How to read the file. Columns by their header, or by number from 1."""

    job = serializers.UUIDField()
    room = serializers.UUIDField(required=False)
    zone = serializers.CharField(
        max_length=64, required=False, help_text="Of times without an offset; else the job's."
    )
    unit = serializers.ChoiceField(choices=("C", "F"), required=False)
    at_column = serializers.CharField(max_length=80, required=False)
    time_column = serializers.CharField(max_length=80, required=False)
    temperature_column = serializers.CharField(max_length=80, required=False)
    humidity_column = serializers.CharField(max_length=80, required=False)
    day_order = serializers.ChoiceField(choices=("ymd", "dmy", "mdy"), required=False)
    source_name = serializers.CharField(max_length=80, required=False)
    uncertainty_k = serializers.FloatField(min_value=0, max_value=20, required=False)


class BadRowOutput(Output):
    line = serializers.IntegerField()
    because = serializers.CharField()


class LogOutput(Output):
    rows = serializers.IntegerField()
    added = serializers.IntegerField()
    duplicates = serializers.IntegerField(help_text="Said before, in this file or an earlier one.")
    bad = serializers.IntegerField()
    problems = BadRowOutput(many=True, help_text="The first 1000 bad rows.")
    first_at = Instant(allow_null=True)
    last_at = Instant(allow_null=True)


class Upload:
    """A file as it came in; its repr tells the same file from another."""

    def __init__(self, stream: IO[bytes]) -> None:
        self.file = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 (see the next line)
        finalize(self, self.file.close)  # whoever refuses the request, and wherever
        self.digest = sha256()
        size = 0
        while piece := stream.read(PIECE):
            size += len(piece)
            if size > LARGEST_LOG:
                raise BodyTooLarge(
                    f"At most {LARGEST_LOG // 1_000_000} MB are taken. Send the log in parts."
                )
            self.digest.update(piece)
            self.file.write(piece)

    def __repr__(self) -> str:
        return f"Upload({self.digest.hexdigest()})"

    def pieces(self) -> Iterator[bytes]:
        self.file.seek(0)
        while piece := self.file.read(PIECE):
            yield piece


class CSVParser(BaseParser):
    media_type = "text/csv"

    def parse(  # type: ignore[override]
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Upload:
        return Upload(stream)


class TemperatureList(ListView):
    @extend_schema(parameters=[TemperatureFilters], responses=TemperatureOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, TemperatureFilters)
        rows = SiteTemperature.objects.visible_to(request.user)
        rows = rows.filter(
            **{f"{name}_id": wanted[name] for name in ("job", "room") if name in wanted}
        )
        if since := wanted.get("since"):
            rows = rows.filter(at__gte=since)
        if until := wanted.get("until"):
            rows = rows.filter(at__lte=until)
        return self.listing(request, rows, TemperatureOutput)

    @extend_schema(request=TemperatureInput, responses={201: TemperatureOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(SiteTemperature, request.user)
        sent = TemperatureInput(data=request.data)
        sent.is_valid(raise_exception=True)
        row = record_temperature(
            by=request.user, sent=TemperatureSent(**sent.validated_data), at=timezone.now()
        )
        return Response(TemperatureOutput(row).data, status=201)


class TemperatureBatch(APIView):
    @extend_schema(request=TemperatureBatchInput, responses=TemperatureBatchOutput)
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Take in many at once: the good ones are kept, each bad one has its problem."""
        may_write(SiteTemperature, request.user)
        shell = TemperatureBatchShell(data=request.data)
        shell.is_valid(raise_exception=True)
        given: list[Any] = shell.validated_data["temperatures"]
        problems: dict[int, dict[str, Any] | None] = {}
        sent: dict[int, TemperatureSent] = {}
        shape = TemperatureInput()
        for index, one in enumerate(given):
            try:
                sent[index] = TemperatureSent(**shape.run_validation(one))
            except ValidationError as error:
                problems[index] = describe(error)
        found = record_temperatures(by=request.user, sent=list(sent.values()), at=timezone.now())
        rows: dict[int, Any] = {}
        for index, row in zip(sent, found, strict=True):
            if isinstance(row, DomainError):
                problems[index] = describe(row)
            else:
                rows[index] = TemperatureOutput(row).data
        results = [
            {"index": index, "temperature": rows.get(index), "problem": problems.get(index)}
            for index in range(len(given))
        ]
        return Response({"accepted": len(rows), "refused": len(problems), "results": results})


class TemperatureLog(APIView):
    parser_classes = (CSVParser, StrictJSONParser)

    @extend_schema(
        parameters=[LogFilters],
        request={"text/csv": OpenApiTypes.STR},
        responses={200: OpenApiResponse(LogOutput)},
    )
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Take in the CSV file of a temperature logger; bad rows are told by line.

        The same file again adds nothing.
        """
        may_write(SiteTemperature, request.user)
        wanted = chosen(request, LogFilters)
        job = referred(Job.objects.all(), request.user, wanted["job"], pointer="#/job")
        room = None
        if "room" in wanted:
            rooms = Room.objects.filter(job=job)
            room = referred(rooms, request.user, wanted["room"], pointer="#/room")
        upload = request.data
        if not isinstance(upload, Upload):
            raise ValidationError({"file": ["Send the file itself, as text/csv."]})
        *_, report = import_log(
            by=request.user,
            job=job,
            room=room,
            pieces=upload.pieces(),
            mapping=LogMapping(
                zone=wanted.get("zone", job.time_zone),
                unit=wanted.get("unit"),
                at_column=_column(wanted.get("at_column")),
                time_column=_column(wanted.get("time_column")),
                temperature_column=_column(wanted.get("temperature_column")),
                humidity_column=_column(wanted.get("humidity_column")),
                day_order=wanted.get("day_order", "ymd"),
            ),
            source_name=wanted.get("source_name", "logger"),
            uncertainty_k=wanted.get("uncertainty_k", 0.0),
            at=timezone.now(),
        )
        return Response(LogOutput(report).data)


def _column(name: str | None) -> str | int | None:
    return int(name) if name and name.isascii() and name.isdigit() and len(name) < 4 else name
