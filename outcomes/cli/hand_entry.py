"""One entry by hand: the register as it stands, asking, checking and storing it whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from outcomes.cli.confirm import code_of, now, patience
from outcomes.errors import DataRefused

if TYPE_CHECKING:
    from datetime import date

    from outcomes.capture import CheckedRows, HeldRows
    from outcomes.cli.prompts import Answers, PromptedRow
    from outcomes.protocol import Field, Protocol


@dataclass(frozen=True)
class OpenRegister:
    """The register that is added to, as it stands, and who adds."""

    path: Path
    protocol: Protocol
    held: HeldRows
    as_of: date
    who: str


@dataclass(frozen=True)
class EntryForm:
    """The fields of an entry, the steps in which they are asked, and the rows that the answers make."""

    fields: tuple[Field, ...]
    steps: tuple[Callable[[PromptedRow], bool], ...]
    rows: Callable[[Answers], dict[str, Answers]]
    completes: frozenset[str] = frozenset()  # sheets whose rows are held already and gain values


def opened_register(register: Path, as_of: date, who: str) -> OpenRegister:
    """The register as it stands, read once."""
    from outcomes.capture import HeldRows
    from outcomes.store import reading

    with reading(register, patience()) as opened:
        held = HeldRows(opened.held(), opened.amended())
        return OpenRegister(register, opened.protocol, held, as_of, code_of(who))


def enter(opened: OpenRegister, form: EntryForm, row: PromptedRow, in_line: Sequence[str] | None) -> None:
    """Store the FIELD=VALUE texts given in one line, or what is answered to the prompts where none are."""
    from outcomes.cli.prompts import answers_in_line

    if in_line:
        _store_line(opened, form, answers_in_line(in_line, form.fields, row.context))
    else:
        _prompt(opened, form, row)


def _prompt(opened: OpenRegister, form: EntryForm, row: PromptedRow) -> None:
    """Ask, show the summary with what is odd, and store once that is confirmed; a refusal leads back to its question."""
    from outcomes.cli.prompts import BACK, DROP, confirmed_save, say_summary

    while True:
        while not all(step(row) for step in form.steps):
            pass
        rows = form.rows(row.answers)
        checked = _checked(opened, form, rows)
        say_summary(form.fields, row.answers)
        for problem in checked.problems:
            typer.echo(f"  Not possible: {problem.field} {problem.what}")
        for query in checked.queries:
            typer.echo(f"  Odd, but kept if you save: {query.says}")
        choice = BACK if checked.problems else confirmed_save()
        if choice == DROP:
            typer.echo("Left; nothing was stored.")
            return
        if choice != BACK:
            _record(opened, rows, checked)
            return
        row.reopen([problem.field for problem in checked.problems])


def _checked(opened: OpenRegister, form: EntryForm, rows: dict[str, Answers]) -> CheckedRows:
    from outcomes.capture import RawSheet, RawSheets, SheetForm, check_sheets

    sheets = tuple(
        RawSheet(sheet, tuple(row), ((2, tuple(row.values())),), SheetForm(decimal_comma=False))
        for sheet, row in rows.items()
    )
    checked = check_sheets(RawSheets("", sheets), opened.protocol, as_of=opened.as_of, held=opened.held)
    for row in checked.rows:
        if row.key in opened.held.values[row.sheet] and row.sheet not in form.completes:
            raise DataRefused(
                f"the {row.sheet} hold {' '.join(part for part in row.key if part)} already; nothing was stored. "
                "To correct it: outcomes amend",
                [],
            )
    return checked


def _store_line(opened: OpenRegister, form: EntryForm, answers: Answers) -> None:
    """Store an entry that was given in one line; raises DataRefused for all that is wrong with it."""
    rows = form.rows(answers)
    checked = _checked(opened, form, rows)
    if checked.problems:
        raise DataRefused(
            "that cannot be stored; nothing was changed",
            list(checked.problems),
            tuple(f"{problem.field} {problem.what}" for problem in checked.problems),
        )
    for query in checked.queries:
        typer.echo(f"Odd, but kept: {query.says}")
    _record(opened, rows, checked)


def _record(opened: OpenRegister, rows: dict[str, Answers], checked: CheckedRows) -> None:
    """Every row of the entry is stored, or none is."""
    from outcomes.store import Source, record_rows

    source = Source(who=opened.who, reason="entered by hand")
    record_rows(opened.path, checked.rows, queries=checked.queries, source=source, at=now(), patience=patience())
    named = (f"{sheet.removesuffix('s')} {_name(sheet, row)}" for sheet, row in rows.items())
    typer.echo(f"Stored: {' and '.join(named)}.")


def _name(sheet: str, row: Answers) -> str:
    return " ".join(str(row[name]) for name in _NAMES[sheet])


_NAMES = {
    "patients": ("patient_id",),
    "reconstructions": ("case_id",),
    "reviews": ("case_id", "reviewed_on"),
    "events": ("case_id", "happened_on", "kind"),
}
