"""Erasure: the patient is in no byte, and the register is still proved whole."""

import shutil
import sys

import pytest

from outcomes.errors import RegisterRefused
from outcomes.protocol import RowAddress, SheetRow
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    check_register,
    erase_patients,
    freeze,
    freezes_of,
    patients_of_cases,
    reading,
    reading_frozen,
    record_rows,
    remove_row,
    withdraw_patient,
)
from outcomes.store.snapshot import loaded_freeze
from tests.store.clinic import AT, FILE, case, digest, event, made, patient, review
from tests.store.tomorrow import ROOT, told

WHY = Source(who="NB", reason="asked for in writing")
MARKED = {"patient_id": "QUIXOTIC-PATIENT", "case_id": "ZEPHYRINE-CASE"}
NEEDLES = (b"QUIXOTIC", b"ZEPHYRINE", b"quixotic", b"zephyrine")


def marked(row):
    return SheetRow(
        row.sheet, row.number, {**row.values, **{name: code for name, code in MARKED.items() if name in row.values}}
    )


def with_marked(folder):
    """A register with one patient whose codes can be searched for, with a past, named in a file name and a reason."""
    rows = [marked(row) for row in (patient(9), case(9, surgeon="ZEPHYRINE-9"), review(9), event(9))]
    path = made(folder)
    record_rows(path, rows, source=Source(file="QUIXOTIC-PATIENT.xlsx", digest="ee", who="NB"), at=AT)
    told = Source(who="NB", reason="the notes of zephyrine-case say left")
    amend_value(path, Amendment("ZEPHYRINE-CASE", "side", "left"), source=told, at=AT)
    return path


def holders(folder):
    """The files that hold one of the codes, plain or in a compressed stretch."""
    return [
        path.name
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(n in path.read_bytes() for n in NEEDLES)
    ]


def test_the_codes_are_in_no_byte_afterwards(tmp_path):
    path = with_marked(tmp_path)
    freeze(path, "spring", source=FILE, at=AT)
    (tmp_path / "register.duckdb.before-schema-1").write_bytes(path.read_bytes())
    for left in (
        ".register.duckdb.before-schema-1.part",
        ".outcomes-killed/packed",
        "register.freezes/.spring-0.part/x",
    ):
        (tmp_path / left).parent.mkdir(exist_ok=True)
        (tmp_path / left).write_bytes(path.read_bytes())
    assert "register.duckdb" in holders(tmp_path)  # the search finds them while they are there
    done = erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT)
    assert (done.cases, done.freezes, done.copies) == (1, ("spring",), ("register.duckdb.before-schema-1",))
    assert holders(tmp_path) == []
    assert sorted(each.name for each in tmp_path.iterdir()) == [
        "register.duckdb",
        "register.duckdb.head",
        "register.freezes",
    ]


def test_the_rest_stays_with_its_history_and_the_chain_still_holds(tmp_path):
    path = with_marked(tmp_path)
    (tmp_path / "without").mkdir()
    without = made(tmp_path / "without")
    with reading(without) as register:
        expected, past = register.digest, register.history("C1")
    erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT)
    with reading(path) as register:
        assert (register.digest, register.history("C1"), register.cases) == (expected, past, 3)
        assert [(each.on, each.reason) for each in register.erasures] == [("2026-03-05", "asked for in writing")]
        with pytest.raises(RegisterRefused, match="no case"):
            register.history("ZEPHYRINE-CASE")
    assert check_register(path) == ()
    record_rows(path, [review(1, days=300)], source=FILE, at=AT)
    erase_patients(path, ["P1", "P2"], source=WHY, at=AT)
    with reading(path) as register:
        assert (register.cases, len(register.erasures)) == (1, 2)


@pytest.mark.parametrize("passphrase", ["", "open sesame, please"])
def test_a_freeze_loses_the_patient_and_says_so(tmp_path, passphrase):
    path = with_marked(tmp_path)
    frozen = freeze(path, "spring", source=FILE, at=AT, passphrase=passphrase)
    erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT, passphrase=passphrase)
    with reading_frozen(path, "spring", passphrase) as register:
        assert (register.cases, register.digest) == (3, digest(path))
        assert [(each.on, each.reason) for each in register.erasures] == [("2026-03-05", "asked for in writing")]
    assert [each.name for each in freezes_of(path)] == ["spring"]
    assert not frozen.place.exists()


def test_a_closed_freeze_is_not_passed_over(tmp_path):
    path = with_marked(tmp_path)
    freeze(path, "spring", source=FILE, at=AT, passphrase="open sesame, please")
    before = path.read_bytes()
    for given in ("", "wrong"):
        with pytest.raises(RegisterRefused, match="passphrase"):
            erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT, passphrase=given)
    assert path.read_bytes() == before


