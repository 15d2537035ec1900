"""One's own devices: each has a token, shown once, as text and as a QR code."""

import json
from typing import Any
from uuid import UUID

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from config.models import DeviceToken
from config.pages import page
from config.tenancy import editable
from jobs.actions import tokens
from jobs.forms.people import DeviceForm
from jobs.pages.filling import filled, sent
from jobs.qr import qr_svg
from jobs.requests import PageRequest


@page("GET", "POST")
def devices(request: PageRequest) -> HttpResponse:
    def do(given: dict[str, Any]) -> HttpResponse:
        token, secret = tokens.issue_token(member=request.user, name=given["name"], at=request.now)
        api = settings.PUBLIC_URL + "/api/v1/"
        carried = json.dumps({"api": api, "token": secret}, separators=(",", ":"))
        shown = {"token": token, "secret": secret, "here": "people"}
        shown["qr"] = mark_safe(qr_svg(carried, size_mm=60, said=_("The token as a QR code")))
        return render(request, "jobs/device.html", shown, status=201)

    form = DeviceForm(sent(request))
    rows = DeviceToken.objects.visible_to(request.user).filter(member=request.user, revoked_at=None)
    return filled(
        request,
        form,
        do,
        template="jobs/devices.html",
        rows=rows.order_by("-pk"),
        here="people",
    )


@page("POST")
def device_end(request: PageRequest, token_id: UUID) -> HttpResponse:
    token = editable(DeviceToken.objects.filter(member=request.user), request.user, pk=token_id)
    tokens.revoke_token(token=token, at=request.now)
    return redirect("devices")
