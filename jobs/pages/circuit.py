"""The circuit that feeds a room, by the rules of its job's code profile."""

from dataclasses import dataclass
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import visible
from config.wording import in_language
from jobs.actions.worked_out import circuit_of
from jobs.circuits import CircuitCheck
from jobs.code_profiles import PROFILES
from jobs.forms.saying import in_words
from jobs.models import Element, Room
from jobs.pages.figure_forms import SupplyForm
from jobs.requests import PageRequest

MARKS = {"holds": "cleared", "fails": "hold", "required": "todo", "look up": "undecided"}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule held against the figures, in words."""

    mark: str
    outcome: str
    rule: str
    because: str
    source: str


@page("GET")
def circuit_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    profile = PROFILES[room.job.code_profile]
    form = SupplyForm(
        request.GET or None,
        system=room.job.units,
        conductors=[one.name for one in profile.conductors],
    )
    found: CircuitCheck | None = None
    elements = Element.objects.visible_to(request.user).filter(room=room, removed_at=None)
    has_elements = elements.exists()
    try:
        known = form.known() if form.is_bound and form.is_valid() else {}
        if has_elements and not form.errors:
            found = circuit_of(request.user, room, **known)
    except DomainError as refused:
        form.refuse(refused) if form.is_bound else None
        return _shown(
            request, room, form, None, in_words(refused.detail, room.job.units), has_elements
        )
    return _shown(request, room, form, found, "", has_elements)


def _shown(
    request: PageRequest,
    room: Room,
    form: SupplyForm,
    found: CircuitCheck | None,
    refused: str,
    has_elements: bool,
) -> HttpResponse:
    words = {
        "holds": _("Holds"),
        "fails": _("Fails"),
        "required": _("Required"),
        "look up": _("Look it up"),
    }
    context = {
        "here": "jobs",
        "room": room,
        "form": form,
        "found": found,
        "refused": refused,
        "has_elements": has_elements,
        "rules": [
            Rule(
                MARKS[one.outcome],
                words[one.outcome],
                in_language(one.rule),
                in_words(one.because, room.job.units),
                in_language(one.source),
            )
            for one in found.findings
        ]
        if found
        else [],
        "not_checked": [in_language(one) for one in found.not_checked] if found else [],
        "caution": in_language(found.caution) if found else "",
    }
    status = 422 if form.errors else 200
    return render(request, "jobs/room_circuit.html", context, status=status)
