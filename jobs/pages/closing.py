"""Closing a job that is done, and opening it again."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import editable
from jobs.actions.jobs import change_job
from jobs.models import Job
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest


@page("GET", "POST")
def job_close(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = editable(Job.objects.all(), request.user, pk=job_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        at = None if job.closed_at else request.now
        change_job(job=job, version=job.version, fields={"closed_at": at})
        return redirect("job", job_id=job.pk)

    if job.closed_at:
        act, lead = _("Open it again"), _("It stands in the lists again, and can be planned.")
    else:
        act = _("Close the job")
        lead = _("It leaves the lists and the plan. Its record, papers and private links stay.")
    form = ConfirmForm(sent(request))
    return filled(request, form, do, title=f"{job.street}: {act}", act=act, lead=lead, here="jobs")
