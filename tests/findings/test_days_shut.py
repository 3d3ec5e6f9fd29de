"""Days with the eye shut, worked out by hand; the demo's are those of its workbook."""

import dataclasses
from datetime import date, timedelta
from statistics import median

import pytest

from outcomes.findings.days_shut import days_shut
from outcomes.report.comparison_json import document
from outcomes.report.tables.days_shut import days_shut_table
from outcomes.report.traced_text import Figure, plain
from tests.rows import OPERATED, case, series_of, sheets


def lid(code, days, *, cover="graft", planned=None, reason=None):
    return case(
        code,
        cover=cover,
        divided_on=None if days is None else OPERATED + timedelta(days=days),
        division_planned_on=None if planned is None else OPERATED + timedelta(days=planned),
        division_early_reason=reason,
    )


def of(*lids, **selection):
    return days_shut(series_of(sheets(list(lids)), **selection))


def test_days_are_counted_from_operation_to_division():
    """14, 20, 22, 28 days: median 21; quartiles by definition 7 at ranks 1.75 and 3.25: 18.5 and 23.5."""
    found = of(*(lid(f"A{days}", days) for days in (14, 20, 22, 28))).grafted
    assert (found.n, found.median, found.q1, found.q3) == (4, 21, 18.5, 23.5)
    assert (found.planned, found.planned_n, found.early, found.late, found.reasons) == (None, 0, 0, 0, ())


def test_the_plan_is_compared_lid_by_lid():
    found = of(
        lid("A", 30, cover="advancement", planned=35, reason="dehiscence"),
        lid("B", 34, cover="advancement", planned=35),
        lid("C", 35, cover="advancement", planned=35),
        lid("D", 40, cover="advancement", planned=36),
        lid("E", 33, cover="advancement"),
        lid("F", 20, cover="advancement", planned=28, reason="dehiscence"),
    ).advanced
    assert (found.n, found.planned, found.planned_n) == (6, 35, 5)
    assert (found.early, found.late) == (3, 1)
    assert found.reasons == (("dehiscence", 2), ("not recorded", 1))


def test_undivided_lids_and_other_covers_do_not_count():
    found = of(lid("A", None, planned=21), lid("B", 21), lid("C", 90, cover="transposition"))
    assert (found.grafted.n, found.grafted.median, found.advanced.n, found.advanced.median) == (1, 21, 0, None)


@pytest.mark.parametrize("as_of, divided", [(OPERATED + timedelta(days=20), 0), (OPERATED + timedelta(days=21), 1)])
def test_a_division_counts_from_its_day_on(as_of, divided):
    assert of(lid("A", 21), as_of=as_of).grafted.n == divided


def test_the_demo_is_counted_as_its_workbook_says():
    from demo.generate import clinic

    rows = clinic()
    found = days_shut(series_of(rows, as_of=date(2026, 6, 30)))
    for cohort, cover in (("grafted", "graft"), ("advanced", "advancement")):
        done = [
            (row["divided_on"] - row["operated_on"]).days
            for row in rows["reconstructions"]
            if row["cover"] == cover and row.get("divided_on")
        ]
        assert (getattr(found, cohort).n, getattr(found, cohort).median) == (len(done), median(done))


def test_the_comparison_has_the_days_and_every_printed_number_is_at_its_address():
    from outcomes.findings import compare, stamp
    from tests.report.addresses import value_at

    lids = [lid(f"A{day}", day, planned=24, reason="patient's wish" if day < 24 else None) for day in range(20, 28)]
    lids += [lid(f"B{day}", day, cover="advancement", planned=35) for day in range(30, 38)]
    series = series_of(sheets(lids))
    comparison = compare(series, stamp(series, digest="0" * 64, frozen="", software="test"))
    assert comparison.days_shut == days_shut(series)
    figures = [
        each
        for row in days_shut_table(comparison.days_shut).rows
        for cell in row.cells
        for each in cell
        if isinstance(each, Figure)
    ]
    assert len(figures) > 14
    for each in figures:
        assert float(each.text) == pytest.approx(value_at(comparison, series.protocol, each.id), abs=0.051), each
    tree = document(comparison)["days_shut"]
    assert (tree["grafted"]["median"], tree["grafted"]["planned"], tree["advanced"]["n"]) == (23.5, 24, 8)
    nothing = document(dataclasses.replace(comparison, days_shut=None))["days_shut"]
    assert nothing == {"grafted": None, "advanced": None, "note": "left out of public output"}
    assert days_shut_table(None).rows == ()


def test_every_number_of_the_table_is_one_of_the_finding():
    days = of(lid("A", 30, cover="advancement", planned=35, reason="dehiscence"), lid("B", 21))
    table = days_shut_table(days)
    cells = [[plain(cell) for cell in row.cells] for row in table.rows]
    assert cells == [
        ["Lids divided", "1", "1"],
        ["Median (quartiles)", "21 (21 to 21)", "30 (30 to 30)"],
        ["Median planned", "not estimated", "35 (n 1)"],
        ["Divided before the day planned", "0", "1"],
        ["Divided after it", "0", "0"],
        ["Reasons for early division", "–", "dehiscence 1"],
    ]
