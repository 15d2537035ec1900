"""Links by which crews and the office follow their calendar."""

from datetime import datetime, timedelta

from django.conf import settings

from config.tenancy import Asker
from jobs.actions.links import make_link
from jobs.models import Link
from scheduling.models import Crew

LINK_LASTS = timedelta(days=730)  # a calendar is set up once and then forgotten


def make_feed(
    *, by: Asker, crew: Crew | None, at: datetime, lasts: timedelta = LINK_LASTS
) -> tuple[Link, str]:
    """A link to a crew's calendar, or to all of the contractor's; its address is known only now."""
    link, secret = make_link(
        job=None,
        contractor_id=by.contractor_id,
        purpose="feed",
        subject_id=crew.pk if crew else None,
        at=at,
        lasts=lasts,
    )
    return link, f"{settings.PUBLIC_URL}/feed/{secret}.ics"
