"""The prediction is that of the penalised model, and none is made where the data cannot bear one."""

import math

import numpy as np
import polars as pl
import pytest
from firthmodels import FirthLogisticRegression

from outcomes.findings.counsel.prediction import predict
from tests.findings.counsel.registers import PROTOCOL
from tests.reference import reference_case

NOBODY = dict.fromkeys(PROTOCOL.counsel.terms)


def log_odds(share):
    return math.log(share / (1 - share))


def endometrial(**changed):
    """The endometrial data in the shape of lids: NV stands for the cover, PI and EH for two terms."""
    found = reference_case("d32_firth_logistic_endometrial").input
    return pl.DataFrame(
        {
            "cohort": ["advanced" if nv else "grafted" for nv in found["NV"]],
            "patient_id": [f"P{n}" for n in range(len(found["HG"]))],
            "event": [bool(each) for each in found["HG"]],
            "is:defect_share": [float(each) for each in found["PI"]],
            "is:age": [float(each) for each in found["EH"]],
            **changed,
        }
    )


@pytest.mark.parametrize("pi, eh", [(16.0, 1.4), (10.0, 1.0), (20.0, 0.5)])
def test_the_prediction_adds_up_the_published_coefficients(pi, eh):
    """Endometrial data, Heinze & Schemper, Stat Med 2002;21:2409-2419; estimates computed independently in R."""
    intercept, nv, by_pi, by_eh = reference_case("d32_firth_logistic_endometrial").expected["coef"]
    answers, told = predict(endometrial(), {**NOBODY, "defect_share": pi, "age": eh}, PROTOCOL)
    assert told.terms == ("defect_share", "age")
    assert (told.with_result, told.without_result, told.needed) == (30, 49, 30)
    expected = intercept + by_pi * pi + by_eh * eh
    assert log_odds(answers["grafted"].estimate) == pytest.approx(expected, abs=1e-4)
    assert log_odds(answers["advanced"].estimate) == pytest.approx(expected + nv, abs=1e-4)


def test_the_interval_is_the_profile_of_the_patients_log_odds():
    """Beside an independent program: the profile interval of the intercept with the patient at the origin."""
    found = reference_case("d32_firth_logistic_endometrial").input
    moved = np.column_stack([found["NV"], np.array(found["PI"]) - 16.0, np.array(found["EH"]) - 1.4])
    model = FirthLogisticRegression(max_iter=200, gtol=1e-8, xtol=1e-8).fit(moved, np.array(found["HG"]))
    low, high = model.conf_int(method="pl", max_iter=200)[-1]
    answer = predict(endometrial(), {**NOBODY, "defect_share": 16.0, "age": 1.4}, PROTOCOL)[0]["grafted"]
    assert log_odds(answer.low) == pytest.approx(low, abs=1e-3)
    assert log_odds(answer.high) == pytest.approx(high, abs=1e-3)


def test_patients_with_two_lids_widen_the_interval():
    asked = {**NOBODY, "defect_share": 16.0, "age": 1.4}
    pairs = [f"P{n // 2}" for n in range(79)]
    alone, paired = (
        predict(lids, asked, PROTOCOL)[0]["grafted"] for lids in (endometrial(), endometrial(patient_id=pairs))
    )
    assert paired.estimate == alone.estimate
    assert paired.low < alone.low < alone.high < paired.high


def test_one_result_too_few_is_not_modelled():
    lids = endometrial()
    happened = lids.filter("event").head(1).get_column("patient_id")[0]
    answers, told = predict(
        lids.filter(pl.col("patient_id") != happened), {**NOBODY, "defect_share": 16.0, "age": 1.4}, PROTOCOL
    )
    assert (answers, told.why_not, told.with_result, told.needed) == ({}, "few_results", 29, 30)


@pytest.mark.parametrize("number, why_not", [(9, "few_results"), (10, "")])
def test_a_cover_needs_ten_lids(number, why_not):
    cohorts = ["grafted"] * 90 + ["advanced"] * number
    lids = pl.DataFrame(
        {
            "cohort": cohorts,
            "patient_id": [str(n) for n in range(len(cohorts))],
            "event": [n % 2 == 0 for n in range(len(cohorts))],
            "is:age": [float(60 + n % 9) for n in range(len(cohorts))],
        }
    )
    answers, told = predict(lids, {**NOBODY, "age": 62.0}, PROTOCOL)
    assert told.why_not == why_not
    assert set(answers) == (set() if why_not else {"grafted", "advanced"})


@pytest.mark.parametrize(
    "asked",
    [{"defect_share": 500.0, "age": 1.4}, {"defect_share": 16.0, "age": 0.01}, {"defect_share": 16.0, "age": 1.45}],
)
def test_nothing_is_predicted_outside_what_was_seen(asked):
    """The last lies within one cover's range, and beyond the other's 1.44."""
    answers, told = predict(endometrial(), {**NOBODY, **asked}, PROTOCOL)
    assert (answers, told.why_not) == ({}, "outside")


def test_nothing_is_predicted_of_a_patient_of_whom_nothing_is_known():
    answers, told = predict(endometrial(), NOBODY, PROTOCOL)
    assert (answers, told.why_not) == ({}, "no_terms")
