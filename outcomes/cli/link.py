"""`outcomes link`: study code and hospital number, in an encrypted file of their own, away from the register."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from outcomes.errors import WrongUsage

PASSPHRASE, NEW_PASSPHRASE = "OUTCOMES_LINK_PASSPHRASE", "OUTCOMES_LINK_NEW_PASSPHRASE"

LinkFile = Annotated[
    Path | None,
    typer.Option(
        "--link-file", envvar="OUTCOMES_LINK_FILE", help="The link file. Keep it on another disk than the register."
    ),
]
Code = Annotated[str, typer.Argument(metavar="CODE", help="Study code of the patient.")]

links = typer.Typer(
    help="Keep which hospital number belongs to which study code, in an encrypted file away from the register. "
    f"The passphrase is asked for, or taken from {PASSPHRASE}; hospital numbers are asked for, or read from standard input.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.add_typer(links, name="link")


@links.command()
def add(code: Code, link_file: LinkFile = None) -> None:
    """Add a study code with its hospital number, which is asked for. Makes the file when there is none."""
    from outcomes.capture.identifiers import refused_shape
    from outcomes.identity import add_link

    if shape := refused_shape("patient_id", code):
        raise WrongUsage(f"CODE looks like {shape}; give the study code, as the register has it")
    path = _path(link_file)
    passphrase = _passphrase(PASSPHRASE, "Passphrase of the link file", again=not path.exists())
    count = add_link(path, passphrase, code, _number())
    typer.echo(f"{code} is linked; {count} in the file.")


@links.command()
def find(
    code: Annotated[str, typer.Argument(metavar="CODE", help="Study code; leave out with --number.")] = "",
    number: Annotated[bool, typer.Option("--number", help="Find the study code of a hospital number instead.")] = False,
    link_file: LinkFile = None,
) -> None:
    """Print the hospital number of a study code; with --number, the study code of a hospital number."""
    from outcomes.identity import read_links

    if bool(code) == number:
        raise WrongUsage("give a study code, or --number and then the hospital number when asked")
    held = read_links(_path(link_file), _passphrase(PASSPHRASE, "Passphrase of the link file"))
    typer.echo(held.code_of(_number()) if number else held.number_of(code))


@links.command()
def remove(code: Code, link_file: LinkFile = None) -> None:
    """Remove a study code and its hospital number. Copies of the file still hold them."""
    from outcomes.identity import remove_link

    left = remove_link(_path(link_file), _passphrase(PASSPHRASE, "Passphrase of the link file"), code)
    typer.echo(f"{code} is no longer linked; {left} in the file.")


@links.command()
def rotate(link_file: LinkFile = None) -> None:
    """Change the passphrase. Copies made before still open with the old one: delete them."""
    from outcomes.identity import change_passphrase

    path = _path(link_file)
    old = _passphrase(PASSPHRASE, "Old passphrase")
    change_passphrase(path, old, _passphrase(NEW_PASSPHRASE, "New passphrase", again=True))
    typer.echo("The link file opens with the new passphrase only.")


@links.command()
def count(link_file: LinkFile = None) -> None:
    """Say how many patients are linked."""
    from outcomes.identity import read_links

    held = read_links(_path(link_file), _passphrase(PASSPHRASE, "Passphrase of the link file"))
    typer.echo(f"{len(held.pairs)} linked.")


def _path(given: Path | None) -> Path:
    """The link file; there is no default, so that it never lands beside the register by itself."""
    if given is None:
        raise WrongUsage("say where the link file is: --link-file PATH, or set OUTCOMES_LINK_FILE")
    return given


def _passphrase(variable: str, words: str, *, again: bool = False) -> str:
    """The passphrase, from the environment or by prompt; never an argument, which others could see."""
    known = os.environ.get(variable, "")
    if known:
        return known
    if not sys.stdin.isatty():
        raise WrongUsage(f"a passphrase is needed; set {variable}, or run the command on a terminal")
    return str(typer.prompt(words, hide_input=True, confirmation_prompt=again))


def passphrase_of_links(*, again: bool = False) -> str:
    """The passphrase of the link file, from the environment or by prompt."""
    return _passphrase(PASSPHRASE, "Passphrase of the link file", again=again)


def _number() -> str:
    """The hospital number, asked for or read from standard input; never an argument, which a history would keep."""
    if sys.stdin.isatty():
        return str(typer.prompt("Hospital number"))
    return sys.stdin.readline().strip()
