"""Customers: the list, one of them with its jobs, taking one in and changing it."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.etags import change_row
from config.pages import newest, page
from config.tenancy import editable, may_write, visible
from jobs.actions import customers
from jobs.forms import CustomerForm
from jobs.models import Customer, Job
from jobs.requests import PageRequest


@page("GET")
def customer_list(request: PageRequest) -> HttpResponse:
    rows, after = newest(Customer.objects.visible_to(request.user), request)
    return render(request, "jobs/customers.html", {"rows": rows, "after": after, "here": "people"})


@page("GET")
def customer_page(request: PageRequest, customer_id: UUID) -> HttpResponse:
    customer = visible(Customer.objects.all(), request.user, pk=customer_id)
    jobs = Job.objects.visible_to(request.user).filter(customer=customer).order_by("-number")
    shown = {"customer": customer, "jobs": jobs[:200], "here": "people"}
    return render(request, "jobs/customer.html", shown)


@page("GET", "POST")
def customer_add(request: PageRequest) -> HttpResponse:
    may_write(Customer, request.user)
    form = CustomerForm(request.POST if request.method == "POST" else None)
    try:
        if request.method == "POST" and form.is_valid():
            fields = dict(form.cleaned_data)
            del fields["version"]
            customer = customers.add_customer(by=request.user, **fields)
            return redirect("customer", customer_id=customer.pk)
    except DomainError as refused:
        form.refuse(refused)
    return _form(request, form, title=_("Take in a customer"), act=_("Take in"))


@page("GET", "POST")
def customer_edit(request: PageRequest, customer_id: UUID) -> HttpResponse:
    customer = editable(Customer.objects.all(), request.user, pk=customer_id)
    kept = {name: getattr(customer, name) for name in CustomerForm.base_fields}
    form = CustomerForm(request.POST if request.method == "POST" else None, initial=kept)
    try:
        if request.method == "POST" and form.is_valid():
            fields = dict(form.cleaned_data)
            version = fields.pop("version")
            change_row(customer, version=version, fields=fields)
            return redirect("customer", customer_id=customer.pk)
    except DomainError as refused:
        form.refuse(refused)
    return _form(request, form, title=customer.name, act=_("Keep these"))


def _form(request: PageRequest, form: CustomerForm, *, title: str, act: str) -> HttpResponse:
    shown = {"form": form, "title": title, "act": act, "here": "people"}
    return render(request, "jobs/form.html", shown, status=422 if form.errors else 200)
