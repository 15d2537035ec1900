"""Taking a check on the phone: one reading a page, its verdict at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write, visible
from config.wording import in_language
from jobs.models import Member, Room
from jobs.requests import PageRequest
from jobs.units import celsius
from readings.actions.chain import read
from readings.actions.checks import CheckSent, record_check
from readings.actions.facts import meters_of
from readings.actions.temperatures import TemperatureSent, record_temperature
from readings.assess import Meter, RoomFacts, caution
from readings.band_drawing import draw_band
from readings.bands import Bands
from readings.forms import ReadingForm, TemperatureForm
from readings.models import STAGES, Check, InstrumentRange, Reading, SiteTemperature
from readings.pages import words
from readings.sequence import Step, bands_of, expected_at, next_step, steps

# A sensor in a cold floor shows more than at room temperature.
SPARE = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A range of a meter as a choice: what it will make of this reading, as far as is known."""

    id: UUID
    name: str
    full_scale: float
    suits: bool | None
    bands: Bands | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """A room's stage while it is measured."""

    room: Room
    stage: str
    facts: RoomFacts
    steps: tuple[Step, ...]


@page("GET")
def before(request: PageRequest, room_id: UUID, stage: str) -> HttpResponse:
    """What to see to before the first reading."""
    taking = _taking(request.user, room_id, stage)
    context = {
        "room": taking.room,
        "stage": stage,
        "stage_words": words.STAGES[stage],
        "steps": [(step, words.step(step)) for step in taking.steps],
        "next": next_step(taking.steps),
        "caution": caution(stage),
        "live": stage in ("handover", "service"),
    }
    return render(request, "readings/before.html", context)


@page("GET", "POST")
def step_page(request: PageRequest, room_id: UUID, stage: str, number: int) -> HttpResponse:
    taking = _taking(request.user, room_id, stage)
    if not 1 <= number <= len(taking.steps):
        raise Http404
    step = taking.steps[number - 1]
    ranges = _ranges(request.user, step.quantity)
    volts = _ranges(request.user, "volts") if step.kind == "load" else []
    typed = request.POST if request.method == "POST" else None
    form = ReadingForm(typed, system=taking.room.job.units)
    if request.method == "POST":
        may_write(Check, request.user)
    try:
        if request.method == "POST" and form.is_valid():
            sent = _sent(taking, step, form, request.now)
            check = record_check(by=request.user, sent=sent, at=request.now)
            return redirect("verdict", check_id=check.pk)
    except DomainError as refused:
        # A reading's problem points into the list that was sent.
        refused.pointer = f"#/{refused.pointer.rsplit('/', 1)[-1]}"
        form.refuse(refused)
    choices = _choices(request, taking, step, ranges)
    context = {
        "room": taking.room,
        "stage": stage,
        "steps": taking.steps,
        "step": step,
        "step_words": words.step(step),
        "where": words.WHERE[step.kind],
        "unit": words.UNITS[step.kind],
        "limits": words.limits(step, taking.facts),
        "why": words.why_limits(step, taking.facts),
        "choices": choices,
        "chosen": _chosen(request, choices, expected_at(step, taking.facts)),
        "volts": volts,
        "form": form,
        "caution": caution(stage),
        "bands": {str(choice.id): words.plain(choice.bands) for choice in choices if choice.bands},
        "go_on": _after(taking, step),
        "sent": {
            "kind": step.kind,
            "element": str(step.element) if step.element else None,
            "sensor": str(step.sensor) if step.sensor else None,
            "lead": step.lead,
        },
    }
    return render(request, "readings/step.html", context, status=422 if form.errors else 200)


@page("GET")
def verdict_page(request: PageRequest, check_id: UUID) -> HttpResponse:
    check = visible(
        Check.objects.select_related("room__job").prefetch_related(
            "readings__element", "readings__sensor", "readings__instrument_range"
        ),
        request.user,
        pk=check_id,
    )
    taking = _taking(request.user, check.room_id, check.stage)
    rows = words.rows(check)
    if not rows:
        raise Http404
    worst = max(rows, key=lambda row: ("pass", "undecided", "fail").index(row.outcome))
    this = _step_of(taking.steps, worst.reading)
    context = {
        "room": taking.room,
        "stage": check.stage,
        "check": check,
        "row": worst,
        "next_words": worst.reading.figures.get("next_step", ""),
        "band": _band(worst.reading),
        "this": this,
        "next": next_step(taking.steps, after=this.number if this else 0),
        "left": sum(step.outcome is None for step in taking.steps),
        "words": words.step,
        "now": request.now,
    }
    return render(request, "readings/verdict.html", context)


