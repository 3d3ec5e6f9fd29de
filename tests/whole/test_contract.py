"""Does comparison.json hold every key that the contract names?"""

from __future__ import annotations

import json

import pytest

from outcomes.findings import compare, stamp
from outcomes.report import document_text
from tests.rows import series_of
from tests.whole.clinic import part_of_the_clinic

pytestmark = pytest.mark.slow

SHARE = {"n", "missing", "not_due", "events", "proportion", "low", "high"}
VALUES = {"n", "missing", "not_due", "median", "q1", "q3"}
CONTRAST = {"kind", "estimate", "low", "high", "p", "p_adjusted"}
READINGS = {"better with advanced", "better with graft", "no clear difference", "too few to say"}
CODES = {
    "follow_up_differs", "missing_could_reverse", "clock_matters", "masking_matters", "imbalance", "no_overlap", "clustered",
    "converted", "too_few", "single_assessor",
}  # fmt: skip


@pytest.fixture(scope="module")
def comparison() -> dict:
    series = series_of(part_of_the_clinic(50))
    return json.loads(document_text(compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))))


def test_top_of_the_file(comparison: dict) -> None:
    assert {"format", "register", "cohorts", "flow", "balance", "findings", "timing", "warnings"} <= comparison.keys()
    assert {"cases", "digest", "frozen", "as_of", "software"} <= comparison["register"].keys()
    for cohort in ("grafted", "advanced"):
        assert {"cases", "patients", "divided", "median_followup_months", "followup_completeness"} <= comparison[
            "cohorts"
        ][cohort].keys()


def test_every_list_has_its_keys(comparison: dict) -> None:
    assert all({"step", "grafted", "advanced"} <= step.keys() for step in comparison["flow"])
    assert all(
        {"field", "level", "grafted", "advanced", "smd", "smd_adjusted"} <= line.keys()
        for line in comparison["balance"]
    )
    assert {warning["code"] for warning in comparison["warnings"]} <= CODES


def test_every_finding_has_its_keys(comparison: dict) -> None:
    for finding in comparison["findings"]:
        side = SHARE if finding["outcome"] == "poor" else VALUES
        assert side <= finding["grafted"].keys()
        assert side <= finding["advanced"].keys()
        assert finding["contrast"].keys() >= CONTRAST
        assert finding["if_missing"].keys() == {"low", "high"}
        assert finding["reading"] in READINGS
        assert finding["clock"] in {"division", "operation"}
        assert {"measure", "window", "adjusted"} <= finding.keys()
        if finding["adjusted"] is not None:
            assert {"kind", "estimate", "low", "high", "effective_n_grafted", "effective_n_advanced"} <= finding[
                "adjusted"
            ].keys()


def test_every_timing_has_its_keys(comparison: dict) -> None:
    for finding in comparison["timing"]:
        assert {"event", "method", "at_months", "grafted", "advanced", "contrast", "reading"} <= finding.keys()
        assert {"n", "events", "estimate", "low", "high"} <= finding["grafted"].keys()
        assert CONTRAST - {"p_adjusted"} <= finding["contrast"].keys()
    assert {finding["event"] for finding in comparison["timing"]} == {
        "recurrence", "revision", "oedema_settled", "retraction_onset", "notching_onset",
    }  # fmt: skip


def test_signs_are_advanced_minus_grafted(comparison: dict) -> None:
    told = [f for f in comparison["findings"] if f["outcome"] == "poor" and f["contrast"]["estimate"] is not None]
    assert told
    for finding in told:
        apart = finding["advanced"]["proportion"] - finding["grafted"]["proportion"]
        assert finding["contrast"]["estimate"] == pytest.approx(apart)
