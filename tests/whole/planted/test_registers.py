"""Each planted register really holds its hazard, and every row of it is legal.

Nothing of the program is used here: crude shares by counting, adjustment by least squares.
"""

from datetime import date
from functools import cache

import numpy as np
import pytest
from scipy.stats import fisher_exact

from tests.demo.legality import faults, without_blanks
from tests.whole.planted import registers

CLOSING = date(2026, 6, 30)
WINDOWS = {
    "six weeks": (42, 22, 66),
    "three months": (91, 67, 136),
    "six months": (183, 137, 273),
    "one year": (365, 274, 547),
}


@cache
def made(name):
    return getattr(registers, name)()


def cases_of(register, cover=None, column="cover"):
    return {row["case_id"]: row for row in register["reconstructions"] if cover is None or row[column] == cover}


def value_of(row, measure):
    if measure != "retraction":
        return row[measure]
    both = row["margin_position_mm"], row["fellow_margin_position_mm"]
    return None if None in both else both[0] - both[1]


def nearest(register, window, *, masked="no", clock="divided_on"):
    """The review of each case nearest to a window's nominal day."""
    nominal, first, last = WINDOWS[window]
    cases, best = cases_of(register), {}
    for row in register["reviews"]:
        start = cases[row["case_id"]][clock]
        if row["masked"] == masked and start is not None:
            days = (row["reviewed_on"] - start).days
            off = abs(days - nominal)
            if first <= days <= last and off <= best.get(row["case_id"], (off, None))[0]:
                best[row["case_id"]] = (off, row)
    return {case: row for case, (_off, row) in best.items()}


def poor(register, measure, line, window, *, column="cover", **how):
    """Poor results and lids seen, in each cohort."""
    rows = nearest(register, window, **how)
    counted = {}
    for cover in ("graft", "advancement"):
        values = [value_of(row, measure) for case, row in rows.items() if case in cases_of(register, cover, column)]
        seen = [value for value in values if value is not None]
        counted[cover] = sum(value >= line for value in seen), len(seen)
    return counted


def difference(counted):
    """Advanced minus grafted."""
    (grafted, seen_grafted), (advanced, seen_advanced) = counted["graft"], counted["advancement"]
    return advanced / seen_advanced - grafted / seen_grafted


def fisher(counted):
    return fisher_exact([[bad, seen - bad] for bad, seen in counted.values()])[1]


def effect_in_mm(register, *, adjusted, year=False):
    """Advanced minus grafted retraction at six months by least squares, with its standard error."""
    columns, values = [], []
    for case, row in nearest(register, "six months").items():
        defect, value = cases_of(register)[case], value_of(row, "retraction")
        if value is None:
            continue
        line = [1.0, float(defect["cover"] == "advancement")]
        if adjusted:
            line += [
                defect["defect_width_mm"] / defect["lid_width_mm"],
                defect["distraction_mm"],
                defect["defect_height_mm"],
            ]
        if year:
            line += [(defect["operated_on"] - date(2017, 1, 1)).days / 365.25]
        columns.append(line)
        values.append(value)
    table, results = np.array(columns), np.array(values)
    fitted, *_ = np.linalg.lstsq(table, results, rcond=None)
    noise = np.sum((results - table @ fitted) ** 2) / (len(results) - table.shape[1])
    return fitted[1], np.sqrt(noise * np.linalg.inv(table.T @ table)[1, 1])


def median_years(register, cover):
    return np.median([(CLOSING - row["operated_on"]).days / 365.25 for row in cases_of(register, cover).values()])


def events(register, kind):
    happened = [row["case_id"] for row in register["events"] if row["kind"] == kind]
    return {cover: sum(case in cases_of(register, cover) for case in happened) for cover in ("graft", "advancement")}


@pytest.mark.parametrize("hazard", registers.HAZARDS, ids=lambda hazard: hazard.__name__)
def test_every_row_is_legal_and_the_cohorts_are_of_the_size_said(hazard):
    register = made(hazard.__name__)
    assert faults(without_blanks(register)) == []
    assert 36 <= len(register["reconstructions"]) <= 300
    assert hazard.__doc__


def test_making_a_register_again_gives_the_same_rows():
    assert registers.trouble_returns() == made("trouble_returns")


def test_confounding_alone_makes_a_crude_difference_that_adjustment_takes_away():
    register = made("effect_by_confounding_alone")
    assert fisher(poor(register, "retraction", 1, "six months")) < 0.001
    crude, crude_error = effect_in_mm(register, adjusted=False)
    effect, error = effect_in_mm(register, adjusted=True)
    assert crude < -3 * crude_error
    assert abs(effect) < 2 * error


def test_confounding_hides_an_effect_that_adjustment_brings_out():
    register = made("effect_hidden_by_confounding")
    assert fisher(poor(register, "retraction", 1, "six months")) > 0.2
    crude, crude_error = effect_in_mm(register, adjusted=False)
    effect, error = effect_in_mm(register, adjusted=True)
    assert abs(crude) < 2 * crude_error
    assert effect < -3 * error
    assert abs(effect - -0.75) < 2 * error


def test_a_real_effect_is_large_enough_to_survive_sixty_comparisons():
    counted = poor(made("a_real_effect"), "oedema", 1, "six months")
    assert fisher(counted) * 60 < 0.001
    assert difference(counted) < -0.5


