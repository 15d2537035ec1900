"""What rules say, in the language of the page."""

from django.utils.translation import gettext

from config.sentence import Sentence


def in_language(text: str) -> str:
    """A rule's sentence as the reader reads it; what has no translation stays as it is."""
    if not isinstance(text, Sentence):
        return gettext(text) if text else text
    figures = {
        name: in_language(figure) if isinstance(figure, Sentence) else figure
        for name, figure in text.figures.items()
    }
    return gettext(text.template).format(**figures)
