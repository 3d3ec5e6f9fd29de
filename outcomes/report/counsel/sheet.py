"""The content of the patient's sheet, the same for PDF and web page."""

from __future__ import annotations

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
from outcomes.report.counsel.pictures import days, people
from outcomes.report.formats import count
from outcomes.report.stamp import stamp_line
from outcomes.report.traced_text import Phrase, Place, plain

MARKS = "abcdefgh"


@dataclass(frozen=True)
class CoverCell:
    """One cover's answer: a picture (SVG) with its words, and the sentences. Without a picture there was too little."""

    picture: str
    alt: Phrase
    sentences: tuple[Phrase, ...]


@dataclass(frozen=True)
class SheetLine:
    """One result: its name, one cell a cover (one for both where neither can be told), and published figures apart."""

    id: str
    label: Phrase
    cells: tuple[CoverCell, ...]
    published: tuple[Phrase, ...] = ()


@dataclass(frozen=True)
class Section:
    """A heading with its sentences; one without sentences is space to write in."""

    heading: str
    paragraphs: tuple[Phrase, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """The whole page in reading order. `lines` are rows whose pictures are lines of days."""

    language: Language
    title: str
    name: str
    warning: tuple[Phrase, ...]
    opening: Phrase
    columns: tuple[str, str]
    rows: tuple[SheetLine, ...]
    lines: tuple[SheetLine, ...]
    likeness: tuple[Phrase, ...]
    unknown: Section
    spaces: tuple[Section, ...]
    basis: Section
    caution: Phrase
    stamp: str


@dataclass(frozen=True)
class _Page:
    """What every part of the page needs: the finding, its protocol, the language, and the marks of the likeness rules."""

    counsel: Counsel
    protocol: Protocol
    language: Language
    marks: dict[str, str]


def make_sheet(counsel: Counsel, protocol: Protocol, language: Language, *, printed_name: str = "") -> Sheet:
    """Make the sheet; the printed name goes nowhere else."""
    groups = _groups_used(counsel)
    marks = dict(zip(groups, MARKS, strict=False)) if len(groups) > 1 else dict.fromkeys(groups, "")
    page = _Page(counsel, protocol, language, marks)
    words = language.tree["sheet"]
    told = [(answer, Place(f"outcomes.{number}", answer)) for number, answer in enumerate(counsel.outcomes)]
    lines = [(answer, Place(f"durations.{number}", answer)) for number, answer in enumerate(counsel.durations)]
    rows = tuple(_row(page, answer, place) for answer, place in told)
    return Sheet(
        language=language,
        title=words["title_public" if counsel.public else "title"],
        name=plain(language.say("sheet.for_name", name=printed_name)) if printed_name else "",
        warning=tuple(
            sentences.outside(each, Place(f"outside.{number}", each), protocol, language)
            for number, each in enumerate(counsel.outside)
        ),
        opening=language.say("sheet.opening"),
        columns=(language.tree["covers"]["grafted"], language.tree["covers"]["advanced"]),
        rows=rows,
        lines=tuple(_line(page, answer, place) for answer, place in lines),
        likeness=_explained(page, groups),
        unknown=Section(words["unknown"], _unknown(page)),
        spaces=() if counsel.public else (Section(words["notes"]), Section(words["questions"])),
        basis=Section(words["basis"], (sentences.basis(counsel, language), *_sources(page))),
        caution=language.say("basis.caution"),
        stamp=stamp_line(counsel.stamp),
    )


def _groups_used(counsel: Counsel) -> dict[str, tuple[str, LikeGroup]]:
    """The likeness rules by which something on the sheet is told, each once, with its address."""
    used: dict[str, tuple[str, LikeGroup]] = {}
    told: list[tuple[str, OutcomeFigures | DurationFigures]] = [
        (f"outcomes.{number}", each) for number, each in enumerate(counsel.outcomes)
    ]
    told += [(f"durations.{number}", each) for number, each in enumerate(counsel.durations)]
    for address, answer in told:
        levels = [side.used.level for side in (answer.grafted, answer.advanced) if side.used]
        if answer.group and "like" in levels:
            used.setdefault(answer.group.rule, (f"{address}.group", answer.group))
    return used


def _explained(page: _Page, groups: dict[str, tuple[str, LikeGroup]]) -> tuple[Phrase, ...]:
    """What counts as like the patient's, and what a prediction takes in."""
    told = [
        sentences.like_yours(group, Place(address, group), page.marks[rule], page.protocol, page.language)
        for rule, (address, group) in groups.items()
    ]
    sums = dict.fromkeys(answer.prediction.terms for answer in page.counsel.outcomes if not answer.prediction.why_not)
    told += [sentences.worked_out(terms, page.protocol, page.language) for terms in sums]
    return (*told, page.language.say("sentences.clock"))


def _row(page: _Page, answer: OutcomeFigures, place: Place) -> SheetLine:
    label = sentences.label(answer, place, page.protocol, page.language)
    sides = (answer.grafted, answer.advanced)
    if any(side.used for side in sides) or len({side.why for side in sides}) > 1:
        cells = tuple(_cell(page, side, Place(f"{place.id}.{side.cohort}.used", side.used), answer) for side in sides)
    else:
        cells = (CoverCell("", (), _nothing(page, answer.grafted.why)),)
    told = all(side.used for side in sides) or page.counsel.public
    return SheetLine(answer.id, label, cells, () if told else _published(page, answer, place))


def _cell(page: _Page, side: CoverFigures, place: Place, answer: OutcomeFigures) -> CoverCell:
    if side.used is None:
        return CoverCell("", (), _nothing(page, side.why))
    cover = page.language.tree["covers"][side.cohort]
    had, had_not = (place.figure(f"of_100.{part}", count) for part in ("had", "had_not"))
    alt = page.language.say("sentences.picture", cover=cover, had=had, had_not=had_not)
    mark = page.marks.get(answer.group.rule, "") if answer.group else ""
    told = (*sentences.of_100(place, page.language), sentences.counted_from(side.used, place, mark, page.language))
    return CoverCell(people(side.used.of_100.had, plain(alt)), alt, told)


def _nothing(page: _Page, why: str) -> tuple[Phrase, ...]:
    say = page.language.say
    if why == "suppressed":
        return (say("sentences.suppressed"),)
    return (
        (say("sentences.never_used"), say("sentences.not_enough"))
        if why == "never_used"
        else (say("sentences.not_enough"),)
    )


def _published(page: _Page, answer: OutcomeFigures, place: Place) -> tuple[Phrase, ...]:
    found = tuple(
        sentences.published(figure, Place(f"{place.id}.published.{number}", figure), page.language)
        for number, figure in enumerate(answer.published)
    )
    return found or (page.language.say("sentences.no_published"),)


def _sources(page: _Page) -> tuple[Phrase, ...]:
    """The sources of the published figures that are shown, each once."""
    shown: dict[str, tuple[str, PublishedFigure]] = {}
    for number, answer in enumerate(page.counsel.outcomes):
        if not page.counsel.public and not (answer.grafted.used and answer.advanced.used):
            for each, figure in enumerate(answer.published):
                shown.setdefault(figure.source, (f"outcomes.{number}.published.{each}", figure))
    return tuple(
        page.language.say("basis.source", source=Place(address, figure).figure("source", str))
        for address, figure in shown.values()
    )


def _line(page: _Page, answer: DurationFigures, place: Place) -> SheetLine:
    known = page.language.has(f"outcomes.{answer.words}")
    label = page.language.say(f"outcomes.{answer.words}") if known else (answer.words.replace("_", " "),)
    sides = (answer.grafted, answer.advanced)
    longest = max((side.used.q3 for side in sides if side.used), default=1)
    return SheetLine(answer.id, label, tuple(_days_cell(page, side, (place, answer), longest) for side in sides))


def _days_cell(page: _Page, side: CoverDurations, of: tuple[Place, DurationFigures], longest: int) -> CoverCell:
    if side.used is None:
        return CoverCell("", (), _nothing(page, side.why))
    place = Place(f"{of[0].id}.{side.cohort}.used", side.used)
    low, middle, high = (place.figure(part, count) for part in ("q1", "median", "q3"))
    cover = page.language.tree["covers"][side.cohort]
    alt = page.language.say("sentences.days_picture", cover=cover, low=low, middle=middle, high=high)
    told = page.language.say("sentences.days", low=low, middle=middle, high=high)
    mark = page.marks.get(of[1].group.rule, "") if of[1].group else ""
    drawn = days(side.used.q1, side.used.median, side.used.q3, longest=max(longest, 1), alt=plain(alt))
    return CoverCell(drawn, alt, (told, sentences.counted_from(side.used, place, mark, page.language)))


def _unknown(page: _Page) -> tuple[Phrase, ...]:
    say = page.language.say
    told = [say("unknown.yours")]
    if page.counsel.covers_differ:
        told.append(say("unknown.covers_differ"))
    sides = [side for answer in page.counsel.outcomes for side in (answer.grafted, answer.advanced)]
    if not page.counsel.public and any(side.used and side.used.level == "all" for side in sides):
        told.append(say("unknown.all_lids"))
    if page.counsel.somebody_missing:
        told.append(say("unknown.not_seen"))
    return tuple(told)
