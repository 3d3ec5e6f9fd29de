"""Every number in a sentence is a number of the finding, and the words are those of the trade."""

import dataclasses
import re

import pytest

from outcomes.findings.results import Note, Range, Unseen
from outcomes.protocol import default_protocol
from outcomes.report.finding_index import main_findings
from outcomes.report.finding_words import note_words
from outcomes.report.sentences import could_find_sentence, counts_sentence, finding_sentences
from outcomes.report.traced_text import Figure, plain
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
    return {f"{abs(value):.{decimals}f}" for value in (thing, 100 * thing) for decimals in (0, 1, 2, 3)}


ALLOWED = {"0.001", f"{100 * PROTOCOL.rules.confidence_level:.0f}", f"{100 * PROTOCOL.rules.power:.0f}"}


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
        and set(NUMBER.findall(piece)) - {"100"} - numbers_of(note_words(finding.notes))
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
    if figure.text.endswith(("fewer", "less")) or figure.text.startswith("−"):
        assert value < 0
    if figure.text.endswith(("more",)) or figure.text.startswith("+"):
        assert value > 0


def test_counts_come_first():
    finding = next(each for each in main_findings(COMPARISONS["whole"], PROTOCOL) if each.outcome == "poor")
    grafted, advanced = finding.grafted, finding.advanced
    assert plain(finding_sentences(finding, PROTOCOL)[0]) == (
        f"Skin graft: {grafted.events} of {grafted.n} lids ({100 * grafted.proportion:.0f}%). "
        f"Advanced skin: {advanced.events} of {advanced.n} lids ({100 * advanced.proportion:.0f}%)."
    )


def test_a_cohort_that_nobody_saw_is_said_so():
    finding = next(each for each in COMPARISONS["one-sided"].findings if each.advanced.n)
    assert plain(counts_sentence(finding, PROTOCOL)).startswith(
        "Skin graft: no lid was measured (0 lids). Advanced skin: "
    )
    told = " ".join(plain(each) for each in finding_sentences(finding, PROTOCOL))
    assert "The difference was not estimated: no grafted lid was measured." in told
    assert f"{100 * PROTOCOL.rules.confidence_level:.0f}% interval" not in told


@pytest.mark.parametrize("word", ["significant", "trend", "prove", "cause", "safe", "superior", "recommend"])
def test_no_sentence_says_more_than_it_may(word):
    assert [plain(sentence) for _, _, sentence in SENTENCES if word in plain(sentence).lower()] == []


def test_the_verdict_is_given_with_what_stands_beside_it():
    for _, finding, sentence in SENTENCES:
        if plain(sentence).startswith("Verdict"):
            assert finding.verdict in plain(sentence)
            assert note_words(finding.notes) in plain(sentence)


def hand_made(**changes):
    """A finding whose numbers all differ, so that none can stand in for another."""
    finding = next(each for each in main_findings(COMPARISONS["whole"], PROTOCOL) if each.outcome == "poor")
    whole = dataclasses.replace(
        finding,
        grafted=dataclasses.replace(finding.grafted, n=18, missing=4, events=3, proportion=3 / 18),
        advanced=dataclasses.replace(finding.advanced, n=22, missing=6, events=1, proportion=1 / 22),
        contrast=dataclasses.replace(finding.contrast, estimate=-0.121, low=-0.334, high=0.093),
        adjusted=dataclasses.replace(
            finding.adjusted,
            estimate=-0.08,
            low=-0.301,
            high=0.119,
            p=0.42,
        ),
        unseen=Unseen(Range(-0.36, 0.28), tipping_lids=2, tipping_share=2 / 6, seen_share=1 / 22),
        important_difference=0.15,
        could_find=0.41,
        verdict="cannot tell",
        notes=(Note("unseen"),),
    )
    return dataclasses.replace(whole, **changes)


def test_a_size_too_small_for_its_decimals_is_not_said_to_be_nothing():
    said = plain(could_find_sentence(hand_made(could_find=0.0002), PROTOCOL))
    assert "a true difference of under 0.1 percentage points would be found" in said


def test_a_finding_is_said_in_these_words():
    assert [plain(sentence) for sentence in finding_sentences(hand_made(), PROTOCOL)] == [
        "Skin graft: 3 of 18 lids (17%). Advanced skin: 1 of 22 lids (5%).",
        "Crude difference, advanced minus grafted: −12 percentage points (95% interval −33 to +9).",
        "Adjusted for the characteristics recorded: −8 percentage points (95% interval −30 to +12), p = 0.42.",
        "4 grafted and 6 advanced lids were due and not measured.",
        (
            "The interval would reach zero if 2 of the lids not measured with the cover that had the better result (33%) had a poor "
            "result; of those measured 5% had."
        ),
        (
            "With this many lids a true difference of 41 percentage points would be found in 80% of such series; "
            "the smallest that matters is 15 percentage points."
        ),
        "Verdict: cannot tell (lids were measured more completely with one cover, and the difference does not survive that).",
    ]


def test_a_lack_of_difference_says_what_would_bring_it_to_what_matters_and_why_it_can_be_seen():
    narrow = hand_made(
        verdict="no difference that matters",
        notes=(),
        unseen=Unseen(margin_bias=0.031, margin_cohort="advanced", margin_shift=0.143),
    )
    told = [plain(sentence) for sentence in finding_sentences(narrow, PROTOCOL)]
    assert told[4] == (
        "The interval would reach the smallest difference that matters if the difference were off by 3 percentage points, or if the "
        "advanced lids not measured were worse by 14 percentage points on average than those measured."
    )
    assert told[5].endswith("an interval can end before what matters.")
    nobody_unseen = hand_made(unseen=Unseen(margin_bias=0.031, margin_cohort="advanced"), could_find=0.12)
    told = [plain(sentence) for sentence in finding_sentences(nobody_unseen, PROTOCOL)]
    assert told[4].endswith("off by 3 percentage points.")
    assert told[5].endswith("the smallest that matters is 15 percentage points.")


def test_what_a_finding_does_not_hold_is_said_or_left_out():
    bare = hand_made(adjusted=None, could_find=None, notes=(), unseen=Unseen())
    told = [plain(sentence) for sentence in finding_sentences(bare, PROTOCOL)]
    assert told[2] == "It could not be adjusted for the characteristics recorded."
    assert told[-1] == "Verdict: cannot tell."
    assert len(told) == 5
