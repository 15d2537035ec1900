"""Erasing a customer's personal data: what goes, what stays, and the deed."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import editable
from jobs.models import Customer, Job, Link
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest
from scheduling.actions.erasing import LINKS_THAT_STAY, erase_personal_data
from scheduling.models import Certificate, SignOff


@page("GET", "POST")
def erasing(request: PageRequest, customer_id: UUID) -> HttpResponse:
    customer = editable(Customer.objects.select_related("erasure"), request.user, pk=customer_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        erase_personal_data(by=request.user, customer=customer, at=request.now)
        messages.success(request, _("The personal data is erased."))
        return redirect("customer", customer_id=customer.pk)

    jobs = list(Job.objects.visible_to(request.user).filter(customer=customer).order_by("number"))
    of_these = {"job__in": jobs}
    links = Link.objects.visible_to(request.user).filter(
        **of_these, revoked_at=None, expires_at__gt=request.now
    )
    return filled(
        request,
        ConfirmForm(sent(request)),
        do,
        template="scheduling/erasing.html",
        customer=customer,
        erasure=getattr(customer, "erasure", None),
        jobs=jobs,
        still=[job for job in jobs if not job.closed_at],
        links=links.exclude(purpose__in=LINKS_THAT_STAY).count(),
        certificates=Certificate.objects.visible_to(request.user).filter(**of_these).count(),
        signed=SignOff.objects.visible_to(request.user).filter(**of_these).order_by("pk"),
        zone=request.user.contractor.time_zone,
        here="people",
    )
