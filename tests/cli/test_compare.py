"""Text from the register is harmless wherever it is shown, and a public report leaves nobody in what leaves the clinic."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter
from datetime import date, timedelta
from xml.etree import ElementTree as ET

import pytest

from outcomes.protocol import default_protocol
from outcomes.store import create_register, record_rows
from tests.cli.running import CLOSED_ON, done, refused
from tests.report.explorer import unpacked
from tests.store.clinic import AT, FILE, case, patient, review

pytestmark = pytest.mark.slow

SCRIPT, FORMULA = "<script>alert(1)</script>", '=HYPERLINK("http://x")'
LIDS = range(1, 41)


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    """Forty lids, some with codes that a page or a spreadsheet would obey. Put in below the checks, which refuse such codes."""
    folder = tmp_path_factory.mktemp("odd")
    path = folder / "register.duckdb"
    create_register(path, default_protocol())
    rows = []
    for number in LIDS:
        cover = "graft" if number % 2 else "advancement"
        surgeon = (SCRIPT, FORMULA, "KV")[number % 3]
        operated = date(2025, 1, 7) + timedelta(days=number)
        divided = operated + timedelta(days=21)
        seen = {"retraction_mm": 0.5 * (number % 5), "trichiasis": "yes" if number in {4, 5, 6} else "no"}
        rows += [
            patient(number, smoker="current" if number < 4 else "never"),
            case(number, cover=cover, surgeon=surgeon, operated_on=operated, divided_on=divided),
            *(
                review(
                    number,
                    reviewed_on=divided + timedelta(days=days),
                    assessor=FORMULA if number % 4 else SCRIPT,
                    **seen,
                )
                for days in ((91, 183) if number > 3 else (91,))
            ),
        ]
    record_rows(path, rows, source=FILE, at=AT)
    return path


@pytest.fixture(scope="module")
def report(register):
    out = register.parent / "report"
    done("compare", "--register", register, "--as-of", CLOSED_ON, "--out", out)
    return out


@pytest.fixture(scope="module")
def public(register):
    out = register.parent / "public"
    told = done("compare", "--register", register, "--as-of", CLOSED_ON, "--surgeon", SCRIPT, "--surgeon", "KV",
                "--surgeon", FORMULA, "--for", "public", "--out", out)  # fmt: skip
    assert "Made for the public" in " ".join(told.out.split())
    return out


@pytest.fixture(scope="module")
def journal(register):
    out = register.parent / "journal"
    done("compare", "--register", register, "--as-of", CLOSED_ON, "--for", "journal", "--out", out)
    return out


def test_a_journal_gets_counts_of_any_size_and_nothing_of_single_lids(report, journal):
    assert len(small_counts_in(journal)) > 20
    drawn = {file.name.split(".")[0] for file in (journal / "charts").iterdir()}
    assert not {name for name in drawn if name.startswith(("every-lid", "followed", "courses", "fellow"))}
    spec = json.loads((report / "charts" / "followed.vl.json").read_text(encoding="utf-8"))
    codes = {row["case"] for rows in spec["datasets"].values() for row in rows if "case" in row}
    assert len(codes) > 20
    assert f'"case": "{min(codes)}"' in json.dumps(unpacked(report / "report.html")["specs"])
    written = re.compile('[">](' + "|".join(map(re.escape, codes)) + ')["<]')
    for file in journal.rglob("*"):
        if file.suffix in {".html", ".svg", ".csv", ".json"}:
            assert not written.search(file.read_text(encoding="utf-8-sig")), file
    explored = json.dumps(unpacked(journal / "report.html")["specs"])
    assert '"datasets"' in explored
    assert not written.search(explored)
    assert not re.search(r'"(?:case|date)"|20\d\d-\d\d-\d\d', explored)
    tree = json.loads((journal / "comparison.json").read_text(encoding="utf-8"))
    assert tree["level"] == "journal"
    assert "For a journal" in (journal / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("level", ["journal", "public"])
def test_charts_to_explore_hold_no_single_lid_outside_the_clinic(report, level, request):
    own = unpacked(report / "report.html")["specs"]
    shown = unpacked(request.getfixturevalue(level) / "report.html")["specs"]
    single = {name for name in own if name.startswith(("every-lid", "followed", "courses", "fellow"))}
    assert len(single) >= 3
    assert shown
    assert not single & set(shown)
    rows = [row for spec in shown.values() for each in spec["datasets"].values() for row in each]
    assert not [row for row in rows if {"case", "date", "day", "revised", "divided", "last"} & set(row)]
    # No more points than there are summaries: of each cohort at each review, at each grade, or at each step of a curve.
    lids = max(len({row.get("case") for row in each}) for each in own["followed"]["datasets"].values())
    alike = Counter(json.dumps(sorted(row)) for row in rows if not {"window", "at", "months", "lid"} & set(row))
    assert max(alike.values()) < lids


def cells(folder):
    for file in sorted((folder / "tables").glob("*.csv")):
        with file.open(encoding="utf-8-sig", newline="") as open_file:
            for row in csv.DictReader(open_file):
                yield from ((file.name, name, cell) for name, cell in row.items())


def test_the_odd_codes_are_shown_and_harmless(report):
    shown = [cell for _, _, cell in cells(report) if "HYPERLINK" in cell]
    assert shown
    number = re.compile(r"[+-]?[\d.,]+%?( |$)")
    obeyed = [cell for _, _, cell in cells(report) if re.match(r"[=+\-@\t\r]", cell) and not number.match(cell)]
    assert obeyed == []
    pages = [*report.rglob("*.html"), *report.rglob("*.svg")]
    assert len(pages) > 5
    assert [page.name for page in pages if SCRIPT in page.read_text(encoding="utf-8")] == []
    assert "&lt;script&gt;alert(1)" in (report / "report.html").read_text(encoding="utf-8")
    for picture in report.rglob("*.svg"):
        ET.parse(picture)  # noqa: S314 - our own file
    assert SCRIPT in (report / "comparison.json").read_text(encoding="utf-8")


def test_no_code_leaves_the_clinic(public):
    files = [file for file in public.rglob("*") if file.suffix in {".html", ".svg", ".csv", ".json"}]
    assert len(files) > 10
    for file in files:
        content = file.read_text(encoding="utf-8-sig")
        assert "alert(1)" not in content, file
        assert "HYPERLINK" not in content, file
        assert file.suffix not in {".csv", ".json"} or not re.search(r"\b[CP]\d+\b", content), file
    assert "surgeons: 3 chosen" in (public / "report.html").read_text(encoding="utf-8")


def test_no_picture_shows_single_lids(report, public):
    drawn = {file.stem for file in (report / "charts").iterdir()}
    assert {"every-lid", "followed", "courses"} <= drawn
    left = {file.stem for file in (public / "charts").iterdir()}
    assert left
    assert not {
        name
        for name in left
        if name.startswith(("every-lid", "followed", "courses", "fellow", "curve", "grades", "seen"))
    }


def small_counts_in(folder):
    """Counts from 1 to 4 in the tables; not quartiles, intervals and other measured numbers."""
    counts = re.compile(r"(\d+) of (\d+)|^(\d+)$")
    measured = ("months", "unit", "p", "stamp", "_median", "low", "high", "estimate")
    return [
        (file, name, cell)
        for file, name, cell in cells(folder)
        if not name.endswith(measured) and "definitions" not in file
        for found in counts.finditer(cell)
        if any(0 < int(count) < 5 for count in found.groups() if count)
    ]


def test_no_small_count_is_in_any_table(report, public):
    assert len(small_counts_in(report)) > 20
    assert small_counts_in(public) == []


def test_what_is_made_public_says_so_in_every_file(public):
    assert all("counts from 1 to 4 left out" in cell for _, name, cell in cells(public) if name == "stamp")
    tree = json.loads((public / "comparison.json").read_text(encoding="utf-8"))
    assert tree["warnings"][0]["code"] == "public"


def test_a_cohort_that_is_too_small_is_refused(register, tmp_path):
    told = refused("compare", "--register", register, "--as-of", CLOSED_ON, "--to", "2025-01-14", "--for", "public",
                   "--out", tmp_path / "x")  # fmt: skip
    assert "fewer than 5 lids" in told
    assert not (tmp_path / "x").exists()
