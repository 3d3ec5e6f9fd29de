"""`outcomes due` on the invented clinic, compared with lists worked out by hand, and its files read by other programs."""

import csv
from datetime import date, timedelta

import icalendar
import pypdf
import pytest

from tests.cli.running import CLOSED_ON, done, refused, tiny

CLOSING = date.fromisoformat(CLOSED_ON)


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    """The register of the whole invented clinic."""
    from demo.generate import clinic
    from tests.rows import register_at

    return register_at(tmp_path_factory.mktemp("due") / "demo.duckdb", clinic())


@pytest.fixture(scope="module")
def listed(register):
    """Everything that is due on the closing day, as the rows of the CSV file."""
    path = register.parent / "due.csv"
    done("due", "--register", register, "--as-of", CLOSED_ON, "--out", path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


# What follows was worked out by hand from the rows of the workbook, with a calendar.
PEDICLES = [
    ("VB-301N-R", "2017-05-12", 3336, 3365),  # declined
    ("VB-244H-R", "2020-04-24", 2258, 2293),  # healed after it had dehisced on 2020-03-28
    ("VB-591X-R", "2026-05-18", 43, 238),
    ("VB-118T-L", "2026-07-10", -10, 11),
    ("VB-847A-L", "2026-07-13", -13, 22),
]
# Surgeon EA's ten lids in follow-up on 2026-06-30. VB-299T-R, for one: divided 2023-05-12, last seen on day 906 (two years);
# three years come on day 1096, 2026-05-12, 49 days before; the window is open until day 1278, 2026-11-10.
OVERDUE_EA = [
    ("VB-253T-R", "five years", "2026-02-23", "2026-08-24", 127),
    ("VB-427F-L", "three years", "2026-04-17", "2026-10-16", 74),
    ("VB-299T-R", "three years", "2026-05-12", "2026-11-10", 49),
    ("VB-139Y-R", "five years", "2026-05-27", "2026-11-25", 34),
]
MISSED_EA = {
    "six weeks": ["VB-139Y-R"],
    "three months": ["VB-253T-R"],
    "six months": ["VB-139Y-R", "VB-253T-R", "VB-835A-R"],
    "one year": ["VB-139Y-R", "VB-253T-R", "VB-444P-L", "VB-567C-L", "VB-835A-R"],
    "two years": ["VB-139Y-R", "VB-253T-R", "VB-399X-L", "VB-427F-L", "VB-567C-L"],
    "three years": ["VB-139Y-R", "VB-253T-R", "VB-399X-L", "VB-567C-L"],
    "four years": ["VB-139Y-R", "VB-253T-R", "VB-444P-L", "VB-567C-L"],
    "five years": ["VB-444P-L", "VB-567C-L"],
}


def test_pedicles_not_divided_are_those_worked_out_by_hand(listed):
    rows = [row for row in listed if row["what"] == "division"]
    assert [(row["case"], row["due_on"], int(row["days_late"]), int(row["days_shut"])) for row in rows] == PEDICLES
    assert [row["note"] for row in rows if row["note"]] == ["! dehisced on 2020-03-28"]


def test_reviews_of_one_surgeon_are_those_worked_out_by_hand(listed):
    rows = [row for row in listed if row["surgeon"] == "EA" and row["what"].startswith("review: ")]
    overdue = [row for row in rows if row["status"] == "overdue"]
    assert sorted(
        (row["case"], row["what"][8:], row["due_on"], row["until"], int(row["days_late"])) for row in overdue
    ) == (sorted(OVERDUE_EA))
    missed = {}
    for row in rows:
        if row["status"] == "missed":
            missed.setdefault(row["what"][8:], []).append(row["case"])
    assert {window: sorted(cases) for window, cases in missed.items()} == MISSED_EA


def test_the_terminal_shows_one_screen_with_the_pedicles_first(register):
    out = done("due", "--register", register, "--as-of", CLOSED_ON).out
    assert (
        out.index("Pedicles not yet divided: 5")
        < out.index("Reviews: 0 due within 14 days")
        < out.index("Confirmations")
    )
    assert len(out.splitlines()) <= 45
    assert "22 more" in out
    assert max(map(len, out.splitlines())) <= 120


def test_one_surgeon_on_one_screen(register):
    out = done("due", "--register", register, "--as-of", CLOSED_ON, "--surgeon", "EA").out
    places = [out.index(case) for case, *_ in OVERDUE_EA]
    assert places == sorted(places)
    assert "Missed, their window closed: 25 (six weeks 1, three months 1, six months 3, one year 5" in " ".join(
        out.split()
    )
    assert "14 cases looked at" in out


def test_within_brings_what_is_to_come(register):
    """VB-684E-R: divided 2024-01-01, two years on 2025-12-31; asked on 2025-12-10, three weeks before."""
    asked = ("due", "--register", register, "--as-of", "2025-12-10", "--within")
    assert "VB-684E-R" not in done(*asked, "20", "--site", "VELLANBY", "--surgeon", "KO").out
    assert "in 21 days" in done(*asked, "21", "--site", "VELLANBY", "--surgeon", "KO").out


def test_the_calendar_is_read_by_an_independent_parser(register, listed, tmp_path):
    """The package icalendar, which follows RFC 5545, finds every entry, a whole day each, with study codes only."""
    path = tmp_path / "due.ics"
    out = done("due", "--register", register, "--as-of", CLOSED_ON, "--out", path).out
    content = path.read_bytes()
    assert max(map(len, content.split(b"\r\n"))) <= 75
    assert content.count(b"\n") == content.count(b"\r\n")
    entries = icalendar.Calendar.from_ical(content).walk("VEVENT")
    open_rows = [row for row in listed if row["status"] in {"due", "overdue"}]
    assert f"{len(open_rows)} entries in" in out
    assert len({str(entry["UID"]) for entry in entries}) == len(entries) == len(open_rows)
    assert {str(entry["SUMMARY"]).partition(":")[0] for entry in entries} == {row["case"] for row in open_rows}
    for entry in entries:
        start, end = entry["DTSTART"].dt, entry["DTEND"].dt
        assert end - start == timedelta(days=1)
        assert start >= CLOSING
        assert entry.errors == []
    division = next(entry for entry in entries if str(entry["UID"]).startswith("VB-847A-L-division"))
    assert (division["DTSTART"].dt, str(division["SUMMARY"])) == (
        date(2026, 7, 13),
        "VB-847A-L: division of the pedicle",
    )
    late = next(entry for entry in entries if str(entry["UID"]).startswith("VB-299T-R-three_years"))
    assert str(late["SUMMARY"]) == "VB-299T-R: review three years, 49 days late, window until 2026-11-10"


def test_a_register_with_nothing_due_says_so(tmp_path):
    path = tiny(tmp_path)
    assert (
        "Nothing is due on 2019-01-01, 0 cases looked at."
        in done("due", "--register", path, "--as-of", "2019-01-01").out
    )


def test_bad_requests_are_sentences(register, tmp_path):
    asked = ("due", "--register", register, "--as-of", CLOSED_ON)
    assert "the name must end in .csv or .ics" in refused(*asked, "--out", tmp_path / "due.txt", code=2)
    assert 'there is no site "ORSTOW". Did you mean "ORSTOWE"?' in refused(*asked, "--site", "ORSTOW", code=2)
    there = tmp_path / "there.csv"
    there.write_text("mine")
    assert "exists already" in refused(*asked, "--out", there, code=2)
    assert there.read_text() == "mine"
    assert "cannot be written" in refused(*asked, "--out", tmp_path / "no" / "due.csv", code=2)
    assert refused("due", "--register", tmp_path / "none.duckdb")


def test_each_case_with_something_to_do_has_its_clinic_sheet(register, listed, tmp_path):
    sheets = tmp_path / "clinic.pdf"
    done("due", "--register", register, "--as-of", CLOSED_ON, "--out", sheets)
    wanted = {row["case"] for row in listed if "missed" not in row.values()}
    pages = [page.extract_text().split() for page in pypdf.PdfReader(sheets).pages]
    assert {words[1] for words in pages} == wanted
    assert len(pages) == len(wanted)
