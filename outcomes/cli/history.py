"""`outcomes history`: how one case came to be as it stands."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from outcomes.cli.confirm import patience
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

_REASON_SHOWN = 120


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(history)


def history(
    case: Annotated[str, typer.Argument(metavar="CASE", help="Study code of the case.")],
    field: Annotated[str, typer.Option("--field", help="Only this field.")] = "",
    register: RegisterPath = DEFAULT_REGISTER,
) -> None:
    """Show every version of every value of a case: what, when, from which file or by whom, and why."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from outcomes.store import code_as_held, reading

    case = code_as_held(register, case, patience())
    with reading(register, patience()) as held:
        versions = held.history(case)
    if field and not any(each.field == field for each in versions):
        held_fields = ", ".join(dict.fromkeys(each.field for each in versions))
        raise WrongUsage(f"--field {field}: this case has no value of that name; it has {held_fields}")
    past = [each for each in versions if field in {"", each.field}]
    table = Table(box=None)
    for heading in ("change", "when", "sheet", "of", "field", "was", "is", "from", "why"):
        table.add_column(heading, overflow="fold")
    for each in past:
        cells = (
            str(each.change),
            f"{each.at:%Y-%m-%d %H:%M}",
            each.sheet,
            str(each.day or ""),
            each.field,
            _shown(each.was),
            _shown(each.value),
            each.file or each.who,
            _cut(each.reason) or each.kind,
        )
        table.add_row(*(Text(cell) for cell in cells))
    Console(width=None if os.isatty(1) else 110, soft_wrap=False).print(table)
    typer.echo(f"{counted(len(past), 'value')} in {counted(len({each.change for each in past}), 'change')}.")


def _cut(reason: str) -> str:
    """The beginning of a reason: a load by a mapping keeps the whole mapping in it."""
    return reason if len(reason) <= _REASON_SHOWN else reason[:_REASON_SHOWN] + "…"


def _shown(value: object) -> str:
    return "" if value is None else str(value)
