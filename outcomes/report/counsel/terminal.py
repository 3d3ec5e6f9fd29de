"""The surgeon's view: every level with its interval, how the lids were selected, and what would change it."""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.findings.counsel.results import (
    Counsel,
    CoverDurations,
    CoverFigures,
    DurationFigure,
    LikeGroup,
    OutcomeFigures,
    RiskFigure,
)
from outcomes.protocol import Protocol
from outcomes.report.counsel import sentences
from outcomes.report.counsel.language import ENGLISH, Language, read_language
from outcomes.report.formats import count, decimal, percent
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place, joined, say

USED, NOT_USED = " *", ""
LEVELS = ("all", "like", "predicted")
LEVEL_WORDS = {"all": "all lids", "like": "like it", "predicted": "predicted"}
WHY_NOTHING = {"never_used": "never used", "too_few": "too few lids", "suppressed": "held back: small counts"}
COLUMNS = (
    Column("result", "result"),
    Column("cover", "cover"),
    Column("level", "level"),
    Column("n", "lids", "right"),
    Column("known", "known", "right"),
    Column("patients", "patients", "right"),
    Column("events", "had it", "right"),
    Column("of_100", "of 100", "right"),
    Column("range", "plausible", "right"),
    Column("first", "died first", "right"),
)
NOT_PREDICTED = {
    "timed": "no prediction: results in time are not modelled",
    "no_terms": "no prediction: nothing that the model asks is known of the patient",
    "outside": "no prediction: the patient lies outside what was seen",
}


def surgeon_view(counsel: Counsel, protocol: Protocol) -> Table:
    """Give the whole finding as one table with notes: warnings first, then how the lids were chosen."""
    language = read_language(ENGLISH)
    rows = []
    for number, answer in enumerate(counsel.outcomes):
        place = Place(f"outcomes.{number}", answer)
        label = sentences.label(answer, place, protocol, language)
        for side in (answer.grafted, answer.advanced):
            for cells in _side(side, Place(f"{place.id}.{side.cohort}", side)):
                rows.append(Row((label, *cells)))
                label = ()
    notes = (
        *_days(counsel, language),
        *_warnings(counsel),
        *_chosen(counsel, protocol),
        *_changes(counsel, protocol),
        *_published(counsel),
    )
    return Table(
        "counsel", "What happened to lids of this register (* stands on the sheet)", COLUMNS, tuple(rows), notes
    )


def _side(side: CoverFigures, place: Place) -> Iterator[tuple[Phrase, ...]]:
    found: list[tuple[str, RiskFigure]] = [(level, getattr(side, level)) for level in LEVELS if getattr(side, level)]
    if not found:
        yield ((side.cohort,), (WHY_NOTHING[side.why],), *[()] * (len(COLUMNS) - 3))
    for level, answer in found:
        at = Place(f"{place.id}.{level}", answer)
        yield (
            (side.cohort,),
            (LEVEL_WORDS[level] + (USED if answer is side.used else NOT_USED),),
            *((at.figure(part, count),) for part in ("n", "known", "patients", "events", "of_100.had")),
            say("{} to {}", at.figure("of_100.low", count), at.figure("of_100.high", count)),
            (at.figure("of_100.competed", count),) if answer.of_100.competed else (),
        )


def _days(counsel: Counsel, language: Language) -> Iterator[Phrase]:
    for number, answer in enumerate(counsel.durations):
        name = language.say(f"outcomes.{answer.words}") if language.has(f"outcomes.{answer.words}") else (answer.words,)
        for side in (answer.grafted, answer.advanced):
            told = [_days_of(level, days, f"durations.{number}.{side.cohort}.{level}") for level, days in _levels(side)]
            words = joined(told, "; ") if told else (WHY_NOTHING[side.why],)
            yield say("{}, {}: {}.", name, side.cohort, words)


def _levels(side: CoverDurations) -> list[tuple[str, DurationFigure]]:
    return [(level, days) for level, days in (("all", side.all), ("like", side.like)) if days is not None]


