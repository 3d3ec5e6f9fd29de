"""Back up a register to one verified file, and restore it.

A backup is one file: the register with its history, its freezes, and a manifest with the digest of each; closed with a
passphrase if one is given. It is verified when it is made and, wholly, before anything is restored from it.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from outcomes import __version__
from outcomes.errors import RegisterRefused
from outcomes.store.archive import check_passphrase, pack, private_folder, unpacked, write_manifest
from outcomes.store.audit_chain import moment, verified_chain
from outcomes.store.connection import PATIENT, Patience, open_to_copy, open_to_write
from outcomes.store.content import content_digest
from outcomes.store.create import bring_up_to_date, verified, write_copy
from outcomes.store.files import RegisterBusy, locked, log_of, part_of, system_errors
from outcomes.store.integrity import faults_in
from outcomes.store.register import kept_protocol
from outcomes.store.schema import newest_schema, schema_version
from outcomes.store.snapshot import freezes_folder, freezes_of
from outcomes.store.tip import Head, HeadNote, head_path, note_head, read_head
from outcomes.whole_files import put_in_place, real_path

FORMAT = 1
_REGISTER = "register.duckdb"


@dataclass(frozen=True)
class Backup:
    """What a backup holds: the digest of its rows, its cases, its changes, its freezes, and when it was made.

    After a restore, `earlier` names the file beside the register that holds what was there before.
    """

    digest: str
    cases: int
    changes: int
    freezes: tuple[str, ...]
    made_at: str
    earlier: str = ""


def back_up(path: Path, to: Path, *, at: datetime, passphrase: str = "", patience: Patience = PATIENT) -> Backup:
    """One verified file at `to` holds the register, its history and its freezes; others may read meanwhile.

    After a failure there is nothing at `to`. Raises RegisterRefused when something is there already.
    """
    check_passphrase(passphrase)
    if to.exists():
        raise RegisterRefused(f"{to} is there already and was left as it is; give another name for the backup")
    path = real_path(path)
    with private_folder(path) as private:
        folder = private / "backup"
        folder.mkdir()
        with verified(open_to_copy, path, patience) as (con, chain):
            write_copy(con, folder / _REGISTER)
        manifest = _facts_of(folder / _REGISTER, chain[-1])
        for frozen in freezes_of(path):
            _copy(frozen.place, folder / "freezes" / frozen.place.name)
        manifest["freezes"] = [each.name for each in freezes_of(path)]
        write_manifest(folder, {**manifest, "format": FORMAT, "made_at": moment(at), "software": __version__})
        pack(folder, to, passphrase)
    return check_backup(to, passphrase, beside=path)


def check_backup(packed: Path, passphrase: str = "", *, beside: Path) -> Backup:
    """What the backup holds, wholly verified; nothing is changed. Raises RegisterRefused when it is not whole.

    It is unpacked into a private folder beside the path `beside`, such as the register, and not beside the backup.
    """
    with system_errors(packed), unpacked(packed, passphrase, beside) as (folder, manifest):
        _check_register(packed, folder, manifest)
        return _as_backup(manifest)


def restore(
    packed: Path, to: Path, *, overwrite: bool = False, passphrase: str = "", patience: Patience = PATIENT
) -> Backup:
    """The register at `to` is that of the backup, with its history and freezes; the earlier one lies beside it.

    The backup is verified wholly before anything is touched, and the register changes in one step: after a failure it
    is as it was, but for freezes that were added. Raises RegisterRefused when a register is there and `overwrite` is
    not given, when it is in use, or when a freeze there and one of the backup have the same name but not the same rows.
    """
    to = real_path(to)
    if to.is_dir():
        raise RegisterRefused(f"{to} is a folder; give the path of the register file to restore to")
    if to.exists() and not overwrite:
        raise RegisterRefused(
            f"{to} is there already and was left as it is; add --overwrite to replace it, or move it away"
        )
    _refuse_other_file(to)
    with system_errors(packed), unpacked(packed, passphrase, to) as (folder, manifest):
        newest = _check_register(packed, folder, manifest)
        _refuse_other_freezes(to, folder)
        _empty_the_log(to, patience)
        _add_freezes(to, folder)
        earlier = _put_in_place(folder / _REGISTER, to, newest)
        return replace(_as_backup(manifest), earlier=earlier)


def _facts_of(copy: Path, newest: Head) -> dict[str, Any]:
    """What the copy holds, read from the copy itself; raises RegisterRefused when it is not a whole register."""
    with open_to_copy(copy) as con:
        if verified_chain(copy, con)[-1].digest != newest.digest:
            raise RegisterRefused("the copy of the register does not hold its newest change; try again")
        return {
            "digest": content_digest(con, kept_protocol(con)),
            "cases": con.execute("select count(*) from current_reconstructions").fetchall()[0][0],
            "changes": newest.change,
        }


def _check_register(packed: Path, folder: Path, manifest: dict[str, Any]) -> Head:
    """The newest change of the register in an unpacked backup; raises RegisterRefused when it does not fit the manifest."""
    register = folder / _REGISTER
    if manifest.get("format") != FORMAT or not register.is_file():
        raise RegisterRefused(
            f"{packed} is no backup that this program can read; update the program, or give another file"
        )
    with open_to_copy(register) as con:
        version = schema_version(packed, con)
        newest = verified_chain(packed, con)[-1]
    if version < newest_schema():
        bring_up_to_date(register, PATIENT)
    with open_to_copy(register) as con:
        if content_digest(con, kept_protocol(con)) != manifest["digest"] or faults_in(con):
            raise RegisterRefused(f"{packed} does not hold the rows that were backed up; use another backup")
    return newest


def _as_backup(manifest: dict[str, Any]) -> Backup:
    return Backup(
        manifest["digest"], manifest["cases"], manifest["changes"], tuple(manifest["freezes"]), manifest["made_at"]
    )


def _copy(place: Path, to: Path) -> None:
    to.parent.mkdir(parents=True, exist_ok=True)
    if place.is_dir():
        shutil.copytree(place, to)
    else:
        shutil.copyfile(place, to)


def _refuse_other_freezes(to: Path, folder: Path) -> None:
    here = {each.name: each.place.name for each in freezes_of(to)}
    for place in sorted((folder / "freezes").glob("*")):
        name = place.name.removesuffix(".sealed")[:-13]
        if here.get(name, place.name) != place.name:
            raise RegisterRefused(
                f"there is a freeze {name} beside {to.name} that is not the one in the backup; nothing was changed",
                (f"move {freezes_folder(to).name} away, or restore to another place",),
            )


def _empty_the_log(to: Path, patience: Patience) -> None:
    """Whatever the database's log still held is in the earlier register's file, unless that is damaged."""
    if not to.exists():
        return
    try:
        with open_to_write(to, patience) as con:
            con.execute("checkpoint")
    except RegisterBusy:
        raise
    except RegisterRefused:
        return


def _add_freezes(to: Path, folder: Path) -> None:
    for place in sorted((folder / "freezes").glob("*")):
        target = freezes_folder(to) / place.name
        if not target.exists():
            target.parent.mkdir(exist_ok=True)
            place.rename(target)


def _refuse_other_file(to: Path) -> None:
    """Only a database file may be replaced, damaged or not: anything else is somebody's other work."""
    if not to.exists():
        return
    with to.open("rb") as file:
        if file.read(12)[8:] != b"DUCK":
            raise RegisterRefused(f"{to} is no register and was left as it is; give another path, or move it away")


