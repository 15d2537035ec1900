"""Sample jobs by one click, and gone by another."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write
from config.wording import in_language
from jobs.models import Job
from jobs.requests import PageRequest
from scheduling.actions.sample import add_sample, remove_sample


@page("POST")
def sample_add(request: PageRequest) -> HttpResponse:
    may_write(Job, request.user)
    add_sample(by=request.user, at=request.now)
    return redirect("home")


@page("POST")
def sample_end(request: PageRequest) -> HttpResponse:
    may_write(Job, request.user)
    try:
        remove_sample(by=request.user)
        messages.success(request, _("The sample jobs are gone."))
    except DomainError as refused:
        messages.warning(request, in_language(refused.detail))
    return redirect("home")
