"""What rules say, in the language of the page and the units of the place."""

from typing import cast

from config.wording import in_language
from jobs.units import System, in_units


def in_words(text: str, system: str) -> str:
    return in_units(in_language(text), cast(System, system))
