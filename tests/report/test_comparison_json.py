"""comparison.json: every key of the contract (format 2), numbers that JSON can carry, and a reason for every null."""

import json
import math
from functools import cache

import pytest

from outcomes.findings import at_level, compare, stamp
from outcomes.protocol import default_protocol, protocol_from_text
from outcomes.report import document, document_text
from outcomes.report.stamp import stamp_facts
from tests.findings.nulls import unexplained
from tests.rows import series_of
from tests.whole.planted import edges

PROTOCOL = default_protocol()

# design.md, "Contract: comparison.json", key by key.
TOP = {"format", "register", "level", "days_shut", "cohorts", "flow", "balance", "findings", "timing", "warnings"}
REGISTER = {"cases", "digest", "frozen", "as_of", "software"}
COHORT = {"cases", "patients", "divided", "median_followup_months", "followup_completeness"}
FLOW = {"id", "step", "grafted", "advanced"}
BALANCE = {"field", "level", "grafted", "advanced", "smd", "smd_adjusted"}
FINDING = {
    "measure", "window", "outcome", "clock", "grafted", "advanced", "contrast", "adjusted", "verdict", "important_difference",
    "could_find", "unseen", "checks", "family", "q", "note",
}  # fmt: skip
SHARE = {"n", "due", "missing", "patients", "events", "proportion", "low", "high"}
VALUES = {"n", "due", "missing", "patients", "mean", "sd", "median", "q1", "q3", "counts"}
CONTRAST = {"kind", "estimate", "low", "high", "p", "permutation_p"}
ADJUSTED = {"kind", "method", "estimate", "low", "high", "p", "p_corrected"}
UNSEEN = {"tipping_lids", "tipping_share", "seen_share", "tipping_shift", "as_other_cohort", "worst_case"}
CHECKS = {
    "as_planned", "masked_only", "operation_clock", "revision_poor", "without_first_twenty", "within_surgeon",
    "inverse_measured", "overlap_weighted",
}  # fmt: skip
TIMING = {"event", "method", "at_months", "grafted", "advanced", "contrast", "adjusted", "p_curve", "q", "verdict"}
TIMED_SHARE = {"n", "events", "estimate", "low", "high"}
TIMED_CONTRAST = {"kind", "estimate", "low", "high", "p"}
VERDICTS = {
    "better with advanced", "better with graft", "may be better with advanced", "may be better with graft",
    "no difference that matters", "cannot tell", "too few to say",
}  # fmt: skip
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
    assert tree()["format"] == 2
    assert tree()["level"] == "own eyes"
    assert holds(tree()["register"], REGISTER)
    assert tree()["cohorts"].keys() == {"grafted", "advanced"}
    assert all(holds(cohort, COHORT) for cohort in tree()["cohorts"].values())
    assert all(holds(step, FLOW) for step in tree()["flow"])
    assert all(holds(line, BALANCE) for line in tree()["balance"])
    assert all(holds(warning, {"code", "text"}) for warning in tree()["warnings"])


def test_every_finding_has_the_keys_of_the_contract():
    for finding in tree()["findings"]:
        assert holds(finding, FINDING)
        assert finding["outcome"] in {"main", "poor", "value"}
        share = finding["contrast"]["kind"] == "difference of proportions"
        for cohort in ("grafted", "advanced"):
            assert holds(finding[cohort], SHARE if share else VALUES)
        assert holds(finding["contrast"], CONTRAST)
        assert finding["adjusted"] is None or holds(finding["adjusted"], ADJUSTED)
        if share and finding["adjusted"]:
            assert holds(finding["adjusted"], {"effective_n_grafted", "effective_n_advanced"})
        assert holds(finding["unseen"], UNSEEN)
        assert all(check.keys() == {"id", "estimate", "low", "high"} for check in finding["checks"])
        assert (finding["verdict"] in VERDICTS) == (finding["family"] != "exploratory")


def test_checks_are_those_of_the_contract_and_stand_beside_what_is_planned():
    ids = {check["id"] for finding in tree()["findings"] for check in finding["checks"]}
    assert {"as_planned", "operation_clock", "inverse_measured", "overlap_weighted"} <= ids <= CHECKS
    for finding in tree()["findings"]:
        if finding["family"] == "exploratory":
            assert finding["checks"] == []


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
    of_event = {timed.id: timed.main_month for timed in PROTOCOL.timed}
    for finding in tree()["timing"]:
        assert (finding["verdict"] in VERDICTS) == (finding["at_months"] == of_event[finding["event"]])


