"""Backups: whole, verified, and restored with their history."""

import subprocess
import sys

import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    back_up,
    check_backup,
    check_register,
    freeze,
    freezes_of,
    reading,
    reading_frozen,
    record_rows,
    restore,
)
from tests.store.clinic import AT, FILE, clinic, digest, made, review

READER = """
import sys
from pathlib import Path
from outcomes.store import reading
with reading(Path(sys.argv[1])) as register:
    print(register.digest, flush=True)
    sys.stdin.read()
"""
HAND = Source(who="NB", reason="wrong side")


def lived_in(folder):
    """A register with a load, an amendment and a freeze."""
    path = made(folder)
    freeze(path, "spring", source=HAND, at=AT)
    amend_value(path, Amendment("C1", "side", "left"), source=HAND, at=AT)
    return path


def past(path, case="C1"):
    with reading(path) as register:
        return register.history(case)


@pytest.mark.parametrize("passphrase", ["", "open sesame, please"])
def test_a_restored_register_has_the_same_digest_history_and_freezes(tmp_path, passphrase):
    path = lived_in(tmp_path)
    told = back_up(path, tmp_path / "backup.zip", at=AT, passphrase=passphrase)
    assert (told.digest, told.cases, told.changes, told.made_at) == (digest(path), 3, 2, "2026-03-05 14:02:00")
    (tmp_path / "elsewhere").mkdir()
    restored = tmp_path / "elsewhere" / "again.duckdb"
    assert restore(tmp_path / "backup.zip", restored, passphrase=passphrase) == told
    assert (digest(restored), past(restored)) == (digest(path), past(path))
    assert check_register(restored) == ()
    with reading_frozen(restored, "spring") as register, reading_frozen(path, "spring") as original:
        assert register.digest == original.digest
    assert record_rows(restored, [review(1, days=400)], source=FILE, at=AT).change == 3


def test_a_backup_is_made_while_others_read(tmp_path):
    path = made(tmp_path)
    reader = subprocess.Popen(
        [sys.executable, "-c", READER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    seen = reader.stdout.readline().strip()
    assert back_up(path, tmp_path / "backup.zip", at=AT).digest == seen
    reader.communicate("")


def test_nothing_is_overwritten_unasked(tmp_path):
    path = lived_in(tmp_path)
    back_up(path, tmp_path / "backup.zip", at=AT)
    before = path.read_bytes()
    with pytest.raises(RegisterRefused, match="already"):
        back_up(path, tmp_path / "backup.zip", at=AT)
    with pytest.raises(RegisterRefused, match="already"):
        restore(tmp_path / "backup.zip", path)
    assert path.read_bytes() == before


def test_restoring_over_a_register_keeps_the_earlier_one_beside_it(tmp_path):
    path = lived_in(tmp_path)
    back_up(path, tmp_path / "backup.zip", at=AT)
    then = digest(path)
    record_rows(path, [review(1, days=400)], source=FILE, at=AT)
    newer = digest(path)
    restore(tmp_path / "backup.zip", path, overwrite=True)
    assert digest(path) == then != newer
    assert digest(tmp_path / "register.duckdb.before-restore") == newer
    assert [each.name for each in freezes_of(path)] == ["spring"]


def test_a_damaged_register_can_be_restored(tmp_path):
    path = lived_in(tmp_path)
    then = digest(path)
    back_up(path, tmp_path / "backup.zip", at=AT)
    path.write_bytes(path.read_bytes()[:100_000])
    (tmp_path / "register.duckdb.head").write_text("torn")
    restore(tmp_path / "backup.zip", path, overwrite=True)
    assert (digest(path), check_register(path)) == (then, ())


def test_another_freeze_of_the_same_name_stops_a_restore(tmp_path):
    path = lived_in(tmp_path)
    back_up(path, tmp_path / "backup.zip", at=AT)
    (tmp_path / "other").mkdir()
    other = made(tmp_path / "other", clinic(2))
    freeze(other, "spring", source=HAND, at=AT)
    before = digest(other)
    with pytest.raises(RegisterRefused, match="freeze spring"):
        restore(tmp_path / "backup.zip", other, overwrite=True)
    assert digest(other) == before


def test_a_backup_that_is_not_whole_touches_nothing(tmp_path):
    path = lived_in(tmp_path)
    packed = tmp_path / "backup.zip"
    back_up(path, packed, at=AT)
    whole, before = packed.read_bytes(), path.read_bytes()
    inside = [whole.index(mark) + 64 for mark in (b"manifest.json", b"register.duckdb", b"reviews.parquet")]
    for content in (
        *(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in [*inside, len(whole) // 2]),
        whole[:-1],
        whole[: len(whole) // 2],
        b"",
        b"something else",
        path.read_bytes(),
    ):
        packed.write_bytes(content)
        for act in (lambda: restore(packed, path, overwrite=True), lambda: check_backup(packed, beside=path)):
            with pytest.raises(RegisterRefused):
                act()
        assert path.read_bytes() == before
    for absent in (tmp_path / "nowhere.zip", tmp_path):
        with pytest.raises(RegisterRefused):
            restore(absent, path, overwrite=True)
    assert sorted(each.name for each in tmp_path.iterdir()) == [
        "backup.zip",
        "register.duckdb",
        "register.duckdb.head",
        "register.freezes",
    ]
