"""Bundles: folders of files whose digests are verified, packed into one file if wished, and encrypted if wished.

A bundle is a folder with a manifest that names every file and its digest, and is itself covered by a digest. It may be
packed into one file (a ZIP archive without compression), which may be closed with a passphrase.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from outcomes.encryption import SHORTEST_PASSPHRASE, EncryptingFile, NotDecrypted, decrypted, is_encrypted
from outcomes.errors import RegisterRefused
from outcomes.store.files import part_of, safely_written, system_errors
from outcomes.whole_files import is_abandoned, process_tag, sync_file, sync_folder, write_safely

MANIFEST = "manifest.json"
_PRIVATE = ".outcomes-"
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
    """`to` is the bundle in one file, encrypted as it is written if there is a passphrase; after a failure as it was."""
    with safely_written(to) as part, part.open("wb") as target:
        if not passphrase:
            _write_archive(folder, target)
            return
        encrypting = EncryptingFile(target, passphrase)
        _write_archive(folder, encrypting)
        encrypting.finish()


def _write_archive(folder: Path, target: IO[bytes] | EncryptingFile) -> None:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted([*_names(folder), MANIFEST]):
            archive.write(folder / name, name)


def is_sealed(path: Path) -> bool:
    """Tell whether the file is encrypted with a passphrase."""
    with system_errors(path), path.open("rb") as file:
        return is_encrypted(file.read(16))


def check_passphrase(passphrase: str) -> None:
    """Raise RegisterRefused for a passphrase that is too short for a new file; none at all is allowed."""
    if passphrase and len(passphrase) < SHORTEST_PASSPHRASE:
        raise RegisterRefused(
            f"the passphrase must have at least {SHORTEST_PASSPHRASE} characters: four words or more; nothing was written"
        )


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
            _decrypt(packed, plain, passphrase)
        folder = private / "bundle"
        _extract(packed, plain, folder)
        yield folder, read_manifest(folder, packed)


def _decrypt(sealed: Path, to: Path, passphrase: str) -> None:
    try:
        with system_errors(sealed), sealed.open("rb") as source, to.open("wb") as target:
            target.writelines(decrypted(source, passphrase))
    except NotDecrypted as error:
        raise RegisterRefused(
            f"{sealed} cannot be opened: the passphrase is wrong, or the file was altered or cut short"
        ) from error


@contextmanager
def private_folder(beside: Path) -> Iterator[Path]:
    """A folder that only this user can read, on the disk of that path; removed afterwards with all that is in it."""
    with system_errors(beside):
        for left in beside.parent.glob(f"{_PRIVATE}*"):
            if is_abandoned(left, left.name.removeprefix(_PRIVATE)):
                shutil.rmtree(left, ignore_errors=True)
        with tempfile.TemporaryDirectory(prefix=f"{_PRIVATE}{process_tag()}-", dir=beside.parent) as private:
            yield Path(private)


def remove_private_folders(folder: Path) -> None:
    """What programs that were killed left of their private folders is gone, and what others are using now too."""
    for left in folder.glob(f"{_PRIVATE}*"):
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
