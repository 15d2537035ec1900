"""The handover, its signatures, and the certificate."""

from datetime import timedelta

from django.conf import settings
from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.errors import DomainError
from config.fields import Input, Instant, Output, Text, Whole
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.api.links import LinkOutput, MadeOutput
from jobs.models import Job
from jobs.requests import MemberRequest
from scheduling.actions import certificates
from scheduling.actions.record import handover_of
from scheduling.models import Certificate, SignOff


class NotMadeYet(DomainError):
    slug = "certificate-not-made"


class MissingOutput(Output):
    room = serializers.CharField(help_text="Empty where it is about the whole job.")
    what = serializers.CharField()
    clears = serializers.ChoiceField(
        choices=[(who, who) for who in ("office", "installer", "electrician", "customer")]
    )


class HandoverOutput(Output):
    complete = serializers.BooleanField()
    missing = MissingOutput(many=True)


class SignOffInput(Input):
    id = serializers.UUIDField(help_text="Chosen by the client: sending it again changes nothing.")
    job = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=SignOff.KINDS)
    name = Text(max_length=120)
    licence_number = Text(max_length=60, required=False, allow_blank=True, default="")
    scope = Text(max_length=1000, help_text="What is signed for.")
    signed_at = Instant()

    def validate(self, attrs: dict[str, object]) -> dict[str, object]:
        if attrs["kind"] == "electrician" and not attrs["licence_number"]:
            raise serializers.ValidationError(
                {"licence_number": ["An electrician signs with a licence number."]}
            )
        return attrs


class SignOffOutput(Output):
    id = serializers.UUIDField(source="client_id")
    job = serializers.UUIDField(source="job_id")
    kind = serializers.CharField()
    name = serializers.CharField()
    licence_number = serializers.CharField()
    scope = serializers.CharField()
    signed_at = Instant()
    received_at = Instant()


class JobFilter(Input):
    job = serializers.UUIDField(required=False)


class CertificateInput(Input):
    job = serializers.UUIDField()


class SignatureOutput(Output):
    whose = serializers.ChoiceField(choices=[(who, who) for who in ("contractor", "installation")])
    name = serializers.CharField(help_text="The common name in the key's certificate.")
    fingerprint = serializers.CharField(help_text="SHA-256 of the key's certificate.")
    self_signed = serializers.BooleanField(help_text="Nobody else vouches for the key.")


class CertificateOutput(Output):
    id = serializers.UUIDField()
    job = serializers.UUIDField(source="job_id")
    number = serializers.CharField()
    state = serializers.ChoiceField(
        choices=[(name, name) for name in ("waiting", "making", "made", "failed", "void")],
        help_text="Made: its PDF is there. Void: no longer in force, whatever was made.",
    )
    issued_at = Instant()
    made_at = Instant(allow_null=True)
    failure = serializers.CharField()
    data_digest = serializers.CharField(help_text="SHA-256 of the frozen record.")
    pdf_digest = serializers.CharField(help_text="SHA-256 of the PDF; empty until it is made.")
    signature = SignatureOutput(allow_null=True, help_text="Whose key signed the PDF.")
    voided_at = Instant(allow_null=True)
    void_reason = serializers.CharField()
    replaces = serializers.UUIDField(source="replaces_id", allow_null=True)


class VoidInput(Input):
    reason = Text(max_length=300)


class CertificateLinkInput(Input):
    days = Whole(min_value=1, max_value=3650, required=False, help_text="365 if left out.")


class Handover(APIView):
    @extend_schema(responses=HandoverOutput)
    def get(self, request: MemberRequest, job_id: str) -> Response:
        """What the job still lacks before its certificate, and who clears it."""
        missing = handover_of(visible(Job.objects.all(), request.user, pk=job_id))
        return Response(HandoverOutput({"complete": not missing, "missing": missing}).data)


