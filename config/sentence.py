"""Sentences of rules that can be said in another language: their English, and what is in them."""

from typing import Self


class Sentence(str):
    """A sentence made of a template and figures; it is its English.

    `template` has its figures in braces. A figure that is itself a Sentence is translated too.
    """

    template: str
    figures: dict[str, object]

    def __new__(cls, template: str, **figures: object) -> Self:
        made = super().__new__(cls, template.format(**figures))
        made.template = template
        made.figures = figures
        return made
