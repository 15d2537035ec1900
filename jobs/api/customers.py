"""Customers."""

from django.db.models import Q
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import change_row, etag, expected_version, guarded
from config.fields import Input, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, visible
from jobs.actions import customers
from jobs.models import LANGUAGES, Customer
from jobs.requests import MemberRequest


class CustomerInput(Input):
    name = Text(max_length=120)
    email = serializers.EmailField(required=False, allow_blank=True)
    phone = Text(max_length=40, required=False, allow_blank=True)
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    note = Text(max_length=5000, required=False, allow_blank=True)
    client_id = serializers.UUIDField(required=False)


class CustomerChange(CustomerInput):
    client_id = None  # type: ignore[assignment]


class CustomerOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    email = serializers.CharField()
    phone = serializers.CharField()
    language = serializers.CharField()
    note = serializers.CharField()


class CustomerFilters(Input):
    search = Text(max_length=80, required=False, help_text="In name, e-mail and phone.")


class CustomerList(ListView):
    @extend_schema(parameters=[CustomerFilters], responses=CustomerOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        rows = Customer.objects.visible_to(request.user)
        if text := chosen(request, CustomerFilters).get("search"):
            rows = rows.filter(
                Q(name__icontains=text) | Q(email__icontains=text) | Q(phone__icontains=text)
            )
        return self.listing(request, rows, CustomerOutput)

    @extend_schema(request=CustomerInput, responses={201: CustomerOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        may_write(Customer, request.user)
        sent = CustomerInput(data=request.data)
        sent.is_valid(raise_exception=True)
        customer = customers.add_customer(by=request.user, **sent.validated_data)
        return Response(CustomerOutput(customer).data, status=201, headers={"ETag": etag(customer)})


class CustomerDetail(APIView):
    @extend_schema(responses=CustomerOutput)
    def get(self, request: MemberRequest, customer_id: str) -> Response:
        customer = visible(Customer.objects.all(), request.user, pk=customer_id)
        return Response(CustomerOutput(customer).data, headers={"ETag": etag(customer)})

    @extend_schema(request=CustomerChange, responses=CustomerOutput)
    @guarded
    def patch(self, request: MemberRequest, customer_id: str) -> Response:
        customer = editable(Customer.objects.all(), request.user, pk=customer_id)
        version = expected_version(request)
        sent = CustomerChange(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        customer = change_row(customer, version=version, fields=sent.validated_data)
        return Response(CustomerOutput(customer).data, headers={"ETag": etag(customer)})
