"""Check that a command may write to a path."""

from __future__ import annotations

from pathlib import Path

import typer

from outcomes.errors import WrongUsage

MADE_BY_COMPARE = (
    "report.html",
    "charts.html",  # of earlier versions
    "comparison.json",
    "charts/*.svg",
    "charts/*.png",
    "charts/*.vl.json",
    "tables/*.csv",
    "tables/*.html",
)
MARK = "comparison.json"


def new_folder(out: Path) -> None:
    """Make the folder; raises WrongUsage where something is in the way, which is then left as it is."""
    _refuse_file(out)
    if out.is_dir() and any(out.iterdir()):
        raise WrongUsage(f"--out {out} holds files already; name a new or an empty folder")
    _make(out)


def report_folder(out: Path) -> None:
    """Make the folder for a report, without what an earlier report left there: nothing stale may stand beside the new.

    Raises WrongUsage for a folder that holds anything but an earlier report.
    """
    _refuse_file(out)
    if out.is_dir() and any(out.iterdir()):
        if not (out / MARK).is_file():
            raise WrongUsage(f"--out {out} holds other files; name a new or an empty folder")
        for pattern in MADE_BY_COMPARE:
            for file in out.glob(pattern):
                file.unlink()
        typer.echo(f"The earlier report in {out} is replaced.")
    _make(out)


def new_file(out: Path) -> None:
    """Raise WrongUsage where there is a file already: files are never overwritten."""
    if out.exists():
        raise WrongUsage(f"--out {out} exists already; give another name, or remove it first")


def _refuse_file(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise WrongUsage(f"--out {out} is a file; name a folder")


def _make(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WrongUsage(f"--out {out} cannot be made: {error.strerror or error}") from error
