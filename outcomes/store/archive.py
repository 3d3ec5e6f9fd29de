"""Bundles: folders of files whose digests are verified, packed into one file if wished, and encrypted if wished.

A bundle is a folder with a manifest that names every file and its digest, and is itself covered by a digest. It may be
packed into one file (a ZIP archive without compression), which may be closed with a passphrase.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from outcomes.errors import RegisterRefused
from outcomes.store.encryption import is_sealed, seal_file, unseal_file
from outcomes.store.files import part_of, safely_written, sync_file, sync_folder, system_errors, write_safely

MANIFEST = "manifest.json"
_PRIVATE = ".outcomes-"
_STALE = 3600.0
Manifest = dict[str, Any]


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """The folder is a bundle afterwards: its manifest gives these facts, and the digest of every file."""
    tree: Manifest = {**manifest, "files": _digests(folder)}
    tree["seal"] = hashlib.sha256(_text(tree)).hexdigest()
    write_safely(folder / MANIFEST, _text(tree))


def read_manifest(folder: Path, called: Path | None = None) -> Manifest:
    """The content of the manifest; raises RegisterRefused when any file, or the manifest, is not what was written."""
    place = called or folder
    with system_errors(place):
        text = (folder / MANIFEST).read_bytes() if (folder / MANIFEST).is_file() else b""
        digests = _digests(folder)
    try:
        tree = json.loads(text)
        manifest: Manifest = {key: value for key, value in tree.items() if key != "seal"}
        whole = text == _text(tree) and tree["seal"] == hashlib.sha256(_text(manifest)).hexdigest()
        listed: dict[str, str] = manifest["files"]
    except (ValueError, KeyError, AttributeError) as error:
        raise _altered(place, MANIFEST) from error
    wrong = sorted(name for name in {*listed, *digests} if listed.get(name) != digests.get(name))
    if wrong or not whole:
        raise _altered(place, wrong[0] if wrong else MANIFEST)
    return manifest


@contextmanager
def new_bundle(to: Path) -> Iterator[Path]:
    """A folder to fill and give a manifest; it becomes `to` when the block ends, and is removed when it fails."""
    part = part_of(to)
    with system_errors(to):
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(parents=True)
        try:
            yield part
            for name in _names(part):
                sync_file(part / name)
            part.rename(to)
        finally:
            shutil.rmtree(part, ignore_errors=True)
        sync_folder(to.parent)


def pack(folder: Path, to: Path, passphrase: str) -> None:
    """`to` is the bundle in one file, closed with the passphrase if there is one; after a failure as it was."""
    if passphrase:
        packed = folder.parent / f"{folder.name}.zip"
        try:
            pack(folder, packed, "")
            seal_file(packed, to, passphrase)
        finally:
            packed.unlink(missing_ok=True)
        return
    with safely_written(to) as part, zipfile.ZipFile(part, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted([*_names(folder), MANIFEST]):
            archive.write(folder / name, name)


@contextmanager
def unpacked(packed: Path, passphrase: str, beside: Path) -> Iterator[tuple[Path, Manifest]]:
    """The verified bundle in a private folder beside that path, and its manifest; removed afterwards.

    Raises RegisterRefused when it is no bundle, was altered or cut short, or the passphrase is wrong or lacking.
    """
    with private_folder(beside) as private:
        plain = packed
        if is_sealed(packed):
            if not passphrase:
                raise RegisterRefused(f"{packed} is closed with a passphrase; give it")
            plain = private / "packed"
            unseal_file(packed, plain, passphrase)
        folder = private / "bundle"
        _extract(packed, plain, folder)
        yield folder, read_manifest(folder, packed)


@contextmanager
def private_folder(beside: Path) -> Iterator[Path]:
    """A folder that only this user can read, on the disk of that path; removed afterwards with all that is in it."""
    with system_errors(beside):
        remove_private_folders(beside.parent, older_than=_STALE)
        with tempfile.TemporaryDirectory(prefix=_PRIVATE, dir=beside.parent) as private:
            yield Path(private)


def remove_private_folders(folder: Path, older_than: float = 0) -> None:
    """What programs that were killed left of their private folders is gone; seconds since they were last written to."""
    for left in folder.glob(f"{_PRIVATE}*"):
        if time.time() - left.stat().st_mtime >= older_than:
            shutil.rmtree(left, ignore_errors=True)


def _extract(packed: Path, plain: Path, folder: Path) -> None:
    try:
        with zipfile.ZipFile(plain) as archive:
            archive.extractall(folder)
    except (zipfile.BadZipFile, ValueError, EOFError, NotImplementedError, RuntimeError) as error:
        raise RegisterRefused(f"{packed} is not a whole backup or freeze of this program; use another copy") from error


def _names(folder: Path) -> list[str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return [path.relative_to(folder).as_posix() for path in files if path != folder / MANIFEST]


def _digests(folder: Path) -> dict[str, str]:
    return {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in _names(folder)}


def _text(tree: Manifest) -> bytes:
    return json.dumps(tree, sort_keys=True, indent=1, ensure_ascii=False).encode() + b"\n"


def _altered(place: Path, name: str) -> RegisterRefused:
    return RegisterRefused(
        f"{place} was altered: {name} is not what was written, or is missing", ("use another copy, such as a backup",)
    )