class SignOffList(ListView):
    @extend_schema(parameters=[JobFilter], responses=SignOffOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = SignOff.objects.visible_to(request.user)
        if job := chosen(request, JobFilter).get("job"):
            rows = rows.filter(job_id=job)
        return self.listing(request, rows, SignOffOutput)

    @extend_schema(request=SignOffInput, responses={201: SignOffOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Record the electrician's or the customer's signature under the job."""
        may_write(SignOff, request.user)
        sent = SignOffInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = dict(sent.validated_data)
        job = referred(Job.objects.all(), request.user, given.pop("job"), pointer="#/job")
        row = certificates.sign_off(
            by=request.user, job=job, client_id=given.pop("id"), at=timezone.now(), **given
        )
        return Response(SignOffOutput(row).data, status=201)


class CertificateList(ListView):
    @extend_schema(parameters=[JobFilter], responses=CertificateOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Certificate.objects.visible_to(request.user).defer("data")
        if job := chosen(request, JobFilter).get("job"):
            rows = rows.filter(job_id=job)
        return self.listing(request, rows, CertificateOutput)

    @extend_schema(request=CertificateInput, responses={202: CertificateOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Issue the certificate of a complete job: its record freezes now, its PDF is on the way.

        Ask the resource for its `state` until it is `made` (or `failed`).
        """
        may_write(Certificate, request.user)
        sent = CertificateInput(data=request.data)
        sent.is_valid(raise_exception=True)
        job = referred(
            Job.objects.select_related("contractor", "customer"),
            request.user,
            sent.validated_data["job"],
            pointer="#/job",
        )
        row = certificates.issue_certificate(by=request.user, job=job, at=timezone.now())
        return _shown(row, status=202)


class CertificateDetail(APIView):
    @extend_schema(responses=CertificateOutput)
    def get(self, request: MemberRequest, certificate_id: str) -> Response:
        return _shown(visible(Certificate.objects.defer("data"), request.user, pk=certificate_id))


class CertificateData(APIView):
    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: MemberRequest, certificate_id: str) -> Response:
        """The frozen record, as it is embedded in the PDF.

        Its JSON Schema is published at `/static/scheduling/certificate-1.schema.json`.
        """
        row = visible(Certificate.objects.all(), request.user, pk=certificate_id)
        return Response(row.data)


class CertificatePdf(APIView):
    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: MemberRequest, certificate_id: str) -> FileResponse:
        """The PDF as issued, whether or not the certificate still stands: see its `state`."""
        row = visible(Certificate.objects.defer("data"), request.user, pk=certificate_id)
        if not row.made_at:
            raise NotMadeYet("The PDF is not made yet. Ask again in a few seconds.")
        return FileResponse(row.pdf.open(), filename=f"certificate-{row.number}.pdf")


class CertificateVoid(APIView):
    @extend_schema(request=VoidInput, responses=CertificateOutput)
    @idempotent
    def post(self, request: MemberRequest, certificate_id: str) -> Response:
        """Take a certificate out of force, with the reason; another one may be issued then."""
        row = editable(Certificate.objects.all(), request.user, pk=certificate_id)
        sent = VoidInput(data=request.data)
        sent.is_valid(raise_exception=True)
        voided = certificates.void_certificate(
            by=request.user,
            certificate=row,
            reason=sent.validated_data["reason"],
            at=timezone.now(),
        )
        return _shown(voided)


class CertificateLinks(APIView):
    @extend_schema(request=CertificateLinkInput, responses={201: MadeOutput})
    @idempotent
    def post(self, request: MemberRequest, certificate_id: str) -> Response:
        """A private address that downloads the PDF without an account; shown once."""
        row = editable(Certificate.objects.select_related("job"), request.user, pk=certificate_id)
        sent = CertificateLinkInput(data=request.data)
        sent.is_valid(raise_exception=True)
        days = sent.validated_data.get("days")
        lasts = timedelta(days=days) if days else certificates.LINK_LASTS
        link, secret = certificates.link_to_certificate(
            certificate=row, at=timezone.now(), lasts=lasts
        )
        url = f"{settings.PUBLIC_URL}/certificate/{secret}/"
        return Response({**LinkOutput(link).data, "url": url}, status=201)


def _shown(row: Certificate, status: int = 200) -> Response:
    return Response(CertificateOutput(row).data, status=status)
