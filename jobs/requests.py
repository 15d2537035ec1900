"""A request of a logged-in member, for type checkers."""

from rest_framework.request import Request

from jobs.models import Member


class MemberRequest(Request):
    user: Member
