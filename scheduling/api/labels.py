"""Labels of a room: the link that they bear."""

from datetime import timedelta

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Whole
from config.idempotency import idempotent
from config.tenancy import may_write, visible
from jobs.api.links import LinkOutput, MadeOutput
from jobs.labels import PAPERS
from jobs.models import Link, Room
from jobs.requests import MemberRequest
from scheduling.actions import labels


class LabelsInput(Input):
    days = Whole(min_value=1, max_value=18_250, required=False, help_text="50 years if left out.")


class SheetOutput(Output):
    paper = serializers.ChoiceField(choices=[(paper, paper) for paper in PAPERS])
    url = serializers.URLField(help_text="The sheet as PDF, to print at 100 %.")


class LabelsOutput(MadeOutput):
    sheets = SheetOutput(many=True)


class LabelLinks(APIView):
    @extend_schema(request=LabelsInput, responses={201: LabelsOutput})
    @idempotent
    def post(self, request: MemberRequest, room_id: str) -> Response:
        """Make a link for a room's labels; the address, and the sheets that bear it, shown once.

        Revoke it at `links/{id}`: the labels then say that they open nothing any more.
        """
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        may_write(Link, request.user)
        sent = LabelsInput(data=request.data)
        sent.is_valid(raise_exception=True)
        days = sent.validated_data.get("days")
        link, secret = labels.link_for_labels(
            room=room,
            at=timezone.now(),
            lasts=timedelta(days=days) if days else labels.LABEL_LASTS,
        )
        url = labels.address(secret)
        sheets = [{"paper": paper, "url": f"{url}sheet/?paper={paper}"} for paper in PAPERS]
        return Response({**LinkOutput(link).data, "url": url, "sheets": sheets}, status=201)
