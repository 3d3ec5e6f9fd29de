"""Erase a patient from the register and its freezes for good, and leave a dated note that something was erased.

An erasure removes every version of the patient's rows, the reason of every change that was made to them by hand, that of
every acceptance of a query about them (or about codes that were not noted with it), and
every text (a reason, a file name, the name of a freeze) that names one of the codes, by writing the register anew
without them; the new file takes the place of the old one in one step. What stays is that something was erased, when and
why, and the seals of the erased versions, which without their salt tell nothing. The patient is taken out of the freezes
first, and the safety copies beside the register are deleted. Out of reach are backups, the sheets that were loaded
(which would bring the patient back), and what the disk keeps of deleted files.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS
from outcomes.store.acceptance import KIND as ACCEPTANCE
from outcomes.store.archive import Manifest, remove_private_folders
from outcomes.store.audit_chain import Source, verified_chain
from outcomes.store.connection import PATIENT, Patience, new_file, open_to_read, open_to_write
from outcomes.store.create import verified
from outcomes.store.files import locked, log_of, part_of, system_errors
from outcomes.store.register import Erasure
from outcomes.store.snapshot import freezes_folder, freezes_of, loaded_freeze, remove_freeze, write_freeze
from outcomes.store.sql import quoted, statement
from outcomes.store.tip import Head, HeadNote, note_head
from outcomes.store.transaction import refuse_faults, seal_change
from outcomes.whole_files import put_in_place, real_path

REDACTED = "[erased]"
_CHANGES_BY_HAND = "select distinct change from erased join changes using (change) where kind != 'load'"
_PATIENTS_OF_CASES = "select case_id, patient_id from latest_reconstructions where case_id in (select unnest(?))"
_NOTES = "(sheet, record, change) in (select sheet, record, change from erased)"


def _theirs(sheet: str) -> str:
    return f"(record, change) in (select record, change from erased where sheet = '{sheet}')"  # noqa: S608 - our sheets


_THEIRS = {
    **{sheet: _theirs(sheet) for sheet in SHEETS},
    "observations": _theirs("reviews"),
    "queries": _NOTES,
    "overruled": _NOTES,
}


@dataclass(frozen=True)
class ErasureResult:
    """How many cases were erased, from which freezes, which safety copies were deleted, and in which change."""

    cases: int
    freezes: tuple[str, ...]
    copies: tuple[str, ...]
    change: int


def erase_patients(  # noqa: PLR0913 - the passphrase opens closed freezes
    path: Path,
    patients: Sequence[str],
    *,
    source: Source,
    at: datetime,
    passphrase: str = "",
    patience: Patience = PATIENT,
) -> ErasureResult:
    """The patients and all their versions are in no file of the register afterwards; a tombstone says when and why.

    After a failure the register is as it was, and every freeze is whole; some freezes may be done, and doing it again
    does the rest. Raises RegisterRefused for an unknown code, without a reason, and when the reason names a code.
    """
    path = real_path(path)
    at = at.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    tombstone = Erasure(at.date().isoformat(), source.reason)
    part = part_of(path)
    try:
        with verified(open_to_write, path, patience) as (con, chain):
            codes = _codes(con, tuple(patients), source)
            freezes = _erase_from_freezes(path, codes, tombstone, passphrase)
            con.execute("checkpoint")
            _copy_kept(con, part, codes, chain[-1].change + 1)
            newest = _seal_erasure(part, chain[-1], replace(source, file="", digest=""), at)
            seen = _signature(path)
        _replace(path, seen, HeadNote(chain[-1], newest))
    finally:
        for left in (part, log_of(part)):
            left.unlink(missing_ok=True)
    cases = sum(what == "case" for what in codes.values())
    return ErasureResult(cases, freezes, _delete_copies(path), newest.change)


def patients_of_cases(path: Path, codes: Sequence[str], patience: Patience = PATIENT) -> dict[str, str]:
    """The patient of each code that is the code of a case."""
    with verified(open_to_read, path, patience) as (con, _chain):
        return dict(con.execute(_PATIENTS_OF_CASES, [list(codes)]).fetchall())


def _codes(con: duckdb.DuckDBPyConnection, patients: tuple[str, ...], source: Source) -> dict[str, str]:
    """The codes to erase, and which are patients' and which cases'; their rows are in the temporary table `erased`."""
    if not source.reason.strip():
        raise RegisterRefused("an erasure needs a reason, which stays in the register; nothing was changed")
    codes = dict(con.execute(statement("erase/codes"), {"patients": list(patients)}).fetchall())
    unknown = [code for code in patients if codes.get(code) != "patient"]
    if unknown or not patients:
        raise RegisterRefused(f'there is no patient "{", ".join(unknown)}" in the register; nothing was changed')
    if _names(source.reason + " " + source.who, codes):
        raise RegisterRefused(
            "the reason names a code that is to be erased, and the reason stays; put it in other words"
        )
    _mark_erased(con, patients)
    return codes


def _mark_erased(con: duckdb.DuckDBPyConnection, patients: tuple[str, ...]) -> None:
    rows = con.execute(statement("erase/versions"), {"patients": list(patients)}).fetchall()
    con.execute("create temp table erased (sheet varchar, record integer, change integer)")
    con.executemany("insert into erased values (?, ?, ?)", rows)


def _names(text: str, codes: dict[str, str]) -> bool:
    """Tell whether a text names one of the codes, as a word of its own."""
    return any(re.search(rf"(?<![0-9A-Za-z]){re.escape(code)}(?![0-9A-Za-z])", text, re.IGNORECASE) for code in codes)


def _erase_from_freezes(path: Path, codes: dict[str, str], tombstone: Erasure, passphrase: str) -> tuple[str, ...]:
    """The patients are in no freeze, nor in its name or reason; gives the names of the freezes that were changed."""
    closed = [each.name for each in freezes_of(path) if each.sealed]
    if closed and not passphrase:
        raise RegisterRefused(
            f"the freeze {closed[0]} is closed with a passphrase; give it, so that it can be searched"
        )
    patients = [code for code, what in codes.items() if what == "patient"]
    changed = set()
    for frozen in freezes_of(path):
        with loaded_freeze(frozen, passphrase) as (con, protocol, manifest):
            again = _redacted_manifest(path, manifest, codes)
            if con.execute(statement("erase/codes"), {"patients": patients}).fetchall():
                _mark_erased(con, tuple(patients))
                for table, theirs in _THEIRS.items():
                    con.execute(f"delete from {table} where {theirs}")  # noqa: S608 - our own tables
                again["erasures"] = [*manifest["erasures"], asdict(tombstone)]
            if again == manifest:
                continue
            anew = write_freeze(path, con, protocol, again, passphrase if frozen.sealed else "")
        if anew.place != frozen.place:
            remove_freeze(frozen)
        changed.add(anew.name)
    return tuple(sorted(changed))


def _redacted_manifest(path: Path, manifest: Manifest, codes: dict[str, str]) -> Manifest:
    """The manifest without the codes in who, reason and name."""
    again = {**manifest, **{key: REDACTED for key in ("who", "reason") if _names(manifest[key], codes)}}
    if _names(manifest["name"], codes):
        taken = {each.name for each in freezes_of(path)}
        again["name"] = next(name for number in range(1, 1000) if (name := f"erased-{number}") not in taken)
    return again


def _seal_erasure(part: Path, before: Head, source: Source, at: datetime) -> Head:
    """The new file has the erasure as its newest change, and is verified."""
    with new_file(part) as anew:
        newest = seal_change(anew, before, "erase", source, at)
        verified_chain(part, anew)
        refuse_faults(part, anew)
    return newest


def _copy_kept(con: duckdb.DuckDBPyConnection, part: Path, codes: dict[str, str], number: int) -> None:
    """Everything but the erased rows is in a new file; erased seals and redacted changes carry the erasure's number."""
    part.unlink(missing_ok=True)
    name = con.execute("select current_database()").fetchall()[0][0]
    con.execute(f"attach {quoted(part)} as anew")
    con.execute(f'copy from database "{name}" to anew (schema)')
    for table in ("register", "schema_versions", "protocols"):
        con.execute(f"insert into anew.{table} from {table}")
    for table, theirs in _THEIRS.items():
        con.execute(f"insert into anew.{table} from {table} where not {theirs}")
    con.execute(
        f"insert into anew.seals select * replace (if({_NOTES}, $number, erased_in) as erased_in) from seals",  # noqa: S608
        {"number": number},
    )
    changes = con.execute("select * from changes order by change").fetchall()
    theirs_alone = {row[0] for row in con.execute(_CHANGES_BY_HAND).fetchall()}
    kept = [_redacted(row, codes, number, by_hand=row[0] in theirs_alone or _accepts(row, codes)) for row in changes]
    marks = ", ".join("?" * len(changes[0]))
    con.executemany(f"insert into anew.changes values ({marks})", kept)  # noqa: S608 - our own marks
    con.execute("detach anew")


