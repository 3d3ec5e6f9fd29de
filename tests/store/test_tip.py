"""The newest changes: nothing that was reported as done is ever lost without a word.

DuckDB opens a torn or scratched write-ahead log without an error and leaves out what comes after the damage. To have
such a log, a process of its own makes changes while a second connection of it, itself in the midst of a change, keeps
the log from being emptied; then it ends without closing anything, as it would in a power cut.
"""

import json
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import Amendment, Source, amend_value, check_register, reading, record_rows
from tests.store.clinic import AT, FILE, digest, made, patient

ROOT = Path(__file__).resolve().parents[2]
CUT_SHORT = """
import os, sys, duckdb
from pathlib import Path
from outcomes.store.connection import _CONFIG
from tests.store.clinic import *
path = Path(sys.argv[1])
other = duckdb.connect(str(path), config=_CONFIG)
other.execute("begin")
other.execute("update register set software = 'not kept'")
for number in range(20, 23):
    print(record_rows(path, [patient(number)], source=FILE, at=AT).change, flush=True)
os._exit(9)
"""


def with_a_log(folder):
    """A register whose three newest changes are only in its log, the digest with all of them, and the log."""
    path = made(folder)
    told = subprocess.run(
        [sys.executable, "-c", CUT_SHORT, path], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (told.returncode, told.stdout.split()) == (9, ["2", "3", "4"]), told.stderr
    log = path.with_name("register.duckdb.wal")
    assert log.stat().st_size > 1000
    return path, log


def copied(path, log, folder, name):
    target = folder / name
    target.mkdir()
    for file in (path, log, path.with_name(path.name + ".head")):
        (target / file.name).write_bytes(file.read_bytes())
    return target / path.name, target / log.name


def test_a_whole_log_is_read_and_then_emptied(tmp_path):
    path, log = with_a_log(tmp_path)
    with reading(path) as register:
        assert len(register.held()["patients"]) == 6
    assert record_rows(path, [patient(30)], source=FILE, at=AT).change == 5
    assert not log.exists()
    assert check_register(path) == ()


def test_a_lost_torn_or_scratched_log_is_always_seen(tmp_path):
    path, log = with_a_log(tmp_path)
    whole = log.read_bytes()
    damaged = {"lost": None, "emptied": b"", "cut at the end": whole[:-1]}
    damaged |= {f"cut at {at}": whole[:at] for at in range(1, len(whole), len(whole) // 8)}
    damaged |= {
        f"bit {at}": whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :]
        for at in range(3, len(whole), len(whole) // 12)
    }
    for name, content in damaged.items():
        copy, copied_log = copied(path, log, tmp_path, name)
        copied_log.unlink() if content is None else copied_log.write_bytes(content)
        with pytest.raises(RegisterRefused) as refused, reading(copy):
            pass
        assert "has lost" in refused.value.summary or "damaged" in refused.value.summary, name
        with pytest.raises(RegisterRefused):
            record_rows(copy, [patient(40)], source=FILE, at=AT)


def test_what_was_lost_is_told_with_the_two_ways_on(tmp_path):
    path, log = with_a_log(tmp_path)
    log.unlink()
    with pytest.raises(RegisterRefused) as refused, reading(path):
        pass
    assert (
        "has lost changes 2 to 4 (the last of them: load, 2026-03-05 14:02:00); it ends with change 1"
        in refused.value.summary
    )
    assert "restore the last backup" in refused.value.reasons[0]
    assert "delete register.duckdb.head" in refused.value.reasons[1]
    path.with_name("register.duckdb.head").unlink()
    assert record_rows(path, [patient(40)], source=FILE, at=AT).change == 2


def test_an_older_or_another_register_put_in_its_place_is_seen(tmp_path):
    path = made(tmp_path)
    older = path.read_bytes()
    record_rows(path, [patient(9)], source=FILE, at=AT)
    newer = path.read_bytes()
    path.write_bytes(older)
    with pytest.raises(RegisterRefused, match="has lost change 2 "), reading(path):
        pass
    (tmp_path / "other").mkdir()
    path.write_bytes(made(tmp_path / "other", [patient(1)]).read_bytes())
    with pytest.raises(RegisterRefused, match=r"not the file that was last written here|has lost"), reading(path):
        pass
    path.write_bytes(newer)
    with reading(path):
        pass


def test_a_register_copied_without_its_head_is_used_and_gets_one(tmp_path):
    path = made(tmp_path)
    head = path.with_name("register.duckdb.head")
    head.unlink()
    before = digest(path)
    amend_value(path, Amendment("C1", "side", "left"), source=Source(who="NB", reason="r"), at=AT)
    assert digest(path) != before
    assert json.loads(head.read_text())["settled"]["change"] == 2


def test_a_head_left_half_way_is_no_alarm_and_is_settled(tmp_path):
    path = made(tmp_path)
    head = path.with_name("register.duckdb.head")
    first = head.read_text()
    record_rows(path, [patient(9)], source=FILE, at=AT)
    second = head.read_text()
    half_way = {"settled": json.loads(first)["settled"], "perhaps": json.loads(second)["settled"]}
    head.write_text(json.dumps(half_way))
    with reading(path):
        pass
    assert json.loads(head.read_text()) == json.loads(second)
    third = {
        "settled": json.loads(second)["settled"],
        "perhaps": {"change": 3, "digest": "0" * 64, "kind": "load", "at": ""},
    }
    head.write_text(json.dumps(third))
    with reading(path):
        pass
    assert record_rows(path, [patient(10)], source=FILE, at=AT).change == 3


def test_a_damaged_head_is_said(tmp_path):
    path = made(tmp_path)
    head = path.with_name("register.duckdb.head")
    for content in (b"", b"{", head.read_bytes()[:50], b"\xff\xfe"):
        head.write_bytes(content)
        with pytest.raises(RegisterRefused, match=r"register\.duckdb\.head is damaged"), reading(path):
            pass


@pytest.mark.parametrize(
    "statement",
    [
        "update patients set sex = 'male' where patient_id = 'P2'",
        "update observations set value = 0.25 where field = 'retraction_mm'",
        "delete from events where case_id = 'C3'",
        "insert into patients by name select * replace ('P8' as patient_id, 99 as record) from patients where patient_id = 'P1'",
        "update changes set who = 'XX'",
        "update changes set made_at = '2020-01-01'",
        "update patients set withdrawn = true where patient_id = 'P1'",
        "update reviews set removed = true where case_id = 'C1'",
        "update register set protocol = replace(protocol, 'mm', 'cm')",
        "delete from changes",
        "update seals set seal = repeat('0', 64) where place = 1",
        "update seals set erased_in = 1 where place = 1",
        "update changes set redacted_in = 1, who = 'XX'",
    ],
)
def test_rows_altered_behind_its_back_are_seen(tmp_path, statement):
    path = made(tmp_path)
    with duckdb.connect(str(path)) as con:
        con.execute(statement)
    with pytest.raises(RegisterRefused, match=r"altered outside this program|has lost|not the file"), reading(path):
        pass
