"""Each kind of characteristic, worked by hand; and what may be asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from outcomes.cohort import Selection, column
from outcomes.cohort.characteristics import with_characteristics
from outcomes.errors import WrongUsage
from outcomes.protocol import Characteristic, default_protocol
from tests.rows import AS_OF, OPERATED, case, series_of, sheets

PROTOCOL = default_protocol()


def characteristic(name, rows):
    return series_of(sheets(rows)).cases.get_column(f"is:{name}").to_list()


def cases(name, *values):
    return [case(f"C{number}", **{name: value}) for number, value in enumerate(values)]


def test_a_yes_or_no_is_1_or_0_and_null_when_not_recorded():
    asked = replace(PROTOCOL.characteristic("recurrent_tumour"), values=())
    made = series_of(sheets(cases("recurrent_tumour", "yes", "no", None))).cases
    found = with_characteristics(made, replace(PROTOCOL, characteristics=(asked,)))
    assert found.get_column(column(asked)).to_list() == [1.0, 0.0, None]


def test_a_number_is_itself():
    assert characteristic("distraction", cases("distraction_mm", 0, 7.5, None)) == [0.0, 7.5, None]


def test_a_ratio_needs_both_parts():
    rows = [case("A", defect_width_mm=10, lid_width_mm=40), case("B", defect_width_mm=10)]
    assert characteristic("defect_share", rows) == [0.25, None]


def test_a_word_counts_when_it_is_one_of_the_words_and_unknown_is_not_recorded():
    assert characteristic("full_thickness", cases("defect_depth", "full thickness", "skin", None)) == [1.0, 0.0, None]
    assert characteristic("canthus", cases("canthus_involved", "both", "none", "unknown")) == [1.0, 0.0, None]


def test_levels_are_the_words_themselves():
    assert characteristic("surgeon", cases("surgeon", "KM", "AB", None)) == ["KM", "AB", None]


def test_days_between_two_dates_are_counted_and_the_year_is_that_of_the_date():
    rows = [case("A", divided_on=date(2024, 1, 22)), case("B", divided_on=None)]
    assert characteristic("days_to_division", rows) == [21.0, None]
    assert characteristic("calendar_year", rows) == [2024.0, 2024.0]


def test_a_characteristic_has_a_column_of_its_own():
    assert column(Characteristic("x", "X")) == "is:x"


def chosen(**filters):
    return Selection(AS_OF, **filters)


def test_dates_may_be_the_same_day_and_not_the_wrong_way_round():
    chosen(operated_from=OPERATED, operated_to=OPERATED).check_against(PROTOCOL)
    chosen(operated_to=OPERATED).check_against(PROTOCOL)
    with pytest.raises(WrongUsage, match="lies after --to 2024-01-01; swap them"):
        chosen(operated_from=date(2024, 1, 2), operated_to=OPERATED).check_against(PROTOCOL)


@pytest.mark.parametrize("filters", [{"sites": ("X",)}, {"surgeons": ("X",)}])
def test_a_site_or_surgeon_of_no_case_is_wrong_usage(filters):
    with pytest.raises(WrongUsage, match=r'"X".*Known: '):
        series_of(sheets([case("A", site="N", surgeon="KM")]), **filters)


def test_the_nearest_name_is_offered():
    with pytest.raises(WrongUsage, match='Did you mean "six_months"'):
        chosen(windows=("six_month",)).check_against(PROTOCOL)


def test_each_filter_keeps_its_own_cases():
    rows = sheets(
        [
            case("A", site="N", surgeon="KM"),
            case("B", site="S", surgeon="AB", diagnosis="melanoma"),
            case("C", site="S", surgeon="KM"),
        ]
    )
    for filters, kept in (
        ({"sites": ("S",)}, "BC"),
        ({"surgeons": ("KM",)}, "AC"),
        ({"diagnoses": ("melanoma",)}, "B"),
    ):
        series = series_of(rows, **filters)
        assert series.cases.get_column("case_id").to_list() == list(kept)
        assert series.flow[1].grafted == len(kept)
        assert [each.lids for each in series.flow[1].lost] == [3 - len(kept)]


def test_windows_and_measures_that_were_not_asked_for_are_not_there():
    series = series_of(sheets([case("A")]), windows=("one_year",), measures=("notching",))
    assert [window.id for window in series.windows] == ["one_year"]
    assert [measure.id for measure in series.measures] == ["notching"]
    whole = series_of(sheets([case("A")]))
    assert (whole.windows, whole.measures) == (PROTOCOL.windows, PROTOCOL.measures)


def test_every_filter_is_said():
    said = chosen(operated_from=OPERATED, operated_to=AS_OF, sites=("N", "S"), measures=("notching",)).says()
    assert said == (
        "operated on or after 2024-01-01",
        "operated on or before 2026-06-30",
        "sites: N, S",
        "measures: notching",
    )
    assert chosen().says() == ()


def test_the_cohort_is_that_of_the_cover_and_no_other():
    series = series_of(sheets([case("A"), case("B", "advancement")]))
    assert series.cohort("grafted").get_column("case_id").to_list() == ["A"]
    assert series.cohort("advanced").get_column("case_id").to_list() == ["B"]
