"""A workbook is stored whole or not at all, and what changed in it is an amendment."""

from __future__ import annotations

import openpyxl
import pytest

from outcomes.store import reading
from tests.cli.running import CLOSED_ON, done, files_in, refused, workbook

pytestmark = pytest.mark.slow

BY = ("--as-of", CLOSED_ON)


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    return workbook(tmp_path_factory.mktemp("book"))


@pytest.fixture
def register(tmp_path):
    path = tmp_path / "register.duckdb"
    assert "fingerprint" in done("new", "--register", path).out
    return path


def digest(register):
    with reading(register) as held:
        return held.digest


def changed(book, to, sheet, row, **cells):
    held = openpyxl.load_workbook(book)
    page = held[sheet]
    places = {cell.value: cell.column for cell in page[1]}
    for name, value in cells.items():
        page.cell(row, places[name], value)
    held.save(to)
    return to


def test_a_workbook_is_loaded_once_and_then_skipped(book, register):
    first = done("load", book, "--register", register, *BY).out
    assert "reconstructions       6 stored      0 amended      0 skipped" in first
    before = digest(register)
    again = done("load", book, "--register", register, *BY).out
    assert "reconstructions       0 stored      0 amended      6 skipped" in again
    assert digest(register) == before


def test_every_fault_is_listed_by_number_and_nothing_is_stored(book, register, tmp_path):
    done("load", book, "--register", register, *BY)
    before, held = digest(register), register.read_bytes()
    faulty = changed(book, tmp_path / "1.xlsx", "reconstructions", 3, side="middle", defect_width_mm=99)
    faulty = changed(faulty, tmp_path / "2.xlsx", "reviews", 2, oedema="swollen", case_id="NOBODY")
    faulty = changed(faulty, tmp_path / "3.xlsx", "patients", 2, birth_year="=1900+50")
    told = refused("load", faulty, "--register", register, *BY)
    assert "nothing was stored" in told
    for fault in (
        "reconstructions C3: side",
        "defect_width_mm",
        "reviews M2: oedema",
        "patients B2: birth_year",
    ):
        assert fault in told
    assert all(f" {number}. " in told for number in (1, 2, 3, 4))
    assert digest(register) == before
    assert register.read_bytes() == held


def test_one_changed_cell_is_an_amendment_that_keeps_its_predecessor(book, register, tmp_path):
    done("load", book, "--register", register, *BY)
    case = openpyxl.load_workbook(book)["reconstructions"]["A2"].value
    other = changed(book, tmp_path / "corrected.xlsx", "reconstructions", 2, defect_width_mm=23.5)
    assert (
        "reconstructions       0 stored      1 amended      5 skipped"
        in done("load", other, "--register", register, *BY).out
    )
    past = done("history", case, "--field", "defect_width_mm", "--register", register, COLUMNS="250").out
    assert past.count("defect_width_mm") == 2
    assert "23.5" in past
    assert "cases.xlsx" in past
    assert "corrected.xlsx" in past
    assert "2 values in 2 changes" in past


def test_what_cannot_be_read_is_told(register, tmp_path):
    (tmp_path / "notes.txt").write_text("x")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04 nothing")
    (tmp_path / "folder").mkdir()
    before = files_in(register.parent)
    for name in ("notes.txt", "broken.xlsx", "folder", "missing.xlsx"):
        told = refused("load", tmp_path / name, "--register", register)
        assert name in told
    assert files_in(register.parent) == before


def test_faults_are_listed_marked_and_mended_by_option(book, register, tmp_path):
    faulty = tmp_path / "faulty.xlsx"
    held = openpyxl.load_workbook(book)
    page = held["patients"]
    column = next(cell.column_letter for cell in page[1] if cell.value == "diabetes")
    for row in range(2, 6):
        page[f"{column}{row}"] = "k.A."
    held.save(faulty)
    told = refused("load", faulty, "--marked", tmp_path / "marked.xlsx", "--register", register, *BY)
    assert "holds 4 problems of 1 kind; nothing was stored." in told
    assert f"--read 'k.A.=blank' (4 cells, first {column}2, {column}3, {column}4, {column}5)" in told
    assert "Every cell is listed in" in told
    assert "4 cells marked in" in told
    assert (tmp_path / "faulty-problems.csv").read_text(encoding="utf-8-sig").count("k.A.") == 8  # word and remedy each
    assert openpyxl.load_workbook(tmp_path / "marked.xlsx")["patients"][f"{column}2"].comment
    ran = done("load", faulty, "--read", "k.A.=blank", "--register", register, *BY)
    assert 'Note: "k.A." was read as not recorded (4 in all).' in ran.err
    with reading(register) as opened:
        case = next(iter(opened.held()["reconstructions"]))[0]
        assert any("k.A." in past.reason for past in opened.history(case))


@pytest.mark.parametrize(
    "arguments, words",
    [
        (("--dates", "backwards"), '--dates "backwards" is no order'),
        (("--read", "nothing"), "write it as --read"),
        (("--map", "none.toml", "--read", "a=b"), "edit the mapping instead"),
    ],
)
def test_an_option_that_says_nothing_is_refused(book, register, arguments, words):
    assert words in refused("load", book, *arguments, "--register", register, *BY, code=2)
