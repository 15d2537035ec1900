"""Webhooks: what happens here, told to systems of others; rows first, then sent until taken."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import translation

from config import outbound
from config.celery import wake
from config.errors import DomainError
from config.etags import change_row, require_version
from config.outbound import AddressNotOutside, Answer
from config.retrying import back_off
from config.tenancy import told
from jobs import webhook as rules
from jobs.models import Delivery, DeliveryAttempt, Member, Webhook

DELIVER = "jobs.tasks.deliver"
# More at once are left to beat, which comes every few seconds.
MOST_WAKES = 20
MOST_WEBHOOKS = 20
MOST_FAILURES = 1000


class WebhookThere(DomainError):
    slug = "already-there"


class TooManyWebhooks(DomainError):
    slug = "not-acceptable"


class WebhookOff(DomainError):
    slug = "webhook-off"


def announce(
    contractor_id: UUID, events: Sequence[tuple[str, Mapping[str, Any]]], *, at: datetime
) -> None:
    """Have events sent to whoever of the contractor's systems wants them.

    Called within the transaction of what happened: either both are there or neither.
    """
    hooks = Webhook.objects.filter(
        contractor_id=contractor_id,
        disabled_at=None,
        removed_at=None,
        events__overlap=sorted({event for event, _data in events}),
    )
    rows = [
        Delivery(
            contractor_id=contractor_id,
            webhook=hook,
            event=event,
            body=rules.payload(event, data, at=at),
            made_at=at,
            send_after=at,
        )
        for hook in hooks.order_by("pk")
        for event, data in events
        if event in hook.events
    ]
    Delivery.objects.bulk_create(rows)
    for row in rows[:MOST_WAKES]:
        wake(DELIVER, row.pk)


@transaction.atomic
def add_webhook(
    *, by: Member, url: str, events: Sequence[str], at: datetime
) -> tuple[Webhook, str]:
    """Send `events` to `url` from now on; returns the secret, which is shown only now.

    Raises AddressNotOutside, WebhookThere or TooManyWebhooks.
    """
    outbound.checked(url, private=settings.WEBHOOKS_TO_PRIVATE)
    if Webhook.objects.visible_to(by).filter(removed_at=None).count() >= MOST_WEBHOOKS:
        raise TooManyWebhooks(f"There are {MOST_WEBHOOKS} already. Remove one first.")
    with told({"webhook_once_per_url": _there()}):
        row = Webhook.objects.create(
            contractor_id=by.contractor_id,
            url=url,
            events=_in_order(events),
            made_at=at,
            made_by=by,
        )
    return row, secret(row)


def change_webhook(*, row: Webhook, version: int, fields: Mapping[str, Any]) -> Webhook:
    """Change where to, or what; raises Stale, AddressNotOutside or WebhookThere."""
    changes = dict(fields)
    if "url" in changes:
        outbound.checked(changes["url"], private=settings.WEBHOOKS_TO_PRIVATE)
    if "events" in changes:
        changes["events"] = _in_order(changes["events"])
    with told({"webhook_once_per_url": _there()}):
        return change_row(row, version=version, fields=changes)


def remove_webhook(*, row: Webhook, version: int, at: datetime) -> Webhook:
    """Send nothing more to it; its log stays. Raises Stale."""
    return change_row(row, version=version, fields={"removed_at": at})


@transaction.atomic
def rotate_secret(*, row: Webhook, version: int, at: datetime) -> tuple[Webhook, str]:
    """A new secret, shown only now; the one before it signs too for a day. Raises Stale."""
    locked = Webhook.objects.select_for_update().get(pk=row.pk)
    require_version(locked, version)
    fields = {"generation": locked.generation + 1, "rotated_at": at}
    changed = change_row(locked, version=version, fields=fields)
    return changed, secret(changed)


@transaction.atomic
def switch_on(*, row: Webhook, at: datetime) -> Webhook:
    """Send again to one that was given up, and what it missed since it failed."""
    Webhook.objects.filter(pk=row.pk).update(
        disabled_at=None, told_at=None, failing_since=None, failures=0, quiet_until=None
    )
    Delivery.objects.filter(webhook=row, settled_at=None).update(send_after=at)
    row.refresh_from_db()
    return row


@transaction.atomic
def try_webhook(*, row: Webhook, at: datetime) -> Delivery:
    """Send it an event that says nothing; raises WebhookOff."""
    _require_on(row)
    delivery = Delivery.objects.create(
        contractor_id=row.contractor_id,
        webhook=row,
        event=rules.TRIAL,
        body=rules.payload(rules.TRIAL, {}, at=at),
        made_at=at,
        send_after=at,
    )
    wake(DELIVER, delivery.pk)
    return delivery


@transaction.atomic
def replay(*, rows: Sequence[Delivery], at: datetime) -> int:
    """Send deliveries again, under the same ids and with the same bodies; returns how many.

    Raises WebhookOff.
    """
    for row in rows:
        _require_on(row.webhook)
    ids = [row.pk for row in rows]
    count = Delivery.objects.filter(pk__in=ids).update(
        settled_at=None, outcome="", attempts=0, claimed_at=None, send_after=at
    )
    for row_id in ids[:MOST_WAKES]:
        wake(DELIVER, row_id)
    return count


def deliver(*, delivery_id: UUID, at: datetime) -> bool:
    """Send one due delivery; True if the receiver took it.

    A worker that dies after sending leaves it claimed: it is sent again under the same id.
    """
    if not Delivery.objects.claim(delivery_id, at=at):
        return False
    row = Delivery.objects.select_related("webhook").get(pk=delivery_id)
    answer = _send(row, at)
    _note(row, answer, at)
    return answer.taken


def forget_old(*, at: datetime) -> int:
    """Drop what was settled long ago, log and all; returns how many deliveries that were."""
    old = Delivery.objects.filter(settled_at__lt=at - rules.LOG_LASTS)
    return old.delete()[1].get("jobs.Delivery", 0)


def secret(row: Webhook, *, generation: int | None = None) -> str:
    key = settings.SECRET_KEY.encode()
    return rules.secret_of(key, row.pk, generation or row.generation)


@transaction.atomic
def tell_office(*, at: datetime) -> int:
    """E-mail the office about webhooks that were given up, once each; returns how many."""
    rows = (
        Webhook.objects.select_for_update(of=("self",), skip_locked=True)
        .filter(disabled_at__isnull=False, removed_at=None, told_at=None)
        .select_related("contractor")
    )
    done = 0
    for row in rows.order_by("pk")[:100]:
        office = row.contractor.members.filter(role="office", is_active=True).order_by("pk")
        emails = list(office.values_list("email", flat=True))
        with translation.override(row.contractor.language):
            said = {"row": row, "days": rules.DISABLE_AFTER.days, "home": settings.PUBLIC_URL}
            subject = " ".join(render_to_string("jobs/webhook_off_subject.txt", said).split())
            text = render_to_string("jobs/webhook_off.txt", said)
        try:
            EmailMessage(subject, text, to=emails).send()
        except OSError:  # smtplib's errors are OSErrors too; beat comes again
            continue
        Webhook.objects.filter(pk=row.pk).update(told_at=at)
        done += 1
    return done


def _send(row: Delivery, at: datetime) -> Answer:
    hook = row.webhook
    secrets = [secret(hook)]
    if hook.rotated_at and at - hook.rotated_at < rules.BOTH_SECRETS:
        secrets.append(secret(hook, generation=hook.generation - 1))
    headers = rules.headers(row.body, message_id=row.pk, secrets=secrets, at=at)
    try:
        return outbound.post(
            hook.url, row.body.encode(), headers, private=settings.WEBHOOKS_TO_PRIVATE
        )
    except AddressNotOutside as refused:
        return Answer(took_ms=0, error=refused.detail[:200])


@transaction.atomic
def _note(row: Delivery, answer: Answer, at: datetime) -> None:
    """Write into the log what came of it, and when it is tried again, if it is."""
    hook = Webhook.objects.select_for_update().get(pk=row.webhook_id)
    DeliveryAttempt.objects.create(
        contractor_id=row.contractor_id,
        delivery=row,
        at=at,
        took_ms=answer.took_ms,
        status=answer.status,
        error=answer.error,
        answer=answer.text.replace("\0", "")[:500],
    )
    attempts = row.attempts + 1
    mine = Delivery.objects.filter(pk=row.pk)
    if answer.taken:
        mine.update(claimed_at=None, attempts=attempts, settled_at=at, outcome="delivered")
        hook.failures, hook.failing_since, hook.quiet_until = 0, None, None
    else:
        if attempts >= rules.MOST_ATTEMPTS:
            mine.update(claimed_at=None, attempts=attempts, settled_at=at, outcome="given-up")
        else:
            again = at + back_off(attempts)
            mine.update(claimed_at=None, attempts=attempts, send_after=again)
        hook.failures = min(hook.failures + 1, MOST_FAILURES)
        hook.failing_since = hook.failing_since or at
        if answer.status is None or answer.status in rules.LATER:
            hook.quiet_until = at + back_off(hook.failures)
        if at - hook.failing_since >= rules.DISABLE_AFTER:
            hook.disabled_at = at
    hook.save(update_fields=["failures", "failing_since", "quiet_until", "disabled_at"])


def _require_on(row: Webhook) -> None:
    if row.disabled_at or row.removed_at:
        raise WebhookOff("Nothing is sent to this address now. Switch it on first.")


def _there() -> WebhookThere:
    return WebhookThere(
        "Events are sent to this address already. Change that one.", pointer="#/url"
    )


def _in_order(events: Sequence[str]) -> list[str]:
    return [event for event in rules.EVENTS if event in events]
