"""The content of the patient's sheet, the same for PDF and web page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from outcomes.findings.counsel.results import (
    Counsel,
    CoverDurations,
    CoverFigures,
    DurationFigures,
    LikeGroup,
    OutcomeFigures,
    PublishedFigure,
)
from outcomes.protocol import Protocol
from outcomes.report.counsel import sentences
from outcomes.report.counsel.language import Language
from outcomes.report.counsel.pictures import Fate, days, people, person
from outcomes.report.formats import count
from outcomes.report.traced_text import Phrase, Place, plain


@dataclass(frozen=True)
class CoverCell:
    """One cover's side of a pair: what was seen, a picture (SVG) with its words, and what it means of 100 people.

    Without a picture there was too little, and the sentences say so.
    """

    cover: str
    seen: tuple[Phrase, ...]
    picture: str
    alt: Phrase
    sentences: tuple[Phrase, ...]


@dataclass(frozen=True)
class ResultPair:
    """One result for both covers: its name, which lids were counted, a cell each, and what may be said of the difference.

    Where neither cover has a picture there are no cells, and `nothing` says why; published figures stand apart.
    """

    id: str
    label: Phrase
    cells: tuple[CoverCell, ...]
    caption: Phrase = ()
    nothing: tuple[Phrase, ...] = ()
    verdict: Phrase = ()
    published: tuple[Phrase, ...] = ()


@dataclass(frozen=True)
class Section:
    """A heading with its sentences; one without sentences is space to write in."""

    heading: str
    paragraphs: tuple[Phrase, ...] = ()


@dataclass(frozen=True)
class PairSection:
    """Pairs under a heading of their own; the first ones have none."""

    heading: str
    pairs: tuple[ResultPair, ...]


@dataclass(frozen=True)
class Sheet:
    """The whole page in reading order. `lines` are pairs whose pictures are lines of days."""

    language: Language
    title: str
    name: str
    warning: tuple[Phrase, ...]
    opening: Phrase
    legend: tuple[tuple[str, Phrase], ...]
    sections: tuple[PairSection, ...]
    lines: tuple[ResultPair, ...]
    likeness: tuple[Phrase, ...]
    unknown: Section
    spaces: tuple[Section, ...]
    basis: Section
    caution: Phrase
    stamp: str

    @property
    def pairs(self) -> tuple[ResultPair, ...]:
        """Every pair of pictures of 100 people, in reading order."""
        return tuple(pair for section in self.sections for pair in section.pairs)


@dataclass(frozen=True)
class _Page:
    """What every part of the page needs: the finding, its protocol and the language."""

    counsel: Counsel
    protocol: Protocol
    language: Language


def make_sheet(counsel: Counsel, protocol: Protocol, language: Language, *, printed_name: str = "") -> Sheet:
    """Make the sheet; the printed name goes nowhere else."""
    page = _Page(counsel, protocol, language)
    words = language.tree["sheet"]
    return Sheet(
        language=language,
        title=words["title_public" if counsel.public else "title"],
        name=plain(language.say("sheet.for_name", name=printed_name)) if printed_name else "",
        warning=tuple(_warning(page)),
        opening=language.say("sheet.opening") if _has_pictures(counsel) else (),
        legend=tuple(_legend(page)) if _has_pictures(counsel) else (),
        sections=() if counsel.withheld else tuple(_sections(page)),
        lines=() if counsel.withheld else tuple(_lines(page)),
        likeness=() if counsel.withheld else tuple(_explained(page)),
        unknown=Section(words["unknown"], tuple(_unknown(page))),
        spaces=() if counsel.public else (Section(words["notes"]), Section(words["questions"])),
        basis=Section(words["basis"], (*sentences.basis(counsel, language), *_sources(page))),
        caution=language.say("basis.caution"),
        stamp=sentences.stamp_line(counsel, language),
    )


def _has_pictures(counsel: Counsel) -> bool:
    return any(side.used for each in counsel.outcomes for side in (each.grafted, each.advanced))


def _warning(page: _Page) -> Iterator[Phrase]:
    for number, each in enumerate(page.counsel.outside):
        yield sentences.outside(each, Place(f"outside.{number}", each), page.protocol, page.language)
    if page.counsel.withheld:
        yield page.language.say("sheet.withheld")


def _legend(page: _Page) -> Iterator[tuple[str, Phrase]]:
    """One person of each kind with its meaning; death only where the pictures show it."""
    used = [side.used for each in page.counsel.outcomes for side in (each.grafted, each.advanced)]
    fates: list[tuple[Fate, str]] = [("had", "had"), ("had-not", "had_not")]
    if any(figure is not None and figure.of_100.competed for figure in used):
        fates.append(("died", "died"))
    for fate, key in fates:
        yield person(fate), page.language.say(f"legend.{key}")


def _sections(page: _Page) -> Iterator[PairSection]:
    pairs = [
        (outcome.section, _pair(page, outcome, Place(f"outcomes.{number}", outcome)))
        for number, outcome in enumerate(page.counsel.outcomes)
    ]
    for name in sorted({section for section, _ in pairs}, key=lambda section: section != ""):
        heading = plain(page.language.named("sections", name, name.replace("_", " "))) if name else ""
        yield PairSection(heading, tuple(pair for section, pair in pairs if section == name))


def _pair(page: _Page, outcome: OutcomeFigures, place: Place) -> ResultPair:
    label = sentences.label(outcome, place, page.protocol, page.language)
    sides = [outcome.side(cohort) for cohort in page.counsel.order]
    told = all(side.used for side in sides) or page.counsel.public
    published = () if told else _published(page, outcome, place)
    if not any(side.used for side in sides) and len({side.why for side in sides}) == 1:
        return ResultPair(outcome.id, label, (), nothing=_nothing(page, sides[0].why), published=published)
    cells = tuple(_cell(page, side, Place(f"{place.id}.{side.cohort}", side)) for side in sides)
    verdict = sentences.verdict(outcome, page.language)
    return ResultPair(outcome.id, label, cells, _caption(page, sides), verdict=verdict, published=published)


def _caption(page: _Page, sides: Sequence[CoverFigures | CoverDurations]) -> Phrase:
    """Which lids were counted: the same with both covers."""
    levels = [side.used.level for side in sides if side.used]
    return page.language.say(f"sentences.{levels[0]}") if levels else ()


def _cell(page: _Page, side: CoverFigures, place: Place) -> CoverCell:
    cover = page.language.tree["covers"][side.cohort]
    if side.used is None:
        return CoverCell(cover, (), "", (), _nothing(page, side.why))
    of = side.used.of_100
    had, died = (place.figure(f"used.of_100.{part}", count) for part in ("had", "competed"))
    rings = place.figure("used.of_100.spared", count)
    key = "picture_died" if of.competed else "picture"
    alt = page.language.say(f"sentences.{key}", cover=cover, had=had, had_not=rings, died=died)
    return CoverCell(
        cover,
        tuple(sentences.counted(side, place, page.language)),
        people(of.had, of.competed, plain(alt)),
        alt,
        tuple(sentences.of_100(side, place, page.language)),
    )


def _nothing(page: _Page, why: str) -> tuple[Phrase, ...]:
    keys = {"suppressed": ("suppressed",), "never_used": ("never_used", "not_enough")}.get(why, ("not_enough",))
    return tuple(page.language.say(f"sentences.{key}") for key in keys)


def _published(page: _Page, outcome: OutcomeFigures, place: Place) -> tuple[Phrase, ...]:
    figures = tuple(
        sentences.published(figure, Place(f"{place.id}.published.{number}", figure), page.language)
        for number, figure in enumerate(outcome.published)
    )
    return figures or (page.language.say("sentences.no_published"),)


def _lines(page: _Page) -> Iterator[ResultPair]:
    for number, durations in enumerate(page.counsel.durations):
        label = page.language.named("outcomes", durations.words, durations.words.replace("_", " "))
        sides = [durations.side(cohort) for cohort in page.counsel.order]
        longest = max((side.used.q3 for side in sides if side.used), default=1)
        place = f"durations.{number}"
        cells = tuple(_days_cell(page, side, Place(f"{place}.{side.cohort}", side), longest) for side in sides)
        yield ResultPair(durations.id, label, cells, _caption(page, sides))


def _days_cell(page: _Page, side: CoverDurations, place: Place, longest: int) -> CoverCell:
    cover = page.language.tree["covers"][side.cohort]
    if side.used is None:
        return CoverCell(cover, (), "", (), _nothing(page, side.why))
    figure, written = side.used, {"low": "q1", "high": "q3", "middle": "median"}
    ends = {gap: place.figure(f"used.{part}", count) for gap, part in written.items()}
    alt = page.language.say("sentences.days_picture", cover=cover, **ends)
    lids, said = sentences.duration(side, place, page.language)
    drawn = days(figure.q1, figure.median, figure.q3, longest=max(longest, 1), alt=plain(alt))
    return CoverCell(cover, (lids,), drawn, alt, (said,))


def _explained(page: _Page) -> Iterator[Phrase]:
    """What counts as like the patient's, what a prediction takes in, and from when time counts."""
    for address, group in _groups_used(page.counsel).values():
        yield from sentences.likeness(group, Place(address, group), page.protocol, page.language)
    for terms in dict.fromkeys(each.prediction.terms for each in page.counsel.outcomes if not each.prediction.why_not):
        yield sentences.worked_out(terms, page.protocol, page.language)
    yield page.language.say("sentences.clock")


