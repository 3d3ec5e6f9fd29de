"""`outcomes add`: enter a case, a review or an event by prompts, or in one line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Who, code_of, now, patience
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.errors import DataRefused, WrongUsage

if TYPE_CHECKING:
    from datetime import date

    from outcomes.capture import CheckedRows, HeldRows
    from outcomes.cli.prompts import Answers, PromptedRow
    from outcomes.protocol import Field, Protocol, Value

Values = Annotated[
    list[str] | None,
    typer.Argument(metavar="[FIELD=VALUE]…", help="Everything in one line, such as mrd2=5.5; nothing is asked then."),
]
Case = Annotated[str, typer.Argument(metavar="[CASE]", help="Study code of the case; asked for if left out.")]

additions = typer.Typer(
    help='Enter one row by prompts: Enter for not recorded, "back" for the question before, levels by their number. '
    "Nothing is stored before the summary is confirmed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.add_typer(additions, name="add")


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


@additions.command()
def case(values: Values = None, register: RegisterPath = DEFAULT_REGISTER, as_of: AsOf = None, who: Who = "") -> None:
    """Add a reconstruction, and its patient where the register does not hold that one yet."""
    from outcomes.capture.questions import EntryContext
    from outcomes.cli.prompts import PromptedRow, answers_in_line

    opened = _opened(register, as_of, who)
    context = EntryContext(opened.protocol, opened.as_of)
    form = _case_form(opened)
    if values:
        _store(opened, form.rows(answers_in_line(values, form.fields, context)))
    else:
        _prompt(opened, form, PromptedRow(context))


@additions.command()
def review(
    case: Case = "",
    values: Values = None,
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Add a review of a case: the main measures first, the further ones if wanted."""
    from outcomes.capture.questions import review_questions

    opened = _opened(register, as_of, who)
    _add_dated(opened, "reviews", case, values, review_questions(opened.protocol))


