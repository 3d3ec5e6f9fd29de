"""Nobody is found in public output: an attacker with the rules and the public output tries to work small counts back.

Thresholds differ between offices (fewer than 5 as a rule of thumb of a statistics office, cited in disclosure guidance;
1 to 7 in hospital statistics since 2018); secondary suppression is part of each. The shipped protocol says 5.
"""

import copy
import json
import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from outcomes.cohort import Choice, Loss
from outcomes.errors import DataRefused
from outcomes.findings import Selection, case_series, compare, public, stamp
from outcomes.findings.disclosure.counts import public_balance, public_flow, safe, safe_part
from outcomes.findings.disclosure.public_findings import Rules, second_lids
from outcomes.findings.disclosure.public_timing import safe_months
from outcomes.findings.disclosure.rounding import share_limits
from outcomes.findings.results import (
    BalanceLine,
    Caution,
    Contrast,
    Fact,
    FlowStep,
    TimedFinding,
    TimedShare,
)
from outcomes.findings.small_count import SmallCount
from outcomes.protocol import default_protocol, read_protocol
from outcomes.report import document
from tests.findings.disclosure.attack import hidden_cells, partitions, shown, worked_back
from tests.rows import AS_OF, DIVIDED, after, case, review, series_of, sheets
from tests.whole.planted import edges
from tests.whole.planted.edges import EDGES

FEW = read_protocol(Path(__file__).parents[1] / "few_lids.toml")
THRESHOLD = FEW.rules.public_threshold
COHORTS = ("grafted", "advanced")


def answered(series):
    return compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))


@cache
def demo():
    """The invented clinic, compared in full and for the public."""
    import tempfile

    from outcomes.cli.demo import workbook_path
    from outcomes.cli.load import load_path
    from outcomes.store import create_register, reading

    with tempfile.TemporaryDirectory() as folder:
        register = Path(folder) / "demo.duckdb"
        create_register(register, FEW)
        load_path(workbook_path(), register, as_of=AS_OF.isoformat())
        with reading(register) as held:
            found = answered(case_series(held, held.protocol, Selection(AS_OF)))
    return found, public(found, FEW)


@cache
def invented(seed):
    """A register by chance: few lids, rare results, two covers, losses, several assessors."""
    chance = random.Random(seed)
    lids = chance.randrange(14, 46)
    cases, reviews, events = [], [], []
    for number in range(lids):
        name = f"L{number:02}"
        cover = chance.choice(["graft", "advancement", "advancement", "transposition"])
        divided = DIVIDED if chance.random() < 0.95 else None
        cases.append(
            case(
                name, cover, divided_on=divided, patient_id=f"P{number - (number % 9 == 1)}",
                side=("right", "left")[number % 9 == 1], surgeon=chance.choice(["KV", "KV", "AB"]),
                defect_width_mm=chance.choice([10, 14, 18, None]), lid_width_mm=28,
                defect_depth=chance.choice(["skin", "full thickness"]), recurrent_tumour=chance.choice(["yes", "no", "no"]),
                diagnosis=chance.choice(["basal cell carcinoma"] * 5 + ["melanoma", "benign"]),
            )
        )  # fmt: skip
        if divided:
            days = [day for day in (7, 42, 91, 183, 365) if chance.random() < 0.8]
            reviews.extend(review(name, day, **examined(chance)) for day in days)
        if chance.random() < 0.15:
            day = after(chance.randrange(20, 600))
            events.append({"case_id": name, "happened_on": day, "kind": "revision", "revision_kind": "other"})
    return answered(series_of(sheets(cases, reviews, events), protocol=FEW))


def examined(chance):
    return {
        "assessor": chance.choice(["KM", "KM", "KM", "LO"]),
        "retraction_mm": chance.choice([0, 0, 0, 0.5, 1]),
        "oedema": chance.choice([0, 0, 0, 1, 2]),
        "trichiasis": chance.choice(["no"] * 6 + ["yes"]),
        "satisfaction": chance.choice([6, 8, 9, 10]),
    }


