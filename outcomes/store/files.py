"""Locks and part files of a register, and sentences for what the system or the database refuses about a file."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.whole_files import put_in_place, real_path

if sys.platform != "win32":
    import fcntl


class RegisterBusy(RegisterRefused):
    """Somebody has the register open: it is well, and can be used later."""


def is_busy(error: Exception) -> bool:
    """Tell whether the error says that another process has the file open."""
    text = str(error)
    return "Could not set lock" in text or "being used by another process" in text


def holder(error: Exception) -> str:
    """Which process has the file open, as far as the error says it."""
    match = re.search(r"PID (\d+)", str(error))
    return f" by another process (PID {match.group(1)})" if match else " by another process"


_BUSY = (
    "is in use{holder}; close that program, or try again later",
    "is already open in this program; finish reading before anything is written",
)
_SENTENCES = (
    (r"Could not set lock|being used by another process", _BUSY[0]),
    (r"different configuration", _BUSY[1]),
    (
        r"No space left|File too large|not enough space|quota|Could not write",
        "cannot be written: the disk is full or the file may not grow; nothing was changed",
    ),
    (
        r"Permission denied|Read-only file system|Access is denied|not permitted|read-only mode",
        "may not be opened or written in its folder; check the permissions of file and folder",
    ),
    (r"No such file|Not a directory|cannot find", "cannot be found; check the path and that its folder exists"),
    (r"with version number", "was written by a newer version of the database; update this program first"),
    (
        r"not a valid DuckDB database|sqlite|extension",
        "is not a register of this program; give the path of a register file",
    ),
    (
        r"orrupt|checksum|not read enough bytes|erializ|out of range|INTERNAL Error|FATAL Error|invalidated",
        "is damaged and cannot be read; restore the last backup with `outcomes restore`",
    ),
    (r"", "cannot be used: {text}"),
)


def refusal(path: Path, error: Exception) -> RegisterRefused:
    """What DuckDB or the system said about a file, as a sentence with its remedy."""
    text = str(error)
    says = next(says for pattern, says in _SENTENCES if re.search(pattern, text, re.IGNORECASE))
    kind = RegisterBusy if says in _BUSY else RegisterRefused
    return kind(f"{path} " + says.format(holder=holder(error), text=text.splitlines()[0]))


@contextmanager
def system_errors(path: Path) -> Iterator[None]:
    """Turn what the system refuses about a file into a sentence."""
    try:
        yield
    except OSError as error:
        raise refusal(path, error) from error


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """No other process can open the register while the block lasts, where the system knows such locks.

    Windows knows none of this kind; there a file that is open cannot be replaced, which serves as well.
    """
    if sys.platform == "win32":
        yield
        return
    with system_errors(path), path.open("rb+") as file:
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise RegisterBusy(f"{path} is in use by another process; nothing was changed, try again") from error
        yield


def log_of(path: Path) -> Path:
    """Where the database keeps what it has not yet written into the register's file."""
    return path.with_name(path.name + ".wal")


@contextmanager
def safely_written(to: Path) -> Iterator[Path]:
    """A path to write to: what lies there becomes `to` when the block ends; when it fails, `to` is as it was."""
    to = real_path(to)
    part = part_of(to)
    with system_errors(to):
        part.unlink(missing_ok=True)
        try:
            yield part
            put_in_place(part, to)
        finally:
            part.unlink(missing_ok=True)
            log_of(part).unlink(missing_ok=True)


def part_of(to: Path) -> Path:
    """Where a file or folder is put together before it gets its name."""
    return to.with_name(f".{to.name}.part")