def _days_of(level: str, days: DurationFigure, address: str) -> Phrase:
    place = Place(address, days)
    middle, low, high, lids = (place.figure(part, count) for part in ("median", "q1", "q3", "n"))
    return say("{}, {} lids: median {} days, middle half {} to {}", LEVEL_WORDS[level], lids, middle, low, high)


def _warnings(counsel: Counsel) -> Iterator[Phrase]:
    for caution in counsel.cautions:
        yield (f"! {caution.text}",)
    if counsel.left_out_lids:
        left = Place("", counsel).figure("left_out_lids", count)
        yield say("The patient's own lids are left out ({} lids).", left)


def _chosen(counsel: Counsel, protocol: Protocol) -> Iterator[Phrase]:
    """How the lids like the patient's were chosen, and what the predictions take in or lack."""
    groups = {
        answer.group.rule: (number, answer.group) for number, answer in enumerate(counsel.outcomes) if answer.group
    }
    for rule, (number, group) in groups.items():
        told = joined(
            [(protocol.told_words(each.id),) for each in counsel.outcomes if each.group and each.group.rule == rule],
            ", ",
        )
        yield say("Lids like the patient's, for {}: {}.", told, _resolved(group, number, protocol))
    for number, answer in enumerate(counsel.outcomes):
        if words := _prediction(answer, Place(f"outcomes.{number}.prediction", answer.prediction), protocol):
            yield say("For {}: {}.", protocol.told_words(answer.id), words)


def _resolved(group: LikeGroup, number: int, protocol: Protocol) -> Phrase:
    labels = {name: protocol.field("reconstructions", name).label.lower() for name, _ in group.same}
    parts: list[Phrase] = [(f"{labels[name]} {value}",) for name, value in group.same]
    for each, bound in enumerate(group.between):
        characteristic = protocol.characteristic(bound.characteristic)
        place, written = (
            Place(f"outcomes.{number}.group.between.{each}", bound),
            percent if characteristic.ratio else decimal,
        )
        parts.append(
            say(
                "{} {} to {}", characteristic.label.lower(), place.figure("low", written), place.figure("high", written)
            )
        )
    return joined(parts, "; ")


def _prediction(answer: OutcomeFigures, place: Place, protocol: Protocol) -> Phrase:
    why = answer.prediction.why_not
    if why in {"timed", "public"}:
        return ()
    if why in NOT_PREDICTED:
        return (NOT_PREDICTED[why],)
    counts = [place.figure(part, count) for part in ("with_result", "without_result", "needed")]
    if why:
        return say("no prediction: {} lids with the result and {} without; {} of each are asked for", *counts)
    terms = ", ".join(protocol.characteristic(name).label.lower() for name in answer.prediction.terms)
    return say(
        "predicted from the cover and {}; {} lids with the result, {} without, {} of each asked for", terms, *counts
    )


def _changes(counsel: Counsel, protocol: Protocol) -> Iterator[Phrase]:
    """What would change the choice: the lids that the next narrower rule lacks."""
    for number, answer in enumerate(counsel.outcomes):
        for each, lack in enumerate(answer.shortfalls):
            place = Place(f"outcomes.{number}.shortfalls.{each}", lack)
            yield say(
                "For {}: asking for {} would leave {} {} lids with a known result; {} more would let it be asked.",
                protocol.told_words(answer.id),
                protocol.likeness_words(lack.rule),
                place.figure("n", count),
                lack.cohort,
                place.figure("more", count),
            )


def _published(counsel: Counsel) -> Iterator[Phrase]:
    """Every published figure, apart from the local ones."""
    for number, figure in enumerate(counsel.published):
        place = Place(f"published.{number}", figure)
        counts = [place.figure(part, count) for part in ("count", "of", "of_100.had", "of_100.low", "of_100.high")]
        note = f" ({figure.note})" if figure.note else ""
        yield say(
            "Published, not of this register: {}, {} of {}; {} of 100, {} to {}. {}{}",
            figure.what,
            *counts,
            place.figure("source", str),
            note,
        )