def test_trouble_that_returns_makes_comfort_look_rare():
    register = made("trouble_returns")
    counted = poor(register, "retraction", 1, "six months")
    assert counted["graft"][1] >= 46
    assert counted["advancement"][1] <= 25
    assert difference(counted) > 0.3
    # Were every advanced lid that was not seen comfortable, the difference would be gone.
    assert counted["advancement"][0] / 50 < counted["graft"][0] / 50 + 0.1


def test_the_newer_cohort_had_less_time_to_recur():
    register = made("newer_cohort")
    recurrences = events(register, "recurrence")
    assert median_years(register, "graft") > median_years(register, "advancement") + 3
    assert recurrences["graft"] > 1.6 * recurrences["advancement"]
    # By the time at risk the two are alike: a hazard of -ln(0.7)/5 = 0.0713 a year was planted, from 0.4 years on.
    ends = {row["case_id"]: row["happened_on"] for row in register["events"]}
    for cover, happened in recurrences.items():
        years = sum(
            (ends.get(case, CLOSING) - row["operated_on"]).days / 365.25 - 0.4
            for case, row in cases_of(register, cover).items()
        )
        assert 0.4 < happened / years / 0.0713 < 1.9


def test_death_competes_more_where_the_old_were_grafted():
    deaths = events(made("competing_death"), "death")
    assert deaths["graft"] > deaths["advancement"] + 10
    assert min(events(made("competing_death"), "recurrence").values()) >= 5


def test_the_advanced_are_looked_at_seldom():
    register = made("different_review_intervals")
    assert poor(register, "retraction", 1, "three months")["advancement"][1] <= 3
    assert poor(register, "retraction", 1, "three months")["graft"][1] >= 40
    # At one year, when nearly all of both were looked at, they are alike.
    assert min(seen for _bad, seen in poor(register, "retraction", 1, "one year").values()) >= 38
    assert abs(difference(poor(register, "retraction", 1, "one year"))) < 0.15


def test_the_clock_decides_which_cover_swells_more():
    register = made("different_days_of_division")
    assert difference(poor(register, "oedema", 1, "three months")) < -0.25
    assert difference(poor(register, "oedema", 1, "three months", clock="operated_on")) > 0.1


def test_two_lids_of_one_person_count_as_two_only_to_the_hasty():
    register = made("two_lids_one_patient")
    assert len(register["patients"]) == 30
    counted = poor(register, "retraction", 1, "six months")
    assert fisher(counted) < 0.05
    owners = {cover: {} for cover in counted}
    for case, row in nearest(register, "six months").items():
        defect, value = cases_of(register)[case], value_of(row, "retraction")
        if value is not None:
            owners[defect["cover"]].setdefault(defect["patient_id"], []).append(value >= 1)
    agreeing = [len(set(lids)) == 1 for people in owners.values() for lids in people.values() if len(lids) == 2]
    assert sum(agreeing) / len(agreeing) > 0.85
    # Counted as people, whose result is poor when their first lid's is.
    people = {cover: (sum(lids[0] for lids in found.values()), len(found)) for cover, found in owners.items()}
    assert fisher(people) > 0.05


def test_none_of_eighteen():
    counted = poor(made("none_of_eighteen"), "ectropion", 1, "six months")
    assert counted["advancement"] == (0, 18)
    assert counted["graft"][0] >= 1


def test_blanks_read_as_zero_would_make_an_effect():
    register = made("blanks")
    counted = poor(register, "notch_mm", 1, "six months")
    assert counted["graft"][1] == len(nearest(register, "six months").keys() & cases_of(register, "graft").keys())
    assert counted["advancement"][1] <= 22
    assert abs(difference(counted)) < 0.2
    seen = len(nearest(register, "six months").keys() & cases_of(register, "advancement").keys())
    as_zero = {"graft": counted["graft"], "advancement": (counted["advancement"][0], seen)}
    assert difference(as_zero) < -0.2


def test_suspicions_are_many_and_confirmations_few():
    register = made("suspected_recurrences")
    suspected = {row["case_id"] for row in register["reviews"] if row["recurrence"] == "suspected"}
    assert len(suspected & cases_of(register, "graft").keys()) == 10
    assert events(register, "recurrence") == {"graft": 2, "advancement": 2}


def test_learning_looks_like_an_effect_until_the_year_is_adjusted_for():
    register = made("learning_over_the_years")
    crude, crude_error = effect_in_mm(register, adjusted=False)
    effect, error = effect_in_mm(register, adjusted=False, year=True)
    assert crude < -3 * crude_error
    assert abs(effect) < 2 * error


def test_only_the_unmasked_assessor_sees_a_difference():
    register = made("only_the_unmasked_assessor_sees_it")
    assert difference(poor(register, "oedema", 1, "three months")) < -0.4
    assert abs(difference(poor(register, "oedema", 1, "three months", masked="yes"))) < 0.2


def test_as_done_the_covers_differ_and_as_planned_they_do_not():
    register = made("planned_one_way_done_another")
    changed = [row for row in register["reconstructions"] if row["cover"] != row["cover_planned"]]
    assert len(changed) == 18
    assert fisher(poor(register, "retraction", 1, "six months")) < 0.05
    assert fisher(poor(register, "retraction", 1, "six months", column="cover_planned")) > 0.2


def test_undivided_lids_have_no_lid_measures():
    register = made("never_divided")
    undivided = {case for case, row in cases_of(register).items() if row["divided_on"] is None}
    assert len(undivided) == 13
    assert undivided <= cases_of(register, "advancement").keys()
    assert abs(difference(poor(register, "retraction", 1, "six months"))) < 0.2
