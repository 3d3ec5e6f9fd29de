"""Connections to a register: many readers or one writer, each only as long as one reading or one change takes.

Whoever finds the register busy waits a little, then is refused with the number of the process that holds it. Nothing is
ever spilled to disk beside the register.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.store.files import holder, is_busy, refusal
from outcomes.store.sql import quoted
from outcomes.whole_files import real_path

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
Connect = Callable[[Path], duckdb.DuckDBPyConnection]


def _silent(message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True)
class Patience:
    """How long to wait for a busy register, and where to say so while waiting."""

    seconds: float = 10.0
    say: Callable[[str], None] = _silent


PATIENT = Patience()


@contextmanager
def open_to_read(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that can neither write nor reach any other file; other readers may be there at the same time."""
    with _open(path, patience, _read_only) as con:
        shut_in(con)
        yield con


@contextmanager
def open_beside(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to a database in memory that has the register, as `register`, beside it and cannot write to that."""
    with _open(path, patience, _beside) as con:
        yield con


@contextmanager
def open_to_copy(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that cannot write to the register, but to other files; other readers may be there."""
    with _open(path, patience, _read_only) as con:
        yield con


def shut_in(con: duckdb.DuckDBPyConnection) -> None:
    """The connection can reach no file but its own from now on."""
    if not _is_locked(con):
        con.execute("set enable_external_access = false")
        con.execute("set lock_configuration = true")


@contextmanager
def open_to_write(path: Path, patience: Patience = PATIENT) -> Iterator[duckdb.DuckDBPyConnection]:
    """The only connection to the register while it lasts."""
    with _open(path, patience, _connect) as con:
        yield con


@contextmanager
def in_memory() -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to nothing on disk, for a freeze that is read or a file that is written anew."""
    con = _connect(":memory:")
    try:
        yield con
    finally:
        con.close()


@contextmanager
def new_file(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to a database file that is made now and lies whole on the disk afterwards."""
    try:
        con = _connect(path)
    except duckdb.Error as error:
        raise refusal(path, error) from error
    try:
        yield con
        con.execute("checkpoint")
    except duckdb.Error as error:
        raise refusal(path, error) from error
    finally:
        con.close()


def _connect(to: Path | str, *, read_only: bool = False) -> duckdb.DuckDBPyConnection:
    """A connection that says nothing: where Python has no file to run, the database would print how far a statement is."""
    con = duckdb.connect(str(to), read_only=read_only, config=_CONFIG)
    if not _is_locked(con):  # as another reader in this process has it
        con.execute("set enable_progress_bar = false")
    return con


def _is_locked(con: duckdb.DuckDBPyConnection) -> bool:
    return bool(con.execute("select current_setting('lock_configuration')").fetchall()[0][0])


def _read_only(path: Path) -> duckdb.DuckDBPyConnection:
    return _connect(path, read_only=True)


def _beside(path: Path) -> duckdb.DuckDBPyConnection:
    con = _connect(":memory:")
    try:
        con.execute(f"attach {quoted(path)} as register (read_only)")
        con.execute("use register")
    except duckdb.Error:
        con.close()
        raise
    return con


@contextmanager
def _open(path: Path, patience: Patience, connect: Connect) -> Iterator[duckdb.DuckDBPyConnection]:
    path = real_path(path)
    _check_file(path)
    con = _connected(path, patience, connect)
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


def _connected(path: Path, patience: Patience, connect: Connect) -> duckdb.DuckDBPyConnection:
    """Connect, waiting while another process holds the file."""
    end = time.monotonic() + patience.seconds
    announced = False
    with _turn(path, end):
        while True:
            before = _identity(path)
            try:
                con = connect(path)
            except duckdb.Error as error:
                if not is_busy(error) or time.monotonic() >= end:
                    raise refusal(path, error) from error
                if not announced:
                    patience.say(f"{path.name} is in use{holder(error)}; waiting up to {patience.seconds:g} seconds")
                    announced = True
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
        stat = path.stat()
    except OSError:
        return 0, 0
    return stat.st_dev, stat.st_ino
