"""`outcomes load`: check a workbook or a folder of CSVs, and store it whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import code_of, now, patience
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.plurals import counted
from outcomes.errors import DataRefused

if TYPE_CHECKING:
    from outcomes.capture import CheckedRows
    from outcomes.store import LoadResult

QUERIES_SHOWN = 40


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(load)


def load(
    path: Annotated[
        Path, typer.Argument(metavar="PATH", help="A workbook (.xlsx), or a folder with the four CSV files.")
    ],
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Annotated[str, typer.Option("--who", help="Code of the person who loads, kept in the history.")] = "",
) -> None:
    """Load a sheet. Every problem of all sheets is listed and nothing is stored; odd but legal rows are stored and listed."""
    stored, checked = load_path(path, register, as_of=as_of, who=who)
    say_loaded(path, stored, checked)


def load_path(path: Path, register: Path, *, as_of: str | None = None, who: str = "") -> tuple[LoadResult, CheckedRows]:
    """Load one path into the register; raises DataRefused with every problem, and then nothing was stored."""
    from outcomes.capture import check_sheets, digest_of, read_sheets
    from outcomes.cli.progress import bar
    from outcomes.store import Source, reading, record_rows

    with reading(register, patience()) as held:
        protocol, rows_held = held.protocol, held.held()
    digest = digest_of(path)
    raw = read_sheets(path, protocol)
    with bar("checking") as progress:
        checked = check_sheets(raw, protocol, as_of=as_of_day(as_of), held=rows_held, progress=progress)
    if checked.problems:
        raise DataRefused(
            f"{path} holds {counted(len(checked.problems), 'problem')}; nothing was stored. Mend these in the sheet and load it again:",
            list(checked.problems),
        )
    source = Source(path.name, digest, who=code_of(who), reason="")
    stored = record_rows(register, checked.rows, queries=checked.queries, source=source, at=now(), patience=patience())
    return stored, checked


def say_loaded(path: Path, recorded: LoadResult, checked: CheckedRows) -> None:
    """Say what was stored, amended, skipped, withheld and queried."""
    from outcomes.protocol import SHEETS

    typer.echo(f"Loaded {path}:")
    for sheet in SHEETS:
        stored, amended, skipped, withheld = (
            counts.get(sheet, 0) for counts in (recorded.stored, recorded.amended, recorded.skipped, recorded.withheld)
        )
        told = f"  {sheet:<16} {stored:>6} stored {amended:>6} amended {skipped:>6} skipped (already held)"
        typer.echo(told + (f" {withheld:>6} withheld (patient withdrew)" if withheld else ""))
    for each in recorded.overruled:
        typer.echo(
            f"  Correct the sheet: {each.sheet} {' '.join(each.key)}, {each.field}: it says {each.said}, amended to {each.stands}"
        )
    say_queries([f"{query.sheet} row {query.row}: {query.says}" for query in checked.queries])


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
