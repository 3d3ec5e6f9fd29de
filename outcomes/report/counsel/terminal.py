"""The surgeon's view: a line an outcome, or every level with how the lids were selected and what would change it."""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.findings.counsel.results import (
    COVERS,
    Counsel,
    CoverDurations,
    CoverFigures,
    DurationFigure,
    DurationFigures,
    LikeGroup,
    OutcomeFigures,
)
from outcomes.protocol import Protocol
from outcomes.report.counsel import sentences
from outcomes.report.counsel.language import ENGLISH, Language, read_language
from outcomes.report.formats import count, decimal, percent
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place, joined, say
from outcomes.report.warning_words import counsel_caution_words

USED, NOT_USED = " *", ""
LEVELS = ("all", "like", "predicted")
LEVEL_WORDS = {"all": "all lids", "like": "like it", "predicted": "predicted"}
WHY_NOTHING = {
    "": "",
    "never_used": "never used",
    "too_few": "too few lids",
    "suppressed": "small counts left out",
    "unlike": "none: patient is unlike these lids",
}
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
RELAXED = {"widened": "wider", "left_out": "any", "unknown": "not known"}
NOT_PREDICTED = {
    "timed": "no prediction: results in time are not modelled",
    "no_terms": "no prediction: nothing that the model asks is known of the patient",
    "outside": "no prediction: the patient lies outside what was seen",
}


SHORT_LEVELS = {"all": "all", "like": "like", "predicted": "model"}
SUMMARY = (
    Column("outcome", "outcome"),
    Column("lids", "lids"),
    Column("grafted", "grafted"),
    Column("advanced", "advanced"),
    Column("verdict", "verdict"),
)
NO_COMPARISON = "not compared"
ON_THE_SHEET = "On the sheet: seen, then of 100 with the range; the verdict is that of compare"
NONE_HOLDS = "No local figure holds for this patient: the sheet prints none"
MORE = "Every level, the warnings and how the lids were selected: add --more."


def surgeon_summary(counsel: Counsel, protocol: Protocol) -> Table:
    """Give a line an outcome: what was seen with both covers, of 100 with the range, and the verdict of the comparison."""
    figures: list[tuple[str, OutcomeFigures | DurationFigures, str]] = [
        *((f"outcomes.{number}", each, each.verdict or NO_COMPARISON) for number, each in enumerate(counsel.outcomes)),
        *((f"durations.{number}", each, NO_COMPARISON) for number, each in enumerate(counsel.durations)),
    ]
    rows = () if counsel.withheld else tuple(_line(protocol, each, Place(at, each), said) for at, each, said in figures)
    first = [(f"! {counsel_caution_words(caution)}",) for caution in counsel.cautions[: max(1, len(counsel.outside))]]
    return Table("counsel", NONE_HOLDS if counsel.withheld else ON_THE_SHEET, SUMMARY, rows, (*first, (MORE,)))


def _line(protocol: Protocol, figures: OutcomeFigures | DurationFigures, place: Place, verdict: str) -> Row:
    sides = [figures.side(cohort) for cohort in COVERS]
    levels = [SHORT_LEVELS[side.used.level] for side in sides if side.used]
    cells = [_in_short(side, Place(f"{place.id}.{side.cohort}", side)) for side in sides]
    return Row(((protocol.told_words(figures.id),), tuple(levels[:1]), *cells, (verdict,)))


def _in_short(side: CoverFigures | CoverDurations, place: Place) -> Phrase:
    if side.used is None:
        return (WHY_NOTHING[side.why],)
    if isinstance(side, CoverDurations):
        return say("{} lids, {} to {} days", *(place.figure(f"used.{part}", count) for part in ("n", "q1", "q3")))
    seen = [place.figure(f"{side.counted}.{part}", count) for part in ("events", "n")]
    of_100 = [place.figure(f"used.of_100.{part}", count) for part in ("had", "low", "high")]
    return say("{} of {}: {} ({} to {})", *seen, *of_100)


def surgeon_details(counsel: Counsel, protocol: Protocol) -> Table:
    """Give the whole finding as one table with notes: warnings first, then how the lids were selected."""
    language = read_language(ENGLISH)
    rows = []
    for number, outcome in enumerate(counsel.outcomes):
        place = Place(f"outcomes.{number}", outcome)
        label = sentences.label(outcome, place, protocol, language)
        for side in (outcome.grafted, outcome.advanced):
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
    return Table("counsel", "Every level (* is on the sheet)", COLUMNS, tuple(rows), notes)


