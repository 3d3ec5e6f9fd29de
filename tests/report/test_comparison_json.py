"""Does comparison.json hold every key of the contract, numbers that JSON can carry, and a reason for every null?"""

import json
import math
from dataclasses import replace
from functools import cache

import pytest

from outcomes.findings import compare, stamp
from outcomes.protocol import default_protocol
from outcomes.report import document, document_text
from tests.findings.nulls import unexplained
from tests.rows import series_of
from tests.whole.planted import edges

DEFAULT = default_protocol()
PROTOCOL = replace(DEFAULT, rules=replace(DEFAULT.rules, resamples=100))

# design.md, "Contract: comparison.json", key by key.
TOP = {"format", "register", "cohorts", "flow", "balance", "findings", "timing", "warnings"}
REGISTER = {"cases", "digest", "frozen", "as_of", "software"}
COHORT = {"cases", "patients", "divided", "median_followup_months", "followup_completeness"}
FLOW = {"step", "grafted", "advanced"}
BALANCE = {"field", "level", "grafted", "advanced", "smd", "smd_adjusted"}
FINDING = {
    "measure", "window", "outcome", "clock", "grafted", "advanced", "contrast", "adjusted", "if_missing", "reading", "note",
}  # fmt: skip
POOR = {"n", "missing", "events", "proportion", "low", "high"}
VALUE = {"n", "missing", "median", "q1", "q3"}
CONTRAST = {"kind", "estimate", "low", "high", "p", "p_adjusted"}
ADJUSTED = {"kind", "estimate", "low", "high", "effective_n_grafted", "effective_n_advanced"}
TIMING = {"event", "method", "at_months", "grafted", "advanced", "contrast", "reading"}
TIMED_SHARE = {"n", "events", "estimate", "low", "high"}
TIMED_CONTRAST = {"kind", "estimate", "low", "high", "p"}
READINGS = {"better with advanced", "better with graft", "no clear difference", "too few to say"}
MEASURES = (
    "margin_position", "retraction", "scleral_show", "notching", "lash_loss", "oedema", "ectropion", "entropion", "trichiasis",
    "margin_redness", "lagophthalmos", "corneal_staining", "watering", "colour_mismatch", "contour_mismatch",
    "upper_lid_retraction", "satisfaction",
)  # fmt: skip
WINDOWS = (
    "one_week", "six_weeks", "three_months", "six_months", "one_year", "two_years", "three_years", "four_years", "five_years",
)  # fmt: skip
EVENTS = ("recurrence", "revision", "oedema_settled", "retraction_onset", "notching_onset")
WARNINGS = {
    "follow_up_differs", "missing_could_reverse", "clock_matters", "masking_matters", "imbalance", "no_overlap", "clustered",
    "converted", "too_few", "single_assessor",
}  # fmt: skip


@cache
def comparison():
    """Twenty lids a cohort, one cover changed, a masked grader now and then, some lids not seen at some reviews."""
    lids = [{**each, "cover_planned": each["cover"]} for each in edges.both(20)]
    lids[0]["cover_planned"] = "advancement"
    reviews = [row for place, row in enumerate(edges.seen(lids, edges.varied)) if place % 9]
    reviews += [
        {**row, "masked": "yes", "assessor": "PL", "mode": "photograph"}
        for place, row in enumerate(reviews)
        if place % 4 == 0
    ]
    series = series_of(edges.sheets(lids, reviews), protocol=PROTOCOL)
    return compare(series, stamp(series, digest="0" * 64, frozen="spring", software="outcomes"))


@cache
def tree():
    return document(comparison())


def holds(node, keys):
    return keys <= node.keys()


def test_the_whole_has_the_keys_of_the_contract():
    assert holds(tree(), TOP)
    assert tree()["format"] == 1
    assert holds(tree()["register"], REGISTER)
    assert tree()["cohorts"].keys() == {"grafted", "advanced"}
    assert all(holds(cohort, COHORT) for cohort in tree()["cohorts"].values())
    assert all(holds(step, FLOW) for step in tree()["flow"])
    assert all(holds(line, BALANCE) for line in tree()["balance"])
    assert all(holds(warning, {"code", "text"}) for warning in tree()["warnings"])


