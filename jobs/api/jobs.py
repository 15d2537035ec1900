"""Jobs."""

from zoneinfo import available_timezones

from django.db.models import Q
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Number, Output, Text, Whole
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.actions import jobs
from jobs.models import UNITS, Customer, Job
from jobs.requests import MemberRequest

CODE_PROFILES = [("us", "US-type"), ("iec", "IEC-type")]


class ZoneField(Text):
    """A time zone by its IANA name."""

    def to_internal_value(self, data: object) -> str:
        name = super().to_internal_value(data)
        if name not in available_timezones():
            raise serializers.ValidationError(
                "Give the zone by its IANA name, such as Europe/Oslo."
            )
        return name


class JobInput(Input):
    customer = serializers.UUIDField()
    title = Text(max_length=120)
    street = Text(max_length=160)
    postcode = Text(max_length=20, required=False, allow_blank=True)
    city = Text(max_length=80)
    country = serializers.RegexField("^[A-Z]{2}$", help_text="ISO 3166-1 alpha-2.")
    time_zone = ZoneField(required=False, max_length=64, help_text="The contractor's if left out.")
    units = serializers.ChoiceField(choices=UNITS, required=False)
    supply_volts = Number(min_value=1, max_value=1000)
    code_profile = serializers.ChoiceField(choices=CODE_PROFILES)
    assume_c = Number(
        min_value=-40,
        max_value=70,
        required=False,
        help_text="What a time without temperatures counts as, °C.",
    )
    release_on = serializers.DateField(required=False, allow_null=True)
    due_on = serializers.DateField(required=False, allow_null=True)
    weight = Whole(min_value=1, max_value=100, required=False)
    note = Text(max_length=5000, required=False, allow_blank=True)


class JobChange(JobInput):
    customer = None  # type: ignore[assignment]
    closed_at = Instant(required=False, allow_null=True)


class JobOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    number = serializers.IntegerField()
    customer = serializers.UUIDField(source="customer_id")
    title = serializers.CharField()
    street = serializers.CharField()
    postcode = serializers.CharField()
    city = serializers.CharField()
    country = serializers.CharField()
    time_zone = serializers.CharField()
    units = serializers.CharField()
    supply_volts = serializers.FloatField()
    code_profile = serializers.CharField()
    assume_c = serializers.FloatField()
    release_on = serializers.DateField(allow_null=True)
    due_on = serializers.DateField(allow_null=True)
    weight = serializers.IntegerField()
    note = serializers.CharField()
    closed_at = Instant(allow_null=True)


class JobFilters(Input):
    customer = serializers.UUIDField(required=False)
    number = serializers.IntegerField(required=False, min_value=1, max_value=2**31 - 1)
    open = serializers.BooleanField(required=False, allow_null=True, default=None)
    search = Text(max_length=80, required=False, help_text="In title, street, city and customer.")


class JobList(ListView):
    @extend_schema(parameters=[JobFilters], responses=JobOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, JobFilters)
        rows = Job.objects.visible_to(request.user)
        if customer := wanted.get("customer"):
            rows = rows.filter(customer_id=customer)
        if number := wanted.get("number"):
            rows = rows.filter(number=number)
        if wanted["open"] is not None:
            rows = rows.filter(closed_at__isnull=wanted["open"])
        if text := wanted.get("search"):
            rows = rows.filter(
                Q(title__icontains=text)
                | Q(street__icontains=text)
                | Q(city__icontains=text)
                | Q(customer__name__icontains=text)
            )
        return self.listing(request, rows, JobOutput)

    @extend_schema(request=JobInput, responses={201: JobOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Job, request.user)
        sent = JobInput(data=request.data)
        sent.is_valid(raise_exception=True)
        fields = dict(sent.validated_data)
        fields["customer"] = referred(
            Customer.objects.all(), request.user, fields["customer"], pointer="#/customer"
        )
        job = jobs.add_job(by=request.user, **fields)
        return Response(JobOutput(job).data, status=201, headers={"ETag": etag(job)})


class JobDetail(APIView):
    @extend_schema(responses=JobOutput)
    def get(self, request: MemberRequest, job_id: str) -> Response:
        job = visible(Job.objects.all(), request.user, pk=job_id)
        return Response(JobOutput(job).data, headers={"ETag": etag(job)})

    @extend_schema(request=JobChange, responses=JobOutput)
    @guarded
    def patch(self, request: MemberRequest, job_id: str) -> Response:
        job = editable(Job.objects.all(), request.user, pk=job_id)
        version = expected_version(request)
        sent = JobChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        job = jobs.change_job(job=job, version=version, fields=sent.validated_data)
        return Response(JobOutput(job).data, headers={"ETag": etag(job)})