def _groups_used(counsel: Counsel) -> dict[str, tuple[str, LikeGroup]]:
    """The likeness rules by which something on the sheet is counted, each once, with its address."""
    used: dict[str, tuple[str, LikeGroup]] = {}
    parts: list[tuple[str, OutcomeFigures | DurationFigures]] = [
        *((f"outcomes.{number}", each) for number, each in enumerate(counsel.outcomes)),
        *((f"durations.{number}", each) for number, each in enumerate(counsel.durations)),
    ]
    for address, figures in parts:
        if figures.group and any(side.used and side.used is side.like for side in (figures.grafted, figures.advanced)):
            used.setdefault(figures.group.rule, (f"{address}.group", figures.group))
    return used


def _unknown(page: _Page) -> Iterator[Phrase]:
    counsel, say = page.counsel, page.language.say
    figures = [side.used for each in counsel.outcomes for side in (each.grafted, each.advanced)]
    if not counsel.public:
        yield say("unknown.yours")
    if counsel.covers_differ and not counsel.withheld:
        yield say("unknown.covers_differ")
    if not counsel.public and any(figure and figure.level == "all" for figure in figures):
        yield say("unknown.all_lids")
    if counsel.somebody_missing:
        yield say("unknown.not_seen")


def _sources(page: _Page) -> Iterator[Phrase]:
    """The sources of the published figures that are shown, each once."""
    shown: dict[str, tuple[str, PublishedFigure]] = {}
    for number, outcome in enumerate(page.counsel.outcomes):
        if not page.counsel.public and not (outcome.grafted.used and outcome.advanced.used):
            for each, figure in enumerate(outcome.published):
                shown.setdefault(figure.source, (f"outcomes.{number}.published.{each}", figure))
    for address, figure in shown.values():
        yield page.language.say("basis.source", source=Place(address, figure).figure("source", str))
