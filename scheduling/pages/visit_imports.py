"""Taking visits from a calendar or from lines: looked at first, then noted; no script needed."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from config.errors import DomainError
from config.pages import TimedRequest, page
from config.tenancy import may_write, visible
from config.wording import in_language
from jobs.models import Job, Room
from jobs.pages.filling import choose, offer, picked
from jobs.requests import PageRequest
from scheduling.actions import visit_imports
from scheduling.actions.visit_imports import Deed, Import, Row, Source
from scheduling.exposure import Conflict
from scheduling.forms import ImportForm, VisitImportForm
from scheduling.models import Visit
from scheduling.pages import words

TAKE = "take"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One visit of a preview: what becomes of it, and what stands against it."""

    word: str
    mark: str
    title: str
    room: str
    starts_at: datetime
    ends_at: datetime
    against: tuple[str, ...]
    nearest_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What taking it would do, in words."""

    rows: tuple[Shown, ...]
    wrongs: tuple[tuple[str, str], ...]
    left: str
    changes: int
    act: str


def looked_at(
    request: TimedRequest, form: ImportForm, source_of: Callable[[dict[str, Any]], Source]
) -> tuple[Preview | None, bool]:
    """The preview of what was sent, and whether it was taken; the form has what is refused."""
    if request.method != "POST" or not form.is_valid():
        return None, False
    try:
        source = source_of(dict(form.cleaned_data))
        if request.POST.get("deed") == TAKE:
            found = visit_imports.take(source, at=request.now)
            return preview_of(found), True
        found = visit_imports.preview(source, at=request.now)
    except DomainError as refused:
        form.refuse(refused)
        return None, False
    # The file goes along into the next step: a browser does not send it twice.
    calendar = source.calendar
    kept = calendar.decode("utf-8-sig") if isinstance(calendar, bytes) else calendar
    data = request.POST.copy()
    data["kept"] = kept
    form.data = data
    return preview_of(found), False


def preview_of(found: Import) -> Preview:
    read = found.read
    left = []
    if read.past:
        left.append(ngettext("%(n)d is over.", "%(n)d are over.", read.past) % {"n": read.past})
    if read.later:
        later = ngettext(
            "%(n)d is more than a year away.", "%(n)d are more than a year away.", read.later
        )
        left.append(later % {"n": read.later})
    changes = found.changes
    act = ngettext("Note this change", "Note these %(n)d changes", changes) % {"n": changes}
    return Preview(
        rows=tuple(_shown(row, found.rooms) for row in found.rows),
        wrongs=tuple((wrong.where, in_language(wrong.why)) for wrong in read.wrongs),
        left=" ".join(left),
        changes=changes,
        act=act,
    )


DEEDS: Mapping[Deed, tuple[str, Any]] = {
    "new": ("booked", gettext_lazy("New")),
    "moved": ("moved", gettext_lazy("Moves")),
    "same": ("todo", gettext_lazy("Known")),
    "older": ("todo", gettext_lazy("Older")),
    "gone": ("late", gettext_lazy("Called off")),
}


def against(met: Iterable[Conflict], names: Mapping[str, str]) -> tuple[str, ...]:
    """What stands against a visit, a sentence for each room; `names` are those of rooms, by id."""
    said = [
        f"{names[conflict.room]}: {words.KEEP[conflict.window.state]}. "
        f"{words.LIES[conflict.window.state]}"
        for conflict in met
    ]
    return tuple(dict.fromkeys(said))


def _shown(row: Row, names: Mapping[str, str]) -> Shown:
    mark, word = DEEDS[row.deed]
    visit = row.visit
    return Shown(
        word=str(word),
        mark=mark,
        title=row.title or visit.trade,
        room=visit.room.name if visit.room else "",
        starts_at=visit.starts_at,
        ends_at=visit.ends_at,
        against=against(row.conflicts, names),
        nearest_at=row.conflicts[0].nearest_start_at if row.conflicts else None,
    )


@page("GET", "POST")
def visits_import(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(Visit, request.user)
    rooms = list(Room.objects.visible_to(request.user).filter(job=job).order_by("name", "pk"))
    posted = request.method == "POST"
    form = VisitImportForm(request.POST if posted else None, request.FILES if posted else None)
    choose(form, "room", rooms, empty=_("The whole job"))
    offer(form, activities=words.ACTIVITIES)

    def source_of(given: dict[str, Any]) -> Source:
        names = ("trade", "company", "phone", "email", "language", "activities")
        return Source(
            job=job,
            room=picked(rooms, given["room"]),
            calendar=given["calendar"],
            lines=given["lines"],
            fields={name: given[name] for name in names},
        )

    found, taken = looked_at(request, form, source_of)
    if taken:
        messages.success(request, _("The visits are noted."))
        return redirect("job", job_id=job.pk)
    context = {"job": job, "form": form, "preview": found, "here": "jobs"}
    status = 422 if form.errors else 200
    return render(request, "scheduling/visits_import.html", context, status=status)
