"""The options that several commands share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.findings import Selection
    from outcomes.store import Register

RegisterPath = Annotated[
    Path, typer.Option("--register", envvar="OUTCOMES_REGISTER", help="The register: one file.", show_default=True)
]
DEFAULT_REGISTER = Path("register.duckdb")
AsOf = Annotated[
    str | None,
    typer.Option("--as-of", metavar="DATE", help="The day the result speaks for, as 2024-03-05; today if left out."),
]
Frozen = Annotated[
    str,
    typer.Option(
        "--frozen", metavar="NAME", help="Read a freeze of the register instead of the register as it is now."
    ),
]
OperatedFrom = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="Only lids operated on or after this day.")
]
OperatedTo = Annotated[
    str | None, typer.Option("--to", metavar="DATE", help="Only lids operated on or before this day.")
]
Sites = Annotated[list[str] | None, typer.Option("--site", help="Only this site; may be repeated.")]
Surgeons = Annotated[list[str] | None, typer.Option("--surgeon", help="Only this surgeon; may be repeated.")]
Diagnoses = Annotated[list[str] | None, typer.Option("--diagnosis", help="Only this diagnosis; may be repeated.")]
Windows = Annotated[list[str] | None, typer.Option("--window", help="Only this window; may be repeated.")]
Measures = Annotated[list[str] | None, typer.Option("--measure", help="Only this measure; may be repeated.")]


def day(text: str | None, option: str) -> date | None:
    """Read a date option; raises WrongUsage that names the option."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise WrongUsage(f'{option} "{text}" is no date; type it as year-month-day, such as 2024-03-05') from None


def as_of_day(text: str | None) -> date:
    """The day asked for, or today: the only place where today is looked up. Raises WrongUsage for a day that lies ahead."""
    today = date.today()  # noqa: DTZ011 - the user's own calendar day
    asked = day(text, "--as-of") or today
    if asked > today:
        raise WrongUsage(f"--as-of {asked} lies ahead; nothing is known of it yet")
    return asked


def selection(as_of: date, between: tuple[str | None, str | None], lists: tuple[list[str] | None, ...]) -> Selection:
    """What was asked for: days of operation from and to, then sites, surgeons, diagnoses, windows and measures as typed."""
    from outcomes.findings import Selection

    first, last = between
    return Selection(as_of, day(first, "--from"), day(last, "--to"), *(tuple(each or ()) for each in lists))


@contextmanager
def opened(register: Path, frozen: str) -> Iterator[Register]:
    """The register, or the freeze of it that was named, open for reading; a sealed freeze asks for its passphrase."""
    from outcomes.cli.confirm import passphrase, patience
    from outcomes.store import freezes_of, reading, reading_frozen

    if not frozen:
        with reading(register, patience()) as held:
            yield held
        return
    sealed = any(each.sealed for each in freezes_of(register) if each.name == frozen)
    with reading_frozen(register, frozen, passphrase(needed=sealed)) as held:
        yield held
