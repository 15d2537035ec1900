"""What rules say, in the language of the page."""

import re
from functools import cache, lru_cache

from django.utils.translation import get_language, gettext
from django.utils.translation.trans_real import translation

from config.sentence import Sentence

HOLE = re.compile(r"\{(\w+)\}")


def in_language(text: str) -> str:
    """A rule's sentence as the reader reads it; what has no translation stays as it is.

    A sentence that was stored, or put together, is plain English by now: it is heard again.
    """
    if not text or get_language() == "en":
        return text
    if not isinstance(text, Sentence):
        if (said := heard(text)) is None:
            return text
        text = said
    figures = {
        name: in_language(figure) if isinstance(figure, Sentence) else figure
        for name, figure in text.figures.items()
    }
    return gettext(text.template).format(**figures)


@lru_cache(maxsize=4096)
def heard(text: str) -> Sentence | None:
    """The sentence that reads `text`: of the translated ones that with the most words of its own.

    Its figures are heard in turn. None where no sentence reads so.
    """
    plain, templates = _known()
    if text in plain:
        return Sentence(text.replace("{", "{{").replace("}", "}}"))
    for template, piece, pattern in templates:
        if piece in text and (found := pattern.fullmatch(text)):
            figures = {name: heard(figure) or figure for name, figure in found.groupdict().items()}
            return Sentence(template, **figures)
    return None


@cache
def _known() -> tuple[frozenset[str], list[tuple[str, str, re.Pattern[str]]]]:
    """What has a translation: sentences without figures; and templates, wordiest first, with their
    longest piece of own words and what finds the figures."""
    # As Django's own view of a catalogue reads it; plurals are pairs there.
    catalogue = translation("es")._catalog.items()  # type: ignore[attr-defined]
    texts = {text for text, _ in catalogue if isinstance(text, str)}
    holed = {text for text in texts if HOLE.search(text)}
    templates = [text for text in holed if re.search(r"[^\W\d]", HOLE.sub("", text))]
    templates.sort(key=lambda text: (-len(HOLE.sub("", text)), text))
    return frozenset(texts - holed), [
        (text, max(HOLE.split(text)[::2], key=len), _finder(text)) for text in templates
    ]


def _finder(template: str) -> re.Pattern[str]:
    seen: set[str] = set()
    parts = []
    for at, part in enumerate(HOLE.split(template)):
        if at % 2 == 0:
            parts.append(re.escape(part))
        else:
            parts.append(f"(?P={part})" if part in seen else f"(?P<{part}>.*?)")
            seen.add(part)
    return re.compile("".join(parts), re.DOTALL)
