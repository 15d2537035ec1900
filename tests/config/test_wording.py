"""Sentences of rules in another language, also those that were stored as English."""

import pytest
from django.utils.translation import override

from config.sentence import Sentence
from config.wording import heard, in_language

LAYER = Sentence("layer {number}", number=2)
WHY = Sentence("{layer} governs the date, by its drying.", layer=LAYER)


@pytest.mark.parametrize("said", [WHY, str(WHY)], ids=["new", "stored"])
def test_a_sentence_and_its_figures_are_said_in_spanish(said):
    with override("es"):
        assert in_language(said) == "La fecha la decide capa 2, por su secado."
    with override("en"):
        assert in_language(said) == "layer 2 governs the date, by its drying."


def test_of_sentences_that_read_so_the_one_with_most_words_of_its_own_is_heard():
    assert heard("layer 2 governs the date, by its drying.").template == WHY.template
    assert heard("layer 2 governs the date.").template == "{layer} governs the date."


def test_what_nobody_says_stays_as_it_is():
    with override("es"):
        assert in_language("Ada typed {this} herself.") == "Ada typed {this} herself."
