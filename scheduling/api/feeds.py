"""Links by which crews and the office follow their calendar."""

from datetime import timedelta

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response

from config.fields import Input, Instant, Output, Whole
from config.idempotency import idempotent
from config.paging import ListView
from config.tenancy import may_write, referred
from jobs.models import Link
from jobs.requests import MemberRequest
from scheduling.actions import feeds
from scheduling.models import Crew


class FeedInput(Input):
    crew = serializers.UUIDField(
        required=False, allow_null=True, help_text="Left out: everything, for the office."
    )
    days = Whole(min_value=1, max_value=3650, required=False, help_text="730 if left out.")


class FeedOutput(Output):
    id = serializers.UUIDField(help_text="Revoke it by DELETE of this link.")
    crew = serializers.UUIDField(source="subject_id", allow_null=True)
    made_at = Instant()
    expires_at = Instant()
    revoked_at = Instant(allow_null=True)


class MadeFeedOutput(FeedOutput):
    url = serializers.URLField(help_text="The private address of an iCalendar. Shown once.")


class FeedList(ListView):
    @extend_schema(responses=FeedOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Link.objects.visible_to(request.user).filter(purpose="feed")
        return self.listing(request, rows, FeedOutput)

    @extend_schema(request=FeedInput, responses={201: MadeFeedOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Make a link to a calendar that programs follow; its address is shown once."""
        may_write(Link, request.user)
        sent = FeedInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        crew_id = given.get("crew")
        link, url = feeds.make_feed(
            by=request.user,
            crew=referred(Crew.objects.all(), request.user, crew_id, pointer="#/crew")
            if crew_id
            else None,
            at=timezone.now(),
            lasts=timedelta(days=given["days"]) if "days" in given else feeds.LINK_LASTS,
        )
        return Response({**FeedOutput(link).data, "url": url}, status=201)
