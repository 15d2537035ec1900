"""The words of exposures, activities and reasons, and local times, for messages in any language."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from config.wording import in_language

register = template.Library()

EXPOSURES = {
    "none": _("No cable lies here yet."),
    "bare": _("Keep off this floor. A heating cable lies bare."),
    "wet": _("Keep off this floor. Fresh mortar over a heating cable."),
    "embedded": _("Nothing may go into this floor. A heating cable lies in it."),
}
ACTIVITIES = {
    "walking": _("walking on it"),
    "carrying": _("carrying loads over it"),
    "wet-work": _("wet work"),
    "cleaning-joints": _("cleaning out joints"),
    "fastening": _("fastening"),
    "cutting": _("cutting"),
    "drilling": _("drilling"),
    "heating-room": _("heating the room"),
    "switching-on": _("switching the floor on"),
}


@register.filter
def exposure_words(state: str) -> str:
    return str(EXPOSURES[state])


@register.filter
def activity_words(activity: str) -> str:
    return str(ACTIVITIES[activity])


@register.filter
def local_time(at: str, zone: str) -> str:
    """An RFC 3339 time in the job's zone, as people write it there."""
    local = datetime.fromisoformat(at).astimezone(ZoneInfo(zone))
    return date_format(local, "D j N, H:i", use_l10n=False)


@register.filter
def local_day(at: datetime, zone: str) -> str:
    """An instant as the day that it is in the job's zone, in words."""
    return date_format(at.astimezone(ZoneInfo(zone)).date(), gettext("l j F Y"))


@register.filter
def reason_words(reason: Sequence[Any]) -> str:
    """A reason as `moves` stores it, `[template, figures]`; the text of a hold is said too."""
    template, figures = reason
    said = {name: in_language(text) if name == "text" else text for name, text in figures.items()}
    return gettext(template).format(**said)
