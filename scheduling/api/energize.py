"""When heat may come on in a room: the decision, its history, what if, and switching on."""

from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import may_write, referred, visible
from jobs.api.shapes import AsSvg
from jobs.models import LANGUAGES, UNITS, Material, Room
from jobs.requests import MemberRequest
from scheduling.actions import decisions
from scheduling.actions.facts import layer_name, material_facts
from scheduling.band import LikelyBand, likely_band
from scheduling.facts import decision_to_tree
from scheduling.floor import Facts
from scheduling.floor import Layer as LayerFacts
from scheduling.models import Decision, Energizing, Layer
from scheduling.whatif import Supposed, suppose

EMPTY_SVG = '<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 1000 1"/>'
NEVER = "null where that future never gets there, or where a hold stands that no time can clear"


class DryingOutput(Output):
    hours = serializers.FloatField()
    required_hours = serializers.FloatField()
    unknown_hours = serializers.FloatField(help_text="Real hours without a known humidity.")
    ready = Instant(allow_null=True)


class ProgressOutput(Output):
    id = serializers.CharField()
    equivalent_hours = serializers.FloatField()
    required_hours = serializers.FloatField()
    unknown_hours = serializers.FloatField()
    ready = Instant(allow_null=True)
    drying = DryingOutput(
        required=False, help_text="Of a layer that has to dry as well as to cure; else left out."
    )


class HoldOutput(Output):
    code = serializers.CharField()
    subject = serializers.CharField()
    text = serializers.CharField()
    cleared_by = serializers.CharField()


class DecisionOutput(Output):
    may_energize = serializers.BooleanField()
    earliest = Instant(allow_null=True, help_text=NEVER)
    likely = Instant(allow_null=True, help_text=NEVER)
    latest = Instant(allow_null=True, help_text=NEVER)
    governed_by = serializers.CharField(allow_null=True)
    layers = ProgressOutput(many=True)
    holds = HoldOutput(many=True)
    because = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class BandOutput(Output):
    share = serializers.FloatField(help_text="How often the date falls in the band: 0.8.")
    from_at = Instant()
    to_at = Instant(allow_null=True)


class CurrentOutput(DecisionOutput):
    likely_band = BandOutput(allow_null=True, help_text="By the weather so far; null if unknown.")
    room = serializers.UUIDField()
    decided_at = Instant()
    heat_on_at = Instant(allow_null=True, help_text="When heat was switched on for good.")


class EnergizingInput(Input):
    client_id = serializers.UUIDField()
    at = Instant(help_text="When it was switched on.")
    test_minutes = Number(
        required=False,
        allow_null=True,
        help_text="Length of a brief test before the date; left out, heat is on for good.",
    )


class EnergizingOutput(Output):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    at = Instant()
    test_minutes = serializers.FloatField(allow_null=True)
    decision = serializers.UUIDField(source="decision_id")
    recorded_by = serializers.UUIDField(source="recorded_by_id")


class KeptOutput(Output):
    id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    decided_at = Instant()
    may_energize = serializers.BooleanField()
    earliest = Instant(allow_null=True)
    likely = Instant(allow_null=True)
    latest = Instant(allow_null=True)
    moved_because = serializers.CharField(help_text="Why it differs from the one before.")
    facts_digest = serializers.CharField()


class KeptDetailOutput(KeptOutput):
    facts = serializers.JSONField(help_text="All that it was worked out from.")
    result = serializers.JSONField()


class DerivationOutput(Output):
    differences = serializers.ListField(
        child=serializers.CharField(), help_text="What derived again says otherwise; empty if not."
    )
    facts_untouched = serializers.BooleanField(help_text="Whether the digest of the facts holds.")
    derived = DecisionOutput()


class OtherMaterialInput(Input):
    layer = serializers.UUIDField()
    material = serializers.UUIDField()


class OtherDayInput(Input):
    layer = serializers.UUIDField()
    placed_at = Instant()


class WhatIfInput(Input):
    room_c = Number(min_value=-40, max_value=70, required=False)
    warm_from = Instant(required=False)
    materials = serializers.ListField(child=OtherMaterialInput(), required=False, max_length=50)
    placings = serializers.ListField(child=OtherDayInput(), required=False, max_length=50)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if not attrs.keys() & {"room_c", "materials", "placings"}:
            raise serializers.ValidationError("Say what to suppose: room_c, materials or placings.")
        return attrs


class ChartFilters(Input):
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    units = serializers.ChoiceField(choices=UNITS, required=False)


class WhatIfOutput(Output):
    now = DecisionOutput()
    earliest = Instant(allow_null=True)
    likely = Instant(allow_null=True)
    latest = Instant(allow_null=True)
    because = serializers.ListField(child=serializers.CharField())


