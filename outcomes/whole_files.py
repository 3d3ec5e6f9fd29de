"""Files that are written whole or not at all, by way of a part file beside them."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path


def real_path(path: Path) -> Path:
    """The file that a symbolic link points to, or the path itself: what replaces a file must not replace a link to it."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def write_safely(to: Path, content: bytes) -> None:
    """The small file holds all of the content, or what it held before; several processes may do so at once."""
    to = real_path(to)
    part = to.with_name(f".{to.name}.{os.getpid()}.part")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            file.write(content)
        put_in_place(part, to)
    finally:
        part.unlink(missing_ok=True)


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
