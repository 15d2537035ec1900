"""Layers of a floor: planned, placed, taken out."""

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Number, Output, Whole
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.models import Material, Room
from jobs.requests import MemberRequest
from scheduling.actions import layers
from scheduling.actions.facts import layer_name
from scheduling.models import Layer


class LayerInput(Input):
    room = serializers.UUIDField()
    material = serializers.UUIDField()
    position = Whole(
        min_value=1,
        max_value=100,
        required=False,
        help_text="From the bottom up; else on top.",
    )
    embeds = serializers.BooleanField(
        required=False, help_text="Whether the heating cable lies in it."
    )
    thickness_mm = Number(min_value=0.1, max_value=1000, required=False, allow_null=True)
    client_id = serializers.UUIDField(required=False)
    placed_at = Instant(required=False, help_text="When it was laid; left out, it is only planned.")


class PlacingInput(Input):
    placed_at = Instant()


class LayerOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.SerializerMethodField(help_text="What decisions call it.")
    room = serializers.UUIDField(source="room_id")
    material = serializers.UUIDField(source="material_id")
    position = serializers.IntegerField()
    embeds = serializers.BooleanField()
    thickness_mm = serializers.FloatField(allow_null=True)
    placed_at = Instant(allow_null=True)
    removed_at = Instant(allow_null=True)

    def get_name(self, layer: Layer) -> str:
        return layer_name(layer)


class LayerFilters(Input):
    room = serializers.UUIDField(required=False)
    removed = serializers.BooleanField(default=False)


class LayerList(ListView):
    @extend_schema(parameters=[LayerFilters], responses=LayerOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, LayerFilters)
        rows = Layer.objects.visible_to(request.user).filter(
            removed_at__isnull=not wanted["removed"]
        )
        if "room" in wanted:
            rows = rows.filter(room_id=wanted["room"])
        return self.listing(request, rows, LayerOutput)

    @extend_schema(request=LayerInput, responses={201: LayerOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Add a layer to a room's floor, planned or placed."""
        may_write(Layer, request.user)
        sent = LayerInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        layer = layers.add_layer(
            by=request.user,
            room=referred(
                Room.objects.select_related("job"), request.user, given["room"], pointer="#/room"
            ),
            material=referred(
                Material.objects.filter(retired_at=None),
                request.user,
                given["material"],
                pointer="#/material",
            ),
            position=given.get("position"),
            embeds=given.get("embeds", False),
            thickness_mm=given.get("thickness_mm"),
            client_id=given.get("client_id"),
            placed_at=given.get("placed_at"),
            at=timezone.now(),
        )
        return _shown(layer, status=201)


class LayerDetail(APIView):
    @extend_schema(responses=LayerOutput)
    def get(self, request: MemberRequest, layer_id: str) -> Response:
        return _shown(visible(Layer.objects.all(), request.user, pk=layer_id))

    @extend_schema(request=PlacingInput, responses=LayerOutput)
    @guarded
    def patch(self, request: MemberRequest, layer_id: str) -> Response:
        """Record that a planned layer was placed."""
        layer = editable(Layer.objects.all(), request.user, pk=layer_id)
        version = expected_version(request)
        sent = PlacingInput(data=request.data)
        sent.is_valid(raise_exception=True)
        return _shown(
            layers.place_layer(
                by=request.user,
                layer=layer,
                version=version,
                placed_at=sent.validated_data["placed_at"],
                at=timezone.now(),
            )
        )

    @extend_schema(responses={200: LayerOutput})
    @guarded
    def delete(self, request: MemberRequest, layer_id: str) -> Response:
        """Take a layer out of the floor; it stays in the record as removed."""
        layer = editable(Layer.objects.all(), request.user, pk=layer_id)
        version = expected_version(request)
        return _shown(layers.remove_layer(layer=layer, version=version, at=timezone.now()))


def _shown(layer: Layer, *, status: int = 200) -> Response:
    return Response(LayerOutput(layer).data, status=status, headers={"ETag": etag(layer)})