def _put_in_place(register: Path, to: Path, newest: Head) -> str:
    """The register is at `to`, and what was there lies beside it under the name given back; the head allows either."""
    earlier = None
    if to.exists():
        earlier = _keep_earlier(to)
        with locked(to):
            if log_of(to).exists():  # of a damaged register: it must not be taken for that of the restored one
                log_of(to).replace(log_of(earlier))
            _note_both(to, newest)
            put_in_place(register, to)
    else:
        note_head(to, HeadNote(newest))
        put_in_place(register, to)
    note_head(to, HeadNote(newest))
    return earlier.name if earlier else ""


def _keep_earlier(to: Path) -> Path:
    """The earlier register has a second name beside the first; where the disk knows no second names, it is copied."""
    names = (f"{to.name}.before-restore", *(f"{to.name}.before-restore-{number}" for number in range(2, 1000)))
    earlier = next(place for name in names if not (place := to.with_name(name)).exists())
    part = part_of(earlier)
    part.unlink(missing_ok=True)
    try:
        part.hardlink_to(to)
    except OSError:
        shutil.copyfile(to, part)
    part.replace(earlier)
    return earlier


def _note_both(to: Path, newest: Head) -> None:
    try:
        noted = read_head(to)
    except RegisterRefused:
        noted = None
    if noted is None:
        head_path(to).unlink(missing_ok=True)
    else:
        note_head(to, HeadNote(noted.settled, newest))
