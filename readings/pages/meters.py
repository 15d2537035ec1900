"""Meters of the contractor: how true each range reads, and until when they are calibrated."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest
from readings.actions import instruments
from readings.forms import MeterForm, RangeForm
from readings.models import Instrument


@page("GET")
def meters(request: PageRequest) -> HttpResponse:
    rows = (
        Instrument.objects.visible_to(request.user)
        .filter(retired_at=None)
        .prefetch_related("ranges")
        .order_by("name", "pk")[:500]
    )
    today = request.now.date()
    shown = {"rows": rows, "today": today, "here": "catalogue"}
    return render(request, "readings/meters.html", shown)


@page("GET", "POST")
def meter_add(request: PageRequest) -> HttpResponse:
    may_write(Instrument, request.user)

    def do(given: dict[str, Any]) -> HttpResponse:
        del given["version"]
        row = instruments.add_instrument(by=request.user, ranges=[], **given)
        return redirect("meter", instrument_id=row.pk)

    form = MeterForm(sent(request))
    title = _("Take in a meter")
    return filled(request, form, do, title=title, act=_("Take in"), here="catalogue")


@page("GET", "POST")
def meter(request: PageRequest, instrument_id: UUID) -> HttpResponse:
    """A meter with its ranges, and one more."""
    row = visible(Instrument.objects.all(), request.user, pk=instrument_id)
    if request.method == "POST":
        may_write(Instrument, request.user)

    def do(given: dict[str, Any]) -> HttpResponse:
        instruments.add_range(instrument=row, **given)
        return redirect("meter", instrument_id=row.pk)

    return filled(
        request,
        RangeForm(sent(request)),
        do,
        template="readings/meter.html",
        meter=row,
        ranges=row.ranges.order_by("quantity", "full_scale", "pk"),
        here="catalogue",
    )


@page("GET", "POST")
def meter_edit(request: PageRequest, instrument_id: UUID) -> HttpResponse:
    row = editable(Instrument.objects.all(), request.user, pk=instrument_id)

    def do(given: dict[str, Any]) -> HttpResponse:
        version = given.pop("version") or 0
        instruments.change_instrument(row, version=version, fields=given)
        return redirect("meter", instrument_id=row.pk)

    kept = {name: getattr(row, name) for name in MeterForm.base_fields}
    form = MeterForm(sent(request), initial=kept)
    return filled(request, form, do, title=row.name, act=_("Keep these"), here="catalogue")


@page("GET", "POST")
def meter_retire(request: PageRequest, instrument_id: UUID) -> HttpResponse:
    row = editable(Instrument.objects.all(), request.user, pk=instrument_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        retired = {"retired_at": request.now}
        instruments.change_instrument(row, version=row.version, fields=retired)
        return redirect("meters")

    lead = _("Nobody can measure with it any more. What it measured keeps its name and accuracy.")
    title = _("Retire %(name)s") % {"name": row.name}
    form = ConfirmForm(sent(request))
    return filled(request, form, do, title=title, act=_("Retire it"), lead=lead, here="catalogue")
