"""What the readings of a room say together: sets that are due, and the chain of its checks."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Output
from config.tenancy import visible
from jobs.models import Room
from jobs.requests import MemberRequest
from readings.actions.advice import stage_sets
from readings.actions.verify import verify_room
from readings.models import OUTCOMES, STAGES


class StageSetOutput(Output):
    stage = serializers.ChoiceField(choices=STAGES)
    outcome = serializers.ChoiceField(choices=OUTCOMES, allow_null=True)
    needed = serializers.ListField(child=serializers.CharField())
    missing = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class BrokenOutput(Output):
    sequence = serializers.IntegerField()
    fault = serializers.CharField()
    because = serializers.CharField()


class ChainOutput(Output):
    checks = serializers.IntegerField()
    whole = serializers.BooleanField()
    broken = BrokenOutput(allow_null=True, help_text="The first link that does not hold.")
    head = serializers.CharField(help_text="Digest of the last check; keep it elsewhere.")


class RoomSets(APIView):
    @extend_schema(responses=StageSetOutput(many=True))
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """Which readings each stage of this room needs, and which are still missing."""
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        return Response(StageSetOutput(stage_sets(room), many=True).data)


class RoomChain(APIView):
    @extend_schema(responses=ChainOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """Whether the checks of this room are those that were accepted, in that order."""
        room = visible(Room.objects.all(), request.user, pk=room_id)
        return Response(ChainOutput(verify_room(room)).data)
