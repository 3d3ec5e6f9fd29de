"""A published series' counts, loaded and compared by the program, come out as printed, and so do the demo's planted truths.

The series were published as counts, and hardly ever split by cover. So each is put into one cohort as the paper gives it; where
a paper names one cover only, into that cohort. The papers print no score intervals: those are compared with another
program's. Percentages are those printed, with the misprints that are known.
"""

import csv
import json
import re
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest
from scipy.stats import binomtest, fisher_exact

from outcomes.cli.compare import compared
from outcomes.cli.load import load_path
from outcomes.findings import Selection
from outcomes.protocol import SHEETS, default_protocol
from outcomes.report import document
from outcomes.statistics.proportion import clopper_pearson
from outcomes.store import create_register

pytestmark = pytest.mark.slow

AS_OF = "2026-06-30"
OPERATED, DIVIDED = date(2022, 3, 1), date(2022, 4, 1)
DEMO = Path(__file__).parents[2] / "demo"


def lids(cover, number):
    return [{"case_id": f"{cover[0].upper()}{place:03d}", "cover": cover} for place in range(number)]


def write_series(folder, cases, poor, revised=0):
    """The four CSV files: every lid reviewed at six months and two years; `poor` says which field is poor in how many of a cover."""
    folder.mkdir()
    reviews = []
    for place, each in enumerate(cases):
        first = int(each["case_id"][1:])
        for days in (183, 730):
            row = {
                "case_id": each["case_id"],
                "reviewed_on": DIVIDED + timedelta(days=days),
                "assessor": "AB",
                "mode": "clinic",
            }
            for field, (counts, good, bad) in poor.items():
                row[field] = bad if first < counts.get(each["cover"], 0) else good
            reviews.append(row)
        each |= {
            "patient_id": f"P{place:03d}", "side": "right", "operated_on": OPERATED, "divided_on": DIVIDED,
            "diagnosis": "basal cell carcinoma",
        }  # fmt: skip
    events = [
        {"case_id": each["case_id"], "happened_on": OPERATED + timedelta(days=150), "kind": "revision"}
        for each in cases[:revised]
    ]
    sheets = {
        "patients": [{"patient_id": each["patient_id"], "birth_year": 1950} for each in cases],
        "reconstructions": cases, "reviews": reviews, "events": events,
    }  # fmt: skip
    for sheet in SHEETS:
        fields = list(sheets[sheet][0]) if sheets[sheet] else ["case_id", "happened_on", "kind"]
        with (folder / f"{sheet}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fields)
            writer.writeheader()
            writer.writerows(sheets[sheet])
    return folder


def answered(folder, path):
    """What the program holds and answers after it made a register and loaded the folder or workbook."""
    register = folder / "register.duckdb"
    create_register(register, default_protocol())
    load_path(path, register, as_of=AS_OF)
    return compared(register, "", Selection(date.fromisoformat(AS_OF)))[0]


@pytest.fixture
def series(tmp_path):
    def make(cases, poor, revised=0):
        found = answered(tmp_path, write_series(tmp_path / "sheets", cases, poor, revised))
        return document(found)

    return make


def at_six_months(tree, measure):
    outcome = "main" if default_protocol().measure(measure).main_outcome == "share" else "poor"
    place = (measure, "six_months", outcome, "division")
    return next(
        each for each in tree["findings"] if (each["measure"], each["window"], each["outcome"], each["clock"]) == place
    )


def side(tree, measure, cohort="grafted"):
    return at_six_months(tree, measure)[cohort]


def check(found, events, n, printed):
    """Counts, the printed percentage, and the score interval of another program."""
    assert (found["events"], found["n"], found["missing"]) == (events, n, 0)
    assert round(100 * found["proportion"], len(str(printed).partition(".")[2])) == printed
    interval = binomtest(events, n).proportion_ci(method="wilson")
    assert found["low"] == pytest.approx(interval.low, abs=1e-9)
    assert found["high"] == pytest.approx(interval.high, abs=1e-9)


def test_altin_ekin_2020(series):
    """Arq Bras Oftalmol 2020, doi 10.5935/0004-2749.20200011: 58 lids, trichiasis 3 (5.2 %), ectropion 2, red margin 1 (1.7 %).

    Ectropion is printed as 3.0 %, which is not 2 of 58; 3.4 % is.
    """
    tree = series(
        lids("graft", 58),
        {
            "trichiasis": ({"graft": 3}, "no", "yes"), "ectropion": ({"graft": 2}, "0", "1"),
            "margin_redness": ({"graft": 1}, "0", "2"),
        },
    )  # fmt: skip
    check(side(tree, "trichiasis"), 3, 58, 5.2)
    check(side(tree, "ectropion"), 2, 58, 3.4)
    check(side(tree, "margin_redness"), 1, 58, 1.7)


def test_hishmi_2016(series):
    """Eur J Med Res 2016;21:27: 45 lids, ectropion 4 % (2 lids, counted from the percentage)."""
    tree = series(lids("graft", 45), {"ectropion": ({"graft": 2}, "0", "1")})
    check(side(tree, "ectropion"), 2, 45, 4)


def test_mckelvie_2017(series):
    """Orbit 2017;36:228-233: 122 lids, 5 revised (4.1 %); here all within five months, and all followed for two years."""
    tree = series(lids("graft", 122), {"notch_mm": ({}, 0, 1)}, revised=5)
    told = next(each for each in tree["timing"] if each["event"] == "revision" and each["at_months"] == 12)
    assert (told["grafted"]["events"], told["grafted"]["n"]) == (5, 122)
    # With the other cohort empty nothing is estimated, and it is said why.
    assert told["note"]
    curve = next(each for each in tree["curves"] if each["event"] == "revision" and each["cohort"] == "grafted")
    assert round(100 * curve["points"][-1]["estimate"], 1) == 4.1


def test_the_combined_flap_2018_all_advanced(series):
    """Rev Bras Cir Plast 2018;33(3), doi 10.5935/2177-1235.2018RBCP0149: 13 lids with advanced skin, ectropion 1 (7.7 %)."""
    tree = series(lids("advancement", 13), {"ectropion": ({"advancement": 1}, "0", "1")})
    check(side(tree, "ectropion", "advanced"), 1, 13, 7.7)
    assert tree["cohorts"]["grafted"]["cases"] == 0


def test_two_published_cohorts_side_by_side(series):
    """Hawes 2011: another operation for a red margin in 1 (2 %) against 5 (19 %); printed odds ratio 0.10 (0.01 to 0.95).

    The denominators are not printed; 43 and 27 of the 70 lids are the only ones that give these figures. The two kinds of flap stand
    here in the places of the two covers, for the sake of the numbers.
    """
    cases = lids("graft", 27) + lids("advancement", 43)
    tree = series(cases, {"margin_redness": ({"graft": 5, "advancement": 1}, "0", "2")})
    check(side(tree, "margin_redness", "grafted"), 5, 27, 19)
    check(side(tree, "margin_redness", "advanced"), 1, 43, 2)
    found = at_six_months(tree, "margin_redness")
    assert found["contrast"]["permutation_p"] == pytest.approx(fisher_exact([[1, 42], [5, 22]])[1])
    first, other = binomtest(5, 27).proportion_ci(method="wilson"), binomtest(1, 43).proportion_ci(method="wilson")
    # Newcombe RG, Stat Med 1998;17:873-890, method 10, from the other program's limits.
    assert found["contrast"]["high"] == pytest.approx(
        1 / 43 - 5 / 27 + ((other.high - 1 / 43) ** 2 + (5 / 27 - first.low) ** 2) ** 0.5
    )
    assert (found["contrast"]["p"] < 0.05) == (found["contrast"]["high"] < 0)
    assert (found["family"], found["verdict"]) == ("exploratory", None)


@pytest.mark.parametrize(
    "each", [each for each in default_protocol().published if each.high is not None], ids=lambda each: each.id
)
def test_exact_intervals_printed_beside_local_figures_are_those_of_another_program(each):
    """The 95 % intervals that the protocol gives with published counts, to the digit printed."""
    ours, theirs = clopper_pearson(each.count, each.of), binomtest(each.count, each.of).proportion_ci(method="exact")
    assert (ours.low, ours.high) == (pytest.approx(theirs.low), pytest.approx(theirs.high))
    # Printed with one or two digits: half a unit of the coarser.
    assert each.low == pytest.approx(100 * theirs.low, abs=0.051)
    assert each.high == pytest.approx(100 * theirs.high, abs=0.051)
    assert each.percent == pytest.approx(100 * each.count / each.of, abs=0.051)


@cache
def planted():
    return json.loads((DEMO / "planted.json").read_text(encoding="utf-8"))["poor_shares"]


@pytest.fixture(scope="module")
def whole_demo(tmp_path_factory):
    """The invented clinic as the program answers it, from its workbook to the findings."""
    return answered(tmp_path_factory.mktemp("demo"), DEMO / "invented_clinic.xlsx")


@pytest.fixture(scope="module")
def demo(whole_demo):
    """The shares with a poor result in it, on the clock of division."""
    return {(f.measure, f.window): f for f in whole_demo.findings if f.is_share and f.clock == "division"}


PLACES = [(measure, window) for measure, windows in planted().items() for window in windows]


def holds(part, truth):
    return part.low <= truth <= part.high


@pytest.mark.slow
def test_nearly_every_true_difference_planted_in_the_demo_lies_in_its_adjusted_interval(demo):
    missed = [place for place in PLACES if not holds(demo[place].adjusted, planted()[place[0]][place[1]]["difference"])]
    assert len(PLACES) >= 40
    # Of 42 intervals of 95 % two may miss by chance. This one misses for a reason that was planted too: the unmasked chief
    # grades advanced skin more kindly, and the truth is what a masked assessor would have seen.
    assert missed in ([], [("oedema", "three_months")])


@pytest.mark.slow
def test_most_crude_differences_of_the_demo_are_as_confounded_as_planted(demo):
    missed = [
        place for place in PLACES if not holds(demo[place].contrast, planted()[place[0]][place[1]]["crude_difference"])
    ]
    assert len(missed) <= 3


def main_of(comparison, measure, window="six_months"):
    place = (measure, window, "main", "division")
    return next(f for f in comparison.findings if (f.measure, f.window, f.outcome, f.clock) == place)


@pytest.mark.slow
def test_the_demo_reads_as_its_planted_truth_deserves(whole_demo):
    """Oedema, colour and contour: true effects. Retraction: none, though the crude difference is large. Notching: 0.12 mm."""
    for measure in ("oedema", "colour_mismatch", "contour_mismatch"):
        assert main_of(whole_demo, measure).verdict in {"better with advanced", "may be better with advanced"}
    for measure in ("retraction", "notching", "margin_position"):
        assert main_of(whole_demo, measure).verdict == "no difference that matters"
    assert main_of(whole_demo, "retraction").contrast.high < 0


@pytest.mark.slow
def test_every_p_and_interval_of_the_demo_agree(whole_demo):
    rows = [part for f in whole_demo.findings for part in (f.contrast, f.adjusted) if part and part.p is not None]
    rows += [part for f in whole_demo.timing for part in (f.contrast, f.adjusted) if part and part.p is not None]
    assert len(rows) > 900
    none = {"win probability": 0.5}
    for row in rows:
        middle = none.get(row.kind, 0.0)
        assert (row.p < 0.05) == (row.low > middle or row.high < middle), row


@pytest.mark.slow
def test_the_clock_of_operation_changes_next_to_nothing_of_the_demo(whole_demo):
    # Recomputed from the exported rows by a program written apart: the share swollen at six months differs by -29.0 points
    # from division and -27.7 from operation.
    poor = next(f for f in whole_demo.findings if (f.measure, f.window, f.outcome) == ("oedema", "six_months", "poor"))
    assert poor.contrast.estimate == pytest.approx(-0.290, abs=0.001)
    check = main_of(whole_demo, "oedema").check("operation_clock")
    assert check.high < 0
    assert "clock_matters" not in {each.code for each in whole_demo.warnings}


def test_the_page_of_what_was_planted_tells_each_verdict(whole_demo):
    page = (DEMO / "PLANTED.md").read_text(encoding="utf-8")
    told = dict(re.findall(r"^\| `(\w+)` \| .* \| (.*) \|$", page, re.MULTILINE))
    assert told == {each.measure: each.verdict for each in whole_demo.findings if each.family == "planned"}