class RoomEnergize(APIView):
    @extend_schema(responses=CurrentOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """The decision as of now, by all that is known now."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        return Response(_current(room))

    @extend_schema(request=EnergizingInput, responses={201: EnergizingOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Record that heat was switched on; refused with all that stood in the way."""
        room = visible(Room.objects.all(), request.user, pk=room_id)
        may_write(Energizing, request.user)
        sent = EnergizingInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        row = decisions.switch_on(
            by=request.user,
            room=room,
            client_id=given["client_id"],
            switched_on_at=given["at"],
            test_minutes=given.get("test_minutes"),
            at=timezone.now(),
        )
        return Response(EnergizingOutput(row).data, status=201)


class CureChartSvg(APIView):
    renderer_classes = (AsSvg,)

    @extend_schema(parameters=[ChartFilters], responses={(200, "image/svg+xml"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """How the layer that governs the date cures, as a drawing; empty without a layer."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        asked = chosen(request, ChartFilters)
        chart = decisions.chart(
            room,
            at=timezone.now(),
            language=asked.get("language", request.user.language),
            system=asked.get("units", request.user.contractor.units),
        )
        return Response(chart.svg if chart else EMPTY_SVG)


class RoomWhatIf(APIView):
    @extend_schema(request=WhatIfInput, responses=WhatIfOutput)
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """What the date would become; nothing is changed."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        sent = WhatIfInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        facts, _ = decisions.current(room, at=timezone.now())
        supposed = suppose(
            facts,
            room_c=given.get("room_c"),
            warm_from=given.get("warm_from"),
            materials=[
                _other_material(request, room, each, number)
                for number, each in enumerate(given.get("materials", ()))
            ],
            to_place=[
                _other_day(request, room, each, number)
                for number, each in enumerate(given.get("placings", ()))
            ],
        )
        return Response(_supposed(supposed))


class RoomDecisions(ListView):
    @extend_schema(responses=KeptOutput(many=True))
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """Every decision that said something new, and why the date moved."""
        room = visible(Room.objects.all(), request.user, pk=room_id)
        rows = Decision.objects.visible_to(request.user).filter(room=room)
        return self.listing(request, rows.defer("facts", "result"), KeptOutput)


class DecisionDetail(APIView):
    @extend_schema(responses=KeptDetailOutput)
    def get(self, request: MemberRequest, decision_id: str) -> Response:
        decision = visible(Decision.objects.all(), request.user, pk=decision_id)
        return Response(KeptDetailOutput(decision).data)


class DecisionDerivation(APIView):
    @extend_schema(responses=DerivationOutput)
    def get(self, request: MemberRequest, decision_id: str) -> Response:
        """The decision worked out again from its stored facts, and whether it is the same."""
        decision = visible(Decision.objects.all(), request.user, pk=decision_id)
        return Response(DerivationOutput(decisions.rederive(decision)._asdict()).data)


def _current(room: Room) -> dict[str, Any]:
    facts, result = decisions.current(room, at=timezone.now())
    heat = room.energizings.filter(test_minutes=None).first()
    return CurrentOutput(
        {
            **result,
            "likely_band": _band(facts, result),
            "room": room.pk,
            "decided_at": facts.now,
            "heat_on_at": heat.at if heat else None,
        }
    ).data


def _band(facts: Facts, result: dict[str, Any]) -> LikelyBand | None:
    """The band of the layer that governs a date still to come."""
    if result["likely"] is None:
        return None
    (layer,) = [each for each in facts.layers if each.id == result["governed_by"]]
    return likely_band(facts, layer)


def _supposed(supposed: Supposed) -> dict[str, Any]:
    return WhatIfOutput(
        {
            "now": decision_to_tree(supposed.now),
            "earliest": supposed.earliest,
            "likely": supposed.likely,
            "latest": supposed.latest,
            "because": supposed.because,
        }
    ).data


def _other_material(request: MemberRequest, room: Room, given: dict[str, Any], number: int) -> Any:
    at = f"#/materials/{number}"
    layer = referred(
        Layer.objects.filter(room=room, removed_at=None),
        request.user,
        given["layer"],
        pointer=f"{at}/layer",
    )
    material = _curing(request, given["material"], f"{at}/material")
    return layer_name(layer), material_facts(material, thickness_mm=layer.thickness_mm)


def _other_day(
    request: MemberRequest, room: Room, given: dict[str, Any], number: int
) -> LayerFacts:
    layer = referred(
        Layer.objects.filter(room=room, removed_at=None).select_related("material"),
        request.user,
        given["layer"],
        pointer=f"#/placings/{number}/layer",
    )
    return LayerFacts(
        id=layer_name(layer),
        placed_at=given["placed_at"],
        material=material_facts(layer.material, layer.curing, thickness_mm=layer.thickness_mm),
    )


def _curing(request: MemberRequest, material_id: Any, pointer: str) -> Material:
    rows = Material.objects.filter(curing__isnull=False)
    return referred(rows, request.user, material_id, pointer=pointer)
