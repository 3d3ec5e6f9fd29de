"""`outcomes ask`: a question in SQL, one of ours or your own, over the documented views and nothing else."""

from __future__ import annotations

import json
import os
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, Frozen, RegisterPath, as_of_day
from outcomes.cli.output_paths import new_file, written
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.report.tables.model import Table
    from outcomes.store import QueryResult, SqlQuestion

SHOWN = 50
FILES = (".csv", ".parquet", ".json")
NUMBERS = ("INT", "INTEGER", "DOUBLE", "FLOAT")


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(ask)


def ask(
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="A question that comes with the program; see --list.")
    ] = "",
    register: RegisterPath = DEFAULT_REGISTER,
    frozen: Frozen = "",
    as_of: AsOf = None,
    sql: Annotated[str, typer.Option("--sql", help="Your own question: one SELECT.")] = "",
    file: Annotated[Path | None, typer.Option("--file", help="A file with your own question.")] = None,
    setting: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="NAME=VALUE", help="Set $NAME in the question; may be repeated."),
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write .csv, .parquet or .json.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
    show_list: Annotated[bool, typer.Option("--list", help="List the questions, and the views for your own.")] = False,
) -> None:
    """Ask the register a question. It can read the documented views and nothing else: no other file, no setting, no change.

    Answers are rows of single patients or small counts: for the clinic's own eyes, not for sharing.
    """
    if show_list:
        _list()
        return
    if out and out.suffix.lower() not in FILES:
        raise WrongUsage(f"--out {out}: the name must end in {', '.join(FILES[:-1])} or {FILES[-1]}")
    if out:
        new_file(out)
    title, sql_question = _sql_question(name, sql, file, _settings(setting or []), as_of_day(as_of))
    answer = _answer(register, frozen, sql_question)
    if not answer.rows and "case" in sql_question.given:
        _check_case(register, frozen, str(sql_question.given["case"]))
    fields = _stamp_fields(name or "own SQL", sql_question, answer, frozen)
    if out:
        _write(answer, fields, out)
        typer.echo(f"{counted(len(answer.rows), 'row')} in {out}.")
    elif as_json:
        typer.echo(_as_json(answer, fields), nl=False)
    else:
        _print(title, answer, fields)


def _settings(typed: list[str]) -> dict[str, str]:
    for each in typed:
        if "=" not in each:
            raise WrongUsage(f'--set "{each}" must be NAME=VALUE, such as --set months=6')
    return dict(each.split("=", 1) for each in typed)


def _sql_question(
    name: str, sql: str, file: Path | None, typed: dict[str, str], as_of: date
) -> tuple[str, SqlQuestion]:
    """What is asked, in words and in SQL; raises WrongUsage unless exactly one question is given."""
    from outcomes.store import SqlQuestion, guessed, question

    if sum(map(bool, (name, sql, file))) != 1:
        raise WrongUsage("give one question: its NAME (see --list), or --sql, or --file")
    if name:
        known = question(name)
        return known.asks, SqlQuestion(known.sql, known.given(typed, as_of=as_of))
    return "Your own question", SqlQuestion(
        sql or _text_of(file), {each: guessed(value) for each, value in typed.items()}
    )


def _text_of(file: Path | None) -> str:
    try:
        return file.read_text(encoding="utf-8") if file else ""
    except (OSError, UnicodeDecodeError) as error:
        raise WrongUsage(f"--file {file} cannot be read as text: {getattr(error, 'strerror', '') or error}") from error


def _answer(register: Path, frozen: str, sql_question: SqlQuestion) -> QueryResult:
    from outcomes.cli.confirm import passphrase, patience
    from outcomes.store import ask, freezes_of

    sealed = any(each.sealed for each in freezes_of(register) if each.name == frozen)
    return ask(register, sql_question, frozen=frozen, passphrase=passphrase(needed=sealed), patience=patience())


