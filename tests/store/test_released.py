"""Registers, freezes, backups and link files written by each released version open, verify and take changes.

`released/VERSION.zip` was written by the program of that version: four cases, an amendment, a withdrawal, a plain and a
sealed freeze, a plain backup, then an erasure; and a link file with one pair.
"""

import zipfile
from pathlib import Path

import pytest

from outcomes.identity import add_link, read_links
from outcomes.protocol import RowAddress, default_protocol, keys_lacking, protocol_differences, protocol_from_text
from outcomes.store import (
    Source,
    check_register,
    erase_patients,
    freezes_of,
    reading,
    reading_frozen,
    record_rows,
    remove_row,
    restore,
)
from tests.store.clinic import AT, FILE, clinic, digest

RELEASED = sorted(Path(__file__).with_name("released").glob("*.zip"))
DIGESTS = {"0.1.0": "dcb5e764579d67c9a2c6e47024267cbb9c1f6d53e22e077f38cfffc45be88d95"}
PHRASE, LINK_PHRASE = "pass phrase", "four words are enough"
WHY = Source(who="NB", reason="wished it")


@pytest.fixture(params=RELEASED, ids=lambda path: path.stem)
def released(request, tmp_path):
    with zipfile.ZipFile(request.param) as archive:
        archive.extractall(tmp_path)
    return tmp_path / "register.duckdb", DIGESTS[request.param.stem]


def test_every_released_version_is_tried():
    assert {path.stem for path in RELEASED} == set(DIGESTS)


def test_its_register_is_read_with_its_history_and_takes_changes(released):
    path, expected = released
    with reading(path) as register:
        assert (register.digest, register.cases) == (expected, 2)
        past = register.history("C1")
        assert [(e.was, e.value, e.reason) for e in past if e.kind == "amend"] == [
            ("right", "left", "side was typed wrongly")
        ]
        assert [(each.on, each.reason) for each in register.erasures] == [("2026-03-05", "wished it")]
    assert check_register(path) == ()
    again = record_rows(path, clinic(4), source=FILE, at=AT)
    assert dict(again.stored) == {"patients": 1, "reconstructions": 1, "reviews": 1, "events": 1}  # the one erased
    assert again.withheld == {"patients": 1, "reconstructions": 1, "reviews": 1, "events": 1}
    assert [(each.field, each.said, each.stands) for each in again.overruled] == [("side", "right", "left")]
    remove_row(path, RowAddress("C2"), source=WHY, at=AT)
    assert check_register(path) == ()


def test_its_freezes_are_read_and_lose_a_patient_who_is_erased(released):
    path, expected = released
    for each in freezes_of(path):
        with reading_frozen(path, each.name, PHRASE) as register:
            assert (register.digest, register.cases) == (expected, 2)
    erase_patients(path, ["P1"], source=WHY, at=AT, passphrase=PHRASE)
    for each in freezes_of(path):
        with reading_frozen(path, each.name, PHRASE) as register:
            assert (register.digest, register.cases) == (digest(path), 1)


def test_its_backup_is_restored(released, tmp_path):
    path, _ = released
    again = tmp_path / "again.duckdb"
    done = restore(tmp_path / "backup.zip", again)
    assert (done.cases, done.changes, done.digest) == (3, 3, digest(again))
    assert check_register(again) == ()
    with reading(path) as register, reading(again) as restored:
        assert [e for e in restored.history("C1") if e.change <= 2] == list(register.history("C1"))


def test_its_link_file_is_read_and_written(released):
    file = released[0].with_name("links.sealed")
    assert read_links(file, LINK_PHRASE).pairs == {"P1": "H-0001"}
    add_link(file, LINK_PHRASE, "P2", "H-0002")
    assert read_links(file, LINK_PHRASE).pairs == {"P1": "H-0001", "P2": "H-0002"}


def test_its_protocol_is_kept_as_it_was_with_rules_that_nothing_reads_any_more(released):
    path, _ = released
    with reading(path) as register:
        kept = register.protocol
    assert {"resamples", "seed"} <= set(kept.document["rules"])
    assert not hasattr(kept.rules, "resamples")
    assert protocol_from_text(kept.text).fingerprint == kept.fingerprint
    assert "rules, seed: taken away, was 20260630" in [
        str(each) for each in protocol_differences(kept, default_protocol())
    ]


def test_what_its_protocol_lacks_is_named(released):
    path, _ = released
    with reading(path) as register:
        lacking = keys_lacking(register.protocol, default_protocol())
    [measures] = [line for line in lacking if line.startswith("measures: ")]
    assert "important_difference" in measures
    assert not [line for line in lacking if "synonyms" in line]
    assert keys_lacking(default_protocol(), default_protocol()) == ()
