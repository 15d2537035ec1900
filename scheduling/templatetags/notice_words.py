"""The words of exposures and activities, and local times, for notices in any language."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django import template
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

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