def test_a_case_that_was_once_booked_on_the_patient_stays_with_its_own(tmp_path):
    path = made(tmp_path, [patient(1), patient(2), case(1, patient_id="P2"), review(1)])
    record_rows(path, [case(1)], source=FILE, at=AT)
    erase_patients(path, ["P2"], source=WHY, at=AT)
    with reading(path) as register:
        assert register.held()["reconstructions"]["C1",] == case(1).values
        assert len(register.held()["reviews"]) == 1
        assert "P2" not in {entry.value for entry in register.history("C1")}
    assert check_register(path) == ()


def test_a_withdrawn_patient_can_be_erased(tmp_path):
    path = with_marked(tmp_path)
    withdraw_patient(path, "QUIXOTIC-PATIENT", source=WHY, at=AT)
    assert erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT).cases == 1
    assert holders(tmp_path) == []


def test_what_cannot_be_erased_is_said_and_changes_nothing(tmp_path):
    path = made(tmp_path)
    before = path.read_bytes()
    for patients, source, says in (
        (["P9"], WHY, 'no patient "P9"'),
        (["P1", "C1"], WHY, 'no patient "C1"'),
        ([], WHY, "no patient"),
        (["P1"], Source(who="NB"), "reason"),
        (["P1"], Source(who="NB", reason="P1 asked"), "other words"),
    ):
        with pytest.raises(RegisterRefused, match=says):
            erase_patients(path, patients, source=source, at=AT)
    assert path.read_bytes() == before
    assert sorted(each.name for each in tmp_path.iterdir()) == ["register.duckdb", "register.duckdb.head"]


def test_the_reasons_of_changes_to_the_patient_alone_are_gone_whatever_they_say(tmp_path):
    path = with_marked(tmp_path)
    telling = Source(who="NB", reason="the postman from Harbour Street")
    day = review(9).values["reviewed_on"]
    amend_value(path, Amendment("ZEPHYRINE-CASE", "oedema", 2, day), source=telling, at=AT)
    remove_row(path, RowAddress("ZEPHYRINE-CASE", day), source=telling, at=AT)
    amend_value(path, Amendment("C1", "side", "left"), source=Source(who="NB", reason="kept"), at=AT)
    freeze(path, "spring", source=FILE, at=AT)
    erase_patients(path, ["QUIXOTIC-PATIENT"], source=WHY, at=AT)
    assert b"Harbour" not in path.read_bytes()
    with reading(path) as register:
        assert "kept" in {each.reason for each in register.history("C1")}
    assert check_register(path) == ()


@pytest.mark.parametrize("passphrase", ["", "open sesame, please"])
def test_a_freeze_that_is_named_after_the_patient_is_renamed_and_its_reason_is_gone(tmp_path, passphrase):
    path = made(tmp_path)
    freeze(
        path, "ZEPHYRINE-CASE", source=Source(who="NB", reason="before zephyrine-case"), at=AT, passphrase=passphrase
    )
    freeze(path, "spring", source=Source(who="NB", reason="for quixotic-patient"), at=AT, passphrase=passphrase)
    (tmp_path / "more").mkdir()
    more = with_marked(tmp_path / "more")
    shutil.copytree(tmp_path / "register.freezes", tmp_path / "more" / "register.freezes")
    erase_patients(more, ["QUIXOTIC-PATIENT"], source=WHY, at=AT, passphrase=passphrase)
    assert [each.name for each in freezes_of(more)] == ["erased-1", "spring"]
    for each in freezes_of(more):
        with loaded_freeze(each, passphrase) as (_con, _protocol, manifest):
            assert (manifest["reason"], manifest["who"]) == ("[erased]", "NB")
    assert holders(tmp_path / "more") == []


def test_a_review_that_was_moved_to_the_patient_does_not_come_back(tmp_path):
    path = made(tmp_path)
    record_rows(path, [review(1, days=200)], source=FILE, at=AT)
    amend_value(path, Amendment("C1", "case_id", "C2", review(1, days=200).values["reviewed_on"]), source=WHY, at=AT)
    erase_patients(path, ["P2"], source=WHY, at=AT)
    with reading(path) as register:
        assert [key[1] for key in register.held()["reviews"] if key[0] == "C1"] == ["2025-04-28"]


def test_the_patient_of_a_case_is_found(tmp_path):
    assert patients_of_cases(made(tmp_path), ["C1", "P2", "C9"]) == {"C1": "P1"}


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on the size of files")
def test_an_erasure_on_a_full_disk_leaves_the_register_and_no_part(tmp_path):
    path = made(tmp_path)
    script = (
        "import resource; size = path.stat().st_size\n"
        "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (size // 2, size // 2))\n"
        "try: erase_patients(path, ['P2'], source=Source(who='NB', reason='asked'), at=AT)\n"
        "except OutcomesError as refused: print(refused.summary)"
    )
    before = digest(path)
    assert "disk is full" in told(ROOT, script, path)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["register.duckdb", "register.duckdb.head"]
    assert digest(path) == before
