"""`outcomes load`: check a workbook or a folder of CSVs, and store it whole or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from outcomes.cli.confirm import Yes, code_of, confirm, now, patience
from outcomes.cli.mapped_load import MappedLoad, load_mapped
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.output_paths import written
from outcomes.cli.plurals import counted
from outcomes.errors import DataRefused, OutcomesError, WrongUsage

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from datetime import date

    from outcomes.capture import CheckedRows, HeldRows, RawSheets
    from outcomes.protocol import Protocol
    from outcomes.store import LoadResult, Register

QUERIES_SHOWN = 40
FAULTS_SHOWN = 40


@dataclass(frozen=True)
class SheetOptions:
    """How the sheets are to be read, where the marked workbook goes, and what a blank cell does to a value held."""

    readings: tuple[str, ...] = ()
    date_order: str = ""
    marked: Path | None = None
    blanks: Literal["keep", "erase"] = "keep"


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
    blanks: Annotated[
        str,
        typer.Option(
            "--blanks", metavar="keep|erase", help="What a blank cell does to a value held: erase lists them and asks."
        ),
    ] = "keep",
    yes: Yes = False,
    link_file: Annotated[
        Path | None, typer.Option("--link-file", help="With --map: keep hospital numbers in this encrypted file.")
    ] = None,
) -> None:
    """Load a sheet, whole or not at all: every kind of problem is listed, or all rows are stored and the odd ones listed.

    A column that is not there and a blank cell change nothing; --blanks erase removes what the sheet leaves blank. With
    --map it is a dry run unless --yes is given.
    """
    if mapping is not None:
        if read or dates or marked or blanks != "keep":
            raise WrongUsage(
                "--read, --dates, --marked and --blanks are for the template's sheets; edit the mapping instead"
            )
        request = MappedLoad(path, mapping, link_file, who)
        result = load_mapped(request, register, as_of=as_of_day(as_of), dry_run=not yes)
        if result is not None:
            say_counts(path, result)
        return
    options = SheetOptions(tuple(read or ()), _order(dates), marked, _blanks_rule(blanks))
    stored, checked = load_path(path, register, options, as_of=as_of, who=who, yes=yes)
    say_loaded(path, stored, checked)


def load_path(
    path: Path,
    register: Path,
    options: SheetOptions = PLAIN,
    *,
    as_of: str | None = None,
    who: str = "",
    yes: bool = False,
) -> tuple[LoadResult, CheckedRows]:
    """Load one path into the register; raises DataRefused with every kind of problem, and then nothing was stored."""
    from outcomes.capture import digest_of
    from outcomes.store import Source, reading, record_rows

    with reading(register, patience()) as opened:
        digest = digest_of(path)
        checked, notes = _checked(path, options, opened, as_of_day(as_of))
    if any(row.erases for row in checked.single):
        _confirm_erasing(checked, yes=yes)
    source = Source(path.name, digest, who=code_of(who), reason="; ".join(notes))
    stored = record_rows(
        register,
        checked.single,
        plain=checked.plain,
        queries=checked.queries,
        source=source,
        at=now(),
        patience=patience(),
    )
    return stored, checked


@dataclass(frozen=True)
class _HeldByRegister:
    """What the open register holds of the patients and cases that a sheet names."""

    register: Register
    blanks: Literal["keep", "erase"]

    def among(self, codes: Mapping[str, Collection[str]]) -> HeldRows:
        from outcomes.capture import HeldRows

        found = self.register.among(codes)
        return HeldRows(found.values, found.amended, self.blanks, found.spellings)


def _checked(path: Path, options: SheetOptions, register: Register, as_of: date) -> tuple[CheckedRows, tuple[str, ...]]:
    """The rows and the notes on how words were read, without the sheets as they were read, which can be large."""
    from outcomes.capture import apply_readings, check_sheets, parse_readings, read_sheets, with_date_order
    from outcomes.cli.progress import bar

    protocol, held = register.protocol, _HeldByRegister(register, options.blanks)
    original = with_date_order(read_sheets(path, protocol), options.date_order)
    raw, notes = apply_readings(original, parse_readings(options.readings, protocol), protocol)
    with bar("checking") as progress:
        checked = check_sheets(raw, protocol, as_of=as_of, held=held, progress=progress)
    for note in (*notes, *checked.notes):
        typer.echo(f"Note: {note}.", err=True)
    if checked.problems:
        raise _refused(path, original, checked, protocol, options)
    return checked, notes


def _blanks_rule(text: str) -> Literal["keep", "erase"]:
    rules: dict[str, Literal["keep", "erase"]] = {"keep": "keep", "erase": "erase"}
    if text not in rules:
        raise WrongUsage(f'--blanks "{text}" must be keep or erase')
    return rules[text]


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
            with written(table):
                write_faults(table, checked.problems)
            files.append(f"Every cell is listed in {table}.")
        except OutcomesError as error:
            files.append(f"Not written: {error.summary}.")
    if options.marked:
        with written(options.marked):
            count = write_marked(options.marked, raw, checked.problems, protocol)
        files.append(f"{counted(count, 'cell')} marked in {options.marked}, each with its remedy as a note.")
    summary = f"{path} holds {counted(len(checked.problems), 'problem')} of {counted(len(kinds), 'kind')}; nothing was stored. "
    return DataRefused(
        " ".join([summary + "Mend these in the sheet and load it again.", *files]), list(checked.problems), tuple(lines)
    )


def _confirm_erasing(checked: CheckedRows, *, yes: bool) -> None:
    """List the values that blank cells will remove, and ask; raises WrongUsage unless it is confirmed."""
    going = _blanks(checked, erased=True)
    typer.echo(f"{counted(len(going), 'value')} that this sheet leaves blank:")
    _list(going, len(going))
    confirm(f"{counted(len(going), 'value')} will be removed; the history keeps them.", "erase", yes=yes)


def _blanks(checked: CheckedRows, *, erased: bool) -> list[str]:
    """The values that the sheet leaves blank: those that are removed, or those that are kept."""
    going = {(row.sheet, row.key, name) for row in checked.single for name in row.erases}
    return [str(cell) for cell in checked.blanks if ((cell.sheet, cell.row_key, cell.field) in going) == erased]


def say_loaded(path: Path, recorded: LoadResult, checked: CheckedRows) -> None:
    """Say what was stored, amended, skipped, withheld and queried."""
    say_counts(path, recorded)
    kept = _blanks(checked, erased=False)
    if kept:
        typer.echo(f"Kept: {counted(len(kept), 'value')} that this sheet leaves blank (--blanks erase removes them):")
        _list(kept, QUERIES_SHOWN)
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
    if recorded.removed:
        typer.echo(f"{counted(len(recorded.removed), 'row')} of this sheet stay removed (outcomes restore-row):")
        _list([f"{sheet} {' '.join(filter(None, key))}" for sheet, key in recorded.removed], QUERIES_SHOWN)


def say_queries(queries: list[str]) -> None:
    """List what is valid but unusual, at most a screenful."""
    if not queries:
        typer.echo("No queries: no row was odd.")
        return
    typer.echo(f"{counted(len(queries), 'query', 'queries')} (valid but unusual; stored; check against the notes):")
    _list(queries, QUERIES_SHOWN)


def _list(lines: list[str], shown: int) -> None:
    for number, line in enumerate(lines[:shown], start=1):
        typer.echo(f"{number:>4}. {line}")
    if len(lines) > shown:
        typer.echo(f"      and {len(lines) - shown} more")
