"""The survey of a room, and what its floor gives against what the room loses."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import change_row, etag, expected_version, guarded
from config.fields import Input, Number, Output, Text, Whole
from config.idempotency import idempotent
from config.tenancy import editable, visible
from jobs.actions.worked_out import facts_of, heat_of, survey_of
from jobs.models import Room
from jobs.requests import MemberRequest
from jobs.survey import SUBSTRATES, SUPPLIED, SUPPLIERS, read_facts


class Millimetres(Number):
    def __init__(self) -> None:
        super().__init__(min_value=0, max_value=100_000, required=False, allow_null=True)


class Whether(serializers.BooleanField):
    def __init__(self) -> None:
        super().__init__(required=False, allow_null=True)


class SurveyLayerInput(Input):
    use = Text(max_length=24)
    mm = Number(min_value=0.1, max_value=1000)


class SuppliedInput(Input):
    def get_fields(self) -> dict[str, Any]:
        choices = [(who, who) for who in SUPPLIERS]
        return {
            thing: serializers.ChoiceField(choices=choices, required=False) for thing in SUPPLIED
        }


class FactsInput(Input):
    """What is not known is left out or null. Lengths in mm, currents in A, volumes in cm³."""

    substrate = serializers.ChoiceField(
        choices=[(name, name) for name in SUBSTRATES], required=False, allow_null=True
    )
    substrate_sound = Whether()
    substrate_dry = Whether()
    unevenness_mm_per_2m = Millimetres()
    covering = Text(max_length=40, required=False, allow_null=True)
    layers = serializers.ListField(
        child=SurveyLayerInput(), required=False, allow_null=True, max_length=30
    )
    door_gap_mm = Millimetres()
    door_can_be_cut = Whether()
    neighbour_mm = Millimetres()
    splice_mm = Millimetres()
    recess_possible = Whether()
    supply_volts = Number(min_value=1, max_value=1000, required=False, allow_null=True)
    supply_free_a = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    load_a = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    control_open = Whether()
    control_behind_door = Whether()
    control_in_cabinet = Whether()
    control_height_mm = Millimetres()
    box_cm3 = Number(min_value=0, max_value=100_000, required=False, allow_null=True)
    conduits = Whole(min_value=0, max_value=20, required=False, allow_null=True)
    lead_mm = Millimetres()
    lead_way_mm = Millimetres()
    supplied_by = SuppliedInput(required=False)


class ItemOutput(Output):
    key = serializers.CharField()
    question = serializers.CharField()
    state = serializers.ChoiceField(choices=["known", "missing", "problem"])
    says = serializers.CharField()
    because = serializers.CharField()


class SurveyOutput(Output):
    version = serializers.IntegerField()
    facts = FactsInput()
    may_order = serializers.BooleanField()
    says = serializers.CharField()
    items = ItemOutput(many=True)


class RoomSurvey(APIView):
    @extend_schema(responses=SurveyOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        return _shown(request, room)

    @extend_schema(request=FactsInput, responses=SurveyOutput)
    @guarded
    def put(self, request: MemberRequest, room_id: str) -> Response:
        """Replace the facts; what the service knows itself fills the gaps."""
        room = editable(Room.objects.select_related("job"), request.user, pk=room_id)
        version = expected_version(request)
        sent = FactsInput(data=request.data)
        sent.is_valid(raise_exception=True)
        facts = {name: value for name, value in sent.validated_data.items() if value is not None}
        read_facts(facts_of(facts))
        room = change_row(room, version=version, fields={"survey": facts})
        return _shown(request, room)


def _shown(request: MemberRequest, room: Room) -> Response:
    found = survey_of(request.user, room)
    body = {
        "version": room.version,
        "facts": room.survey,
        "may_order": found.may_order,
        "says": found.says,
        "items": [
            {key: getattr(item, key) for key in ("key", "question", "state", "says", "because")}
            for item in found.items
        ],
    }
    return Response(body, headers={"ETag": etag(room)})


class SurfaceInput(Input):
    construction = Text(max_length=60)
    area_m2 = Number(min_value=0, max_value=10_000)
    u_w_per_m2k = Number(min_value=0, max_value=20, required=False, allow_null=True)
    other_c = Number(min_value=-60, max_value=60, required=False, allow_null=True)


class HeatInput(Input):
    surfaces = serializers.ListField(child=SurfaceInput(), max_length=60)
    volume_m3 = Number(min_value=0, max_value=100_000)
    air_changes_per_hour = Number(min_value=0, max_value=50)
    room_c = Number(min_value=-10, max_value=40)
    outdoor_c = Number(min_value=-60, max_value=50)
    zone = serializers.ChoiceField(
        choices=[(zone, zone) for zone in ("occupied", "edge", "bathroom")]
    )
    heated_m2 = Number(min_value=0.01, max_value=10_000)
    watts = Number(
        min_value=0, max_value=1_000_000, required=False, help_text="Else of the room's elements."
    )
    covering_m2k_per_w = Number(min_value=0, max_value=5)
    insulation_m2k_per_w = Number(min_value=0.001, max_value=50)
    below_c = Number(min_value=-60, max_value=60)
    under_limit_c = Number(min_value=0, max_value=80, required=False, allow_null=True)


class HeatOutput(Output):
    role = serializers.ChoiceField(choices=["main heating", "comfort only"])
    says = serializers.CharField()
    loss_watts = serializers.FloatField()
    output_watts = serializers.FloatField()
    surface_c = serializers.FloatField()
    under_covering_c = serializers.FloatField()
    limited_by = serializers.CharField()
    because = serializers.ListField(child=serializers.CharField())
    not_checked = serializers.ListField(child=serializers.CharField())


class RoomHeat(APIView):
    @extend_schema(request=HeatInput, responses=HeatOutput)
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Hold the floor's output against the room's loss; nothing is stored."""
        room = visible(Room.objects.all(), request.user, pk=room_id)
        sent = HeatInput(data=request.data)
        sent.is_valid(raise_exception=True)
        found = heat_of(request.user, room, sent.validated_data)
        loss, output, answer = found.loss, found.output, found.answer
        body = {
            "role": answer.role,
            "says": answer.says,
            "loss_watts": round(loss.watts, 1),
            "output_watts": round(output.watts, 1),
            "surface_c": round(output.surface_c, 2),
            "under_covering_c": round(output.under_c, 2),
            "limited_by": output.limited_by,
            "because": answer.because,
            "not_checked": answer.not_checked,
        }
        return Response(HeatOutput(body).data)
