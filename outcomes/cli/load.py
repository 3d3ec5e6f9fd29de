"""`outcomes load`: check a workbook or a folder of CSVs, and store it whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Yes, code_of, confirm, now, patience
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.plurals import counted
from outcomes.errors import DataRefused, WrongUsage

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
    blanks: Annotated[
        str,
        typer.Option(
            "--blanks", metavar="keep|erase", help="What a blank cell does to a value held: erase lists them and asks."
        ),
    ] = "keep",
    yes: Yes = False,
) -> None:
    """Load a sheet. Every problem of all sheets is listed and nothing is stored; odd but legal rows are stored and listed.

    A column that is not there and a blank cell change nothing; --blanks erase removes what the sheet leaves blank.
    """
    stored, checked = load_path(path, register, as_of=as_of, who=who, blanks=blanks, yes=yes)
    say_loaded(path, stored, checked)


def load_path(
    path: Path,
    register: Path,
    *,
    as_of: str | None = None,
    who: str = "",
    blanks: str = "keep",
    yes: bool = False,
) -> tuple[LoadResult, CheckedRows]:
    """Load one path into the register; raises DataRefused with every problem, and then nothing was stored."""
    from outcomes.capture import HeldRows, check_sheets, digest_of, read_sheets
    from outcomes.cli.progress import bar
    from outcomes.store import Source, reading, record_rows

    if blanks not in {"keep", "erase"}:
        raise WrongUsage(f'--blanks "{blanks}" must be keep or erase')
    with reading(register, patience()) as opened:
        protocol, held = (
            opened.protocol,
            HeldRows(opened.held(), opened.amended(), "erase" if blanks == "erase" else "keep"),
        )
    digest = digest_of(path)
    raw = read_sheets(path, protocol)
    with bar("checking") as progress:
        checked = check_sheets(raw, protocol, as_of=as_of_day(as_of), held=held, progress=progress)
    if checked.problems:
        raise DataRefused(
            f"{path} holds {counted(len(checked.problems), 'problem')}; nothing was stored. Mend these in the sheet and load it again:",
            list(checked.problems),
        )
    if any(row.erases for row in checked.rows):
        _confirm_erasing(checked, yes=yes)
    source = Source(path.name, digest, who=code_of(who), reason="")
    stored = record_rows(register, checked.rows, queries=checked.queries, source=source, at=now(), patience=patience())
    return stored, checked


def _confirm_erasing(checked: CheckedRows, *, yes: bool) -> None:
    """List the values that blank cells will remove, and ask; raises WrongUsage unless it is confirmed."""
    going = _blanks(checked, erased=True)
    typer.echo(f"{counted(len(going), 'value')} that this sheet leaves blank:")
    _list(going, len(going))
    confirm(f"{counted(len(going), 'value')} will be removed; the history keeps them.", "erase", yes=yes)


def _blanks(checked: CheckedRows, *, erased: bool) -> list[str]:
    """The values that the sheet leaves blank: those that are removed, or those that are kept."""
    going = {(row.sheet, row.key, name) for row in checked.rows for name in row.erases}
    return [str(cell) for cell in checked.blanks if ((cell.sheet, cell.row_key, cell.field) in going) == erased]


def say_loaded(path: Path, recorded: LoadResult, checked: CheckedRows) -> None:
    """Say what was stored, amended, skipped, withheld and queried."""
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
    kept = _blanks(checked, erased=False)
    if kept:
        typer.echo(f"Kept: {counted(len(kept), 'value')} that this sheet leaves blank (--blanks erase removes them):")
        _list(kept, QUERIES_SHOWN)
    if recorded.removed:
        typer.echo(f"{counted(len(recorded.removed), 'row')} of this sheet stay removed (outcomes restore-row):")
        _list([f"{sheet} {' '.join(filter(None, key))}" for sheet, key in recorded.removed], QUERIES_SHOWN)
    say_queries([f"{query.sheet} row {query.row}: {query.says}" for query in checked.queries])


def say_queries(queries: list[str]) -> None:
    """List what is legal but odd, at most a screenful."""
    if not queries:
        typer.echo("No queries: no row was odd.")
        return
    typer.echo(f"{counted(len(queries), 'query', 'queries')} (legal but odd; stored; check against the notes):")
    _list(queries, QUERIES_SHOWN)


def _list(lines: list[str], shown: int) -> None:
    for number, line in enumerate(lines[:shown], start=1):
        typer.echo(f"{number:>4}. {line}")
    if len(lines) > shown:
        typer.echo(f"      and {len(lines) - shown} more")
