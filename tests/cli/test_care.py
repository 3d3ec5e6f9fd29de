"""Amend, withdraw, erase, freeze, back up, restore and export do what they say, by command."""

from __future__ import annotations

import csv
import json
from datetime import date

import polars as pl
import pytest

from outcomes.cli.compare import compared
from outcomes.findings import Selection
from outcomes.report import document, document_text
from outcomes.store import reading
from tests.cli.running import CLOSED_ON, copied, done, files_in, outcomes, refused, tiny
from tests.store.clinic import case, clinic, event, made, patient, review
from tests.whole.clinic import tables_of

pytestmark = pytest.mark.slow

REASON = ("--reason", "typed wrongly", "--who", "NB")
PHRASE = {"OUTCOMES_PASSPHRASE": "correct horse battery"}


@pytest.fixture
def register(tmp_path):
    return tiny(tmp_path / "kept")


def answered(register, frozen=""):
    found, _ = compared(register, frozen, Selection(date.fromisoformat(CLOSED_ON)))
    return found


def test_a_value_is_amended_with_a_reason_and_its_history_shows_both(register):
    told = done("amend", "C1", "retraction_mm", "1.5", "--review", "2025-04-28", *REASON, "--register", register).out
    assert "retraction_mm was 0.5, is 1.5" in told
    past = done("history", "C1", "--field", "retraction_mm", "--register", register, COLUMNS="250").out
    assert "typed wrongly" in past
    assert "NB" in past
    assert past.count("retraction_mm") == 2
    with reading(register) as held:
        assert [row["retraction_mm"] for key, row in held.held()["reviews"].items() if key[0] == "C1"] == [1.5]


@pytest.mark.parametrize(
    "arguments, code, says",
    [
        (["C1", "snap_back", "9"], 2, "snap_back"),
        (["C1", "nosuch", "1"], 2, 'no field "nosuch"'),
        (["C1", "retraction_mm", "1"], 2, "--review"),
        (["NOBODY", "snap_back", "1"], 1, "no case"),
        (["C1", "snap_back", "2"], 1, "already is"),
        (["C1", "retraction_mm", "1", "--review", "2025-04-01"], 1, "no such review"),
        (["C1", "case_id", "C9"], 1, "code cannot be amended"),
        (["C1", "side", "blank"], 2, "must be recorded"),
        (["C1", "divided_on", "2024-12-01"], 1, "divided_on"),
        (["C1", "snap_back", "1", "--review", "tomorrow"], 2, "--review"),
    ],
)
def test_what_cannot_be_amended_is_told_and_nothing_changes(register, arguments, code, says):
    before = register.read_bytes()
    assert says in refused("amend", *arguments, *REASON, "--register", register, code=code)
    assert register.read_bytes() == before


def test_a_blank_is_not_recorded(register):
    assert "is not recorded" in done("amend", "C1", "snap_back", "blank", *REASON, "--register", register).out


def test_an_empty_reason_is_refused(register):
    assert "needs a reason" in refused("amend", "C1", "snap_back", "1", "--reason", " ", "--register", register)


def test_who_withdraws_is_in_no_figure_and_counted_in_the_flow(register):
    assert answered(register).flow[0].grafted == 3
    done("withdraw", "P2", "--reason", "asked", "--yes", "--register", register)
    found = answered(register)
    assert found.grafted.cases == 2
    assert [(step.id, step.grafted) for step in found.flow[:2]] == [
        ("reconstructed_or_withdrawn", 3),
        ("not_withdrawn", 2),
    ]
    assert [(loss.reason, loss.lids) for loss in found.flow[1].lost] == [("withdrew", 1)]
    assert "already withdrawn" in refused("withdraw", "P2", "--reason", "x", "--yes", "--register", register)
    done("freeze", "spring", "--register", register)
    assert answered(register, "spring").flow == found.flow


@pytest.mark.parametrize(
    "arguments, words",
    [
        (("history", "c2"), "C2"),
        (("amend", "\uff232", "side", "left", "--reason", "x"), "reconstructions C2: side was"),
        (("remove", "c2", "--reason", "x", "--yes"), "reconstructions C2: removed"),
        (("withdraw", "p2", "--reason", "x", "--yes"), "P2 withdrew"),
        (("erase", "c2", "--reason", "x", "--yes"), "C2 is a case of the patient P2"),
        (("erase", "p2", "--reason", "x", "--yes"), "Erased 1 case"),
    ],
)
def test_a_code_is_known_whatever_its_capitals_and_width(register, arguments, words):
    assert words in done(*arguments, "--register", register).out


def test_a_review_goes_to_a_case_whatever_the_capitals_of_its_code(register):
    said = refused("amend", "c2", "case_id", " c1", "--review", "2025-04-28", "--reason", "x", "--register", register)
    assert "hold such a row already" in said


