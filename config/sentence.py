"""Sentences of rules that can be said in another language: their English, and what is in them."""

from collections.abc import Iterable
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


def word(text: str) -> Sentence:
    """A word that is a sentence's figure and has a translation of its own."""
    return Sentence(text.replace("{", "{{").replace("}", "}}"))


def joined(parts: Iterable[str], by: str) -> Sentence:
    """Parts that each are said in the reader's language, one behind the other."""
    figures = {f"part{number}": part for number, part in enumerate(parts)}
    return Sentence(by.join(f"{{{name}}}" for name in figures), **figures)
