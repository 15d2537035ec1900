"""Meters with their ranges, and which range suits an element."""

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
from jobs.models import Element
from jobs.requests import MemberRequest
from readings.actions import instruments
from readings.actions.advice import suitable_ranges
from readings.models import Instrument, InstrumentRange


class RangeInput(Input):
    """As the manual states it: accuracy is "percent of reading + digits"."""

    name = Text(max_length=40)
    quantity = serializers.ChoiceField(choices=InstrumentRange.QUANTITIES)
    full_scale = Number(min_value=1e-6, max_value=1e9)
    resolution = Number(min_value=1e-9, max_value=1e9)
    percent_of_reading = Number(min_value=0, max_value=99)
    digits = Number(min_value=0, max_value=1000)
    test_volts = Number(
        min_value=1, max_value=20_000, required=False, allow_null=True, help_text="Of megohms."
    )


class RangeOutput(Output):
    id = serializers.UUIDField()
    name = serializers.CharField()
    quantity = serializers.CharField()
    full_scale = serializers.FloatField()
    resolution = serializers.FloatField()
    percent_of_reading = serializers.FloatField()
    digits = serializers.FloatField()
    test_volts = serializers.FloatField(allow_null=True)


class InstrumentInput(Input):
    name = Text(max_length=80)
    serial = Text(max_length=60, required=False, allow_blank=True)
    calibrated_on = serializers.DateField(required=False, allow_null=True)
    calibration_due_on = serializers.DateField(required=False, allow_null=True)
    lead_ohms = Number(
        min_value=0,
        max_value=100,
        required=False,
        help_text="The most that test leads and contacts add to a reading.",
    )
    ranges = RangeInput(many=True, required=False)


class InstrumentChange(InstrumentInput):
    ranges = None  # type: ignore[assignment]
    retired_at = Instant(required=False, allow_null=True)


class InstrumentOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    serial = serializers.CharField()
    calibrated_on = serializers.DateField(allow_null=True)
    calibration_due_on = serializers.DateField(allow_null=True)
    lead_ohms = serializers.FloatField()
    retired_at = Instant(allow_null=True)
    ranges = RangeOutput(many=True)


class InstrumentFilters(Input):
    retired = serializers.BooleanField(default=False)


class InstrumentList(ListView):
    @extend_schema(parameters=[InstrumentFilters], responses=InstrumentOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, InstrumentFilters)
        rows = Instrument.objects.visible_to(request.user).prefetch_related("ranges")
        rows = rows.filter(retired_at__isnull=not wanted["retired"])
        return self.listing(request, rows, InstrumentOutput)

    @extend_schema(request=InstrumentInput, responses={201: InstrumentOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Instrument, request.user)
        sent = InstrumentInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        row = instruments.add_instrument(by=request.user, ranges=fields.pop("ranges", []), **fields)
        return Response(InstrumentOutput(row).data, status=201, headers={"ETag": etag(row)})


class InstrumentDetail(APIView):
    @extend_schema(responses=InstrumentOutput)
    def get(self, request: MemberRequest, instrument_id: str) -> Response:
        row = visible(Instrument.objects.all(), request.user, pk=instrument_id)
        return Response(InstrumentOutput(row).data, headers={"ETag": etag(row)})

    @extend_schema(request=InstrumentChange, responses=InstrumentOutput)
    @guarded
    def patch(self, request: MemberRequest, instrument_id: str) -> Response:
        row = editable(Instrument.objects.all(), request.user, pk=instrument_id)
        version = expected_version(request)
        sent = InstrumentChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        row = instruments.change_instrument(row, version=version, fields=sent.validated_data)
        return Response(InstrumentOutput(row).data, headers={"ETag": etag(row)})


class RangeList(APIView):
    @extend_schema(request=RangeInput, responses={201: RangeOutput})
    @idempotent
    def post(self, request: MemberRequest, instrument_id: str) -> Response:
        """Add a range. Ranges are not edited, since readings were judged by them."""
        row = editable(Instrument.objects.all(), request.user, pk=instrument_id)
        sent = RangeInput(data=request.data)
        sent.is_valid(raise_exception=True)
        found = instruments.add_range(instrument=row, **sent.validated_data)
        return Response(RangeOutput(found).data, status=201)


class SuitableFilters(Input):
    at_c = serializers.FloatField(min_value=-40, max_value=70, required=False)


class SuitableOutput(Output):
    range = serializers.UUIDField()
    instrument = serializers.UUIDField()
    instrument_name = serializers.CharField()
    range_name = serializers.CharField()
    suits = serializers.BooleanField(
        help_text="A sound element can pass on this range, and the calibration holds."
    )
    margin = serializers.FloatField(help_text="The part of the tolerance that the meter leaves.")
    because = serializers.CharField()
    calibration = serializers.CharField()


class SuitableRanges(APIView):
    @extend_schema(parameters=[SuitableFilters], responses=SuitableOutput(many=True))
    def get(self, request: MemberRequest, element_id: str) -> Response:
        """Which range to use for this element, before anything is read; the best comes first."""
        elements = Element.objects.select_related("room__job")
        element = visible(elements, request.user, pk=element_id)
        wanted = chosen(request, SuitableFilters)
        rows = suitable_ranges(
            by=request.user, element=element, at_c=wanted.get("at_c"), at=timezone.now()
        )
        return Response(SuitableOutput(rows, many=True).data)
