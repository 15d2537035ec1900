"""Taking in a list of jobs: what becomes of it is shown first, how far it is without reload."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.sentence import Sentence
from config.tenancy import editable, may_write
from config.wording import in_language
from jobs.actions import imports
from jobs.forms.work import JobListForm
from jobs.models import JobImport
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest

SHOWN = 20
BAD_SHOWN = 200


@page("GET", "POST")
def job_lists(request: PageRequest) -> HttpResponse:
    may_write(JobImport, request.user)

    def do(given: dict[str, Any]) -> HttpResponse:
        listed = imports.look_at(by=request.user, at=request.now, **given)
        return redirect("job-list", import_id=listed.pk)

    form = JobListForm(sent(request), request.FILES or None)
    title = _("Take in a list of jobs")
    return filled(
        request,
        form,
        do,
        template="jobs/job_lists.html",
        title=title,
        act=_("Look at it first"),
        here="jobs",
    )


@page("GET", "POST")
def job_list(request: PageRequest, import_id: UUID) -> HttpResponse:
    listed = editable(JobImport.objects.all(), request.user, pk=import_id)
    refused = ""
    if request.method == "POST":
        try:
            imports.confirm(by=request.user, listed=listed, at=request.now)
            return redirect("job-list", import_id=listed.pk)
        except DomainError as error:
            refused = in_language(error.detail)
    shown = {
        "here": "jobs",
        "listed": listed,
        "good": len(listed.rows),
        "some": listed.rows[:SHOWN],
        "more": max(0, len(listed.rows) - SHOWN),
        "bad": [
            (row["line"], row["text"], in_language(Sentence(row["template"], **row["figures"])))
            for row in listed.bad[:BAD_SHOWN]
        ],
        "more_bad": max(0, len(listed.bad) - BAD_SHOWN),
        "there": listed.worked - listed.opened,
        "refused": refused,
    }
    return render(request, "jobs/job_list.html", shown, status=409 if refused else 200)
