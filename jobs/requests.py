"""Requests of logged-in members for type checkers, and an answer that API and pages share."""

from django.http import HttpResponse
from django_htmx.middleware import HtmxDetails
from rest_framework.request import Request

from config.pages import TimedRequest
from jobs.models import Member, RoomPhoto


class MemberRequest(Request):
    user: Member


class PageRequest(TimedRequest):
    user: Member
    htmx: HtmxDetails


def jpeg_answer(row: RoomPhoto) -> HttpResponse:
    """The picture for whoever may see its room; it never changes, so their browser keeps it."""
    headers = {
        "Cache-Control": "private, max-age=31536000, immutable",
        "Content-Disposition": f"inline; filename={row.digest[:12]}.jpg",
        "X-Content-Type-Options": "nosniff",
    }
    return HttpResponse(bytes(row.jpeg), content_type="image/jpeg", headers=headers)
