"""A request of a logged-in member, for type checkers."""

from datetime import datetime

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails
from rest_framework.request import Request

from jobs.models import Member


class MemberRequest(Request):
    user: Member


class PageRequest(HttpRequest):
    """A request of a page; `now` is when it came."""

    user: Member
    htmx: HtmxDetails
    now: datetime
