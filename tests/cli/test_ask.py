"""A question is answered as a table, CSV, Parquet and JSON, and never with anything that a spreadsheet would obey."""

from __future__ import annotations

import csv
import json

import polars as pl
import pytest

from outcomes.store import questions, reading
from tests.cli.running import CLOSED_ON, done, refused, tiny
from tests.store.clinic import case, made, patient

pytestmark = pytest.mark.slow

SQL = "select case_id, defect_width_mm, -defect_width_mm as less, cover from cases order by case_id"


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    return tiny(tmp_path_factory.mktemp("asked"))


def test_the_list_tells_every_question_with_its_settings_and_every_view():
    told = done("ask", "--list").out
    for each in questions():
        assert f"  {each.name}\n" in told
        assert each.asks in told
        assert all(f"--set {setting.name}=" in told for setting in each.settings)
    assert "window_values" in told


def test_a_question_is_answered_as_a_table_with_its_stamp(register):
    told = " ".join(done("ask", "cases_by_year", "--register", register).out.split())
    assert "How many lids were rebuilt in each year, with which cover?" in told
    assert "2025" in told
    with reading(register) as held:
        assert held.digest[:12] in told


def test_settings_fill_a_question(register):
    ask = ("ask", "not_seen_since", "--register", register, "--json", "--as-of", CLOSED_ON, "--set")
    assert len(json.loads(done(*ask, "months=6").out)["answer"]) == 3
    assert json.loads(done(*ask, "months=60").out)["answer"] == []
    assert "no number" in refused(*ask, "months=six", code=2)
    assert "needs --set case" in refused("ask", "one_case", "--register", register, code=2)
    assert "did you mean" in refused("ask", "two_lid", "--register", register, code=2)


def test_ones_own_question_goes_to_every_form(register, tmp_path):
    (tmp_path / "mine.sql").write_text(SQL)
    for form in ("csv", "json", "parquet"):
        done("ask", "--file", tmp_path / "mine.sql", "--register", register, "--out", tmp_path / f"a.{form}")
    rows = [("C1", 18.5, -18.5, "graft"), ("C2", 18.5, -18.5, "graft"), ("C3", 18.5, -18.5, "graft")]
    assert pl.read_parquet(tmp_path / "a.parquet").rows() == rows
    tree = json.loads((tmp_path / "a.json").read_text())
    assert [tuple(row) for row in tree["answer"]] == rows
    assert [column["name"] for column in tree["columns"]] == ["case_id", "defect_width_mm", "less", "cover"]
    with (tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
        read = list(csv.DictReader(file))
    assert [(row["case_id"], float(row["less"])) for row in read] == [("C1", -18.5), ("C2", -18.5), ("C3", -18.5)]
    with reading(register) as held:
        for each in (read[0]["stamp"][:200], tree["register"]):
            assert held.digest[:12] in each
        assert pl.read_parquet_metadata(tmp_path / "a.parquet")["register"] == held.digest


def test_ones_own_settings_are_numbers_days_and_text(register):
    sql = "select count(*) from cases where case_id = $code and operated_on < $day and defect_width_mm > $mm"
    more = ("--set", "code=C1", "--set", "day=2025-06-01", "--set", "mm=10")
    assert json.loads(done("ask", "--sql", sql, *more, "--register", register, "--json").out)["answer"] == [[1]]


@pytest.mark.parametrize(
    "sql, says",
    [
        ("from read_text('/etc/passwd')", "cannot be asked"),
        ("drop table cases", "only a SELECT"),
        ("select 1; select 2", "2 statements"),
        ("select nosuch from cases", "nosuch"),
        ("select length(repeat('x', 2000000000))", "memory"),
    ],
)
def test_what_may_not_be_asked_is_refused_with_a_sentence(register, sql, says):
    assert says in refused("ask", "--sql", sql, "--register", register)


def test_text_that_a_spreadsheet_would_obey_is_made_harmless(tmp_path):
    odd = ['=HYPERLINK("http://x","y")', "+1+1", "-1+1", "@sum(1)"]
    rows = [patient(1), *(case(1, case_id=f"C{n}", surgeon=code) for n, code in enumerate(odd))]
    register = made(tmp_path, rows)
    sql = "select surgeon from cases order by case_id"
    done("ask", "--sql", sql, "--register", register, "--out", tmp_path / "a.csv")
    with (tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
        assert [row["surgeon"] for row in csv.DictReader(file)] == [f"'{code}" for code in odd]
    told = done("ask", "--sql", sql, "--register", register).out
    assert all(code in told for code in odd)