def trees(found):
    return document(found), document(public(found, FEW))


def test_the_attacker_gets_nothing_from_the_demo():
    full, told = map(document, demo())
    assert hidden_cells(full, told, FEW) > 500
    assert worked_back(full, told, FEW) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_the_attacker_gets_nothing_from_registers_by_chance(seed):
    try:
        full, told = trees(invented(seed))
    except DataRefused:
        assert min(invented(seed).grafted.cases, invented(seed).advanced.cases) < THRESHOLD
        return
    assert hidden_cells(full, told, FEW) > 50
    assert worked_back(full, told, FEW) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [edge.__name__ for edge in EDGES])
def test_the_attacker_gets_nothing_from_the_barest_registers(name):
    found = answered(series_of(getattr(edges, name)(), protocol=FEW))
    try:
        told = public(found, FEW)
    except DataRefused as refused:
        assert "fewer than 5 lids" in str(refused)  # noqa: PT017 - most of them are too small to be told at all
        return
    assert worked_back(document(found), document(told), FEW) == []


# The attacker can succeed: from tables where only the small count itself is blanked.


def blanked(full, change):
    tree = copy.deepcopy(full)
    for finding in tree["findings"]:
        for cohort in COHORTS:
            change(finding, cohort)
    return tree


def without_events(finding, cohort):
    if shown(finding) == "poor":
        finding[cohort]["events"] = None


def without_events_and_share(finding, cohort):
    if shown(finding) == "poor" and cohort == "advanced":
        finding[cohort]["events"] = finding[cohort]["proportion"] = None


def without_missing(finding, cohort):
    finding[cohort]["missing"] = None


def without_any_reason(finding, cohort):
    for part in ("missing", "not_due", "not_applicable"):
        finding[cohort][part] = None


@pytest.mark.parametrize(
    "change, part",
    [
        (without_events, "events"),
        (without_events_and_share, "events"),
        (without_missing, "missing"),
        (without_any_reason, "missing"),
    ],
)
def test_the_attacker_succeeds_where_only_the_count_itself_is_blanked(change, part):
    full = document(demo()[0])
    found = worked_back(full, blanked(full, change), FEW)
    assert sum(place[-1] == part for place, _ in found) > 20


def test_the_attacker_succeeds_where_poor_results_go_and_the_values_stay():
    full = document(demo()[0])
    tree = {**copy.deepcopy(full), "findings": [each for each in full["findings"] if shown(each) == "value"]}
    assert sum(place[-1] == "events" for place, _ in worked_back(full, tree, FEW)) > 20


def test_a_quartile_can_give_a_count_away_so_small_cohorts_have_none():
    # 14 lids, 4 of them poor (1 mm or more): the third quartile lies between the 10th and the 11th value, so 0.75 says that
    # the 11th is the first poor one. Worked by hand.
    cases = [case(f"G{n}") for n in range(14)] + [case(f"A{n}", "advancement") for n in range(14)]
    reviews = [review(f"{who}{n}", 183, scleral_show_mm=1 if n >= 10 else 0) for who in "GA" for n in range(14)]
    full, told = trees(answered(series_of(sheets(cases, reviews), protocol=FEW)))
    place = ("scleral_show", "six_months", "division")
    values = {
        "findings": [
            {**each, **{cohort: {**each[cohort], "counts": []} for cohort in COHORTS}}
            for each in full["findings"]
            if shown(each) == "value"
        ]
    }
    gone = [
        each for each, _ in worked_back(full, {**full, **values}, FEW) if each[:3] == place and each[-1] == "events"
    ]
    assert len(gone) == 2
    assert worked_back(full, told, FEW) == []
    [left] = [
        each for each in told["findings"] if (*place[:2], "main") == (each["measure"], each["window"], each["outcome"])
    ]
    assert left["grafted"]["median"] == 0
    assert left["grafted"]["q3"] is None


# Nothing small is printed, wherever it may stand: also in a key that is added later.

NO_COUNTS = {
    "at_months",
    "better",
    "format",
    "important_difference",
    "judged",
    "may_be",
    "median",
    "q1",
    "q3",
    "surgeons",
}


