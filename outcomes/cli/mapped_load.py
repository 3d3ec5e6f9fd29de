"""Load a sheet of another form by its mapping: a dry run that accounts for every cell, then the same with --yes."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from outcomes.cli.confirm import code_of, now, patience
from outcomes.cli.link import PASSPHRASE, passphrase_of_links
from outcomes.cli.plurals import counted
from outcomes.errors import OutcomesError, WrongUsage, column_letters

if TYPE_CHECKING:
    from datetime import date

    from outcomes.capture.foreign import ForeignSheet, MappedRows, MappingFile
    from outcomes.protocol import SheetRow
    from outcomes.store import LoadResult

_KINDS_SHOWN, _CASES_SHOWN, _COMMENTS_SHOWN = 25, 3, 8


@dataclass(frozen=True)
class MappedLoad:
    """What is loaded, by which mapping, and where the hospital numbers go."""

    sheet: Path
    mapping: Path
    link_file: Path | None = None
    who: str = ""


def load_mapped(request: MappedLoad, register: Path, *, as_of: date, dry_run: bool) -> LoadResult | None:
    """Say what the sheet gives by its mapping; store it and give what was stored unless it is a dry run."""
    from outcomes.capture import HeldRows, digest_of
    from outcomes.capture.foreign import BY_LINK, LoadContext, map_rows, read_foreign, read_mapping
    from outcomes.store import Source, reading, record_rows

    with reading(register, patience()) as opened:
        protocol, held = opened.protocol, HeldRows(opened.held(), opened.amended())
    file = read_mapping(request.mapping, protocol)
    sheets = read_foreign(request.sheet)
    context = LoadContext(protocol, as_of, held, _links(request.link_file))
    mapped = map_rows(sheets, file.mapping, context)
    _say(request, sheets, file, mapped)
    if dry_run:
        typer.echo(
            f"Dry run: nothing was stored. To store it: outcomes load {request.sheet} --map {request.mapping} --yes"
        )
        return None
    if file.mapping.patient_code == BY_LINK and request.link_file is None:
        raise WrongUsage(
            "the sheet names its patients by hospital number only; give --link-file, which keeps which study code is whose"
        )
    who = code_of(request.who)
    reason = f"by the mapping {file.name} (SHA-256 {file.digest[:12]}): {file.content}"
    source = Source(request.sheet.name, digest_of(request.sheet), who=who, reason=reason)
    _keep_links(request.link_file, mapped.numbers)
    checked = mapped.checked
    return record_rows(register, checked.rows, queries=checked.queries, source=source, at=now(), patience=patience())


def _links(link_file: Path | None) -> dict[str, str] | None:
    """The study codes by hospital number that the link file holds already."""
    from outcomes.identity import read_links

    if link_file is None:
        return None
    if not link_file.exists():
        return {}
    pairs = read_links(link_file, passphrase_of_links()).pairs
    return {number: code for code, number in pairs.items()}


def _keep_links(link_file: Path | None, numbers: dict[str, str]) -> None:
    """Every hospital number is in the link file afterwards; before anything is stored, so that no code is without its number."""
    from outcomes.identity import add_link

    if link_file is None:
        return
    passphrase = os.environ.get(PASSPHRASE) or passphrase_of_links(again=not link_file.exists())
    for code, number in numbers.items():
        add_link(link_file, passphrase, code, number)
    typer.echo(f"{counted(len(numbers), 'hospital number')} in the link file {link_file}, with their study codes.")


def _say(request: MappedLoad, sheets: tuple[ForeignSheet, ...], file: MappingFile, mapped: MappedRows) -> None:
    from outcomes.capture.foreign import OUTCOMES

    counts = mapped.account.counts()
    typer.echo(f"{request.sheet} by {request.mapping}: {sum(counts.values())} cells")
    typer.echo("  " + ", ".join(f"{counts[outcome]} {outcome}" for outcome in OUTCOMES))
    rows = mapped.checked.rows
    sizes = [
        f"{sum(row.sheet == sheet for row in rows)} {sheet}"
        for sheet in ("patients", "reconstructions", "reviews", "events")
    ]
    typer.echo("  rows to store: " + ", ".join(sizes))
    for note in mapped.checked.notes:
        typer.echo(f"  {note}")
    if mapped.checked.blanks:
        typer.echo(f"  kept: {counted(len(mapped.checked.blanks), 'held value')} that these sheets leave blank")
    _say_unmapped(sheets, file, mapped)
    _say_comments(sheets)
    if mapped.numbers and request.link_file is None:
        typer.echo(
            f"  {counted(len(mapped.numbers), 'hospital number')} not kept; --link-file keeps them, encrypted, away from the register"
        )
    _say_refused(request, mapped)
    _say_first_cases(rows)
    if mapped.checked.queries:
        typer.echo(
            f"{counted(len(mapped.checked.queries), 'query', 'queries')} (valid but unusual; stored with the rows)"
        )


def _say_unmapped(sheets: tuple[ForeignSheet, ...], file: MappingFile, mapped: MappedRows) -> None:
    from outcomes.capture.foreign.account import UNMAPPED_CELL

    columns: dict[tuple[str, int], int] = {}
    for cell, outcome in mapped.account.outcomes.items():
        if outcome == UNMAPPED_CELL:
            columns[cell.sheet, cell.column] = columns.get((cell.sheet, cell.column), 0) + 1
    headings = {(table.sheet, rule.column): rule.heading for table in file.mapping.tables for rule in table.columns}
    for sheet in sheets:
        parts = [
            f'{column_letters(column)} "{headings.get((name, column), "")}" ({count})'
            for (name, column), count in sorted(columns.items())
            if name == sheet.name
        ]
        if parts:
            typer.echo(f"  unmapped columns of {sheet.name}: " + ", ".join(parts))


def _say_comments(sheets: tuple[ForeignSheet, ...]) -> None:
    for sheet in sheets:
        if sheet.comments:
            places = [f"{column_letters(column + 1)}{row + 1}" for row, column in sorted(sheet.comments)]
            more = ", …" if len(places) > _COMMENTS_SHOWN else ""
            typer.echo(
                f"  {counted(len(places), 'comment')} on cells of {sheet.name}, not kept: {', '.join(places[:_COMMENTS_SHOWN])}{more}"
            )


def _say_refused(request: MappedLoad, mapped: MappedRows) -> None:
    from outcomes.capture import fault_kinds, write_faults

    problems = mapped.account.problems()
    if not problems:
        typer.echo("No cell was refused.")
        return
    kinds = fault_kinds(problems)
    typer.echo(f"{counted(len(problems), 'cell')} refused:")
    for number, kind in enumerate(kinds[:_KINDS_SHOWN], start=1):
        typer.echo(f"{number:>4}. {kind}")
    if len(kinds) > _KINDS_SHOWN:
        typer.echo(f"      and {len(kinds) - _KINDS_SHOWN} more kinds")
    table = request.sheet.with_name(f"{request.sheet.stem}-refused.csv")
    try:
        write_faults(table, problems)
        typer.echo(f"Every refused cell is listed in {table}.")
    except OutcomesError as error:
        typer.echo(f"Not written: {error.summary}.", err=True)


def _say_first_cases(rows: tuple[SheetRow, ...]) -> None:
    from outcomes.capture.foreign import first_cases, shown_values

    cases = first_cases(rows, _CASES_SHOWN)
    if cases:
        typer.echo("The first cases as they would stand:")
    for case, others in cases:
        for row in (case, *others):
            code = row.values["patient_id"] if row.sheet == "patients" else row.values["case_id"]
            values = ", ".join(f"{name} {value}" for name, value in shown_values(row).items())
            indent = "  " if row is case else "    "
            typer.echo(f"{indent}{row.sheet.removesuffix('s')} {code}: {values}")
