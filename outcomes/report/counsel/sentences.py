"""Sentences of the sheet about one outcome.

Every number is a figure of the finding with its address; what is between them comes from the language file.
"""

from __future__ import annotations

from outcomes.findings.counsel.results import (
    Counsel,
    DurationFigure,
    LikeGroup,
    OutcomeFigures,
    OutOfRange,
    PublishedFigure,
    RiskFigure,
)
from outcomes.protocol import Protocol
from outcomes.report.counsel.language import Language
from outcomes.report.formats import count
from outcomes.report.traced_text import Phrase, Place, joined


def label(answer: OutcomeFigures, place: Place, protocol: Protocol, language: Language) -> Phrase:
    """Say what happened and by when."""
    return language.say(
        "sentences.result", what=_what(answer, place, language), when=_when(answer, place, protocol, language)
    )


def _what(answer: OutcomeFigures, place: Place, language: Language) -> Phrase:
    if not language.has(f"outcomes.{answer.words}"):
        return (answer.words.replace("_", " "),)
    bound = {"bound": place.figure("bound", language.decimal)} if answer.bound is not None else {}
    return language.say(f"outcomes.{answer.words}", **bound)


def _when(answer: OutcomeFigures, place: Place, protocol: Protocol, language: Language) -> Phrase:
    when = answer.when
    if when.window:
        known = language.has(f"windows.{when.window}")
        return language.say(f"windows.{when.window}") if known else (protocol.window(when.window).label,)
    time = language.counted("years" if when.unit == "year" else "months", place.figure("when.number", count))
    return language.say(f"within.{when.clock}", time=time)


def of_100(place: Place, language: Language) -> tuple[Phrase, Phrase]:
    """Say how many of 100 had it and had not, and how many it could be."""
    had, had_not, low, high = (place.figure(f"of_100.{part}", count) for part in ("had", "had_not", "low", "high"))
    return (
        language.say("sentences.had", had=had, had_not=had_not),
        language.say("sentences.range", low=low, high=high),
    )


def counted_from(answer: RiskFigure | DurationFigure, place: Place, mark: str, language: Language) -> Phrase:
    """Say from how many lids the figure comes, which, and how many of them were followed to the end where not all were."""
    eyelids = language.counted("eyelids", place.figure("n", count))
    if answer.level == "predicted":
        return language.say("sentences.from_model", eyelids=eyelids)
    known: Phrase = ()
    if isinstance(answer, RiskFigure) and answer.known < answer.n:
        known = language.say("sentences.known", number=place.figure("known", count))
    if answer.level == "all":
        return language.say("sentences.from_all", eyelids=eyelids, known=known)
    if mark:
        return language.say("sentences.from_like_marked", eyelids=eyelids, mark=mark, known=known)
    return language.say("sentences.from_like", eyelids=eyelids, known=known)


def published(figure: PublishedFigure, place: Place, language: Language) -> Phrase:
    """Say a published figure, as one that is not of these patients."""
    what = language.say(f"published.{figure.id}") if language.has(f"published.{figure.id}") else (figure.what,)
    had, low, high = (place.figure(f"of_100.{part}", count) for part in ("had", "low", "high"))
    followed = language.say("sentences.published_not_followed")
    if figure.followed_months is not None:
        months = place.figure("followed_months", language.decimal)
        followed = language.say("sentences.published_followed", months=months)
    return language.say(
        "sentences.published",
        count=place.figure("count", count),
        of=place.figure("of", count),
        what=what,
        followed=followed,
        had=had,
        low=low,
        high=high,
    )


def like_yours(group: LikeGroup, place: Place, mark: str, protocol: Protocol, language: Language) -> Phrase:
    """Say which past lids count as like the patient's."""
    parts = [_same(name, protocol, language) for name, _ in group.same]
    for number, bound in enumerate(group.between):
        reach = Place(f"{place.id}.between.{number}", bound).figure("reach", language.decimal)
        name = bound.characteristic
        if language.has(f"likeness.{name}"):
            parts.append(language.say(f"likeness.{name}", reach=reach))
        else:
            parts.append(language.say("likeness.any", what=protocol.characteristic(name).label, reach=reach))
    rule = joined(parts, language.tree["likeness"]["and"])
    if mark:
        return language.say("sentences.like_yours_marked", mark=mark, rule=rule)
    return language.say("sentences.like_yours", rule=rule)


def _same(name: str, protocol: Protocol, language: Language) -> Phrase:
    if language.has(f"likeness.{name}"):
        return language.say(f"likeness.{name}")
    label = next(field.label for field in protocol.fields if field.id == name)
    return language.say("likeness.same", what=label)


def worked_out(terms: tuple[str, ...], protocol: Protocol, language: Language) -> Phrase:
    """Say what a prediction takes in."""
    names = [language.say("names.cover"), *(named(term, protocol, language) for term in terms)]
    first = joined(names[:-1], language.tree["names"]["and"])
    return language.say("sentences.worked_out", terms=(*first, language.tree["names"]["last"], *names[-1]))


def named(characteristic: str, protocol: Protocol, language: Language) -> Phrase:
    """Say the name of a characteristic in the patient's words, or else the protocol's."""
    if language.has(f"names.{characteristic}"):
        return language.say(f"names.{characteristic}")
    return (protocol.characteristic(characteristic).label,)


def outside(each: OutOfRange, place: Place, protocol: Protocol, language: Language) -> Phrase:
    """Say that nobody was like the patient in something, and the range that was seen."""
    name = each.characteristic if language.has(f"ranges.{each.characteristic}") else "any"
    seen = language.say(f"ranges.{name}", **{end: place.figure(end, language.decimal) for end in ("low", "high")})
    return language.say(f"outside.{each.cohort}", what=named(each.characteristic, protocol, language), range=seen)


def basis(counsel: Counsel, language: Language) -> Phrase:
    """Say from which records the figures come, how long the patients were followed, and of which day they are."""
    place, stamp = Place("basis", counsel.basis), Place("stamp", counsel.stamp)
    told = []
    if counsel.basis.lids >= counsel.fewest_lids:
        told.append(
            language.say(
                "basis.lids",
                eyelids=language.counted("eyelids", place.figure("lids", count)),
                people=language.counted("people", place.figure("patients", count)),
                first=place.figure("first", language.day),
                last=place.figure("last", language.day),
                as_of=stamp.figure("as_of", language.day),
            )
        )
    if counsel.basis.median_followup_months is not None:
        told.append(language.say("basis.follow_up", months=place.figure("median_followup_months", language.decimal)))
    if counsel.left_out_lids:
        told.append(language.say("basis.left_out"))
    locked = bool(counsel.stamp.frozen)
    told.append(
        language.say("basis.lock", name=stamp.figure("frozen", str)) if locked else language.say("basis.no_lock")
    )
    return joined(told, " ")
