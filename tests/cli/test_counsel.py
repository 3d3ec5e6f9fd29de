"""`outcomes counsel` from a real register: it asks for what is missing, and refuses what it must."""

import io
import sys
from datetime import UTC, datetime

import pypdf
import pytest

from outcomes.cli.app import main
from outcomes.protocol import SheetRow, default_protocol
from outcomes.store import Source, create_register, record_rows
from tests.findings.counsel.registers import lids, together

PATIENT = ("--age", "74", "--defect-width", "18", "--lid-width", "30", "--depth", "full thickness", "--laxity", "7")


class Typed(io.StringIO):
    """What somebody types at a terminal."""

    def isatty(self):
        return True


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    path = tmp_path_factory.mktemp("register") / "register.duckdb"
    create_register(path, default_protocol())
    sheets = together(lids("grafted", 14, poor=6), lids("advanced", 12)).sheets
    rows = [SheetRow(sheet, number, row) for sheet, rows in sheets.items() for number, row in enumerate(rows, start=2)]
    record_rows(
        path, rows, source=Source("clinic.xlsx", "ab" * 32, who="NB", reason=""), at=datetime(2026, 3, 5, tzinfo=UTC)
    )
    return path


@pytest.fixture
def run(register, monkeypatch, capsys):
    """Run the command; gives its exit code and everything that it printed."""

    def run(*options):
        monkeypatch.setattr(
            sys, "argv", ["outcomes", "counsel", "--register", str(register), "--as-of", "2026-06-30", *options]
        )
        code = 0
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
        told = capsys.readouterr()
        return code, " ".join((told.out + told.err).split())

    return run


def test_the_first_lines_are_the_outcomes_and_the_rest_comes_on_more(run):
    code, printed = run(*PATIENT)
    assert code == 0
    assert "On the sheet: seen, then of 100" in printed
    assert "6 of 14: 43 (21 to 68)" in printed
    assert "add --more" in printed
    assert "Published" not in printed
    assert "all lids" not in printed
    more = run(*PATIENT, "--more")[1]
    for part in (
        "all lids",
        "like it *",
        "no prediction",
        "Published, not of this register",
        "Lids like the patient's",
    ):
        assert part in more


def test_the_sheet_is_written(run, tmp_path):
    sheet = tmp_path / "sheet.pdf"
    code, _ = run(*PATIENT, "--out", str(sheet), "--language", "de", "--large-print", "--paper", "letter")
    assert code == 0
    assert len(pypdf.PdfReader(sheet).pages) == 4


def test_a_case_is_named_by_its_code_and_left_out(run):
    code, printed = run("--case", "grafted000", "--more")
    assert code == 0
    assert "own lids are left out (1 lids)" in printed
    assert run("--case", "nobody")[0] == 1


@pytest.mark.parametrize("short", ["full", "FULL", "thick"])
def test_short_forms_of_the_depth_are_taken(run, short):
    whole = run(*PATIENT)
    assert run(*PATIENT[:7], short, *PATIENT[8:]) == whole


@pytest.mark.parametrize("short, said", [("ful thicknes", 'did you mean "full thickness"'), ("deep", "must be")])
def test_a_depth_that_is_no_short_form_is_refused_with_the_nearest(run, short, said):
    code, printed = run(*PATIENT[:7], short, *PATIENT[8:])
    assert (code, said in printed) == (1, True)


def test_what_is_missing_is_named_where_nobody_can_be_asked(run):
    code, told = run("--age", "74")
    assert code == 1
    assert all(option in told for option in ("--defect-width", "--lid-width", "--depth"))
    assert "--laxity" in told
    assert "--fellow-vision" not in told


def test_what_is_missing_is_asked_for_on_a_terminal(run, monkeypatch):
    monkeypatch.setattr(sys, "stdin", Typed("18\n30\nfull\n7\n\n"))
    code, told = run("--age", "74")
    assert code == 0
    assert "6 of 14" in told


@pytest.mark.parametrize(
    "options, code, said",
    [
        ((*PATIENT[:1], "150", *PATIENT[2:]), 1, "from 16 to 110"),
        ((*PATIENT[:-1], "99"), 1, "from 0 to 20"),
        ((*PATIENT, "--language", "xx"), 2, "known: de, en"),
        ((*PATIENT, "--out", "sheet.docx"), 2, "ends in .pdf or .html"),
        ((*PATIENT, "--paper", "a5"), 2, "a4, letter"),
        (("--for", "public", "--printed-name", "Mrs Invented"), 2, "carries no name"),
        (("--for", "journal"), 2, "for the room (own-eyes)"),
        (("--for", "friends"), 2, "friends"),
        ((*PATIENT, "--out", "no/such/folder/sheet.pdf"), 2, "cannot be written"),
    ],
)
def test_bad_requests_are_refused(run, options, code, said):
    ended, told = run(*options)
    assert said in told
    assert ended == code


def test_a_public_leaflet_asks_for_nothing(run, tmp_path):
    page = tmp_path / "leaflet.html"
    code, told = run("--for", "public", "--out", str(page))
    assert code == 0
    assert "like it" not in told
    assert "A new lower eyelid" in page.read_text(encoding="utf-8")


def test_the_printed_name_is_not_stored(run, tmp_path, register):
    before = register.read_bytes()
    page = tmp_path / "sheet.html"
    assert run(*PATIENT, "--out", str(page), "--printed-name", "Mrs Invented")[0] == 0
    assert "For Mrs Invented" in page.read_text(encoding="utf-8")
    assert register.read_bytes() == before
    assert b"Invented" not in before


def test_an_empty_register(tmp_path, run):
    empty = tmp_path / "empty.duckdb"
    create_register(empty, default_protocol())
    code, told = run(*PATIENT, "--register", str(empty), "--out", str(tmp_path / "sheet.html"))
    assert code == 0
    assert "never used" in told
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "We do not have enough of our own results to say." in page
    assert "5</span> of <span" in page