def test_every_finding_has_the_keys_of_the_contract():
    for finding in tree()["findings"]:
        assert holds(finding, FINDING)
        assert finding["outcome"] in {"poor", "value"}
        assert finding["clock"] in {"division", "operation"}
        assert finding["reading"] in READINGS
        for cohort in ("grafted", "advanced"):
            assert holds(finding[cohort], POOR if finding["outcome"] == "poor" else VALUE)
        assert holds(finding["contrast"], CONTRAST)
        assert finding["adjusted"] is None or holds(finding["adjusted"], ADJUSTED)
        assert finding["if_missing"].keys() == {"low", "high"}


def test_every_measure_in_every_window_on_both_clocks_is_there_once():
    places = [(f["measure"], f["window"], f["outcome"], f["clock"]) for f in tree()["findings"]]
    assert len(places) == len(set(places))
    wanted = {
        (measure, window, clock) for measure in MEASURES for window in WINDOWS for clock in ("division", "operation")
    }
    assert {(measure, window, clock) for measure, window, _, clock in places} == wanted


def test_every_timed_finding_has_the_keys_of_the_contract():
    assert {finding["event"] for finding in tree()["timing"]} == set(EVENTS)
    for finding in tree()["timing"]:
        assert holds(finding, TIMING)
        assert holds(finding["contrast"], TIMED_CONTRAST)
        assert all(holds(finding[cohort], TIMED_SHARE) for cohort in ("grafted", "advanced"))
        assert finding["reading"] in READINGS


def test_every_warning_is_one_of_the_contracts():
    told = [warning["code"] for warning in tree()["warnings"]]
    assert set(told) <= WARNINGS
    assert len(told) == len(set(told))
    assert {"converted", "single_assessor"} & set(told)


def test_no_null_is_without_a_reason():
    assert unexplained(comparison()) == []
    nulls = json.dumps(tree()).count("null")
    assert nulls > 0


def test_a_key_that_does_not_apply_is_not_there():
    for finding in tree()["findings"]:
        assert finding.get("masked", {}) is not None
        if finding["contrast"].get("exact"):
            assert "monte_carlo_error" not in finding["contrast"]
    assert any("masked" in finding for finding in tree()["findings"])
    assert any("as_planned" in finding for finding in tree()["findings"])
    assert any("last_known" in finding for finding in tree()["findings"])


def numbers(node):
    if isinstance(node, dict):
        node = list(node.values())
    if isinstance(node, list):
        return [number for each in node for number in numbers(each)]
    return [node] if isinstance(node, int | float) else []


def test_every_number_is_finite_and_every_share_lies_from_0_to_1():
    assert all(math.isfinite(number) for number in numbers(tree()))
    for finding in tree()["findings"]:
        if finding["outcome"] == "poor":
            for side in (finding["grafted"], finding["advanced"]):
                assert all(0 <= side[key] <= 1 for key in ("proportion", "low", "high") if side[key] is not None)
            told = [finding["contrast"][key] for key in ("low", "estimate", "high")]
            assert None in told or -1 <= told[0] <= told[1] <= told[2] <= 1


def test_signs_are_advanced_minus_grafted():
    for finding in tree()["findings"]:
        if finding["outcome"] == "poor" and finding["contrast"]["estimate"] is not None:
            gap = finding["advanced"]["proportion"] - finding["grafted"]["proportion"]
            assert finding["contrast"]["estimate"] == pytest.approx(gap)


def test_the_text_is_the_tree_and_ends_with_a_line():
    text = document_text(comparison())
    assert json.loads(text) == json.loads(json.dumps(tree()))
    assert text.endswith("}\n")
    assert "NaN" not in text


def test_exactly_the_main_measures_in_the_primary_window_are_the_primary_family():
    primary = {(f["measure"], f["window"], f["clock"]) for f in tree()["findings"] if f["primary"]}
    main = ("margin_position", "retraction", "scleral_show", "notching", "lash_loss", "oedema")
    assert primary == {(measure, "six_months", "division") for measure in main}
    assert sum(f["primary"] for f in tree()["findings"]) == 6
