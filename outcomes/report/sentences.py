"""One finding in plain words.

Counts come first, then the difference with its interval, what the weighting did, what the missing could do, what so few
lids could have shown, and the reading. A figure in a sentence is a figure of the finding or a number of the protocol,
and every one carries its address.
"""

from __future__ import annotations

from outcomes.findings.results import Finding, Share, Values
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import finding_place, left_out, rule_place
from outcomes.report.formats import Written
from outcomes.report.traced_text import Phrase, Place, say

COHORTS = ("grafted", "advanced")


def finding_sentences(finding: Finding, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say everything that a finding holds, a sentence or two each; what it does not hold is left out."""
    told = (
        counts_sentence(finding, protocol),
        difference_sentence(finding, protocol),
        adjustment_sentence(finding, protocol),
        missing_sentence(finding, protocol),
        detectable_sentence(finding, protocol),
        reading_sentence(finding),
    )
    return tuple(sentence for sentence in told if sentence)


def counts_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say how many of how many lids had a poor result, or the middle value and the quartiles."""
    say_one = _share_counts if isinstance(finding.grafted, Share) else _value_counts
    grafted, advanced = (say_one(finding, cohort, protocol) for cohort in COHORTS)
    return say("{}, and {}.", _begun(grafted), advanced)


def _begun(phrase: Phrase) -> Phrase:
    first = phrase[0]
    return (first[0].upper() + first[1:], *phrase[1:]) if isinstance(first, str) else phrase


def _share_counts(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:  # noqa: ARG001 - one signature for both
    place = finding_place(finding)
    if not getattr(finding, cohort).n:
        return say("no {} lid was seen ({} lids)", cohort, place.figure(f"{cohort}.n", formats.count))
    return say(
        "{} of {} {} lids ({})",
        place.figure(f"{cohort}.events", formats.count),
        place.figure(f"{cohort}.n", formats.count),
        cohort,
        place.figure(f"{cohort}.proportion", formats.of_hundred),
    )


def _value_counts(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    place, field = finding_place(finding), protocol.value_field(protocol.measure(finding.measure))
    if not getattr(finding, cohort).n:
        return say("no {} lid was seen ({} lids)", cohort, place.figure(f"{cohort}.n", formats.count))
    median, q1, q3 = (place.figure(f"{cohort}.{part}", formats.measured(field)) for part in ("median", "q1", "q3"))
    unit = field.unit if field.unit == "%" else f" {field.unit}".rstrip()
    return say(
        "a median of {}{} (quartiles {} to {}) in {} {} lids",
        median,
        unit,
        q1,
        q3,
        place.figure(f"{cohort}.n", formats.count),
        cohort,
    )


def _change(finding: Finding, protocol: Protocol) -> Written:
    if finding.outcome == "poor":
        return formats.fewer_or_more
    return formats.less_or_more(protocol.value_field(protocol.measure(finding.measure)))


def _per(finding: Finding) -> str:
    return " in 100" if finding.outcome == "poor" else ""


def difference_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say the crude difference, advanced minus grafted, with its interval; or why there is none."""
    place, change = finding_place(finding), _change(finding, protocol)
    if finding.contrast.estimate is None:
        return say("The difference was not estimated{}.", f": {finding.note}" if finding.note else "")
    words = (
        "With advanced skin that is {}{}, {}."
        if finding.outcome == "poor"
        else "The typical difference with advanced skin is {}{}, {}."
    )
    return say(
        words,
        place.figure("contrast.estimate", change),
        _per(finding),
        _interval(place, "contrast", change, protocol),
    )


def _interval(place: Place, part: str, change: Written, protocol: Protocol) -> Phrase:
    if not place.holds(f"{part}.low") or not place.holds(f"{part}.high"):
        return ("with no interval that can be given",)
    return say(
        "{} interval from {} to {}",
        rule_place(protocol).figure("confidence_level", formats.percent),
        place.figure(f"{part}.low", change),
        place.figure(f"{part}.high", change),
    )


def interval_ends(finding: Finding, protocol: Protocol) -> Phrase:
    """Say between which ends the difference lies, as seen and weighted; nothing where it has no interval."""
    place, change = finding_place(finding), _change(finding, protocol)
    if not place.holds("contrast.low") or not place.holds("contrast.high"):
        return ()
    seen = say("from {}{}", from_to(place, "contrast", change), _per(finding))
    if not place.holds("adjusted.low") or not place.holds("adjusted.high"):
        return seen
    return say("{}; weighted, from {}", seen, from_to(place, "adjusted", change))


def adjustment_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say what weighting for the choice of cover made of the difference, or that it could not be done."""
    place, change = finding_place(finding), _change(finding, protocol)
    if finding.contrast.estimate is None:
        return ()
    if not place.holds("adjusted.estimate"):
        return ("It could not be weighted for how the covers were chosen.",)
    return say(
        "Weighted for how the covers were chosen it is {}{}, {}, with the weight of {} grafted and {} advanced lids.",
        place.figure("adjusted.estimate", change),
        _per(finding),
        _interval(place, "adjusted", change, protocol),
        *(place.figure(f"adjusted.effective_n_{cohort}", formats.decimal) for cohort in COHORTS),
    )


def missing_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say how many lids that were due were not measured, and what they could have made of the difference."""
    place, change = finding_place(finding), _change(finding, protocol)
    if not finding.grafted.missing and not finding.advanced.missing:
        return ()
    missing = say(
        "{} grafted and {} advanced lids were due and not measured",
        *(place.figure(f"{cohort}.missing", formats.count) for cohort in COHORTS),
    )
    if not place.holds("if_missing.low") or not place.holds("if_missing.high"):
        return say("{}; what they could have changed cannot be bounded.", missing)
    low, high = (place.figure(f"if_missing.{end}", change) for end in ("low", "high"))
    if low.text == high.text:
        return say("{}; whatever they were, the typical difference stays at {}{}.", missing, low, _per(finding))
    return say(
        "{}; had they been, the unweighted difference could be anything from {} to {}{}.",
        missing,
        low,
        high,
        _per(finding),
    )


def detectable_sentence(finding: Finding, protocol: Protocol) -> Phrase:
    """Say how large a true difference would have had to be for so few lids to show it."""
    place = finding_place(finding)
    if finding.detectable is None:
        return ()
    return say(
        "With this many lids, a true difference of {} would be found in {} such series; a smaller one would more often be missed.",
        place.figure("detectable", _size(finding, protocol)),
        rule_place(protocol).figure("power", formats.of_hundred),
    )


def _size(finding: Finding, protocol: Protocol) -> Written:
    if finding.outcome == "poor":
        return lambda difference: formats.percent(abs(difference)).replace("%", " in 100")
    field = protocol.value_field(protocol.measure(finding.measure))
    written = formats.measured(field)
    return lambda difference: f"{written(abs(difference))} {formats.unit_of(field)}"


def reading_sentence(finding: Finding) -> Phrase:
    """Say the reading and the reasons for it."""
    reasons = "; ".join(finding.reasons)
    return (f"Reading: {finding.reading}{f' ({reasons})' if reasons else ''}.",)


def short_result(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    """Say one cohort's result, with its number of lids, in the few words of a table cell."""
    place = finding_place(finding)
    held = getattr(finding, cohort)
    if not held.n:
        return ("nobody seen",)
    if isinstance(held, Values):
        return say("{}, n {}", bare_result(finding, cohort, protocol), place.figure(f"{cohort}.n", formats.count))
    return say(
        "{} of {} ({})",
        place.figure(f"{cohort}.events", formats.count),
        place.figure(f"{cohort}.n", formats.count),
        place.figure(f"{cohort}.proportion", formats.percent),
    )


def bare_result(finding: Finding, cohort: str, protocol: Protocol) -> Phrase:
    """Say one cohort's result for a table that has the number of lids in a column of its own."""
    place, held = finding_place(finding), getattr(finding, cohort)
    if not held.n:
        return ("–",)
    if isinstance(held, Share):
        return say(
            "{} ({})",
            place.figure(f"{cohort}.events", formats.count),
            place.figure(f"{cohort}.proportion", formats.percent),
        )
    written = formats.measured(protocol.value_field(protocol.measure(finding.measure)))
    return say("{} ({} to {})", *(place.figure(f"{cohort}.{part}", written) for part in ("median", "q1", "q3")))


def signed_change(finding: Finding, protocol: Protocol) -> Written:
    """Give the way to print this finding's differences with a sign: points of 100, or the measure's own unit."""
    if finding.outcome == "poor":
        return formats.points
    return formats.measured_change(protocol.value_field(protocol.measure(finding.measure)))


def with_interval(place: Place, part: str, written: Written) -> Phrase:
    """Print a difference and its interval as one cell; without an estimate nothing else is printed."""
    if not place.holds(f"{part}.estimate"):
        return ("left out",) if isinstance(place.held, Finding) and left_out(place.held) else ("not estimated",)
    return say("{} ({})", place.figure(f"{part}.estimate", written), from_to(place, part, written))


def from_to(place: Place, part: str, written: Written) -> Phrase:
    """Print the two ends of an interval or of a range."""
    if not place.holds(f"{part}.low") or not place.holds(f"{part}.high"):
        return ("no interval",)
    return say("{} to {}", place.figure(f"{part}.low", written), place.figure(f"{part}.high", written))


def chance(place: Place, part: str) -> Phrase:
    """Print a p value where its estimate is printed too, else nothing."""
    if not place.holds("contrast.estimate") or not place.holds(f"contrast.{part}"):
        return ("–",)
    return (place.figure(f"contrast.{part}", formats.p_value),)


def unit_words(finding: Finding, protocol: Protocol) -> str:
    """Say in which unit a finding's differences are."""
    if finding.outcome == "poor":
        return "in 100"
    return formats.unit_of(protocol.value_field(protocol.measure(finding.measure)))


def measure_words(finding: Finding, protocol: Protocol) -> str:
    """Say what was counted or measured."""
    measure = protocol.measure(finding.measure)
    return formats.poor_definition(measure, protocol) if finding.outcome == "poor" else measure.label
