"""`outcomes pack`: what an abstract, a talk, a poster and a paper need, from one data lock."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.level import Approved, AskedFor, approval, chosen_purpose
from outcomes.cli.options import (
    DEFAULT_REGISTER,
    AsOf,
    Diagnoses,
    Measures,
    OperatedFrom,
    OperatedTo,
    RegisterPath,
    Sites,
    Surgeons,
    Windows,
    day,
    opened,
    selection,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from outcomes.findings import Selection
    from outcomes.report.pack.assembly import PackContent, PackRequest

Lock = Annotated[str, typer.Option("--frozen", metavar="NAME", help="The data lock from which every number comes.")]
WithData = Annotated[
    bool,
    typer.Option(
        "--with-data", help="Add de-identified rows of single lids, for other researchers; never added unasked."
    ),
]
WordLimit = Annotated[int, typer.Option("--word-limit", min=80, help="The most words that the abstract may have.")]


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(pack)


def pack(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="The folder for the pack; it is made.")],
    frozen: Lock,
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    operated_from: OperatedFrom = None,
    operated_to: OperatedTo = None,
    site: Sites = None,
    surgeon: Surgeons = None,
    diagnosis: Diagnoses = None,
    window: Windows = None,
    measure: Measures = None,
    purpose: AskedFor = None,
    approved: Approved = "",
    with_data: WithData = False,
    word_limit: WordLimit = 250,
) -> None:
    """Make the congress pack: tables, figures, slides, poster, words, checklists and data, each number from one source."""
    from outcomes.cli.output_paths import new_folder, written
    from outcomes.cli.progress import bar
    from outcomes.parallel import processors
    from outcomes.report.pack.abstract import abstract
    from outcomes.report.pack.assembly import PackRequest, write_pack
    from outcomes.report.pack.manuscript import words_in

    chosen = selection(
        day(as_of, "--as-of") or day_of_lock(register, frozen),
        (operated_from, operated_to),
        (site, surgeon, diagnosis, window, measure),
    )
    made_for = chosen_purpose(purpose)
    request = PackRequest(chosen, made_for.level, approval(made_for, approved), word_limit, with_data=with_data)
    needed = ("outcomes.findings.comparison", "outcomes.report.pack.figures", "outcomes.report.tables.writers.word")
    with written(out), processors(*needed) as elsewhere:
        new_folder(out)
        content = gathered(register, frozen, chosen, request, elsewhere=elsewhere)
        with bar("Writing the pack") as progress:
            files = write_pack(content, out, progress, elsewhere=elsewhere)
    words = words_in(abstract(content.comparison, content.facts, content.protocol, limit=word_limit))
    if words > word_limit:
        typer.echo(
            f"The abstract has {words} words, more than {word_limit}: no main result is left out to make it shorter."
        )
    typer.echo(f"{len(files)} files. Contents: {out / 'index.html'}")


def day_of_lock(register: Path, frozen: str) -> date:
    """The day on which the data were locked, so that the same lock gives the same pack on any day."""
    from outcomes.errors import WrongUsage
    from outcomes.store import freezes_of
    from outcomes.store.archive import read_manifest

    for each in freezes_of(register):
        if each.name == frozen and not each.sealed:
            return date.fromisoformat(str(read_manifest(each.place)["frozen_at"])[:10])
        if each.name == frozen:
            raise WrongUsage(f"the freeze {frozen} is sealed and does not tell its day; give --as-of")
    with opened(register, frozen):  # there is none of that name, and this says which there are
        return date.min


def gathered(
    register: Path, frozen: str, chosen: Selection, request: PackRequest, *, elsewhere: Executor | None = None
) -> PackContent:
    """Everything that the pack is made of; the register itself is not touched."""
    from outcomes.cli.progress import steps
    from outcomes.findings import at_level, case_series, compare, stamp
    from outcomes.findings.disclosure.levels import facts_at, shared_at
    from outcomes.findings.disclosure.microdata import not_requested, shared_data
    from outcomes.findings.study_facts import congress
    from outcomes.report.pack.assembly import PackContent

    with opened(register, frozen) as held:
        protocol = held.protocol
        series = case_series(held, protocol, chosen)
        mark = stamp(series, digest=held.digest, frozen=frozen, software=f"outcomes {__version__}")
        with steps() as step:
            comparison = compare(series, mark, progress=step, elsewhere=elsewhere)
        facts = congress(held, series, comparison)
    comparison = at_level(comparison, protocol, request.level)
    facts = facts_at(request.level, facts, comparison, protocol)
    data = shared_at(request.level, shared_data(series, mark)) if request.with_data else not_requested(series)
    return PackContent(comparison, facts, data, protocol, request)
