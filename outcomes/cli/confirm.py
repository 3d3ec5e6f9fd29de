"""Shared by the commands that change a register by hand: who, why, when, the passphrase, and confirmation."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.store import Patience, Source

PASSPHRASE = "OUTCOMES_PASSPHRASE"  # noqa: S105 - the name of a variable

Who = Annotated[str, typer.Option("--who", help="Code of the person who does this, kept in the history.")]
Reason = Annotated[str, typer.Option("--reason", help="Why, in a few words without any name; kept in the history.")]
Yes = Annotated[bool, typer.Option("--yes", help="Do it without asking; for scripts.")]
Sealed = Annotated[
    bool, typer.Option("--sealed", help=f"Encrypt it; the passphrase is asked for, or taken from {PASSPHRASE}.")
]


def source(who: str, reason: str) -> Source:
    """Where a change by hand comes from; raises WrongUsage where a person or a number is named, as it is kept for good."""
    from outcomes.capture.identifiers import refused_words
    from outcomes.store import Source

    if held := refused_words(reason):
        raise WrongUsage(f"--reason holds what looks like {held}; say why without it, as the history keeps the words")
    return Source(who=code_of(who), reason=reason)


def code_of(who: str) -> str:
    """The code of who does this; raises WrongUsage where it looks like the person."""
    from outcomes.capture.identifiers import refused_shape

    if shape := refused_shape("assessor", who):
        raise WrongUsage(f"--who looks like {shape}; give a code such as AB, as the history keeps it")
    return who


def now() -> datetime:
    """The moment of the change: with the as-of day, the only time that is looked up."""
    return datetime.now(UTC)


def patience() -> Patience:
    """Wait a while for a busy register, and say so."""
    from outcomes.store import Patience

    return Patience(say=lambda words: typer.echo(words, err=True))


def passphrase(*, needed: bool, again: bool = False) -> str:
    """The passphrase, from the environment or by prompt; empty when none is needed. Never an argument.

    Raises WrongUsage where it is needed and nobody can be asked.
    """
    if not needed:
        return ""
    known = os.environ.get(PASSPHRASE, "")
    if known:
        return known
    if not sys.stdin.isatty():
        raise WrongUsage(f"a passphrase is needed; set {PASSPHRASE}, or run the command on a terminal")
    return str(typer.prompt("Passphrase", hide_input=True, confirmation_prompt=again))


def confirm(question: str, word: str, *, yes: bool) -> None:
    """Go on only when the word is typed; raises WrongUsage otherwise, and nothing was done."""
    if yes:
        return
    if not sys.stdin.isatty():
        raise WrongUsage(f"{question} Nobody can be asked here: add --yes")
    if str(typer.prompt(f"{question} Type {word} to go on", default="", show_default=False)).strip() != word:
        raise WrongUsage("not confirmed; nothing was changed")
