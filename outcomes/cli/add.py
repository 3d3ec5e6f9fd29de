"""`outcomes add`: enter a case, a review or an event by prompts, or in one line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Who
from outcomes.cli.hand_entry import EntryForm, OpenRegister, enter, opened_register
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.cli.prompts import Answers, PromptedRow
    from outcomes.protocol import Field, Value

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


@additions.command()
def case(values: Values = None, register: RegisterPath = DEFAULT_REGISTER, as_of: AsOf = None, who: Who = "") -> None:
    """Add a reconstruction, and its patient where the register does not hold that one yet."""
    from outcomes.capture.questions import EntryContext
    from outcomes.cli.prompts import PromptedRow

    opened = opened_register(register, as_of_day(as_of), who)
    enter(opened, _case_form(opened), PromptedRow(EntryContext(opened.protocol, opened.as_of)), values)


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

    opened = opened_register(register, as_of_day(as_of), who)
    _add_dated(opened, "reviews", case, values, review_questions(opened.protocol))


@additions.command()
def division(
    case: Case = "",
    values: Values = None,
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Add the division of a case that was stored without it."""
    from outcomes.capture.questions import EntryContext
    from outcomes.cli.prompts import PromptedRow

    opened = opened_register(register, as_of_day(as_of), who)
    code = known_case(opened, case) if case or values else _asked_case(opened)
    held = opened.held.values["reconstructions"][(code,)]
    if held.get("divided_on"):
        raise WrongUsage(f"{code} was divided on {held['divided_on']}; to correct that: outcomes amend")
    day, reason = (opened.protocol.field("reconstructions", name) for name in ("divided_on", "division_early_reason"))
    fields = replace(day, required=True), reason
    whole = {name: value for name, value in held.items() if name not in {field.id for field in fields}}
    form = EntryForm(
        fields,
        (lambda row: row.ask_all(fields),),
        lambda answers: {"reconstructions": {**whole, **answers}},
        frozenset({"reconstructions"}),
    )
    enter(opened, form, PromptedRow(EntryContext(opened.protocol, opened.as_of)), values)


@additions.command()
def event(
    case: Case = "",
    values: Values = None,
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    who: Who = "",
) -> None:
    """Add an event of a case, such as a revision or a recurrence."""
    opened = opened_register(register, as_of_day(as_of), who)
    _add_dated(opened, "events", case, values, (opened.protocol.sheet("events"),))


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
    return next((key[0] for key in opened.held.values["patients"] if _same(key[0], code)), "")


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
    from outcomes.cli.prompts import PromptedRow

    code = known_case(opened, case) if case or values else _asked_case(opened)
    divided = opened.held.values["reconstructions"][(code,)].get("divided_on")
    context = EntryContext(opened.protocol, opened.as_of, divided)
    fields = tuple(each for part in questions for each in part)
    form = EntryForm(fields, _steps(questions), lambda answers: {sheet: answers})
    if sheet == "reviews" and divided is None and not values:
        typer.echo("  This case is not divided: only what is recorded before division is asked for.")
    row = PromptedRow(context, {"case_id": code}, last_values(opened, sheet, code))
    enter(opened, form, row, [f"case_id={code}", *values] if values else None)


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
            return known_case(opened, typed("Case study code"))
        except WrongUsage as slip:
            typer.echo(f"  {slip.summary}")


def known_case(opened: OpenRegister, code: str) -> str:
    """The code of a case as the register writes it; raises WrongUsage with a near one where there is none."""
    from outcomes.capture.sheet_names import nearest

    codes = [key[0] for key in opened.held.values["reconstructions"]]
    found = next((each for each in codes if _same(each, code)), None)
    if found is None:
        hint = (
            nearest(code, tuple(each.casefold() for each in codes))
            if codes
            else "; the register holds no case yet: outcomes add case"
        )
        raise WrongUsage(f'the register holds no case "{code}"{hint}')
    return found


def last_values(opened: OpenRegister, sheet: str, code: str) -> dict[str, str]:
    """The last recorded value of each field of the case's reviews or events, with its day."""
    day = {"reviews": "reviewed_on", "events": "happened_on"}[sheet]
    rows = [row for row in opened.held.values[sheet].values() if row.get("case_id") == code]
    last: dict[str, str] = {}
    for row in sorted(rows, key=lambda each: str(each[day])):
        for field in opened.protocol.sheet(sheet):
            if field.id in row and field.id not in {"case_id", day}:
                value = row[field.id]
                last[field.id] = f"{field.word(field.number(value) or 0) if field.levels else value} on {row[day]}"
    return last
