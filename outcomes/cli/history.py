"""`outcomes history`: how one case came to be as it stands."""

from __future__ import annotations

from typing import Annotated

import typer

from outcomes.cli.changing import patience
from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath


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

    from outcomes.store import reading

    with reading(register, patience()) as held:
        past = [each for each in held.history(case) if field in {"", each.field}]
    table = Table(*("change", "when", "sheet", "of", "field", "was", "is", "from", "why"), box=None)
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
            each.reason or each.kind,
        )
        table.add_row(*(Text(cell) for cell in cells))
    Console(soft_wrap=False).print(table)
    typer.echo(f"{len(past)} values in {len({each.change for each in past})} changes.")


def _shown(value: object) -> str:
    return "" if value is None else str(value)
