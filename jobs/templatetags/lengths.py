"""Lengths in templates."""

from django import template

from jobs.units import System, shown_length

register = template.Library()


@register.filter
def length(mm: float, system: System) -> str:
    """A length in the units of the place."""
    return shown_length(mm, system)