def _side(side: CoverFigures, place: Place) -> Iterator[tuple[Phrase, ...]]:
    levels = [(level, figure) for level in LEVELS if (figure := getattr(side, level)) is not None]
    if side.used is None:
        yield ((side.cohort,), (WHY_NOTHING[side.why],), *[()] * (len(COLUMNS) - 3))
    for level, figure in levels:
        at = Place(f"{place.id}.{level}", figure)
        yield (
            (side.cohort,),
            (LEVEL_WORDS[level] + (USED if figure is side.used else NOT_USED),),
            *((at.figure(part, count),) for part in ("n", "known", "patients", "events", "of_100.had")),
            say("{} to {}", at.figure("of_100.low", count), at.figure("of_100.high", count)),
            (at.figure("of_100.competed", count),) if figure.of_100.competed else (),
        )


def _days(counsel: Counsel, language: Language) -> Iterator[Phrase]:
    for number, durations in enumerate(counsel.durations):
        name = language.named("outcomes", durations.words, durations.words.replace("_", " "))
        for side in (durations.grafted, durations.advanced):
            levels = [(level, days) for level, days in (("all", side.all), ("like", side.like)) if days is not None]
            parts = [_days_of(level, days, f"durations.{number}.{side.cohort}.{level}") for level, days in levels]
            yield say("{}, {}: {}.", name, side.cohort, joined(parts, "; ") if parts else (WHY_NOTHING[side.why],))


def _days_of(level: str, days: DurationFigure, address: str) -> Phrase:
    place = Place(address, days)
    middle, low, high, lids = (place.figure(part, count) for part in ("median", "q1", "q3", "n"))
    return say("{}, {} lids: median {} days, middle half {} to {}", LEVEL_WORDS[level], lids, middle, low, high)


def _warnings(counsel: Counsel) -> Iterator[Phrase]:
    for caution in counsel.cautions:
        yield (f"! {counsel_caution_words(caution)}",)
    if counsel.left_out_lids:
        left = Place("", counsel).figure("left_out_lids", count)
        yield say("The patient's own lids are left out ({} lids).", left)


def _chosen(counsel: Counsel, protocol: Protocol) -> Iterator[Phrase]:
    """How the lids like the patient's were selected, and what the predictions take in or lack."""
    groups = {each.group.rule: (number, each.group) for number, each in enumerate(counsel.outcomes) if each.group}
    for rule, (number, group) in groups.items():
        names = [protocol.told_words(each.id) for each in counsel.outcomes if each.group and each.group.rule == rule]
        yield say("Lids like the patient's, for {}: {}.", ", ".join(names), _resolved(group, number, protocol))
        relaxed = [f"{_label(name, protocol)} {RELAXED[how]}" for name, how in group.relaxed]
        if relaxed:
            yield (f"Relaxed, to find enough lids of both covers: {', '.join(relaxed)}.",)
    for number, outcome in enumerate(counsel.outcomes):
        if words := _prediction(outcome, Place(f"outcomes.{number}.prediction", outcome.prediction), protocol):
            yield say("For {}: {}.", protocol.told_words(outcome.id), words)


def _label(name: str, protocol: Protocol) -> str:
    labels = {each.id: each.label for each in protocol.fields} | {
        each.id: each.label for each in protocol.characteristics
    }
    return labels[name].lower()


def _resolved(group: LikeGroup, number: int, protocol: Protocol) -> Phrase:
    parts: list[Phrase] = [(f"{_label(name, protocol)} {value}",) for name, value in group.same]
    for each, bound in enumerate(group.between):
        ratio = protocol.characteristic(bound.characteristic).ratio
        place = Place(f"outcomes.{number}.group.between.{each}", bound)
        ends = [place.figure(end, percent if ratio else decimal) for end in ("low", "high")]
        parts.append(say("{} {} to {}", _label(bound.characteristic, protocol), *ends))
    return joined(parts, "; ")


def _prediction(outcome: OutcomeFigures, place: Place, protocol: Protocol) -> Phrase:
    why = outcome.prediction.why_not
    if why in {"timed", "public"}:
        return ()
    if why in NOT_PREDICTED:
        return (NOT_PREDICTED[why],)
    counts = [place.figure(part, count) for part in ("with_result", "without_result", "needed")]
    if why:
        return say("no prediction: {} lids with the result and {} without; {} of each are asked for", *counts)
    terms = ", ".join(protocol.characteristic(name).label.lower() for name in outcome.prediction.terms)
    return say(
        "predicted from the cover and {}; {} lids with the result, {} without, {} of each asked for", terms, *counts
    )


def _changes(counsel: Counsel, protocol: Protocol) -> Iterator[Phrase]:
    """The lids that the next narrower rule lacks."""
    for number, outcome in enumerate(counsel.outcomes):
        for each, lack in enumerate(outcome.shortfalls):
            place = Place(f"outcomes.{number}.shortfalls.{each}", lack)
            yield say(
                "For {}: asking for {} would leave {} {} lids with a known result; {} more would be enough.",
                protocol.told_words(outcome.id),
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