def small_whole_numbers(tree, key=""):
    if isinstance(tree, dict):
        for name, each in tree.items():
            yield from small_whole_numbers(each, name)
    elif isinstance(tree, list):
        for each in tree:
            yield from small_whole_numbers(each, key)
    elif isinstance(tree, int) and not isinstance(tree, bool) and not safe(tree, THRESHOLD) and key not in NO_COUNTS:
        yield key, tree


def test_no_small_count_is_printed_anywhere():
    assert len(list(small_whole_numbers(document(demo()[0])))) > 500
    assert list(small_whole_numbers(document(demo()[1]))) == []


def words(tree):
    if isinstance(tree, dict):
        return [word for each in tree.values() for word in words(each)]
    if isinstance(tree, list):
        return [word for each in tree for word in words(each)]
    return [tree] if isinstance(tree, str) else []


def test_no_code_and_no_day_of_a_person_is_printed():
    found, told = demo()
    text = json.dumps(document(told))
    cases = {each.case for each in found.followed}
    codes = {name for group in (found.grafted, found.advanced) for name, _ in group.assessors}
    surgeons = {line.level for line in found.balance if line.field == "surgeon"}
    assert cases
    assert codes
    assert surgeons
    spoken = {word for each in words(document(told)) for word in each.replace(",", " ").replace(":", " ").split()}
    assert spoken & (cases | codes | surgeons) == set()
    assert not any(case in text for case in cases)
    assert text.count("20") >= text.count(AS_OF.isoformat()) == 1
    assert {each.field for each in told.balance if each.level.startswith("surgeon ")} == {"surgeon"}


CHOSEN = (("surgeons", ("KV", "AB")), ("sites", ("NORTH",)), ("windows", ("one_year",)))


def test_what_was_chosen_is_told_without_codes():
    found, _ = demo()
    chosen = replace(
        found,
        stamp=replace(
            found.stamp,
            selection=tuple(Choice(*each) for each in CHOSEN),
        ),
    )
    told = public(chosen, FEW).stamp
    assert [each.says() for each in told.selection] == ["surgeons: 2 chosen", "sites: 1 chosen", "windows: one_year"]
    assert told.suppressed_below == FEW.rules.public_threshold


def test_the_public_is_told_that_something_is_left_out():
    _, told = demo()
    assert told.warnings[0].code == "public"
    assert told.warnings[0].facts == (Fact("suppressed", numbers=(THRESHOLD - 1,)),)


def test_no_warning_tells_a_verdict_or_names_what_is_left_out():
    whole, _ = demo()
    moved = Caution("clock_matters", (Fact("clock_matters", ("oedema at six months",)),))
    told = public(replace(whole, warnings=(*whole.warnings, moved)), FEW)
    assert all(not fact.labels for each in told.warnings for fact in each.facts)
    assert all(not fact.numbers for each in told.warnings[1:] for fact in each.facts)


def test_nothing_of_single_lids_is_left():
    _, told = demo()
    assert (told.followed, told.curves, told.means, told.followed_by_window, told.queries) == ((), (), (), (), ())
    assert all(
        side.counts == () for each in told.findings if not each.is_share for side in (each.grafted, each.advanced)
    )


def test_no_finding_by_time_since_division_is_left_out_and_every_verdict_stays():
    found, told = demo()
    full = {(each.measure, each.window, each.outcome): each for each in found.findings if each.clock == "division"}
    assert [(each.measure, each.window, each.outcome) for each in told.findings] == list(full)
    for each in told.findings:
        crude_share = each.is_share and full[each.measure, each.window, each.outcome].adjusted is None
        if not crude_share:
            assert each.verdict == full[each.measure, each.window, each.outcome].verdict
    withheld = [each for each in told.findings if each.withheld == "public"]
    assert any(each.verdict and each.verdict.startswith(("better", "may be")) for each in withheld)
    assert any(isinstance(each.grafted.events, SmallCount) for each in withheld if each.is_share)


