"""Opening a job and changing it."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.actions import jobs
from jobs.forms import JobForm
from jobs.models import Customer, Job
from jobs.requests import PageRequest


@page("GET", "POST")
def job_add(request: PageRequest) -> HttpResponse:
    """For the customer that the address names; without one, they are chosen first."""
    may_write(Job, request.user)
    asked = request.GET.get("customer", "")
    if request.method == "GET" and not asked:
        return redirect("customers")
    form = JobForm(
        request.POST if request.method == "POST" else None,
        initial={"units": request.user.contractor.units, "code_profile": "iec"},
    )
    try:
        if request.method == "POST" and form.is_valid():
            customer = visible(Customer.objects.all(), request.user, pk=_id(asked))
            fields = dict(form.cleaned_data)
            del fields["version"]
            job = jobs.add_job(by=request.user, customer=customer, **fields)
            return redirect("job", job_id=job.pk)
    except DomainError as refused:
        form.refuse(refused)
    return _form(request, form, title=_("Open a job"), act=_("Open it"))


@page("GET", "POST")
def job_edit(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = editable(Job.objects.all(), request.user, pk=job_id)
    kept = {name: getattr(job, name) for name in JobForm.base_fields}
    form = JobForm(request.POST if request.method == "POST" else None, initial=kept)
    try:
        if request.method == "POST" and form.is_valid():
            fields = dict(form.cleaned_data)
            version = fields.pop("version") or 0
            jobs.change_job(job=job, version=version, fields=fields)
            return redirect("job", job_id=job.pk)
    except DomainError as refused:
        form.refuse(refused)
    return _form(request, form, title=job.street, act=_("Keep these"))


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _form(request: PageRequest, form: JobForm, *, title: str, act: str) -> HttpResponse:
    shown = {"form": form, "title": title, "act": act, "here": "jobs"}
    return render(request, "jobs/form.html", shown, status=422 if form.errors else 200)
