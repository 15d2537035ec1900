"""Search across all by anything that people remember: serial, street, name, phone, number."""

import re

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from jobs.models import Customer, Digits, Element, Job
from jobs.requests import PageRequest

MOST = 20
LONGEST = 80
LEAST_DIGITS = 4  # of a phone number; fewer are in too many


@page("GET")
def search(request: PageRequest) -> HttpResponse:
    q = request.GET.get("q", "").replace("\0", "").strip()[:LONGEST]
    shown: dict[str, object] = {"q": q}
    if q:
        jobs = Job.objects.visible_to(request.user)
        customers = Customer.objects.visible_to(request.user)
        elements = Element.objects.visible_to(request.user)
        reachable = Q(name__icontains=q) | Q(email__icontains=q)
        if len(digits := re.sub(r"[\s+()/.-]", "", q)) >= LEAST_DIGITS and digits.isdecimal():
            dialled = customers.alias(digits=Digits("phone")).filter(digits__contains=digits)
            reachable |= Q(pk__in=dialled.values("pk"))
        found = list(customers.filter(reachable).order_by("-pk")[:MOST])
        # By the customers just found, not by a join: each part is served by its own index.
        matching = Q(street__icontains=q) | Q(title__icontains=q) | Q(customer__in=found)
        if re.fullmatch(r"#?\d{1,9}", q):
            matching |= Q(number=int(q.removeprefix("#")))
        shown |= {
            "jobs": jobs.filter(matching).select_related("customer").order_by("-pk")[:MOST],
            "customers": found,
            "elements": elements.filter(serial__icontains=q)
            .select_related("room__job", "material")
            .order_by("-pk")[:MOST],
        }
    return render(request, "jobs/search.html", shown)
