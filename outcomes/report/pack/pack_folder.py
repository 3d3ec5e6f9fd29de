"""The folder of a pack: written beside its place, and put there in place of an earlier pack only."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from outcomes.errors import WrongUsage

RECORD = "pack.json"
FOLDERS = ("tables", "figures", "slides", "poster", "words", "checklists", "data")


@contextmanager
def replaced_folder(out: Path) -> Iterator[Path]:
    """A new folder beside the place; when all went well it is put there, in place of an earlier pack and of nothing else."""
    if out.exists() and not out.is_dir():
        raise WrongUsage(f"--out {out} is a file; name a folder")
    if out.is_dir() and any(out.iterdir()) and not (out / RECORD).is_file():
        raise WrongUsage(f"--out {out} holds something that is no pack; name a new folder, or empty that one")
    out.parent.mkdir(parents=True, exist_ok=True)
    part = out.with_name(f".{out.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir()
    try:
        yield part
        _remove_pack(out)
        if out.is_dir():
            shutil.copytree(part, out, dirs_exist_ok=True)
        else:
            part.rename(out)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _remove_pack(out: Path) -> None:
    """Take away the files of an earlier pack; what somebody else put beside them stays."""
    if not (out / RECORD).is_file():
        if out.is_dir():
            out.rmdir()
        return
    record = json.loads((out / RECORD).read_text(encoding="utf-8"))
    for name in (*(file["name"] for file in record["files"]), RECORD, "index.html"):
        (out / name).unlink(missing_ok=True)
    for name in FOLDERS:
        if (out / name).is_dir() and not any((out / name).iterdir()):
            (out / name).rmdir()
    if not any(out.iterdir()):
        out.rmdir()
