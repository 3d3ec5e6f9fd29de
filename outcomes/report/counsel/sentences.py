"""Sentences of the sheet.

Every number is a figure of the finding with its address; what is between them comes from the language file.
"""

from __future__ import annotations

from collections.abc import Iterator

from outcomes.findings.counsel.results import (
    Counsel,
    CoverDurations,
    CoverFigures,
    LikeGroup,
    OutcomeFigures,
    OutOfRange,
    PublishedFigure,
)
from outcomes.findings.results import Verdict
from outcomes.protocol import Protocol
from outcomes.report.counsel.language import Language
from outcomes.report.formats import count
from outcomes.report.stamp import DIGEST_SHOWN
from outcomes.report.traced_text import Phrase, Place, joined, plain

VERDICTS: dict[Verdict, str] = {
    "cannot tell": "cannot_tell",
    "too few to say": "too_few",
    "no difference that matters": "no_difference",
    "may be better with advanced": "may_be",
    "may be better with graft": "may_be",
    "better with advanced": "better_advanced",
    "better with graft": "better_grafted",
}


def label(outcome: OutcomeFigures, place: Place, protocol: Protocol, language: Language) -> Phrase:
    """Say what happened and by when."""
    bound = {"bound": place.figure("bound", language.decimal)} if outcome.bound is not None else {}
    what = language.named("outcomes", outcome.words, outcome.words.replace("_", " "), **bound)
    return language.say("sentences.result", what=what, when=_when(outcome, place, protocol, language))


def _when(outcome: OutcomeFigures, place: Place, protocol: Protocol, language: Language) -> Phrase:
    when = outcome.when
    if when.window:
        return language.named("windows", when.window, protocol.window(when.window).label)
    time = language.counted("years" if when.unit == "year" else "months", place.figure("when.number", count))
    return language.say(f"within.{when.clock}", time=time)


def counted(side: CoverFigures, place: Place, language: Language) -> Iterator[Phrase]:
    """Say in how many lids of how many it was seen, and how many of them were followed for the full time."""
    figure = Place(f"{place.id}.{side.counted}", getattr(side, side.counted))
    eyelids = language.counted("eyelids", figure.figure("n", count))
    yield language.say("sentences.seen", events=figure.figure("events", count), eyelids=eyelids)
    if figure.held.known < figure.held.n:
        yield language.say("sentences.known", number=figure.figure("known", count))


def of_100(side: CoverFigures, place: Place, language: Language) -> Iterator[Phrase]:
    """Say how many of 100 that is, how many it could be, and how many died first."""
    figure = Place(f"{place.id}.used", side.used)
    had, low, high, died = (figure.figure(f"of_100.{part}", count) for part in ("had", "low", "high", "competed"))
    yield language.say("sentences.about", had=had)
    yield language.say("sentences.range", low=low, high=high)
    if figure.held.of_100.competed:
        yield language.say("sentences.died", number=died)


def verdict(outcome: OutcomeFigures, language: Language) -> Phrase:
    """Say what the comparison allows to be said of the difference; where it says nothing, that we cannot tell."""
    key = VERDICTS[outcome.verdict or "cannot tell"]
    figures = [side.used for side in (outcome.grafted, outcome.advanced)]
    if not all(figures):
        key = "too_few"
    elif key == "cannot_tell" and len({each.of_100.had for each in figures if each}) == 1:
        key = "cannot_tell_alike"
    return language.say(f"verdict.{key}")


def duration(side: CoverDurations, place: Place, language: Language) -> tuple[Phrase, Phrase]:
    """Say from how many lids a number of days comes, and its middle half."""
    figure = Place(f"{place.id}.used", side.used)
    low, high, lids = (figure.figure(part, count) for part in ("q1", "q3", "n"))
    return (
        language.say("sentences.lids", eyelids=language.counted("eyelids", lids)),
        language.say("sentences.days", low=low, high=high),
    )


def published(figure: PublishedFigure, place: Place, language: Language) -> Phrase:
    """Say a published figure, as one that is not of these patients."""
    parts = ("had", "low", "high")
    followed = language.say("sentences.published_not_followed")
    if figure.followed_months is not None:
        months = place.figure("followed_months", language.decimal)
        followed = language.say("sentences.published_followed", months=months)
    return language.say(
        "sentences.published",
        count=place.figure("count", count),
        of=place.figure("of", count),
        what=language.named("published", figure.id, figure.what),
        followed=followed,
        **{part: place.figure(f"of_100.{part}", count) for part in parts},
    )


