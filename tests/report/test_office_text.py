"""The widths of office letters are those published, and lines are counted as a word processor breaks them."""

import pytest
from pypdf._codecs.core_font_metrics import CORE_FONT_METRICS

from outcomes.report.office_text import MARGIN, longest_word, office_lines, office_width

SENTENCE = "Lids of one patient are not independent: every interval allows for it."


@pytest.mark.parametrize("weight, core", [("regular", "Helvetica"), ("bold", "Helvetica-Bold")])
def test_widths_are_those_of_the_metrics_that_adobe_published_for_helvetica(weight, core):
    # Adobe Core 14 AFM files, as carried by pypdf. That Arial has the same widths: common practice, no source.
    for letter, width in CORE_FONT_METRICS[core].character_widths.items():
        if len(letter) == 1 and letter.isprintable():
            assert office_width(letter, 1000, weight) == pytest.approx(width * MARGIN[weight], abs=1), letter


def test_a_letter_that_the_face_lacks_counts_as_a_full_square():
    assert office_width("漢", 10) == pytest.approx(10 * MARGIN["regular"])


def test_lines_are_broken_between_words_and_only_there():
    wide = office_width("one two", 20)
    assert office_lines("one two", wide + 0.1, 20) == 1
    assert office_lines("one two", wide - 0.1, 20) == 2
    assert office_lines("one\u00a0two", wide - 0.1, 20) == 2  # wider than a line: broken within
    assert longest_word("a bb ccc", 20) == office_width("ccc", 20)


def test_every_weight_has_room_for_letters_a_tenth_wider():
    assert min(MARGIN.values()) >= 1.1
    width = office_width(SENTENCE, 20) / 3
    assert office_lines(SENTENCE, width, 20) >= office_lines(SENTENCE, width * MARGIN["regular"] / 1.1, 20)
