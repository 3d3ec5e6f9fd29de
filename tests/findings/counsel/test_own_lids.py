"""Nothing that is known of a patient's own lids is in the figures for that patient."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from outcomes.cohort import read_frames
from outcomes.findings.counsel.local_figures import read_for_counsel
from outcomes.findings.counsel.patient import patient_of_case
from tests.findings.counsel.registers import AS_OF, PROTOCOL, counsel_for, lids, patient, together

pytestmark = pytest.mark.quick


def register(*, own):
    """Twelve lids a cover; with `own`, two more of one patient, poor in everything, operated on again and dead."""
    parts = [lids("grafted", 12), lids("advanced", 12)]
    if own:
        mine = lids("grafted", 2, first=50, poor=2)
        mine["reconstructions"][1]["patient_id"] = "P-grafted050"
        mine["patients"] = mine["patients"][:1]
        for case, kind in (("grafted050", "revision"), ("grafted051", "recurrence"), ("grafted051", "death")):
            mine["events"].append({"case_id": case, "happened_on": date(2024, 9, 1), "kind": kind})
        parts.append(mine)
    return together(*parts)


def test_no_row_of_the_patient_is_left_in_any_part_of_the_series():
    series = read_for_counsel(register(own=True), PROTOCOL, as_of=AS_OF)[0]
    others = series.without("P-grafted050")
    own = {"grafted050", "grafted051"}
    for name in ("cases", "reviews", "measured", "events"):
        assert own <= cases_in(series, name), name
        assert cases_in(others, name) == cases_in(series, name) - own, name
        assert name == "events" or getattr(others, name).height, name
    assert others.values("notching").value.size < series.values("notching").value.size


def cases_in(series, name):
    rows = getattr(series, name)
    return set(rows["case_id"] if name == "cases" else series.cases["case_id"].gather(rows["lid"]))


def test_the_figures_are_those_of_a_register_without_the_patient():
    asked = patient_of_case(read_frames(register(own=True), PROTOCOL), "grafted050")
    found = counsel_for(register(own=True), asked)
    without = counsel_for(register(own=False), asked)
    assert (found.left_out_lids, without.left_out_lids) == (2, 0)
    assert replace(found, stamp=without.stamp, left_out_lids=0) == without


def test_nobody_is_left_out_for_a_patient_who_is_no_case_of_the_register():
    found = counsel_for(register(own=True), patient())
    assert (found.left_out_lids, found.basis.lids, found.basis.patients) == (0, 26, 25)
