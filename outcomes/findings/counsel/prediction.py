"""Predicted chances for this patient with each cover, from a model of few terms where the data can bear one.

A logistic model under Firth's penalty, of the cover and of the protocol's terms in their order. Each term, the cover
among them, asks for so many lids with the result and as many without it. Nothing is predicted outside what was seen
with each cover. With the patient put at the origin of every term the intercept is the patient's own log odds, so that
its profile interval (Heinze & Schemper, Stat Med 2002;21:2409-2419) is the interval of the prediction. It is widened on
that scale by the root of the number of lids over the number of independent lids that would know as much. The penalty
pulls chances towards one half, little where the rule above is kept (Puhr et al., Stat Med 2017;36:2302-2317, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import column
from outcomes.findings.counsel.natural_frequencies import of_hundred
from outcomes.findings.counsel.results import Cohort, NoPredictionReason, Prediction, RiskFigure
from outcomes.protocol import CounselRules, Protocol, Value
from outcomes.statistics.clusters import effective_proportion
from outcomes.statistics.logistic import firth_profile

Predicted = tuple[dict[Cohort, RiskFigure], Prediction]


def predict(lids: pl.DataFrame, patient: Mapping[str, Value], protocol: Protocol) -> Predicted:
    """Predict for each cover among these lids, which all have a known result in the column `event`; or say why not.

    All of the protocol's terms that are known of the patient enter, or nothing is predicted: a model that leaves out what
    the data cannot bear would speak of somebody else.
    """
    rules = protocol.counsel
    terms = tuple(name for name in rules.terms if patient[name] is not None)
    cohorts: list[Cohort] = lids.get_column("cohort").unique().sort().to_list()
    if not terms or not cohorts:
        return {}, _prediction(lids, "no_terms", terms, rules)
    values = {column(protocol.characteristic(name)): float(patient[name]) for name in terms}  # type: ignore[arg-type]
    complete = lids.drop_nulls(list(values))
    if not _can_bear(complete, len(terms) + len(cohorts) - 1, cohorts, rules):
        return {}, _prediction(complete, "few_results", terms, rules)
    if _outside(complete, values):
        return {}, _prediction(complete, "outside", terms, rules)
    answers = {cohort: _predicted(complete, values, cohort, protocol) for cohort in cohorts}
    return answers, _prediction(complete, "", terms, rules)


def _can_bear(lids: pl.DataFrame, terms: int, cohorts: list[Cohort], rules: CounselRules) -> bool:
    fewest = min((lids.filter(pl.col("cohort") == cohort).height for cohort in cohorts), default=0)
    return fewest >= rules.fewest_lids and min(_results(lids)) >= rules.cases_per_term * terms


def _results(lids: pl.DataFrame) -> tuple[int, int]:
    happened = int(lids.get_column("event").sum())
    return happened, lids.height - happened


def _outside(lids: pl.DataFrame, values: Mapping[str, float]) -> bool:
    """Tell whether the patient lies outside what was seen with any of the covers."""
    ranges = lids.group_by("cohort").agg(
        *(pl.col(name).min().alias(f"low {name}") for name in values),
        *(pl.col(name).max().alias(f"high {name}") for name in values),
    )
    return any(
        not row[f"low {name}"] <= value <= row[f"high {name}"]
        for row in ranges.iter_rows(named=True)
        for name, value in values.items()
    )


def _prediction(
    lids: pl.DataFrame, why_not: NoPredictionReason, terms: tuple[str, ...], rules: CounselRules
) -> Prediction:
    happened, spared = _results(lids)
    covers = lids.get_column("cohort").n_unique()
    return Prediction(
        why_not, terms, happened, spared, rules.cases_per_term * (max(1, len(terms)) + max(1, covers) - 1)
    )


def _predicted(lids: pl.DataFrame, values: Mapping[str, float], cohort: str, protocol: Protocol) -> RiskFigure:
    event = lids.get_column("event").to_numpy().astype(float)
    patients = lids.get_column("patient_id").to_numpy()
    here = (lids.get_column("cohort") == cohort).to_numpy()
    level = protocol.rules.confidence_level
    log_odds = firth_profile(_at_the_patient(lids, values, here), event, 0, confidence_level=level).interval
    wider = math.sqrt(event.size / effective_proportion(event, patients).effective_n)
    low, high = (log_odds.estimate + wider * (end - log_odds.estimate) for end in (log_odds.low, log_odds.high))
    share, low, high = (_chance(each) for each in (log_odds.estimate, low, high))
    return RiskFigure(
        "predicted",
        lids.height,
        lids.height,
        lids.get_column("patient_id").n_unique(),
        int(event.sum()),
        share,
        low,
        high,
        of_hundred(share, low, high),
    )


def _at_the_patient(lids: pl.DataFrame, values: Mapping[str, float], here: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The terms, each measured from the patient and in standard deviations, and whether the lid had the other cover."""
    columns = []
    for name, value in values.items():
        number = lids.get_column(name).to_numpy().astype(float)
        columns.append((number - value) / (number.std() or 1.0))
    if not here.all():
        columns.append(~here)
    return np.column_stack(columns).astype(float)


def _chance(log_odds: float) -> float:
    return 1 / (1 + math.exp(-log_odds))
