"""The slides of a paper of six minutes: what each says in its title, shows beneath it and has the speaker say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from outcomes.findings.results import Comparison, TimedFinding
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS, Protocol, Timed
from outcomes.report import formats
from outcomes.report.charts.drawing import Picture
from outcomes.report.finding_index import is_public, rule_place, timed_place
from outcomes.report.headline import NOT_RANDOM, limits_sentences, message, question_sentence, who_sentence
from outcomes.report.pack import talk_tables as made
from outcomes.report.pack.figures import FigureOfPack, curve_names
from outcomes.report.pack.manuscript import gap, limitations, notes_for, told_results, verdicts
from outcomes.report.pack.tables import happened_table
from outcomes.report.tables.baseline import adjustment_sentences
from outcomes.report.tables.model import Table
from outcomes.report.tables.sensitivity import UNSEEN_NOTE
from outcomes.report.traced_text import Phrase, Place, say
from outcomes.report.warning_words import caution_words

MOST_LIMITS = 4


@dataclass(frozen=True)
class Slide:
    """One slide: its title, which says its message; its table or picture, points under these or alone; what the speaker says."""

    title: Phrase
    points: tuple[Phrase, ...] = ()
    table: Table | None = None
    picture: FigureOfPack | None = None
    notes: tuple[Phrase, ...] = ()
    opening: bool = False
    drawn: Picture | None = None


def slides(
    comparison: Comparison, facts: Congress, protocol: Protocol, figures: Sequence[FigureOfPack]
) -> tuple[Slide, ...]:
    """The slides in the order of a six-minute paper."""
    drawn = {figure.id: figure for figure in figures}
    told = told_results(comparison, protocol)
    overview = Slide((message(comparison, protocol),), picture=drawn.get("overview"), notes=notes_for(told, protocol))
    return (
        *_opening(comparison, protocol),
        *_cases(comparison, facts, protocol),
        *((overview,) if overview.picture else ()),
        *_results(comparison, protocol),
        *_in_time(comparison, protocol, drawn),
        *_events(comparison, facts, protocol),
        *_closing(comparison, protocol),
    )


def _opening(comparison: Comparison, protocol: Protocol) -> tuple[Slide, ...]:
    who, window = who_sentence(comparison), protocol.window(protocol.primary_window).label
    return (
        Slide(
            ("Skin graft or advanced skin over a tarsoconjunctival flap of the lower lid",),
            (gap("names, place, interests declared"), who),
            notes=(who, gap("opening words")),
            opening=True,
        ),
        Slide(
            ("Does a free skin graft or advanced lower-lid skin leave the better lid?",),
            (gap("why it matters"), (question_sentence(protocol),)),
            notes=limits_sentences(comparison),
        ),
        Slide(
            (f"Lids are compared {window} after division, adjusted for what was recorded before operation",),
            (
                (f"Main measures: {_listed(protocol)}.",),
                ("Day 0 is the day on which the pedicle was divided.",),
                ("Lids of one patient are not independent: every interval allows for it.",),
                ("Verdicts allow for how many comparisons were planned.",),
            ),
            notes=adjustment_sentences(comparison),
        ),
    )


def _cases(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Slide, ...]:
    flow = Slide(
        _followed(comparison, facts, protocol),
        table=made.talk_flow_table(facts, protocol),
        notes=(("Every step with its reasons is in figures/flow and tables/flow.",),),
    )
    balance = Slide(
        (_balance_message(comparison),),
        table=made.talk_baseline_table(comparison, protocol),
        notes=adjustment_sentences(comparison),
    )
    return tuple(each for each in (flow, balance) if each.table and each.table.rows)


def _followed(comparison: Comparison, facts: Congress, protocol: Protocol) -> Phrase:
    """How many of each cohort's lids were seen at the main review; where that is not told, how many there are."""
    all_lids = [Place(cohort, getattr(comparison, cohort)).figure("cases", formats.count) for cohort in COHORTS]
    for number, stage in enumerate(facts.stages):
        if stage.window == protocol.primary_window:
            place, label = Place(f"congress.stages.{number}", stage), protocol.window(stage.window).label
            seen = [place.figure(cohort, formats.count) for cohort in COHORTS]
            pairs = (part for pair in zip(seen, all_lids, strict=True) for part in pair)
            return say(f"Reviewed at {label}: {{}} of {{}} grafted and {{}} of {{}} advanced lids", *pairs)
    return say("{} lids with a skin graft and {} with advanced skin", *all_lids)