def numbers(tree, key=""):
    if isinstance(tree, dict):
        for name, each in tree.items():
            yield from numbers(each, f"{key}.{name}")
    elif isinstance(tree, list):
        for each in tree:
            yield from numbers(each, key)
    elif isinstance(tree, float):
        yield key, tree


def test_no_number_has_more_digits_than_are_printed():
    told = document(demo()[1])
    longer = {key for key, number in numbers(told) if abs(number - round(number, 2)) > 1e-12}
    assert longer <= {".findings.grafted.median", ".findings.advanced.median"} | {
        f".findings.{cohort}.{part}" for cohort in COHORTS for part in ("q1", "q3")
    }
    assert len({key for key, number in numbers(document(demo()[0])) if abs(number - round(number, 2)) > 1e-12}) > 20


def pairs(*, alike):
    """Twenty lids a cover, eight poor in each; eight grafted ones are four patients': both lids of each are poor, or one."""
    cases = [
        case(f"G{n:02}", patient_id=f"P{n // 2 if n < 8 else n:02}", side=("right", "left")[n % 2]) for n in range(20)
    ]
    cases += [case(f"A{n:02}", "advancement") for n in range(20)]
    poor = {*range(8)} if alike else {0, 2, 4, 6, 8, 9, 10, 11}
    reviews = [review(f"{who}{n:02}", 183, trichiasis="yes" if n in poor else "no") for who in "GA" for n in range(20)]
    return answered(series_of(sheets(cases, reviews), protocol=FEW))


def crude(found):
    """The crude share of six months, as the document prints it."""
    place = ("trichiasis", "six_months", "division")
    [tree] = [each for each in document(found)["findings"] if _place(each) == place]
    return {name: tree[name] for name in ("grafted", "advanced", "contrast")}


def _place(tree):
    return tree["measure"], tree["window"], tree["clock"]


def test_an_interval_does_not_tell_whether_a_patients_two_lids_had_the_same_result():
    """With the real design effect the limits tell it even when they are rounded to whole per cent."""
    alike, unlike = pairs(alike=True), pairs(alike=False)
    real = [crude(each)["grafted"] for each in (alike, unlike)]
    assert [real[0][name] for name in ("n", "events")] == [real[1][name] for name in ("n", "events")]
    assert round(real[0]["high"], 2) != round(real[1]["high"], 2)
    assert crude(public(alike, FEW)) == crude(public(unlike, FEW))


def test_fewer_second_lids_than_the_threshold_show_as_one_less_than_it():
    four, two = share_limits(0.4, 20, 4, 0.95), share_limits(0.4, 20, 2, 0.95)
    grafted = crude(public(pairs(alike=True), FEW))["grafted"]
    assert (grafted["low"], grafted["high"]) == (round(four.low, 2), round(four.high, 2))
    assert four.high > two.high
    assert [second_lids(20, patients, 5) for patients in (20, 19, 16, 15)] == [0, 4, 4, 5]


def test_the_attacker_takes_every_sum_apart():
    """The partitions of 10, and those of 10 into parts of at most 3 (known values: 42 and 14)."""
    assert (len(partitions(10, 10)), len(partitions(10, 3))) == (42, 14)


def test_the_attacker_succeeds_where_means_of_few_steps_are_printed():
    full, told = map(document, demo())
    means = {
        (each["measure"], each["window"], each["outcome"]): each
        for each in full["findings"]
        if each["clock"] == "division"
    }
    for each in told["findings"]:
        if shown(each) == "value":
            for cohort in COHORTS:
                mean = means[each["measure"], each["window"], each["outcome"]][cohort]["mean"]
                each[cohort]["mean"] = mean and round(mean, 2)
    assert sum("value" in place for place, _ in worked_back(full, told, FEW)) > 20


def test_p_values_are_rounded_up_to_hundredths():
    _, told = demo()
    values = [each.contrast.p for each in told.findings if each.contrast.p is not None]
    assert min(values) == 0.01
    assert all(abs(100 * p - round(100 * p)) < 1e-9 for p in values)


