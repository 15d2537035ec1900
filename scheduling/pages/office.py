"""What the office does in a job: layers, visits, bookings, proof, heat, names, papers, links."""

from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.instants import minute_typed
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.actions.links import OWNER_LINK_LASTS, make_link
from jobs.materials import CURING_KINDS
from jobs.models import Job, Link, Material, Room
from jobs.pages.filling import choose, filled, offer, picked, sent
from jobs.requests import PageRequest
from scheduling.actions import certificates, crews, decisions, evidence, layers, notices, visits
from scheduling.actions.record import handover_of
from scheduling.forms import (
    BookForm,
    HeatForm,
    LayerForm,
    ProofForm,
    SignForm,
    VisitForm,
)
from scheduling.models import (
    Booking,
    Certificate,
    Crew,
    Energizing,
    Evidence,
    Layer,
    SignOff,
    Visit,
)
from scheduling.pages import words
from scheduling.pages.certificates import paper_of


@page("GET", "POST")
def layer_add(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(Layer, request.user)
    materials = list(
        Material.objects.visible_to(request.user)
        .filter(kind__in=CURING_KINDS, retired_at=None)
        .order_by("name", "pk")
    )
    form = LayerForm(sent(request))
    choose(form, "material", materials)

    def do(given: dict[str, Any]) -> HttpResponse:
        given["material"] = picked(materials, given["material"])
        layers.add_layer(by=request.user, room=room, position=None, at=request.now, **given)
        return redirect("room", room_id=room.pk)

    title = _("Plan a layer on top")
    return filled(request, form, do, title=f"{room.name}: {title}", act=_("Plan it"), here="jobs")


@page("GET", "POST")
def visit_add(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(Visit, request.user)
    rooms = _rooms_of(request, job)
    form = VisitForm(sent(request))
    choose(form, "room", rooms, empty=_("The whole job"))
    offer(form, activities=words.ACTIVITIES)

    def do(given: dict[str, Any]) -> HttpResponse:
        zone = ZoneInfo(job.time_zone)
        for name in ("starts_at", "ends_at"):
            given[name] = _in_zone(given[name], zone)
        room = picked(rooms, given.pop("room"))
        _visit, met = visits.plan_visit(
            by=request.user, job=job, room=room, fields=given, at=request.now
        )
        for conflict in met[:1]:
            said = _("This visit meets a floor: %(why)s A warning is made.")
            messages.success(request, said % {"why": _(conflict.because)})
        return redirect("job", job_id=job.pk)

    title = _("Another trade comes")
    return filled(request, form, do, title=f"{job.street}: {title}", act=_("Note it"), here="jobs")


@page("GET", "POST")
def booking_add(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(Booking, request.user)
    rooms = _rooms_of(request, job)
    all_crews = list(
        Crew.objects.visible_to(request.user).filter(retired_at=None).order_by("name", "pk")
    )
    form = BookForm(sent(request))
    choose(form, "crew", all_crews)
    choose(form, "room", rooms, empty=_("The whole job"))
    offer(form, task=words.TASKS, half=words.HALVES)

    def do(given: dict[str, Any]) -> HttpResponse:
        crews.book_crew(
            by=request.user,
            crew=picked(all_crews, given["crew"]),
            job=job,
            room=picked(rooms, given["room"]),
            task=given["task"],
            half_days=[(given["day"], given["half"])],
            at=request.now,
        )
        return redirect("job", job_id=job.pk)

    title = _("Book a crew")
    return filled(request, form, do, title=f"{job.street}: {title}", act=_("Book it"), here="jobs")


@page("GET", "POST")
def proof_add(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(Evidence, request.user)
    form = ProofForm(sent(request))
    offer(form, kind=words.PROOFS)

    def do(given: dict[str, Any]) -> HttpResponse:
        evidence.record_evidence(
            by=request.user,
            room=room,
            layer=None,
            shown_at=request.now,
            at=request.now,
            **given,
        )
        return redirect("room", room_id=room.pk)

    title = _("Record what is proven")
    return filled(request, form, do, title=f"{room.name}: {title}", act=_("Record it"), here="jobs")


@page("GET", "POST")
def heat_on(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(Energizing, request.user)
    zone = ZoneInfo(room.job.time_zone)
    local = request.now.astimezone(zone).strftime("%Y-%m-%dT%H:%M")
    initial = {"switched_on_at": local}
    form = HeatForm(sent(request), system=room.job.units, initial=initial)

    def do(given: dict[str, Any]) -> HttpResponse:
        decisions.switch_on(
            by=request.user,
            room=room,
            client_id=given["client_id"],
            switched_on_at=minute_typed(given["switched_on_at"], zone, request.now),
            test_minutes=given["test_minutes"],
            at=request.now,
        )
        return redirect("room", room_id=room.pk)

    title = _("Heat is on")
    return filled(
        request,
        form,
        do,
        title=f"{room.name}: {title}",
        act=_("Record it"),
        lead=_("It is refused while something stands in the way."),
        caution=_(
            "Connections by a licensed electrician. Local code and the makers’ instructions rule. "
            "Too warm, a smell, a check that fails: switch off and prove dead."
        ),
        here="jobs",
    )


@page("GET", "POST")
def sign(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(SignOff, request.user)
    form = SignForm(sent(request))

    def do(given: dict[str, Any]) -> HttpResponse:
        certificates.sign_off(
            by=request.user, job=job, signed_at=request.now, at=request.now, **given
        )
        return redirect("handover", job_id=job.pk)

    title = _("Sign off")
    return filled(request, form, do, title=f"{job.street}: {title}", act=_("Sign"), here="jobs")


@page("GET", "POST")
def handover(request: PageRequest, job_id: UUID) -> HttpResponse:
    """What is missing, who clears it; then the certificate."""
    job = visible(Job.objects.select_related("contractor", "customer"), request.user, pk=job_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        certificates.issue_certificate(by=request.user, job=job, at=request.now)
        return redirect("handover", job_id=job.pk)

    if request.method == "POST":
        may_write(Certificate, request.user)
    return filled(
        request,
        ConfirmForm(sent(request)),
        do,
        template="scheduling/handover.html",
        job=job,
        here="jobs",
        missing=[(item, words.CLEARS[item.clears]) for item in handover_of(job)],
        certificates=Certificate.objects.visible_to(request.user)
        .filter(job=job)
        .defer("data")
        .order_by("-pk"),
        signed=SignOff.objects.visible_to(request.user).filter(job=job).order_by("pk"),
    )


@page("GET")
def certificate_pdf(request: PageRequest, certificate_id: UUID) -> HttpResponseBase:
    row = visible(Certificate.objects.all(), request.user, pk=certificate_id)
    if not row.made_at:
        raise Http404
    return paper_of(row)


@page("GET", "POST")
def owner_link(request: PageRequest, job_id: UUID) -> HttpResponse:
    """A private address for the owner, shown once."""
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(Link, request.user)
    url = ""
    if request.method == "POST":
        _link, secret = make_link(job=job, purpose="owner", at=request.now, lasts=OWNER_LINK_LASTS)
        url = f"{settings.PUBLIC_URL}/owner/{secret}/"
    shown = {"job": job, "url": url, "here": "jobs"}
    return render(request, "scheduling/owner_link.html", shown)


@page("GET", "POST")
def notice_link(request: PageRequest, visit_id: UUID) -> HttpResponse:
    """The private address of a visit's warning, to pass on by hand; shown once."""
    visit = editable(Visit.objects.select_related("job"), request.user, pk=visit_id)
    notice = visit.notices.filter(withdrawn_at=None).order_by("-pk").first()
    if notice is None:
        raise Http404
    url = notices.link_to(notice, at=request.now) if request.method == "POST" else ""
    shown = {"job": visit.job, "visit": visit, "url": url, "here": "jobs"}
    return render(request, "scheduling/owner_link.html", shown)


def _rooms_of(request: PageRequest, job: Job) -> list[Room]:
    return list(Room.objects.visible_to(request.user).filter(job=job).order_by("name", "pk"))


def _in_zone(local: datetime, zone: ZoneInfo) -> datetime:
    return local.replace(tzinfo=zone)
