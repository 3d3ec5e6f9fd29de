"""`outcomes load`: check a workbook or a folder of CSVs, and store it whole or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import code_of, now, patience
from outcomes.cli.mapped_load import MappedLoad, load_mapped
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.plurals import counted
from outcomes.errors import DataRefused, OutcomesError, WrongUsage

if TYPE_CHECKING:
    from outcomes.capture import CheckedRows, RawSheets
    from outcomes.protocol import Protocol
    from outcomes.store import LoadResult

QUERIES_SHOWN = 40
FAULTS_SHOWN = 40


@dataclass(frozen=True)
class SheetOptions:
    """How the sheets are to be read, and where the marked workbook goes."""

    readings: tuple[str, ...] = ()
    date_order: str = ""
    marked: Path | None = None


PLAIN = SheetOptions()


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(load)


def load(
    path: Annotated[
        Path,
        typer.Argument(
            metavar="PATH",
            help="A workbook (.xlsx) or a folder with the four CSV files; with --map, a sheet of any form.",
        ),
    ],
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Annotated[str, typer.Option("--who", help="Code of the person who loads, kept in the history.")] = "",
    read: Annotated[
        list[str] | None,
        typer.Option(
            "--read", metavar="WORD=MEANING", help="What a word of the sheet means, such as 'n.a.=blank'; repeatable."
        ),
    ] = None,
    dates: Annotated[
        str, typer.Option("--dates", metavar="ORDER", help='How the sheet orders a date: "day first" or "month first".')
    ] = "",
    marked: Annotated[
        Path | None,
        typer.Option("--marked", metavar="OUT.xlsx", help="If refused, write the sheets with the faulty cells marked."),
    ] = None,
    mapping: Annotated[
        Path | None,
        typer.Option("--map", metavar="MAP.toml", help="Read a sheet of another form by this mapping; a dry run."),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="With --map: store it.")] = False,
    link_file: Annotated[
        Path | None, typer.Option("--link-file", help="With --map: keep hospital numbers in this encrypted file.")
    ] = None,
) -> None:
    """Load a sheet. Every kind of problem is listed and nothing is stored; odd but legal rows are stored and listed."""
    if mapping is not None:
        if read or dates or marked:
            raise WrongUsage("--read, --dates and --marked are for the template's sheets; edit the mapping instead")
        request = MappedLoad(path, mapping, link_file, who)
        result = load_mapped(request, register, as_of=as_of_day(as_of), dry_run=not yes)
        if result is not None:
            say_counts(path, result)
        return
    options = SheetOptions(tuple(read or ()), _order(dates), marked)
    stored, checked = load_path(path, register, options, as_of=as_of, who=who)
    say_loaded(path, stored, checked)


def load_path(
    path: Path, register: Path, options: SheetOptions = PLAIN, *, as_of: str | None = None, who: str = ""
) -> tuple[LoadResult, CheckedRows]:
    """Load one path into the register; raises DataRefused with every kind of problem, and then nothing was stored."""
    from outcomes.capture import apply_readings, check_sheets, digest_of, parse_readings, read_sheets, with_date_order
    from outcomes.cli.progress import bar
    from outcomes.store import Source, reading, record_rows

    with reading(register, patience()) as opened:
        protocol, held = opened.protocol, opened.held()
    digest = digest_of(path)
    original = with_date_order(read_sheets(path, protocol), options.date_order)
    raw, notes = apply_readings(original, parse_readings(options.readings, protocol), protocol)
    with bar("checking") as progress:
        checked = check_sheets(raw, protocol, as_of=as_of_day(as_of), held=held, progress=progress)
    for note in (*notes, *checked.notes):
        typer.echo(f"Note: {note}.", err=True)
    if checked.problems:
        raise _refused(path, original, checked, protocol, options)
    source = Source(path.name, digest, who=code_of(who), reason="; ".join(notes))
    stored = record_rows(register, checked.rows, queries=checked.queries, source=source, at=now(), patience=patience())
    return stored, checked


def _order(text: str) -> str:
    from outcomes.capture import ORDERS

    if text and text.replace("-", " ") not in ORDERS:
        raise WrongUsage(f'--dates "{text}" is no order; give "day first" or "month first"')
    return text.replace("-", " ")


def _refused(
    path: Path, raw: RawSheets, checked: CheckedRows, protocol: Protocol, options: SheetOptions
) -> DataRefused:
    """The refusal: a line a kind of fault, the full list in a table beside the sheet, and the marked workbook."""
    from outcomes.capture import fault_kinds, write_faults, write_marked

    kinds = fault_kinds(checked.problems)
    lines = [str(kind) for kind in kinds[:FAULTS_SHOWN]]
    if len(kinds) > FAULTS_SHOWN:
        lines.append(f"and {len(kinds) - FAULTS_SHOWN} more kinds")
    files = []
    if len(checked.problems) > len(kinds) or len(kinds) > FAULTS_SHOWN:
        table = path.with_name(f"{path.stem}-problems.csv")
        try:
            write_faults(table, checked.problems)
            files.append(f"Every cell is listed in {table}.")
        except OutcomesError as error:
            files.append(f"Not written: {error.summary}.")
    if options.marked:
        count = write_marked(options.marked, raw, checked.problems, protocol)
        files.append(f"{counted(count, 'cell')} marked in {options.marked}, each with its remedy as a note.")
    summary = f"{path} holds {counted(len(checked.problems), 'problem')} of {counted(len(kinds), 'kind')}; nothing was stored. "
    return DataRefused(
        " ".join([summary + "Mend these in the sheet and load it again.", *files]), list(checked.problems), tuple(lines)
    )


def say_loaded(path: Path, recorded: LoadResult, checked: CheckedRows) -> None:
    """Say what was stored, amended, skipped, withheld and queried."""
    say_counts(path, recorded)
    say_queries([f"{query.sheet} row {query.row}: {query.says}" for query in checked.queries])


def say_counts(path: Path, recorded: LoadResult) -> None:
    """Say how many rows were stored, amended, skipped or withheld, and which amended values the sheet repeats."""
    from outcomes.protocol import SHEETS

    typer.echo(f"Loaded {path}:")
    for sheet in SHEETS:
        stored, amended, skipped, withheld = (
            counts.get(sheet, 0) for counts in (recorded.stored, recorded.amended, recorded.skipped, recorded.withheld)
        )
        line = f"  {sheet:<16} {stored:>6} stored {amended:>6} amended {skipped:>6} skipped (already held)"
        typer.echo(line + (f" {withheld:>6} withheld (patient withdrew)" if withheld else ""))
    for each in recorded.overruled:
        typer.echo(
            f"  Correct the sheet: {each.sheet} {' '.join(each.key)}, {each.field}: it says {each.said}, amended to {each.stands}"
        )


def say_queries(queries: list[str]) -> None:
    """List what is legal but odd, at most a screenful."""
    if not queries:
        typer.echo("No queries: no row was odd.")
        return
    typer.echo(f"{counted(len(queries), 'query', 'queries')} (legal but odd; stored; check against the notes):")
    for number, query in enumerate(queries[:QUERIES_SHOWN], start=1):
        typer.echo(f"{number:>4}. {query}")
    if len(queries) > QUERIES_SHOWN:
        typer.echo(f"      and {len(queries) - QUERIES_SHOWN} more")