def _accepts(row: tuple[object, ...], codes: dict[str, str]) -> bool:
    """Tell whether the change accepts a query about one of the codes, or one of which it was not noted whom it is about."""
    file = str(row[5])
    return row[1] == ACCEPTANCE and (" " not in file or _names(file, codes))


def _redacted(row: tuple[object, ...], codes: dict[str, str], number: int, *, by_hand: bool) -> tuple[object, ...]:
    change, kind, made_at, who, reason, file, file_digest, _salt, seal, chain, redacted_in = row
    texts = [REDACTED if _names(str(text), codes) else text for text in (who, reason, file)]
    texts[1] = REDACTED if by_hand else texts[1]
    if texts == [who, reason, file]:
        return row
    return change, kind, made_at, *texts, file_digest, "", seal, chain, redacted_in or number


def _signature(path: Path) -> tuple[int, int, int]:
    stat = path.stat()
    return stat.st_ino, stat.st_size, stat.st_mtime_ns


def _replace(path: Path, seen: tuple[int, int, int], noted: HeadNote) -> None:
    """The new file is the register; raises RegisterRefused when another process changed the old one in between."""
    with locked(path), system_errors(path):
        if _signature(path) != seen or log_of(path).exists():
            raise RegisterRefused(f"{path} was changed by another process meanwhile; nothing was erased, try again")
        note_head(path, noted)
        put_in_place(part_of(path), path)
    if noted.perhaps:
        note_head(path, HeadNote(noted.perhaps))


def _delete_copies(path: Path) -> tuple[str, ...]:
    """The safety copies beside the register, and what killed programs left half-written, are gone."""
    copies = sorted(path.parent.glob(f"{path.name}.before-*"))
    for each in [*copies, *path.parent.glob(f".{path.name}*.part")]:
        each.unlink(missing_ok=True)
    for left in freezes_folder(path).glob(".*.part"):
        shutil.rmtree(left, ignore_errors=True)
    for folder in (path.parent, freezes_folder(path)):
        remove_private_folders(folder)
    return tuple(copy.name for copy in copies)
