"""The option `--for`: for whom output is made, and the approval that output for a journal needs."""

from __future__ import annotations

import sys
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.findings import Comparison
    from outcomes.findings.results import Level
    from outcomes.protocol import Protocol


class Purpose(StrEnum):
    """For whom output is made."""

    OWN_EYES = "own-eyes"
    JOURNAL = "journal"
    PUBLIC = "public"

    @property
    def level(self) -> Level:
        """The level that findings know."""
        return _LEVELS[self]


_LEVELS: dict[Purpose, Level] = {
    Purpose.OWN_EYES: "own eyes",
    Purpose.JOURNAL: "journal",
    Purpose.PUBLIC: "public",
}
MEANINGS = (
    "own-eyes: the clinic itself, with single lids and small counts; journal: counts of any size, nothing of single lids; "
    "public: small counts left out"
)
For = Annotated[Purpose, typer.Option("--for", help=f"For whom it is made. {MEANINGS}.")]
AskedFor = Annotated[
    Purpose | None, typer.Option("--for", help=f"For whom it is made; asked on a terminal if left out. {MEANINGS}.")
]
Approved = Annotated[
    str,
    typer.Option(
        "--approved",
        metavar="REFERENCE",
        help="With --for journal: the reference of the ethics or governance decision that allows these counts to be published.",
    ),
]


def chosen_purpose(purpose: Purpose | None) -> Purpose:
    """The purpose asked for; asks on a terminal, and raises WrongUsage where nobody can be asked."""
    if purpose is not None:
        return purpose
    names = ", ".join(Purpose)
    if not sys.stdin.isatty():
        raise WrongUsage(f"say for whom it is made: add --for with one of {names}. {MEANINGS}")
    typer.echo(f"{MEANINGS}.", err=True)
    answer = str(typer.prompt(f"For whom is it made ({names})", err=True)).strip()
    if answer not in set(Purpose):
        raise WrongUsage(f'"{answer}" is not one of {names}; nothing was written')
    return Purpose(answer)


def approval(purpose: Purpose, reference: str) -> str:
    """The reference of the decision that allows output for a journal, as given or asked for; empty for other purposes.

    Raises WrongUsage where it is missing, where it looks like a person, and where it is given for another purpose.
    """
    if purpose is not Purpose.JOURNAL:
        if reference:
            raise WrongUsage("--approved goes with --for journal only; leave it out")
        return ""
    if not reference and not sys.stdin.isatty():
        raise WrongUsage(
            'counts for a journal may point to persons: add --approved "REFERENCE" of the ethics or governance decision '
            "that allows them, or use --for public"
        )
    if not reference:
        reference = str(
            typer.prompt("Reference of the ethics or governance decision that allows these counts", err=True)
        )
    return _checked(reference.strip())


def _checked(reference: str) -> str:
    from outcomes.capture.identifiers import refused_words

    if not reference:
        raise WrongUsage("no decision was named; nothing was written")
    if shape := refused_words(reference):
        raise WrongUsage(f"--approved holds what looks like {shape}; give the reference of the decision alone")
    return reference


def for_purpose(comparison: Comparison, protocol: Protocol, purpose: Purpose) -> Comparison:
    """The comparison as it may be shown for the purpose; the clinic's own eyes see it as it is."""
    if purpose is Purpose.OWN_EYES:
        return comparison
    from outcomes.findings import at_level

    return at_level(comparison, protocol, purpose.level)
