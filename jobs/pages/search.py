"""Search across all by anything that people remember: serial, street, name, phone, number."""

import re

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from jobs.models import Customer, Element, Job
from jobs.requests import PageRequest

MOST = 20
LONGEST = 80


@page("GET")
def search(request: PageRequest) -> HttpResponse:
    q = request.GET.get("q", "").strip()[:LONGEST]
    shown: dict[str, object] = {"q": q}
    if q:
        jobs = Job.objects.visible_to(request.user)
        customers = Customer.objects.visible_to(request.user)
        elements = Element.objects.visible_to(request.user)
        matching = Q(street__icontains=q) | Q(title__icontains=q) | Q(customer__name__icontains=q)
        if re.fullmatch(r"#?\d{1,9}", q):
            matching |= Q(number=int(q.removeprefix("#")))
        reachable = Q(name__icontains=q) | Q(email__icontains=q) | Q(phone__icontains=q)
        shown |= {
            "jobs": jobs.filter(matching).select_related("customer").order_by("-pk")[:MOST],
            "customers": customers.filter(reachable).order_by("-pk")[:MOST],
            "elements": elements.filter(serial__icontains=q)
            .select_related("room__job", "material")
            .order_by("-pk")[:MOST],
        }
    return render(request, "jobs/search.html", shown)
