"""`outcomes show` on a case of the invented clinic: the terminal, the page, and the drawn values read back."""

import re
from datetime import date

import pytest

from tests.cli.running import CLOSED_ON, done, refused


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    """The register of the whole invented clinic."""
    from demo.generate import clinic
    from tests.rows import register_at

    return register_at(tmp_path_factory.mktemp("show") / "demo.duckdb", clinic())


@pytest.fixture(scope="module")
def page(register):
    """The page of one case."""
    path = register.parent / "case.html"
    assert str(path) in done("show", "VB-427F-L", "--register", register, "--as-of", CLOSED_ON, "--out", path).out
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def pictures(register):
    """The drawings of the same case with the words of each mark, which the page leaves out."""
    from outcomes.findings.case_story import case_story
    from outcomes.report.charts.case_course import course_pictures
    from outcomes.store import reading

    with reading(register) as held:
        story = case_story(held.held(), held.protocol, "VB-427F-L", date.fromisoformat(CLOSED_ON))
        return {picture.id: picture.inline for picture in course_pictures(story, held.protocol)}


def rows_of(case):
    from demo.generate import clinic

    return [row for row in clinic()["reviews"] if row["case_id"] == case]


def drawn(pictures, measure):
    """The values of the points that the picture of a measure shows, by days since division; a higher value stands higher."""
    mark = r'aria-label="months: ([\d.]+); value: ([−\d.]+)" role="graphics-symbol" aria-roledescription="point"'
    found = [
        (round(float(months) * 30.4375), float(value.replace("−", "-")), float(height))
        for months, value, height in re.findall(
            mark + r' transform="translate\([\d.]+,([\d.]+)\)"', pictures[f"course-{measure}"]
        )
    ]
    by_height = [value for _, value, _ in sorted(found, key=lambda point: -point[2])]
    assert by_height == sorted(by_height)
    return sorted((days, value) for days, value, _ in found)


def test_every_scleral_show_of_the_workbook_is_drawn(pictures):
    """Divided on 2023-04-17; the values are those of the workbook's rows, not of the program."""
    wanted = sorted(
        ((row["reviewed_on"] - date(2023, 4, 17)).days, float(row["scleral_show_mm"]))
        for row in rows_of("VB-427F-L")
        if row.get("scleral_show_mm") not in {None, ""}
    )
    assert len(wanted) > 4
    assert drawn(pictures, "scleral-show") == wanted


def test_the_fellow_lid_is_drawn_beside_the_margin(pictures):
    rows = rows_of("VB-427F-L")
    both = sum(
        row.get(name) not in {None, ""} for row in rows for name in ("margin_position_mm", "fellow_margin_position_mm")
    )
    assert len(drawn(pictures, "margin-position")) == both


def test_the_page_asks_for_nothing_from_outside_and_says_for_whom_it_is(page):
    assert re.findall(r"(?:src|href)=\"(?!#|data:)", page) == []
    assert "<script" not in page
    assert page.count('<figure id="chart-course-') == 17
    assert "for the clinic's own eyes" in page.replace("&#39;", "'")
    assert "2023-04-17" in page


def test_the_terminal_tells_the_whole_story_and_cuts_nothing(register):
    out = done("show", "vb-427f-l", "--register", register, "--as-of", CLOSED_ON).out
    assert "…" not in out
    for words in (
        "Case VB-427F-L",
        "Defect width 20.5 mm",
        "39 from operation to division",
        "2024-03-12",
        "Kind of revision",
    ):
        assert words in " ".join(out.split()), words
    assert out.count(" Review ") >= len(rows_of("VB-427F-L"))
    assert "74 days late" in out  # three years, as worked out by hand for `due`


def test_a_case_without_division_is_shown(register):
    out = done("show", "VB-244H-R", "--register", register, "--as-of", CLOSED_ON).out
    assert "dehisced on 2020-03-28" in " ".join(out.split())
    path = register.parent / "undivided.html"
    done("show", "VB-244H-R", "--register", register, "--as-of", CLOSED_ON, "--out", path)
    assert "Nothing was measured after division." in path.read_text(encoding="utf-8")


def test_bad_requests_are_sentences(register, tmp_path):
    assert "did you mean VB-427F-L" in refused("show", "VB-427-L", "--register", register)
    assert "must end in .html" in refused(
        "show", "VB-427F-L", "--register", register, "--out", tmp_path / "a.pdf", code=2
    )
    there = tmp_path / "there.html"
    there.write_text("mine")
    assert "exists already" in refused("show", "VB-427F-L", "--register", register, "--out", there, code=2)
    assert there.read_text() == "mine"


def test_ask_refuses_an_unknown_case_instead_of_answering_nothing(register):
    asked = ("ask", "one_case", "--register", register, "--set")
    assert "there is no case" in refused(*asked, "case=C03")
    assert "the case is written VB-427F-L" in refused(*asked, "case=vb-427f-l", code=2)
    assert "0 rows" not in done(*asked, "case=VB-427F-L").out
    done(*asked, "case=VB-301N-R")  # never divided: no values, and that is the answer


def test_ask_calls_no_swelling_poor_before_three_months(register):
    """The rule for oedema holds from the window of three months on, which begins on day 67."""
    sql = "select min(days_since_division) as first from measured where measure = 'oedema' and poor is not null"
    assert re.search(r"\b(6[7-9]|[7-9]\d)\b", done("ask", "--register", register, "--sql", sql).out)
    early = "select count(*) as n from measured where measure = 'oedema' and poor is null and days_since_division < 67"
    assert not re.search(r"\n\s+0\s", done("ask", "--register", register, "--sql", early).out)
