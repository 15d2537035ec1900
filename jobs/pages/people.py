"""People: members of the contractor, asking somebody in, changing and ending a membership."""

from smtplib import SMTPException
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import PermissionDenied
from django.core.mail import EmailMessage
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import OFFICE
from jobs.actions import members
from jobs.forms.people import InviteForm, MemberForm
from jobs.models import Member
from jobs.pages.filling import filled, sent
from jobs.requests import PageRequest


@page("GET")
def people(request: PageRequest) -> HttpResponse:
    shown = request.user.contractor.members.filter(is_active=True).order_by("name", "pk")
    return render(request, "jobs/people.html", {"members": shown, "here": "people"})


@page("GET", "POST")
def invite(request: PageRequest) -> HttpResponse:
    """Ask somebody in: by mail, and by a link that is shown once to be passed on by hand."""
    _office(request)

    def do(given: dict[str, Any]) -> HttpResponse:
        member = members.invite(by=request.user, **given)
        return render(request, "jobs/invited.html", _asked(request, member), status=201)

    form = InviteForm(sent(request), initial={"language": request.user.contractor.language})
    lead = _("They choose a password of their own. You give nobody yours.")
    title = _("Ask somebody in")
    return filled(request, form, do, title=title, act=_("Ask them"), lead=lead, here="people")


@page("GET", "POST")
def member_edit(request: PageRequest, member_id: UUID) -> HttpResponse:
    member = _member(request, member_id)

    def do(given: dict[str, Any]) -> HttpResponse:
        members.change_member(by=request.user, member=member, **given)
        return redirect("people")

    kept = {name: getattr(member, name) for name in MemberForm.base_fields}
    form = MemberForm(sent(request), initial=kept)
    return filled(
        request,
        form,
        do,
        template="jobs/member.html",
        member=member,
        title=member.name,
        act=_("Keep these"),
        here="people",
    )


@page("POST")
def invite_again(request: PageRequest, member_id: UUID) -> HttpResponse:
    return render(request, "jobs/invited.html", _asked(request, _member(request, member_id)))


@page("GET", "POST")
def member_end(request: PageRequest, member_id: UUID) -> HttpResponse:
    member = _member(request, member_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        members.end_membership(by=request.user, member=member, at=request.now)
        gone = _("%(name)s is not let in any more.") % {"name": member.name}
        messages.success(request, gone)
        return redirect("people")

    lead = _(
        "They are logged out everywhere, and their phones are not let in any more. What they "
        "measured and signed stays under their name."
    )
    title = _("Let %(name)s in no more") % {"name": member.name}
    return filled(
        request,
        ConfirmForm(sent(request)),
        do,
        title=title,
        act=_("Let them in no more"),
        lead=lead,
        here="people",
    )


def _office(request: PageRequest) -> None:
    if request.user.role != OFFICE:
        raise PermissionDenied


def _member(request: PageRequest, member_id: UUID) -> Member:
    member = request.user.contractor.members.filter(pk=member_id, is_active=True).first()
    if member is None:
        raise Http404
    _office(request)
    return member


def _asked(request: PageRequest, member: Member) -> dict[str, Any]:
    """Mail the link, and the link to be shown; whether the mail went is told."""
    uid = urlsafe_base64_encode(force_bytes(member.pk))
    token = default_token_generator.make_token(member)
    url = request.build_absolute_uri(reverse("password-set", args=[uid, token]))
    shown = {"member": member, "url": url, "contractor": request.user.contractor}
    with translation.override(member.language):
        mail = EmailMessage(
            subject=" ".join(render_to_string("jobs/invite_subject.txt", shown).split()),
            body=render_to_string("jobs/invite_mail.txt", shown),
            to=[member.email],
        )
    try:
        mailed = bool(mail.send())
    except (OSError, SMTPException):
        mailed = False  # the page says so, and shows the link to be passed on by hand
    return {**shown, "mailed": mailed, "here": "people"}
