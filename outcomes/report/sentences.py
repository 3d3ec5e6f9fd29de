"""One finding in plain words.

A figure in a sentence is a figure of the finding or a number of the protocol, and every one carries its address.
"""

from __future__ import annotations

from outcomes.findings.results import CheckId, Finding, NoteId, Share
from outcomes.protocol import COHORTS, Protocol, with_unit
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, left_out, rule_place
from outcomes.report.finding_words import note_words
from outcomes.report.formats import Written
from outcomes.report.traced_text import ABSENT_CELL, NOT_SHOWN, Figure, Phrase, Piece, Place, say

POINTS = "percentage points"
BESIDE_VERDICT: frozenset[NoteId] = frozenset(
    ("within_important", "not_adjusted", "no_overlap", "unseen", "masked", "masked_elsewhere", "check_reverses")
)
NEAR_ZERO = (
    "That a difference of just that size would be found less often does not speak against the verdict: around a difference near zero an "
    "interval can end before what matters."
)
NUMBERS_WITHHELD = "numbers not shown: small counts"


def finding_sentences(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say everything that a finding holds, a sentence or two each; what it does not hold is left out."""
    sentences = (
        counts_sentence(finding, protocol),
        difference_sentence(finding, protocol),
        adjustment_sentence(finding, protocol),
        missing_sentence(finding),
        unseen_sentence(finding, protocol),
        could_find_sentence(finding, protocol),
        verdict_sentence(finding),
    )
    return tuple(sentence for sentence in sentences if sentence)


def counts_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say how many of how many lids had a poor result, or the mean and the quartiles, in each cohort."""
    grafted, advanced = (_counts(finding, cohort, protocol) for cohort in COHORTS)
    return say("Skin graft: {}. Advanced skin: {}.", grafted, advanced)


def _counts(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    place, side = finding_place(finding), getattr(finding, cohort)
    if not side.n:
        return say("no lid was measured ({} lids)", place.figure(f"{cohort}.n", formats.count))
    lids = place.figure(f"{cohort}.n", formats.count)
    if isinstance(side, Share):
        return say("{} of {} lids{}", *_events_of(place, cohort, lids))
    if not place.holds(f"{cohort}.{side.centre}"):
        return say("values {}, {} lids", NOT_SHOWN, lids)
    field = protocol.value_field(protocol.measure(finding.measure))
    mean, quartile, unit = formats.mean_of(field), formats.measured(field), formats.unit_of(field)
    words = "{} {}, quartiles {} to {}, in {} lids" if place.holds(f"{cohort}.q1") else "{} {} in {}{}{} lids"
    ends = [place.figure(f"{cohort}.{end}", quartile) if place.holds(f"{cohort}.{end}") else "" for end in ("q1", "q3")]
    middle = say("{} {}", side.centre, place.figure(f"{cohort}.{side.centre}", mean))
    return say(words, middle, unit, *ends, lids)


def _events_of(place: Place, cohort: str, lids: Figure) -> tuple[Piece | Phrase, Figure, Phrase]:
    """How many of how many lids, and the share in brackets, as far as they are shown."""
    events = place.figure(f"{cohort}.events", formats.count) if place.holds(f"{cohort}.events") else (NOT_SHOWN,)
    if not place.holds(f"{cohort}.proportion"):
        return events, lids, ()
    return events, lids, say(" ({})", place.figure(f"{cohort}.proportion", formats.percent))


def difference_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say the crude difference, advanced minus grafted, with its interval; or why there is none."""
    if finding.contrast.estimate is None:
        why = note_words(finding.notes)
        return (f"The difference was not estimated{f': {why}' if why else ''}.",)
    return say("Crude difference, advanced minus grafted: {}.", _estimate(finding, "contrast", protocol))


def _estimate(finding: Finding, part: str, protocol: Protocol) -> Phrase:
    """An estimate with its unit and its interval."""
    place, change = finding_place(finding), signed_change(finding, protocol)
    estimate = say("{} {}", place.figure(f"{part}.estimate", change), difference_unit(finding, protocol))
    if not place.holds(f"{part}.low") or not place.holds(f"{part}.high"):
        return say("{}, without an interval", estimate)
    level = rule_place(protocol).figure("confidence_level", formats.percent)
    return say("{} ({} interval {})", estimate, level, from_to(place, part, change))


def adjustment_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say what adjustment for the choice of cover made of the difference, or that it could not be done."""
    place = finding_place(finding)
    if finding.contrast.estimate is None:
        return ()
    if not place.holds("adjusted.estimate"):
        return ("It could not be adjusted for the characteristics recorded.",)
    said = say("Adjusted for the characteristics recorded: {}", _estimate(finding, "adjusted", protocol))
    if not place.holds("adjusted.p"):
        return say("{}.", said)
    return say("{}, p {}.", said, place.figure("adjusted.p", formats.p_words))


def missing_sentence(finding: Finding) -> Phrase:
    """Say how many lids that were due were not measured."""
    if not finding.grafted.missing and not finding.advanced.missing:
        return ()
    counts = (finding_place(finding).figure(f"{cohort}.missing", formats.count) for cohort in COHORTS)
    return say("{} grafted and {} advanced lids were due and not measured.", *counts)


def unseen_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say what the lids not measured would have to be for the difference to vanish."""
    place = finding_place(finding)
    if place.holds("unseen.tipping_shift"):
        shift = place.figure("unseen.tipping_shift", size_of(finding, protocol))
        return say(
            "The interval would reach zero if the lids not measured with the cover that had the better result were worse by {} on "
            "average than those measured.",
            shift,
        )
    if place.holds("unseen.tipping_lids"):
        lids = place.figure("unseen.tipping_lids", formats.count)
        shares = [place.figure(f"unseen.{name}", formats.percent) for name in ("tipping_share", "seen_share")]
        return say(
            "The interval would reach zero if {} of the lids not measured with the cover that had the better result ({}) had a poor "
            "result; of those measured {} had.",
            lids,
            *shares,
        )
    return _margin_sentence(place, size_of(finding, protocol)) if place.holds("unseen.margin_bias") else ()


def _margin_sentence(place: Place, written: Written) -> Phrase:
    """Say what would bring an interval that lies within what matters to its edge."""
    said = say(
        "The interval would reach the smallest difference that matters if the difference were off by {}",
        place.figure("unseen.margin_bias", written),
    )
    if not place.holds("unseen.margin_shift"):
        return say("{}.", said)
    return say(
        "{}, or if the {} lids not measured were worse by {} on average than those measured.",
        said,
        place.held.unseen.margin_cohort,
        place.figure("unseen.margin_shift", written),
    )


def could_find_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say how large a true difference would have had to be for so few lids to show it, beside the smallest that matters."""
    place = finding_place(finding)
    if finding.could_find is None:
        return ()
    written = size_of(finding, protocol)
    said = say(
        "With this many lids a true difference of {} would be found in {} of such series",
        place.figure("could_find", written),
        rule_place(protocol).figure("power", formats.percent),
    )
    if finding.important_difference is None:
        return say("{}.", said)
    said = say("{}; the smallest that matters is {}.", said, place.figure("important_difference", written))
    if finding.verdict == "no difference that matters" and finding.could_find > finding.important_difference:
        return say("{} {}", said, NEAR_ZERO)
    return said


def size_of(finding: Finding, protocol: Protocol) -> Written:
    """Give the way to print the size of a difference, without its sign and with its unit."""
    if finding.is_share:
        return lambda difference: f"{formats.size(difference, formats.hundredths)} {POINTS}"
    field = protocol.value_field(protocol.measure(finding.measure))
    written, unit = formats.mean_of(field), difference_unit(finding, protocol)
    return lambda difference: with_unit(formats.size(difference, written), unit)


def verdict_sentence(finding: Finding) -> Phrase:
    """Say the verdict, and what must be said beside it."""
    if finding.verdict is None:
        return ()
    beside = note_words(finding.notes)
    return (f"Verdict: {finding.verdict}{f' ({beside})' if beside else ''}.",)


def verdict_words(finding: Finding) -> str:
    """The verdict for a table cell, with what must be said beside it; or that it is left out."""
    if left_out(finding):
        return f"{finding.verdict} ({NUMBERS_WITHHELD})" if finding.verdict else NOT_SHOWN
    return noted_verdict(finding)


def noted_verdict(finding: Finding) -> str:
    """The verdict with what must be said beside it."""
    beside = tuple(note for note in finding.notes if note.id in BESIDE_VERDICT)
    said = finding.verdict or ABSENT_CELL
    return f"{said} ({note_words(beside)})" if beside and finding.verdict else said


def short_result(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    """Say one cohort's result, with its number of lids, in the few words of a table cell."""
    place, side = finding_place(finding), getattr(finding, cohort)
    if not side.n:
        return ("nobody measured",)
    number = place.figure(f"{cohort}.n", formats.count)
    if isinstance(side, Share):
        return say("{} of {}{}", *_events_of(place, cohort, number))
    return say("{}, n\u00a0=\u00a0{}", bare_result(finding, cohort, protocol), number)


def middle_result(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    """Say one cohort's mean, its median where no mean is told, or its share, with its number of lids, as short as a slide asks."""
    place, side = finding_place(finding), getattr(finding, cohort)
    if isinstance(side, Share) or not side.n or not place.holds(f"{cohort}.{side.centre}"):
        return short_result(finding, cohort, protocol)
    field = protocol.value_field(protocol.measure(finding.measure))
    middle = place.figure(f"{cohort}.{side.centre}", formats.mean_of(field))
    lids = place.figure(f"{cohort}.n", formats.count)
    return say("{}{} (n\u00a0=\u00a0{})", "median\u00a0" if side.centre == "median" else "", middle, lids)


def bare_result(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    """Say one cohort's result for a table that has the number of lids in a column of its own."""
    place, side = finding_place(finding), getattr(finding, cohort)
    if not side.n:
        return (ABSENT_CELL,)
    if isinstance(side, Share):
        events, _, share = _events_of(place, cohort, place.figure(f"{cohort}.n", formats.count))
        return say("{}{}", events, share)
    if not place.holds(f"{cohort}.{side.centre}"):
        return (NOT_SHOWN,)
    field = protocol.value_field(protocol.measure(finding.measure))
    middle = place.figure(f"{cohort}.{side.centre}", formats.mean_of(field))
    if side.centre == "median":
        return say("median\u00a0{}", middle)
    if not place.holds(f"{cohort}.sd"):
        return (middle,)
    return say("{} ({})", middle, place.figure(f"{cohort}.sd", formats.mean_of(field)))


def signed_change(finding: Finding, protocol: Protocol) -> Written:
    """Give the way to print this finding's differences with a sign: percentage points, or the measure's own unit."""
    if finding.is_share:
        return formats.points
    if finding.outcome == "value":
        return formats.probability
    return formats.mean_change(protocol.value_field(protocol.measure(finding.measure)))


def judged_part(finding: Finding) -> str:
    """Which part of a finding the verdict is about: the adjusted difference, or the crude one where nothing was adjusted for."""
    return "adjusted" if finding.adjusted is not None else "contrast"


def with_interval(place: Place, part: str, written: Written) -> Phrase:
    """Print a difference and its interval as one cell; without an estimate nothing else is printed."""
    if not place.holds(f"{part}.estimate"):
        return (NOT_SHOWN,) if isinstance(place.held, Finding) and left_out(place.held) else ("not estimated",)
    return say("{} ({})", place.figure(f"{part}.estimate", written), from_to(place, part, written))


def from_to(place: Place, part: str, written: Written) -> Phrase:
    """Print the two ends of an interval or of a range."""
    if not place.holds(f"{part}.low") or not place.holds(f"{part}.high"):
        return ("no interval",)
    return say("{} to {}", place.figure(f"{part}.low", written), place.figure(f"{part}.high", written))


def check_place(finding: Finding, name: CheckId) -> Place:
    """One check of a finding with its address."""
    return Place(f"{finding_place(finding).id}.checks.{name}", finding.check(name))


def chance(place: Place, part: str) -> Phrase:
    """Print a p value of the difference that is judged where its estimate is printed too, else nothing."""
    judged = "adjusted" if place.holds("adjusted") else "contrast"
    if not place.holds(f"{judged}.estimate") or not place.holds(f"{judged}.{part}"):
        return (ABSENT_CELL,)
    return (place.figure(f"{judged}.{part}", formats.p_value),)


def unit_words(finding: Finding, protocol: Protocol) -> str:
    """Say in which unit a finding's differences are."""
    if finding.is_share:
        return POINTS
    if finding.outcome == "value":
        return "win probability"
    return formats.unit_of(protocol.value_field(protocol.measure(finding.measure)))


def measure_words(finding: Finding, protocol: Protocol) -> str:
    """Say what was counted or measured."""
    measure = protocol.measure(finding.measure)
    return formats.poor_definition(measure, protocol) if finding.is_share else measure.label


def difference_unit(finding: Finding, protocol: Protocol) -> str:
    """Say in which unit a difference is told in a sentence: one between per cents in percentage points."""
    unit = unit_words(finding, protocol)
    return POINTS if unit == "%" else unit


def measure_with_unit(finding: Finding, protocol: Protocol) -> str:
    """Say what was counted or measured, with its unit."""
    return f"{measure_words(finding, protocol)}, {unit_words(finding, protocol)}"