@page("GET", "POST")
def thermometer(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    typed = request.POST if request.method == "POST" else None
    form = TemperatureForm(typed, system=room.job.units)
    if request.method == "POST":
        may_write(SiteTemperature, request.user)
    try:
        if request.method == "POST" and form.is_valid():
            shown = form.cleaned_data["celsius"]
            sent = TemperatureSent(
                client_id=form.cleaned_data["client_id"],
                job=room.job_id,
                room=room.pk,
                at=form.cleaned_data["at"] or request.now,
                celsius=celsius(shown, room.job.units),
                humidity_percent=form.cleaned_data["humidity_percent"],
            )
            record_temperature(by=request.user, sent=sent, at=request.now)
            return redirect("field-room", room_id=room.pk)
    except DomainError as refused:
        form.refuse(refused)
    context = {"room": room, "form": form, "unit": "°F" if room.job.units == "imperial" else "°C"}
    return render(request, "readings/thermometer.html", context, status=422 if form.errors else 200)


def _taking(member: Member, room_id: UUID, stage: str) -> Taking:
    if stage not in STAGES:
        raise Http404
    room = visible(Room.objects.select_related("job"), member, pk=room_id)
    state = read(room)
    return Taking(
        room=room,
        stage=stage,
        facts=state.facts,
        steps=steps(stage, state.facts, state.earlier(stage, without=None).items()),
    )


def _after(taking: Taking, step: Step) -> str:
    """Where to go on while no verdict can come."""
    if step.number < len(taking.steps):
        return reverse("measure-step", args=[taking.room.pk, taking.stage, step.number + 1])
    return reverse("field-room", args=[taking.room.pk])


def _ranges(member: Member, quantity: str) -> list[InstrumentRange]:
    return list(
        InstrumentRange.objects.visible_to(member)
        .filter(quantity=quantity, instrument__retired_at=None)
        .select_related("instrument")
        .order_by("instrument__name", "full_scale", "pk")
    )


def _choices(
    request: PageRequest, taking: Taking, step: Step, ranges: Sequence[InstrumentRange]
) -> list[Choice]:
    """The ranges that can decide this first; those that cannot are said to be too coarse."""
    meters: dict[UUID, Meter] = meters_of(request.user, [row.pk for row in ranges])
    day = request.now.astimezone(ZoneInfo(taking.room.job.time_zone)).date()
    known = bands_of(step, taking.stage, taking.facts, meters, on=day)
    found = []
    for row in ranges:
        bands = known.get(row.pk)
        suits = None
        if bands is not None:
            suits = bands.passes is not None or bands.over_range == "pass"
        found.append(
            Choice(
                id=row.pk,
                name=f"{row.instrument.name}, {row.name}",
                full_scale=row.full_scale,
                suits=suits,
                bands=bands,
            )
        )
    return sorted(found, key=lambda choice: choice.suits is False)


def _chosen(
    request: PageRequest, choices: Sequence[Choice], expected: float | None
) -> Choice | None:
    """The range that was asked for, else the finest that can decide, or that reaches far enough."""
    asked = request.POST.get("range") or request.GET.get("range", "")
    if found := next((choice for choice in choices if str(choice.id) == asked), None):
        return found
    able = [choice for choice in choices if choice.suits is not False]
    reach = [
        choice for choice in able if choice.suits or choice.full_scale >= (expected or 0) * SPARE
    ]
    return next(iter([*reach, *able[::-1], *choices]), None)


def _sent(taking: Taking, step: Step, form: ReadingForm, now: datetime) -> CheckSent:
    given = form.cleaned_data
    reading: dict[str, Any] = {
        "kind": step.kind,
        "range": given["range"],
        "value": given["value"],
        "over_range": given["over_range"],
        "element": step.element,
        "sensor": step.sensor,
        "lead": step.lead,
        "at_c": given["at_c"],
    }
    readings = [{key: value for key, value in reading.items() if value not in (None, "")}]
    if step.kind == "load" and given["volts"] is not None and given["volt_range"]:
        volts = {"kind": "supply", "range": given["volt_range"], "value": given["volts"]}
        readings.insert(0, volts)
    return CheckSent(
        client_id=given["client_id"],
        room=taking.room.pk,
        stage=taking.stage,
        taken_at=given["at"] or now,
        readings=readings,
    )


def _step_of(found: Sequence[Step], reading: Reading) -> Step | None:
    if reading.kind in ("supply", "load"):
        return next((step for step in found if step.kind == "load"), None)
    key = (reading.kind, reading.element_id, reading.sensor_id, reading.lead)
    return next(
        (step for step in found if (step.kind, step.element, step.sensor, step.lead) == key), None
    )


def _band(reading: Reading) -> SafeString | None:
    """The reading against its limits, where both are known."""
    figures = reading.figures
    value, low, high = figures.get("value"), figures.get("low"), figures.get("high")
    if None in (value, low, high) or not figures.get("expanded_uncertainty"):
        return None
    drawn = draw_band(
        value=value,
        expanded=figures["expanded_uncertainty"],
        low=low,
        high=high,
        unit=words.UNITS[reading.kind],
        say=in_language,
    )
    return mark_safe(drawn)  # made by us, every word in it escaped
