"""The files of a pack: one folder, written beside its place and put there when it is whole."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, fields
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from outcomes.findings import Choice, Selection
from outcomes.findings.disclosure.microdata import SharedData
from outcomes.findings.disclosure.suppression import CODES, choice_without_codes
from outcomes.findings.results import Comparison, Level
from outcomes.findings.study_facts import Congress
from outcomes.parallel import OneByOne, shared
from outcomes.protocol import Protocol
from outcomes.report.charts.flow import Flow, flow_text
from outcomes.report.comparison_json import document
from outcomes.report.finding_index import finding_place
from outcomes.report.pack.abstract import abstract
from outcomes.report.pack.checklist import series_table
from outcomes.report.pack.data_package import datapackage, refusal_words
from outcomes.report.pack.figures import FigureOfPack, caption_of, pack_figures, write_figure
from outcomes.report.pack.index_page import CHECKLISTS, LockSelections, PackParts, contents_page, listed
from outcomes.report.pack.manuscript import Part, limitations, told_results
from outcomes.report.pack.methods import methods_parts
from outcomes.report.pack.number_index import Printed, numbers_csv, of_figure, of_phrases, of_table
from outcomes.report.pack.pack_folder import FOLDERS, RECORD, replaced_folder
from outcomes.report.pack.poster import poster_data, poster_phrases, poster_tables, write_poster
from outcomes.report.pack.slides import slides
from outcomes.report.pack.strobe import strobe_table
from outcomes.report.pack.tables import pack_tables
from outcomes.report.pack.talk_file import fitted, write_talk
from outcomes.report.pack.target_trial import target_table
from outcomes.report.pack.word_files import write_words
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Table
from outcomes.report.tables.writers.registry import write_table
from outcomes.report.traced_text import plain

FORMAT = 2
WORDS = ("words/abstract", "words/methods", "words/limitations")
STEPS = 6
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class PackRequest:
    """The filters, the level, what allows it, the limit of the abstract, whether rows are added."""

    selection: Selection
    level: Level
    approved: str
    word_limit: int
    with_data: bool = False


@dataclass(frozen=True)
class PackContent:
    """What a pack is made of."""

    comparison: Comparison
    facts: Congress
    shared: SharedData
    protocol: Protocol
    request: PackRequest

    @property
    def stamp(self) -> str:
        """The stamp of every file."""
        return stamp_line(self.comparison.stamp)


def write_pack(
    content: PackContent, out: Path, progress: Progress, *, elsewhere: Executor | None = None
) -> tuple[str, ...]:
    """Write the pack into `out` and give the names of its files; after a failure `out` is as it was before.

    Figures and tables are shared with `elsewhere`, if given: other processes, which make the same sooner.
    A pack that is there already is replaced; a folder with anything else in it is refused.
    """
    selections = _selections(content, out)
    with replaced_folder(out) as folder:
        for name in FOLDERS:
            (folder / name).mkdir()
        figures, tables = _fill(content, folder, progress, elsewhere or OneByOne())
        _record(content, selections, folder)
        files = listed(folder)
        shown = PackParts(
            tables,
            figures,
            content.shared,
            content.request.level,
            content.request.approved,
            content.protocol,
            _example(content),
        )
        page = contents_page(content.comparison.stamp, selections, shown, files)
        (folder / "index.html").write_text(page, encoding="utf-8")
    return (*(file.name for file in files), "index.html")


def _example(content: PackContent) -> str:
    """The address of one printed number."""
    told = told_results(content.comparison, content.protocol)
    return f"{finding_place(told[0]).id}.grafted.n" if told else "grafted.cases"


def tree_of(content: PackContent) -> dict[str, Any]:
    """What comparison.json of a pack holds: the comparison, and beside it what else the pack prints."""
    shared = {each.name: getattr(content.shared, each.name) for each in fields(content.shared) if each.name != "tables"}
    shared["coarsened"] = [asdict(each) for each in content.shared.coarsened]
    rules = {"rules": asdict(content.protocol.rules)}
    tree = {**document(content.comparison), "congress": asdict(content.facts), "shared": shared, "protocol": rules}
    plain_tree: dict[str, Any] = json.loads(json.dumps(tree))
    return plain_tree


FiguresAndTables = tuple[tuple[FigureOfPack, ...], tuple[Table, ...]]


def _fill(content: PackContent, folder: Path, progress: Progress, elsewhere: Executor) -> FiguresAndTables:
    reported = pack_tables(content.comparison, content.facts, content.protocol)
    done = 0

    def step() -> None:
        nonlocal done
        done += 1
        progress(done, STEPS)

    drawn = pack_figures(content.comparison, content.facts, content.protocol)
    figures = shared(elsewhere, [partial(write_figure, each, folder / "figures", content.stamp) for each in drawn])
    _captions(content, figures, folder / "figures")
    step()
    tables = (*reported, *_checklists(content, figures, reported))
    stamp = content.comparison.stamp
    shared(elsewhere, [partial(write_table, each, folder / _folder_of(each), stamp) for each in tables])
    step()
    parts = _words(content)
    for name, (title, told) in parts.items():
        write_words(content.comparison.stamp, title, told, folder / "words" / name)
    step()
    shown = fitted(slides(content.comparison, content.facts, content.protocol, figures))
    write_talk(shown, folder / "slides" / "talk.pptx", content.comparison.stamp)
    step()
    told_abstract = parts["abstract"][1]
    data = poster_data(content.comparison, content.facts, content.protocol, figures, drafted=told_abstract)
    write_poster(folder / "poster" / "poster.pdf", data)
    step()
    _write_data(content, folder / "data")
    tree = tree_of(content)
    (folder / "comparison.json").write_text(
        json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
    )
    printed = [*_printed(content, figures, tables, parts, shown)]
    (folder / "numbers.csv").write_text(numbers_csv(printed, tree, content.stamp), encoding="utf-8-sig", newline="")
    step()
    return tuple(figures), tables


def _checklists(content: PackContent, figures: Sequence[FigureOfPack], tables: Sequence[Table]) -> tuple[Table, ...]:
    places = frozenset((*(f"figures/{each.id}" for each in figures), *(f"tables/{each.id}" for each in tables), *WORDS))
    return strobe_table(places), target_table(places), series_table(content.comparison, content.facts, places)


def _folder_of(table: Table) -> str:
    return "checklists" if table.id in CHECKLISTS else "tables"


def _captions(content: PackContent, figures: Sequence[FigureOfPack], folder: Path) -> None:
    told = [f"{figure.id}\n{figure.title}. {caption_of(figure)}\n" for figure in figures]
    (folder / "captions.txt").write_text("\n".join((*told, content.stamp, "")), encoding="utf-8")
    flow = [plain(line) for line in flow_text(_flow(content.facts))]
    (folder / "flow.txt").write_text("\n".join((*flow, "", content.stamp, "")), encoding="utf-8")


def _flow(facts: Congress) -> Flow:
    return Flow(facts.stages, facts.analysed, facts.operated, facts.other_covers)


Words = dict[str, tuple[str, tuple[Part, ...]]]


def _words(content: PackContent) -> Words:
    comparison, facts, protocol = content.comparison, content.facts, content.protocol
    return {
        "abstract": ("Abstract", abstract(comparison, facts, protocol, limit=content.request.word_limit)),
        "methods": ("Methods", methods_parts(comparison, facts, protocol)),
        "limitations": ("Limitations", (Part("", limitations(comparison), listed=True),)),
    }


def _write_data(content: PackContent, folder: Path) -> None:
    if not content.shared.tables:
        (folder / "README.txt").write_text(
            f"There are no data here: {refusal_words(content.shared)}.\n\n{content.stamp}\n", encoding="utf-8"
        )
        return
    for table in content.shared.tables:
        (folder / f"{table.name}.csv").write_bytes(table.csv)
        (folder / f"{table.name}.parquet").write_bytes(table.parquet)
    (folder / "datapackage.json").write_text(
        datapackage(content.shared, content.protocol, content.stamp), encoding="utf-8"
    )


def _printed(
    content: PackContent, figures: Sequence[FigureOfPack], tables: Sequence[Table], parts: Words, shown: Sequence[Any]
) -> Iterator[Printed]:
    for table in tables:
        yield from of_table(table, f"{_folder_of(table)}/{table.id}")
    for figure in figures:
        yield from of_figure(figure)
    for name, (_, told) in parts.items():
        for part in told:
            yield from of_phrases(part.sentences, f"words/{name}", part.heading)
    for number, slide in enumerate(shown, start=1):
        yield from of_phrases((slide.title, *slide.points), "slides/talk", f"slide {number}")
        yield from of_phrases(slide.notes, "slides/talk", f"notes of slide {number}")
        if slide.table:
            yield from of_table(slide.table, "slides/talk")
    yield from of_phrases(poster_phrases(content.comparison, content.protocol), "poster/poster", "")
    for table in poster_tables(content.comparison, content.facts, content.protocol):
        yield from of_table(table, "poster/poster")


def _selections(content: PackContent, out: Path) -> LockSelections:
    """What was asked of the same data lock by packs that were made into this folder before; codes as the level has them."""
    now = content.comparison.stamp.selection
    try:
        record = json.loads((out / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return LockSelections(now)
    if record.get("register") != content.comparison.stamp.digest or record.get("format") != FORMAT:
        return LockSelections(now)
    asked = [tuple(Choice(id_, tuple(values)) for id_, values in each) for each in record["looked_at"]]
    before = (each for each in dict.fromkeys(asked) if each not in (now, content.request.selection.choices))
    return LockSelections(now, before=tuple(tuple(_at_level(choice, content) for choice in each) for each in before))


def _at_level(choice: Choice, content: PackContent) -> Choice:
    return choice if content.request.level == "own eyes" else choice_without_codes(choice)


def asked_of(request: PackRequest) -> dict[str, Any]:
    """The filters as plain values; of those that are codes of persons and places, beyond own eyes only how many there are."""
    asked = {
        name: each.isoformat() if isinstance(each, date) else each for name, each in asdict(request.selection).items()
    }
    return asked if request.level == "own eyes" else asked | {name: len(asked[name]) for name in CODES}


def _record(content: PackContent, selections: LockSelections, folder: Path) -> None:
    stamp = content.comparison.stamp
    record = {
        "format": FORMAT,
        "register": stamp.digest,
        "frozen": stamp.frozen,
        "as_of": stamp.as_of.isoformat(),
        "asked": asked_of(content.request),
        "level": content.request.level,
        "approved": content.request.approved,
        "looked_at": [[(choice.id, choice.values) for choice in each] for each in (*selections.before, selections.now)],
        "software": stamp.software,
        "protocol": stamp.fingerprint,
        "files": [asdict(file) for file in listed(folder)],
    }
    (folder / RECORD).write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
