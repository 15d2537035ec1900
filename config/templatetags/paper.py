"""Marks on paper: coloured by attribute, since a PDF's drawings know no stylesheet."""

from functools import cache

from django import template
from django.template.loader import render_to_string
from django.utils.html import escape
from django.utils.safestring import SafeString

from config.marks import MARKS

register = template.Library()
HERE = "(said)"  # where the sentence goes

# ISO 7010 W001, the general warning sign, drawn by ourselves, in the yellow of ISO 3864.
SIGN = SafeString(
    '<svg class="sign" viewBox="0 0 38 34" role="img"><title>General warning sign</title>'
    '<path d="M19 4 35 31H3z" fill="none" stroke="#F9A800" stroke-width="5" '
    'stroke-linejoin="round"/><path d="M19 4 35 31H3z" fill="#F9A800" stroke="#15191C" '
    'stroke-width="2.2" stroke-linejoin="round"/><path d="M17 12.5h4l-.7 9.6h-2.6z" '
    'fill="#15191C"/><circle cx="19" cy="25.6" r="2.1" fill="#15191C"/></svg>'
)

# The light tones of the stylesheet.
INKS = {
    "ok": "#00936C",
    "stop": "#8D161D",
    "ask": "#AC6810",
    "wet": "#1B58BA",
    "set": "#421159",
    "off": "#15191C",
}


@register.simple_tag
def paper_mark(name: str, said: str) -> SafeString:
    """A mark in its tone; `said` is the sentence that stands for it when it is read aloud."""
    return SafeString(_inked(name).replace(HERE, escape(said)))


@register.simple_tag
def warning_sign() -> SafeString:
    return SIGN


@cache
def _inked(name: str) -> str:
    drawn = render_to_string("parts/_mark.html", {"name": name, "title": HERE}).strip()
    return drawn.replace("currentColor", INKS[MARKS[name].tone])
