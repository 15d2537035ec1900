"""Bookings: who is where, by half-days."""

from datetime import date

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Output
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.models import Job, Room
from jobs.requests import MemberRequest
from scheduling.actions import crews, moving
from scheduling.api.crews import HalfDayInput
from scheduling.models import HALVES, Booking, Crew


class BookingInput(Input):
    crew = serializers.UUIDField()
    job = serializers.UUIDField()
    room = serializers.UUIDField(required=False, allow_null=True)
    task = serializers.ChoiceField(choices=Booking.TASKS)
    half_days = serializers.ListField(child=HalfDayInput(), min_length=1, max_length=60)


class BookingChange(Input):
    crew = serializers.UUIDField(required=False)
    day = serializers.DateField(required=False)
    half = serializers.ChoiceField(choices=HALVES, required=False)
    pinned = serializers.BooleanField(required=False)


class BookingOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    crew = serializers.UUIDField(source="crew_id")
    job = serializers.UUIDField(source="job_id")
    room = serializers.UUIDField(source="room_id", allow_null=True)
    task = serializers.CharField()
    day = serializers.DateField()
    half = serializers.CharField()
    span = serializers.UUIDField(help_text="Half-days of one task share it.")
    pinned = serializers.BooleanField()
    booked_at = Instant()
    cancelled_at = Instant(allow_null=True)


class BookedOutput(Output):
    results = BookingOutput(many=True)


class BookingFilters(Input):
    crew = serializers.UUIDField(required=False)
    job = serializers.UUIDField(required=False)
    room = serializers.UUIDField(required=False)
    since = serializers.DateField(required=False)
    until = serializers.DateField(required=False)
    cancelled = serializers.BooleanField(default=False)


class BookingList(ListView):
    @extend_schema(parameters=[BookingFilters], responses=BookingOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, BookingFilters)
        rows = Booking.objects.visible_to(request.user).filter(
            cancelled_at__isnull=not wanted["cancelled"],
            day__gte=wanted.get("since", date.min),
            day__lte=wanted.get("until", date.max),
            **{f"{name}_id": wanted[name] for name in ("crew", "job", "room") if name in wanted},
        )
        return self.listing(request, rows, BookingOutput)

    @extend_schema(request=BookingInput, responses={201: BookedOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Book a crew for one task: all its half-days or none."""
        may_write(Booking, request.user)
        sent = BookingInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        rows = crews.book_crew(
            by=request.user,
            crew=referred(Crew.objects.all(), request.user, given["crew"], pointer="#/crew"),
            job=referred(Job.objects.all(), request.user, given["job"], pointer="#/job"),
            room=referred(Room.objects.all(), request.user, given["room"], pointer="#/room")
            if given.get("room")
            else None,
            task=given["task"],
            half_days=[(each["day"], each["half"]) for each in given["half_days"]],
            at=timezone.now(),
        )
        return Response(BookedOutput({"results": rows}).data, status=201)


class BookingDetail(APIView):
    @extend_schema(responses=BookingOutput)
    def get(self, request: MemberRequest, booking_id: str) -> Response:
        return _shown(visible(Booking.objects.all(), request.user, pk=booking_id))

    @extend_schema(request=BookingChange, responses=BookingOutput)
    @guarded
    def patch(self, request: MemberRequest, booking_id: str) -> Response:
        """Move, reassign or pin.

        A move takes the whole task along, so that this half-day of it falls where it is asked to,
        and pins it there. If something stands against it, `because` says what, and `nearest`
        where it could be instead: crew, day and half of its first half-day.
        """
        booking = editable(Booking.objects.all(), request.user, pk=booking_id)
        version = expected_version(request)
        sent = BookingChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        if given.keys() <= {"pinned"}:
            pinned = given.get("pinned", booking.pinned)
            return _shown(moving.hold_task(booking=booking, version=version, pinned=pinned))
        crew = booking.crew
        if "crew" in given:
            crew = referred(Crew.objects.all(), request.user, given["crew"], pointer="#/crew")
        moved = moving.move_task(
            booking=booking,
            version=version,
            crew=crew,
            day=given.get("day", booking.day),
            half=given.get("half", booking.half),
            pinned=given.get("pinned", True),
            at=timezone.now(),
        )
        return _shown(moved)

    @extend_schema(responses={200: BookingOutput})
    @guarded
    def delete(self, request: MemberRequest, booking_id: str) -> Response:
        """Cancel one half-day; it stays in the record as cancelled."""
        booking = editable(Booking.objects.all(), request.user, pk=booking_id)
        version = expected_version(request)
        cancelled = crews.cancel_booking(booking=booking, version=version, at=timezone.now())
        return _shown(cancelled)


def _shown(booking: Booking) -> Response:
    return Response(BookingOutput(booking).data, headers={"ETag": etag(booking)})
