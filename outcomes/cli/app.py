"""The command line program: its commands, and refusals as sentences.

One command a file. Heavy libraries are imported inside the commands, so that `outcomes --help` answers at once.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Iterable
from concurrent.futures import BrokenExecutor
from importlib import import_module

import typer

from outcomes import __version__
from outcomes.errors import OutcomesError

COMMANDS = (
    "new",
    "protocol",
    "template",
    "map",
    "load",
    "add",
    "due",
    "show",
    "check",
    "amend",
    "remove",
    "restore-row",
    "history",
    "compare",
    "pack",
    "explain",
    "counsel",
    "ask",
    "freeze",
    "backup",
    "restore",
    "export",
    "withdraw",
    "erase",
    "link",
    "demo",
)


def _version(*, asked: bool) -> None:
    if asked:
        typer.echo(f"outcomes {__version__}")
        raise typer.Exit


def start(
    *,
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Say the version and end."),
) -> None:
    """Keep the results of lower-lid reconstructions, and compare grafted with advanced lids honestly.

    Reports past cases of your own register; gives no advice.
    """


def program(commands: Iterable[str] = COMMANDS) -> typer.Typer:
    """The program with these of its commands."""
    app = typer.Typer(
        name="outcomes",
        help="Keep the results of lower-lid reconstructions, and compare grafted with advanced lids honestly. "
        "Reports past cases of your own register; gives no advice.",
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    app.callback()(start)
    for name in commands:
        import_module(f"outcomes.cli.{name.replace('-', '_')}").add_to(app)
    _show_descriptions_whole(app)
    return app


def _show_descriptions_whole(commands: typer.Typer) -> None:
    """The list of commands shows the first sentence of each, however long; without this it is cut to one line."""
    for command in commands.registered_commands:
        command.short_help = _first_sentence(command.help or (command.callback and command.callback.__doc__) or "")
    for group in commands.registered_groups:
        if group.typer_instance is not None:
            group.short_help = _first_sentence(str(group.typer_instance.info.help))
            _show_descriptions_whole(group.typer_instance)


def _first_sentence(text: str) -> str:
    return " ".join(text.split()).partition(". ")[0].removesuffix(".") + "."


def main() -> None:
    """Run one command; a refusal is printed as a sentence and a numbered list, and ends with its exit code."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only get in each other's way
    # Objects: to look for what little circular garbage there is takes a twentieth of the time; at the end, a tenth of a second.
    gc.set_threshold(100_000)
    atexit.register(gc.freeze)
    rights = os.umask(0o077)  # what is written here tells of single patients: for the eyes of its owner only
    named = [word for word in sys.argv[1:2] if word in COMMANDS]  # one command is imported sooner than all
    try:
        program(named or COMMANDS)()
    except OutcomesError as refusal:
        say_refusal(refusal)
        sys.exit(refusal.exit_code)
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        say_refusal(OutcomesError(f"{place}{error.strerror or error}; give another place, or mend its rights"))
        sys.exit(OutcomesError.exit_code)
    except BrokenExecutor:
        say_refusal(
            OutcomesError(
                "a helping process was ended from outside, as when memory runs out; close programs and try again"
            )
        )
        sys.exit(OutcomesError.exit_code)
    except KeyboardInterrupt:
        typer.echo("Stopped. The register holds what it held before this command.", err=True)
        sys.exit(1)
    finally:
        os.umask(rights)


def say_refusal(refusal: OutcomesError) -> None:
    """Print what was refused and why, each reason numbered, to standard error."""
    typer.echo(f"Refused: {refusal.summary}", err=True)
    for number, reason in enumerate(refusal.reasons, start=1):
        typer.echo(f"{number:>4}. {reason}", err=True)
