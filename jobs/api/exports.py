"""Exports: everything of the contractor, in one file, for the office."""

from django.http import FileResponse
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Instant, Output
from config.idempotency import idempotent
from config.paging import ListView
from config.tenancy import editable, may_write
from jobs.actions import exports
from jobs.models import Export
from jobs.requests import MemberRequest

STATES = [(name, name) for name in ("waiting", "making", "made", "expired", "failed")]


class ExportProgressOutput(Output):
    step = serializers.IntegerField(help_text="Tables done.", default=0)
    of = serializers.IntegerField(help_text="Tables in all; 0 before it has begun.", default=0)
    rows = serializers.IntegerField(default=0)
    files = serializers.IntegerField(default=0)


class ExportOutput(Output):
    id = serializers.UUIDField()
    state = serializers.ChoiceField(choices=STATES)
    progress = ExportProgressOutput()
    asked_at = Instant()
    asked_by = serializers.UUIDField(source="asked_by_id")
    made_at = Instant(allow_null=True)
    expires_at = Instant(allow_null=True, help_text="When its file goes.")
    size_bytes = serializers.IntegerField(allow_null=True)
    digest = serializers.CharField(
        help_text="SHA-256 of SHA256SUMS, the list of all digests in it; empty until it is made."
    )
    missing_files = serializers.ListField(
        child=serializers.CharField(),
        help_text="Stored files that rows name and that were not found, and so are not in it.",
    )
    failure = serializers.CharField()


class ExportList(ListView):
    @extend_schema(responses=ExportOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        may_write(Export, request.user)  # what it has in it is not for everybody
        return self.listing(request, Export.objects.visible_to(request.user), ExportOutput)

    @extend_schema(request=None, responses={202: ExportOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Have everything of the contractor put into one file; ask again at `Location`.

        Tables as JSON lines, certificates, photographs, and a list of SHA-256 digests. Private
        links, devices' tokens, passwords and webhooks stay behind.
        """
        may_write(Export, request.user)
        row = exports.ask_for_export(by=request.user, at=timezone.now())
        at = reverse("api-export", kwargs={"export_id": row.pk})
        return Response(ExportOutput(row).data, status=202, headers={"Location": at})


class ExportDetail(APIView):
    @extend_schema(responses=ExportOutput)
    def get(self, request: MemberRequest, export_id: str) -> Response:
        row = editable(Export.objects.all(), request.user, pk=export_id)
        return Response(ExportOutput(row).data)


class ExportFile(APIView):
    @extend_schema(responses={(200, "application/zip"): OpenApiTypes.BINARY})
    def get(self, request: MemberRequest, export_id: str) -> FileResponse:
        """The file, for a week."""
        row = editable(Export.objects.all(), request.user, pk=export_id)
        answer = FileResponse(
            exports.file_of(row),
            as_attachment=True,
            filename=f"firstwarm-{row.made_at:%Y-%m-%d}.zip",
        )
        answer.headers["Cache-Control"] = "private, no-store"
        return answer
