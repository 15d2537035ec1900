"""A page with one form: shown, taken, or shown again with what is wrong."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.errors import DomainError
from config.forms import PageForm
from config.tenancy import TenantModel
from jobs.requests import PageRequest


def sent(request: PageRequest) -> Any:
    """What a form is bound to: the body of a POST."""
    return request.POST if request.method == "POST" else None


def filled(
    request: PageRequest,
    form: PageForm,
    do: Callable[[dict[str, Any]], HttpResponse],
    *,
    template: str = "jobs/form.html",
    **shown: Any,
) -> HttpResponse:
    """Hand what was typed to `do`; a refusal is shown at its field, what was typed stays."""
    try:
        if request.method == "POST" and form.is_valid():
            return do(dict(form.cleaned_data))
    except DomainError as refused:
        form.refuse(refused)
    status = 422 if form.errors else 200
    return render(request, template, {"form": form, **shown}, status=status)


def choose(form: PageForm, name: str, rows: Iterable[TenantModel], *, empty: str = "") -> None:
    """Offer rows in a field of ids; `empty` is the words for none of them."""
    choices = [(str(row.pk), getattr(row, "name", str(row.pk))) for row in rows]
    form.fields[name].choices = [*([("", empty)] if empty else []), *choices]  # type: ignore[attr-defined]


def offer(form: PageForm, **choices: Mapping[str, Any]) -> None:
    """Offer codes with their words, by field."""
    for name, words in choices.items():
        form.fields[name].choices = list(words.items())  # type: ignore[attr-defined]


def picked(rows: Iterable[TenantModel], row_id: UUID | None) -> Any:
    """The chosen row; None for none."""
    return next((row for row in rows if row.pk == row_id), None)
