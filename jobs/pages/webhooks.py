"""Other systems: where events are sent to, what came of it, and sending it again."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from config.pages import newest, page
from config.tenancy import editable, may_write
from jobs.actions import webhooks
from jobs.forms.people import WebhookForm
from jobs.models import Delivery, DeliveryAttempt, Webhook
from jobs.pages.filling import filled, offer, sent
from jobs.requests import PageRequest
from jobs.webhook import TRIAL

EVENTS = {
    "check.recorded": gettext_lazy("A check was recorded"),
    "verdict.failed": gettext_lazy("A check failed"),
    "date.moved": gettext_lazy("The likely day of heat moved"),
    "booking.changed": gettext_lazy("A crew’s half-day was booked, moved or called off"),
    "visit.changed": gettext_lazy("Another trade’s visit was planned, moved or called off"),
    "notice.acknowledged": gettext_lazy("Another trade has read a warning"),
    "certificate.issued": gettext_lazy("A certificate was issued"),
    "certificate.voided": gettext_lazy("A certificate was made void"),
    TRIAL: gettext_lazy("A trial"),
}


@page("GET", "POST")
def webhook_list(request: PageRequest) -> HttpResponse:
    may_write(Webhook, request.user)
    rows = list(
        Webhook.objects.visible_to(request.user).filter(removed_at=None).order_by("url", "pk")
    )
    form = WebhookForm(sent(request))
    offer(form, events={name: words for name, words in EVENTS.items() if name != TRIAL})

    def do(given: dict[str, Any]) -> HttpResponse:
        row, secret = webhooks.add_webhook(by=request.user, at=request.now, **given)
        return _secret(request, row, secret)

    return filled(request, form, do, template="jobs/webhooks.html", rows=rows, here="people")


@page("GET", "POST")
def webhook_page(request: PageRequest, webhook_id: UUID) -> HttpResponse:
    """One receiver and its log; its buttons say which deed is meant."""
    row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
    if request.method == "POST":
        return _do(request, row)
    deliveries, after = newest(
        Delivery.objects.visible_to(request.user).filter(webhook=row), request
    )
    context = {
        "row": row,
        "told": [EVENTS[event] for event in row.events],
        "deliveries": [(each, EVENTS[each.event]) for each in deliveries],
        "after": after,
        "zone": request.user.contractor.time_zone,
        "here": "people",
    }
    return render(request, "jobs/webhook.html", context)


def _do(request: PageRequest, row: Webhook) -> HttpResponse:
    at, deed = request.now, request.POST.get("deed", "")
    if deed == "secret":
        changed, secret = webhooks.rotate_secret(row=row, version=row.version, at=at)
        return _secret(request, changed, secret)
    if deed == "remove":
        webhooks.remove_webhook(row=row, version=row.version, at=at)
        return redirect("webhooks")
    if deed == "on":
        webhooks.switch_on(row=row, at=at)
    elif deed == "try" and not row.disabled_at:
        webhooks.try_webhook(row=row, at=at)
    return redirect("webhook", webhook_id=row.pk)


@page("GET", "POST")
def delivery_page(request: PageRequest, delivery_id: UUID) -> HttpResponse:
    """One delivery: what was sent, every try, and sending it again."""
    row = editable(Delivery.objects.select_related("webhook"), request.user, pk=delivery_id)
    standing = row.webhook.removed_at is None and row.webhook.disabled_at is None
    if request.method == "POST":
        if standing:
            webhooks.replay(rows=[row], at=request.now)
        return redirect("delivery", delivery_id=row.pk)
    tries = DeliveryAttempt.objects.visible_to(request.user).filter(delivery=row)
    context = {
        "row": row,
        "told": EVENTS[row.event],
        "tries": tries.order_by("-pk")[:100],
        "standing": standing,
        "zone": request.user.contractor.time_zone,
        "here": "people",
    }
    return render(request, "jobs/delivery.html", context)


def _secret(request: PageRequest, row: Webhook, secret: str) -> HttpResponse:
    shown = {"row": row, "secret": secret, "title": _("The secret"), "here": "people"}
    return render(request, "jobs/webhook_secret.html", shown)
