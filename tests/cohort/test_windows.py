"""Which review stands for which window, and when a lid is missing, not yet due, or not applicable.

The rules are those of the data dictionary; the expected states are worked by hand.
"""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from outcomes.cohort import MISSING, NOT_APPLICABLE, NOT_DUE, SEEN, states
from tests.rows import DIVIDED, after, case, review, series_of, sheets

NOTCH, WINDOW = "notching", "six_months"


def state(
    rows: dict, *, window: str = WINDOW, clock: str = "division", **selection: object
) -> tuple[str, float | None]:
    found = states(series_of(rows, **selection), clock=clock).filter(
        (pl.col("measure") == NOTCH) & (pl.col("window") == window)
    )
    assert found.height == 1
    return found.item(0, "status"), found.item(0, "value")


def test_review_nearest_to_the_nominal_day_counts() -> None:
    rows = sheets(
        [case("A")], [review("A", 150, notch_mm=1), review("A", 180, notch_mm=2), review("A", 260, notch_mm=3)]
    )
    assert state(rows) == (SEEN, 2.0)


def test_of_two_equally_near_the_later_counts() -> None:
    rows = sheets([case("A")], [review("A", 183 - 10, notch_mm=1), review("A", 183 + 10, notch_mm=2)])
    assert state(rows) == (SEEN, 2.0)


def test_of_two_on_one_day_the_masked_counts() -> None:
    rows = sheets(
        [case("A")],
        [review("A", 180, notch_mm=1), review("A", 180, notch_mm=2, masked="yes", assessor="GR", mode="photograph")],
    )
    assert state(rows) == (SEEN, 2.0)


def test_a_call_without_the_measure_does_not_hide_a_measurement() -> None:
    rows = sheets([case("A")], [review("A", 183, mode="telephone", satisfaction=8), review("A", 200, notch_mm=2)])
    assert state(rows) == (SEEN, 2.0)


@pytest.mark.parametrize("day,seen", [(136, MISSING), (137, SEEN), (273, SEEN), (274, MISSING)])
def test_window_holds_both_its_ends(day: int, seen: str) -> None:
    assert state(sheets([case("A")], [review("A", day, notch_mm=1)]))[0] == seen


@pytest.mark.parametrize("as_of,expected", [(after(272), NOT_DUE), (after(273), MISSING), (after(274), MISSING)])
def test_missing_only_when_the_window_is_past(as_of: date, expected: str) -> None:
    assert state(sheets([case("A")]), as_of=as_of)[0] == expected


def test_blank_at_a_review_is_missing_not_zero() -> None:
    assert state(sheets([case("A")], [review("A", 183, oedema=0)])) == (MISSING, None)


@pytest.mark.parametrize("died,expected", [(273, NOT_APPLICABLE), (274, MISSING)])
def test_death_before_the_window_is_over_makes_it_not_applicable(died: int, expected: str) -> None:
    rows = sheets([case("A")], events=[{"case_id": "A", "happened_on": after(died), "kind": "death"}])
    assert state(rows)[0] == expected


def test_moved_away_is_missing() -> None:
    rows = sheets([case("A")], events=[{"case_id": "A", "happened_on": after(100), "kind": "moved away"}])
    assert state(rows)[0] == MISSING


def test_never_divided_is_not_applicable_and_division_ahead_not_yet_due() -> None:
    assert state(sheets([case("A", divided_on=None)]))[0] == NOT_APPLICABLE
    ahead = case("A", divided_on=None, division_planned_on=date(2026, 7, 15))
    assert state(sheets([ahead]))[0] == NOT_DUE


def test_division_after_the_as_of_day_is_not_known_yet() -> None:
    assert state(sheets([case("A")]), as_of=DIVIDED - timedelta(days=1))[0] == NOT_APPLICABLE


def test_computed_value_stands_before_the_entered_one() -> None:
    both = review("A", 183, margin_position_mm=6.5, fellow_margin_position_mm=5, retraction_mm=0)
    entered = review("B", 183, margin_position_mm=6.5, retraction_mm=1)
    found = states(series_of(sheets([case("A"), case("B")], [both, entered]))).filter(
        (pl.col("measure") == "retraction") & (pl.col("window") == WINDOW)
    )
    assert found.get_column("value").to_list() == [1.5, 1.0]


def test_clock_of_operation_counts_from_the_operation() -> None:
    rows = sheets([case("A")], [review("A", 120, notch_mm=1)])  # 151 days after the operation
    assert state(rows)[0] == MISSING
    assert state(rows, clock="operation") == (SEEN, 1.0)