@additions.command()
def event(
    case: Case = "",
    values: Values = None,
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Add an event of a case, such as a revision or a recurrence."""
    opened = _opened(register, as_of, who)
    _add_dated(opened, "events", case, values, (opened.protocol.sheet("events"),))


def _opened(register: Path, as_of: str | None, who: str) -> OpenRegister:
    from outcomes.store import reading

    with reading(register, patience()) as opened:
        return OpenRegister(register, opened.protocol, opened.held(), as_of_day(as_of), code_of(who))


# ------------------------------------------------------------------ cases


def _case_form(opened: OpenRegister) -> EntryForm:
    """The patient's code, the patient's fields where the patient is new, then those of the case."""
    from outcomes.capture.questions import case_questions

    code, *fields = case_questions(opened.protocol)
    of_case = tuple(each for each in fields if each.sheet != "patients")

    def ask_code(row: PromptedRow) -> bool:
        return row.ask_all((code,))

    def ask_rest(row: PromptedRow) -> bool:
        known = _held_patient(opened, row.answers[code.id])
        if known and row.given[code.id] != known:
            row.given[code.id] = known
        if known:
            typer.echo(f"  {known} is in the register; only the case is asked for.")
        return row.ask_all(of_case if known else tuple(fields))

    return EntryForm((code, *fields), (ask_code, ask_rest), lambda answers: _case_rows(opened, answers))


def _held_patient(opened: OpenRegister, code: Value) -> str:
    return next((key[0] for key in opened.held["patients"] if _same(key[0], code)), "")


def _same(one: Value, other: Value) -> bool:
    from outcomes.protocol import folded_code

    return folded_code(str(one)) == folded_code(str(other))


def _case_rows(opened: OpenRegister, answers: Answers) -> dict[str, Answers]:
    rows = {
        sheet: {each.id: answers[each.id] for each in opened.protocol.sheet(sheet) if each.id in answers}
        for sheet in ("patients", "reconstructions")
    }
    if _held_patient(opened, answers["patient_id"]):
        del rows["patients"]
    return rows


# ------------------------------------------------------------------ reviews and events


def _add_dated(
    opened: OpenRegister, sheet: str, case: str, values: Sequence[str] | None, questions: tuple[tuple[Field, ...], ...]
) -> None:
    """Add one review or event, in one line or by prompts."""
    from outcomes.capture.questions import EntryContext
    from outcomes.cli.prompts import PromptedRow, answers_in_line

    code = _known_case(opened, case) if case or values else _asked_case(opened)
    divided = opened.held["reconstructions"][(code,)].get("divided_on")
    context = EntryContext(opened.protocol, opened.as_of, divided)
    fields = tuple(each for part in questions for each in part)
    form = EntryForm(fields, _steps(questions), lambda answers: {sheet: answers})
    if values:
        _store(opened, form.rows(answers_in_line([f"case_id={code}", *values], fields, context)))
        return
    if sheet == "reviews" and divided is None:
        typer.echo("  This case is not divided: only what is recorded before division is asked for.")
    _prompt(opened, form, PromptedRow(context, {"case_id": code}, _last_values(opened, sheet, code)))


def _steps(questions: tuple[tuple[Field, ...], ...]) -> tuple[Callable[[PromptedRow], bool], ...]:
    """The first questions, and the further ones, which are asked only if wanted."""
    from outcomes.cli.prompts import typed

    def ask_first(row: PromptedRow) -> bool:
        return row.ask_all(questions[0])

    def ask_further(row: PromptedRow) -> bool:
        begun = any(each in questions[1] for each in row.asked)
        wanted = begun or typed("Further measures? y, or Enter to go on").casefold() in {"y", "yes"}
        return row.ask_all(questions[1]) if wanted else True

    return (ask_first, ask_further) if len(questions) > 1 else (ask_first,)


def _asked_case(opened: OpenRegister) -> str:
    from outcomes.cli.prompts import typed

    while True:
        try:
            return _known_case(opened, typed("Case study code"))
        except WrongUsage as slip:
            typer.echo(f"  {slip.summary}")


def _known_case(opened: OpenRegister, code: str) -> str:
    from outcomes.capture.sheet_names import nearest

    codes = [key[0] for key in opened.held["reconstructions"]]
    found = next((each for each in codes if _same(each, code)), None)
    if found is None:
        hint = (
            nearest(code, tuple(each.casefold() for each in codes))
            if codes
            else "; the register holds no case yet: outcomes add case"
        )
        raise WrongUsage(f'the register holds no case "{code}"{hint}')
    return found


def _last_values(opened: OpenRegister, sheet: str, code: str) -> dict[str, str]:
    """The last recorded value of each field of the case's reviews or events, with its day."""
    day = {"reviews": "reviewed_on", "events": "happened_on"}[sheet]
    rows = [row for row in opened.held[sheet].values() if row.get("case_id") == code]
    last: dict[str, str] = {}
    for row in sorted(rows, key=lambda each: str(each[day])):
        for field in opened.protocol.sheet(sheet):
            if field.id in row and field.id not in {"case_id", day}:
                value = row[field.id]
                last[field.id] = f"{field.word(field.number(value) or 0) if field.levels else value} on {row[day]}"
    return last


# ------------------------------------------------------------------ asking, checking and storing


def _prompt(opened: OpenRegister, form: EntryForm, row: PromptedRow) -> None:
    """Ask, show the summary with what is odd, and store once that is confirmed; a refusal leads back to its question."""
    from outcomes.cli.prompts import BACK, DROP, confirmed_save, say_summary

    while True:
        while not all(step(row) for step in form.steps):
            pass
        rows = form.rows(row.answers)
        checked = _checked(opened, rows)
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


def _checked(opened: OpenRegister, rows: dict[str, Answers]) -> CheckedRows:
    from outcomes.capture import RawSheet, RawSheets, RegisterRows, SheetForm, check_sheets

    sheets = tuple(
        RawSheet(sheet, tuple(row), ((2, tuple(row.values())),), SheetForm(decimal_comma=False))
        for sheet, row in rows.items()
    )
    checked = check_sheets(RawSheets("", sheets), opened.protocol, as_of=opened.as_of, held=RegisterRows(opened.held))
    for row in checked.rows:
        if row.key in opened.held[row.sheet]:
            raise DataRefused(
                f"the {row.sheet} hold {' '.join(part for part in row.key if part)} already; nothing was stored. "
                "To correct it: outcomes amend",
                [],
            )
    return checked


def _store(opened: OpenRegister, rows: dict[str, Answers]) -> None:
    checked = _checked(opened, rows)
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
