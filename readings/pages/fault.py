"""Where an element is damaged: readings at its ends become a place and a band on the plan."""

from dataclasses import replace
from math import ceil
from typing import Any, cast
from urllib.parse import urlencode
from uuid import UUID

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from config.errors import DomainError
from config.forms import NumberField, PageForm, PlainChoice
from config.pages import page
from config.tenancy import visible
from jobs.actions.pictures import stored_picture
from jobs.forms.saying import in_words
from jobs.models import Element, Room
from jobs.pages.drawing import figure
from jobs.requests import PageRequest
from jobs.units import System
from readings.actions.faults import ALSO, TAKES, Located, locate
from readings.fault import COVERAGE_FACTOR
from readings.models import FaultFound, InstrumentRange
from readings.pages.spots import candidates, on_plan

METHODS = {
    "core_to_ground": gettext_lazy("Core to ground, from both ends"),
    "bridge": gettext_lazy("A bridge with two arms"),
    "bridge_with_dial": gettext_lazy("A bridge with a dial"),
    "core_to_core": gettext_lazy("A short between two cores"),
    "open_core": gettext_lazy("A broken core, by its capacitance"),
}
CONSTRUCTIONS = {
    "single": gettext_lazy("Single core"),
    "twin-equal": gettext_lazy("Twin core, both alike"),
    "twin-return": gettext_lazy("Twin core with a return of next to no ohms"),
}
FIGURES = {
    "loop_ohms": gettext_lazy("End to end of the core, Ω"),
    "from_a_ohms": gettext_lazy("From A to ground, Ω"),
    "from_b_ohms": gettext_lazy("From B to ground, Ω"),
    "arm_a": gettext_lazy("Arm at A"),
    "arm_b": gettext_lazy("Arm at B"),
    "dial_ohms": gettext_lazy("Dial, Ω"),
    "arm_ratio": gettext_lazy("Ratio of the arms"),
    "healthy_ohms": gettext_lazy("Whole element when it was sound, Ω"),
    "measured_ohms": gettext_lazy("Between the cores now, Ω"),
    "capacitance_a": gettext_lazy("Capacitance from A, nF"),
    "capacitance_b": gettext_lazy("Capacitance from B, nF"),
}


class FaultForm(PageForm):
    """The readings of one method."""

    element = forms.ChoiceField(label=gettext_lazy("Element"))
    method = forms.ChoiceField(choices=list(METHODS.items()), widget=forms.HiddenInput)
    construction = forms.ChoiceField(
        label=gettext_lazy("How is the element built?"),
        choices=list(CONSTRUCTIONS.items()),
        initial="twin-equal",
        widget=PlainChoice,
    )
    ends = forms.ChoiceField(
        label=gettext_lazy("Which lead is A?"),
        choices=[
            ("known", gettext_lazy("The leads are marked")),
            ("unknown", gettext_lazy("Nobody knows which lead is A")),
        ],
        initial="known",
        widget=PlainChoice,
    )
    range = forms.ChoiceField(label=gettext_lazy("Range of the meter"), required=False)
    u_percent = NumberField(
        label=gettext_lazy("Doubt of each arm or capacitance, %"), required=False, low=0, high=50
    )

    def __init__(self, typed: Any, *, method: str, elements: list[Element], ranges: Any) -> None:
        super().__init__(typed, initial={"method": method})
        for name in (*TAKES[method], *ALSO.get(method, ())):
            self.fields[name] = NumberField(label=FIGURES[name], low=0, high=1e9)
        self.fields["element"].choices = [(str(row.pk), row.label) for row in elements]  # type: ignore[attr-defined]
        self.fields["range"].choices = [  # type: ignore[attr-defined]
            ("", _("Not known")),
            *((str(row.pk), f"{row.instrument.name}, {row.name}") for row in ranges),
        ]
        last = ("construction", "ends", "range", "u_percent")
        self.order_fields([name for name in self.fields if name not in last])

    def given(self) -> dict[str, Any]:
        """The readings as the action takes them."""
        data = {name: value for name, value in self.cleaned_data.items() if value not in ("", None)}
        data["ends_known"] = data.pop("ends") == "known"
        return data


@page("GET")
def fault_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    elements = list(
        Element.objects.visible_to(request.user)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("label", "pk")
    )
    ranges = (
        InstrumentRange.objects.visible_to(request.user)
        .filter(quantity="ohms")
        .select_related("instrument")
        .order_by("instrument__name", "full_scale", "pk")
    )
    asked = request.GET.get("method", "")
    method = asked if asked in METHODS else "core_to_ground"
    typed = request.GET if "element" in request.GET else None
    form = FaultForm(typed, method=method, elements=elements, ranges=ranges)
    found: Located | None = None
    try:
        if form.is_bound and form.is_valid():
            given = form.given()
            chosen = given.pop("element")
            (element,) = [row for row in elements if str(row.pk) == chosen]
            found = locate(by=request.user, element=element, given=given)
    except DomainError as refused:
        form.refuse(refused)
    system = cast(System, room.job.units)
    shown = candidates([found.places], system) if found else []
    context = {
        "here": "jobs",
        "room": room,
        "elements": elements,
        "form": form,
        "method": method,
        "methods": METHODS.items(),
        "found": found,
        "drawn": figure(
            replace(stored_picture(request.user, room), faults=on_plan(shown)), system=system
        ),
        "imperial": room.job.units == "imperial",
    }
    if found:
        context["why"] = [in_words(found.because, system)]
        (context["candidates"],) = shown
        if request.user.role in FaultFound.written_by:
            context["keep"] = urlencode(_as_found(form, found))
    return render(request, "readings/fault.html", context, status=422 if form.errors else 200)


def _as_found(form: FaultForm, found: Located) -> dict[str, str]:
    """What was worked out, as the form that keeps it is to be filled."""
    given = form.cleaned_data
    filled = {
        "element": given["element"],
        "method": given["method"],
        "construction": given["construction"],
        "measured_from": "A" if given["ends"] == "known" else "unknown",
        "fraction": f"{found.fraction * 100:.4f}",
    }
    if loop := given.get("loop_ohms") or given.get("healthy_ohms"):
        filled["loop_ohms"] = f"{loop:g}"
    if found.u_fraction:
        # Rounded up, like every ± that somebody may rely on.
        filled["tolerance"] = f"{ceil(COVERAGE_FACTOR * found.u_fraction * 1e6) / 1e4:.4f}"
    return filled
