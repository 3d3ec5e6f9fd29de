"""Is every number in a sentence a number of the finding, and are the words those of the trade?"""

import dataclasses
import re

import pytest

from outcomes.protocol import default_protocol
from outcomes.report.figures import Figure, plain
from outcomes.report.lookup import main_findings
from outcomes.report.sentences import counts_sentence, finding_sentences
from tests.report.addresses import printed_value
from tests.report.invented import invented_comparison, one_sided_comparison

PROTOCOL = default_protocol()
COMPARISONS = {"whole": invented_comparison(), "one-sided": one_sided_comparison()}
NUMBER = re.compile(r"\d+(?:\.\d+)?")
CASES = [(name, finding) for name, held in COMPARISONS.items() for finding in held.findings]
SENTENCES = [(name, finding, sentence) for name, finding in CASES for sentence in finding_sentences(finding, PROTOCOL)]


def numbers_of(thing):
    """Every number in a finding, printed in each way in which a sentence may print it."""
    if isinstance(thing, dict):
        return {number for value in thing.values() for number in numbers_of(value)}
    if isinstance(thing, list | tuple):
        return {number for value in thing for number in numbers_of(value)}
    if isinstance(thing, str):
        return set(NUMBER.findall(thing))
    if thing is None or isinstance(thing, bool):
        return set()
    return {f"{abs(value):.{decimals}f}" for value in (thing, 100 * thing) for decimals in (0, 1, 2)}


ALLOWED = {"100", f"{100 * PROTOCOL.rules.confidence_level:.0f}", f"{100 * PROTOCOL.rules.power:.0f}"}


def test_every_number_in_a_sentence_is_a_number_of_the_finding():
    strangers = [
        (finding.measure, finding.window, plain(sentence), number)
        for _, finding, sentence in SENTENCES
        for number in NUMBER.findall(plain(sentence))
        if number not in numbers_of(dataclasses.asdict(finding)) | ALLOWED
    ]
    assert len(SENTENCES) > 1000
    assert strangers == []


def test_no_number_stands_in_a_sentence_without_its_address():
    bare = [
        piece
        for _, finding, sentence in SENTENCES
        for piece in sentence
        if not isinstance(piece, Figure)
        and set(NUMBER.findall(piece)) - {"100"} - numbers_of(finding.reasons) - numbers_of(finding.note)
    ]
    assert bare == []


def test_every_figure_prints_the_value_at_its_address():
    for name, finding, sentence in SENTENCES:
        for figure in (piece for piece in sentence if isinstance(piece, Figure)):
            value = printed_value(COMPARISONS[name], PROTOCOL, figure.id)
            assert_prints(figure, value, finding)


def assert_prints(figure, value, finding):
    if value is None:
        assert figure.text == "not estimated"
        return
    number = NUMBER.search(figure.text).group()
    decimals = len(number.partition(".")[2])
    assert abs(abs(value) - float(number)) <= 0.5 * 10**-decimals + 1e-9, (figure, value, finding)
    if figure.text.endswith(("fewer", "lower")) or figure.text.startswith("−"):
        assert value < 0
    if figure.text.endswith(("more", "higher")) or figure.text.startswith("+"):
        assert value > 0


def test_counts_come_first():
    finding = next(each for each in main_findings(COMPARISONS["whole"], PROTOCOL) if each.outcome == "poor")
    grafted, advanced = finding.grafted, finding.advanced
    assert plain(finding_sentences(finding, PROTOCOL)[0]) == (
        f"{grafted.events} of {grafted.n} grafted lids ({100 * grafted.proportion:.0f} of 100), and "
        f"{advanced.events} of {advanced.n} advanced lids ({100 * advanced.proportion:.0f} of 100)."
    )


def test_a_cohort_that_nobody_saw_is_said_so():
    finding = next(each for each in COMPARISONS["one-sided"].findings if each.advanced.n)
    assert plain(counts_sentence(finding, PROTOCOL)).startswith("No grafted lid was seen (0 lids), and ")
    told = " ".join(plain(each) for each in finding_sentences(finding, PROTOCOL))
    assert "The difference was not estimated: no grafted lid was seen." in told
    assert f"{100 * PROTOCOL.rules.confidence_level:.0f}% interval" not in told


@pytest.mark.parametrize("word", ["significant", "trend", "prove", "cause", "safe", "superior", "recommend"])
def test_no_sentence_says_more_than_it_may(word):
    assert [plain(sentence) for _, _, sentence in SENTENCES if word in plain(sentence).lower()] == []


def test_the_reading_is_given_with_its_reason():
    for _, finding, sentence in SENTENCES:
        if plain(sentence).startswith("Reading"):
            assert finding.reading in plain(sentence)
            assert all(reason in plain(sentence) for reason in finding.reasons)