@pytest.mark.parametrize("command", ["withdraw", "erase"])
def test_nothing_is_removed_without_a_confirmation(register, command):
    before = files_in(register.parent)
    assert "--yes" in refused(command, "P1", "--reason", "asked", "--register", register, code=2)
    assert files_in(register.parent) == before


def test_who_is_erased_is_in_no_byte_afterwards(tmp_path):
    codes = {"patient_id": "PATIENT-TO-ERASE"}
    its = {"case_id": "CASE-TO-ERASE"}
    theirs = [patient(9, **codes), case(9, **codes, **its), review(9, **its), event(9, **its)]
    (tmp_path / "kept").mkdir()
    register = made(tmp_path / "kept", [*clinic(), *theirs])
    done("freeze", "spring", "--register", register)
    before = files_in(register.parent)
    assert any(b"CASE-TO-ERASE" in content for content in before.values())
    told = done("erase", "PATIENT-TO-ERASE", "--reason", "asked by letter", "--yes", "--register", register).out
    assert "Erased 1 case" in told
    assert "also from the freeze spring" in told
    done("backup", tmp_path / "copy", "--register", register)
    for name, content in {**files_in(register.parent), "copy": (tmp_path / "copy").read_bytes()}.items():
        assert b"TO-ERASE" not in content, name
    [frozen] = register.parent.rglob("reconstructions.parquet")
    assert pl.read_parquet(frozen).get_column("case_id").to_list() == ["C1", "C2", "C3"]
    assert "no case" in refused("history", "CASE-TO-ERASE", "--register", register)
    again = ("erase", "PATIENT-TO-ERASE", "--reason", "x", "--yes", "--register", register)
    assert "there is no patient" in refused(*again)


def test_a_freeze_answers_the_same_byte_for_byte_whatever_happens_to_the_register(register, tmp_path):
    assert "Froze the register as spring" in done("freeze", "spring", "--register", register).out
    compare = ("compare", "--register", register, "--as-of", CLOSED_ON, "--frozen", "spring", "--out")
    done(*compare, tmp_path / "first")
    done("amend", "C1", "retraction_mm", "4", "--review", "2025-04-28", *REASON, "--register", register)
    done("withdraw", "P2", "--reason", "asked", "--yes", "--register", register)
    done(*compare, tmp_path / "second")
    assert tables_of(tmp_path / "first") == tables_of(tmp_path / "second")
    assert json.loads((tmp_path / "first" / "comparison.json").read_text())["register"]["frozen"] == "spring"
    assert document_text(answered(register)) != document_text(answered(register, "spring"))


def test_a_changed_byte_in_a_freeze_is_refused(register):
    done("freeze", "spring", "--register", register)
    [file] = register.parent.rglob("reviews.parquet")
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    told = refused("compare", "--register", register, "--frozen", "spring", "--out", register.parent / "x")
    assert "reviews.parquet" in told


def test_freezes_have_names_of_their_own(register):
    done("freeze", "spring", "--register", register)
    assert "never changed" in refused("freeze", "spring", "--register", register)
    assert "cannot name" in refused("freeze", "../spring", "--register", register)
    told = refused("compare", "--register", register, "--frozen", "autumn", "--out", register.parent / "x")
    assert "there are: spring" in told


def test_a_sealed_freeze_asks_for_its_passphrase(register):
    done("freeze", "closed", "--sealed", "--register", register, **PHRASE)
    ask = ("ask", "--sql", "select count(*) as lids from cases", "--frozen", "closed", "--register", register, "--json")
    assert json.loads(done(*ask, **PHRASE).out)["answer"] == [[3]]
    assert "passphrase is needed" in refused(*ask, code=2)
    assert "passphrase is wrong" in refused(*ask, OUTCOMES_PASSPHRASE="another one")


@pytest.mark.parametrize("sealed", [False, True])
def test_a_backup_brings_back_register_history_and_freezes(register, tmp_path, sealed):
    done("amend", "C1", "snap_back", "1", *REASON, "--register", register)
    done("freeze", "spring", "--register", register)
    more = ["--sealed"] if sealed else []
    told = done("backup", tmp_path / "copy", *more, "--register", register, **PHRASE).out
    assert "Backed up 3 cases" in told
    assert ("is not encrypted" in told) is not sealed
    back = tmp_path / "new" / "register.duckdb"
    back.parent.mkdir()
    done("restore", tmp_path / "copy", *more, "--register", back, **PHRASE)
    with reading(register) as one, reading(back) as other:
        assert one.digest == other.digest
        assert one.history("C1") == other.history("C1")
    assert document_text(answered(back)) == document_text(answered(register))
    assert document_text(answered(back, "spring")) == document_text(answered(register, "spring"))