def _balance_message(comparison: Comparison) -> str:
    if any(each.code == "imbalance" for each in comparison.warnings):
        return "The cohorts differed before operation; weighting makes them alike in what was recorded"
    return "The cohorts were alike before operation in what was recorded"


def _results(comparison: Comparison, protocol: Protocol) -> tuple[Slide, ...]:
    """The results, those of like verdict together; then what the lids not measured could undo."""
    level = rule_place(protocol).figure("confidence_level", formats.percent)
    read = say(made.TO_READ, level)
    groups = made.talk_result_tables(comparison, protocol)
    tipping = Slide(
        ("The differences would vanish if the lids not measured were this much worse than those measured",),
        table=made.talk_unseen_table(comparison, protocol),
        points=((UNSEEN_NOTE,),),
        notes=((UNSEEN_NOTE,),),
    )
    shown = (
        *(
            Slide(
                (each.title,),
                (read, (NOT_RANDOM,)),
                table=each.table,
                notes=(*notes_for(list(each.findings), protocol), read),
            )
            for each in groups
        ),
        tipping,
    )
    return tuple(each for each in shown if each.table and each.table.rows)


def _in_time(comparison: Comparison, protocol: Protocol, drawn: dict[str, FigureOfPack]) -> tuple[Slide, ...]:
    """One event in time, with its verdict, else its shares, in the title."""
    for name in (each for each in curve_names(protocol) if each in drawn):
        for timed, found in _estimated(comparison, protocol):
            if name in {_curve(timed), "timing"}:
                return (Slide(_timed_message(timed, found), picture=drawn[name], notes=drawn[name].caption),)
    return ()


def _curve(timed: Timed) -> str:
    return f"curve-{timed.id.replace('_', '-')}"


def _estimated(comparison: Comparison, protocol: Protocol) -> list[tuple[Timed, TimedFinding]]:
    """The timed findings with both shares, each with its event; those with a verdict first."""
    pairs = [
        (timed, each)
        for timed in protocol.timed
        for each in comparison.timing
        if each.event == timed.id and None not in {each.grafted.estimate, each.advanced.estimate}
    ]
    return sorted(pairs, key=lambda pair: pair[1].verdict is None)


def _timed_message(timed: Timed, found: TimedFinding) -> Phrase:
    place = timed_place(found)
    at = place.figure("at_months", formats.count)
    if found.verdict:
        return say("{} by {} months: {}", timed.label, at, found.verdict)
    shares = [place.figure(f"{cohort}.estimate", formats.percent) for cohort in COHORTS]
    return say("{} by {} months: {} grafted, {} advanced", timed.label, at, *shares)


def _events(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Slide, ...]:
    table = made.talk_happened_table(comparison, facts, protocol)
    if not table.rows:
        return ()
    notes = happened_table(facts, protocol, public=is_public(comparison)).notes
    return (Slide(_revised(comparison, facts), table=table, notes=notes),)


def _revised(comparison: Comparison, facts: Congress) -> Phrase:
    place = next(
        (Place(f"congress.happened.{each.kind}", each) for each in facts.happened if each.kind == "revision"), None
    )
    if place is None or not all(place.holds(f"lids.{cohort}") for cohort in COHORTS):
        return ("Complications and revisions: counts, not rates",)
    pairs = (
        figure
        for cohort in COHORTS
        for figure in (
            place.figure(f"lids.{cohort}", formats.count),
            Place(cohort, getattr(comparison, cohort)).figure("cases", formats.count),
        )
    )
    return say("Revised so far: {} of {} grafted and {} of {} advanced lids (counts, not rates)", *pairs)


def _closing(comparison: Comparison, protocol: Protocol) -> tuple[Slide, ...]:
    words = message(comparison, protocol)
    return (
        Slide(
            ("What may be due to the choice of cover and not to the cover",),
            ((NOT_RANDOM,), *((caution_words(each),) for each in comparison.warnings[:MOST_LIMITS])),
            notes=limitations(comparison),
        ),
        Slide(
            (f"In conclusion: {formats.uncapitalised(words)}",),
            (*verdicts(comparison, protocol), (NOT_RANDOM,), gap("what follows from this, and what does not")),
            notes=(
                ("The verdicts are those of the register's fixed rule. They report past cases and give no advice.",),
            ),
        ),
    )


def _listed(protocol: Protocol) -> str:
    return formats.in_list([measure.label.lower() for measure in protocol.main_measures])
