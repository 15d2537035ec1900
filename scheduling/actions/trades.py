"""Other trades that tell their own times: asked in by the office, by a link of their own."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction

from config.errors import DomainError
from config.tenancy import told
from jobs.actions.links import make_link, open_link
from jobs.models import Job, Link
from scheduling.actions.visits import change_visit
from scheduling.models import Visit, VisitingTrade

LINK_LASTS = timedelta(days=365)


class TradeThere(DomainError):
    slug = "already-there"


@transaction.atomic
def ask_in(*, job: Job, fields: Mapping[str, Any]) -> VisitingTrade:
    """Let a trade tell its times in a job; raises TradeThere."""
    there = TradeThere(
        "This company tells its times here already. Make it a new link.", pointer="#/company"
    )
    with told({"visitingtrade_once_per_job": there}):
        return VisitingTrade.objects.create(contractor_id=job.contractor_id, job=job, **fields)


def link_to(trade: VisitingTrade, *, at: datetime) -> str:
    """A new private address for a trade; those made before stay good."""
    _, secret = make_link(
        job=trade.job, purpose="trade", subject_id=trade.pk, at=at, lasts=LINK_LASTS
    )
    return f"{settings.PUBLIC_URL}/trade/{secret}/"


def trade_by_secret(secret: str, *, at: datetime) -> tuple[Link, VisitingTrade] | None:
    """The link and the trade that it opens; None alike for unknown, expired and revoked."""
    link = open_link(purpose="trade", secret=secret, at=at)
    if link is None or link.subject_id is None:
        return None
    rows = VisitingTrade.objects.visible_to(link).select_related("job__contractor")
    trade = rows.filter(pk=link.subject_id).first()
    return (link, trade) if trade else None


def call_off(*, visit: Visit, at: datetime) -> Visit:
    """A trade calls one of its own visits off; again changes nothing."""
    if visit.cancelled_at:
        return visit
    changed, _met = change_visit(
        visit=visit, version=visit.version, fields={"cancelled_at": at}, at=at
    )
    return changed