def _check_case(register: Path, frozen: str, code: str) -> None:
    """Refuse the code of a case that the register does not hold, with near ones."""
    from outcomes.findings.case_records import known_code
    from outcomes.store import SqlQuestion

    codes = _answer(register, frozen, SqlQuestion("select case_id from cases order by case_id", {}))
    known = known_code([str(case) for (case,) in codes.rows], code)
    if known != code:
        raise WrongUsage(f"--set case={code}: the case is written {known}")


def _stamp_fields(name: str, sql_question: SqlQuestion, answer: QueryResult, frozen: str) -> dict[str, str]:
    """What the answer is stamped with."""
    return {
        "question": name,
        "set": ", ".join(f"{each}={value}" for each, value in sql_question.given.items()),
        "register": answer.digest,
        "frozen": frozen,
        "rows": str(len(answer.rows)),
        "software": f"outcomes {__version__}",
    }


def _stamp(fields: dict[str, str]) -> str:
    return "; ".join(f"{name} {value[:12] if name == 'register' else value}" for name, value in fields.items() if value)


def _write(answer: QueryResult, fields: dict[str, str], out: Path) -> None:
    from outcomes.store import write_parquet

    with written(out):
        if out.suffix.lower() == ".parquet":
            write_parquet(answer, out, fields)
        elif out.suffix.lower() == ".json":
            out.write_text(_as_json(answer, fields), encoding="utf-8")
        else:
            from outcomes.report.tables.writers.csv import as_csv

            text = as_csv(_table("", answer, answer.rows), stamp=_stamp(fields))
            out.write_text(text, encoding="utf-8-sig", newline="")


def _as_json(answer: QueryResult, fields: dict[str, str]) -> str:
    tree = {
        **fields,
        "rows": len(answer.rows),
        "columns": [{"name": name, "type": kind} for name, kind in answer.columns],
        "answer": [list(row) for row in answer.rows],
    }
    return json.dumps(tree, indent=1, ensure_ascii=False) + "\n"


def _print(title: str, answer: QueryResult, fields: dict[str, str]) -> None:
    from rich.console import Console

    from outcomes.report.tables.writers.text import as_text

    Console(width=None if os.isatty(1) else 110).print(as_text(_table(title, answer, answer.rows[:SHOWN], short=True)))
    if len(answer.rows) > SHOWN:
        typer.echo(f"and {counted(len(answer.rows) - SHOWN, 'more row')}; --out FILE.csv holds them all")
    typer.echo(_stamp(fields))


def _table(title: str, answer: QueryResult, rows: tuple[tuple[object, ...], ...], *, short: bool = False) -> Table:
    """The answer as one of our tables, so that every writer makes its text harmless as it does a report's."""
    from outcomes.report.tables.model import Column, Row, Table
    from outcomes.report.traced_text import Figure, Phrase

    def cell(value: object) -> Phrase:
        if isinstance(value, bool) or value is None:
            return ({True: "yes", False: "no", None: ""}[value],)
        if isinstance(value, int | float):
            return (Figure(f"{value:.4g}" if short and isinstance(value, float) else str(value), ""),)
        return (str(value),)

    columns = tuple(Column(name, name, "right" if kind.endswith(NUMBERS) else "left") for name, kind in answer.columns)
    return Table("answer", title, columns, tuple(Row(tuple(cell(value) for value in row)) for row in rows))


def _list() -> None:
    from outcomes.store import questions, views

    typer.echo("Questions (outcomes ask NAME):")
    for each in questions():
        typer.echo(f"\n  {each.name}\n    {each.asks}\n    {each.grain}")
        for setting in each.settings:
            default = setting.default or "must be given"
            typer.echo(f"    --set {setting.name}={default}  ({setting.kind}) {setting.says}")
        typer.echo(f"    Gives: {each.gives}")
    typer.echo("\nViews for your own SELECT (outcomes ask --sql):")
    for view in views():
        typer.echo(f"\n  {view.name}\n    {view.grain}\n    {view.columns}")
