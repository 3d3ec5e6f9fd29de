"""By command: blanks that keep and erase, rows that are removed and brought back, protocols that are changed."""

from __future__ import annotations

import os
import sys

import openpyxl
import pytest

from outcomes.store import reading
from tests.cli.running import CLOSED_ON, done, outcomes, refused, tiny, workbook

pytestmark = pytest.mark.slow

WHY = ("--reason", "typed wrongly", "--who", "NB")
BY = ("--as-of", CLOSED_ON)


@pytest.fixture
def register(tmp_path):
    return tiny(tmp_path / "kept")


@pytest.fixture(scope="module")
def loaded_once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    book, path = workbook(folder), folder / "register.duckdb"
    done("new", "--register", path)
    done("load", book, "--register", path, *BY)
    return book, path.read_bytes()


@pytest.fixture
def loaded(loaded_once, tmp_path):
    book, content = loaded_once
    path = tmp_path / "register.duckdb"
    path.write_bytes(content)
    return book, path


def held(path, sheet):
    with reading(path) as register:
        return register.held()[sheet]


def emptied(book, to, name, *, column):
    """The workbook with every value of a column blank, or without the column."""
    opened = openpyxl.load_workbook(book)
    for page in opened.worksheets:
        places = {cell.value: cell.column for cell in page[1]}
        if page.title == "patients" and column == "gone":
            page.delete_cols(places[name])
        elif page.title == "patients":
            for row in range(2, page.max_row + 1):
                page.cell(row, places[name]).value = None
    opened.save(to)
    return to


def test_a_blank_keeps_and_erases_only_after_listing_and_asking(loaded, tmp_path):
    book, path = loaded
    before = held(path, "patients")
    smokers = [key for key, row in before.items() if row.get("smoker")]
    assert smokers
    sheet = emptied(book, tmp_path / "blank.xlsx", "smoker", column="blank")
    said = done("load", sheet, "--register", path, *BY).out
    assert f"Kept: {len(smokers)} value" in said
    assert "smoker: " in said
    assert held(path, "patients") == before
    told = refused("load", sheet, "--register", path, *BY, "--blanks", "erase", code=2)
    assert "add --yes" in told
    assert held(path, "patients") == before
    said = done("load", sheet, "--register", path, *BY, "--blanks", "erase", "--yes").out
    assert f"{len(smokers)} value" in said.splitlines()[0]
    assert held(path, "patients") == {
        key: {name: value for name, value in row.items() if name != "smoker"} for key, row in before.items()
    }


def test_a_column_that_is_not_there_erases_nothing_even_when_told(loaded, tmp_path):
    book, path = loaded
    before = held(path, "patients")
    sheet = emptied(book, tmp_path / "narrow.xlsx", "smoker", column="gone")
    for extra in ((), ("--blanks", "erase", "--yes")):
        assert "smoker" not in done("load", sheet, "--register", path, *BY, *extra).out
        assert held(path, "patients") == before
    assert "keep or erase" in refused("load", sheet, "--register", path, "--blanks", "all", code=2)


def test_a_review_is_removed_stays_removed_and_is_brought_back(register, tmp_path):
    done("export", "--out", tmp_path / "plain", "--register", register)
    (tmp_path / "plain" / "datapackage.json").unlink()
    (tmp_path / "plain" / "protocol.json").unlink()
    before = held(register, "reviews")
    assert "removed" in done("remove", "C1", "--review", "2025-04-28", *WHY, "--register", register).out
    said = done("load", tmp_path / "plain", "--register", register, *BY).out
    assert "1 row of this sheet stay removed" in said
    assert "reviews C1 2025-04-28" in said
    assert ("C1", "2025-04-28", "NB", "clinic") not in held(register, "reviews")
    past = done("history", "C1", "--field", "removed", "--register", register, COLUMNS="250").out
    assert "typed wrongly" in past
    done("restore-row", "C1", "--review", "2025-04-28", *WHY, "--register", register)
    assert held(register, "reviews") == before


