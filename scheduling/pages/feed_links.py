"""Who follows which calendar by a private link: made here, shown once, revoked here."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.pages import page
from config.tenancy import editable, may_write
from jobs.actions.links import revoke_link
from jobs.models import Link
from jobs.pages.filling import filled, picked, sent
from jobs.requests import PageRequest
from scheduling.actions.feeds import make_feed
from scheduling.forms import FeedForm
from scheduling.models import Crew

OFFICE = "office"


@page("GET", "POST")
def feed_links(request: PageRequest) -> HttpResponse:
    may_write(Link, request.user)
    crews = list(
        Crew.objects.visible_to(request.user).filter(retired_at=None).order_by("name", "pk")
    )
    form = FeedForm(sent(request))
    form.fields["whose"].choices = [  # type: ignore[attr-defined]
        (OFFICE, _("Everything, for the office")),
        *((str(crew.pk), crew.name) for crew in crews),
    ]

    def do(given: dict[str, Any]) -> HttpResponse:
        whose = given["whose"]
        crew = None if whose == OFFICE else picked(crews, UUID(whose))
        _link, url = make_feed(by=request.user, crew=crew, at=request.now)
        shown = {"url": url, "subscribe": f"webcal:{url.partition(':')[2]}", "crew": crew}
        return render(request, "scheduling/feed_link.html", {**shown, "here": "plan"})

    names = {crew.pk: crew.name for crew in Crew.objects.visible_to(request.user)}
    links = Link.objects.visible_to(request.user).filter(
        purpose="feed", revoked_at=None, expires_at__gt=request.now
    )
    return filled(
        request,
        form,
        do,
        template="scheduling/feed_links.html",
        rows=[
            (link, names[link.subject_id] if link.subject_id else "")
            for link in links.order_by("-pk")[:200]
        ],
        zone=request.user.contractor.time_zone,
        here="plan",
    )


@page("POST")
def feed_revoke(request: PageRequest, link_id: UUID) -> HttpResponse:
    link = editable(Link.objects.filter(purpose="feed"), request.user, pk=link_id)
    revoke_link(link=link, at=request.now)
    return redirect("feeds")
