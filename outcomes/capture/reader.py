"""Read a workbook or a folder of CSV tables, and compute its digest."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from outcomes.capture import size_limits
from outcomes.capture.csv_folder import read_folder, tables_of
from outcomes.capture.raw_sheets import RawSheets
from outcomes.capture.workbook import read_workbook
from outcomes.errors import DataRefused
from outcomes.protocol import Protocol

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_BLOCK = 1 << 20
_ZIP = b"PK\x03\x04"
WANTED = "give an .xlsx workbook, or a folder with patients.csv, reconstructions.csv, reviews.csv and events.csv"


def read_sheets(path: Path, protocol: Protocol) -> RawSheets:
    """Read a workbook, or a folder of CSV tables, without judging it; raises DataRefused when it cannot be read."""
    if is_folder(path):
        return read_folder(path, protocol)
    content = read_content(path)
    if is_workbook(content):
        return read_workbook(path.name, content)
    raise DataRefused(f"{path.name} {_not_a_workbook(path, content)}", [])


def digest_of(path: Path) -> str:
    """The SHA-256 of the file, or of the CSV tables of a folder with their names, in order of name."""
    if not is_folder(path):
        return hashlib.sha256(read_content(path)).hexdigest()
    digest = hashlib.sha256()
    for table in tables_of(path):
        _add_table(digest, table)
    return digest.hexdigest()


def _add_table(digest: hashlib._Hash, table: Path) -> None:
    try:
        with table.open("rb") as file:
            digest.update(f"{table.name}\n{os.fstat(file.fileno()).st_size}\n".encode())
            while block := file.read(_BLOCK):
                digest.update(block)
    except OSError as error:
        raise DataRefused(f"{table} cannot be read: {error.strerror}", []) from error


def is_folder(path: Path) -> bool:
    """Tell whether the path is a folder."""
    try:
        return path.is_dir()
    except OSError:
        return False


def is_workbook(content: bytes) -> bool:
    """Tell whether the content is a zip file, as every workbook that is read is."""
    return content.startswith(_ZIP)


def read_content(path: Path) -> bytes:
    """The bytes of a file; raises DataRefused when it is not there, too large or unreadable."""
    try:
        if not path.is_file():
            raise DataRefused(f"there is no file {path}; {WANTED}", [])
        if path.stat().st_size > size_limits.FILE_BYTES:
            raise DataRefused(f"{path.name} is larger than {size_limits.FILE_BYTES // 1_000_000} MB; split it", [])
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not valid"
        raise DataRefused(f"{path} cannot be read: {reason}", []) from error


def _not_a_workbook(path: Path, content: bytes) -> str:
    if content.startswith(_OLE):
        if _ENCRYPTED in content:
            return "is protected by a password; save it without one and load that"
        return "is a workbook in the old .xls format; save it as .xlsx and load that"
    if not content:
        return f"is empty; {WANTED}"
    if path.suffix.lower() in {".csv", ".tsv", ".txt"}:
        return (
            "is a single table; put it into a folder as patients.csv, reconstructions.csv, reviews.csv or events.csv, "
            "and give the folder"
        )
    return f"is not a workbook (it is damaged or of another kind); {WANTED}"
