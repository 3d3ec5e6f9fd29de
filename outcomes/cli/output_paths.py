"""Check that a command may write to a path, and leave nothing there when writing fails."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
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


@contextmanager
def written(out: Path) -> Iterator[None]:
    """What the block writes to a new file or folder is there whole, or not at all; WrongUsage where the system refuses it."""
    was_there = out.exists()
    try:
        yield
    except BaseException as error:
        if not was_there:
            shutil.rmtree(out) if out.is_dir() else out.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise WrongUsage(f"--out {out} cannot be written: {error.strerror or error}") from error
        raise


@contextmanager
def report_folder(out: Path) -> Iterator[None]:
    """A folder for a report, without what an earlier report left there: nothing stale may stand beside the new.

    Raises WrongUsage for a folder that holds anything but an earlier report. Nothing is left of a report that fails.
    """
    with written(out):
        _empty_of_report(out)
        try:
            yield
        except BaseException:
            _remove_report(out)
            raise


def _empty_of_report(out: Path) -> None:
    _refuse_file(out)
    if out.is_dir() and any(out.iterdir()):
        if not (out / MARK).is_file():
            raise WrongUsage(f"--out {out} holds other files; name a new or an empty folder")
        _remove_report(out)
        typer.echo(f"The earlier report in {out} is replaced.")
    _make(out)


def _remove_report(out: Path) -> None:
    for pattern in MADE_BY_COMPARE:
        for file in out.glob(pattern):
            file.unlink()
    for folder in (out / "charts", out / "tables"):
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


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
