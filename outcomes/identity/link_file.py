"""Read and write the link file: pairs of hospital number and study code.

The pairs lie in one encrypted file, away from the register: never in its backups, never read by a report. The file is
always written whole and put in place in one step, readable by its owner alone.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from outcomes.encryption import SHORTEST_PASSPHRASE, NotDecrypted, decrypted, encrypted, is_encrypted
from outcomes.errors import OutcomesError
from outcomes.protocol import folded_code
from outcomes.whole_files import real_path, write_safely

if sys.platform != "win32":
    import fcntl

_LONGEST = 64
_PATIENCE, _PAUSE = 10.0, 0.05


class LinkRefused(OutcomesError):
    """The link file cannot be used for that; it is as it was."""


@dataclass(frozen=True)
class Links:
    """The pairs, each study code with its hospital number; those that differ only in case or width are one."""

    pairs: dict[str, str]

    def number_of(self, code: str) -> str:
        """The hospital number of a study code; raises LinkRefused when it has none."""
        return self.pairs[self.spelled(code)]

    def spelled(self, code: str) -> str:
        """The study code as the file spells it; raises LinkRefused when it is not there."""
        codes = [each for each in self.pairs if folded_code(each) == folded_code(code)]
        if not codes:
            raise LinkRefused(f'the link file has no study code "{code}"; check the code')
        return codes[0]

    def code_of(self, number: str) -> str:
        """The study code of a hospital number; raises LinkRefused, without repeating the number, when it has none."""
        codes = [code for code, each in self.pairs.items() if folded_code(each) == folded_code(number)]
        if not codes:
            raise LinkRefused("the link file has no such hospital number; check it")
        return codes[0]


def read_links(path: Path, passphrase: str) -> Links:
    """The pairs in the link file; raises LinkRefused for a wrong passphrase, or a file that was altered or cut short."""
    with _system_errors(path):
        if path.is_dir():
            raise LinkRefused(f"{path} is a folder, not a link file; give the path of the file")
        if not path.exists():
            raise LinkRefused(f"there is no link file at {path}; `outcomes link add` makes one, or give its path")
        file = path.read_bytes()
    if not is_encrypted(file):
        raise LinkRefused(f"{path} is no link file of this program, or its beginning was altered; use a copy of it")
    try:
        pairs = json.loads(b"".join(decrypted(io.BytesIO(file), passphrase)))
    except NotDecrypted as error:
        raise LinkRefused(
            f"{path} cannot be opened: the passphrase is wrong, or the file was altered or cut short; "
            "if the passphrase is right, use a copy of the file"
        ) from error
    except ValueError as error:
        raise LinkRefused(f"{path} is encrypted, but is no link file: a backup or a freeze") from error
    return Links(pairs)


def add_link(path: Path, passphrase: str, code: str, number: str) -> int:
    """The pair is in the file, which is made when there is none; gives how many pairs there are.

    A pair that is there already is left. Raises LinkRefused when the code has another number, or the number another code.
    """
    code, number = _checked(code, "study code"), _checked(number, "hospital number")
    with _alone(path):
        pairs = read_links(path, passphrase).pairs if path.exists() else {}
        if not pairs:
            _check_passphrase(passphrase)
        alike = {folded_code(each): folded_code(theirs) for each, theirs in pairs.items()}
        if alike.get(folded_code(code), folded_code(number)) != folded_code(number):
            raise LinkRefused(f'the study code "{code}" has another hospital number already; remove that link first')
        if folded_code(number) in alike.values() and folded_code(code) not in alike:
            raise LinkRefused("the hospital number has another study code already; remove that link first")
        if folded_code(code) not in alike:
            pairs[code] = number
        _write(path, passphrase, pairs)
    return len(pairs)


def remove_link(path: Path, passphrase: str, code: str) -> int:
    """The pair of the study code is not in the file; gives how many are left. Raises LinkRefused when it was not there."""
    with _alone(path):
        links = read_links(path, passphrase)
        gone = links.spelled(code)
        left = {each: number for each, number in links.pairs.items() if each != gone}
        _write(path, passphrase, left)
    return len(left)


def change_passphrase(path: Path, old: str, new: str) -> None:
    """Only the new passphrase opens the file afterwards. Copies made before still open with the old one."""
    _check_passphrase(new)
    with _alone(path):
        _write(path, new, read_links(path, old).pairs)


def _checked(text: str, what: str) -> str:
    text = text.strip()
    if not text or len(text) > _LONGEST or not text.isprintable():
        raise LinkRefused(f"the {what} must be 1 to {_LONGEST} printable characters; nothing was written")
    return text


def _check_passphrase(passphrase: str) -> None:
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise LinkRefused(
            f"the passphrase must have at least {SHORTEST_PASSPHRASE} characters: four words or more; nothing was written"
        )


def _write(path: Path, passphrase: str, pairs: dict[str, str]) -> None:
    """The file holds the pairs afterwards; after a failure, what it held before."""
    content = json.dumps(dict(sorted(pairs.items())), ensure_ascii=False).encode()
    with _system_errors(path):
        write_safely(path, encrypted(content, passphrase), 0o600)


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """No other process changes link files in that folder while the block lasts, where the system knows such locks."""
    with _system_errors(path), _folder(path) as handle:
        end = time.monotonic() + _PATIENCE
        while handle is not None and not _taken(handle):
            if time.monotonic() >= end:
                raise LinkRefused(f"{path} is being changed by another process; try again")
            time.sleep(_PAUSE)
        yield


def _taken(folder: int) -> bool:
    """Tell whether the folder is ours now; one that knows no locks is."""
    if sys.platform == "win32":
        return True
    try:
        fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


@contextmanager
def _folder(path: Path) -> Iterator[int | None]:
    """The folder of the file, open, where the system can open folders."""
    if sys.platform == "win32":
        yield None
        return
    handle = os.open(real_path(path).parent, os.O_RDONLY)
    try:
        yield handle
    finally:
        with contextlib.suppress(OSError):
            os.close(handle)


@contextmanager
def _system_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise LinkRefused(f"{path} cannot be used: {error.strerror or error}; nothing was changed") from error
