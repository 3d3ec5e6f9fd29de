"""The public report, the leaflet and the rows of one data lock, taken together by somebody who knows patients."""

import copy
import random
from dataclasses import replace

import pytest

from outcomes.findings import compare, public, stamp
from outcomes.findings.counsel.local_figures import local_figures
from outcomes.findings.counsel.patient import NOBODY
from outcomes.findings.disclosure.k_anonymity import Results, recodings
from outcomes.findings.disclosure.microdata import _judged, _shared, _table, shared_data
from outcomes.report import document
from tests.findings.disclosure.attack import hidden_cells, worked_back
from tests.findings.disclosure.outsider import learnt
from tests.findings.disclosure.test_suppression import FEW, examined
from tests.rows import DIVIDED, after, case, review, series_of, sheets

COHORTS = ("grafted", "advanced")


def register(seed, lids=(30, 90)):
    """A register by chance with enough lids for a leaflet and for rows: rare and frequent results, losses, late divisions."""
    chance = random.Random(seed)
    cases, reviews, events = [], [], []
    for number in range(chance.randrange(*lids)):
        name = f"L{number:03}"
        divided = DIVIDED if chance.random() < 0.97 else None
        cases.append(
            case(
                name, chance.choice(["graft", "advancement"]), divided_on=divided,
                patient_id=f"P{number - (number % 11 == 1):03}", side=("right", "left")[number % 2],
                diagnosis=chance.choice(["basal cell carcinoma"] * 4 + ["melanoma"]),
                defect_width_mm=chance.choice([10, 14, 18]), lid_width_mm=28,
            )
        )  # fmt: skip
        if divided:
            days = [day for day in (7, 42, 91, 183, 365, 730) if chance.random() < 0.85]
            reviews.extend(review(name, day, **examined(chance), notch_mm=chance.choice([0, 0, 1])) for day in days)
        for kind in ("revision", "recurrence", "death"):
            if chance.random() < 0.12:
                day = after(chance.randrange(20, 1500))
                more = {"revision_kind": "other"} if kind == "revision" else {}
                events.append({"case_id": name, "happened_on": day, "kind": kind, **more})
    rows = sheets(cases, reviews, events)
    for patient in rows["patients"]:
        patient |= {
            "sex": chance.choice(["female", "male"]),
            "birth_year": chance.randrange(1930, 1970),
            "smoker": chance.choice(["never", "current", None]),
        }
    return series_of(rows, protocol=FEW)


def compared(series):
    return compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))


def leaflet(series, *, public=True):
    return local_figures(series, NOBODY, stamp(series, digest="0" * 64, frozen="", software="outcomes"), public=public)


def with_leaflet(tree, counsel):
    """The public report with every count in it that the leaflet gives."""
    tree = copy.deepcopy(tree)
    for outcome in counsel.outcomes:
        figures = {cohort: outcome.side(cohort).used for cohort in COHORTS}
        if outcome.when.window:
            _into_findings(tree, outcome, figures)
        else:
            _into_timing(tree, outcome, figures)
    for days in counsel.durations:
        for cohort in COHORTS:
            if days.side(cohort).used:
                tree["cohorts"][cohort]["divided"] = days.side(cohort).used.n
    return tree


def _into_findings(tree, outcome, figures):
    measure = next(item.measure for item in FEW.told if item.id == outcome.id)
    [finding] = [
        each
        for each in tree["findings"]
        if (each["measure"], each["window"], "proportion" in each["grafted"]) == (measure, outcome.when.window, True)
    ]
    for cohort, figure in figures.items():
        if figure:
            finding[cohort] |= {"n": figure.n, "events": figure.events}


def _into_timing(tree, outcome, figures):
    item = next(item for item in FEW.told if item.id == outcome.id)
    place = (item.timed, item.within_months)
    entry = next((each for each in tree["timing"] if (each["event"], each["at_months"]) == place), None)
    if not all(figures.values()):
        return
    if entry is None:
        entry = {"event": place[0], "at_months": place[1], "grafted": {}, "advanced": {}}
        tree["timing"].append(entry)
    for cohort, figure in figures.items():
        entry[cohort] |= {"n": figure.n, "events": figure.events}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_the_leaflet_gives_nothing_that_the_report_of_the_same_lock_withholds(seed):
    series = register(seed)
    found = compared(series)
    full, told = document(found), document(public(found, FEW))
    together = with_leaflet(told, leaflet(series))
    assert hidden_cells(full, together, FEW) > 50
    assert worked_back(full, together, FEW) == []


def test_a_leaflet_with_every_count_would_give_small_ones_away():
    found = 0
    for seed in range(2):
        series = register(seed)
        whole = compared(series)
        together = with_leaflet(document(public(whole, FEW)), leaflet(series, public=False))
        found += len(worked_back(document(whole), together, FEW))
    assert found > 3


@pytest.mark.parametrize("pairs,patients", [(0, 40), (1, None), (4, None), (5, 35)])
def test_the_leaflet_gives_patients_where_second_lids_are_none_or_enough(pairs, patients):
    cases = [case(f"G{n:02}", patient_id=f"P{n // 2 if n < 2 * pairs else n:02}") for n in range(20)]
    cases += [case(f"A{n:02}", "advancement") for n in range(20)]
    assert leaflet(series_of(sheets(cases), protocol=FEW)).basis.patients == patients


@pytest.mark.parametrize("pairs,patients", [(0, 40), (4, None), (5, 35)])
def test_patients_with_a_lid_of_each_cover_are_counted_alike(pairs, patients):
    cases = [case(f"G{n:02}") for n in range(20)]
    cases += [case(f"A{n:02}", "advancement", patient_id=f"G{n:02}" if n < pairs else f"A{n:02}") for n in range(20)]
    assert leaflet(series_of(sheets(cases), protocol=FEW)).basis.patients == patients


def test_a_leaflet_never_shows_one_side_of_a_pair():
    sides = [
        [bool(each.side(cohort).used) for cohort in COHORTS]
        for seed in range(6)
        for counsel in (leaflet(register(seed)),)
        for each in (*counsel.outcomes, *counsel.durations)
    ]
    assert [False, False] in sides
    assert [True, True] in sides
    assert all(one == other for one, other in sides)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_an_outsider_who_knows_twenty_patients_learns_no_result_from_the_rows(seed):
    series = register(seed, lids=(60, 160))
    data = shared_data(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
    assert data.tables
    assert not [each for one in range(30) for each in learnt(series, data, seed=one)]


def rows_by_k_alone(series):
    """The rows as k-anonymity alone would have them, whatever the results of a class are."""
    judged = _judged(series)
    table = _table(series, judged)
    nothing = replace(table, results=Results(table.results.seen[:, :0], table.results.poor[:, :0]))
    recoding = next(recodings(nothing, FEW.rules.k_anonymity))
    return _shared(series, judged, (table, recoding), stamp(series, digest="0" * 64, frozen="", software=""))


def test_the_outsider_succeeds_where_k_alone_is_asked_for():
    found = []
    for seed in range(6):
        series = register(seed, lids=(60, 160))
        found += [each for one in range(10) for each in learnt(series, rows_by_k_alone(series), seed=one)]
    assert sum(truth for *_, truth in found) > 3