def test_days_shut_has_the_keys_of_the_contract():
    assert tree()["days_shut"].keys() == {"grafted", "advanced"}
    assert all(holds(side, {"n", "median", "q1", "q3", "planned"}) for side in tree()["days_shut"].values())


def test_every_warning_is_one_of_the_contracts():
    told = [warning["code"] for warning in tree()["warnings"]]
    assert set(told) <= WARNINGS
    assert len(told) == len(set(told))
    assert {"converted", "single_assessor"} & set(told)


def test_no_null_is_without_a_reason():
    assert unexplained(comparison()) == []
    nulls = json.dumps(tree()).count("null")
    assert nulls > 0


def test_an_exact_p_has_no_monte_carlo_error():
    for finding in tree()["findings"]:
        if finding["contrast"].get("exact"):
            assert "monte_carlo_error" not in finding["contrast"]


def numbers(node):
    if isinstance(node, dict):
        node = list(node.values())
    if isinstance(node, list):
        return [number for each in node for number in numbers(each)]
    return [node] if isinstance(node, int | float) else []


def test_every_number_is_finite_and_every_share_lies_from_0_to_1():
    assert all(math.isfinite(number) for number in numbers(tree()))
    for finding in tree()["findings"]:
        if finding["contrast"]["kind"] == "difference of proportions":
            for side in (finding["grafted"], finding["advanced"]):
                assert all(0 <= side[key] <= 1 for key in ("proportion", "low", "high") if side[key] is not None)
            told = [finding["contrast"][key] for key in ("low", "estimate", "high")]
            assert None in told or -1 <= told[0] <= told[1] <= told[2] <= 1


def test_signs_are_advanced_minus_grafted():
    for finding in tree()["findings"]:
        middle = {"difference of proportions": "proportion", "difference of means": "mean"}.get(
            finding["contrast"]["kind"]
        )
        if middle and finding["contrast"]["estimate"] is not None:
            gap = finding["advanced"][middle] - finding["grafted"][middle]
            assert finding["contrast"]["estimate"] == pytest.approx(gap, abs=1e-12)


def test_the_text_is_the_tree_and_ends_with_a_line():
    text = document_text(comparison())
    assert json.loads(text) == json.loads(json.dumps(tree()))
    assert text.endswith("}\n")
    assert "NaN" not in text


def test_exactly_the_main_outcomes_in_the_primary_window_are_planned():
    planned = [
        (f["measure"], f["window"], f["outcome"], f["clock"]) for f in tree()["findings"] if f["family"] == "planned"
    ]
    assert planned == [(measure, "six_months", "main", "division") for measure in MEASURES]


def test_every_p_agrees_with_its_interval():
    rows = [part for f in (*tree()["findings"], *tree()["timing"]) for part in (f["contrast"], f["adjusted"]) if part]
    none = {"win probability": 0.5}
    known = [row for row in rows if row["p"] is not None]
    assert len(known) > 150
    for row in known:
        middle = none.get(row["kind"], 0.0)
        assert (row["p"] < 0.05) == (row["low"] > middle or row["high"] < middle)


def test_the_keys_that_an_older_protocol_lacks_are_named():
    tree = json.loads(PROTOCOL.text)
    for measure in tree["measures"]:
        measure.pop("important_difference", None)
        measure.pop("important_reason", None)
    series = series_of(edges.two_cases_each(), protocol=protocol_from_text(json.dumps(tree)))
    mark = stamp(series, digest="0" * 64, frozen="", software="outcomes")
    lacking = ["measures: important_difference, important_reason"]
    told = document(at_level(compare(series, mark), series.protocol, "journal"))["register"]
    assert told["protocol_lacks"] == lacking
    assert lacking[0] in dict(stamp_facts(mark))["Protocol lacks"]


def test_a_protocol_that_lacks_nothing_has_no_word_of_it():
    mark = stamp(series_of(edges.two_cases_each()), digest="0" * 64, frozen="", software="outcomes")
    assert "Protocol lacks" not in dict(stamp_facts(mark))