ALL = SmallCount(1, all_but=True)  # everybody had it


def test_a_threshold_of_one_leaves_counts_alone():
    rules = replace(FEW, rules=replace(FEW.rules, public_threshold=1))
    found, _ = demo()
    told = public(found, rules)
    counts = [(each.grafted.n, each.advanced.n) for each in found.findings if each.clock == "division"]
    assert [(each.grafted.n, each.advanced.n) for each in told.findings] == counts
    withheld = [each for each in told.findings if each.is_share and each.withheld == "public"]
    assert all(ALL in (each.grafted.events, each.advanced.events) for each in withheld)


# By hand.


@pytest.mark.parametrize("count, is_safe", [(0, True), (1, False), (4, False), (5, True), (50, True)])
def test_a_count_is_safe_when_it_is_none_or_enough(count, is_safe):
    assert safe(count, 5) is is_safe


def test_a_part_is_safe_only_with_its_rest():
    assert [part for part in range(13) if safe_part(part, 12, 5)] == [0, 5, 6, 7, 12]


def flow(*counts):
    return [
        FlowStep(f"step {at}", grafted, advanced, (Loss("filtered", 3),))
        for at, (grafted, advanced) in enumerate(counts)
    ]


def test_steps_stay_only_where_no_difference_is_small():
    told = public_flow(flow((40, 40), (38, 40), (30, 30), (30, 27), (12, 30)), (30, 30), 5)
    assert [(step.id, step.grafted, step.advanced, step.lost) for step in told] == [
        ("step 0", 40, 40, ()),
        ("step 2", 30, 30, ()),
        ("step 4", 12, 30, ()),
    ]


def level(name, grafted, advanced, known=(30, 30), missing=(0, 0)):
    return BalanceLine("skin", "Skin", name, "", grafted, advanced, None, None, *known, *missing, 0.1, 0.1, False)


def test_levels_with_few_lids_are_put_together_until_nobody_stands_out():
    lines = [level("a", 15, 14), level("b", 8, 9), level("c", 5, 7), level("d", 2, 0)]
    told = public_balance(lines, (30, 30), 5)
    assert [(line.level, line.grafted, line.advanced) for line in told] == [
        ("a", 15, 14),
        ("b", 8, 9),
        ("other levels, taken together", 7, 7),
    ]
    assert told[-1].smd is None


def test_a_single_small_level_takes_another_with_it():
    # 28 and 2: the two is the rest of the whole, so nothing is left to tell.
    assert public_balance([level("a", 28, 20), level("b", 2, 10)], (30, 30), 5) == ()


def test_a_characteristic_with_few_unrecorded_goes_whole():
    assert public_balance([level("a", 15, 15, (28, 30), (2, 0))], (30, 30), 5) == ()


def moments(*events, n=30):
    shares = [[TimedShare(n, count, count / n, 0.0, 1.0) for count in pair] for pair in events]
    nothing = Contrast("difference of cumulative incidence", None, None, None)
    return [
        TimedFinding("revision", "Aalen-Johansen", "operation", 12 * at, *pair, nothing)
        for at, pair in enumerate(shares, 1)
    ]


RULES = Rules(FEW, (30, 30), (0, 0))


@pytest.mark.parametrize(
    "events, kept",
    [
        ([(0, 0), (6, 5), (8, 5), (12, 10)], {12, 24, 48}),
        ([(2, 6), (7, 6)], {24}),
        ([(27, 10)], set()),
        ([(0, 3), (0, 0)], {24}),
    ],
)
def test_moments_stay_only_where_no_step_is_small(events, kept):
    assert safe_months(moments(*events), RULES) == kept


def test_the_month_of_the_verdict_is_kept_first():
    first, main = moments((6, 6), (8, 6))
    assert safe_months([first, replace(main, verdict="cannot tell")], RULES) == {24}


def test_those_who_did_not_set_out_are_counted_too():
    assert safe_months(moments((6, 6), n=28), RULES) == set()


def test_the_shipped_threshold_is_the_one_documented():
    assert default_protocol().rules.public_threshold == 5
