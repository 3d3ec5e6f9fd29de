"""Freezes: they stay as they were, and a changed byte is seen."""

import polars as pl
import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import GRAINS, Source, freeze, freezes_of, reading, reading_frozen, record_rows, withdraw_patient
from tests.store.clinic import AT, FILE, digest, made, review

WHO = Source(who="NB", reason="spring meeting")


def frozen(path, name="spring", passphrase=""):
    return freeze(path, name, source=WHO, at=AT, passphrase=passphrase)


def everything(register):
    return {grain: sorted(pl.DataFrame(register.extract(grain)).rows(), key=str) for grain in GRAINS}


@pytest.mark.parametrize("passphrase", ["", "open sesame, please"])
def test_a_freeze_reads_like_the_register_did_then(tmp_path, passphrase):
    path = made(tmp_path)
    with reading(path) as register:
        then, held, before = everything(register), register.held(), register.digest
    made_now = frozen(path, passphrase=passphrase)
    record_rows(path, [review(1, retraction_mm=3.0)], source=FILE, at=AT)
    with reading_frozen(path, "spring", passphrase) as register:
        assert (everything(register), register.held(), register.digest) == (then, held, before)
        assert (register.frozen, register.cases, register.erasures) == ("spring", 3, ())
        assert register.protocol.fingerprint
        with pytest.raises(RegisterRefused, match="ask the register itself"):
            register.history("C1")
    assert digest(path) != before
    assert made_now.place.name.startswith(f"spring-{before[:12]}")


def test_a_freeze_can_be_read_without_the_register(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    frozen(path)
    path.unlink()
    with reading_frozen(path, "spring") as register:
        assert register.digest == before


def test_a_name_is_used_once_and_must_be_a_name(tmp_path):
    path = made(tmp_path)
    frozen(path)
    for name, says in (
        ("spring", "already"),
        ("Spring", "already"),
        ("../x", "letters"),
        ("", "letters"),
        (".a", "letters"),
    ):
        with pytest.raises(RegisterRefused, match=says):
            frozen(path, name)
    assert [each.name for each in freezes_of(path)] == ["spring"]
    with pytest.raises(RegisterRefused, match="there are: spring"), reading_frozen(path, "autumn"):
        pass


def test_every_changed_byte_is_seen(tmp_path):
    path = made(tmp_path)
    place = frozen(path).place
    for file in sorted(place.iterdir()):
        whole = file.read_bytes()
        for position in {0, len(whole) // 3, len(whole) // 2, len(whole) - 1}:
            file.write_bytes(whole[:position] + bytes([whole[position] ^ 1]) + whole[position + 1 :])
            with pytest.raises(RegisterRefused, match="altered"), reading_frozen(path, "spring"):
                pass
        file.write_bytes(whole)
    with reading_frozen(path, "spring"):
        pass


def test_a_file_that_is_missing_or_was_added_is_seen(tmp_path):
    path = made(tmp_path)
    place = frozen(path).place
    (place / "note.txt").write_text("mine")
    with pytest.raises(RegisterRefused, match=r"note\.txt"), reading_frozen(path, "spring"):
        pass
    (place / "note.txt").unlink()
    (place / "events.parquet").unlink()
    with pytest.raises(RegisterRefused, match=r"events\.parquet"), reading_frozen(path, "spring"):
        pass


def test_a_closed_freeze_needs_its_passphrase_and_every_changed_byte_is_seen(tmp_path):
    path = made(tmp_path)
    place = frozen(path, passphrase="open sesame, please").place
    whole = place.read_bytes()
    assert b"PAR1" not in whole
    for wrong in ("", "open sesam"):
        with pytest.raises(RegisterRefused, match="passphrase"), reading_frozen(path, "spring", wrong):
            pass
    for position in (0, 20, len(whole) // 2, len(whole) - 1):
        place.write_bytes(whole[:position] + bytes([whole[position] ^ 1]) + whole[position + 1 :])
        with pytest.raises(RegisterRefused), reading_frozen(path, "spring", "open sesame, please"):
            pass
    assert sorted(each.name for each in place.parent.iterdir()) == [place.name]


def test_the_same_rows_are_frozen_to_the_same_bytes(tmp_path):
    path = made(tmp_path)
    one, other = frozen(path, "one").place, frozen(path, "other").place
    for file in one.glob("*.parquet"):
        assert file.read_bytes() == (other / file.name).read_bytes()
    # read by an independent Parquet reader
    assert pl.read_parquet(one / "patients.parquet")["patient_id"].to_list() == ["P1", "P2", "P3"]


def test_a_freeze_counts_who_withdrew_and_tells_nothing_else_of_them(tmp_path):
    path = made(tmp_path)
    withdraw_patient(path, "P2", source=Source(reason="asked"), at=AT)
    done = freeze(path, "spring", source=Source(), at=AT)
    with reading(path) as register, reading_frozen(path, "spring") as lock:
        assert everything(lock) == everything(register)
        assert lock.digest == register.digest
        assert pl.DataFrame(lock.extract("withdrawn")).rows() == [("graft", 1)]
    kept = {each.name: str(pl.read_parquet(each).rows()) for each in done.place.glob("*.parquet")}
    assert "'P1'" in kept["patients.parquet"]
    assert [name for name, rows in kept.items() if "'P2'" in rows or "'C2'" in rows] == []
