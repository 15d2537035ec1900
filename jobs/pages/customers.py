"""Customers: the list, one of them with its jobs, taking one in and changing it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.etags import change_row
from config.pages import newest, page
from config.tenancy import editable, may_write, visible
from jobs.actions import customers
from jobs.forms.work import CustomerForm
from jobs.models import Customer, Job
from jobs.pages.filling import filled, sent
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

    def do(given: dict[str, Any]) -> HttpResponse:
        del given["version"]
        customer = customers.add_customer(by=request.user, **given)
        return redirect("customer", customer_id=customer.pk)

    form = CustomerForm(sent(request))
    title = _("Take in a customer")
    return filled(request, form, do, title=title, act=_("Take in"), here="people")


@page("GET", "POST")
def customer_edit(request: PageRequest, customer_id: UUID) -> HttpResponse:
    customer = editable(Customer.objects.all(), request.user, pk=customer_id)

    def do(given: dict[str, Any]) -> HttpResponse:
        version = given.pop("version") or 0
        change_row(customer, version=version, fields=given)
        return redirect("customer", customer_id=customer.pk)

    kept = {name: getattr(customer, name) for name in CustomerForm.base_fields}
    form = CustomerForm(sent(request), initial=kept)
    return filled(request, form, do, title=customer.name, act=_("Keep these"), here="people")
