"""`outcomes explain`: what one printed number of a pack means, how it was asked for, and which cases are behind it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from outcomes.cli.options import DEFAULT_REGISTER, RegisterPath, Sites, Surgeons, opened

if TYPE_CHECKING:
    from outcomes.findings import Selection
    from outcomes.findings.trace.explanation import Trace


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(explain)


def explain(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder of a pack.")],
    number: Annotated[
        str, typer.Argument(metavar="NUMBER-ID", help="The address of a number, as numbers.csv of the pack lists it.")
    ],
    register: RegisterPath = DEFAULT_REGISTER,
    site: Sites = None,
    surgeon: Surgeons = None,
) -> None:
    """Say what a number of a pack means, and list its cases by study code: for the surgeon's own machine only.

    A pack that was made for others does not hold the codes of the sites and surgeons that were chosen: give them again.
    """
    from outcomes.errors import RegisterRefused
    from outcomes.findings import case_series
    from outcomes.findings.trace.explanation import trace

    tree, record = _read(folder, "comparison.json"), _read(folder, "pack.json")
    value = _value(tree, number, folder)
    with opened(register, record["frozen"]) as held:
        if held.digest != record["register"]:
            raise RegisterRefused(
                f"{folder} was made from the rows {record['register'][:12]}, and the freeze {record['frozen']} of {register.name} "
                f"now holds {held.digest[:12]}; make the pack anew"
            )
        series = case_series(held, held.protocol, selection_of(record["asked"], site or (), surgeon or ()))
        _check_cases(series.cases.height, tree["register"]["cases"])
        traced = trace(held, series, tree, number)
        extracts = {name: held.extract_sql(name).strip() for name in traced.extracts}
    _say(number, value, traced)
    for name, sql in extracts.items():
        typer.echo(f"\nExtract {name}:\n{sql}")


def _read(folder: Path, name: str) -> dict[str, Any]:
    from outcomes.errors import WrongUsage

    try:
        held: dict[str, Any] = json.loads((folder / name).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise WrongUsage(
            f"{folder} is no pack: its {name} cannot be read; name a folder that `outcomes pack` made"
        ) from None
    return held


def _value(tree: dict[str, Any], number: str, folder: Path) -> object:
    from difflib import get_close_matches

    from outcomes.errors import WrongUsage
    from outcomes.findings.trace.addresses import value_at

    try:
        value = value_at(tree, number)
    except (KeyError, IndexError, ValueError):
        import csv

        with (folder / "numbers.csv").open(encoding="utf-8-sig", newline="") as held:
            known = list(dict.fromkeys(row["id"] for row in csv.DictReader(held)))
        near = get_close_matches(number, known, n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise WrongUsage(
            f'no number "{number}" in {folder}{hint}; numbers.csv there lists every address, under id'
        ) from None
    return value


def selection_of(asked: dict[str, Any], sites: Sequence[str] = (), surgeons: Sequence[str] = ()) -> Selection:
    """The filters of the pack, from what it recorded of them, and the codes given again where it recorded their number only."""
    from outcomes.findings import Selection

    asked = asked | {
        "sites": _codes("site", asked["sites"], sites),
        "surgeons": _codes("surgeon", asked["surgeons"], surgeons),
    }
    as_of, first, last = (
        date.fromisoformat(asked[name]) if asked[name] else None for name in ("as_of", "operated_from", "operated_to")
    )
    lists = (tuple(asked[name]) for name in ("sites", "surgeons", "diagnoses", "windows", "measures"))
    return Selection(as_of or date.min, first, last, *lists)


def _codes(option: str, recorded: list[str] | int, given: Sequence[str]) -> Sequence[str]:
    """The codes that a filter had: as the pack recorded them, or as many as it says, given again."""
    from outcomes.errors import WrongUsage

    if isinstance(recorded, int):
        if recorded != len(given):
            raise WrongUsage(
                f"the pack is of {recorded} {option} codes chosen and does not hold them; add --{option} for each"
            )
        return given
    if given:
        raise WrongUsage(f"the pack holds its own filters; leave --{option} out")
    return recorded


def _check_cases(found: int, told: int) -> None:
    from outcomes.errors import WrongUsage

    if found != told:
        raise WrongUsage(
            f"the pack is of {told} cases, and these filters give {found}; give the --site and --surgeon that it had"
        )


def _say(number: str, value: object, traced: Trace) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    typer.echo(f"{number}: {'not told, or not estimated' if value is None else value}")
    for line in (*traced.definition, *traced.steps):
        typer.echo(f"  {line}")
    typer.echo(f"  {len(traced.cases)} cases (study codes: for this machine only)")
    table = Table(box=None, pad_edge=False)
    for heading in ("case", "cohort", "what it adds"):
        table.add_column(heading)
    for case in traced.cases:
        table.add_row(Text(case.case), Text(case.cohort), Text(case.what))
    if traced.cases:
        Console(width=100).print(table)
