"""People: members of the contractor, and the way to its customers."""

from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from jobs.requests import PageRequest


@page("GET")
def people(request: PageRequest) -> HttpResponse:
    members = request.user.contractor.members.filter(is_active=True).order_by("name", "pk")
    return render(request, "jobs/people.html", {"members": members, "here": "people"})
