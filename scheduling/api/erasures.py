"""Erasing a customer's personal data."""

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Output, Text
from config.idempotency import idempotent
from config.tenancy import editable, visible
from jobs.models import Customer, Erasure
from jobs.requests import MemberRequest
from scheduling.actions.erasing import erase_personal_data


class ErasureInput(Input):
    name = Text(max_length=120, help_text="The customer's name as it is now: it is for good.")


class ErasureOutput(Output):
    id = serializers.UUIDField()
    customer = serializers.UUIDField(source="customer_id")
    erased_at = Instant()
    erased_by = serializers.UUIDField(source="erased_by_id")


class CustomerErasure(APIView):
    @extend_schema(responses=ErasureOutput)
    def get(self, request: MemberRequest, customer_id: str) -> Response:
        """When and by whom; 404 while nothing was erased."""
        row = visible(Erasure.objects.all(), request.user, customer_id=customer_id)
        return Response(ErasureOutput(row).data)

    @extend_schema(request=ErasureInput, responses={201: ErasureOutput})
    @idempotent
    def post(self, request: MemberRequest, customer_id: str) -> Response:
        """Replace name, telephone, e-mail, notes and address lines, and end private links.

        The technical record stays: rooms, elements, checks, dates. So do certificates that were
        issued and the signatures under the handover, for the office alone. All jobs of the
        customer have to be closed.
        """
        customer = editable(Customer.objects.all(), request.user, pk=customer_id)
        sent = ErasureInput(data=request.data)
        sent.is_valid(raise_exception=True)
        if sent.validated_data["name"] != customer.name:
            raise serializers.ValidationError({"name": ["This is not the customer's name."]})
        row = erase_personal_data(by=request.user, customer=customer, at=timezone.now())
        return Response(ErasureOutput(row).data, status=201)
