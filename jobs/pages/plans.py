"""Ways to lay a room: looked for by a worker, compared side by side, one of them chosen."""

from dataclasses import dataclass, replace
from typing import Any, cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.vary import vary_on_headers

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write, visible
from jobs.actions import laying
from jobs.actions.pictures import stored_picture
from jobs.area import heatable_room
from jobs.forms.catalogue import WaysForm
from jobs.forms.saying import in_words
from jobs.models import KeepOut, LayingPlan, LayingSearch, Material, Room
from jobs.pages.drawing import Drawn, figure
from jobs.pages.filling import choose, sent
from jobs.plan_picture import PlanPicture
from jobs.requests import PageRequest
from jobs.room_picture import StoredPlan, cables_of
from jobs.units import System, shown_area


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to lay a room: what it warms, what it takes, what it gives up."""

    number: int
    name: str
    drawn: Drawn
    warm: str
    share: str
    cold: str
    turns: str
    wire: str
    power: str
    gives_up: str


@page("GET", "POST")
def plans_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    elements = _elements(request)
    form = WaysForm(sent(request), system=room.job.units, initial={"may_use": "1"})
    choose(form, "materials", elements)
    if request.method == "POST":
        may_write(LayingPlan, request.user)
        try:
            if form.is_valid():
                chosen = set(form.cleaned_data["materials"])
                laying.ask_for_ways(
                    by=request.user,
                    room=room,
                    may_use=int(form.cleaned_data["may_use"]),
                    materials=[row for row in elements if str(row.pk) in chosen] or None,
                    at=request.now,
                )
                return redirect("room-plans", room_id=room.pk)
        except DomainError as refused:
            form.refuse(refused)
    newest = LayingSearch.objects.visible_to(request.user).filter(room=room).order_by("-pk").first()
    shown = _shown(request, room, newest) if newest else {}
    return render(
        request,
        "jobs/room_plans.html",
        {"here": "jobs", "room": room, "form": form, "elements": elements, **shown},
        status=422 if form.errors else 200,
    )


@page("GET", "POST")
@vary_on_headers("HX-Request")
def search_page(request: PageRequest, search_id: UUID) -> HttpResponse:
    """How far a search is; a POST ends it, or keeps one of the ways that it found."""
    searches = LayingSearch.objects.select_related("room__job")
    if request.method == "POST":
        may_write(LayingPlan, request.user)
    search = visible(searches, request.user, pk=search_id)
    if request.method == "POST" and "stop" in request.POST:
        laying.stop_looking(search=search, at=request.now)
        return redirect("room-plans", room_id=search.room_id)
    if request.method == "POST":
        return _keep(request, search)
    if not request.htmx:
        return redirect("room-plans", room_id=search.room_id)
    return render(request, "jobs/_ways.html", _shown(request, search.room, search))


def _keep(request: PageRequest, search: LayingSearch) -> HttpResponse:
    number = request.POST.get("choice", "")
    if not number.isdecimal() or int(number) >= len(search.found):
        return _refused(request, search, _("Choose one of the ways that were found."))
    try:
        laying.store_plan(
            by=request.user,
            room=search.room,
            plan=search.found[int(number)]["plan"],
            at=request.now,
        )
    except DomainError as refused:
        return _refused(request, search, in_words(refused.detail, search.room.job.units))
    return redirect("room", room_id=search.room_id)


def _refused(request: PageRequest, search: LayingSearch, why: str) -> HttpResponse:
    elements = _elements(request)
    form = WaysForm(initial={"may_use": "1"})
    choose(form, "materials", elements)
    shown = {
        "here": "jobs",
        "room": search.room,
        "form": form,
        "elements": elements,
        "refused": why,
        **_shown(request, search.room, search),
    }
    return render(request, "jobs/room_plans.html", shown, status=422)


def _elements(request: PageRequest) -> list[Material]:
    return list(
        Material.objects.visible_to(request.user)
        .filter(kind="element", retired_at=None)
        .order_by("name", "pk")
    )


def _shown(request: PageRequest, room: Room, search: LayingSearch) -> dict[str, Any]:
    names = {str(row.pk): row for row in Material.objects.visible_to(request.user).filter(
        kind="element"
    )}  # fmt: skip
    waits = search.finished_at is None
    bare = replace(stored_picture(request.user, room), cables=(), sensor=None, sensor_route=())
    seconds = (request.now - search.asked_at).total_seconds()
    return {
        "search": search,
        "waits": waits,
        "refusal": in_words(search.refused, room.job.units),
        "seconds": round(seconds),
        "considered": len(search.problem.get("elements", ())),
        "excluded": _excluded(request, room),
        "outdated": search.room_version != room.version,
        "ways": [
            _way(bare, room.job.units, names, at, found) for at, found in enumerate(search.found)
        ],
    }


def _excluded(request: PageRequest, room: Room) -> list[str]:
    """What of the floor gets no heat, how much it is, and why."""
    keep_outs = KeepOut.objects.visible_to(request.user).filter(room=room).order_by("position")
    area = heatable_room(
        room.outline,
        list(keep_outs.values("kind", "outline", "margin_mm")),
        joints=room.joints,
        margins_mm=room.margins_mm,
        doorways=room.doorways,
    )
    system = cast(System, room.job.units)
    return [
        f"{shown_area(part.area_m2, system)}: {in_words(part.because, system)}"
        for part in area.excluded
    ]


def _way(
    bare: PlanPicture, system: str, names: dict[str, Material], at: int, found: dict[str, Any]
) -> Way:
    plan, measures = found["plan"], found["measures"]
    rows = [names.get(one["element"]) for one in plan["elements"]]
    warm, floor = measures["covered_m2"], measures["heatable_m2"]
    cold = max(0.0, floor - warm)
    # As planned nothing has a tolerance yet: only the wire is drawn.
    stored = StoredPlan(plan=plan, basis="planned", tolerance_mm=0.0)
    shown = replace(bare, **cables_of(stored))
    watts = sum((row.element or {}).get("watts", 0.0) for row in rows if row)
    return Way(
        number=at,
        name=", ".join(row.name if row else _("An element of the past") for row in rows),
        drawn=figure(shown, system=system, key=f"way-{at}"),
        warm=shown_area(warm, system),  # type: ignore[arg-type]
        share=f"{100 * warm / floor:.0f} %" if floor else "–",
        cold=shown_area(cold, system),  # type: ignore[arg-type]
        turns=f"{measures['turns_per_m2'] * floor:.0f}",
        wire=f"{measures['wire_m']:g} m",
        power=f"{watts:.0f} W",
        gives_up=" ".join(in_words(one, system) for one in plan["because"])
        or _("Next to nothing: less than 3 % of the heatable floor stays cold."),
    )
