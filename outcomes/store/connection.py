"""Who has the register open, and why can it not be opened?

A register is held open only as long as one reading or one change takes. DuckDB lets many read or one write: whoever
finds it busy waits a little, then is told which process holds it. Nothing is ever spilled to disk beside the register.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from outcomes.errors import RegisterRefused

if sys.platform != "win32":
    import fcntl

_CONFIG: dict[str, Any] = {
    "temp_directory": "",
    "autoload_known_extensions": False,
    "autoinstall_known_extensions": False,
    "python_enable_replacements": False,
    "default_block_size": 32768,  # many short columns: a seventh of the size on the disk, at the same speed
}
_PAUSE = 0.05


def _silent(message: str) -> None:
    """Say nothing."""


class RegisterBusy(RegisterRefused):
    """Somebody has the register open: it is well, and can be used later."""


@dataclass(frozen=True)
class Patience:
    """How long to wait for a busy register, and where to say so while waiting."""

    seconds: float = 10.0
    say: Callable[[str], None] = _silent


PATIENT = Patience()


@contextmanager
def open_to_read(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that can neither write nor reach any other file; other readers may be there at the same time."""
    with _open(path, patience, read_only=True) as con:
        shut_in(con)
        yield con


@contextmanager
def open_to_copy(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that cannot write to the register, but to other files; other readers may be there."""
    with _open(path, patience, read_only=True) as con:
        yield con


def shut_in(con: duckdb.DuckDBPyConnection) -> None:
    """The connection can reach no file but its own from now on."""
    if not con.execute("select current_setting('lock_configuration')").fetchall()[0][0]:
        con.execute("set enable_external_access = false")
        con.execute("set lock_configuration = true")


@contextmanager
def open_to_write(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """The only connection to the register while it lasts."""
    with _open(path, patience, read_only=False) as con:
        yield con


@contextmanager
def in_memory() -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to nothing on disk, for a freeze that is read or a file that is written anew."""
    con = duckdb.connect(":memory:", config=_CONFIG)
    try:
        yield con
    finally:
        con.close()


@contextmanager
def new_file(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to a database file that is made now and lies whole on the disk afterwards."""
    try:
        con = duckdb.connect(str(path), config=_CONFIG)
    except duckdb.Error as error:
        raise refusal(path, error) from error
    try:
        yield con
        con.execute("checkpoint")
    except duckdb.Error as error:
        raise refusal(path, error) from error
    finally:
        con.close()


@contextmanager
def _open(path: Path, patience: Patience, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    _check_file(path)
    con = _connected(path, patience, read_only=read_only)
    try:
        yield con
    except duckdb.Error as error:
        raise refusal(path, error) from error
    finally:
        con.close()


def _check_file(path: Path) -> None:
    if path.is_dir():
        raise RegisterRefused(f"{path} is a folder, not a register; give the path of the register file")
    if not path.exists():
        raise RegisterRefused(f"there is no register at {path}; make one with `outcomes new`, or give its path")
    if path.stat().st_size == 0:
        raise RegisterRefused(f"{path} is empty, so it is no register; restore the last backup")


def _connected(path: Path, patience: Patience, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Connect, waiting while another process holds the file."""
    end = time.monotonic() + patience.seconds
    told = False
    with _turn(path, end):
        while True:
            before = _identity(path)
            try:
                con = duckdb.connect(str(path), read_only=read_only, config=_CONFIG)
            except duckdb.Error as error:
                if not is_busy(error) or time.monotonic() >= end:
                    raise refusal(path, error) from error
                if not told:
                    patience.say(f"{path.name} is in use{_holder(error)}; waiting up to {patience.seconds:g} seconds")
                    told = True
                time.sleep(_PAUSE)
                continue
            if _identity(path) == before:
                return con
            con.close()  # the file was replaced between finding and locking it: what we hold is the old one


@contextmanager
def _turn(path: Path, end: float) -> Iterator[None]:
    """Whoever is in this block is next: else a writer who waits for readers to finish is overtaken by new ones for ever.

    A courtesy, no safeguard: where folders cannot be locked, or the turn does not come in time, it is done without.
    """
    folder = _opened_folder(path.parent)
    if folder is None:
        yield
        return
    try:
        while not _taken(folder) and time.monotonic() < end:
            time.sleep(_PAUSE)
        yield
    finally:
        os.close(folder)


def _opened_folder(folder: Path) -> int | None:
    """The folder, open, or None where folders cannot be opened."""
    try:
        return None if sys.platform == "win32" else os.open(folder, os.O_RDONLY)
    except OSError:
        return None


def _taken(folder: int) -> bool:
    """Tell whether there is nothing to wait for: the turn is ours, or the folder knows no locks."""
    try:
        fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def _identity(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_dev, found.st_ino


def is_busy(error: Exception) -> bool:
    """Tell whether the error says that another process has the file open."""
    text = str(error)
    return "Could not set lock" in text or "being used by another process" in text


def _holder(error: Exception) -> str:
    found = re.search(r"PID (\d+)", str(error))
    return f" by another process (PID {found.group(1)})" if found else " by another process"


_BUSY = (
    "is in use{holder}; close that program, or try again later",
    "is already open in this program; finish reading before anything is written",
)
_SAYINGS = (
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
    says = next(says for pattern, says in _SAYINGS if re.search(pattern, text, re.IGNORECASE))
    kind = RegisterBusy if says in _BUSY else RegisterRefused
    return kind(f"{path} " + says.format(holder=_holder(error), text=text.splitlines()[0]))


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
    part = part_of(to)
    with system_errors(to):
        part.unlink(missing_ok=True)
        try:
            yield part
            sync_file(part)
            part.replace(to)
        finally:
            part.unlink(missing_ok=True)
        sync_folder(to.parent)


def part_of(to: Path) -> Path:
    """Where a file or folder is put together before it gets its name."""
    return to.with_name(f".{to.name}.part")


def write_safely(to: Path, content: bytes) -> None:
    """The small file holds all of the content, or what it held before; several processes may do so at once."""
    part = to.with_name(f".{to.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        sync_file(part)
        part.replace(to)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(to.parent)


def sync_file(path: Path) -> None:
    """Make what was written to the file outlive a power cut."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Make renames in the folder outlive a power cut, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