def test_an_event_and_a_case_are_removed(register):
    done("remove", "C1", "--event", "infection", "2025-02-03", *WHY, "--register", register)
    assert [key[0] for key in held(register, "events")] == ["C2", "C3"]
    assert "add --yes" in refused("remove", "C2", *WHY, "--register", register, code=2)
    done("remove", "C2", *WHY, "--yes", "--register", register)
    assert [key[0] for key in held(register, "reviews")] == ["C1", "C3"]
    assert "not both" in refused(
        "remove",
        "C1",
        "--review",
        "2025-04-28",
        "--event",
        "infection",
        "2025-02-03",
        *WHY,
        "--register",
        register,
        code=2,
    )


def test_a_day_and_the_case_of_a_review_are_amended(register):
    where = ("--review", "2025-04-28", *WHY, "--register", register)
    done("amend", "C1", "reviewed_on", "2025-05-05", *where)
    assert "is not on the sheet reconstructions" in refused("amend", "C2", "case_id", "C9", *where)
    assert ("C1", "2025-05-05", "NB", "clinic") in held(register, "reviews")
    done("amend", "C1", "case_id", "C2", "--review", "2025-05-05", *WHY, "--register", register)
    assert ("C2", "2025-05-05", "NB", "clinic") in held(register, "reviews")
    done("amend", "C1", "happened_on", "2025-02-04", "--event", "infection", "2025-02-03", *WHY, "--register", register)
    assert ("C1", "2025-02-04", "infection") in held(register, "events")


def test_a_case_code_erases_its_patient_and_says_so(register):
    said = done("erase", "C2", "--reason", "asked", "--yes", "--register", register).out
    assert "C2 is a case of the patient P2." in said
    assert ("P2",) not in held(register, "patients")


@pytest.mark.skipif(sys.platform == "win32", reason="rights of Linux and macOS")
def test_new_files_are_for_their_owner_only(tmp_path):
    path = tmp_path / "register.duckdb"
    before = os.umask(0o022)
    try:
        done("new", "--register", path)
        done("freeze", "spring", "--register", path)
        done("backup", tmp_path / "backup", "--register", path)
        done("export", "--out", tmp_path / "plain", "--register", path)
    finally:
        os.umask(before)
    modes = {each.name: each.stat().st_mode & 0o077 for each in tmp_path.rglob("*")}
    assert set(modes.values()) == {0}, modes


def test_a_protocol_is_checked_listed_and_changed(register, tmp_path):
    mine = tmp_path / "mine.toml"
    mine.write_text(
        'extends = "default"\n[[measures]]\nid = "retraction"\npoor = { at_least = 0.5 }\n', encoding="utf-8"
    )
    said = done("protocol", "check", mine, "--register", register).out
    assert "is sound" in said
    assert "measures retraction, poor: at_least" in said
    assert "3 of 3 held results are judged in another way" in said
    assert "add --yes" in refused("protocol", "change", mine, *WHY, "--register", register, code=2)
    done("protocol", "change", mine, *WHY, "--yes", "--register", register)
    shown = done("protocol", "show", "--register", register).out
    assert "0.5 mm or more" in shown
    assert "from change 2 on" in shown
    assert "typed wrongly" in shown
    mine.write_text('extends = "default"\n[[measures]]\nid = "retraction"\npoorly = 1\n', encoding="utf-8")
    assert "mine.toml row 4, poorly" in refused("protocol", "check", mine, "--register", register)
    assert outcomes("protocol", "show", "--json", "--register", register).out.startswith("{")


def test_a_word_of_the_trade_is_answered_with_the_field(loaded):
    _, path = loaded
    said = refused("amend", "C1", "mrd2", "5", *WHY, "--review", "2025-04-28", "--register", path, *BY, code=2)
    assert "did you mean margin_position_mm?" in said
