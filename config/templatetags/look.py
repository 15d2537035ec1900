"""What templates say in our own way: marks, days, half-days, numbers with units."""

from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.template.defaultfilters import capfirst
from django.template.loader import render_to_string
from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext

from config.marks import MARKS
from config.wording import in_language

register = template.Library()
NO_BREAK = "\N{NO-BREAK SPACE}"


@cache
def drawn(name: str) -> SafeString:
    """A mark as it stands beside its word; `parts/_mark.html` is the one place that draws it."""
    return SafeString(render_to_string("parts/_mark.html", {"name": MARKS[name] and name}).strip())


@register.simple_tag
def mark(name: str) -> SafeString:
    return drawn(name)


@register.simple_tag
def state(name: str, word: str = "") -> SafeString:
    """A mark with its word in its tone."""
    known = MARKS[name]
    return format_html(
        '<span class="state {}">{}{}</span>', known.tone, drawn(name), word or known.word
    )


@register.simple_tag(takes_context=True)
def on(context: dict[str, Any], value: date | datetime | None, zone: str = "UTC") -> SafeString:
    """A day as `Tue 1 Dec`, with the year where it is not this one; today as `today`."""
    if value is None:
        return SafeString("")
    return format_html(
        '<time datetime="{}">{}</time>', value.isoformat(), day_words(value, zone, context)
    )


@register.simple_tag(takes_context=True)
def at(context: dict[str, Any], value: datetime | None, zone: str = "UTC") -> SafeString:
    """An instant as `Tue 1 Dec, 14:30` in the place's own zone."""
    if value is None:
        return SafeString("")
    local = value.astimezone(ZoneInfo(zone))
    words = f"{day_words(value, zone, context)}, {clock(local)}"
    return format_html('<time datetime="{}">{}</time>', local.isoformat(), words)


@register.simple_tag(takes_context=True)
def between(
    context: dict[str, Any], starts: datetime, ends: datetime, zone: str = "UTC"
) -> SafeString:
    """A stretch of time as `Tue 1 Dec, 14:30 – 16:00`, the second day only where it is another."""
    first, last = (value.astimezone(ZoneInfo(zone)) for value in (starts, ends))
    begun = at(context, starts, zone)
    if first.date() != last.date():
        return format_html("{} – {}", begun, at(context, ends, zone))
    return format_html('{} – <time datetime="{}">{}</time>', begun, last.isoformat(), clock(last))


def day_words(value: date | datetime, zone: str, context: dict[str, Any]) -> str:
    now: datetime = context["request"].now
    today = now.astimezone(ZoneInfo(zone)).date()
    day = value.astimezone(ZoneInfo(zone)).date() if isinstance(value, datetime) else value
    if day == today:
        return gettext("today")
    shown = date_format(day, gettext("D j M") if day.year == today.year else gettext("D j M Y"))
    return shown.replace(" ", NO_BREAK)


def clock(local: datetime) -> str:
    """The time of day: by twelve hours in English, by twenty-four in Spanish."""
    return date_format(local, gettext("g:i a")).replace("a.m.", "am").replace("p.m.", "pm")


@register.filter
def figure(value: float | None, decimals: int = 0) -> str:
    """A number with no-break thousands and a real minus sign."""
    if value is None:
        return "–"
    return f"{value:,.{decimals}f}".replace(",", NO_BREAK).replace("-", "−")


@register.filter
def exact(value: float) -> str:
    """A number with the digits that it has, to a millionth, and no more."""
    return figure(value, 6).rstrip("0").rstrip(".")


@register.filter
def said(text: str) -> str:
    """A rule's sentence in the reader's language."""
    return in_language(text)


@register.filter
def lookup(table: dict[Any, Any], key: Any) -> Any:
    return table.get(key)


@register.simple_tag(takes_context=True)
def long_day(
    context: dict[str, Any], value: datetime, zone: str, *, begins: bool = False
) -> SafeString:
    """An instant as `Tuesday 1 December` in the place's own zone, with a year that is not this.

    `begins` is for where a sentence or heading begins with it: Spanish writes days small.
    """
    now: datetime = context["request"].now
    day = value.astimezone(ZoneInfo(zone)).date()
    this_year = day.year == now.astimezone(ZoneInfo(zone)).year
    weekday, rest = date_format(day, gettext("l j F") if this_year else gettext("l j F Y")).split(
        " ", 1
    )
    if get_language() != "en":
        weekday = capfirst(weekday) if begins else weekday.lower()
    shown = f"{weekday} {rest.replace(' ', NO_BREAK)}"  # a long one may break after its weekday
    return format_html('<time datetime="{}">{}</time>', day.isoformat(), shown)


@register.simple_tag
def degrees(celsius: float | None, units: str = "metric") -> str:
    """A temperature in the units of the place."""
    if celsius is None:
        return "–"
    if units == "imperial":
        return f"{figure(celsius * 9 / 5 + 32)}{NO_BREAK}°F"
    return f"{figure(celsius, 0 if celsius == round(celsius) else 1)}{NO_BREAK}°C"


@register.inclusion_tag("parts/_say.html")
def say_outcome(outcome: str, because: str) -> dict[str, Any]:
    """A verdict as a statement."""
    known = MARKS[outcome]
    return {
        "tone": known.tone,
        "name": outcome,
        "head": known.word,
        "text": because,
        "level": 1,
    }


@register.simple_tag
def outcome_templates() -> SafeString:
    """A template element for each verdict that a phone may show by itself."""
    return format_html_join(
        "\n",
        '<template id="outcome-{}" data-tone="{}" data-word="{}">{}</template>',
        (
            (name, MARKS[name].tone, MARKS[name].word, drawn(name))
            for name in ("pass", "undecided", "fail", "unsent")
        ),
    )
