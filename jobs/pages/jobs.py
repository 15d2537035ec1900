"""Opening a job and changing it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.actions import jobs
from jobs.forms.work import JobForm
from jobs.models import Customer, Job
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest


@page("GET", "POST")
def job_add(request: PageRequest) -> HttpResponse:
    """For the customer that the address names; without one, they are chosen first."""
    may_write(Job, request.user)
    asked = request.GET.get("customer", "")
    if request.method == "GET" and not asked:
        return redirect("customers")

    def do(given: dict[str, Any]) -> HttpResponse:
        customer = visible(Customer.objects.all(), request.user, pk=_id(asked))
        del given["version"]
        job = jobs.add_job(by=request.user, customer=customer, **given)
        return redirect("job", job_id=job.pk)

    usual = {"units": request.user.contractor.units, "code_profile": "iec"}
    form = JobForm(sent(request), initial=usual)
    return filled(request, form, do, title=_("Open a job"), act=_("Open it"), here="jobs")


@page("GET", "POST")
def job_edit(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = editable(Job.objects.all(), request.user, pk=job_id)

    def do(given: dict[str, Any]) -> HttpResponse:
        version = given.pop("version") or 0
        jobs.change_job(job=job, version=version, fields=given)
        return redirect("job", job_id=job.pk)

    kept = {name: getattr(job, name) for name in JobForm.base_fields}
    form = JobForm(sent(request), initial=kept)
    return filled(request, form, do, title=job.street, act=_("Keep these"), here="jobs")


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
