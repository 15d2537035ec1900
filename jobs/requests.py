"""A request of a logged-in member, for type checkers."""

from django_htmx.middleware import HtmxDetails
from rest_framework.request import Request

from config.pages import TimedRequest
from jobs.models import Member


class MemberRequest(Request):
    user: Member


class PageRequest(TimedRequest):
    user: Member
    htmx: HtmxDetails
