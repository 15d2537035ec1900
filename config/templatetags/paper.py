"""Marks on paper: coloured by attribute, since a PDF's drawings know no stylesheet."""

from functools import cache

from django import template
from django.template.loader import render_to_string
from django.utils.html import escape
from django.utils.safestring import SafeString

from config.marks import MARKS

register = template.Library()
HERE = "(said)"  # where the sentence goes

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


@cache
def _inked(name: str) -> str:
    drawn = render_to_string("parts/_mark.html", {"name": name, "title": HERE}).strip()
    return drawn.replace("currentColor", INKS[MARKS[name].tone])