def test_a_restore_overwrites_only_when_told(register, tmp_path):
    done("backup", tmp_path / "copy", "--register", register)
    before = files_in(register.parent)
    assert "--overwrite" in refused("restore", tmp_path / "copy", "--register", register)
    assert files_in(register.parent) == before
    done("amend", "C1", "snap_back", "1", *REASON, "--register", register)
    done("restore", tmp_path / "copy", "--overwrite", "--register", register)
    with reading(register) as held:
        assert held.held()["reconstructions"]["C1",]["snap_back"] == 2


def test_a_spoiled_backup_is_refused_before_anything_is_touched(register, tmp_path):
    done("backup", tmp_path / "copy", "--register", register)
    content = bytearray((tmp_path / "copy").read_bytes())
    content[len(content) // 2] ^= 1
    (tmp_path / "copy").write_bytes(content)
    before = files_in(register.parent)
    refused("restore", tmp_path / "copy", "--overwrite", "--register", register)
    (tmp_path / "copy").write_bytes(content[:1000])
    refused("restore", tmp_path / "copy", "--overwrite", "--register", register)
    assert files_in(register.parent) == before


def test_a_passphrase_is_never_an_argument(register, tmp_path):
    for command in (["backup", tmp_path / "x"], ["freeze", "x"], ["restore", tmp_path / "x"]):
        assert outcomes(*command, "--passphrase", "secret", "--register", register).code == 2
        told = done(command[0], "--help").out
        assert "--sealed" in told


def test_the_export_can_be_loaded_again_into_the_same_register(register, tmp_path):
    done("export", "--out", tmp_path / "plain", "--register", register)
    with (tmp_path / "plain" / "reconstructions.csv").open(encoding="utf-8", newline="") as file:
        assert [row["case_id"] for row in csv.DictReader(file)] == ["C1", "C2", "C3"]
    told = done("load", tmp_path / "plain", "--register", register, "--as-of", CLOSED_ON).out
    assert "reconstructions       0 stored      0 amended      3 skipped" in told
    assert "is there already" in refused("export", "--out", tmp_path / "plain", "--register", register)


def test_a_copy_of_the_folder_is_the_same_register(register, tmp_path):
    done("freeze", "spring", "--register", register)
    other = copied(register, tmp_path / "other")
    assert document(answered(other, "spring")) == document(answered(register, "spring"))


@pytest.mark.parametrize(
    "words",
    ["Mrs Rowan asked for it", "asked by Dr. Linden", "call 0151 496 0000 2", "see rowan@clinic.example", "Jane Rowan"],
)
def test_a_reason_that_names_somebody_is_refused_as_it_is_kept_for_good(register, words):
    before = register.read_bytes()
    told = refused("amend", "C1", "snap_back", "1", "--reason", words, "--register", register, code=2)
    assert "--reason holds what looks like" in told
    assert words not in told
    assert register.read_bytes() == before


@pytest.mark.parametrize(
    "words", ["typed wrongly on 2024-05-01", "Photograph of May 2024 graded again", "the drops had worn off"]
)
def test_a_reason_may_hold_a_day_and_capital_letters(register, words):
    done("amend", "C1", "snap_back", "1", "--reason", words, "--register", register)


def test_who_changes_something_is_a_code(register):
    words = "--who looks like a person's name"
    assert words in refused(
        "amend", "C1", "snap_back", "1", *REASON[:2], "--who", "Jane Rowan", "--register", register, code=2
    )


def test_a_history_of_an_unknown_field_names_the_known_ones(register):
    told = refused("history", "C1", "--field", "nose", "--register", register, code=2)
    assert "has no value of that name; it has" in told
    assert "retraction_mm" in told


def test_a_narrow_screen_loses_no_letter_of_a_history(register):
    wide = done("history", "C1", "--register", register, COLUMNS="250").out
    narrow = done("history", "C1", "--register", register, COLUMNS="80").out
    assert "…" not in narrow
    assert sum(map(str.isalnum, narrow)) == sum(map(str.isalnum, wide))


def test_an_answer_is_not_written_over_a_file_that_is_there(register, tmp_path):
    place = tmp_path / "answer.csv"
    place.write_text("mine\n", encoding="utf-8")
    ask = ("ask", "--sql", "SELECT count(*) AS cases FROM cases", "--register", register, "--out", place)
    assert "exists already" in refused(*ask, code=2)
    assert place.read_text(encoding="utf-8") == "mine\n"


def test_a_template_is_a_workbook(tmp_path):
    assert "must end in .xlsx" in refused("template", tmp_path / "sheet.pdf", code=2)
    assert not (tmp_path / "sheet.pdf").exists()
