"""Leaving: what goes along and what stays here, and the file with all of it."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import may_write
from jobs.actions import exports
from jobs.models import Export
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest

SHOWN = 10


@page("GET", "POST")
def leaving(request: PageRequest) -> HttpResponse:
    may_write(Export, request.user)

    def do(_given: dict[str, Any]) -> HttpResponse:
        exports.ask_for_export(by=request.user, at=request.now)
        messages.success(request, _("The file is being made. It is kept for a week."))
        return redirect("leaving")

    rows = Export.objects.visible_to(request.user).select_related("asked_by").order_by("-pk")
    return filled(
        request,
        ConfirmForm(sent(request)),
        do,
        template="jobs/leaving.html",
        rows=rows[:SHOWN],
        zone=request.user.contractor.time_zone,
        here="people",
    )
