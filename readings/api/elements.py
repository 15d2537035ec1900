"""What the readings of an element say: trend, monitor, fault, repair."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.tenancy import editable, may_write, visible
from jobs.models import Element
from jobs.requests import MemberRequest
from readings.actions import monitors, repairs
from readings.actions.advice import trend_of, watch
from readings.actions.faults import locate
from readings.models import MonitorEvent

MOST_EVENTS = 1_000


class PointOutput(Output):
    stage = serializers.CharField(source="name")
    at = Instant()
    ohms = serializers.FloatField(help_text="At the tag's temperature.")
    u_ohms = serializers.FloatField()


class TrendStepOutput(Output):
    start = PointOutput()
    end = PointOutput()
    change_ohms = serializers.FloatField()
    u_ohms = serializers.FloatField()
    outcome = serializers.ChoiceField(choices=("held", "moved"))
    works = serializers.ListField(child=serializers.CharField())
    because = serializers.CharField()


class TrendOutput(Output):
    element = serializers.UUIDField(source="element.id")
    points = PointOutput(many=True)
    steps = TrendStepOutput(many=True)
    drift = TrendStepOutput(allow_null=True, help_text="From the first reading to the last.")


class ElementTrend(APIView):
    @extend_schema(responses=TrendOutput)
    def get(self, request: MemberRequest, element_id: str) -> Response:
        """Did the element move between its checks by more than the meters can explain?"""
        elements = Element.objects.select_related("material")
        element = visible(elements, request.user, pk=element_id)
        return Response(TrendOutput(trend_of(element)).data)


class EventInput(Input):
    client_id = serializers.UUIDField()
    at = Instant()
    kind = serializers.ChoiceField(choices=MonitorEvent.KINDS)


class EventsInput(Input):
    events: serializers.ListSerializer[Any] = serializers.ListSerializer(
        child=EventInput(), max_length=MOST_EVENTS, allow_empty=False
    )


class EventOutput(Output):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    at = Instant()
    kind = serializers.CharField()
    received_at = Instant()


class WatchFinding(Output):
    kind = serializers.ChoiceField(choices=("alarm", "silence"))
    start = Instant()
    end = Instant()
    works = serializers.ListField(child=serializers.CharField())
    because = serializers.CharField()


class WatchOutput(Output):
    events = EventOutput(many=True)
    findings = WatchFinding(many=True)


class ElementMonitor(APIView):
    @extend_schema(responses=WatchOutput)
    def get(self, request: MemberRequest, element_id: str) -> Response:
        """What the continuity monitor said, and where it was silent."""
        element = visible(Element.objects.all(), request.user, pk=element_id)
        return Response(WatchOutput(self.watched(element)).data)

    @extend_schema(request=EventsInput, responses={201: WatchOutput})
    @idempotent
    def post(self, request: MemberRequest, element_id: str) -> Response:
        element = editable(Element.objects.all(), request.user, pk=element_id)
        sent = EventsInput(data=request.data)
        sent.is_valid(raise_exception=True)
        events = [monitors.EventSent(**given) for given in sent.validated_data["events"]]
        monitors.record_events(by=request.user, element=element, sent=events, at=timezone.now())
        return Response(WatchOutput(self.watched(element)).data, status=201)

    def watched(self, element: Element) -> dict[str, Any]:
        return {
            "events": element.monitor_events.order_by("at", "pk"),
            "findings": watch(element, until=timezone.now()),
        }


class FaultInput(Input):
    """Readings at the ends of a damaged element; which ones, `method` says."""

    METHODS = ("core_to_ground", "bridge", "bridge_with_dial", "core_to_core", "open_core")

    method = serializers.ChoiceField(choices=METHODS)
    construction = serializers.ChoiceField(
        choices=("single", "twin-equal", "twin-return"),
        help_text="twin-return: the return core has next to no ohms.",
    )
    range = serializers.UUIDField(
        required=False, help_text="The meter's range, for the uncertainty of readings in ohms."
    )
    ends_known = serializers.BooleanField(required=False, help_text="Lead A is marked.")
    loop_ohms = Number(min_value=0, max_value=1e9, required=False)
    from_a_ohms = Number(min_value=0, max_value=1e9, required=False)
    from_b_ohms = Number(min_value=0, max_value=1e9, required=False)
    arm_a = Number(min_value=0, max_value=1e9, required=False)
    arm_b = Number(min_value=0, max_value=1e9, required=False)
    dial_ohms = Number(min_value=0, max_value=1e9, required=False)
    arm_ratio = Number(min_value=0, max_value=1e6, required=False)
    healthy_ohms = Number(min_value=0, max_value=1e9, required=False)
    measured_ohms = Number(min_value=0, max_value=1e9, required=False)
    capacitance_a = Number(min_value=0, max_value=1e9, required=False)
    capacitance_b = Number(min_value=0, max_value=1e9, required=False)
    u_percent = Number(
        min_value=0,
        max_value=50,
        required=False,
        help_text="Standard uncertainty of each capacitance or arm, percent of it.",
    )


class PlaceOutput(Output):
    metres = serializers.FloatField(help_text="Of heating cable from the cold splice.")
    u_metres = serializers.FloatField()
    from_m = serializers.FloatField()
    to_m = serializers.FloatField()
    part = serializers.ChoiceField(choices=("heating", "cold-lead"))
    core = serializers.CharField()
    because = serializers.CharField()
    spot_mm = serializers.ListField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="Where that is in the room, by the newest drawing; null without one.",
    )
    path_mm = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField()),
        help_text="The stretch of cable from `from_m` to `to_m` in the room.",
    )


class FaultOutput(Output):
    fraction = serializers.FloatField(help_text="Of the ohms from A to B.")
    u_fraction = serializers.FloatField()
    fault_ohms = serializers.FloatField(allow_null=True)
    u_fault_ohms = serializers.FloatField(allow_null=True)
    because = serializers.CharField()
    places = PlaceOutput(many=True)
    drawing = serializers.CharField(help_text="Which drawing the spots are from.")
    caution = serializers.CharField()


class ElementFault(APIView):
    @extend_schema(request=FaultInput, responses=FaultOutput)
    @idempotent
    def post(self, request: MemberRequest, element_id: str) -> Response:
        """Work out where a damaged element is to be opened. Nothing is stored."""
        may_write(Element, request.user)
        elements = Element.objects.select_related("material")
        element = visible(elements, request.user, pk=element_id)
        sent = FaultInput(data=request.data)
        sent.is_valid(raise_exception=True)
        found = locate(by=request.user, element=element, given=sent.validated_data)
        return Response(FaultOutput(found).data)


class JointInput(Input):
    chainage_mm = Number(min_value=0, max_value=1_000_000)
    joined_at = Instant()
    note = Text(max_length=500, required=False, allow_blank=True, default="")


class JointOutput(Output):
    chainage_mm = serializers.FloatField()
    joined_at = serializers.CharField()
    note = serializers.CharField()


class ElementJoints(APIView):
    @extend_schema(responses=JointOutput(many=True))
    def get(self, request: MemberRequest, element_id: str) -> Response:
        element = visible(Element.objects.all(), request.user, pk=element_id)
        return Response(element.joints)

    @extend_schema(request=JointInput, responses={201: JointOutput(many=True)})
    @idempotent
    def post(self, request: MemberRequest, element_id: str) -> Response:
        """Record a repair joint; the element's readings are due again."""
        element = editable(Element.objects.all(), request.user, pk=element_id)
        sent = JointInput(data=request.data)
        sent.is_valid(raise_exception=True)
        found = repairs.add_joint(element=element, at=timezone.now(), **sent.validated_data)
        return Response(found.joints, status=201)
