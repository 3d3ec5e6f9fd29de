"""Files that are written whole or not at all, by way of a part file beside them."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import socket
import sys
import time
from pathlib import Path

_STALE = 3600.0


def real_path(path: Path) -> Path:
    """The file that a symbolic link points to, or the path itself: what replaces a file must not replace a link to it."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def write_safely(to: Path, content: bytes, mode: int = 0o666) -> None:
    """The small file holds all of the content, or what it held before; several processes may do so at once."""
    to = real_path(to)
    for left in to.parent.glob(f".{to.name}.*.part"):
        if is_abandoned(left, left.name.removeprefix(f".{to.name}.")):
            left.unlink(missing_ok=True)
    part = to.with_name(f".{to.name}.{process_tag()}.part")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as file:
            file.write(content)
        put_in_place(part, to)
    finally:
        part.unlink(missing_ok=True)


def process_tag() -> str:
    """What names this process among all that may use the folder: a digest of the machine's name, and its number."""
    return f"{hashlib.sha256(socket.gethostname().encode()).hexdigest()[:6]}-{os.getpid()}"


def is_abandoned(place: Path, tag: str) -> bool:
    """Tell whether the process has ended that left something there under its tag; on another machine, whether it is old."""
    machine, _, process = tag.partition("-")
    number = re.match(r"\d+", process)
    if sys.platform == "win32" or machine != process_tag().partition("-")[0] or not number:
        with contextlib.suppress(OSError):
            return time.time() - place.stat().st_mtime >= _STALE
        return False
    try:
        os.kill(int(number.group()), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def put_in_place(part: Path, to: Path) -> None:
    """The part becomes `to` in one step, which outlives a power cut, with the rights of the file that it replaces."""
    with contextlib.suppress(FileNotFoundError):
        shutil.copymode(to, part)
    sync_file(part)
    part.replace(to)
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
