"""The first screen of the report: what was compared, and five sentences on what follows from it."""

from __future__ import annotations

from dataclasses import dataclass

from outcomes.findings.results import (
    BETTER,
    DECIDED,
    MAY_BE,
    Caution,
    CautionCode,
    Comparison,
    FactId,
    Family,
    Finding,
    Verdict,
)
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import (
    family_place,
    finding_place,
    is_public,
    left_out,
    main_outcomes,
    of_family,
    seen,
)
from outcomes.report.finding_words import COVERS
from outcomes.report.sentences import difference_unit, judged_part, signed_change, verdict_words, with_interval
from outcomes.report.traced_text import Phrase, Place, joined, say
from outcomes.report.warning_words import caution_words

QUESTION = (
    "Among lids that could well have had either cover: the difference {} after division, advanced skin minus skin graft, among the "
    "lids measured, adjusted for the characteristics recorded; a lid that was revised counts as it was {}."
)
DOUBTS: tuple[CautionCode, ...] = (
    "no_overlap",
    "too_few",
    "imbalance",
    "missing_could_reverse",
    "masking_matters",
    "follow_up_differs",
    "clock_matters",
    "single_assessor",
    "converted",
    "clustered",
)
"""The codes of warnings, the one that weighs most first."""
HEAVY_FACTS: tuple[FactId, ...] = ("reviewed_apart", "masked_saw_less")

NOT_RANDOM = "Covers were chosen because of the defect, not by chance, and only what was recorded can be adjusted for."


@dataclass(frozen=True)
class FirstScreenAnswer:
    """One of the five answers of the first screen: its id, its heading and its sentences."""

    id: str
    heading: str
    sentences: tuple[Phrase, ...]


def who_sentence(comparison: Comparison) -> Phrase:
    """Say how many lids of how many patients are compared, and on which day."""
    day = comparison.stamp.as_of
    sides = (_lids_of(comparison, cohort) for cohort in COHORTS)
    return say("{} and {}, as the register knew them on {}.", *sides, f"{day.day} {day:%B %Y}")


def _lids_of(comparison: Comparison, cohort: str) -> Phrase:
    group = getattr(comparison, cohort)
    place = Place(cohort, group)
    words = {"grafted": "covered with a skin graft", "advanced": "covered with advanced skin"}[cohort]
    noun = "lid" if group.cases == 1 else "lids"
    if comparison.grafted.patients is None or comparison.advanced.patients is None:
        return say("{} {} {}", place.figure("cases", formats.count), noun, words)
    people = "patient" if group.patients == 1 else "patients"
    patients = say("{} {}", place.figure("patients", formats.count), people)
    return say("{} {} of {} {}", place.figure("cases", formats.count), noun, patients, words)


def question_sentence(protocol: Protocol) -> str:
    """Say what is compared among whom, in the surgeon's words."""
    ways = {measure.after_revision for measure in protocol.main_measures}
    counted = "seen, and again as a poor result among the checks" if "poor" not in ways else "a poor result"
    window = protocol.window(protocol.primary_window).label
    return QUESTION.format(window, counted).replace("counts as it was a poor", "counts as a poor")


def answers(comparison: Comparison, protocol: Protocol) -> tuple[FirstScreenAnswer, ...]:
    """The five answers: what differs, what does not matter, what cannot be told, why to doubt, who was not measured."""
    return (
        FirstScreenAnswer("differs", "What differs", differs_sentences(comparison, protocol)),
        FirstScreenAnswer("alike", "What does not differ by an amount that matters", _alike(comparison, protocol)),
        FirstScreenAnswer("open", "What cannot be told", _open(comparison, protocol)),
        FirstScreenAnswer(
            "doubt", "The strongest reason for doubt", (doubt_sentence(comparison), *part_sentences(comparison))
        ),
        FirstScreenAnswer("unseen", "Who was not seen", (unseen_people_sentence(comparison, protocol),)),
    )


