"""Freeze the rows of a register for a report (a data lock), and read a freeze.

A freeze is a bundle beside the register, `REGISTER.freezes/NAME-<first 12 digits of its digest>`: the rows as they
stood (Parquet), the protocol, and a manifest. It is never changed, with one exception: a patient who is erased is taken
out of every freeze, which then says so and carries a new digest. With a passphrase it is one closed file; while such a
freeze is written or read, its rows lie for a moment in a private folder on the same disk as the register.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import duckdb

from outcomes import __version__
from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS, Protocol, protocol_from_text
from outcomes.store.archive import (
    Manifest,
    check_passphrase,
    new_bundle,
    pack,
    private_folder,
    read_manifest,
    unpacked,
    write_manifest,
)
from outcomes.store.audit_chain import Source, moment
from outcomes.store.connection import PATIENT, Patience, in_memory, open_to_copy, shut_in
from outcomes.store.content import content_digest
from outcomes.store.create import verified
from outcomes.store.files import part_of, refusal, system_errors
from outcomes.store.register import Erasure, Register, kept_protocol
from outcomes.store.schema import apply_migrations
from outcomes.store.sheet_sql import frozen_sql
from outcomes.store.sql import quoted
from outcomes.whole_files import real_path

TABLES = (*SHEETS, "observations", "queries")
_WITHDRAWN = "withdrawn"
FORMAT = 1
SEALED = ".sealed"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


@dataclass(frozen=True)
class Freeze:
    """A data lock: its name, where it lies, and the first digits of its digest; `sealed` needs a passphrase."""

    name: str
    place: Path
    digest12: str
    sealed: bool


def freezes_folder(path: Path) -> Path:
    """Where the freezes of a register lie."""
    path = real_path(path)
    return path.with_name(f"{path.stem}.freezes")


def freezes_of(path: Path) -> tuple[Freeze, ...]:
    """The freezes of a register, by name; not verified."""
    named = [
        each for each in sorted(freezes_folder(path).glob("[!.]*")) if re.fullmatch(r".+-[0-9a-f]{12}", _stem(each))
    ]
    return tuple(Freeze(_stem(each)[:-13], each, _stem(each)[-12:], each.suffix == SEALED) for each in named)


def _stem(place: Path) -> str:
    return place.name.removesuffix(SEALED)


def freeze(  # noqa: PLR0913 - each is said by whoever freezes
    path: Path,
    name: str,
    *,
    source: Source,
    at: datetime,
    passphrase: str = "",
    patience: Patience = PATIENT,
) -> Freeze:
    """The rows as they stand are kept under the name, for good; after a failure there is no freeze of that name.

    Raises RegisterRefused when the name is taken or cannot be a name of a folder.
    """
    check_passphrase(passphrase)
    if not _NAME.fullmatch(name):
        raise RegisterRefused(
            f'"{name}" cannot name a freeze: use up to 40 letters, digits, - and _, such as 2026-spring'
        )
    if any(each.name.lower() == name.lower() for each in freezes_of(path)):
        raise RegisterRefused(f"there is a freeze {name} already, and a freeze is never changed; choose another name")
    with verified(open_to_copy, path, patience) as (con, chain):
        protocol = kept_protocol(con)
        manifest = {
            "format": FORMAT,
            "name": name,
            "frozen_at": moment(at),
            "who": source.who,
            "reason": source.reason,
            "change": chain[-1].change,
            "chain": chain[-1].digest,
            "erasures": [],
        }
        return write_freeze(path, con, protocol, manifest, passphrase)


def write_freeze(
    path: Path,
    con: duckdb.DuckDBPyConnection,
    protocol: Protocol,
    manifest: Manifest,
    passphrase: str,
) -> Freeze:
    """The rows as they stand on that connection become the freeze that the manifest describes."""
    digest = content_digest(con, protocol)
    cases = con.execute("select count(*) from current_reconstructions").fetchall()[0][0]
    manifest = {**manifest, "digest": digest, "cases": cases, "protocol": protocol.fingerprint, "software": __version__}
    folder = freezes_folder(path)
    place = folder / f"{manifest['name']}-{digest[:12]}{SEALED if passphrase else ''}"
    written = Freeze(manifest["name"], place, digest[:12], bool(passphrase))
    with system_errors(folder):
        folder.mkdir(exist_ok=True)
        _remove_parts(folder, manifest["name"])
    if passphrase:
        with private_folder(place) as private:
            (private / "bundle").mkdir()
            _fill(con, protocol, private / "bundle", manifest)
            pack(private / "bundle", place, passphrase)
    elif place.exists():  # the same rows: of an erasure that was cut short, or with a reason that is redacted
        write_manifest(place, manifest)
    else:
        with new_bundle(place) as part:
            _fill(con, protocol, part, manifest)
    return written


def _remove_parts(folder: Path, name: str) -> None:
    """What an earlier freeze of that name, cut short, left half-written is gone."""
    for left in folder.glob(f".{name}-*.part"):
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


def _fill(con: duckdb.DuckDBPyConnection, protocol: Protocol, folder: Path, manifest: Manifest) -> None:
    for table in (*TABLES, _WITHDRAWN):
        rows = frozen_sql(con, table)
        con.execute(f"copy ({rows}) to {quoted(folder / f'{table}.parquet')} (format parquet, compression zstd)")
    (folder / "protocol.json").write_text(protocol.text + "\n", encoding="utf-8")
    write_manifest(folder, manifest)


@contextmanager
def reading_frozen(path: Path, name: str, passphrase: str = "") -> Iterator[Register]:
    """The freeze of that name, verified and open for reading; the register itself is not touched.

    Raises RegisterRefused when there is none, when a byte of it was changed, or when the passphrase is wrong.
    """
    with frozen_to_ask(path, name, passphrase) as register:
        shut_in(register.con)
        yield register


@contextmanager
def frozen_to_ask(path: Path, name: str, passphrase: str = "") -> Iterator[Register]:
    """The same, whose connection is not shut in yet."""
    with loaded_freeze(_freeze_named(path, name), passphrase) as (con, protocol, manifest):
        yield Register(con, protocol, manifest["name"], tuple(Erasure(**each) for each in manifest["erasures"]))


def _freeze_named(path: Path, name: str) -> Freeze:
    """The freeze of that name; of two, left by an erasure that was cut short, the one that was made last."""
    named = [each for each in freezes_of(path) if each.name == name]
    if not named:
        known = ", ".join(sorted({each.name for each in freezes_of(path)})) or "none"
        raise RegisterRefused(f'there is no freeze "{name}" of {path.name}; there are: {known}')
    return max(named, key=lambda each: each.place.stat().st_mtime_ns)


@contextmanager
def loaded_freeze(frozen: Freeze, passphrase: str) -> Iterator[tuple[duckdb.DuckDBPyConnection, Protocol, Manifest]]:
    """The verified rows of a freeze in the tables of a register in memory, its protocol, and its manifest."""
    with in_memory() as con:
        if frozen.sealed:
            with unpacked(frozen.place, passphrase, frozen.place) as (folder, manifest):
                protocol = _load_freeze(con, folder, frozen, manifest)
        else:
            manifest = read_manifest(frozen.place)
            protocol = _load_freeze(con, frozen.place, frozen, manifest)
        yield con, protocol, manifest


def _load_freeze(con: duckdb.DuckDBPyConnection, folder: Path, frozen: Freeze, manifest: Manifest) -> Protocol:
    """The rows of the freeze are in the tables of a register in memory, if they are those that were frozen."""
    protocol = protocol_from_text((folder / "protocol.json").read_text(encoding="utf-8"))
    try:
        apply_migrations(con, after=0)
        for table in TABLES:
            kept = {"observations": "1 as change", "queries": "1 as change"}.get(table, "1 as change, '' as salt")
            more = ", false as withdrawn" if table == "patients" else ""
            rows = f"select *, {kept}{more} from read_parquet({quoted(folder / f'{table}.parquet')})"  # noqa: S608
            con.execute(f"insert into {table} by name {rows}")
        _stand_in_for_withdrawn(con, folder)
    except duckdb.Error as error:
        raise refusal(frozen.place, error) from error
    if content_digest(con, protocol) != manifest["digest"] or manifest["digest"][:12] != frozen.digest12:
        raise RegisterRefused(f"{frozen.place} was altered: its rows are not those that were frozen")
    return protocol


def _stand_in_for_withdrawn(con: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Rows without any code stand in for the withdrawn lids that were counted, so that they are counted again.

    A tab is in no code: none of the register's own rows can belong to the patient that stands in.
    """
    con.execute("insert into patients (record, change, salt, withdrawn, patient_id) values (-1, 1, '', true, chr(9))")
    counted = quoted(folder / f"{_WITHDRAWN}.parquet")
    lids = f"select cover, unnest(range(lids)) from read_parquet({counted})"  # noqa: S608 - our own file
    named = "-row_number() over () as record, 1 as change, '' as salt, chr(9) as case_id, chr(9) as patient_id, cover"
    con.execute(f"insert into reconstructions by name select {named} from ({lids})")  # noqa: S608


def remove_freeze(frozen: Freeze) -> None:
    """The freeze is gone: first from sight, then from the disk."""
    if frozen.sealed:
        frozen.place.unlink()
        return
    going = part_of(frozen.place)
    shutil.rmtree(going, ignore_errors=True)
    frozen.place.rename(going)
    shutil.rmtree(going)
