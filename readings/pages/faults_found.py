"""Faults on the record: kept by a form, shown with their places on the plan, voided."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, cast
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from config.forms import LocalTimeField, NumberField, PageForm, PlainChoice
from config.instants import minute_typed
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.actions.pictures import stored_picture
from jobs.forms.saying import in_words
from jobs.models import Element, Member, Room
from jobs.pages.drawing import figure
from jobs.pages.filling import filled, picked, sent
from jobs.requests import PageRequest
from jobs.units import System
from jobs.wire import FaultSpot
from readings.actions.faults_found import Told, record_fault, told_of, void_fault, with_drawings
from readings.models import FaultFound
from readings.pages.fault import CONSTRUCTIONS, METHODS
from readings.pages.spots import Candidate, candidates, on_plan

ALL_METHODS = {**METHODS, "reflectometer": gettext_lazy("An echo, by a reflectometer")}
ENDS = {
    "A": gettext_lazy("From lead A"),
    "B": gettext_lazy("From lead B"),
    "unknown": gettext_lazy("Nobody knows which lead it was"),
}
MOST_SHOWN = 20


class KeepForm(PageForm):
    """A fraction that was found, with all that makes a place of it."""

    element = forms.ChoiceField(label=gettext_lazy("Element"))
    method = forms.ChoiceField(
        label=gettext_lazy("How was it measured?"), choices=list(ALL_METHODS.items())
    )
    construction = forms.ChoiceField(
        label=gettext_lazy("How is the element built?"),
        choices=list(CONSTRUCTIONS.items()),
        initial="twin-equal",
        widget=PlainChoice,
    )
    measured_from = forms.ChoiceField(
        label=gettext_lazy("From which end?"),
        choices=list(ENDS.items()),
        initial="A",
        widget=PlainChoice,
    )
    fraction = NumberField(
        label=gettext_lazy("How far from that end, % of the whole"),
        low=0,
        high=100,
        help_text=gettext_lazy(
            "Of the ohms from end to end, leads included; of the cable’s length if a capacitance "
            "or an echo was measured."
        ),
    )
    tolerance = NumberField(
        label=gettext_lazy("True to ±, %"),
        low=0.0001,
        high=50,
        help_text=gettext_lazy("So that the fault lies within it 19 times in 20."),
    )
    loop_ohms = NumberField(
        label=gettext_lazy("End to end of the core, Ω"),
        required=False,
        low=0.001,
        high=1e9,
        help_text=gettext_lazy("Left empty, the ohms of the tag count."),
    )
    found_at = LocalTimeField(label=gettext_lazy("Found at"))
    note = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=5000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


class VoidForm(PageForm):
    reason = forms.CharField(label=gettext_lazy("Why it was wrong"), max_length=300)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultShown:
    """A fault of the record in words; one that does not stand has no labels on the plan."""

    told: Told
    mark: str
    state: str
    places: list[Candidate]
    method: str
    end: str

    @property
    def head(self) -> str:
        """What a statement about it says first."""
        if len(self.places) > 1:
            return _("Fault likely at one of %(number)s places") % {"number": len(self.places)}
        return _("Fault likely")


def faults_of(member: Member, room: Room) -> list[Any]:
    """The newest faults of a room, read as `faults_shown` needs them; one query."""
    rows = FaultFound.objects.visible_to(member).filter(room=room)
    return list(with_drawings(rows).order_by("-found_at", "-pk")[:MOST_SHOWN])


def faults_shown(rows: Iterable[Any], system: System) -> tuple[list[FaultShown], list[FaultSpot]]:
    """Faults that were read `with_drawings` in words, and on the plan those that stand."""
    told = sorted(map(told_of, rows), key=lambda one: not one.stands)
    standing = candidates([one.places for one in told if one.stands], system)
    others = [candidates([one.places], system)[0] for one in told if not one.stands]
    shown = [_shown(one, places) for one, places in zip(told, [*standing, *others], strict=True)]
    return shown, on_plan(standing)


@page("GET", "POST")
def fault_add(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Keep a fault; what was worked out before comes along in the address."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(FaultFound, request.user)
    elements = list(
        Element.objects.visible_to(request.user)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("label", "pk")
    )
    if not elements:
        return redirect("room-fault", room_id=room.pk)  # it says what to do first
    zone = ZoneInfo(room.job.time_zone)
    local = request.now.astimezone(zone).strftime("%Y-%m-%dT%H:%M")
    given = {name: value for name, value in request.GET.items() if name in KeepForm.base_fields}
    form = KeepForm(sent(request), initial={"found_at": local, **given})
    names = [(str(row.pk), _called(row)) for row in elements]
    form.fields["element"].choices = names  # type: ignore[attr-defined]

    def do(typed: dict[str, Any]) -> HttpResponse:
        row = record_fault(
            by=request.user,
            room=room,
            element=picked(elements, UUID(typed.pop("element"))),
            fraction=typed.pop("fraction") / 100,
            tolerance=typed.pop("tolerance") / 100,
            found_at=minute_typed(typed.pop("found_at"), zone, request.now),
            at=request.now,
            **typed,
        )
        messages.success(request, _("The fault is kept."))
        return redirect("fault-found", fault_id=row.pk)

    title = _("Record a fault that was found")
    return filled(
        request,
        form,
        do,
        title=f"{room.name}: {title}",
        act=_("Keep it"),
        lead=_("It holds the heat until the element is joined there, or the fault is voided."),
        caution=_(
            "The circuit is off and proven dead, the leads are off the control, nobody can switch "
            "it on. Null the test leads."
        ),
        here="jobs",
    )


@page("GET")
def fault_found(request: PageRequest, fault_id: UUID) -> HttpResponse:
    """One fault of the record: its places on the plan, how they came about, what became of it."""
    rows = with_drawings(FaultFound.objects.all()).select_related(
        "room__job", "found_by", "voided_by"
    )
    row = visible(rows, request.user, pk=fault_id)
    system = cast(System, row.room.job.units)
    told = told_of(row)
    (places,) = candidates([told.places], system)
    shown = _shown(told, places)
    picture = replace(stored_picture(request.user, row.room), faults=on_plan([places]))
    context = {
        "here": "jobs",
        "room": row.room,
        "zone": row.room.job.time_zone,
        "fault": shown,
        "row": row,
        "why": [
            in_words(one, system)
            for one in (told.because, *(place.because for place in told.places))
        ],
        "drawn": figure(picture, system=system),
        "imperial": system == "imperial",
        "percent": {"fraction": row.fraction * 100, "tolerance": row.tolerance * 100},
    }
    return render(request, "readings/fault_found.html", context)


@page("GET", "POST")
def fault_void(request: PageRequest, fault_id: UUID) -> HttpResponse:
    rows = FaultFound.objects.select_related("room", "element")
    row = editable(rows, request.user, pk=fault_id)

    def do(typed: dict[str, Any]) -> HttpResponse:
        void_fault(by=request.user, fault=row, at=request.now, **typed)
        return redirect("fault-found", fault_id=row.pk)

    title = _("Void the fault")
    return filled(
        request,
        VoidForm(sent(request)),
        do,
        title=f"{row.room.name}, {row.element.label}: {title}",
        act=_("Void it"),
        lead=_("It leaves the plan and no longer holds the heat. The record keeps it, with why."),
        here="jobs",
    )


def _shown(told: Told, places: list[Candidate]) -> FaultShown:
    mark, state = _state(told)
    return FaultShown(
        told=told,
        mark=mark,
        state=state,
        places=places,
        method=str(ALL_METHODS[told.row.method]),
        end=str(ENDS[told.row.measured_from]),
    )


def _state(told: Told) -> tuple[str, str]:
    if told.row.voided_at:
        return "todo", _("Voided")
    if told.repaired_at:
        return "cleared", _("Joined since")
    if told.row.element.removed_at:
        return "none", _("Element taken out")
    return "fail", _("Open")


def _called(row: Element) -> str:
    return f"{row.label}, {row.serial}" if row.serial else row.label
