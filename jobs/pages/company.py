"""The contractor: set up on an empty installation, and what is said of it later."""

from typing import Any

from django.contrib.auth import login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page, private_page
from config.tenancy import OFFICE
from jobs.actions import members
from jobs.actions.links import opens_first
from jobs.forms.people import ZONES, CompanyForm, FirstForm
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest

BACKEND = "config.authentication.MemberBackend"


@private_page("GET", "POST")
def first(request: HttpRequest, secret: str) -> HttpResponse:
    """The company and its first member, by the link that the server told whoever started it."""
    if not opens_first(secret) or members.is_set_up():
        raise Http404
    form = FirstForm(request.POST if request.method == "POST" else None)
    try:
        if request.method == "POST" and form.is_valid():
            member = members.found_contractor(**form.cleaned_data)
            login(request, member, BACKEND)
            return redirect("home")
    except DomainError as refused:
        form.refuse(refused)
    shown = {"form": form, "zones": ZONES}
    return render(request, "jobs/first.html", shown, status=422 if form.errors else 200)


@page("GET", "POST")
def company(request: PageRequest) -> HttpResponse:
    if request.user.role != OFFICE:
        raise PermissionDenied
    contractor = request.user.contractor

    def do(given: dict[str, Any]) -> HttpResponse:
        members.change_contractor(by=request.user, **given)
        return redirect("people")

    kept = {name: getattr(contractor, name) for name in CompanyForm.base_fields}
    form = CompanyForm(sent(request), initial=kept)
    return filled(
        request,
        form,
        do,
        template="jobs/company.html",
        zones=ZONES,
        title=_("The company"),
        act=_("Keep these"),
        here="people",
    )
