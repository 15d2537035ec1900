"""What to order for a room: whole packages, each opening to how it was worked out."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.errors import DomainError
from config.pages import page
from config.tenancy import visible
from jobs.actions.worked_out import order_of
from jobs.forms.saying import in_words
from jobs.models import Material, Room
from jobs.ordering import order_csv
from jobs.requests import PageRequest


@page("GET")
def order_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    asked = _asked(request)
    context: dict[str, Any] = {"here": "jobs", "room": room, "choices": _choices(request, asked)}
    try:
        found = order_of(request.user, room, asked)
    except DomainError as refused:
        context["refused"] = in_words(refused.detail, room.job.units)
        return render(request, "jobs/room_order.html", context, status=422)
    context |= {
        "lines": [
            (line, in_words(line.amount, room.job.units), in_words(line.because, room.job.units))
            for line in found.lines
        ],
        "not_counted": [in_words(one, room.job.units) for one in found.not_counted],
        "query": request.GET.urlencode(),
    }
    return render(request, "jobs/room_order.html", context)


@page("GET")
def order_file(request: PageRequest, room_id: UUID) -> HttpResponse:
    """The same as a file to order by."""
    room = visible(Room.objects.all(), request.user, pk=room_id)
    headers = {"Content-Disposition": 'attachment; filename="order.csv"'}
    text = order_csv(order_of(request.user, room, _asked(request)))
    return HttpResponse(text, content_type="text/csv; charset=utf-8", headers=headers)


def _asked(request: PageRequest) -> list[UUID] | None:
    """The materials that were ticked; None asks for the only one of each kind."""
    found = []
    for text in request.GET.getlist("material"):
        try:
            found.append(UUID(text))
        except ValueError:
            continue  # no id of ours
    return found or None


def _choices(request: PageRequest, asked: list[UUID] | None) -> list[tuple[Material, bool]]:
    rows = Material.objects.visible_to(request.user).filter(retired_at=None)
    chosen = set(asked or ())
    return [(row, row.pk in chosen) for row in rows.order_by("kind", "name", "pk")[:200]]
