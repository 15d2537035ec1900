"""The catalogue: what the contractor builds with, and the figures of each sheet."""

from typing import cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from config.tenancy import visible
from jobs import specification
from jobs.materials import KINDS
from jobs.models import Material
from jobs.requests import PageRequest
from jobs.units import System


@page("GET")
def catalogue(request: PageRequest) -> HttpResponse:
    rows = (
        Material.objects.visible_to(request.user)
        .filter(retired_at__isnull=True)
        .order_by("kind", "name", "pk")
    )
    shown = {"rows": rows[:2000], "all_kinds": KINDS, "here": "catalogue"}
    return render(request, "jobs/catalogue.html", shown)


@page("GET")
def material(request: PageRequest, material_id: UUID) -> HttpResponse:
    row = visible(Material.objects.all(), request.user, pk=material_id)
    given = {
        name: getattr(row, name) for name in ("element", "sensor", "control", "curing", "package")
    }
    figures = specification.lines(given, system=cast(System, request.user.contractor.units))
    return render(
        request, "jobs/material.html", {"row": row, "figures": figures, "here": "catalogue"}
    )
