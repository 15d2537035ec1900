"""The rules behind what a page shows, where it does not have the figures of the case."""

from collections.abc import Mapping, Sequence

from django import template

from scheduling import energize, exposure, holds, workload

HOW: Mapping[str, Sequence[str]] = {
    "date": energize.HOW,
    "exposure": exposure.HOW,
    "holds": holds.HOW,
    "plan": workload.HOW,
}
register = template.Library()


@register.simple_tag
def how(name: str) -> Sequence[str]:
    return HOW[name]