def differs_sentences(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say every planned difference that reads better or may be better, with how many there are and how many chance gives."""
    findings = sorted(
        (each for each in of_family(comparison, "planned") if each.verdict in DECIDED),
        key=lambda each: each.verdict in MAY_BE,
    )
    said = [_difference(each, protocol) for each in findings]
    window = protocol.window(protocol.primary_window).label
    none = (f"No planned comparison {window} after division shows a difference between the covers.",)
    return (*(said or [none]), *family_sentences(comparison))


def _difference(finding: Finding, protocol: Protocol) -> Phrase:
    place, change = finding_place(finding), signed_change(finding, protocol)
    label = protocol.measure(finding.measure).label
    if finding.judged.estimate is None:
        return (f"{label}: {verdict_words(finding)}.",)
    estimate = with_interval(place, judged_part(finding), change)
    return say("{}: {}, {} {}.", label, verdict_words(finding), estimate, difference_unit(finding, protocol))


def family_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """How many differences each family shows, among how many, and how many chance alone would give."""
    said = []
    for family, words in FAMILIES.items():
        place = family_place(comparison, family)
        if place is not None and place.held.judged:
            figures = [place.figure(name, formats.count) for name in ("judged", "better", "may_be")]
            said.append(say(words, *figures, place.figure("by_chance", formats.about)))
    return tuple(said)


FAMILIES: dict[Family, str] = {
    "planned": "Of {} planned comparisons, {} read better with a cover and {} may be better; "
    "expected by chance alone if the covers did not differ (rounded): {}.",
    "further": "Of {} comparisons at other reviews and of timed events, {} read better with a cover and {} may be better; "
    "expected by chance alone if the covers did not differ (rounded): {}.",
}


def _alike(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    labels = _labels(comparison, protocol, ("no difference that matters",))
    if not labels:
        return (("No planned measure has an interval narrow enough to say so.",),)
    return ((f"{formats.capitalised(formats.in_list(labels))}.",),)


def _open(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    said: list[Phrase] = []
    for verdict, words in OPEN.items():
        if labels := _labels(comparison, protocol, (verdict,)):
            said.append((words.format(formats.in_list(labels)),))
    more = [each for each in of_family(comparison, "planned") if each.verdict == "cannot tell" and _needs_more(each)]
    if more:
        least = min(more, key=lambda each: each.lids_needed or 0)
        said.append(
            say(
                "To find the smallest difference that matters, about {} lids measured with each cover would be needed for {}; "
                "{} and {} were.",
                finding_place(least).figure("lids_needed", formats.count),
                protocol.measure(least.measure).label.lower(),
                *(finding_place(least).figure(f"{cohort}.n", formats.count) for cohort in COHORTS),
            )
        )
    said.extend(left_out_sentences(comparison, protocol))
    return tuple(said) or (("Nothing: every planned comparison has another verdict.",),)


def _needs_more(finding: Finding) -> bool:
    """Tell whether more lids would be needed to find the smallest difference that matters than were measured."""
    counts = [side.n for side in (finding.grafted, finding.advanced) if isinstance(side.n, int)]
    return finding.lids_needed is not None and finding.lids_needed > min(counts)


def left_out_sentences(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Say of which main measures nothing is shown: because of small counts, not measured, or not asked for."""
    planned = {each.measure: each for each in main_outcomes(comparison, protocol)}
    asked = {choice.id: choice.values for choice in comparison.stamp.selection}
    chosen = asked.get("measures", tuple(each.id for each in protocol.main_measures))
    groups = (
        (SMALL, [each for each in protocol.main_measures if each.id in planned and _hidden(planned[each.id])]),
        (UNASKED, [each for each in protocol.main_measures if each.id not in chosen]),
        (
            UNSEEN,
            [each for each in protocol.main_measures if each.id in chosen and not _measured(planned.get(each.id))],
        ),
    )
    return tuple(
        (words.format(formats.in_list([each.label.lower() for each in measures])),)
        for words, measures in groups
        if measures
    )


SMALL = "Left out, as counts so small could point to a person: {}."
UNASKED = "Not asked for: {}."
UNSEEN = "Not measured at the main review: {}."


def _hidden(finding: Finding) -> bool:
    return left_out(finding) and finding.verdict is None


def _measured(finding: Finding | None) -> bool:
    return finding is not None and seen(finding)


OPEN: dict[Verdict, str] = {
    "cannot tell": "Neither a difference nor its absence could be shown: {}.",
    "too few to say": "Too few lids: {}.",
}


def _labels(comparison: Comparison, protocol: Protocol, verdicts: tuple[Verdict, ...]) -> list[str]:
    return [
        protocol.measure(each.measure).label.lower()
        for each in of_family(comparison, "planned")
        if each.verdict in verdicts
    ]


def doubt_sentence(comparison: Comparison) -> Phrase:
    """The warning that weighs most, and that covers were not chosen by chance."""
    held = sorted((each for each in comparison.warnings if each.code in DOUBTS), key=_weight)
    return (f"{caution_words(held[0])} {NOT_RANDOM}" if held else NOT_RANDOM,)


def _weight(caution: Caution) -> float:
    """The place of a warning among the reasons for doubt: one with a fact that can turn a verdict goes before an imbalance."""
    place = DOUBTS.index(caution.code)
    heavy = any(fact.id in HEAVY_FACTS for fact in caution.facts)
    return min(place, DOUBTS.index("imbalance") - 0.5) if heavy else place


def part_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say that a part of the register was asked for, if so."""
    chosen = "; ".join(choice.says() for choice in comparison.stamp.selection)
    return ((PART.format(chosen),),) if chosen else ()


PART = (
    "This is a part of what the register holds ({}): verdicts, and their correction for many comparisons, are for this part alone; of "
    "several parts looked at, some differ by chance."
)


def unseen_people_sentence(comparison: Comparison, protocol: Protocol) -> Phrase:
    """Say how many lids that were due in the primary window were not seen."""
    window = protocol.window(protocol.primary_window)
    held = {each.cohort: each for each in comparison.followed_by_window if each.window == window.id}
    if set(held) != set(COHORTS):
        return (
            "Who was not seen is not shown in the public report." if is_public(comparison) else "No review fell due.",
        )
    parts = [
        say(
            "{} {} lids that were due ({} were seen)",
            Place(f"followed_by_window.{window.id}.{cohort}", held[cohort]).figure("missing", formats.count),
            cohort,
            Place(f"followed_by_window.{window.id}.{cohort}", held[cohort]).figure("seen", formats.count),
        )
        for cohort in COHORTS
    ]
    return say("At {} these were not seen: {}. {}", window.label, joined(parts, " and "), RETURNING)


RETURNING = (
    "Patients with problems may return more often than those without; those who died cannot. The number measured is given beside each "
    "result."
)


def message(comparison: Comparison, protocol: Protocol) -> str:
    """The main result in a few words, for a title: what reads better or may be better, else that nothing does."""
    for verdicts, words in ((BETTER, "{} better with {}"), (MAY_BE, "{} may be better with {}")):
        for verdict, cohort in zip(verdicts, ("advanced", "grafted"), strict=True):
            if labels := _labels(comparison, protocol, (verdict,)):
                return words.format(formats.capitalised(formats.in_list(labels[:3])), COVERS[cohort].lower())
    if labels := _labels(comparison, protocol, ("no difference that matters",)):
        return f"No difference that matters in {formats.in_list(labels[:3])}"
    return "Which cover is better cannot be told from these lids"


def limits_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say what no analysis of this register can put right."""
    followed = [
        say("{} of {} lids", Place(cohort, group).figure("followup_completeness", formats.percent), cohort)
        for cohort in COHORTS
        if (group := getattr(comparison, cohort)).followup_completeness is not None
    ]
    said: list[Phrase] = [(NOT_RANDOM,)]
    if followed:
        said.append(say("Of the follow-up that was possible, this much was achieved: {}.", joined(followed, ", ")))
    said.append(
        (
            "Who returns for review is not a matter of chance alone: patients with problems may return more often than those without.",
        )
    )
    return tuple(said)


def surgeon_sentence(comparison: Comparison) -> Phrase:
    """Say whether the surgeon was adjusted for, or why not."""
    held = comparison.adjustment
    reasons = {each.reason for each in held.left_out}
    if held.surgeons:
        return say(
            "The surgeon was adjusted for ({} surgeons).",
            Place("adjustment", held).figure("surgeons", formats.count),
        )
    if reasons & {"one_surgeon_a_cover", "one_surgeon_did_both"}:
        return ("The surgeon could not be adjusted for: no two surgeons did both covers.",)
    return ("The surgeon was not adjusted for.",)