def likeness(group: LikeGroup, place: Place, protocol: Protocol, language: Language) -> Iterator[Phrase]:
    """Say which past lids count as like the patient's, and in what they were looked for more widely."""
    parts = [_same(name, protocol, language) for name, _ in group.same]
    for number, bound in enumerate(group.between):
        at, name = Place(f"{place.id}.between.{number}", bound), bound.characteristic
        written = language.fraction if protocol.characteristic(name).ratio else language.decimal
        words = {part: at.figure(part, written) for part in ("low", "high", "reach")}
        key = name if language.has(f"likeness.{name}") else "any"
        parts.append(language.say(f"likeness.{key}", what=protocol.characteristic(name).label, **words))
    yield language.say("sentences.like_yours", rule=joined(parts, language.tree["likeness"]["and"]))
    for sentence, how in (("relaxed", {"widened", "left_out"}), ("not_matched", {"unknown"})):
        names = [_named(name, protocol, language) for name, relaxation in group.relaxed if relaxation in how]
        if names:
            yield language.say(f"sentences.{sentence}", what=_listed(names, language))


def _same(name: str, protocol: Protocol, language: Language) -> Phrase:
    if language.has(f"likeness.{name}"):
        return language.say(f"likeness.{name}")
    return language.say("likeness.same", what=next(field.label for field in protocol.fields if field.id == name))


def worked_out(terms: tuple[str, ...], protocol: Protocol, language: Language) -> Phrase:
    """Say what a prediction takes in."""
    names = [language.say("names.cover"), *(_named(term, protocol, language) for term in terms)]
    return language.say("sentences.worked_out", terms=_listed(names, language))


def _listed(names: list[Phrase], language: Language) -> Phrase:
    words = language.tree["names"]
    first = joined(names[:-1], words["and"])
    return (*first, words["last"], *names[-1]) if first else names[-1]


def _named(characteristic: str, protocol: Protocol, language: Language) -> Phrase:
    """The name of a characteristic, or of a field, in the patient's words, or else the protocol's."""
    labels = {each.id: each.label for each in protocol.fields}
    labels |= {each.id: each.label for each in protocol.characteristics}
    return language.named("names", characteristic, labels[characteristic])


def outside(each: OutOfRange, place: Place, protocol: Protocol, language: Language) -> Phrase:
    """Say that nobody was like the patient in something, and the range that was seen."""
    name = each.characteristic if language.has(f"ranges.{each.characteristic}") else "any"
    written = language.fraction if protocol.characteristic(each.characteristic).ratio else language.decimal
    seen = language.say(f"ranges.{name}", **{end: place.figure(end, written) for end in ("low", "high")})
    return language.say(f"outside.{each.cohort}", what=_named(each.characteristic, protocol, language), range=seen)


def basis(counsel: Counsel, language: Language) -> Iterator[Phrase]:
    """Say from which records the figures come, how long the patients were followed, and of which day they are.

    A public leaflet gives years for days.
    """
    place, stamp = Place("basis", counsel.basis), Place("stamp", counsel.stamp)
    day = language.year if counsel.public else language.day
    if counsel.basis.lids >= counsel.fewest_lids:
        people = (
            {"people": language.counted("people", place.figure("patients", count))} if place.holds("patients") else {}
        )
        yield language.say(
            _basis_key(counsel),
            eyelids=language.counted("eyelids", place.figure("lids", count)),
            **people,
            first=place.figure("first", day),
            last=place.figure("last", day),
            as_of=stamp.figure("as_of", day),
        )
    if counsel.basis.median_followup_months is not None:
        yield language.say("basis.follow_up", months=place.figure("median_followup_months", language.decimal))
    if counsel.left_out_lids:
        yield language.say("basis.left_out")
    if counsel.stamp.frozen:
        yield language.say("basis.lock", name=stamp.figure("frozen", str))
    else:
        yield language.say("basis.no_lock")


def _basis_key(counsel: Counsel) -> str:
    if not counsel.public:
        return "basis.lids"
    return "basis.lids_public" if counsel.basis.patients is not None else "basis.lids_public_alone"


def stamp_line(counsel: Counsel, language: Language) -> str:
    """The stamp of the sheet in its language; a public leaflet gives the year."""
    stamp = counsel.stamp
    lock = language.say("basis.stamp_lock", name=stamp.frozen) if stamp.frozen else language.say("basis.stamp_no_lock")
    return plain(
        language.say(
            "basis.stamp",
            digest=stamp.digest[:DIGEST_SHOWN],
            cases=str(stamp.cases),
            lock=lock,
            as_of=str(stamp.as_of.year) if counsel.public else stamp.as_of.isoformat(),
            fingerprint=stamp.fingerprint,
            software=stamp.software,
        )
    )
