"""Private links of a job: who may look without an account."""

from datetime import timedelta

from django.conf import settings
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output, Whole
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred
from jobs.actions import links
from jobs.models import Job, Link
from jobs.requests import MemberRequest


class LinkInput(Input):
    job = serializers.UUIDField()
    purpose = serializers.ChoiceField(choices=[("owner", "owner")])
    days = Whole(min_value=1, max_value=3650, required=False, help_text="365 if left out.")


class LinkOutput(Output):
    id = serializers.UUIDField()
    job = serializers.UUIDField(
        source="job_id", allow_null=True, help_text="None for a link to several jobs' calendar."
    )
    purpose = serializers.CharField()
    made_at = Instant()
    expires_at = Instant()
    revoked_at = Instant(allow_null=True)


class MadeOutput(LinkOutput):
    url = serializers.URLField(help_text="The private address. Shown once.")


class LinkFilters(Input):
    job = serializers.UUIDField(required=False)


class LinkList(ListView):
    @extend_schema(parameters=[LinkFilters], responses=LinkOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Link.objects.visible_to(request.user)
        if job := chosen(request, LinkFilters).get("job"):
            rows = rows.filter(job_id=job)
        return self.listing(request, rows, LinkOutput)

    @extend_schema(request=LinkInput, responses={201: MadeOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Make a link for the owner of the floor; its address is shown once."""
        may_write(Link, request.user)
        sent = LinkInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = sent.validated_data
        link, secret = links.make_link(
            job=referred(Job.objects.all(), request.user, given["job"], pointer="#/job"),
            purpose=given["purpose"],
            at=timezone.now(),
            lasts=timedelta(days=given["days"]) if "days" in given else links.OWNER_LINK_LASTS,
        )
        url = f"{settings.PUBLIC_URL}/{link.purpose}/{secret}/"
        return Response({**LinkOutput(link).data, "url": url}, status=201)


class LinkDetail(APIView):
    @extend_schema(responses={204: None})
    def delete(self, request: MemberRequest, link_id: str) -> Response:
        """Revoke a link: from now on it opens nothing."""
        link = editable(Link.objects.all(), request.user, pk=link_id)
        links.revoke_link(link=link, at=timezone.now())
        return Response(status=204)
