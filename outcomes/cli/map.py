"""`outcomes map`: look at a sheet of another form, and write a mapping of it to read and edit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.output_paths import written
from outcomes.cli.plurals import counted
from outcomes.cli.template import protocol_of


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("map")(map_sheet)


def map_sheet(
    sheet: Annotated[
        Path, typer.Argument(metavar="SHEET", help="A workbook, a CSV table or a folder of them, in a form of its own.")
    ],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="MAP.toml", help="The mapping; beside the sheet if left out.")
    ] = None,
    register: RegisterPath = DEFAULT_REGISTER,
    protocol: Annotated[
        Path | None, typer.Option("--protocol", help="A protocol file; else the register's own, else the default.")
    ] = None,
    again: Annotated[
        Path | None,
        typer.Option(
            "--again", metavar="MAP.toml", help="Keep this edited mapping, and add the words that it now needs."
        ),
    ] = None,
    as_of: AsOf = None,
) -> None:
    """Look at an old sheet and write a mapping: where each column goes, with evidence and doubts. Nothing is stored."""
    from outcomes.capture import foreign

    rules = protocol_of(register, protocol)
    if not rules.synonyms.headings:
        typer.echo(
            "Note: this register was made before its protocol had synonyms, so few headings and words are known; "
            "take them over with outcomes protocol change, or give a protocol with --protocol.",
            err=True,
        )
    sheets = foreign.read_foreign(sheet)
    if again is None:
        guess = foreign.guess_mapping(sheets, rules, as_of=as_of_day(as_of))
    else:
        edited = foreign.read_mapping(again, rules).mapping
        guess = foreign.completed_mapping(edited, sheets, rules, as_of=as_of_day(as_of))
    path = out or sheet.with_name(f"{sheet.stem}-map.toml")
    with written(path):
        foreign.write_mapping(path, sheet.name, guess)
    for table in guess.mapping.tables:
        mapped = sum(rule.to != foreign.UNMAPPED for rule in table.columns)
        typer.echo(
            f"{table.sheet}: rows {table.rows[0]} to {table.rows[1]}, {mapped} of {len(table.columns)} columns mapped."
        )
    for name in guess.without_table:
        typer.echo(f"{name}: no row looks like headings; none of it is mapped.")
    if "required" in guess.notes:
        typer.echo(guess.notes["required"] + ".")
    checks, unknown = foreign.doubts_in(guess)
    typer.echo(f"Wrote {path}: {counted(checks, 'line')} marked CHECK, {counted(unknown, 'line')} with a ?.")
    typer.echo(f"Read and edit it, then see what it gives, without storing: outcomes load {sheet} --map {path}")
